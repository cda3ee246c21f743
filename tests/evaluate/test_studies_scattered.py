"""Whole studies of vehicles built within tolerances: the same tolerances in another order, and half and full cars."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import HALF, REAL
from ridefront.evaluate import Evaluator
from ridefront.study import Study
from ridefront.study.space import decode
from study_texts import changed, read

Array = NDArray[np.float64]

TOLERANCES = (
    'body.mass = "3 %"', 'front.spring_rate = "5 %"', 'rear.spring_rate = "8 %"', 'front.damping = "15 %"',
    'rear.damping = "10 %"', 'front.tyre_rate = "15 %"', 'rear.unsprung_mass = "6 %"',
)  # fmt: skip


def scattered(tolerances: tuple[str, ...]) -> str:
    """The half car with these tolerances: road holding as 90 % of built vehicles have it, the mean of comfort, and
    limits that most of them keep.
    """
    text = changed(
        HALF.replace("FRONT", REAL).replace("REAR", REAL),
        ('criterion = "comfort"\n[[objective]]', 'criterion = "comfort"\nscatter = "mean"\n[[objective]]'),
        ('criterion = "dynamic_load_coefficient"', 'criterion = "dynamic_load_coefficient"\nscatter = "90 %"'),
        ('criterion = "bump_reserve"', 'criterion = "bump_reserve"\nscatter = "90 %"'),
        ('criterion = "ride_height_change.rear"', 'criterion = "ride_height_change.rear"\nscatter = "75 %"'),
    )
    return text + "\n".join(["[scatter]", "samples = 16", *tolerances, ""])


SIDES = (
    ('model = "half-car"', 'model = "full-car"'),
    ("[vehicle.body]\n", '[vehicle.body]\nroll_inertia = "560 kg*m^2"\n'),
    ("[vehicle.front]\n", '[vehicle.front]\ntrack = "1.55 m"\nanti_roll_rate = "14 N/mm"\n'),
    ("[vehicle.rear]\n", '[vehicle.rear]\ntrack = "1.5 m"\nanti_roll_rate = "5 N/mm"\n'),
)


def figures(text: str) -> tuple[Study, Array, Array]:
    """Measures of some designs as `evaluate` has them, (n, k), and between what their built vehicles lie, (n, k, 2)."""
    study = read(text)
    evaluator, X = Evaluator(study), decode(study, np.random.default_rng(6).random((3, len(study.variables))))
    found = evaluator.evaluate(X)
    assert not found.status.any()
    return study, found.values, evaluator.spread(X, study.measures)


@pytest.mark.parametrize("turned", [TOLERANCES[::-1], (*TOLERANCES[3:], *TOLERANCES[:3])], ids=["backwards", "rotated"])
def test_order_of_tolerances(turned: tuple[str, ...]) -> None:
    """The same vehicles are built, to the last bit; under the tolerances of other parts they are others."""
    (one, values, spread), (other, again, also) = figures(scattered(TOLERANCES)), figures(scattered(turned))
    assert one.scatter == other.scatter
    np.testing.assert_array_equal(again, values)
    np.testing.assert_array_equal(also, spread)
    swapped = tuple(line.replace("8 %", "10 %") if "rear.spring" in line else line for line in TOLERANCES)
    assert not np.array_equal(figures(scattered(swapped))[1], values)


def test_half_a_car_and_a_full_one_are_built_alike() -> None:
    """A full car's two sides come of one tolerance each axle, so on equal tracks it is twice the half car, bars or not:
    figures over the built vehicles and between what they lie are the same, but for roll, which neither does.
    """
    half = scattered(TOLERANCES)
    full = re.sub(r'(?m)^kind = "iso8608"$', 'kind = "iso8608"\ntracks = "equal"', changed(half, *SIDES))
    (one, values, spread), (other, again, also) = figures(half), figures(full)
    assert (one.model, other.model) == ("half-car", "full-car")
    assert [item.label for item in one.measures] == [item.label for item in other.measures]
    np.testing.assert_allclose(again, values, rtol=1e-8)
    np.testing.assert_allclose(also, spread, rtol=1e-8)
    assert sum(item.scatter is not None for item in one.measures) == 4
    assert np.all(spread[:, :4, 1] > 1.001 * spread[:, :4, 0])

"""Where vehicles built within tolerances stand, against their equations of balance written down with free lengths.

The twin knows springs and tyres by their own deflection from no load, not by a reference position: a spring as built
has the free length of the spring as drawn, and its own rate.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize
from numpy.typing import NDArray

from ridefront.study.space import decode, parameters
from ridefront.vehicle.body import body_under, model_of
from ridefront.vehicle.built import as_built
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest
from study_texts import FULL, changed, read

Array = NDArray[np.float64]

FACTORS = {
    "front.spring_rate": 0.95,
    "rear.spring_rate": 1.04,
    "front.tyre_rate": 1.12,
    "rear.tyre_rate": 0.87,
    "rear.unsprung_mass": 1.06,
    "body.mass": 1.03,
}


def stands(reference: int, factors: dict[str, float]) -> tuple[dict[str, float], dict[str, float], AtRest, AtRest]:
    """Quantities as drawn and as built, and one vehicle under the reference load and under the other one."""
    stops = [(f'bump_clearance = "{gap} mm"', f'bump_clearance = "{10 * gap} mm"') for gap in (50, 60)]
    study = replace(read(changed(FULL, *stops)), reference=reference)
    drawn = parameters(study, decode(study, np.full((1, len(study.variables)), 0.5)))
    built = as_built(drawn, {path: np.array([factor]) for path, factor in factors.items()})
    model = model_of("full-car")
    states = at_rest(built, model, study.loads, reference, beams=study.beams, drawn=drawn)
    single = [{path: float(value[0]) for path, value in values.items()} for values in (drawn, built)]
    return single[0], single[1], states[reference], states[1 - reference]


def by_free_length(
    drawn: dict[str, float], built: dict[str, float], datum: AtRest, state: AtRest
) -> tuple[Array, Array]:
    """Travel of every spring from the reference position and every contact force, from seven equations of balance.

    Args:
        drawn, built: quantities by path.
        datum: the vehicle as drawn under the reference load, for its masses and where they are.
        state: the vehicle as built, likewise under the load at hand.
    """
    axles, signs = ("front", "front", "rear", "rear"), np.array([1, -1, 1, -1])

    def each(values: dict[str, float], name: str) -> Array:
        return np.array([values[f"{axle}.{name}"] for axle in axles])

    track = each(drawn, "track")
    spacing = np.array([drawn.get(f"{axle}.spring_spacing", drawn[f"{axle}.track"]) for axle in axles])
    mix = spacing / track
    ratio2 = each(drawn, "spring_ratio") ** 2
    # As drawn: what each spring and tyre carries at the reference position, and so how far each is compressed there.
    mass = datum.body.corner_mass[0]
    mean = np.repeat(0.5 * (mass[::2] + mass[1::2]), 2)
    springs_at = (mean + (mass - mean) / mix) * GRAVITY / (each(drawn, "spring_rate") * ratio2)
    tyres_at = (mass + each(drawn, "unsprung_mass")) * GRAVITY / each(drawn, "tyre_rate")
    body, bar = state.body, each(built, "anti_roll_rate")
    centre, left = float(body.centre[0]), float(body.left[0])
    x = np.array([centre, centre, centre - drawn["wheelbase"], centre - drawn["wheelbase"]])

    def forces(q: Array) -> tuple[Array, Array, Array, Array]:
        sink, nose, roll, wheels = q[0], q[1], q[2], q[3:]
        other = wheels[[1, 0, 3, 2]]
        seen = 0.5 * (1 + mix) * wheels + 0.5 * (1 - mix) * other  # of the wheels, where springs stand
        at_body = -sink - x * nose + (0.5 * signs * spacing - left) * roll
        travel = seen - at_body
        spring = each(built, "spring_rate") * ratio2 * (springs_at + travel)
        twist = bar * ((wheels - other) - signs * track * roll)  # one wheel over the other, the body's roll taken off
        tyre = each(built, "tyre_rate") * (tyres_at - wheels)
        return travel, spring, twist, tyre

    def balance(q: Array) -> Array:
        _, spring, twist, tyre = forces(q)
        at = 0.5 * signs * spacing - left
        on_wheel = 0.5 * (1 + mix) * spring + 0.5 * (1 - mix) * spring[[1, 0, 3, 2]] + twist
        weight = float(body.mass[0]) * GRAVITY
        return np.array([
            (spring.sum() - weight) / 1e3,
            (x * spring).sum() / 1e3,
            ((at * spring).sum() + 0.5 * (signs * track * twist).sum()) / 1e3,
            *((tyre - on_wheel - each(built, "unsprung_mass") * GRAVITY) / 1e3),
        ])  # fmt: skip

    solved = scipy.optimize.root(balance, np.zeros(7), tol=1e-13)
    assert np.max(np.abs(balance(solved.x))) < 1e-9
    travel, _, _, tyre = forces(solved.x)
    return travel, tyre


@pytest.mark.parametrize("reference", [0, 1], ids=["upright reference", "leaning reference"])
@pytest.mark.parametrize("factors", [dict.fromkeys(FACTORS, 1.0), FACTORS], ids=["as drawn", "as built"])
def test_balance_with_free_lengths(reference: int, factors: dict[str, float]) -> None:
    drawn, built, datum, state = stands(reference, factors)
    study = replace(read(FULL), reference=reference)
    model = model_of("full-car")
    whole = {path: np.array([value]) for path, value in drawn.items()}
    as_drawn = replace(datum, body=body_under(whole, model, study.loads[reference]))
    for found in (datum, state):
        travel, contact = by_free_length(drawn, built, as_drawn, found)
        np.testing.assert_allclose(found.travel[0], travel, atol=1e-9)
        np.testing.assert_allclose(found.contact_force[0], contact, rtol=1e-8)

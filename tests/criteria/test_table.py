"""The table of criteria: every row complete and consistent, places, and how pieces are combined."""

from __future__ import annotations

import inspect
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridefront.criteria import CRITERIA, Criterion
from ridefront.criteria.combine import over_conditions, worst_of
from ridefront.criteria.ride import BODY, VEHICLE, corner_places, seat_places
from ridefront.units import factor, same_dimension
from ridefront.vehicle import Seat, model_of

HALF, QUARTER, REAR = model_of("half-car"), model_of("quarter-car"), model_of("quarter-car", "rear")
SEATS = (Seat("driver", 1.4), Seat("back seat", 2.3))
MODELS = ("quarter-car", "half-car", "full-car")
every = pytest.mark.parametrize("row", CRITERIA.values(), ids=list(CRITERIA))


@every
def test_row_is_complete(row: Criterion) -> None:
    assert CRITERIA[row.name] is row
    assert re.fullmatch(r"[a-z]+(_[a-z]+)*", row.name)
    assert row.typical > 0
    assert row.description
    assert not row.description.endswith(".")
    assert row.models
    assert set(row.models) <= set(MODELS)
    if row.kind != "condition":
        assert row.over == "worst", "without conditions there is nothing to average"


@every
def test_units_are_known_and_fit(row: Criterion) -> None:
    assert factor(row.unit) == 1.0, "figures are SI"
    assert same_dimension(row.display_unit, row.unit)
    assert factor(row.display_unit) > 0


@every
def test_formula_stands_in_the_docstring_with_shape_and_unit(row: Criterion) -> None:
    text = inspect.getdoc(row.figure) or ""
    assert row.formula
    assert row.formula in text
    assert "(n,)" in text
    assert re.search(r"\(n,\),\s+" + re.escape(_trade(row.unit)), text), f"{row.name}: no unit {_trade(row.unit)}"
    assert list(inspect.signature(row.figure).parameters)[1] == "place"


def _trade(unit: str) -> str:
    """The unit as docstrings print it."""
    return unit.replace("^2", "²")


@every
def test_alike_is_symmetric_and_names_criteria(row: Criterion) -> None:
    for other in row.alike:
        assert row.name in CRITERIA[other].alike
        assert row.sense == CRITERIA[other].sense
        assert row.places == CRITERIA[other].places


@every
def test_places(row: Criterion) -> None:
    counted, named = row.counted(HALF, SEATS), row.named(HALF, SEATS)
    names = {place.name for place in counted}
    if row.places == "corner":
        assert names == set(named) == {"front", "rear"}
        assert [place.corner for place in counted] == [0, 1]
        assert named == {place.name: (place,) for place in counted}
    elif row.places == "seat":
        assert names == {"driver", "back seat"}
        assert set(named) == (names if "seat.height" in row.needs else names | {"body"})
    else:
        assert counted == (VEHICLE,)
        assert named == {}


def test_seats_count_only_where_the_body_pitches() -> None:
    assert seat_places(QUARTER, SEATS) == (BODY,)
    assert seat_places(HALF, ()) == (BODY,)
    assert [place.seat for place in seat_places(HALF, SEATS)] == list(SEATS)


def test_corner_of_a_quarter_car_is_called_by_its_axle() -> None:
    assert [(place.name, place.at) for place in corner_places(QUARTER)] == [("front", 0)]
    assert [(place.name, place.at) for place in corner_places(REAR)] == [("rear", 0)]


def test_a_place_that_is_no_corner_has_no_corner() -> None:
    with pytest.raises(AssertionError, match="body is not a corner"):
        _ = BODY.at


def test_worst_of() -> None:
    a, b = np.array([1.0, 5.0, np.nan]), np.array([2.0, 3.0, 0.0])
    assert np.array_equal(worst_of([a, b], "largest"), [2.0, 5.0, np.nan], equal_nan=True)
    assert np.array_equal(worst_of([a, b], "smallest"), [1.0, 3.0, np.nan], equal_nan=True)
    assert worst_of([a], "largest") is a


def test_over_conditions_by_hand() -> None:
    figures = [np.array([3.0]), np.array([6.0])]
    assert over_conditions(figures, [2.0, 1.0], "mean", "largest")[0] == 4.0
    assert over_conditions(figures, [2.0, 1.0], "rms", "largest")[0] == np.sqrt(18.0)
    assert over_conditions(figures, [2.0, 1.0], "worst", "largest")[0] == 6.0
    assert over_conditions(figures, [2.0, 1.0], "worst", "smallest")[0] == 3.0


def test_a_failed_condition_fails_the_design() -> None:
    figures = [np.array([1.0, np.nan]), np.array([1.0, 1.0])]
    for over in ("mean", "rms", "worst"):
        total = over_conditions(figures, [1.0, 1.0], over, "largest")
        assert np.isnan(total).tolist() == [False, True]


weighted = st.lists(st.tuples(st.floats(0.0, 100.0), st.floats(0.01, 10.0)), min_size=1, max_size=6)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(weighted, st.floats(0.1, 10.0))
def test_combinations_lie_in_order_and_know_no_scale_of_weights(pairs: list[tuple[float, float]], scale: float) -> None:
    """smallest ≤ mean ≤ rms ≤ largest; weights twice as large weigh the same."""
    figures, weights = [np.array([x]) for x, _ in pairs], [w for _, w in pairs]
    mean, rms = (over_conditions(figures, weights, over, "largest")[0] for over in ("mean", "rms"))
    low, high = (over_conditions(figures, weights, "worst", worst)[0] for worst in ("smallest", "largest"))
    slack = 1e-9 * (high + 1)
    assert low - slack <= mean <= rms + slack <= high + 2 * slack
    again = over_conditions(figures, [scale * w for w in weights], "mean", "largest")[0]
    assert again == pytest.approx(mean, rel=1e-12, abs=1e-300)


def test_figures_are_not_changed() -> None:
    figures = [np.array([3.0, 1.0]), np.array([6.0, 2.0])]
    kept = [figure.copy() for figure in figures]
    for over in ("mean", "rms", "worst"):
        over_conditions(figures, [1.0, 1.0], over, "largest")
    assert all(np.array_equal(a, b) for a, b in zip(figures, kept, strict=True))

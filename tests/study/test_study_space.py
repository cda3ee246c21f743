"""Ranges of every form, and the way from the unit cube to stored numbers and to SI."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridefront.errors import CallError
from ridefront.study import Study, Variable
from ridefront.study.space import decode, levels, parameters, set_values
from study_texts import CORNER, ESTATE, changed, find, read

SPRING = 'spring_rate = { low = "14 N/mm", high = "36 N/mm" }'


def one(form: str) -> Variable:
    """The variable that a range of the corner study's spring makes."""
    return read(changed(CORNER, (SPRING, form))).variables[0]


def test_every_form_of_range() -> None:
    variables = {variable.path: variable for variable in read(ESTATE).variables}
    assert list(variables) == [
        "front.spring_rate", "front.damping", "rear.unsprung_mass", "rear.spring_rate", "rear.damping",
    ]  # fmt: skip
    assert variables["front.spring_rate"] == Variable("front.spring_rate", "N/mm", 1000.0, 16.0, 40.0)
    assert variables["front.damping"] == Variable("front.damping", "N*s/m", 1.0, 1200.0, 6000.0, "log")
    assert variables["rear.unsprung_mass"] == Variable("rear.unsprung_mass", "kg", 1.0, 42.0, 58.0, levels=(42.0, 58.0))
    assert variables["rear.spring_rate"] == Variable(
        "rear.spring_rate", "N/mm", 1000.0, 1.5, 3.5, times="front.spring_rate"
    )
    steps = variables["rear.damping"].levels
    assert (steps[0], steps[1], steps[-1], len(steps)) == (1200.0, 1250.0, 6000.0, 97)


def test_steps_are_decimal() -> None:
    variable = one("spring_rate = { low = 0.1, high = 1.0, step = 0.1 }")
    assert variable.levels == (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
    assert variable.unit == "N/m"


def test_unit_is_that_of_low_and_others_are_converted_exactly() -> None:
    variable = one('spring_rate = { low = "14 N/mm", high = "0.0361 kN/mm", step = "100 N/m" }')
    assert (variable.unit, variable.high, variable.levels[1], len(variable.levels)) == ("N/mm", 36.1, 14.1, 222)
    assert one('spring_rate = { low = 14000, high = "36 N/mm" }').high == 36000.0
    assert one('spring_rate = { choices = ["0.02 N/mm", "14 N/m"] }').levels == (0.014, 0.02)
    assert one('spring_rate = { low = "80 lbf/in", high = "200 lbf/in" }').factor == pytest.approx(175.12683524647636)


def test_share_may_be_in_percent() -> None:
    damping = 'damping = "2000 N*s/m"'
    study = read(changed(CORNER, (damping, damping + '\nbump_share = { low = "25 %", high = 0.45 }')))
    share = study.variables[1]
    assert (share.path, share.unit, share.low, share.high) == ("front.bump_share", "%", 25.0, 45.0)
    assert parameters(study, np.array([[20.0, 30.0]]))["front.bump_share"][0] == pytest.approx(0.3, rel=1e-15)


def test_share_times_another_stays_below_one() -> None:
    base = changed(
        ESTATE,
        ("bump_share = 0.32", "bump_share = { low = 0.3, high = 0.5 }"),
        ("bump_share = 0.33", 'bump_share = { times = "front.bump_share", low = 0.5, high = 2.0 }'),
    )
    assert "vehicle.rear.bump_share.high" in [mistake.key for mistake in find(base)]


def test_order_of_keys_does_not_change_the_order_of_variables() -> None:
    front, rear, rest = (ESTATE.index(head) for head in ("[vehicle.front]", "[vehicle.rear]", "[[seat]]"))
    swapped = ESTATE[:front] + ESTATE[rear:rest] + ESTATE[front:rear] + ESTATE[rest:]
    assert swapped != ESTATE
    assert read(swapped).variables == read(ESTATE).variables


def slow(study: Study, u: list[float]) -> list[float]:
    """What `decode` should say of one point, one number at a time."""
    values: dict[str, float] = {}
    for variable, x in zip(study.variables, u, strict=True):
        if variable.levels:
            values[variable.path] = variable.levels[min(math.floor(x * len(variable.levels)), len(variable.levels) - 1)]
        elif variable.scale == "log":
            values[variable.path] = variable.low ** (1 - x) * variable.high**x
        else:
            values[variable.path] = (1 - x) * variable.low + x * variable.high
    for variable in study.variables:
        if variable.times:
            values[variable.path] *= values[variable.times]
    return list(values.values())


def test_decode_is_its_slow_twin() -> None:
    study = read(ESTATE)
    U = np.random.default_rng(3).random((200, 5))
    U[0], U[1] = 0.0, 1.0
    assert np.allclose(decode(study, U), [slow(study, list(u)) for u in U], rtol=1e-14, atol=0)
    assert levels(study) == (0, 0, 2, 0, 97)
    assert decode(study, U[:0]).shape == (0, 5)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(u=st.lists(st.floats(0, 1), min_size=5, max_size=5))
def test_decoded_values_lie_in_their_ranges(u: list[float]) -> None:
    study = read(ESTATE)
    (x,) = decode(study, np.array([u]))
    for variable, value in zip(study.variables, x, strict=True):
        if variable.levels:
            assert value in variable.levels
        elif variable.times is None:
            assert variable.low <= value <= variable.high
    assert 1.5 * x[0] <= x[3] <= 3.5 * x[0]


@pytest.mark.parametrize("ends", ['low = 1, high = 3, scale = "log"', "low = 0.3, high = 0.9"])
def test_ends_are_not_overshot_by_a_bit(ends: str) -> None:
    study = read(changed(CORNER, (SPRING, f"spring_rate = {{ {ends} }}")))
    variable = study.variables[0]
    assert decode(study, np.array([[0.0], [1.0]])).tolist() == [[variable.low], [variable.high]]


def test_bits_do_not_depend_on_company() -> None:
    study = read(ESTATE)
    U = np.random.default_rng(5).random((67, 5))
    together = decode(study, U)
    assert np.array_equal(together, np.concatenate([decode(study, U[k : k + 1]) for k in range(67)]))
    assert np.array_equal(together, decode(study, np.asfortranarray(U)))
    whole = parameters(study, together)
    parts = [parameters(study, together[k : k + 1]) for k in range(67)]
    assert all(np.array_equal(whole[path], np.concatenate([part[path] for part in parts])) for path in whole)


def test_parameters_are_stored_times_factor_and_all_there() -> None:
    study = read(ESTATE)
    X = decode(study, np.random.default_rng(1).random((4, 5)))
    values = parameters(study, X)
    assert set(values) == set(study.fixed) | {variable.path for variable in study.variables}
    assert all(value.shape == (4,) and value.flags.c_contiguous for value in values.values())
    assert np.array_equal(values["front.spring_rate"], X[:, 0] * 1000.0)
    assert np.array_equal(values["front.bump_travel"], np.full(4, 0.105))


def test_fixed_quantities_are_next_to_the_exact_value() -> None:
    study = read(ESTATE)
    for path, written in (
        ("front.bump_travel", "0.105"),
        ("rear.bump_clearance", "0.06"),
        ("rear.tyre_rate", "215000"),
    ):
        assert study.fixed[path] == float(Fraction(written))


def test_set_values_starts_from_the_present_setup() -> None:
    study = read(ESTATE)
    assert study.present is not None
    assert np.array_equal(set_values(study, []), study.present[np.newaxis, :])
    X = set_values(study, ["front.spring_rate=25000 N/m", "rear.unsprung_mass = 58", "rear.damping=3 kN*s/m"])
    assert X.tolist() == [[25.0, 2900.0, 58.0, 68.0, 3000.0]]


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        (["front.sprng_rate=25"], r'"front.sprng_rate" is not a design variable.*\n.*"front.spring_rate"'),
        (["front.friction=25 N"], '"front.friction" is fixed by the study'),
        (["front.spring_rate"], "not NAME=VALUE"),
        (["front.spring_rate=stiff"], "front.spring_rate: .*N/mm"),
        (["front.spring_rate=25 mm"], "wrong unit"),
        (["front.spring_rate=-3"], "not above 0"),
        (["front.spring_rate=25", "front.spring_rate=26"], "set twice"),
    ],
)
def test_set_values_says_what_is_wrong(pairs: list[str], message: str) -> None:
    with pytest.raises(CallError, match=message):
        set_values(read(ESTATE), pairs)


def test_without_a_present_setup_every_value_is_needed() -> None:
    study = read(CORNER)
    assert study.present is None
    with pytest.raises(CallError, match=r"no value for front\.spring_rate"):
        set_values(study, [])
    assert set_values(study, ["front.spring_rate=20"]).tolist() == [[20.0]]


def test_present_setup_is_in_the_variables_units() -> None:
    text = changed(ESTATE, ('front.spring_rate = "27 N/mm"', "front.spring_rate = 27300"))
    present = read(text).present
    assert present is not None
    assert present.tolist() == [27.3, 2900.0, 42.0, 68.0, 3000.0]


@pytest.mark.parametrize(
    ("old", "new", "note"),
    [
        ('front.spring_rate = "27 N/mm"', 'front.spring_rate = "45 N/mm"', "45 N/mm, lies outside its range"),
        ('rear.unsprung_mass = "42 kg"', 'rear.unsprung_mass = "50 kg"', "none of the values that its range allows"),
        ('rear.spring_rate = "68 N/mm"', 'rear.spring_rate = "27 N/mm"', "1 times front.spring_rate, outside"),
    ],
)
def test_present_setup_outside_its_range_is_noted(old: str, new: str, note: str) -> None:
    notes = read(changed(ESTATE, (old, new))).notes
    assert any(note in line for line in notes), notes

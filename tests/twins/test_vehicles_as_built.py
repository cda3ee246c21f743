"""Where vehicles built within tolerances stand, against their equations of balance written down with free lengths.

The twins know springs and tyres by their own deflection from no load, not by a reference position: a spring as built
has the free length of the spring as drawn, and its own rate. A damper's gas pushes with the same force all along.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize
from numpy.typing import NDArray

from builders import half_car, quarter_car
from ridefront.study.space import decode, parameters
from ridefront.vehicle import Load, LoadMass
from ridefront.vehicle.body import body_under, model_of
from ridefront.vehicle.built import as_built
from ridefront.vehicle.elements import NO_TABLES
from ridefront.vehicle.static import GRAVITY, AtRest, at_rest
from study_texts import FULL, changed, read
from twins.integrator import corner_of

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
    stops = [
        (f'bump_clearance = "{gap} mm"', f'bump_clearance = "{10 * gap} mm"\ngas_force = "{gas} N"')
        for gap, gas in ((50, 180), (60, 320))
    ]
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
    spacing, damper_spacing = (
        np.array([drawn.get(f"{axle}.{kind}_spacing", drawn[f"{axle}.track"]) for axle in axles])
        for kind in ("spring", "damper")
    )
    mix = spacing / track
    ratio2 = each(drawn, "spring_ratio") ** 2
    gas = each(drawn, "gas_force") * each(drawn, "damper_ratio")
    # As drawn: what each spring and tyre carries at the reference position, and so how far each is compressed there.
    mass = datum.body.corner_mass[0]
    mean = np.repeat(0.5 * (mass[::2] + mass[1::2]), 2)
    springs_at = ((mean + (mass - mean) / mix) * GRAVITY - gas) / (each(drawn, "spring_rate") * ratio2)
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
        at_gas = 0.5 * signs * damper_spacing - left
        # Gas pushes on both wheels of an axle alike, so that wherever on it dampers stand each wheel has its own.
        on_wheel = 0.5 * (1 + mix) * spring + 0.5 * (1 - mix) * spring[[1, 0, 3, 2]] + gas + twist
        weight = float(body.mass[0]) * GRAVITY
        return np.array([
            ((spring + gas).sum() - weight) / 1e3,
            (x * (spring + gas)).sum() / 1e3,
            ((at * spring + at_gas * gas).sum() + 0.5 * (signs * track * twist).sum()) / 1e3,
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


ONE_SIDE = (
    Load("driver", (LoadMass(150.0, 1.3),), reference=True),
    Load("laden", (LoadMass(150.0, 1.3), LoadMass(400.0, 2.4))),
)
CORNERS = {
    "front": {"gas_force": 180.0, "damper_ratio": 0.9, "spring_ratio": 0.95},
    "rear": {"gas_force": 320.0, "damper_ratio": 0.75, "spring_ratio": 0.8, "spring_rate": 40e3},
}
STOP = {"bump_clearance": 0.03, "bump_stop_rate": 50e3, "bump_stop_progression": 2.0}


def corner_by_free_length(
    drawn: dict[str, float], built: dict[str, float], axle: str, then: float, now: float
) -> tuple[float, float]:
    """Travel from the reference position, and how much further than there the tyre is pressed, m.

    Args:
        drawn, built: quantities by path.
        axle: of the corner.
        then, now: what the corner carries of the body as drawn under the reference load, and of the body as built under
            the load at hand, kg.
    """

    def key(values: dict[str, float], name: str) -> float:
        return values[f"{axle}.{name}"]

    ratio2, gas = key(drawn, "spring_ratio") ** 2, key(drawn, "gas_force") * key(drawn, "damper_ratio")
    pressed = (then * GRAVITY - gas) / (key(drawn, "spring_rate") * ratio2)
    flat = (then + key(drawn, "unsprung_mass")) * GRAVITY / key(drawn, "tyre_rate")
    stop = corner_of(built, axle, NO_TABLES, now, now, 0.0).bump

    def unbalanced(travel: float) -> float:
        spring = key(built, "spring_rate") * ratio2 * (pressed + travel)
        return spring + gas + stop(travel) - now * GRAVITY

    travel = float(scipy.optimize.brentq(unbalanced, -1.0, 1.0, xtol=1e-15, rtol=1e-14))
    return travel, (now + key(built, "unsprung_mass")) * GRAVITY / key(built, "tyre_rate") - flat


def on_corner(values: dict[str, float], load: Load, axle: str) -> float:
    """Sprung mass on one wheel of an axle, kg, by the lever rule."""

    def share(behind: float) -> float:
        return behind / 2.7 if axle == "rear" else 1 - behind / 2.7

    if "body.corner_mass" in values:
        own = values["body.corner_mass"]
    else:
        own = 0.5 * values["body.mass"] * share((1 - values["front_share"]) * 2.7)
    return own + sum(0.5 * item.mass * share(item.behind_front_axle) for item in load.masses)


@pytest.mark.parametrize("reference", [0, 1], ids=["light reference", "laden reference"])
@pytest.mark.parametrize("name", ["quarter-car", "half-car"])
def test_corners_with_free_lengths(name: str, reference: int) -> None:
    """Corners with gas, of which some touch their stop; 1e-12 m."""
    if name == "half-car":
        drawn = half_car({f"{a}.{key}": value for a, keys in CORNERS.items() for key, value in (keys | STOP).items()})
    else:
        drawn = quarter_car(380.0, **(CORNERS["front"] | STOP)) | {"wheelbase": np.array([2.7])}
    body = "body.mass" if name == "half-car" else "body.corner_mass"
    given = FACTORS | {body: FACTORS["body.mass"]}
    built = as_built(drawn, {path: np.array([factor]) for path, factor in given.items() if path in drawn})
    model = model_of(name)
    was, now = ({path: float(value[0]) for path, value in values.items()} for values in (drawn, built))
    assert sum(was[path] != now[path] for path in was) == (6 if name == "half-car" else 3)
    touched = []
    for load, state in zip(ONE_SIDE, at_rest(built, model, ONE_SIDE, reference, drawn=drawn), strict=True):
        for c, axle in enumerate(model.axles):
            masses = on_corner(was, ONE_SIDE[reference], axle), on_corner(now, load, axle)
            travel, sink = corner_by_free_length(was, now, axle, *masses)
            assert state.travel[0, c] == pytest.approx(travel, abs=1e-12)
            assert state.tyre_sink[0, c] == pytest.approx(sink, abs=1e-12)
            contact = (masses[1] + now[f"{axle}.unsprung_mass"]) * GRAVITY
            assert state.contact_force[0, c] == pytest.approx(contact, rel=1e-12)
            touched.append(travel > STOP["bump_clearance"] / was[f"{axle}.damper_ratio"])
    assert any(touched) is (reference == 0 and name == "half-car")
    assert not all(touched)


def test_axle_loads_on_the_scales_are_those_of_the_car_as_drawn() -> None:
    """Rear wheels of 46 kg where 40 were drawn stand on the scales with 6 kg more each, and the body is as heavy as it
    was; a body of 3 % more keeps its centre of mass.
    """
    scales = {"kerb_axle_loads.front": np.array([800.0]), "kerb_axle_loads.rear": np.array([700.0])}
    whole = half_car({f"{axle}.gas_force": 0.0 for axle in ("front", "rear")})
    drawn = scales | {path: values for path, values in whole.items() if path not in ("body.mass", "front_share")}
    for factors, more in (({"rear.unsprung_mass": 1.15}, 1.0), ({"rear.unsprung_mass": 1.15, "body.mass": 1.03}, 1.03)):
        built = as_built(drawn, {path: np.array([factor]) for path, factor in factors.items()})
        state = at_rest(built, model_of("half-car"), (Load("kerb", (), True),), 0, drawn=drawn)[0]
        carried = more * np.array([(800 - 80) / 2, (700 - 80) / 2])
        np.testing.assert_allclose(state.corner_mass[0], carried, rtol=1e-14)
        np.testing.assert_allclose(state.contact_force[0], (carried + np.array([40.0, 46.0])) * GRAVITY, rtol=1e-14)

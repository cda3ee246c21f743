"""The full car: alike left and right it is the half car; off centre, in roll, on beams and bars by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from builders import at_rest_under, full_car, half_car
from ridefront.vehicle import Load, LoadMass, model_of
from ridefront.vehicle.equations import Equations, Mode, equations_of_motion, modes, state_matrix
from ridefront.vehicle.sides import PAIRS, other_wheel
from ridefront.vehicle.static import GRAVITY, AtRest
from twins.vehicles import linear_car, real_car, with_sides

Array = NDArray[np.float64]

CENTRED = (
    Load("two up", (LoadMass(150.0, 1.4),), reference=True),
    Load("gross", (LoadMass(150.0, 1.4), LoadMass(330.0, 2.6, 0.8))),
    Load("empty"),
)
EMPTY = Load("empty", reference=True)
ASIDE = (EMPTY, Load("aside", (LoadMass(120.0, 1.3, left_of_centre=0.6),)))
RIGID = 1e13  # N/m, a tyre that does not give


def sample(seed: int, n: int, *, stops: bool = True) -> dict[str, Array]:
    rng = np.random.default_rng(seed)
    return with_sides(real_car(rng, n) if stops else linear_car(rng, n), rng)


def one_side(car: dict[str, Array]) -> dict[str, Array]:
    """What a half car is given of it."""
    return {path: values for path, values in car.items() if not path.endswith("track")}


def damping_of(state: AtRest) -> Array:
    return state.speed_law.slope_at(np.zeros_like(state.friction))


def matrices(state: AtRest) -> Equations:
    return equations_of_motion(state, damping_of(state))


def test_corners_and_axles() -> None:
    model = model_of("full-car")
    assert model.motions == ("z", "pitch", "roll")
    assert model.corners == ("front_left", "front_right", "rear_left", "rear_right")
    assert model.axles == ("front", "front", "rear", "rear")
    for left, right in PAIRS:
        assert model.axles[left] == model.axles[right]
        assert (other_wheel(left), other_wheel(right)) == (right, left)
        assert (model.corners[left].split("_")[1], model.corners[right].split("_")[1]) == ("left", "right")


@pytest.mark.parametrize("beams", [(), ("rear",)])
@pytest.mark.parametrize("at", [0, 1, 2])
def test_on_the_centre_line_each_side_is_the_half_car(at: int, beams: tuple[str, ...]) -> None:
    car = sample(161, 30)
    full, half = at_rest_under(car, CENTRED, at, beams), at_rest_under(one_side(car), CENTRED, at)
    for name in ("travel", "tyre_sink", "wheel_rate", "contact_force", "corner_mass", "extra"):
        for c in range(4):
            got, want = getattr(full, name)[:, c], getattr(half, name)[:, c // 2]
            np.testing.assert_allclose(got, want, rtol=1e-9, atol=1e-14, err_msg=name)
    assert np.array_equal(full.possible, half.possible)
    np.testing.assert_allclose(full.body.mass, 2 * half.body.mass, rtol=1e-14)
    np.testing.assert_allclose(full.body.pitch_inertia, 2 * half.body.pitch_inertia, rtol=1e-14)
    np.testing.assert_allclose(full.body.x[:, ::2], half.body.x, rtol=1e-14)
    for nothing in (full.body.left, full.body.product):
        assert not nothing.any()
    assert np.array_equal(full.body.roll_inertia, car["body.roll_inertia"])


@pytest.mark.parametrize("beams", [(), ("rear",)])
def test_the_reference_position_belongs_to_an_off_centre_load_too(beams: tuple[str, ...]) -> None:
    """No travel there; wheels share each axle's load by its moment about the centre line (lever rule)."""
    state = at_rest_under(sample(162, 20), ASIDE[::-1], 0, beams)
    assert not state.travel.any()
    assert not state.tyre_sink.any()
    for left, right in PAIRS:
        track = state.body.y[:, left] - state.body.y[:, right]
        both = state.corner_mass[:, left] + state.corner_mass[:, right]
        uneven = state.corner_mass[:, left] - state.corner_mass[:, right]
        np.testing.assert_allclose(uneven, 2 * both * state.body.left / track, rtol=1e-12)


def test_body_leans_by_moment_over_roll_stiffness() -> None:
    """On rigid tyres without stops, φ = m g y/(K_f + K_r), K = (k/2 + k_b) t² of independent wheels and k b²/2 + k_b t²
    of a beam (derived; the first half is in every textbook on handling, "½ k t²").
    """
    k, bar, track, spacing = np.array([20e3, 32e3]), np.array([9e3, 0.0]), 1.5, np.array([0.9, 1.1])
    changes: dict[str, ArrayLike] = {
        "front.spring_rate": k,
        "front.anti_roll_rate": bar,
        "front.tyre_rate": RIGID,
        "rear.spring_rate": 25e3,
        "rear.anti_roll_rate": 4e3,
        "rear.tyre_rate": RIGID,
        "rear.spring_spacing": spacing,
        "rear.axle_roll_inertia": 20.0,
    }
    car = full_car(changes)
    front = (k / 2 + bar) * track**2
    for beams, rear in (((), (25e3 / 2 + 4e3) * track**2), (("rear",), 25e3 * spacing**2 / 2 + 4e3 * track**2)):
        state = at_rest_under(car, ASIDE, 1, beams)
        np.testing.assert_allclose(state.roll_stiffness[:, 0], front, rtol=1e-12)
        np.testing.assert_allclose(state.roll_stiffness[:, 1], np.broadcast_to(rear, (2,)), rtol=1e-12)
        lean = 120.0 * GRAVITY * 0.6 / (front + rear)
        for left, right in PAIRS:
            apart = state.spring_y[:, left] - state.spring_y[:, right]
            # The load's side sinks, that is roll to the right side up: bump on the left.
            np.testing.assert_allclose((state.travel[:, left] - state.travel[:, right]) / apart, lean, rtol=1e-6)


def test_a_stop_on_one_side_stiffens_roll() -> None:
    """With the axle's load kept, the spring of the free side and spring and stop of the other work in series:
    b² k_l k_r/(k_l + k_r). Against the moment of a little more load.
    """
    stops = {"rear.bump_clearance": 0.05, "rear.bump_stop_rate": 60e3, "rear.bump_stop_progression": 0.0}
    car = full_car(stops | {f"{axle}.tyre_rate": RIGID for axle in ("front", "rear")})
    lean = []
    for more in (0.0, 1e-3):
        state = at_rest_under(car, (EMPTY, Load("aside", (LoadMass(300.0, 2.2, left_of_centre=0.5 + more),))), 1)
        lean.append((state.travel[0, 2] - state.travel[0, 3]) / 1.5)
        assert state.wheel_rate[0].tolist() == [25e3, 25e3, 85e3, 25e3]
    want = 300.0 * GRAVITY * 1e-3 / state.roll_stiffness[0].sum()
    assert lean[1] - lean[0] == pytest.approx(want, rel=1e-6)
    assert state.roll_stiffness[0, 1] == pytest.approx(1.5**2 * 85e3 * 25e3 / 110e3, rel=1e-12)


def test_a_bar_moves_load_to_its_own_axle() -> None:
    """The stiffer axle takes more of the moment (common practice, no source): the front bar unloads the rear wheels'
    difference by as much as it adds in front, and corner loads stay the axle's.
    """
    car = full_car({"front.anti_roll_rate": [0.0, 15e3, 60e3]})
    state = at_rest_under(car, ASIDE, 1)
    front, rear = (state.contact_force[:, left] - state.contact_force[:, right] for left, right in PAIRS)
    assert front[0] < front[1] < front[2]
    np.testing.assert_allclose(front + rear, 2 * 120.0 * GRAVITY * 0.6 / 1.5, rtol=1e-9)
    assert abs(state.travel[2, 0] - state.travel[2, 1]) < abs(state.travel[0, 0] - state.travel[0, 1])


def test_a_load_that_lifts_a_wheel_is_impossible_and_its_neighbour_is_not() -> None:
    """900 kg on a boom to the left, on a light and on a heavy car."""
    car = full_car({"body.mass": [500.0, 3000.0]})
    state = at_rest_under(car, (EMPTY, Load("aside", (LoadMass(900.0, 1.35, left_of_centre=1.5),))), 1)
    assert state.contact_force[0, 1] < 0 < state.contact_force[1, 1]
    assert state.possible.tolist() == [False, True]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"front.spring_rate": [25e3, 0.0]}, "no spring"),
        ({"rear.spring_rate": [25e3, -3e3]}, "a spring that pushes the wrong way"),
        ({"body.roll_inertia": [500.0, -800.0]}, "an inertia below zero"),
        ({"front.track": [1.5, np.nan]}, "a track that is no number"),
        ({"body.mass": [1400.0, np.inf]}, "a mass beyond all bounds"),
    ],
)
def test_a_car_that_cannot_stand(changes: dict[str, ArrayLike], why: str) -> None:
    with np.errstate(all="ignore"):
        state = at_rest_under(full_car(changes), ASIDE, 1)
    assert state.possible.tolist() == [True, False], why


def test_elements_of_independent_wheels_act_at_the_wheels() -> None:
    state = at_rest_under(sample(163, 5), ASIDE, 1)
    for place in (state.spring_y, state.damper_y):
        assert np.array_equal(place, state.body.y)
    for mix in (state.spring_mix, state.damper_mix):
        assert np.all(mix == 1)
    np.testing.assert_allclose(state.wheel_inverse, 1 / state.unsprung_mass, rtol=1e-15)
    assert not state.wheel_cross.any()


def test_a_beam_by_hand() -> None:
    """40 kg a wheel, 30 kg m², track 1.5 m: p, q = 20 ± 30/2.25. Springs 0.9 m, dampers 1.2 m apart."""
    beam = {"rear.axle_roll_inertia": 30.0, "rear.spring_spacing": 0.9, "rear.damper_spacing": 1.2}
    state = at_rest_under(full_car(beam), ASIDE, 1, ("rear",))
    p, q = 20 + 30 / 2.25, 20 - 30 / 2.25
    inverse = np.linalg.inv(np.array([[p, q], [q, p]]))
    np.testing.assert_allclose(state.wheel_inverse[0], [1 / 40, 1 / 40, inverse[0, 0], inverse[0, 0]], rtol=1e-13)
    np.testing.assert_allclose(state.wheel_cross[0], [0, 0, inverse[0, 1], inverse[0, 1]], rtol=1e-13)
    left = 120 * 0.6 / 1520
    np.testing.assert_allclose(state.spring_mix[0], [1, 1, 0.6, 0.6])
    np.testing.assert_allclose(state.damper_mix[0], [1, 1, 0.8, 0.8])
    np.testing.assert_allclose(state.spring_y[0], [0.75 - left, -0.75 - left, 0.45 - left, -0.45 - left])
    np.testing.assert_allclose(state.damper_y[0], [0.75 - left, -0.75 - left, 0.6 - left, -0.6 - left])
    np.testing.assert_allclose(matrices(state).M[0, 5:, 5:], [[p, q], [q, p]], rtol=1e-13)


def test_a_beam_with_its_springs_at_the_wheels_and_loose_wheels_is_independent() -> None:
    """Inertia 2 m_u (t/2)², all of the mass at the wheels, and nothing inboard."""
    car = full_car({"rear.axle_roll_inertia": 2 * 40.0 * 0.75**2})
    one, other = matrices(at_rest_under(car, ASIDE, 1, ("rear",))), matrices(at_rest_under(car, ASIDE, 1))
    for name in ("M", "C", "K"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=1e-12, atol=1e-9)


def full_states(seed: int) -> list[AtRest]:
    """Off-centre loads on independent wheels, one beam, two beams."""
    return [at_rest_under(sample(seed, 20), ASIDE, 1, beams) for beams in ((), ("rear",), ("front", "rear"))]


def test_matrices_are_what_matrices_of_a_structure_are() -> None:
    """M positive definite, C and K symmetric and positive semidefinite; the tyres hold the car to the ground."""
    for state in full_states(164):
        equations = matrices(state)
        for matrix in (equations.M, equations.C, equations.K):
            np.testing.assert_allclose(matrix, matrix.transpose(0, 2, 1), rtol=1e-14)
        assert np.all(np.linalg.eigvalsh(equations.M) > 0)
        damped = np.linalg.eigvalsh(equations.C)
        assert np.all(damped[:, 0] > -1e-14 * damped[:, -1])
        assert np.all(np.linalg.eigvalsh(equations.K) > 0)
        assert np.all(np.linalg.eigvals(state_matrix(equations)).real < 0)


def test_car_and_road_moved_together_strain_nothing_but_the_tyres() -> None:
    """Heave, pitch and roll of all as one, whatever the springs' places, with beams and bars."""
    for state in full_states(165):
        equations = matrices(state)
        for j in range(len(state.possible)):
            x, y = state.body.x[j], state.body.y[j]
            for body, wheels in (((1, 0, 0), np.ones(4)), ((0, 1, 0), -x), ((0, 0, 1), y)):
                moved = np.array([*body, *wheels])
                for matrix, tyre in ((equations.K[j], equations.T_k[j]), (equations.C[j], equations.T_c[j])):
                    np.testing.assert_allclose(matrix @ moved, tyre @ wheels, atol=1e-12 * np.max(np.abs(matrix)))
                np.testing.assert_allclose(equations.G[j] @ np.array(body), wheels, rtol=1e-14)


def test_stiffness_is_the_slope_of_the_static_balance() -> None:
    """A small load more moves the car at rest by K⁻¹ times its weight and moments: statics and matrices are written
    apart from each other.
    """
    mass, aft, aside = 1e-3, 2.3, 0.4
    car = sample(166, 20)
    for beams in ((), ("rear",), ("front", "rear")):
        base = ASIDE[1].masses
        more = (*base, LoadMass(mass, aft, left_of_centre=aside))
        before, after = (at_rest_under(car, (EMPTY, Load("l", masses)), 1, beams) for masses in (base, more))
        K = matrices(before).K
        for j in range(20):
            x, y = before.body.centre[j] - aft, aside - before.body.left[j]
            weight = mass * GRAVITY * np.array([-1.0, x, -y, 0, 0, 0, 0])
            moved = np.linalg.solve(K[j], weight)
            np.testing.assert_allclose(after.tyre_sink[j] - before.tyre_sink[j], -moved[3:], rtol=1e-6, atol=1e-13)


def test_modes_of_a_car_alike_left_and_right() -> None:
    """Those of the half car, and four more in which the sides move against each other."""
    car = sample(167, 6, stops=False)
    full, half = at_rest_under(car), at_rest_under(one_side(car))
    for j in range(6):
        together: list[Mode] = []
        apart: list[Mode] = []
        for mode in modes(matrices(full), j):
            sideways = max(abs(mode.shape[2]), abs(mode.shape[3] - mode.shape[4]), abs(mode.shape[5] - mode.shape[6]))
            (apart if sideways > 1e-6 else together).append(mode)
        want = modes(matrices(half), j)
        assert [mode.motion for mode in together] == [mode.motion for mode in want]
        for mode, single in zip(together, want, strict=True):
            assert mode.frequency == pytest.approx(single.frequency, rel=1e-9)
            assert mode.damping_ratio == pytest.approx(single.damping_ratio, rel=1e-7, abs=1e-10)
            assert mode.centre == pytest.approx(single.centre, rel=1e-6)
        assert all(abs(mode.shape[0]) < 1e-9 for mode in apart)
        assert all(abs(mode.shape[1]) < 1e-9 for mode in apart)


def test_roll_and_tramp_by_hand() -> None:
    """A car alike in front and behind, undamped, left and right against each other, φ and d = u_l - u_r of both axles:
    I_x φ" + (k + 2 k_b) t (t φ - d) = 0 and m_u d"/2 + (k/2 + k_b)(d - t φ) + k_t d/2 = 0 on each.
    """
    inertia, m_u, k, bar, k_t, t = 520.0, 40.0, 22e3, 8e3, 180e3, 1.46
    alike = {"unsprung_mass": m_u, "spring_rate": k, "anti_roll_rate": bar, "tyre_rate": k_t, "track": t}
    changes: dict[str, ArrayLike] = {"front_share": 0.5, "body.roll_inertia": inertia, "body.dynamic_index": 0.9}
    car = full_car(changes | {f"{axle}.{key}": x for axle in ("front", "rear") for key, x in alike.items()})
    found = modes(equations_of_motion(at_rest_under(car), np.zeros((1, 4))))
    both = k + 2 * bar
    K, M = np.array([[both * t * t, -both * t], [-both * t, both + k_t]]), np.diag([inertia, m_u])
    roll, tramp = np.sqrt(np.sort(np.linalg.eigvals(np.linalg.inv(M) @ K))) / (2 * np.pi)
    by_name = {mode.motion: mode.frequency for mode in found}
    assert by_name["roll"] == pytest.approx(roll, rel=1e-9)
    # The axles in step, with the body; against each other (warp) the body stands still.
    warp = np.sqrt((both + k_t) / m_u) / (2 * np.pi)
    tramps = sorted(mode.frequency for mode in found if mode.motion.endswith("tramp"))
    np.testing.assert_allclose(tramps, sorted([tramp, warp]), rtol=1e-9)
    assert {"bounce", "pitch", "roll"} <= set(by_name)


def test_every_mode_has_a_name_of_its_own() -> None:
    """On a car with unlike axles: three of the body, hop and tramp of either axle."""
    car = full_car({"rear.tyre_rate": 240e3, "rear.unsprung_mass": 55.0, "front.anti_roll_rate": 12e3})
    beam = {"rear.axle_roll_inertia": 25.0, "rear.spring_spacing": 1.0, "rear.damper_spacing": 1.1}
    names = {"bounce", "pitch", "roll", "front hop", "rear hop", "front tramp", "rear tramp"}
    for state in (at_rest_under(car), at_rest_under(full_car(beam), beams=("rear",))):
        found = modes(equations_of_motion(state, 0.5 * damping_of(state)))
        assert len(found) == 7
        assert {mode.motion for mode in found} == names


def test_beam_tramp_by_hand() -> None:
    """A beam under a body that cannot move (very heavy): I" = -(k b²/2 + k_b t² + k_t t²/2), and hop of the whole."""
    heavy = {"body.mass": 1e9, "body.roll_inertia": 1e9, "rear.axle_roll_inertia": 28.0, "rear.spring_spacing": 0.9}
    state = at_rest_under(full_car(heavy | {"rear.anti_roll_rate": 5e3}), beams=("rear",))
    found = {mode.motion: mode.frequency for mode in modes(equations_of_motion(state, np.zeros((1, 4))))}
    stiffness = 25e3 * 0.9**2 / 2 + 5e3 * 1.5**2 + 200e3 * 1.5**2 / 2
    assert found["rear tramp"] == pytest.approx(np.sqrt(stiffness / 28.0) / (2 * np.pi), rel=1e-5)
    assert found["rear hop"] == pytest.approx(np.sqrt(225e3 / 40.0) / (2 * np.pi), rel=1e-5)


def test_names_of_the_smaller_models_modes() -> None:
    half = at_rest_under(half_car({"rear.tyre_rate": 240e3}))
    found = modes(equations_of_motion(half, 0.3 * damping_of(half)))
    assert {mode.motion for mode in found} == {"bounce", "pitch", "front hop", "rear hop"}

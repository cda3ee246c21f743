"""The exact Pareto set of the quarter car on white-noise road velocity.

Source: M. Gobbi, G. Mastinu, J. Sound and Vibration 245(3) (2001) 457-481, doi 10.1006/jsvi.2001.3591 (abstract seen;
the set below was derived from the variances of quarter_car.py, and is checked here by brute force).

- body acceleration against dynamic tyre force: 0 < ks <= mu ms kt/M², c = √(ks ms - M ks²/kt);
- with travel as a third objective: all (ks, c) with such a spring on or above that curve.

Both ways round: nothing dominates the set, and everything off the set is dominated by something on it.
"""

from __future__ import annotations

import numpy as np

from builders import quarter_car, ride
from checks import check_bound
from published.quarter_car import Array, QuarterCar, intensity
from ridefront.road import CLASSES, Road

CAR = QuarterCar()
SPEED = 20.0
W = intensity(CLASSES["B"], SPEED)
KS_END = CAR.spring_of_least_tyre_force

SOURCE = "Gobbi, Mastinu, J. Sound and Vibration (2001)"

# Relative room for rounding of sums of a few terms; neighbouring points of the set differ by far more.
ROUNDING = 1e-12
ROOM = 1e-7  # where figures come from the engine


def two(ks: Array, c: Array) -> Array:
    """F (n, 2): variances of acceleration and tyre force."""
    return np.stack([CAR.acceleration(ks, c, W), CAR.tyre_force(ks, c, W)], axis=1)


def three(ks: Array, c: Array) -> Array:
    """F (n, 3): and of travel."""
    return np.column_stack([two(ks, c), CAR.travel(c, W)])


def exact_set(points: int) -> tuple[Array, Array]:
    ks = KS_END * np.geomspace(1e-3, 1.0, points)
    return ks, CAR.pareto_damping(ks)


def sample(n: int, seed: int) -> tuple[Array, Array]:
    """Springs from a thousandth of to ten times the set's end, dampers likewise."""
    rng = np.random.default_rng(seed)
    c_end = float(CAR.pareto_damping(np.asarray(KS_END)))
    return KS_END * 10 ** rng.uniform(-3, 1, n), c_end * 10 ** rng.uniform(-2, 1, n)


def dominated(points: Array, by: Array, room: float = ROUNDING) -> Array:
    """Of each of `points` (p, m): whether one of `by` (b, m) is better in all objectives by more than `room`."""
    return np.array([bool(np.any(np.all(by < point * (1 - room), axis=1))) for point in points])


def test_nothing_dominates_the_set() -> None:
    """200 000 designs at large and 21 000 close to the set, by the closed forms alone, as all but the last test."""
    ks, c = exact_set(60)
    rng = np.random.default_rng(2)
    near_ks, near_c = (np.repeat(x, 350) * np.exp(rng.normal(0, 0.02, 21_000)) for x in (ks, c))
    others = np.concatenate([two(*sample(200_000, 1)), two(near_ks, near_c)])
    assert not dominated(two(ks, c), others).any()


def member_of_equal_acceleration(target: Array) -> Array:
    """Springs of the set (n,) whose acceleration is `target`, by bisection; the set's end where it has no such one."""
    low, high = np.full_like(target, KS_END * 1e-12), np.full_like(target, KS_END)
    for _ in range(80):
        middle = np.sqrt(low * high)
        below = CAR.acceleration(middle, CAR.pareto_damping(middle), W) <= target
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return low


def test_everything_off_the_set_is_dominated_by_it() -> None:
    """The member with the same acceleration holds the road better, by more than rounding where a design is at least 2 %
    off the curve or beyond its end.
    """
    ks, c = sample(5000, 3)
    curve = CAR.pareto_damping(np.minimum(ks, KS_END))
    off = (ks > 1.02 * KS_END) | (np.abs(c / curve - 1) > 0.02)
    assert off.sum() > 4800
    designs = two(ks[off], c[off])
    member = member_of_equal_acceleration(designs[:, 0])
    members = two(member, CAR.pareto_damping(member))
    assert np.all(members[:, 0] <= designs[:, 0] * (1 + ROUNDING))
    assert np.all(members[:, 1] < designs[:, 1] * (1 - 1e-8))


def test_the_end_of_the_set_is_the_least_tyre_force() -> None:
    """At ks = mu ms kt/M² the curve's damper is also the one of least tyre force, so no spring and damper do better."""
    end = CAR.tyre_force(np.asarray(KS_END), CAR.pareto_damping(np.asarray(KS_END)), W)
    assert CAR.tyre_force(*sample(200_000, 4), W).min() >= end * (1 - ROUNDING)


def test_objectives_run_against_each_other_along_the_set() -> None:
    acceleration, force = two(*exact_set(500)).T
    assert np.all(np.diff(acceleration) > 0)
    assert np.all(np.diff(force) < 0)


def three_objective_grid() -> tuple[Array, Array]:
    """Members of the three-objective set: soft to the end, on the curve to far above it."""
    ks, above = np.meshgrid(KS_END * np.geomspace(1e-4, 1.0, 300), np.geomspace(1.0, 100.0, 300), indexing="ij")
    return ks.ravel(), (CAR.pareto_damping(ks) * above).ravel()


def test_nothing_dominates_the_three_objective_set() -> None:
    ks, c = three_objective_grid()
    picked = np.random.default_rng(5).choice(len(ks), 150, replace=False)
    others = np.concatenate([three(*sample(150_000, 6)), three(ks, c)])
    assert not dominated(three(ks[picked], c[picked]), others).any()


def test_everything_off_the_three_objective_set_is_dominated() -> None:
    """A design at least 5 % below the curve, or stiffer than its end, is beaten by one near it: softer (not stiffer
    than the end) and as much or more damped. Looked for among 100 x 100 such neighbours, from hardly different to far
    away.
    """
    ks, c = sample(300, 7)
    curve = CAR.pareto_damping(np.minimum(ks, KS_END))
    off = (ks > KS_END) | (c < 0.95 * curve)
    assert off.sum() > 100
    away = np.concatenate([[0.0], np.geomspace(1e-6, 0.7, 99)])
    softer, stronger = np.meshgrid(np.exp(-away), np.exp(away))
    for spring, damper in zip(ks[off], c[off], strict=True):
        design = three(np.array([spring]), np.array([damper]))
        near = three((min(spring, KS_END) * softer).ravel(), (damper * stronger).ravel())
        beats = np.all(near <= design, axis=1) & np.any(near < design * (1 - 1e-9), axis=1)
        assert beats.any(), (spring, damper)


def engine(ks: Array, c: Array) -> Array:
    """The engine's mean squares on a wide band, (n, 3): acceleration, tyre force, travel."""
    designs = quarter_car(CAR.ms, unsprung_mass=CAR.mu, spring_rate=ks, damping=c, tyre_rate=CAR.kt)
    response = ride(designs, Road("white", CLASSES["B"], band=(1e-4, 1e3)), SPEED).response
    return np.stack([response.acceleration[:, 0], response.contact_force[:, 0], response.travel[:, 0]], axis=1)


def test_with_the_engines_figures() -> None:
    """What the band's end takes from the tyre force is the same for every design, so the set stays the set. Room of
    1e-7: the acceleration is within 1e-9 of the closed form (test_quarter_car_white_noise.py).
    """
    ks, c = KS_END * np.geomspace(0.05, 1.0, 40), CAR.pareto_damping(KS_END * np.geomspace(0.05, 1.0, 40))
    rng = np.random.default_rng(8)
    other_ks = KS_END * 10 ** rng.uniform(-1.5, 0.5, 2500)
    other_c = float(CAR.pareto_damping(np.asarray(KS_END))) * 10 ** rng.uniform(-1, 0.6, 2500)
    near_ks, near_c = (np.repeat(x, 100) * np.exp(rng.normal(0, 0.005, 4000)) for x in (ks, c))
    F = engine(np.concatenate([ks, other_ks, near_ks]), np.concatenate([c, other_c, near_c]))
    members, others, near = F[:40], F[40:2540], F[2540:]
    check_bound(
        figure="members of the set that one of 6,500 designs, most of them near, beats by 1e-7, figures of the engine",
        source=SOURCE,
        at_most=0,
        ours=int(dominated(members[:, :2], np.concatenate([others, near])[:, :2], ROOM).sum()),
        how="derived (abstract seen)",
    )
    above = (other_ks <= KS_END) & (other_c >= CAR.pareto_damping(np.minimum(other_ks, KS_END)))
    assert 200 < above.sum() < 2000
    assert not dominated(others[above][:200], F, ROOM).any()
    # Members themselves dominate designs that lie off: the test above does not pass for lack of resolution.
    off = (other_ks > 1.2 * KS_END) & (other_ks < 2 * KS_END)
    assert dominated(others[off][:, :2], members[:, :2]).mean() > 0.9

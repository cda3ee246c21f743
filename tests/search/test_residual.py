"""Residuals: the least of a convex problem against another solver, and cases that can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, minimize

from ridefront.errors import CallError
from ridefront.search import Anatomy, Limit, Made
from ridefront.search.residual import REACH, Held, balance, held, scales

Array = NDArray[np.float64]

ALL = np.ones(9, dtype=np.bool_)


def plain(*columns: int) -> Made:
    """The largest of some parts."""
    return Made((columns,), (1.0,), "worst", "largest")


def twin(gradients: Array, pushes: Array) -> float:
    """The shortest by SLSQP on the problem as it is written, from several starts."""
    a, b = len(gradients), len(pushes)
    A = np.concatenate([gradients, pushes]).T
    once = LinearConstraint(np.concatenate([np.ones(a), np.zeros(b)])[None, :], 1.0, 1.0)

    def square(z: Array) -> float:
        return float(np.sum((A @ z) ** 2))

    def slope(z: Array) -> Array:
        return np.asarray(2 * A.T @ (A @ z), dtype=np.float64)

    best = np.inf
    for start in np.vstack([np.full(a, 1 / a), np.eye(a)]):
        found = minimize(
            square,
            np.concatenate([start, np.zeros(b)]),
            jac=slope,
            bounds=Bounds(0, np.inf),
            constraints=[once],
            method="SLSQP",
            options={"ftol": 1e-15, "maxiter": 500},
        )
        best = min(best, float(np.sqrt(max(found.fun, 0.0))))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_balance_against_slsqp(seed: int) -> None:
    rng = np.random.default_rng(seed)
    a, b, d = rng.integers(1, 5), rng.integers(0, 5), rng.integers(2, 8)
    gradients = rng.normal(size=(a, d)) + 0.7
    pushes = rng.normal(size=(b, d)) * 10 ** rng.uniform(-2, 2, (b, 1))
    weights, forces, length = balance(gradients, pushes)
    assert weights.min() >= 0
    assert weights.sum() == pytest.approx(1, abs=1e-12)
    assert (forces >= 0).all()
    assert length == pytest.approx(np.linalg.norm(weights @ gradients + forces @ pushes), abs=1e-12)
    assert length == pytest.approx(twin(gradients, pushes), abs=2e-5)


def test_balance_by_hand() -> None:
    """Two gradients at right angles; a wall that takes up one of them; a wall on the wrong side."""
    right = np.array([[3.0, 0.0], [0.0, 4.0]])
    assert balance(right, np.empty((0, 2)))[2] == pytest.approx(12 / 5)
    assert balance(right, np.array([[0.0, -1.0]]))[2] == pytest.approx(0, abs=1e-12)
    assert balance(right[:1], np.array([[0.0, -1.0]]))[2] == pytest.approx(3)
    assert balance(np.array([[1.0, -1.0]]), np.array([[-1e-6, 0.0]]))[2] == pytest.approx(1)


def test_gradients_that_are_nothing() -> None:
    assert balance(np.zeros((2, 3)), np.eye(3))[2] == 0


def wells(U: Array, centres: Array) -> tuple[Array, Array]:
    """Squared distances from centres: parts (n, k) and their derivatives (n, d, k)."""
    away = U[:, :, None] - centres.T[None]
    return (away * away).sum(axis=1), 2 * away


CENTRES = np.array([[0.2, 0.5], [0.8, 0.5]])


def two_wells(U: Array) -> list[Held]:
    P, D = wells(U, CENTRES)
    return held(Anatomy((plain(0), plain(1)), (1, 1), (), 2), U, P, D, (0, 0), ALL[:2])


def test_two_wells_are_balanced_on_the_line_between_them_and_nowhere_else() -> None:
    """Distance h from the line: both objectives gain at 2h over the front's range of squared distances, 0.36."""
    u = np.linspace(0.2, 0.8, 9)
    for h in (0.0, 0.01, 0.1, 0.3):
        U = np.column_stack([np.concatenate([u, [0.2, 0.8]]), np.concatenate([np.full(9, 0.5 + h), [0.5, 0.5]])])
        found = two_wells(U)[:9]
        P, _ = wells(U, CENTRES)
        np.testing.assert_allclose([each.residual for each in found], 2 * h / np.ptp(P[:, 0]), rtol=1e-9, atol=1e-12)
        assert all(each == replace(each, bounds=(), limits=(), alike=()) for each in found)
    beyond = two_wells(np.array([[0.9, 0.5], [0.2, 0.5], [0.8, 0.5]]))[0]
    assert beyond.residual == pytest.approx(0.2 / 0.36, rel=1e-9)  # towards the nearer well


def test_a_bound_holds_where_it_pushes_back_and_only_there() -> None:
    """Both wells lie beyond the upper bound of the second variable; then, both on its inner side."""
    for away, residual, bounds in ((0.3, 0.0, ((1, "upper"),)), (-0.3, 0.6, ())):
        centres = CENTRES * [1, 0] + [0.0, 1 + away]
        U = np.array([[0.5, 1.0], [0.2, 1.0], [0.8, 1.0]])
        P, D = wells(U, centres)
        found = held(Anatomy((plain(0), plain(1)), (1, 1), (), 2), U, P, D, (0, 0), ALL[:2])[0]
        assert found.residual == pytest.approx(residual / 0.36, abs=1e-9)
        assert found.bounds == bounds


@pytest.mark.parametrize("gap", [0.0, 0.4 * REACH, 0.2])
def test_a_limit_holds_where_it_is_reached(gap: float) -> None:
    """Wells above the line u1 <= 0.5, whose design lies a gap below it."""
    centres = np.array([[0.2, 0.9], [0.8, 0.9]])
    U = np.array([[0.5, 0.5 - gap], [0.2, 0.5 - gap], [0.8, 0.5 - gap]])
    P, D = wells(U, centres)
    P, D = np.column_stack([P, U[:, 1]]), np.concatenate([D, np.tile([[[0.0], [1.0]]], (3, 1, 1))], axis=2)
    found = held(Anatomy((plain(0), plain(1)), (1, 1), (Limit(plain(2), 0.5, 1, 2.0),), 3), U, P, D, (0, 0), ALL[:3])[0]
    if gap > REACH:
        assert found.residual == pytest.approx(2 * (0.4 + gap) / 0.36, rel=1e-9)
        assert found.limits == ()
    else:
        assert found.residual == pytest.approx(0, abs=1e-9)
        assert found.limits == (0,)


def test_a_kink_holds_a_design_that_the_slope_of_the_worst_alone_would_not() -> None:
    """The larger of two distances is least half way; taken one by one its slope is as steep there as anywhere."""
    U = np.array([[0.5, 0.5], [0.3, 0.5]])
    P, D = wells(U, CENTRES)
    both = held(Anatomy((plain(0, 1),), (1,), (), 2), U, P, D, (0, 0), ALL[:2])
    assert both[0].residual == pytest.approx(0, abs=1e-12)
    assert both[0].alike == ((0, (0, 1)),)
    assert both[1].residual == pytest.approx(1.0 / 0.16, rel=1e-9)
    assert both[1].alike == ()
    alone = held(Anatomy((plain(0),), (1,), (), 2), U, P, D, (0, 0), ALL[:2])
    assert alone[0].residual == pytest.approx(0.6 / np.ptp(P[:, 0]))


def test_kinks_of_conditions_that_are_added_up() -> None:
    """rms over two conditions, the worst of two places in each: as above, both at their kink."""
    U = np.array([[0.5, 0.5], [0.45, 0.5]])
    P, D = wells(U, CENTRES)
    P, D = np.column_stack([P, 3 * P]), np.concatenate([D, 3 * D], axis=2)
    made = Made(((0, 1), (2, 3)), (1.0, 2.0), "rms", "largest")
    found = held(Anatomy((made,), (1,), (), 4), U, P, D, (0, 0), ALL[:4])
    assert found[0].residual == pytest.approx(0, abs=1e-12)
    assert found[1].residual > 1


def test_the_unit_of_an_objective_or_a_limit_does_not_matter() -> None:
    rng = np.random.default_rng(5)
    U = rng.random((30, 3))
    P, D = wells(U, rng.random((4, 3)))
    D = D[:, :, :4]
    limits = tuple(Limit(plain(3), float(p), -1, 0.1) for p in P[:, 3])  # each at its limit in one design
    anatomy = Anatomy((plain(0, 1), plain(2)), (1, -1), limits, 4)
    units = np.array([1e3, 1e3, 1e-4, 7.0])
    other = replace(anatomy, limits=tuple(replace(each, limit=7 * each.limit, scale=0.7) for each in limits))
    ours = held(anatomy, U, P, D, (0, 0, 0), ALL[:4])
    theirs = held(other, U, P * units, D * units, (0, 0, 0), ALL[:4])
    np.testing.assert_allclose([h.residual for h in ours], [h.residual for h in theirs], rtol=1e-6, atol=1e-9)
    assert [replace(h, residual=0) for h in ours] == [replace(h, residual=0) for h in theirs]
    assert any(h.limits for h in ours)


def test_stepped_variables_are_held_and_alone_leave_nothing() -> None:
    """The slope along the second is not there; along the first the design is balanced."""
    U = np.array([[0.5, 0.9], [0.2, 0.5], [0.8, 0.5]])
    P, D = wells(U, CENTRES)
    D[:, 1] = np.nan
    anatomy = Anatomy((plain(0), plain(1)), (1, 1), (), 2)
    assert held(anatomy, U, P, D, (0, 5), ALL[:2])[0].residual == pytest.approx(0, abs=1e-12)
    assert all(np.isnan(each.residual) for each in held(anatomy, U, P, D, (5, 5), ALL[:2]))


def test_there_is_none_where_slopes_mean_nothing() -> None:
    U = np.array([[0.5, 0.5], [0.2, 0.5], [0.8, 0.5]])
    P, D = wells(U, CENTRES)
    anatomy = Anatomy((plain(0), plain(1)), (1, 1), (), 2)
    jumping = held(anatomy, U, P, D, (0, 0), np.array([True, False]))
    assert all(np.isnan(each.residual) for each in jumping)
    D[0, 1], P[1] = np.nan, np.nan
    residuals = [each.residual for each in held(anatomy, U, P, D, (0, 0), ALL[:2])]
    assert np.isnan(residuals).tolist() == [True, True, False]
    # A limit that jumps leaves no residual where it is close, and does not matter where it is not.
    U = np.array([[0.5, 0.5], [0.2, 0.5], [0.8, 0.5]])
    P, D = wells(U, CENTRES)
    P, D = np.column_stack([P, [1.0, 0.5, 0.5]]), np.concatenate([D, np.full((3, 2, 1), np.nan)], axis=2)
    limited = replace(anatomy, limits=(Limit(plain(2), 1.0, 1, 1.0),), parts=3)
    residuals = [each.residual for each in held(limited, U, P, D, (0, 0), np.array([True, True, False]))]
    assert np.isnan(residuals).tolist() == [True, False, False]


def test_an_objective_that_is_the_same_throughout_is_divided_by_its_size() -> None:
    anatomy = Anatomy((plain(0), plain(1), plain(2)), (1, 1, 1), (), 3)
    assert scales(anatomy, np.array([[1.0, -5.0, 0.0], [3.0, -5.0, 0.0]])).tolist() == [2.0, 5.0, 1.0]
    with pytest.raises(CallError, match="no design has figures"):
        scales(anatomy, np.full((1, 3), np.nan))

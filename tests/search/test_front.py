"""What failure means to the search, the front, and the archive that keeps it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.errors import CallError
from ridefront.search import LARGE, Archive, Rows, as_rows, nondominated

Array = NDArray[np.float64]


def slow_front(F: Array, V: Array) -> list[bool]:
    """From the definition, pair by pair; of equal ones the first."""
    front = []
    for i in range(len(F)):
        beaten = any(
            V[j] <= 0 and (F[j] <= F[i]).all() and ((F[j] < F[i]).any() or j < i) for j in range(len(F)) if j != i
        )
        front.append(bool(V[i] <= 0 and not beaten))
    return front


def random_rows(m: int, seed: int, n: int = 120) -> tuple[Array, Array]:
    """Whole numbers, so that ties and exact duplicates happen."""
    rng = np.random.default_rng(seed)
    return rng.integers(0, 9, (n, m)).astype(float), np.where(rng.random(n) < 0.7, 0.0, rng.random(n))


@pytest.mark.parametrize("m", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("seed", range(5))
def test_nondominated_is_the_definition(m: int, seed: int) -> None:
    F, V = random_rows(m, seed)
    assert nondominated(F, V).tolist() == slow_front(F, V)


def test_nondominated_of_none() -> None:
    assert nondominated(np.empty((0, 3)), np.empty(0)).shape == (0,)
    assert not nondominated(np.ones((4, 3)), np.ones(4)).any()


def test_failed_designs_are_large_and_others_signed() -> None:
    values = np.array([[1.0, 2.0], [np.nan, np.nan], [3.0, -4.0], [np.inf, 5.0]])
    violation = np.array([0.0, np.nan, 0.5, np.nan])
    rows = as_rows(values, np.array([1.0, -1.0]), violation, np.array([True, False, True, False]))
    np.testing.assert_array_equal(rows.F, [[1, -2], [LARGE, LARGE], [3, 4], [LARGE, LARGE]])
    np.testing.assert_array_equal(rows.V, [0, LARGE, 0.5, LARGE])
    assert nondominated(rows.F, rows.V).tolist() == [True, False, False, False]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e31])
def test_figures_that_cannot_be_ranked_are_refused(bad: float) -> None:
    values, zero, ok = np.array([[1.0, bad]]), np.zeros(1), np.ones(1, dtype=bool)
    with pytest.raises(CallError, match="F has NaN, infinity"):
        as_rows(values, np.ones(2), zero, ok)
    with pytest.raises(CallError, match="F has NaN, infinity"):
        nondominated(values, zero)
    with pytest.raises(CallError, match="F has NaN, infinity"):
        Archive(2).add(values, zero, np.zeros(1, dtype=np.int64))
    with pytest.raises(CallError, match="V has NaN"):
        Rows(np.ones((1, 2)), np.array([bad]))


def test_rows_refuse_negative_violation_and_wrong_shapes() -> None:
    with pytest.raises(CallError, match="V has NaN or a figure outside"):
        Rows(np.ones((1, 2)), np.array([-1e-9]))
    with pytest.raises(CallError, match="do not match"):
        Rows(np.ones((2, 2)), np.zeros(3))
    with pytest.raises(CallError, match="archive of 3 objectives"):
        Archive(3).add(np.ones((1, 2)), np.zeros(1), np.zeros(1, dtype=np.int64))


@pytest.mark.parametrize("m", [1, 2, 3, 4, 6])
@pytest.mark.parametrize("cuts", [[], [1, 2, 3], [10, 10, 60], [119]])
def test_archive_holds_the_front_however_it_was_fed(m: int, cuts: list[int]) -> None:
    F, V = random_rows(m, 7)
    ids = np.arange(100, 220)
    archive = Archive(m)
    for part in np.split(np.arange(120), cuts):
        archive.add(F[part], V[part], ids[part])
    front = np.array(slow_front(F, V))
    np.testing.assert_array_equal(archive.ids, ids[front])
    np.testing.assert_array_equal(archive.F, F[front])
    assert archive.size == front.sum()
    assert archive.evaluated == 120
    assert archive.feasible == (V == 0).sum()


def test_archive_keeps_its_own_copy() -> None:
    F, V = random_rows(2, 1)
    archive = Archive(2)
    archive.add(F, V, np.arange(120))
    before = archive.F.copy()
    F[:] = -1.0
    archive.F[:] = -1.0
    archive.ids[:] = -1
    np.testing.assert_array_equal(archive.F, before)
    assert archive.ids.min() >= 0


@pytest.mark.parametrize("V", [np.ones(6), np.full(6, LARGE)])
def test_archive_without_a_feasible_design(V: Array) -> None:
    archive = Archive(3)
    archive.add(np.full((6, 3), 2.0), V, np.arange(6))
    archive.fix_box()
    assert (archive.evaluated, archive.feasible, archive.size) == (6, 0, 0)
    assert archive.F.shape == (0, 3)
    assert archive.box is None
    assert archive.hypervolume() is None


def test_bits_do_not_depend_on_blocks() -> None:
    rng = np.random.default_rng(5)
    X = np.abs(rng.normal(size=(600, 3)))
    F = X / np.sqrt(np.square(X).sum(axis=1))[:, None] + 0.05 * rng.random((600, 1))
    F[::7, 2] = 0.5  # ties in the objective by which the archive is sorted
    found = set()
    for step in (30, 1, 57, 600):
        archive = Archive(3)
        archive.add(F[:30], np.zeros(30), np.arange(30))
        archive.fix_box()
        for start in range(30, 600, step):
            part = slice(start, min(start + step, 600))
            archive.add(F[part], np.zeros(part.stop - start), np.arange(start, part.stop))
        found.add((archive.hypervolume(), archive.ids.tobytes(), archive.F.tobytes()))
    assert len(found) == 1

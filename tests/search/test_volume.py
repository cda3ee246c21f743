"""Hypervolume: closed forms, a count of unit cells, and the box that it is measured in."""

from __future__ import annotations

from itertools import product

import moocore
import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.search import Archive, Box
from ridefront.search.volume import Volume, box_around

Array = NDArray[np.float64]


def share(F: Array, box: Box) -> float:
    volume = Volume(box)
    volume.update(F, F)
    return volume.value()


def counted(F: Array, side: int) -> int:
    """Unit cells of [0, side]^m that some whole-numbered point dominates, one by one."""
    corners = np.array(list(product(range(side), repeat=F.shape[1])))
    dominated = np.zeros(len(corners), dtype=np.bool_)
    for f in F:
        dominated |= (corners >= f).all(axis=1)
    return int(dominated.sum())


@pytest.mark.parametrize(("m", "side"), [(1, 20), (2, 20), (3, 10)])
@pytest.mark.parametrize("seed", range(3))
def test_exact_volume_is_the_number_of_cells(m: int, side: int, seed: int) -> None:
    """Some points lie on or beyond the reference point, in one objective or in all: they dominate no cell."""
    F = np.random.default_rng(seed).integers(0, side + 3, (25, m)).astype(float)
    box = Box(np.zeros(m), np.full(m, float(side)))
    assert share(F, box) == pytest.approx(counted(F, side) / side**m, rel=1e-12)


@pytest.mark.parametrize("n", [3, 10, 200])
def test_linear_front(n: int) -> None:
    """n + 1 even points of f1 + f2 = 1, reference (1.1, 1.1): 0.1 + (n - 1) / 2n + 0.11, of a box of 1.21."""
    t = np.arange(n + 1) / n
    archive = Archive(2)
    archive.add(np.stack([5 * t, 3 - 3 * t], axis=1), np.zeros(n + 1), np.arange(n + 1))
    archive.fix_box()
    assert archive.box is not None
    np.testing.assert_allclose(archive.box.reference, [5.5, 3.3])
    np.testing.assert_array_equal(archive.box.ideal, [0, 0])
    assert archive.hypervolume() == pytest.approx((0.21 + (n - 1) / (2 * n)) / 1.21, rel=1e-12)


def sphere_front(m: int, n: int, seed: int) -> Array:
    X = np.abs(np.random.default_rng(seed).normal(size=(n, m)))
    return np.asarray(X / np.sqrt(np.square(X).sum(axis=1))[:, None])


@pytest.mark.parametrize(("m", "error"), [(4, 0.003), (5, 0.005), (6, 0.01), (7, 0.01), (8, 0.015)])
def test_estimate_for_many_objectives(m: int, error: float) -> None:
    box = Box(np.full(m, -0.2), np.full(m, 1.1))
    errors = []
    for seed in range(6):
        F = sphere_front(m, 20, seed)
        errors.append(share(F, box) / (moocore.hypervolume(F, ref=box.reference) / 1.3**m) - 1)
    assert np.sqrt(np.mean(np.square(errors))) < error


def test_estimate_of_one_point_and_of_none() -> None:
    box = Box(np.zeros(5), np.array([1.0, 2.0, 3.0, 4.0, 5.0]))
    assert share(box.reference[None] * 0.4, box) == pytest.approx(0.6**5, rel=0.01)
    assert share(np.full((1, 5), 5.0), box) == 0.0


@pytest.mark.parametrize("m", [1, 2, 3, 4, 5])
def test_never_falls_and_bad_designs_add_nothing(m: int) -> None:
    rng = np.random.default_rng(m)
    archive, last, start = Archive(m), 0.0, 0
    for step in range(30):
        F = sphere_front(m, 40, step) + (1 - step / 40) * rng.random((40, 1))
        if step == 20:
            F += 50  # far beyond the reference point
        archive.add(F, np.where(rng.random(40) < 0.2, 1.0, 0.0), np.arange(start, start + 40))
        archive.fix_box()
        now = archive.hypervolume()
        assert now is not None
        assert now >= last - 1e-12
        if step == 20:
            assert now == last
        last, start = now, start + 40
    assert last > 0.3


def test_box_waits_until_the_front_is_large_enough() -> None:
    archive = Archive(2)
    archive.add(np.array([[1.0, 2.0]]), np.zeros(1), np.array([0]))
    archive.fix_box()
    assert archive.hypervolume() is None
    archive.add(np.array([[2.0, 1.0], [0.0, 9.0]]), np.array([0.0, 1.0]), np.array([1, 2]))
    assert archive.hypervolume() is None  # three designs, but one is infeasible
    archive.add(np.array([[1.5, 1.5]]), np.zeros(1), np.array([3]))
    assert archive.box is not None
    np.testing.assert_allclose(archive.box.reference, [2.1, 2.1])
    box, volume = archive.box, archive.hypervolume()
    archive.add(np.array([[0.5, 5.0]]), np.zeros(1), np.array([4]))  # on the front, outside the box
    archive.fix_box()
    assert archive.box is box
    assert archive.hypervolume() == volume


def test_no_box_before_it_is_asked_for() -> None:
    archive = Archive(2)
    archive.add(np.array([[0.0, 3.0], [1.0, 2.0], [2.0, 1.0]]), np.zeros(3), np.arange(3))
    assert archive.box is None
    assert archive.hypervolume() is None


def test_one_objective_counts_from_its_first_best() -> None:
    archive = Archive(1)
    archive.add(np.array([[8.0], [5.0], [6.0]]), np.zeros(3), np.arange(3))
    archive.fix_box()
    assert archive.hypervolume() == pytest.approx(1.0)  # ideal and nadir are one, so its size stands for the span
    archive.add(np.array([[4.0]]), np.zeros(1), np.array([3]))
    assert archive.hypervolume() == pytest.approx(3.0)


@pytest.mark.parametrize(("constant", "reference"), [(4.0, 4.4), (-2.0, -1.8), (0.0, 0.1), (3.0 + 1e-15, 3.3)])
def test_box_where_an_objective_is_constant(constant: float, reference: float) -> None:
    t = np.arange(5.0)
    F = np.stack([t, 4 - t, np.full(5, constant)], axis=1)
    box = box_around(F)
    np.testing.assert_allclose(box.reference, [4.4, 4.4, reference])
    assert (box.reference > box.ideal).all()
    assert 0 < share(F, box) <= 1

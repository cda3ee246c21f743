"""Test problems of the literature on the unit cube, with the hypervolume of their exact fronts in closed form.

ZDT1, ZDT2: Zitzler, Deb, Thiele, Evolutionary Computation 8 (2000) 173-195. DTLZ2: Deb, Thiele, Laumanns, Zitzler, CEC
2002. BNH: Binh, Korn, MENDEL 1997. CONSTR: Deb, Pratap, Agarwal, Meyarivan, IEEE Trans. Evol. Comput. 6 (2002) 182-197.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from ridefront.search import Archive, Block, Rows, Settings, plan

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """A function of the unit cube with a known front.

    Attributes:
        evaluate: U (n, d) -> F (n, m), V (n,).
        levels: the design space; m: number of objectives.
        reference: (m,), reference point; volume: the exact front's hypervolume there.
    """

    evaluate: Callable[[Array], tuple[Array, Array]]
    levels: tuple[int, ...]
    m: int
    reference: tuple[float, ...]
    volume: float


def zdt1(U: Array) -> tuple[Array, Array]:
    g = 1 + 9 * U[:, 1:].mean(axis=1)
    return np.stack([U[:, 0], g * (1 - np.sqrt(U[:, 0] / g))], axis=1), np.zeros(len(U))


def zdt2(U: Array) -> tuple[Array, Array]:
    g = 1 + 9 * U[:, 1:].mean(axis=1)
    return np.stack([U[:, 0], g * (1 - (U[:, 0] / g) ** 2)], axis=1), np.zeros(len(U))


def dtlz2(U: Array, m: int = 3) -> tuple[Array, Array]:
    """On the front, the unit sphere's positive part, the last variables are 0.5."""
    F = np.repeat(1 + np.square(U[:, m - 1 :] - 0.5).sum(axis=1)[:, None], m, axis=1)
    for j in range(m):
        F[:, j] *= np.cos(U[:, : m - 1 - j] * pi / 2).prod(axis=1)
        if j:
            F[:, j] *= np.sin(U[:, m - 1 - j] * pi / 2)
    return F, np.zeros(len(U))


def dtlz2_of_four(U: Array) -> tuple[Array, Array]:
    return dtlz2(U, 4)


def bnh(U: Array) -> tuple[Array, Array]:
    x, y = 5 * U[:, 0], 3 * U[:, 1]
    F = np.stack([4 * x**2 + 4 * y**2, (x - 5) ** 2 + (y - 5) ** 2], axis=1)
    outside = np.maximum((x - 5) ** 2 + y**2 - 25, 0) / 25
    return F, outside + np.maximum(7.7 - (x - 8) ** 2 - (y + 3) ** 2, 0) / 7.7


def constr(U: Array) -> tuple[Array, Array]:
    """The first constraint holds with equality on the front's left part."""
    x, y = 0.1 + 0.9 * U[:, 0], 5 * U[:, 1]
    V = np.maximum(6 - y - 9 * x, 0) / 6 + np.maximum(1 + y - 9 * x, 0)
    return np.stack([x, (1 + y) / x], axis=1), V


def sphere(U: Array) -> tuple[Array, Array]:
    """One objective, smallest at 0.3 throughout; its hypervolume below 1 is 1 minus the smallest value."""
    return np.square(U - 0.3).sum(axis=1)[:, None], np.zeros(len(U))


# BNH's front: x = y = t in [0, 3], then y = 3, x = t in [3, 5]; CONSTR's: (7 - 9 x) / x on [7/18, 2/3], then 1 / x.
BNH_VOLUME = 2232 + (84 * 16 + 80 / 3 * 98 - 2 * 544) + 4 * 46
CONSTR_VOLUME = 19 * (2 / 3 - 7 / 18) - 7 * log(12 / 7) + 10 / 3 + log(2 / 3) + 0.1 * 9

PROBLEMS = {
    "sphere": Problem(sphere, (0,) * 4, 1, (1.0,), 1.0),
    "ZDT1": Problem(zdt1, (0,) * 10, 2, (1.1, 1.1), 0.1 + 2 / 3 + 0.11),
    "ZDT2": Problem(zdt2, (0,) * 10, 2, (1.1, 1.1), 0.1 + 1 / 3 + 0.11),
    "BNH": Problem(bnh, (0, 0), 2, (140.0, 50.0), BNH_VOLUME),
    "CONSTR": Problem(constr, (0, 0), 2, (1.1, 10.0), CONSTR_VOLUME),
    "DTLZ2": Problem(dtlz2, (0,) * 6, 3, (1.1,) * 3, 1.1**3 - pi / 6),
    "DTLZ2 of four": Problem(dtlz2_of_four, (0,) * 6, 4, (1.1,) * 4, 1.1**4 - pi**2 / 32),
}


def follow(
    evaluate: Callable[[Array], tuple[Array, Array]], levels: tuple[int, ...], m: int, settings: Settings
) -> tuple[list[Block], list[Rows], str]:
    """Answers a plan to its end: its blocks, the rows that it was sent, and why it stopped."""
    search = plan(levels, m, settings)
    blocks, sent = [], []
    try:
        block = next(search)
        while True:
            blocks.append(block)
            sent.append(Rows(*evaluate(block.U)))
            block = search.send(sent[-1])
    except StopIteration as stop:
        return blocks, sent, str(stop.value)


def archive_of(sent: list[Rows], m: int) -> Archive:
    """The front of everything sent, ids in the order asked, its box fixed after the first block."""
    archive, start = Archive(m), 0
    for rows in sent:
        archive.add(rows.F, rows.V, np.arange(start, start + len(rows.V)))
        archive.fix_box()
        start += len(rows.V)
    return archive

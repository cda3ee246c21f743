"""Test problems of the literature, from pymoo, on the unit cube, with their published fronts drawn finely.

Where pymoo can draw the front, it does. Others here, each a closed form:

- OSY (Osyczka, Kundu, Structural Optimization 10 (1995) 94-99): five pieces, along each of which one variable or two
  move (K. Deb, Multi-Objective Optimization Using Evolutionary Algorithms, Wiley 2001, table 8.2; from memory, and
  checked here: feasible, and nothing found dominates it);
- TNK (Tanaka, Watanabe, Furukawa, Tanino, IEEE SMC 1995): what is non-dominated of the first constraint's edge,
  r² = 1 + 0.1 cos 16 φ, within the second;
- SRN (Srinivas, Deb, Evolutionary Computation 2 (1994) 221-248): x = -2.5, as published and drawn by pymoo, and what
  that leaves out: at its lower end the front goes on along the second constraint to where f1 is least, at its upper
  end along the first, a circle, to where f2 is (Lagrange's conditions); 0.9 % of the hypervolume;
- DTLZ7 (Deb, Thiele, Laumanns, Zitzler, CEC 2002): g = 1, and what is non-dominated of f3 = 6 - Σ f (1 + sin 3πf).
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.problems import get_problem
from pymoo.util.ref_dirs import get_reference_directions
from scipy.optimize import brentq

from ridefront.search import Settings

Array = NDArray[np.float64]


BUDGETS = {
    "zdt1": (70, 2000), "zdt2": (70, 2000), "zdt3": (120, 3000), "zdt4": (400, 1500), "zdt6": (100, 4000),
    "dtlz1": (400, 2000), "dtlz2": (50, 4000), "dtlz7": (60, 4000), "c1dtlz1": (500, 2000),
    "bnh": (20, 2000), "osy": (150, 3000), "srn": (20, 2000), "tnk": (30, 3000),
}  # fmt: skip
"""Generations of 100 designs, after a sample of 256, and designs of refinement that our search is given. ZDT4, DTLZ1
and C1-DTLZ1 are made to hold a search up by local fronts (21^9 of ZDT4's, 11^5 - 1 of DTLZ1's), on any of which
refinement would end: there it comes late.
"""


@dataclass(frozen=True)
class Known:
    """A test problem on the unit cube.

    Attributes:
        parts: U (n, d) -> P (n, m + limits): objectives, then constraints, each to be at most nought.
        d, m, limits: numbers of variables, objectives and constraints.
        front: (p, m), drawn finely.
    """

    parts: Callable[[Array], Array]
    d: int
    m: int
    limits: int
    front: Array

    def distance(self, F: Array) -> float:
        """Mean distance from the front to what was found, IGD+ (Ishibuchi, Masuda, Tanigaki, Nojima, EMO 2015), over
        the front's range: nought where every compromise on the front is reached or bettered.
        """
        low, span = self.front.min(axis=0), np.ptp(self.front, axis=0)
        return float(moocore.igd_plus((F - low) / span, ref=(self.front - low) / span))

    def volume(self, F: Array) -> float:
        """Hypervolume up to a tenth of the front's range beyond its worst figures, over the front's own."""
        low, span = self.front.min(axis=0), np.ptp(self.front, axis=0)
        corner = np.full(self.m, 1.1)
        own = moocore.hypervolume((self.front - low) / span, ref=corner)
        return float(moocore.hypervolume((F - low) / span, ref=corner) / own)


def budget_of(name: str) -> Settings:
    """What our search is given, but for the seed."""
    generations, refine = BUDGETS[name]
    return Settings(0, 256, 100, generations, refine=refine)


def known(name: str) -> Known:
    """A test problem by pymoo's name for it."""
    problem: Any = get_problem(name)
    low, span = np.asarray(problem.xl, dtype=np.float64), np.asarray(problem.xu - problem.xl, dtype=np.float64)

    def parts(U: Array) -> Array:
        found = problem.evaluate(low + U * span, return_as_dictionary=True)
        columns = [found["F"], found["G"]] if problem.n_ieq_constr else [found["F"]]
        return np.concatenate(columns, axis=1).astype(np.float64)

    return Known(parts, problem.n_var, problem.n_obj, problem.n_ieq_constr, FRONTS.get(name, _drawn)(problem))


def _drawn(problem: Any) -> Array:
    """The front as pymoo draws it."""
    if problem.n_obj == 3:
        return np.asarray(problem.pareto_front(get_reference_directions("das-dennis", 3, n_partitions=60)))
    count = next(key for key in inspect.signature(problem._calc_pareto_front).parameters if key.startswith("n_"))
    return np.asarray(problem.pareto_front(use_cache=False, **{count: 2000}))


def osy_set() -> Array:
    """Variables of OSY's front, (n, 6)."""
    t = np.linspace(0, 1, 500)
    one, nought = np.ones_like(t), np.zeros_like(t)
    x1 = 4.056 + (5 - 4.056) * t
    pieces = (
        (5 * one, one, 1 + 4 * t, 5 * one),
        (5 * one, one, 1 + 4 * t, one),
        (x1, (x1 - 2) / 3, one, one),
        (nought, 2 * one, 1 + 2.732 * t, one),
        (t, 2 - t, one, one),
    )
    return np.concatenate([np.stack([x1, x2, x3, nought, x5, nought], axis=1) for x1, x2, x3, x5 in pieces])


def _osy(problem: Any) -> Array:
    return np.asarray(problem.evaluate(osy_set(), return_values_of=["F"]))


def srn_set() -> Array:
    """Variables of SRN's front, (n, 2). On the circle of radius 15 f2 is least where x = -4.5 y / (y - 1)."""
    end = brentq(lambda y: (4.5 * y / (y - 1)) ** 2 + y**2 - 225, 10.0, 15.0, xtol=1e-14)
    line = np.linspace(-2.5, 1.1, 500)
    straight = np.linspace(2.5, np.sqrt(225 - 2.5**2), 1500)
    angle = np.linspace(np.arctan2(straight[-1], -2.5), np.arctan2(end, -4.5 * end / (end - 1)), 500)
    pieces = ((line, (line + 10) / 3), (np.full_like(straight, -2.5), straight))
    return np.concatenate([np.stack(piece, axis=1) for piece in (*pieces, (15 * np.cos(angle), 15 * np.sin(angle)))])


def _srn(problem: Any) -> Array:
    return np.asarray(problem.evaluate(srn_set(), return_values_of=["F"]))


def _tnk(problem: Any) -> Array:
    phi = np.linspace(0, np.pi / 2, 20_000)
    r = np.sqrt(1 + 0.1 * np.cos(16 * phi))
    F = np.stack([r * np.sin(phi), r * np.cos(phi)], axis=1)
    F = F[np.square(F - 0.5).sum(axis=1) <= 0.5]
    return np.asarray(F[moocore.is_nondominated(F)])


def _dtlz7(problem: Any) -> Array:
    f = np.linspace(0, 1, 2001)
    gain = f * (1 + np.sin(3 * np.pi * f))
    f = f[gain >= np.maximum.accumulate(gain)][::20]  # more of it must gain more
    x, y = (axis.ravel() for axis in np.meshgrid(f, f))
    return np.stack([x, y, 6 - x * (1 + np.sin(3 * np.pi * x)) - y * (1 + np.sin(3 * np.pi * y))], axis=1)


FRONTS: dict[str, Callable[[Any], Array]] = {"osy": _osy, "srn": _srn, "tnk": _tnk, "dtlz7": _dtlz7}

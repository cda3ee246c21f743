"""Designs as the search sees them: points of the unit cube, discrete variables mid-cell, none asked twice.

Designs are known by numbers mixed as SplitMix64 does (Steele, Lea, Flood, OOPSLA 2014; from memory), see `Asked`.
"""

from __future__ import annotations

from math import prod

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError

Array = NDArray[np.float64]
Keys = NDArray[np.uint64]

LARGEST_LISTED = 2**63
"""Places in a list of all designs are numbers of 64 bits up to here."""

LISTED = 65536
"""Designs of such a list that are looked at together."""

_ODD = np.uint64(0x9E3779B97F4A7C15)
_MIX = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


def check_levels(levels: tuple[int, ...]) -> None:
    """Refuses a design space that has no variables, or a negative number of levels.

    Raises:
        CallError: naming the variable's index and what is allowed.
    """
    if not levels:
        raise CallError("levels: the design space has no variable; allowed: one entry a variable")
    for j, count in enumerate(levels):
        if count < 0:
            raise CallError(f"levels[{j}]: {count}; allowed: 0 for a continuous variable, else its number of codes")


def snap(U: Array, levels: tuple[int, ...]) -> Array:
    """Moves discrete variables to the middle of their cell; continuous ones stay where they are.

    Args:
        U: (n, d), in [0, 1].
        levels: d entries; 0 for a continuous variable, else its number of admissible codes.

    Returns:
        (n, d), a copy: (code + 0.5) / levels[j] for a discrete variable j, code = floor(u * levels[j]), at most
        levels[j] - 1.
    """
    snapped = U + 0.0  # a copy, and -0.0 becomes 0.0: equal designs have equal bytes
    for j, count in enumerate(levels):
        if count:
            code = np.minimum(np.floor(U[:, j] * count), count - 1)
            snapped[:, j] = (code + 0.5) / count
    return snapped


class Asked:
    """Every design asked so far, so that none is asked twice: eight bytes a design.

    A design is known by a number of 64 bits: where variables are all discrete and the space is small enough, its place
    in the list of all; else a mixture of its figures. Two designs may then share a number by chance, and the later one
    is left out as if it had been asked; with ten million designs the odds of a single such pair are three in a million.

    Args:
        levels: the design space, as in `snap`.

    Attributes:
        size: how many different designs the space holds; None where a variable is continuous.
    """

    def __init__(self, levels: tuple[int, ...]) -> None:
        self.levels = levels
        self.size: int | None = prod(levels) if all(levels) else None
        self._count = 0
        self._sorted: list[Keys] = []  # each at least twice as long as the next, so that merging costs log n a design

    def __len__(self) -> int:
        return self._count

    def add_new(self, U: Array, most: int) -> Array:
        """Notes the first `most` designs of U that are new, and gives them back.

        Args:
            U: (n, d), shares of the ranges, snapped.
            most: at most so many.

        Returns:
            (k, d), k <= most, rows of U in its order; of equal designs the first.
        """
        keys = self._keys(U)
        values, first = np.unique(keys, return_index=True)
        new = np.sort(first[~self._known(values)])[:most]
        self._note(np.sort(keys[new]))
        return U[new]

    def _keys(self, U: Array) -> Keys:
        """(n,): each design's number."""
        if self.size is not None and self.size <= LARGEST_LISTED:
            place = np.zeros(len(U), dtype=np.uint64)
            for u, count in zip(U.T, self.levels, strict=True):
                place = place * np.uint64(count) + np.floor(u * count).astype(np.uint64)
            return place
        mixed = np.full(len(U), _ODD, dtype=np.uint64)
        for u in U.T:
            mixed = _mixed(mixed ^ _mixed(np.ascontiguousarray(u).view(np.uint64)))
        return mixed

    def _known(self, keys: Keys) -> NDArray[np.bool_]:
        known = np.zeros(len(keys), dtype=np.bool_)
        for run in self._sorted:
            at = np.minimum(np.searchsorted(run, keys), len(run) - 1)
            known |= run[at] == keys
        return known

    def _note(self, keys: Keys) -> None:
        """Takes in numbers that are new, ascending."""
        if not len(keys):
            return
        self._count += len(keys)
        self._sorted.append(keys)
        while len(self._sorted) > 1 and len(self._sorted[-2]) < 2 * len(self._sorted[-1]):
            last, before = self._sorted.pop(), self._sorted.pop()
            self._sorted.append(np.sort(np.concatenate([before, last]), kind="stable"))

    def random(self, count: int, rng: np.random.Generator) -> Array:
        """New designs at random, fewer than `count` only where the space holds no more.

        A space of which at least half may soon be known is listed; in any other a random design is new with even odds
        or better.

        Args:
            count: how many.
            rng: where the randomness comes from.

        Returns:
            (k, d), shares of the ranges, snapped and noted as asked.
        """
        found = np.empty((0, len(self.levels)))
        if self.size is not None and self.size <= 2 * (len(self) + count):
            order = rng.permutation(self.size)
            for first in range(0, self.size, LISTED):
                missing = count - len(found)
                if not missing:
                    break
                found = np.concatenate([found, self.add_new(self._places(order[first : first + LISTED]), missing)])
            return found
        while len(found) < count:
            missing = count - len(found)
            U = snap(rng.random((2 * missing, len(self.levels))), self.levels)
            found = np.concatenate([found, self.add_new(U, missing)])
        return found

    def _places(self, places: NDArray[np.int64]) -> Array:
        """Designs of a discrete space by their places in the list of all, (n, d)."""
        codes = np.unravel_index(places, self.levels)
        return np.stack([(code + 0.5) / count for code, count in zip(codes, self.levels, strict=True)], axis=1)


def _mixed(keys: Keys) -> Keys:
    """Every bit of the result depends on every bit of a key, one to one.

    The finaliser of SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, variant 13 of D. Stafford; constants from memory).
    """
    keys = keys + _ODD
    keys = (keys ^ (keys >> np.uint64(30))) * _MIX[0]
    keys = (keys ^ (keys >> np.uint64(27))) * _MIX[1]
    mixed: Keys = keys ^ (keys >> np.uint64(31))
    return mixed

"""Designs as the search sees them: points of the unit cube, discrete variables mid-cell, none asked twice."""

from __future__ import annotations

from math import prod

import numpy as np
from numpy.typing import NDArray

from ridefront.errors import CallError

Array = NDArray[np.float64]


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


def _keys(U: Array) -> list[bytes]:
    rows = np.ascontiguousarray(U)
    keys: list[bytes] = rows.view(f"V{rows.itemsize * rows.shape[1]}").ravel().tolist()
    return keys


class Asked:
    """Every design asked so far, so that none is asked twice.

    Args:
        levels: the design space, as in `snap`.

    Attributes:
        size: how many different designs the space holds; None where a variable is continuous.
    """

    def __init__(self, levels: tuple[int, ...]) -> None:
        self.levels = levels
        self.size: int | None = prod(levels) if all(levels) else None
        self._seen: set[bytes] = set()

    def __len__(self) -> int:
        return len(self._seen)

    def add_new(self, U: Array, most: int) -> Array:
        """Notes the first `most` designs of U that are new, and gives them back.

        Args:
            U: (n, d), snapped.
            most: at most so many.

        Returns:
            (k, d), k <= most, in the order of U; of equal designs the first.
        """
        new: dict[bytes, int] = {}
        for i, key in enumerate(_keys(U)):
            if key not in self._seen and key not in new:
                new[key] = i
                if len(new) == most:
                    break
        self._seen.update(new)
        return U[list(new.values())]

    def random(self, count: int, rng: np.random.Generator) -> Array:
        """New designs at random, fewer than `count` only where the space holds no more.

        A space of which at least half may soon be known is listed; in any other a random design is new with even odds
        or better.

        Args:
            count: how many.
            rng: where the randomness comes from.

        Returns:
            (k, d), snapped and noted as asked.
        """
        if self.size is not None and self.size <= 2 * (len(self) + count):
            return self.add_new(rng.permutation(self._all(self.size)), count)
        found = np.empty((0, len(self.levels)))
        while len(found) < count:
            missing = count - len(found)
            U = snap(rng.random((2 * missing, len(self.levels))), self.levels)
            found = np.concatenate([found, self.add_new(U, missing)])
        return found

    def _all(self, size: int) -> Array:
        """Every design of a discrete space, (size, d)."""
        codes = np.unravel_index(np.arange(size), self.levels)
        return np.stack([(code + 0.5) / count for code, count in zip(codes, self.levels, strict=True)], axis=1)

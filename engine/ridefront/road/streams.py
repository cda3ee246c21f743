"""Streams of random numbers for roads: each road, realisation and purpose has its own."""

from __future__ import annotations

import zlib
from typing import Literal

import numpy as np

_PURPOSES = {"phases": 0, "sizes": 2, "differences": 4}
"""First word of a spawn key; one more where the numbers are for roads that a search never sees."""


def stream(
    purpose: Literal["phases", "sizes", "differences"], road: str, seed: int, index: int, *, held_out: bool
) -> np.random.Generator:
    """A generator that depends on its arguments alone: not on other roads, their number or their order.

    Args:
        purpose: what is drawn; differences are the phases of half the difference of two tracks.
        road: its name.
        seed: the study's, not negative.
        index: of the realisation, from 0.
        held_out: for roads that a search never sees.
    """
    key = (_PURPOSES[purpose] + int(held_out), zlib.crc32(road.encode("utf-8")), index)
    # The bit generator by name: numpy's default may change, and these numbers are to stay as they are.
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=key)))

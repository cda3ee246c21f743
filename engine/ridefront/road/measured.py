"""Measured profiles: what is done to samples of a height along the way before a tyre drives over them.

Samples become even in distance, a straight line is taken off, and between samples the height is a cubic spline: it is
smooth, so halving the march's step converges, and of all that pass through the samples it loses least of short waves.
Before its first and behind its last sample a profile goes on as its own mirror image through that sample (turned by
half a turn about it), which continues height and slope without a kink.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import median_filter

from ridefront.road.roughness import fit, iso_bands, spectrum, third_octaves

Array = NDArray[np.float64]
Places = NDArray[np.intp]

GAP = 3.0
"""A spacing over so many times the median is a gap."""

SPIKE = 0.05
"""m: samples further from the median of those about them, and from what is before and behind, are a spike."""

STEEP = 0.1
"""Of the spacing: how much further they must be, since rough roads rise from one coarse sample to the next."""

UNEVEN = 0.01
"""Spacings within this of their median, relative, count as even, and the samples are taken as they are."""

SHORTEST = 20.0
"""m: a profile to be driven is as long at least."""

COARSEST = 2.0
"""m between samples at most."""

_MARGIN = 24  # samples by which a spline reaches beyond what is asked of it: its end is felt by 0.27 a sample


@dataclass(frozen=True)
class Profile:
    """A measured road.

    Attributes:
        name: as people call it.
        step: between samples, m.
        heights: of each track, a straight line taken off; (tracks, n) with one or two tracks, m.
        file: as the study writes it.
        estimated: whether rides in the frequency domain take its spectrum; it is driven in the time domain otherwise.
        notes: what was done to the samples, in words.
        content: SHA-256 of the heights, in hexadecimal: profiles are equal whose heights are.
        realisations: always one.
    """

    name: str
    step: float
    heights: Array = field(repr=False, compare=False)
    file: str = field(default="", compare=False)
    estimated: bool = False
    notes: tuple[str, ...] = field(default=(), compare=False)
    content: str = field(init=False, repr=False)
    realisations: ClassVar[int] = 1

    def __post_init__(self) -> None:
        plain = np.ascontiguousarray(self.heights, dtype="<f8")
        object.__setattr__(self, "content", hashlib.sha256(repr(plain.shape).encode() + plain.tobytes()).hexdigest())

    @property
    def length(self) -> float:
        """m, from the first to the last sample."""
        return float(self.step * (self.heights.shape[1] - 1))

    @property
    def driven(self) -> Array:
        """What a model with one track drives: the mean of the tracks, (n,), m."""
        first, last = self.heights[0], self.heights[-1]
        return np.asarray(first if len(self.heights) == 1 else 0.5 * (first + last))

    @property
    def left(self) -> Array:
        """What a full car's left wheels drive: the first track, (n,), m."""
        return np.asarray(self.heights[0])

    @property
    def right(self) -> Array:
        """What a full car's right wheels drive: the second track, or the only one, (n,), m."""
        return np.asarray(self.heights[-1])


def profile_of(
    name: str, x: Array, heights: Array, *, file: str = "", estimated: bool = False, notes: tuple[str, ...] = ()
) -> Profile:
    """A profile from samples without gaps and spikes that are to be refused.

    Args:
        name: as people call it.
        x: distances, rising, (n,), m.
        heights: (tracks, n), m.
        file, estimated, notes: as in `Profile`.
    """
    step, even = evenly(x, heights)
    return Profile(name, step, level(even), file, estimated, notes)


_ROUNDS = 20  # taking a spike out may show another one beside it


def gaps(x: Array) -> Places:
    """Where samples are missing: places k with x[k+1] - x[k] over `GAP` times the median spacing, (n_gaps,).

    Args:
        x: distances, rising, at least two, (n,), m.
    """
    spacing = np.diff(x)
    return np.flatnonzero(spacing > GAP * np.median(spacing))


def spikes(heights: Array, spacing: float = 0.0) -> Places:
    """Samples that stick out, alone or two together: to the same side of both neighbours, and of the median of those
    about them, by more than `SPIKE` and `STEEP` times the spacing. At the ends, where one neighbour is missing, the
    straight line through the next two samples stands for it. A kerb is none: it goes on at its height. What is left
    when they are taken out is looked at again, until there are no more. (n_spikes,), rising.

    Args:
        heights: of one track, (n,), m.
        spacing: of the samples as usual, m: a rough road sampled coarsely may rise far from one sample to the next.
    """
    limit = SPIKE + STEEP * spacing
    where = np.arange(len(heights), dtype=np.float64)
    found: set[int] = set()
    for _ in range(_ROUNDS):
        more = _stick_out(heights, limit, 1)
        more = more if len(more) else _stick_out(heights, limit, 2)
        if not len(more):
            break
        found |= set(more.tolist())
        heights = without(where, heights, np.array(sorted(found), dtype=np.intp))
    return np.array(sorted(found), dtype=np.intp)


def _stick_out(heights: Array, limit: float, together: int) -> Places:
    """Runs of so many samples that stick out by more than `limit`, m."""
    n = len(heights)
    out = np.zeros(n, dtype=np.bool_)
    if n < 3 + 2 * together:
        return np.flatnonzero(out)
    # One more sample at each end, on the straight line through the two behind a run that begins there.
    first = 2 * heights[together] - heights[together + 1]
    last = 2 * heights[-together - 1] - heights[-together - 2]
    padded = np.concatenate([[first], heights, [last]])
    middle = np.asarray(median_filter(heights, size=3 + 2 * together, mode="mirror"))
    runs = n - together + 1
    left, right = padded[:runs], padded[together + 1 : together + 1 + runs]
    above, below = np.ones(runs, dtype=np.bool_), np.ones(runs, dtype=np.bool_)
    for k in range(together):
        each, usual = heights[k : k + runs], middle[k : k + runs]
        above &= (each - left > limit) & (each - right > limit) & (each - usual > limit)
        below &= (left - each > limit) & (right - each > limit) & (usual - each > limit)
    for k in range(together):
        out[k : k + runs] |= above | below
    return np.flatnonzero(out)


def without(x: Array, heights: Array, places: Places) -> Array:
    """The `heights` of one track (n,), m, at `x` (n,), m, with straight lines in place of the samples at `places`."""
    kept = np.ones(len(x), dtype=np.bool_)
    kept[places] = False
    return np.where(kept, heights, np.interp(x, x[kept], heights[kept]))


def evenly(x: Array, heights: Array) -> tuple[float, Array]:
    """Samples at an even step: as they are where spacings are within `UNEVEN`; else at the median spacing, by a cubic
    spline, or where there are gaps to bridge by piecewise cubics that do not overshoot (F.N. Fritsch, J. Butland,
    SIAM J. Sci. Stat. Comput. 5 (1984) 300-304, as scipy's PchipInterpolator cites it).

    Args:
        x: distances, rising, (n,), m.
        heights: (tracks, n), m.

    Returns:
        The step, m, and heights (tracks, n_even), m; the last sample is less than a step from the given one.
    """
    spacing = np.diff(x)
    middle = float(np.median(spacing))
    between = PchipInterpolator if len(gaps(x)) else CubicSpline
    if np.all(np.abs(spacing - middle) <= UNEVEN * middle):
        return float(x[-1] - x[0]) / (len(x) - 1), np.array(heights, dtype=np.float64)
    count = math.floor(float(x[-1] - x[0]) / middle * (1 + 1e-12)) + 1
    where = np.minimum(x[0] + middle * np.arange(count), x[-1])
    return middle, np.stack([between(x, track)(where) for track in heights])


def level(heights: Array) -> Array:
    """The `heights` (tracks, n), m, less the straight line of least squares through each track: no hill, and no
    crossfall; waves longer than the road stay but for that line.
    """
    along = np.linspace(-1.0, 1.0, heights.shape[1])
    slope = heights @ along / (along @ along)
    left = np.asarray(heights - heights.mean(axis=1)[:, np.newaxis] - slope[:, np.newaxis] * along)
    # A track that is straight but for rounding is straight.
    straight = np.abs(left).max(axis=1) <= 1e-12 * np.abs(heights).max(axis=1)
    left[straight] = 0.0
    return left


def under_tyre(profile: Profile, x: ArrayLike, patch: float, heights: Array | None = None) -> Array:
    """Height under a tyre: a centred moving average of the spline over the contact patch, exactly.

    Args:
        profile: the road.
        x: distances from its first sample, m, (n,); negative ones and those beyond the end are on its mirror images.
        patch: length of the contact patch, m; 0 gives the height at the point itself.
        heights: of one of its tracks, (n_samples,), m; the mean of its tracks if None.

    Returns:
        (n,), m.
    """
    heights = profile.driven if heights is None else heights
    x = np.asarray(x, dtype=np.float64)
    before = max(math.ceil((0.5 * patch - float(x.min())) / profile.step), 0) + _MARGIN
    behind = max(math.ceil((float(x.max()) + 0.5 * patch - profile.length) / profile.step), 0) + _MARGIN
    z = np.pad(heights, (before, behind), mode="reflect", reflect_type="odd")
    spline = CubicSpline(profile.step * np.arange(-before, len(z) - before), z)
    if patch == 0:
        return np.asarray(spline(x))
    whole = spline.antiderivative()
    return np.asarray((whole(x + 0.5 * patch) - whole(x - 0.5 * patch)) / patch)


@dataclass(frozen=True)
class Estimated:
    """A measured road's spectrum as the frequency domain takes it: Welch's estimate, smoothed to thirds of octaves,
    straight between their middles in logarithms.

    Attributes:
        roughness, waviness: of the line fitted to it, G_d(n0) in m³ and w.
        band: lowest and highest spatial frequency that the profile shows, cycles/m; nothing counts outside it.
        length: m.
        middles: of the thirds of octaves, cycles/m; density: there, m³; both (n_thirds,).
        difference: spectrum of half the difference of left and right there, m³; zeros for one track, (n_thirds,).
    """

    roughness: float
    waviness: float
    band: tuple[float, float]
    length: float
    middles: Array = field(repr=False)
    density: Array = field(repr=False)
    difference: Array = field(repr=False)

    def spectrum(self, n: Array) -> Array:
        """One-sided displacement spectrum at spatial frequencies `n` (n_freq,), cycles/m; m³, m² per cycle/m."""
        inside = (n >= self.band[0] * (1 - 1e-12)) & (n <= self.band[1] * (1 + 1e-12))
        line = np.interp(np.log(n), np.log(self.middles), np.log(self.density))
        # Half a third of an octave beyond the outer middles, the spectrum goes on along the fitted slope.
        beyond = np.log(n) - np.clip(np.log(n), np.log(self.middles[0]), np.log(self.middles[-1]))
        return np.where(inside, np.exp(line - self.waviness * beyond), 0.0)

    def shares(self, n: Array, track: float) -> tuple[Array, Array]:
        """Shares of the spectrum at spatial frequencies `n`, cycles/m: that of the tracks' mean, which is all of it,
        and that of half their difference; (n_freq,) each, 1. Tracks are as far apart as they were measured, whatever
        `track` is; their mean and difference are taken as not correlated.
        """
        ratio = np.interp(np.log(n), np.log(self.middles), self.difference / self.density)
        return np.ones_like(n), ratio


def estimate(profile: Profile) -> Estimated:
    """The spectrum of what is driven of a profile.

    Raises:
        CallError: it is too short or its samples too far apart; see `roughness.spectrum` and `roughness.fit`.
    """
    found = spectrum(profile.driven, profile.step)
    line = fit(*iso_bands(found).to_fit())
    thirds = third_octaves(found)
    apart = third_octaves(spectrum(0.5 * (profile.left - profile.right), profile.step))
    return Estimated(
        line.roughness,
        line.waviness,
        (float(thirds.low[0]), float(thirds.high[-1])),
        profile.length,
        thirds.middle,
        np.maximum(thirds.density, np.finfo(np.float64).tiny),
        apart.density,
    )

"""How rough a measured road is: tables, and a picture of its spectrum among the classes of ISO 8608."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from ridefront.report.panels import GREY, INK, ROAD
from ridefront.report.pictures import plain
from ridefront.report.words import Table, number
from ridefront.results.roughness import Roughness
from ridefront.road import CLASSES, Profile
from ridefront.road.iso8608 import BAND, REFERENCE_FREQUENCY
from ridefront.road.measured import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COARSE = 0.3
"""m between samples from which on a roughness index reads low: the source wants 250 mm at most."""

_TRACKS = ("#0072b2", "#e69f00", INK)
_DASHES: tuple[Any, ...] = ("-", (0, (6, 1.5)), "-")
_MOST_DRAWN = 4000  # points of a strip
_FIT = "#b3261e"
_TICKS = np.array([0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0])


def _times(log_error: float) -> str:
    """Two standard errors of a logarithm as a factor."""
    return f"×÷ {number(math.exp(2 * log_error))}"


def figures(profile: Profile, found: Roughness) -> Table:
    """The whole profile: length, step, class, G_d(n0), waviness, roughness index; a column a track."""
    wide = len(found.names)
    rows: list[tuple[str, ...]] = [
        ("length", "m", *[f"{profile.length:.6g}"] * wide),
        ("step", "mm", *[f"{1e3 * profile.step:.4g}"] * wide),
    ]
    fits = found.fits
    if fits:
        scale = 1e6
        rows += [
            ("class, ISO 8608", "", *(fit.letter for fit in fits)),
            ("G_d(0.1/m), waviness 2", "10⁻⁶ m³", *(number(scale * fit.at_two) for fit in fits)),
            ("  give or take", "", *(_times(fit.at_two_error) for fit in fits)),
            ("G_d(0.1/m), as fitted", "10⁻⁶ m³", *(number(scale * fit.roughness) for fit in fits)),
            ("  give or take", "", *(_times(fit.roughness_error) for fit in fits)),
            ("waviness, as fitted", "", *(f"{fit.waviness:.2f}" for fit in fits)),
            ("  give or take", "", *(f"± {2 * fit.waviness_error:.2f}" for fit in fits)),
        ]
    rows.append(("IRI, whole", "m/km", *(f"{index.whole:.2f}" for index in found.indices)))
    heads = ("", "unit", *found.names)
    return Table(f"{profile.name}: how rough it is", heads, tuple(rows), text_columns=2, notes=_notes(profile, found))


def _notes(profile: Profile, found: Roughness) -> tuple[str, ...]:
    lines = list(profile.notes) or ["no gaps and no spikes"]
    odd = [name for name, fit in zip(found.names, found.fits, strict=False) if not 1.5 <= fit.waviness <= 2.5]
    if odd:
        lines.append(
            f"waviness of {' and '.join(odd)} far from the 2 of ISO 8608: the class is doubtful; was the profile "
            "smoothed where it was measured?"
        )
    if found.missing:
        lines.append(f"no spectrum and no class: {found.missing}")
    else:
        low, high = found.fits[0].band
        lines.append(
            f"fitted to waves of {number(1 / high)} to {number(1 / low)} m; give or take is two standard errors"
        )
    if len(found.names) > 1:
        lines.append("both: mean of the two indices (MRI), and of the two spectra")
    if profile.step > COARSE:
        lines.append(f"a sample every {profile.step:.4g} m: IRI reads low, 250 mm at most are wanted for it")
    return tuple(lines)


def index_rows(found: Roughness) -> Table:
    """The roughness index segment by segment."""
    first = found.indices[0]
    rows = tuple(
        (f"{start:.6g} to {end:.6g}", *(f"{index.segments[k]:.2f}" for index in found.indices))
        for k, (start, end) in enumerate(zip(first.start, first.end, strict=True))
    )
    return Table("IRI, m/km", ("m", *found.names), rows)


def roughness_figure(profile: Profile, found: Roughness) -> Figure:
    """The picture: spectrum among the classes (where there is one), heights and roughness index along the way."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(12.0, 6.6 if found.fits else 4.8), layout="constrained", dpi=110)
    figure.suptitle(plain(profile.name), fontsize=11)
    wide = 2 if found.fits else 1
    grid = figure.add_gridspec(2, wide, width_ratios=(1.15, 1.0)[:wide], height_ratios=(1.2, 1.0))
    if found.fits:
        _spectrum(figure.add_subplot(grid[:, 0]), found)
    upper = figure.add_subplot(grid[0, -1])
    _heights(upper, profile, found)
    _indices(figure.add_subplot(grid[1, -1], sharex=upper), found)
    return figure


def _spectrum(axes: Axes, found: Roughness) -> None:
    """Spectra in bands, the limits of the classes with their letters, and the line fitted."""
    bands = found.smoothed[0]
    low, high = min(BAND[0], float(bands.low[0])), max(BAND[1], float(bands.high[-1]))
    n = np.array([low, high])
    limits = [2 * mean for mean in CLASSES.values()][:-1]
    density = np.concatenate([each.density for each in found.smoothed])
    for limit in limits:
        axes.plot(n, limit * (n / REFERENCE_FREQUENCY) ** -2, color=ROAD, lw=0.9, zorder=1)
    if len(found.raw) == 1:
        raw = found.raw[0]
        shown = (raw.n >= bands.low[0]) & (raw.n <= high)
        axes.plot(raw.n[shown], raw.density[shown], color=_TRACKS[0], lw=0.5, alpha=0.3, zorder=2, label="not smoothed")
    for k, (name, each) in enumerate(zip(found.names, found.smoothed, strict=True)):
        if name == "both":
            continue
        label = "smoothed as in ISO 8608" if len(found.names) == 1 else f"{name}, smoothed"
        axes.plot(each.middle, each.density, color=_TRACKS[k], ls=_DASHES[k], lw=1.6, zorder=4, label=label)
    line = found.fits[-1]
    at = np.array(line.band)
    words = f"fit: class {line.letter}, G_d(0.1/m) {number(1e6 * line.roughness)}·10⁻⁶ m³, w {line.waviness:.2f}"
    axes.plot(
        at,
        line.roughness * (at / REFERENCE_FREQUENCY) ** -line.waviness,
        color=_FIT,
        lw=1.5,
        ls="--",
        zorder=5,
        label=words,
    )
    top, bottom = _range(n, density, limits)
    axes.set(xscale="log", yscale="log", xlim=(low, high), ylim=(bottom, top))
    for letter, mean in CLASSES.items():
        _letter(axes, letter, mean, high, (bottom, top))
    axes.set_xlabel("spatial frequency [cycles/m]")
    axes.set_ylabel("displacement spectrum G_d [m³]")
    axes.set_title("Spectrum among the classes of ISO 8608", fontsize=10)
    axes.axvline(REFERENCE_FREQUENCY, color=GREY, lw=0.6, ls=":")
    axes.legend(fontsize=8, loc="lower left", frameon=True, framealpha=0.9)
    turned: Any = (_turned, _turned)
    waves = axes.secondary_xaxis("top", functions=turned)
    waves.set_xlabel("wave length [m]", fontsize=8)
    waves.tick_params(labelsize=8)
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    for axis, ticks in ((axes.xaxis, _TICKS), (waves.xaxis, _turned(_TICKS))):
        axis.set_major_locator(FixedLocator([float(tick) for tick in ticks]))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_locator(NullLocator())


def _turned(value: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / np.asarray(value, dtype=np.float64))


def _range(n: Array, density: Array, limits: list[float]) -> tuple[float, float]:
    """Top and bottom: what is drawn, and the limits next to it at both ends of the frequencies."""
    ends = (n / REFERENCE_FREQUENCY) ** -2
    good = density[density > 0]
    top = max(float(good.max()) * 6, limits[1] * float(ends[0]))
    bottom = min(float(good.min()) / 6, limits[0] * float(ends[1]) / 8)
    return top, bottom


def _letter(axes: Axes, letter: str, mean: float, right: float, up: tuple[float, float]) -> None:
    """A class's letter beside the right edge, where its lane ends."""
    height = mean * (right / REFERENCE_FREQUENCY) ** -2
    if up[0] < height < up[1]:
        place: dict[str, Any] = {"xytext": (7, 0), "textcoords": "offset points", "ha": "left", "va": "center"}
        axes.annotate(letter, (right, height), color=GREY, fontsize=10, weight="bold", annotation_clip=False, **place)


def _heights(axes: Axes, profile: Profile, found: Roughness) -> None:
    """Heights along the way; of many samples the range of each few."""
    n = profile.heights.shape[1]
    every = max(1, math.ceil(2 * n / _MOST_DRAWN))
    for k, track in enumerate(profile.heights):
        starts = np.arange(0, n, every)
        ends = np.stack([np.minimum.reduceat(track, starts), np.maximum.reduceat(track, starts)], axis=1)
        x = np.repeat(starts * profile.step, 2) if every > 1 else starts * profile.step
        z = ends.ravel() if every > 1 else track
        axes.plot(x, 1e3 * z, color=_TRACKS[k], lw=0.7, alpha=0.85, label=found.names[k])
    axes.set_ylabel("height [mm]")
    axes.set_title("Profile, a straight line taken off", fontsize=10)
    axes.grid(visible=True, alpha=0.25)
    axes.set_xlim(0, profile.length)
    if len(profile.heights) > 1:
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.15 * (high - low))  # room for names
        axes.legend(fontsize=8, loc="upper right", ncols=2, frameon=True, framealpha=0.9)


def _indices(axes: Axes, found: Roughness) -> None:
    """The roughness index of each segment as steps."""
    for k, (name, index) in enumerate(zip(found.names, found.indices, strict=True)):
        edges = np.concatenate([index.start, index.end[-1:]])
        both = name == "both"
        label = f"{name} {index.whole:.2f}" if len(found.names) > 1 else f"whole profile {index.whole:.2f}"
        axes.stairs(
            index.segments, edges, color=_TRACKS[k], lw=2.0 if both or len(found.names) == 1 else 1.0,
            ls=_DASHES[k], label=label, baseline=None,
        )  # fmt: skip
    axes.set_ylim(0, 1.25 * max(max(float(index.segments.max()) for index in found.indices), 0.1))
    axes.set_xlabel("distance [m]")
    axes.set_ylabel("IRI [m/km]")
    axes.set_title("International Roughness Index", fontsize=10)
    axes.grid(visible=True, alpha=0.25)
    axes.legend(fontsize=8, loc="upper right", ncols=len(found.names), frameon=True, framealpha=0.9)

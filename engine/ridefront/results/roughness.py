"""How rough a measured road is, track by track, and its roughness index piece by piece as a table."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa

from ridefront.errors import CallError
from ridefront.results.columns import Column, schema_of
from ridefront.results.given import write_given
from ridefront.road import Profile
from ridefront.road.roughness import Bands, Fit, Index, Spectrum, fit, iri, iso_bands, spectrum


@dataclass(frozen=True)
class Roughness:
    """Figures of a profile.

    Attributes:
        names: of what there are figures of: one track, or left, right and both.
        indices: of each; that of both is the mean of the tracks' (the mean roughness index, MRI).
        fits: of each, empty where there is no spectrum; that of both is of the mean of the tracks' spectra.
        smoothed: the same spectra in the bands of ISO 8608; raw: before.
        missing: why there is no spectrum; empty where there is one.
    """

    names: tuple[str, ...]
    indices: tuple[Index, ...]
    fits: tuple[Fit, ...]
    smoothed: tuple[Bands, ...]
    raw: tuple[Spectrum, ...]
    missing: str = ""


def roughness(profile: Profile, segment: float) -> Roughness:
    """Figures of each track, and of both where there are two.

    Args:
        profile: the road.
        segment: m for each of which a roughness index is given.

    Raises:
        CallError: the profile is too short for a roughness index.
    """
    tracks = list(profile.heights)
    indices = [iri(track, profile.step, segment) for track in tracks]
    names: tuple[str, ...] = ("track",)
    if len(tracks) == 2:
        names = ("left", "right", "both")
        left, right = indices
        indices.append(
            Index(0.5 * (left.whole + right.whole), left.start, left.end, 0.5 * (left.segments + right.segments))
        )
    try:
        raw = [spectrum(track, profile.step) for track in tracks]
        if len(raw) == 2:
            # Tracks go up and down together on long waves: the mean is as sure as one of them, not surer.
            raw.append(Spectrum(raw[0].n, 0.5 * (raw[0].density + raw[1].density), raw[0].averages))
        bands = [iso_bands(each) for each in raw]
        fits = [fit(*each.to_fit()) for each in bands]
    except CallError as error:
        return Roughness(names, tuple(indices), (), (), (), f"{error.message} ({error.hint})")
    return Roughness(names, tuple(indices), tuple(fits), tuple(bands), tuple(raw))


def index_table(found: Roughness) -> pa.Table:
    """The roughness index, a row a segment: where it starts and ends, and the index of each track and of both."""
    first = found.indices[0]
    columns = [
        Column("start", pa.float64(), "m", "where the segment starts, from the first sample"),
        Column("end", pa.float64(), "m", "where it ends"),
        *(
            Column(f"iri.{name}", pa.float64(), "m/km", f"International Roughness Index, {name}")
            for name in found.names
        ),
    ]
    values = [first.start, first.end, *(index.segments for index in found.indices)]
    return pa.Table.from_arrays(
        [pa.array(np.asarray(each, dtype=np.float64)) for each in values], schema=schema_of(columns, {})
    )


def write_index(found: Roughness, path: Path) -> None:
    """Write `index_table` as .csv or .parquet."""
    write_given(index_table(found), path)

"""Measured roads of a study: their keys read, and the files that they name."""

from __future__ import annotations

from pathlib import Path

from ridefront.road import Profile
from ridefront.study.model import RoadFile
from ridefront.study.page import Page, shown
from ridefront.study.profiles import PATH, Asked, read_profile
from ridefront.units import quote

MEASURED_KEYS = ("file", "columns", "gaps", "spikes", "spectrum")
"""Keys of ``[[road]]`` that are a measured road's alone."""


def read_measured(page: Page, name: str | None, folder: Path) -> tuple[Profile, RoadFile] | None:
    """The profile of a ``[[road]]`` page, and its file; None where something is wrong with them, which is noted.

    Args:
        page: of the road.
        name: of the road, None where it has none.
        folder: where its path begins.
    """
    before = len(page.mistakes.found)
    for key in ("length", "realisations"):
        if key in page:
            page.note(key, "given for a measured road, which is as it is", "no such key")
    columns = _columns(page)
    gaps, spikes, spectrum = page.word("gaps"), page.word("spikes"), page.word("spectrum")
    raw = page.table.get("file")
    if "file" not in page:
        page.note("file", "missing", f"{PATH}, from the study file's folder")
    elif not isinstance(raw, str) or not raw.strip():
        page.note("file", f"{shown(raw)} stands here", f"{PATH}, from the study file's folder")
    if not isinstance(raw, str) or not raw.strip() or columns is None:
        return None
    asked = Asked(columns, gaps == "interpolate", spikes == "remove", spectrum == "estimated")
    read = read_profile(folder / raw, name or "", asked, raw)
    for mistake in read.mistakes:
        where = f"{quote(raw)} {mistake.key}" if mistake.key else quote(raw)
        page.note("file", f"{where}: {mistake.found}", mistake.allowed, mistake.hint)
    if read.profile is None or name is None or len(page.mistakes.found) > before:
        return None
    return read.profile, RoadFile(raw, read.content)


def _columns(page: Page) -> tuple[str, ...] | None:
    """Names of the columns to take; none where the usual ones are, None where there is a mistake."""
    if "columns" not in page:
        return ()
    raw, allowed = page.table["columns"], "a list of two or three different names, distance first"
    if isinstance(raw, list) and len(raw) in (2, 3) and all(isinstance(item, str) and item.strip() for item in raw):
        names = tuple(item.strip() for item in raw)
        if len(set(names)) == len(names):
            return names
    page.note("columns", f"{shown(raw)} stands here", allowed)
    return None

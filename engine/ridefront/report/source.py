"""Where the figures of a picture come from, in a line."""

from __future__ import annotations

from ridefront.report.subject import Subject
from ridefront.results.names import FRONT
from ridefront.results.record import roads_record


def source(subject: Subject, file: str = FRONT) -> str:
    """File, and of each road in which domain it is ridden, with its realisations, behind a run's figures.

    Args:
        subject: the run.
        file: of its folder, from which they are.
    """
    ways = roads_record(subject.study, subject.domain)
    linear = [name for name, counts in ways.items() if counts["front"] is None]
    driven = [f"{name} ({_times(counts['front'])})" for name, counts in ways.items() if counts["front"] is not None]
    parts = [f"{subject.folder.name}/{file}"]
    if linear:
        parts.append(f"frequency domain: {', '.join(linear)}")
    if driven:
        parts.append(f"time domain: {', '.join(driven)}")
    return "; ".join(parts)


def _times(count: int | None) -> str:
    return "1 realisation" if count == 1 else f"{count} realisations"

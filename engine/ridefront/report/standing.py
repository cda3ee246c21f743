"""How a run stands, and whether this program is the one that has worked its figures out: what a reader must know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridefront.results.record import Record

if TYPE_CHECKING:
    from ridefront.report.subject import Subject

ANOTHER_PROGRAM = (
    "the run's figures are of another version of the program: whatever is worked out anew beside them is of this one, "
    "and what lies between the two is not the vehicle alone; run the study again to be sure"
)


def state_of(record: Record) -> tuple[str, str]:
    """How a run stands: a name, and what it is; "ended" only of one that is done."""
    state, times = str(record["state"]), record["timings"]
    if state == "done":
        return "ended", _plain(times["ended"])
    when = times["ended"] or times.get("started")
    since = "since" if state == "running" else "at"
    return "state", f"not finished: {state}" + (f" {since} {_plain(when)}" if when else "")


def unfinished(record: Record) -> str:
    """A line on a run that is not done; empty for one that is."""
    if record["state"] == "done":
        return ""
    return f"the run is {state_of(record)[1]}: its front may still grow, and nothing was worked out of it at the end"


def by_this_program(subject: Subject, what: str) -> str:
    """For a card that works things out: that they are of another program than the run's; empty where they are not.

    Args:
        subject: the run.
        what: is worked out, with its verb, as the beginning of a sentence.
    """
    if subject.result.same_engine:
        return ""
    return f" Mind: {what} worked out by this version of the program, the run's own figures by another one."


def _plain(time: object) -> str:
    return str(time).replace("T", " ")

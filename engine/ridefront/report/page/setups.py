"""A result's setups as the page's table, its hints and its selection need them: plain values, a list a column."""

from __future__ import annotations

from typing import Any

from ridefront.report.plotted import rounded
from ridefront.report.standing import state_of
from ridefront.report.subject import Subject
from ridefront.report.words import measure, measured_in, quantity, unit
from ridefront.study.model import Study


def setups_of(subject: Subject, called: str) -> dict[str, Any]:
    """A result: its head, the columns of its setups, the front, the present setup and the picks.

    Variables are in full, so that a file of selected setups gives the same designs again; figures have six digits.

    Args:
        subject: the result.
        called: its name, which no other result of the page has.
    """
    front, present = subject.front, subject.present
    return {
        "title": subject.study.title,
        "called": called,
        "facts": _facts(subject),
        "columns": _columns(subject.study),
        "designs": [int(design) for design in front.design],
        "values": [*([float(x) for x in column] for column in front.X.T), *(rounded(v) for v in front.values.T)],
        "present": None
        if present is None
        else {
            "design": int(present.design[0]),
            "values": [*(float(x) for x in present.X[0]), *rounded(present.values[0])],
        },
        "picks": [{"design": one.design, "letter": one.letter, "why": one.why} for one in subject.picked],
    }


def _columns(study: Study) -> list[dict[str, Any]]:
    """Variables, objectives, then the other measures; `order` says where each stands in a row's values."""
    better = {item.measure.label: -item.sign for item in study.objectives}
    found: list[dict[str, Any]] = [
        {"name": item.path, "words": quantity(item.path), "unit": unit(item.unit), "kind": "variable", "better": 0,
         "full": bool(item.levels)}
        for item in study.variables
    ]  # fmt: skip
    found += [
        {"name": item.label, "words": measure(item.label), "unit": measured_in(item), "full": False,
         "kind": "objective" if item.label in better else "measure", "better": better.get(item.label, 0)}
        for item in study.measures
    ]  # fmt: skip
    return found


def _facts(subject: Subject) -> list[tuple[str, str]]:
    """What stands at the head of the page, name and value."""
    record, study = subject.record, subject.study
    counts, versions = record["counts"] or {}, record["versions"]
    facts = [
        ("vehicle", f"{study.model.replace('-', ' ')}, {len(study.variables)} variables"),
        ("ride", _domain(study, subject.result.response)),
        ("conditions", f"{len(study.conditions)}"),
        ("setups on the front", f"{len(subject.front):,}"),
        ("designs worked out", f"{counts['evaluations']:,}" if "evaluations" in counts else ""),
        state_of(record),
        ("study", str(record["study"])),
        ("folder", subject.folder.resolve().name),
        ("digest of figures", str(record["digests"]["figures"])[:16]),
        ("figures", "" if subject.result.same_engine else "of another version of the program than this page"),
        ("versions", f"ridefront {versions['ridefront']}, python {versions['python']}, numpy {versions['numpy']}"),
    ]
    return [(name, value) for name, value in facts if value]


def _domain(study: Study, response: str) -> str:
    words = response.replace("-", " ")
    return f"searched in both domains, front in the {words}" if study.response == "auto" else f"in the {words}"

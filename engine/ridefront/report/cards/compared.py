"""Cards of a page with several results: `compared` makes them, for the page to put before those of each result."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from ridefront.report.card import Card, DoesNotApply
from ridefront.report.compare import Common, edge
from ridefront.report.differ import differences
from ridefront.report.figure import Axis, Figure, Panel, Series
from ridefront.report.side_by_side import Compared, figures_table, parts_table, prepared, price_table, reach_table
from ridefront.report.subject import Subject
from ridefront.report.words import Table, measure, number, unit
from ridefront.results.sampling import realisations
from ridefront.study.model import Study

_PANELS = 6  # pairs of objectives that are drawn
_LEVELS = 300  # at which two fronts are held against each other


def compared(subjects: Sequence[Subject]) -> tuple[Card, ...]:
    """The cards of several results side by side.

    Args:
        subjects: at least two.

    Raises:
        CallError: there is only one, or they share fewer than two objectives; it says what each has.
        DoesNotApply: none of them has a setup on its front.
    """
    both = prepared(subjects)
    if not any(len(values) for values in both.values):
        raise DoesNotApply("none of these results has a setup on its front")
    return (fronts_card(both), price_card(both), studies_card(both))


def fronts_card(both: Compared) -> Card:
    """The fronts over each other, and how far each reaches."""
    pairs = list(combinations(range(len(both.objectives)), 2))
    panels = tuple(_pair(both, i, j) for i, j in pairs[:_PANELS])
    figure = Figure("fronts-compared", "The fronts over each other", panels, _source(both), columns=3)
    left = f"; {len(pairs) - _PANELS} more pairs of objectives are not drawn" if len(pairs) > _PANELS else ""
    return Card(
        "compared-fronts",
        "Which result reaches further?",
        "Marks are setups; the line along their edge is the best that a result reaches in one objective for each "
        f"level of the other, whatever it costs in the rest{left}. The further a line lies towards less or more, as "
        "the axes say, the more there is to be had.",
        (figure,),
        (reach_table(both), figures_table(both), parts_table(both)),
        _doubts(both),
    )


def _pair(both: Compared, i: int, j: int) -> Panel:
    """Two objectives against each other: fronts that show through each other, edges on top."""
    x, y = both.objectives[i], both.objectives[j]
    at = [both.common.index(item) for item in (x, y)]
    points, edges = [], []
    for k, (name, values) in enumerate(zip(both.names, both.values, strict=True)):
        points.append(
            Series(
                name, "points", "other", values[:, at[0]], values[:, at[1]], both.designs[k], hover=_hover(both, k),
                faint=True, result=k,
            )
        )  # fmt: skip
        corners = edge(x.sign * values[:, at[0]], y.sign * values[:, at[1]])
        edges.append(Series(name, "line", "other", x.sign * corners[0], y.sign * corners[1]))
    return Panel("", _axis(x), _axis(y), (*points, *edges, *_present_series(both, at)))


def _axis(item: Common) -> Axis:
    better = "less" if item.sign > 0 else "more"
    return Axis(f"{measure(item.label)} ({better} is better)", unit(item.unit))


def _hover(both: Compared, k: int) -> tuple[str, ...]:
    """What is said of each setup of a result."""
    shown = [(item, column) for item, column in zip(both.common, both.values[k].T, strict=True) if item.sign]
    lines = [
        [f"{measure(item.label)} {number(float(value), 4)} {unit(item.unit)}".rstrip() for value in column]
        for item, column in shown
    ]
    return tuple(
        "\n".join((f"{both.names[k]}, design {design}", *rest))
        for design, *rest in zip(both.designs[k], *lines, strict=True)
    )


def _present_series(both: Compared, at: Sequence[int]) -> list[Series]:
    """The present setups; one where all results have the same."""
    known = [(name, now) for name, now in zip(both.names, both.present, strict=True) if now is not None]
    if not known:
        return []
    every = np.stack([now for _, now in known])
    alike = len(known) == 1 or bool(np.all(np.ptp(every, axis=0) <= 1e-9 * np.abs(every).max(axis=0)))
    if alike:
        return [Series("present setup", "points", "present", every[:1, at[0]], every[:1, at[1]])]
    labels = tuple(str(k + 1) for k in range(len(known)))
    name = f"present: {', '.join(f'{label} {of}' for label, (of, _) in zip(labels, known, strict=True))}"
    return [Series(name, "points", "present", every[:, at[0]], every[:, at[1]], labels=labels)]


def price_card(both: Compared) -> Card:
    """What the same first objective costs in each result."""
    first = both.objectives[0]
    tables = tuple(price_table(both, j) for j in range(1, len(both.objectives)))
    panels = tuple(_gap(both, j) for j in range(1, len(both.objectives))[:_PANELS])
    figure = Figure("price-compared", f"At equal {measure(first.label)}", panels, _source(both), columns=3)
    return Card(
        "compared-price",
        f"What does the same {measure(first.label)} cost in each?",
        f"The best of another objective among setups that keep a level of {measure(first.label)}, whatever they cost "
        f"in the rest. The picture shows how far each result is ahead of {both.names[0]} there, between setups along "
        "straight lines.",
        (figure,),
        tables,
    )


def _gap(both: Compared, j: int) -> Panel:
    """By how much each result is ahead of the first one in objective j at equal levels of objective 1; between setups
    along straight lines.
    """
    first, item, fronts = both.objectives[0], both.objectives[j], both.fronts()
    edges = [edge(F[:, 0], F[:, j]) for F in fronts]
    base, end = edges[0], max(x[-1] for x, _ in edges if len(x))
    series = []
    for name, (x, y) in zip(both.names, edges, strict=True):
        levels = ahead = np.empty(0)
        if len(x) and len(base[0]):
            levels = np.linspace(max(x[0], base[0][0]), end, _LEVELS)
            # Every other corner is a setup; beyond the last one nothing more is gained.
            ahead = np.interp(levels, base[0][::2], base[1][::2]) - np.interp(levels, x[::2], y[::2])
        series.append(Series(name, "line", "other", first.sign * levels, ahead))
    better = "less" if item.sign > 0 else "more"
    return Panel(
        f"{measure(item.label)}: by how much {better} than {both.names[0]}",
        Axis(measure(first.label), unit(first.unit)),
        Axis(f"{measure(item.label)}, {better} by", unit(item.unit)),
        tuple(series),
    )


def studies_card(both: Compared) -> Card:
    """What is different between the studies."""
    studies, records = [one.study for one in both.subjects], [one.record for one in both.subjects]
    found = differences(studies, records)
    rows = tuple((item.group, item.what, *(text or "–" for text in item.texts)) for item in found)
    notes = []
    digests = [tuple(record["digests"].get(key) for key in ("figures", "plan")) for record in records]
    if not rows:
        same = len(set(digests)) == 1
        notes.append(
            "the studies mean the same"
            if same
            else "the studies' digests differ in something that this table does not name"
        )
    return Card(
        "compared-studies",
        "What is different between the studies?",
        "Everything that the studies say and that is not the same in all of them; quantities in the same units.",
        tables=(Table("Differences", ("", "", *both.names), rows, text_columns=2 + len(both.names)),) if rows else (),
        notes=tuple(notes),
    )


def _source(both: Compared) -> str:
    """What the figures come from."""
    return "; ".join(_one_source(name, one) for name, one in zip(both.names, both.subjects, strict=True))


def _one_source(name: str, subject: Subject) -> str:
    study, response = subject.study, subject.result.response
    count = len(study.conditions)
    drawn = realisations(study, "time-domain" if response == "time-domain" else "frequency-domain")
    many = f", {drawn} realisations" if drawn else ""
    conditions = f"{count} condition{'s' if count > 1 else ''}"
    return f"{name}/front.parquet: {response.replace('-', ' ')}, {conditions}{many}"


def _doubts(both: Compared) -> tuple[str, ...]:
    """What keeps the comparison from being one of like with like."""
    studies = [subject.study for subject in both.subjects]
    notes = []
    if len({subject.result.response for subject in both.subjects}) > 1:
        said = ", ".join(f"{name} in the {_domain(one)}" for name, one in zip(both.names, both.subjects, strict=True))
        notes.append(
            f"figures were worked out in different ways ({said}): what lies between them is not the vehicle alone"
        )
    if len({study.model for study in studies}) > 1:
        said = ", ".join(f"{name} a {study.model}" for name, study in zip(both.names, studies, strict=True))
        notes.append(
            f"models differ ({said}): with left and right tracks alike, comfort figures of the smaller come out higher"
        )
    if len({str(one.record["digests"].get("engine")) for one in both.subjects}) > 1:
        notes.append("the programs that worked the figures out were not the same; run them again with one to be sure")
    if any(_sampled(subject) for subject in both.subjects):
        notes.append("figures driven in time depend on which roads were drawn: small differences may be chance")
    left = _left_out(both, studies)
    notes += [left] if left else []
    notes += [
        f"{name}: no setup meets its constraints, so it has no front"
        for name, designs in zip(both.names, both.designs, strict=True)
        if not len(designs)
    ]
    notes += [
        f"{name}: its run is {one.record['state']}; its front may still grow"
        for name, one in zip(both.names, both.subjects, strict=True)
        if one.record["state"] != "done"
    ]
    return tuple(notes)


def _domain(subject: Subject) -> str:
    return subject.result.response.replace("-", " ")


def _sampled(subject: Subject) -> bool:
    return bool(realisations(subject.study, "time-domain")) and subject.result.response == "time-domain"


def _left_out(both: Compared, studies: Sequence[Study]) -> str:
    """Objectives that not all results have."""
    said = []
    for k, (name, study) in enumerate(zip(both.names, studies, strict=True)):
        shared = {item.labels[k] for item in both.objectives}
        own = [measure(one.measure.label) for one in study.objectives if one.measure.label not in shared]
        said += [f"{name} also trades {', '.join(own)}"] if own else []
    return f"{'; '.join(said)}: not compared, and what it gives up for that counts against it here" if said else ""

"""The head of a sheet, and what stands at its end: what was assumed and what is not to be believed."""

from __future__ import annotations

from ridefront.report.doubts import EQUAL_TRACKS, doubts
from ridefront.report.roads import in_words
from ridefront.report.sheet.lines import NOT_GIVEN, Block, name_of
from ridefront.report.sheet.setup import Setup, response_of
from ridefront.report.standing import state_of, unfinished
from ridefront.report.words import Table, number, quantity, unit
from ridefront.results.record import Record
from ridefront.results.sampling import realisations
from ridefront.vehicle.body import Load

STARTING_POINT = (
    "A calculated starting point, not a release. Fit and drive nothing by this sheet alone: prove it on a rig and on a "
    "closed course first."
)

_MODELS = {
    "quarter-car": "quarter car: one corner",
    "half-car": "half car: front and rear, left and right alike",
    "full-car": "full car: four wheels, heave, pitch and roll",
}


def head(setup: Setup, record: Record, made: str) -> Block:
    """Who, what, when, from what.

    Args:
        setup: the setup.
        record: of the run.
        made: the date and time at which the sheet is made, as printed.
    """
    study = setup.study
    reference = study.loads[study.reference]
    versions = ", ".join(f"{name} {number}" for name, number in record["versions"].items())
    facts = [
        ("setup", f"{setup.letter}, design {setup.design}: {'; '.join(setup.why)}"),
        ("vehicle", study.title),
        ("study", f"{record.get('study', study.path)} (run {study.stem})"),
        ("model", _model(setup)),
        ("rides worked out", _domain(setup)),
        ("design load", f"{name_of(reference.name)}: {_masses(reference)}"),
        ("tyre size and pressure", NOT_GIVEN),
        ("run", f"{_stands(record)}, seed {study.seed}"),
        ("sheet made", made),
        ("versions", versions),
        ("digest of the figures", str(record["digests"].get("figures", "–"))),
    ]
    return Block("", (_parts(setup),), (STARTING_POINT,), tuple(facts))


def _stands(record: Record) -> str:
    """When the run ended, or that it has not."""
    name, words = state_of(record)
    return f"ended {words}" if name == "ended" else words


def _model(setup: Setup) -> str:
    study = setup.study
    which = f", {study.corner}" if study.model == "quarter-car" else ""
    base = study.fixed.get("wheelbase")
    return f"{_MODELS[study.model]}{which}" + ("" if base is None else f"; wheelbase {base:.6g} m")


def _domain(setup: Setup) -> str:
    worked = setup.worked
    ways = dict.fromkeys(response_of(worked, c) for c in range(len(worked.study.conditions)))
    said = " and ".join(way.replace("-", " ") for way in ways)
    drawn = realisations(worked.study, worked.domain)
    return said if drawn is None else f"{said}; {drawn} realisations of each random road, the fewest where they differ"


def _masses(load: Load) -> str:
    if not load.masses:
        return "the body as given"
    each = "; ".join(f"{item.mass:g} kg {item.behind_front_axle:g} m behind the front axle" for item in load.masses)
    return f"the body as given and {each}"


def _parts(setup: Setup) -> Table:
    """The design variables: what was chosen."""
    study, x = setup.study, setup.worked.X[setup.row]
    now = study.present
    heads = ("chosen", "unit", "this setup", *(() if now is None else ("present",)), "range")
    rows = []
    for j, item in enumerate(study.variables):
        cells = [f"{float(x[j]):.6g}" if item.levels else number(float(x[j]), 4)]
        cells += [] if now is None else [f"{float(now[j]):.6g}"]
        times = "" if item.times is None else f" times {quantity(item.times)}"
        rows.append((quantity(item.path), unit(item.unit), *cells, f"{item.low:.6g} to {item.high:.6g}{times}"))
    return Table("", heads, tuple(rows), 2)


def closing(setup: Setup, record: Record) -> Block:
    """What the study leaves out, what is not modelled, and what decides."""
    study = setup.study
    roads = tuple((item.name, in_words(item)) for item in study.roads)
    tracks = () if study.model == "full-car" else (f"{EQUAL_TRACKS[0].upper()}{EQUAL_TRACKS[1:]}.",)
    cut_short = unfinished(record)
    notes = (
        *((f"{cut_short[0].upper()}{cut_short[1:]}.",) if cut_short else ()),
        *(f"Of the study: {line}." for line in (*study.notes, *doubts(study))),
        "Not modelled: harshness above some 20 Hz (fore-aft compliance), bushes, the tyre's belt, handling, friction "
        "that sticks, temperature.",
        *tracks,
        "Compare figures of comfort with each other: they are no verdict on a scale of comfort.",
        "Prove every setup on a rig and on a closed course. Local rules, the vehicle maker's limits and licensed "
        "practice decide what may be fitted and driven. People's exposure to vibration has legal limits; no figure "
        "here shows that they are met.",
    )
    return Block("11. Bear in mind", (Table("Roads of the study", ("road", "what it is"), roads, 2),), notes)

"""Small runs for tests: a quarter car, and a stand-in for the vehicle that is quick and fails on demand."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from ridefront.criteria import CRITERIA
from ridefront.evaluate import STATUS, Domain, Evaluation, LeftOut, Pieces
from ridefront.evaluate.stepping import StepChoice
from ridefront.results.names import part_blocks
from ridefront.results.tables import read_table
from ridefront.run import Snapshot
from ridefront.run.anatomy import study_parts
from ridefront.study import Study, read_study

Array = NDArray[np.float64]

TEXT = """
title = "Corner for tests"
seed = 5
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "400 kg"
[vehicle.front]
unsprung_mass = { choices = ["36 kg", "40 kg"] }
spring_rate = { low = "12 N/mm", high = "40 N/mm" }
damping = { low = "700 N*s/m", high = "5000 N*s/m", scale = "log" }
friction = "40 N"
tyre_rate = "200 N/mm"
bump_travel = "90 mm"
[[road]]
name = "lane"
kind = "iso8608"
class = "C"
[[condition]]
road = "lane"
speed = ["50 km/h", "80 km/h"]
[[objective]]
criterion = "comfort"
[[objective]]
criterion = "dynamic_load_coefficient"
[[objective]]
criterion = "bump_reserve"
[[constraint]]
criterion = "ride_frequency"
at_least = 1.0
at_most = 1.6
[present]
front.unsprung_mass = "40 kg"
front.spring_rate = "24 N/mm"
front.damping = "1900 N*s/m"
[search]
sample = 64
population = 16
generations = 4
refine = 0
"""


def small_study(folder: Path, *changes: tuple[str, str], name: str = "corner.toml") -> Study:
    """The study above with pieces of its text replaced; every piece must be there."""
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return read_study(file)


GENERATIONS = "generations = 4"

AUTO = (
    ("seed = 5", 'seed = 5\nresponse = "auto"'),
    (GENERATIONS, f"{GENERATIONS}\nsimulated_generations = 3\nsimulated_refine = 0"),
    ('class = "C"', 'class = "C"\nrealisations = 3'),
)
"""Changes that make the study above pass to the time domain."""


class Formula:
    """Stands in for `Evaluator`: closed forms of the study's three variables, and designs that fail.

    Designs with springs softer than 16 N/mm have no static equilibrium; those with dampers beyond 4500 N·s/m are not
    finite. Figures of rides are 5 % larger in the time domain, 7 % on held-out roads, with standard errors of 1 % where
    there is more than one realisation.
    """

    def __init__(
        self, study: Study, *, held_out: bool = False, ensemble: int = 0, step: StepChoice | None = None
    ) -> None:
        del ensemble, step
        self.study, self.held_out = study, held_out

    @property
    def domain(self) -> Domain:
        """In which the study's front is worked out."""
        return "frequency-domain" if self.study.response == "frequency-domain" else "time-domain"

    @property
    def step(self) -> StepChoice:
        """A step that nobody looked for; the largest values of its second condition never came out finite."""
        return StepChoice(1e-3, 80.0, 17, ("one", "two"), (1e-4, 2e-4), (1e-3, np.inf), False)

    def larger(self, domain: Domain | None) -> float:
        """By how much figures of rides are larger than in the frequency domain."""
        return 1.0 if (domain or self.domain) == "frequency-domain" else 1.07 if self.held_out else 1.05

    def evaluate(self, X: Array, domain: Domain | None = None) -> Evaluation:
        """Figures of the study's measures in their order."""
        mass, spring, damper = (np.ascontiguousarray(column) for column in X.T)
        of = {
            "comfort": spring / 40 + (damper / 2000 - 1) ** 2,
            "dynamic_load_coefficient": mass / 40 + 12 / spring + (damper / 3000 - 1) ** 2,
            "bump_reserve": 20 + 2 * spring - damper / 500,
            "ride_frequency": np.sqrt(spring / 20) * 1.2,
        }
        rides = [CRITERIA[measure.criterion].kind == "condition" for measure in self.study.measures]
        factors = np.where(rides, self.larger(domain), 1.0)
        values = np.stack([of[measure.criterion] for measure in self.study.measures], axis=1) * factors
        sampled = self.larger(domain) > 1 and min(road.realisations for road in self.study.roads) > 1
        se = np.where(rides, 0.01 * values, np.nan) if sampled else np.full_like(values, np.nan)
        violation = np.zeros(len(X))
        for constraint in self.study.constraints:
            figure = of[constraint.measure.criterion]
            excess = constraint.limit - figure if constraint.kind == "at_least" else figure - constraint.limit
            violation = violation + np.maximum(excess, 0.0) / constraint.scale
        status = self.status(X)
        values[status != 0], violation[status != 0], se[status != 0] = np.nan, np.nan, np.nan
        return Evaluation(values, violation, status, se)

    def evaluate_with_parts(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Array]:
        """Figures, and parts that are alike in all conditions."""
        found = self.evaluate(X, domain)
        return found, found.values[:, [part.measure for part in study_parts(self.study)]]

    def pieces(self, X: Array, domain: Domain | None = None) -> Pieces:
        """Two pieces a design."""
        domain = domain or self.domain
        values = np.stack([X[:, 1] * 1e3 * self.larger(domain), X[:, 2] / 7], axis=1)
        status = self.status(X)
        values[status != 0] = np.nan
        se = np.stack([0.01 * values[:, 0], np.full(len(X), np.nan)], axis=1)
        return Pieces(
            ("comfort", "frequency_ratio"),
            ("body", ""),
            ("lane @ 50 km/h", "at rest"),
            ("m/s^2", "1"),
            (domain, "at rest"),
            values,
            se if domain == "time-domain" else np.full_like(se, np.nan),
            status,
        )

    def evaluate_and_pieces(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, Pieces]:
        """Both."""
        return self.evaluate(X, domain), self.pieces(X, domain)

    def evaluate_left_out(self, X: Array, domain: Domain | None = None) -> tuple[Evaluation, LeftOut]:
        """Without each realisation of the first road; figures scatter in proportion, so that ranks do not change."""
        found = self.evaluate(X, domain)
        count = self.study.roads[0].realisations if np.isfinite(found.se).any() else 0
        moved = np.arange(count) - 0.5 * (count - 1)
        shift = np.nan_to_num(found.se) / np.sqrt((count - 1) * np.mean(moved**2) if count else 1.0)
        return found, LeftOut((0,) * count, found.values[:, :, np.newaxis] + shift[:, :, np.newaxis] * moved)

    def forget(self) -> None:
        """Nothing is kept."""

    def status(self, X: Array) -> NDArray[np.int8]:
        """What became of each design."""
        status = np.zeros(len(X), dtype=np.int8)
        status[X[:, 2] > 4500] = STATUS.index("not-finite")
        status[X[:, 1] < 16] = STATUS.index("no-static-equilibrium")
        return status


class AllFail(Formula):
    """No design has figures."""

    def status(self, X: Array) -> NDArray[np.int8]:
        """Not finite, all of them."""
        return np.full(len(X), STATUS.index("not-finite"), dtype=np.int8)


class Collector:
    """Progress that keeps what it is told, and interrupts after some blocks."""

    def __init__(self, interrupt_after: int | None = None) -> None:
        self.seen: list[Snapshot] = []
        self.notes: list[str] = []
        self.closed = 0
        self.interrupt_after = interrupt_after

    def note(self, text: str) -> None:
        """Keeps it."""
        self.notes.append(text)

    def update(self, snapshot: Snapshot) -> None:
        """Keeps it; interrupts where asked to."""
        self.seen.append(snapshot)
        if self.interrupt_after is not None and len(self.seen) >= self.interrupt_after:
            self.interrupt_after = None
            raise KeyboardInterrupt

    def close(self) -> None:
        """Counts."""
        self.closed += 1


def parts_of(folder: Path) -> list[Path]:
    """The parts of a run's folder in order."""
    return sorted(file for file in (folder / "evaluations").iterdir() if part_blocks(file.name) is not None)


def evaluations_of(folder: Path) -> pa.Table:
    """All evaluations of a run's folder, as plain values."""
    return plain(read_table(part) for part in parts_of(folder))


def plain(tables: Iterable[pa.Table]) -> pa.Table:
    """Tables below each other, words spelled out and metadata left out, so that `equals` compares values bit by bit."""
    return pa.concat_tables(
        [
            pa.table(
                {
                    name: column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column
                    for name, column in zip(table.schema.names, table.columns, strict=True)
                }
            )
            for table in tables
        ]
    )


def assert_same_results(one: Path, other: Path, *, closed: bool = True) -> None:
    """Two run folders hold the same evaluations, front, pieces and progress, apart from times.

    Args:
        one, other: the folders.
        closed: False where one of the two was interrupted, and its front not worked out once more.
    """
    assert evaluations_of(one).equals(evaluations_of(other))
    left, right = (plain([read_table(folder / "front.parquet")]) for folder in (one, other))
    stored = evaluations_of(one).schema.names
    columns = left.schema.names if closed else [name for name in stored if name != "parts"]
    assert left.select(columns).equals(right.select(columns))
    if closed:
        pieces = (plain([read_table(folder / "front_pieces.parquet")]) for folder in (one, other))
        assert next(pieces).equals(next(pieces))
    left, right = (plain([read_table(folder / "progress.parquet")]) for folder in (one, other))
    timeless = [name for name in left.schema.names if name not in ("seconds", "designs_per_second")]
    assert left.select(timeless).equals(right.select(timeless))

"""Several fronts against each other: by hand, by moocore, by the definition; and what two studies have in common."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import moocore
import numpy as np
import pytest

from ridefront.errors import CallError
from ridefront.report.card import DoesNotApply
from ridefront.report.cards.compared import compared, price_card
from ridefront.report.compare import (
    common_measures,
    common_objectives,
    coverage,
    edge,
    in_common,
    levels_of,
    reach,
    reached,
    round_step,
)
from ridefront.report.differ import differences
from ridefront.report.side_by_side import called, prepared
from ridefront.report.subject import Subject
from ridefront.run import run_study
from small_runs import small_study

UNITS = (
    ('criterion = "comfort"', 'criterion = "comfort"\nunit = "mm/s^2"'),
    ('criterion = "bump_reserve"', 'criterion = "bump_reserve"\nunit = "m"'),
    ('low = "12 N/mm", high = "40 N/mm"', 'low = "12000 N/m", high = "40000 N/m"'),
)
SOFTER = (('tyre_rate = "200 N/mm"', 'tyre_rate = "170 N/mm"'), ('friction = "40 N"', 'friction = "60 N"'))
ONE = np.array([[1.0, 4.0], [2.0, 2.0], [4.0, 1.0]])
OTHER = np.array([[1.5, 4.0], [2.0, 2.0], [3.0, 1.5], [5.0, 0.5]])


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Folders of small runs: as it is, written in other units, another tyre, and two that share too little."""
    home = tmp_path_factory.mktemp("runs")
    studies = {
        "plain": (),
        "units": UNITS,
        "softer": SOFTER,
        "rougher": (('class = "C"', 'class = "D"'),),
        "two": (('[[objective]]\ncriterion = "bump_reserve"\n', ""),),
        "none": (("at_least = 1.0\nat_most = 1.6", "at_least = 3.0"),),
    }
    return {
        name: run_study(small_study(home, *changes, name=f"{name}.toml"), home / "out", workers=1).folder
        for name, changes in studies.items()
    }


def subjects(runs: dict[str, Path], *names: str) -> list[Subject]:
    return [Subject(runs[name]) for name in names]


def test_coverage_by_hand() -> None:
    """Of OTHER, (1.5, 4), (2, 2) are matched by ONE, (3, 1.5) and (5, 0.5) are not; of ONE only (2, 2) by OTHER."""
    assert coverage(ONE, OTHER) == 2 / 4
    assert coverage(OTHER, ONE) == 1 / 3
    assert coverage(ONE, ONE) == coverage(OTHER, OTHER) == 1.0
    assert coverage(ONE[:0], ONE) == 0.0
    assert np.isnan(coverage(ONE, ONE[:0]))


@pytest.mark.parametrize("objectives", [2, 3, 5])
def test_coverage_by_its_definition(objectives: int) -> None:
    random = np.random.default_rng(objectives)
    A, B = (np.round(random.random((n, objectives)), 1) for n in (70, 1300))  # more than a block, and many equal
    expected = np.mean([any(all(a[j] <= b[j] for j in range(objectives)) for a in A) for b in B])
    assert coverage(A, B) == expected


def test_coverage_and_domination_agree() -> None:
    """What moocore finds dominated in both fronts together is what the other front covers."""
    random = np.random.default_rng(4)
    A, B = (moocore.filter_dominated(random.random((300, 3))) for _ in range(2))
    kept = moocore.is_nondominated(np.concatenate([A, B]), keep_weakly=True)
    assert coverage(B, A) == pytest.approx(1 - kept[: len(A)].mean())
    assert coverage(A, B) == pytest.approx(1 - kept[len(A) :].mean())


def test_hypervolume_by_hand() -> None:
    """The box goes from (1, 0.5) to (5, 4) and a tenth more, to (5.4, 4.35); areas are counted in strips of x."""
    found = reach([ONE, OTHER])
    box = (5.4 - 1) * (4.35 - 0.5)
    one = (1 * 0.35 + 2 * 2.35 + 1.4 * 3.35) / box
    other = (0.5 * 0.35 + 1 * 2.35 + 2 * 2.85 + 0.4 * 3.85) / box
    both = (1 * 0.35 + 1 * 2.35 + 1 * 2.85 + 1 * 3.35 + 0.4 * 3.85) / box
    assert found.volumes == pytest.approx((one, other))
    assert found.together == pytest.approx(both)
    assert found.covers == ((1.0, 0.5), (1 / 3, 1.0))


def test_hypervolume_by_moocore() -> None:
    random = np.random.default_rng(8)
    fronts = [moocore.filter_dominated(random.normal(size=(400, 3))) for _ in range(3)]
    every = np.concatenate(fronts)
    ideal, nadir = every.min(axis=0), every.max(axis=0)
    point = nadir + 0.1 * (nadir - ideal)
    expected = [moocore.hypervolume(F, ref=point) / np.prod(point - ideal) for F in (*fronts, every)]
    found = reach(fronts)
    assert (*found.volumes, found.together) == pytest.approx(expected)


def test_order_and_direction_do_not_matter() -> None:
    one, other = reach([ONE, OTHER]), reach([OTHER[::-1], ONE[::-1]])
    assert one.volumes == pytest.approx(other.volumes[::-1])
    assert one.covers == tuple(row[::-1] for row in other.covers[::-1])
    turned = reach([ONE[:, ::-1], OTHER[:, ::-1]])
    assert turned.volumes == pytest.approx(one.volumes)


def test_a_front_against_itself_and_against_nothing() -> None:
    found = reach([ONE, ONE, ONE[:0]])
    assert found.volumes[0] == found.volumes[1] == found.together
    assert found.volumes[2] == 0.0
    assert found.covers[0][:2] == (1.0, 1.0)
    assert found.covers[2] == pytest.approx((0.0, 0.0, np.nan), nan_ok=True)


def test_the_best_at_levels() -> None:
    levels = np.array([0.5, 1.0, 1.9, 2.0, 3.5, 9.0])
    assert reached(ONE[:, 0], ONE[:, 1], levels) == pytest.approx([np.nan, 4, 4, 2, 2, 1], nan_ok=True)
    random = np.random.default_rng(2)
    x, y = random.random((2, 200))
    levels = np.linspace(0.1, 1.0, 30)
    assert reached(x, y, levels) == pytest.approx([y[x <= level].min() for level in levels])
    assert np.isnan(reached(ONE[:0, 0], ONE[:0, 1], levels)).all()


def test_the_edge_goes_through_what_is_reached() -> None:
    random = np.random.default_rng(3)
    x, y = np.round(random.random((2, 300)), 2)
    at, best = edge(x, y)
    assert np.all(np.diff(at) >= 0)
    assert np.all(np.diff(best) <= 0)
    assert np.all((np.diff(at) == 0) | (np.diff(best) == 0))  # steps only
    assert reached(x, y, at[::2]) == pytest.approx(best[::2])  # every other corner is a setup
    assert {(a, b) for a, b in zip(at[::2], best[::2], strict=True)} <= set(zip(x, y, strict=True))
    kept = moocore.filter_dominated(np.unique(np.stack([x, y], axis=1), axis=0))
    assert len(kept) == len(at[::2])
    assert len(edge(x[:0], y[:0])[0]) == 0


def test_levels_are_round_and_cover_the_trade() -> None:
    assert [round_step(rough) for rough in (0.03, 0.05, 0.051, 1.0, 2.1, 0.0)] == pytest.approx(
        [0.05, 0.05, 0.1, 1.0, 5.0, 0.0]
    )
    levels = levels_of([ONE, OTHER])
    assert levels == pytest.approx([1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0])
    assert levels_of([ONE[:1], ONE[:1], ONE[:0]]).tolist() == [1.0]
    below = levels_of([np.array([[-30.0, 1.0], [-11.0, 0.5]])])  # a reserve, made large
    assert below == pytest.approx(np.arange(-30.0, -9.0, 2.0))


def test_units_are_converted(runs: dict[str, Path]) -> None:
    """The same study in other units asks the same designs, and is the same front."""
    one, other = subjects(runs, "plain", "units")
    common = common_measures([one.study, other.study])
    assert [item.scales for item in common[:3]] == [(1.0, 0.001), (1.0, 1.0), (1.0, 1000.0)]
    assert [item.sign for item in common] == [1, 1, -1, *[0] * (len(common) - 3)]
    both = prepared([one, other])
    assert both.values[0] == pytest.approx(both.values[1], rel=1e-12)
    found = reach(both.fronts())
    assert found.covers == ((1.0, 1.0), (1.0, 1.0))
    assert found.volumes == pytest.approx([found.together] * 2)
    values = in_common(other.study, 1, common, other.front.values)
    assert values[:, 2] == pytest.approx(1e3 * other.result.front["bump_reserve"].to_numpy())


def test_what_is_written_differently_is_no_difference(runs: dict[str, Path]) -> None:
    one, other = subjects(runs, "plain", "units")
    assert differences([one.study, other.study], [one.record, other.record]) == ()
    card = compared([one, other])[2]
    assert not card.tables
    softer = Subject(runs["softer"])
    found = differences([one.study, softer.study, other.study], [one.record, softer.record, other.record])
    assert [(item.what, item.texts) for item in found] == [
        ("front friction", ("40 N", "60 N", "40 N")),
        ("front tyre rate", ("200 N/mm", "170 N/mm", "200 N/mm")),
    ]


def test_every_part_of_a_study_is_compared(tmp_path: Path, runs: dict[str, Path]) -> None:
    """One change at a time is one difference, and named."""
    record = Subject(runs["plain"]).record
    base = small_study(tmp_path)
    changes = {
        "seed": ("seed = 5", "seed = 6"),
        "front spring rate": ('low = "12 N/mm"', 'low = "13 N/mm"'),
        "lane": ('class = "C"', 'class = "C"\nlength = "600 m"'),
        "front damping": ('front.damping = "1900 N*s/m"', 'front.damping = "2000 N*s/m"'),
        "ride frequency, at most": ("at_most = 1.6", "at_most = 1.5"),
        "generations": ("generations = 4", "generations = 5"),
        "ends where the front grows by less than": ("refine = 0", "refine = 0\nuntil = { stalled_share = 0.001 }"),
        "front unsprung mass": ('choices = ["36 kg", "40 kg"]', 'choices = ["36 kg", "40 kg", "43 kg"]'),
    }
    for what, change in changes.items():
        found = differences([base, small_study(tmp_path, change, name="other.toml")], [record, record])
        assert [item.what for item in found] == [what]


def test_results_that_share_too_little_are_refused(runs: dict[str, Path]) -> None:
    with pytest.raises(CallError, match="one result; allowed: two or more"):
        compared(subjects(runs, "plain"))
    with pytest.raises(CallError) as raised:
        compared(subjects(runs, "plain", "rougher"))
    text = str(raised.value)
    for part in ("plain, rougher: no objective in common", "share two or more", "conditions and direction",
                 "plain has comfort, dynamic_load_coefficient, bump_reserve",
                 "comfort of rougher has other conditions than that of plain"):  # fmt: skip
        assert part in text, part


def test_a_road_may_be_called_otherwise_and_shares_of_time_count(tmp_path: Path) -> None:
    base = small_study(tmp_path)
    renamed = small_study(
        tmp_path, ('name = "lane"', 'name = "track"'), ('road = "lane"', 'road = "track"'), name="renamed.toml"
    )
    assert len(common_objectives([base, renamed], ("a", "b"))) == 3
    weighted = small_study(
        tmp_path,
        (
            'speed = ["50 km/h", "80 km/h"]\n',
            'speed = "50 km/h"\nweight = 0.9\n[[condition]]\nroad = "lane"\nspeed = "80 km/h"\nweight = 0.1\n',
        ),
        name="weighted.toml",
    )
    shared = common_objectives([base, weighted], ("a", "b"))  # comfort is averaged, the others are worst cases
    assert [item.label for item in shared] == ["dynamic_load_coefficient", "bump_reserve"]


def test_cards_of_unlike_vehicles(runs: dict[str, Path]) -> None:
    both = subjects(runs, "plain", "softer")
    fronts, price, _ = compared(both)
    assert [len(figure.panels) for card in (fronts, price) for figure in card.figures] == [3, 2]
    for panel in fronts.figures[0].panels:
        marks = [series for series in panel.series if series.kind == "points" and series.role == "other"]
        for k, series in enumerate(marks):
            assert series.result == k
            assert series.designs is not None
            assert series.designs.tolist() == both[k].result.front["design"].tolist()
            assert len(series.hover) == len(series.x)
    levels = np.array([float(row[0]) for row in price.tables[0].rows])
    for k, subject in enumerate(both):
        front = subject.result.front
        for row, level in zip(price.tables[0].rows, levels, strict=True):
            reaches = front[front["comfort"] <= level * (1 + 1e-12)]["dynamic_load_coefficient"]
            assert (
                row[1 + k] == "–" if not len(reaches) else float(row[1 + k]) == pytest.approx(reaches.min(), rel=5e-3)
            )
        steps = [float(row[3 + k]) for row in price.tables[0].rows[:-1] if row[3 + k] != "–"]
        assert min(steps) >= 0
    parts = next(table for table in fronts.tables if table.title == "Which parts the fronts use")
    springs = [row for row in parts.rows if row[0] == "front spring rate"]
    for row, subject in zip(springs, both, strict=True):
        column = subject.result.front["front.spring_rate"]
        assert [float(cell) for cell in row[3:]] == pytest.approx(
            [column.min(), column.median(), column.max(), 24.0], rel=1e-3
        )


def test_the_picture_of_what_the_same_ride_costs(runs: dict[str, Path]) -> None:
    """A front is ahead of itself by nothing, and one that is better by 0.01 throughout by that."""
    both = prepared(subjects(runs, "plain", "units"))
    for panel in price_card(both).figures[0].panels:
        assert np.abs(panel.series[1].y).max() < 1e-9
    better = both.values[1] - np.array([0.0, 0.01, *[0.0] * (len(both.common) - 2)])
    panel = price_card(replace(both, values=(both.values[0], better))).figures[0].panels[0]
    assert panel.series[1].y == pytest.approx(0.01)
    assert not panel.series[0].y.any()


def test_objectives_that_are_not_shared_are_told(runs: dict[str, Path]) -> None:
    fronts = compared(subjects(runs, "two", "plain"))[0]
    assert len(fronts.figures[0].panels) == 1
    assert any("plain also trades bump reserve: not compared" in note for note in fronts.notes)


def test_an_empty_front(runs: dict[str, Path]) -> None:
    fronts, price, _ = compared(subjects(runs, "none", "plain"))
    assert any(note.startswith("none: no setup meets its constraints") for note in fronts.notes)
    empty, other = fronts.tables[0].rows
    assert empty[2:] == ("0", "0", "0.0 %", "–", "–")
    assert other[4:] == ("100.0 %", "0.0 %", "–")
    assert all(row[1] == "–" for row in price.tables[0].rows)
    with pytest.raises(DoesNotApply, match="none of these results"):
        compared(subjects(runs, "none", "none"))


def test_names_tell_results_apart(runs: dict[str, Path], tmp_path: Path) -> None:
    copy = Path(shutil.copytree(runs["plain"], tmp_path / "october" / "plain"))
    one, other = Subject(runs["plain"]), Subject(copy)
    assert called([one, Subject(runs["two"])]) == ("plain", "two")
    assert called([one, other]) == ("out/plain", "october/plain")
    assert called([one, one, other]) == ("out/plain (1)", "out/plain (2)", "october/plain")
    long = Path(shutil.copytree(runs["plain"], tmp_path / ("x" * 100)))
    assert max(map(len, called([one, Subject(long)]))) == 40


def test_different_domains_and_programs_are_told(runs: dict[str, Path], tmp_path: Path) -> None:
    one = Subject(runs["plain"])
    folder = Path(shutil.copytree(runs["plain"], tmp_path / "driven"))
    record = (folder / "run.json").read_text(encoding="utf-8")
    engine = one.record["digests"]["engine"]
    (folder / "run.json").write_text(record.replace(engine, "0" * 64).replace('"state": "done"', '"state": "running"'))
    other = Subject(folder)
    other.result = replace(other.result, response="time-domain")
    fronts, _, studies = compared([one, other])
    assert any("plain in the frequency domain, driven in the time domain" in note for note in fronts.notes)
    assert any(note.startswith("figures driven in time depend on") for note in fronts.notes)
    assert any(note.startswith("the programs that worked") for note in fronts.notes)
    assert any("its run is running" in note for note in fronts.notes)
    assert [row[:2] for row in studies.tables[0].rows] == [("program", "what works figures out")]

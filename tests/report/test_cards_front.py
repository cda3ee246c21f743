"""Cards of the front against figures worked out another way: by the evaluator, by hand, by differences, by pandas."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from ridefront.evaluate import Evaluator
from ridefront.evaluate.scattered import factors
from ridefront.report.card import Card, DoesNotApply
from ridefront.report.cards.domains import both, domains
from ridefront.report.cards.holds import broken, changes_of, holds, levers
from ridefront.report.cards.road_by_road import road_by_road
from ridefront.report.cards.scatter import scatter, spread_of
from ridefront.report.cards.travel_budget import Budget, Way, budgets_of, travel_budget
from ridefront.report.figure import Panel, Series
from ridefront.report.looked_at import Setup
from ridefront.report.rows import Lane, dots, heights, ranges
from ridefront.report.slopes import within_ranges
from ridefront.report.subject import Subject
from ridefront.report.words import Table, number
from ridefront.results.sampling import spreading
from ridefront.road import Road
from ridefront.run import run_study
from ridefront.study import Study, read_study
from ridefront.vehicle.static import GRAVITY
from small_runs import AUTO, small_study

Array = NDArray[np.float64]

TWO_AXLES = """
title = "Two axles for tests"
seed = 9
[vehicle]
model = "half-car"
wheelbase = "2.6 m"
front_share = 0.56
contact_patch = "0.12 m"
[vehicle.body]
mass = "1200 kg"
pitch_inertia = "1900 kg*m^2"
[vehicle.front]
unsprung_mass = { choices = ["36 kg", "40 kg", "44 kg"] }
spring_rate = { low = "16 N/mm", high = "36 N/mm" }
damping = { low = "1200 N*s/m", high = "5000 N*s/m", scale = "log" }
damper_ratio = 0.9
friction = "40 N"
tyre_rate = "200 N/mm"
bump_travel = "100 mm"
rebound_travel = "90 mm"
bump_clearance = "63 mm"
bump_stop_rate = "40 N/mm"
[vehicle.rear]
unsprung_mass = "40 kg"
spring_rate = { times = "front.spring_rate", low = 0.9, high = 1.6 }
damping = "2200 N*s/m"
friction = "30 N"
tyre_rate = "200 N/mm"
bump_travel = "115 mm"
rebound_travel = "95 mm"
[[seat]]
name = "driver"
behind_front_axle = "1.2 m"
[[seat]]
name = "back seat"
behind_front_axle = "2.1 m"
[[load]]
name = "driver"
reference = true
masses = [{ mass = "75 kg", behind_front_axle = "1.2 m" }]
[[load]]
name = "full"
masses = [{ mass = "75 kg", behind_front_axle = "1.2 m" }, { mass = "260 kg", behind_front_axle = "2.1 m" }]
[[road]]
name = "lane"
kind = "iso8608"
class = "C"
length = "300 m"
[[road]]
name = "hump"
kind = "obstacle"
shape = "versine"
height = "50 mm"
length = "2 m"
[[condition]]
road = "lane"
speed = ["50 km/h", "80 km/h"]
load = ["driver", "full"]
[[condition]]
road = "hump"
speed = "20 km/h"
load = "full"
[[objective]]
criterion = "comfort"
road = "lane"
[[objective]]
criterion = "dynamic_load_coefficient"
road = "lane"
[[constraint]]
criterion = "bump_reserve"
at_least = "5 mm"
[[constraint]]
criterion = "ride_frequency.front"
load = "driver"
at_least = 1.0
[present]
front.unsprung_mass = "40 kg"
front.spring_rate = "25 N/mm"
front.damping = "2000 N*s/m"
rear.spring_rate = "29 N/mm"
[search]
sample = 64
population = 16
generations = 4
refine = 0
"""


def run(study: Study, folder: Path) -> Subject:
    return Subject(run_study(study, folder / "out", workers=1).folder)


@pytest.fixture(scope="module")
def two_axles(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A half car on a random road and a hump, in the frequency domain."""
    folder = tmp_path_factory.mktemp("two-axles")
    (folder / "two-axles.toml").write_text(TWO_AXLES, encoding="utf-8")
    return run(read_study(folder / "two-axles.toml"), folder)


@pytest.fixture(scope="module")
def in_time(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A quarter car whose front is of the time domain."""
    folder = tmp_path_factory.mktemp("in-time")
    return run(small_study(folder, *AUTO), folder)


@pytest.fixture(scope="module")
def scattered(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A quarter car whose dampers have tolerances."""
    folder = tmp_path_factory.mktemp("scattered")
    return run(small_study(folder, ("[search]", '[scatter]\nfront.damping = "15 %"\n[search]')), folder)


def series_of(panel: Panel, name: str, kind: str = "points") -> Series:
    found = [series for series in panel.series if series.name == name and series.kind == kind]
    assert len(found) == 1, [series.name for series in panel.series]
    return found[0]


def panel_of(card: Card, figure: str, title: str) -> Panel:
    panels = {panel.title: panel for each in card.figures if each.name == figure for panel in each.panels}
    return panels[title]


def table_of(card: Card, title: str) -> Table:
    return next(table for table in card.tables if table.title.startswith(title))


def long_pieces(subject: Subject, setups: tuple[Setup, ...]) -> pd.DataFrame:
    """Pieces of setups worked out by an evaluator of the test's own, long, by the setup's name."""
    found = Evaluator(subject.study).pieces(np.stack([setup.x for setup in setups]), domain=subject.domain)
    frames = [
        pd.DataFrame(
            {
                "setup": setup.name,
                "criterion": found.criterion,
                "place": found.place,
                "condition": found.condition,
                "value": values,
            }
        )
        for setup, values in zip(setups, found.values, strict=True)
    ]
    return pd.concat(frames)


def budget_of(found: list[Budget], axle: str, load: str) -> Budget:
    return next(item for item in found if (item.axle, item.load) == (axle, load))


def test_budget_of_the_rear_axle_with_everybody_on_board(two_axles: Subject) -> None:
    """Static travel by hand: a linear spring under what 260 kg put on the rear axle, half of it on each wheel."""
    looked = two_axles.looked_at
    assert [setup.name for setup in looked.setups][:2] == ["present", "A"]
    pieces = long_pieces(two_axles, looked.setups)
    ways: tuple[tuple[Way, int, float], ...] = (("bump", 1, 0.115), ("rebound", -1, 0.095))
    for way, sign, end in ways:
        budget = budget_of(budgets_of(two_axles.study, looked, way), "rear", "full")
        rate = 1e3 * np.array([setup.x[3] for setup in looked.setups])
        sunk = 0.5 * 260 * GRAVITY * (2.1 / 2.6) / rate
        np.testing.assert_allclose(budget.at_rest, sign * sunk, rtol=1e-9)
        np.testing.assert_allclose(budget.available, end, rtol=1e-12)
        assert budget.to_stop is None
        own = pieces[(pieces["criterion"] == f"{way}_reserve") & (pieces["place"] == "rear")]
        own = own[own["condition"].str.endswith(", full")]
        least = own.sort_values("value").groupby("setup", sort=False).first().loc[[s.name for s in looked.setups]]
        np.testing.assert_allclose(budget.left, least["value"], rtol=1e-9, atol=1e-9)
        assert list(budget.condition) == least["condition"].tolist()
        np.testing.assert_allclose(budget.at_rest + budget.peak + least["value"].to_numpy(), end, rtol=1e-9)


def test_budget_under_the_reference_load_and_stops(two_axles: Subject) -> None:
    found = budgets_of(two_axles.study, two_axles.looked_at, "bump")
    assert [(item.axle, item.load) for item in found] == [
        ("front", "driver"), ("front", "full"), ("rear", "driver"), ("rear", "full"),
    ]  # fmt: skip
    front = budget_of(found, "front", "driver")
    np.testing.assert_allclose(front.at_rest, 0.0, atol=1e-12)
    assert front.to_stop is not None
    np.testing.assert_allclose(front.to_stop, 0.063 / 0.9, rtol=1e-12)


def test_travel_card_shows_what_every_setup_has_left(two_axles: Subject) -> None:
    card = travel_budget(two_axles)
    frame = pd.read_parquet(two_axles.folder / "front_pieces.parquet")
    driven = frame["condition"].str.startswith("hump") & (frame["response"] == "time-domain")
    frame = frame[(frame["response"] == "frequency-domain") | driven]
    for axle in ("front", "rear"):
        own = frame[(frame["criterion"] == "bump_reserve") & (frame["place"] == axle)]
        panel = panel_of(card, "travel-left", f"{axle}, bump")
        points = series_of(panel, "front")
        assert points.designs is not None
        least = own.groupby("design")["value"].min()
        np.testing.assert_allclose(points.y, 1e3 * least.loc[points.designs.tolist()].to_numpy(), rtol=1e-12)
        np.testing.assert_allclose(points.x, two_axles.result.front["comfort (lane)"].to_numpy())
        np.testing.assert_allclose(series_of(panel, "limit of the study", "level").y, [5.0])
        pick = two_axles.picked[0]
        at = series_of(panel, pick.letter)
        np.testing.assert_allclose(at.y, 1e3 * least.loc[[pick.design]].to_numpy(), rtol=1e-12)
    table = table_of(card, "Travel in bump")
    assert len(table.rows) == 4 * len(two_axles.looked_at.setups)
    for row in table.rows:
        available, standing, peak, left = (float(cell) for cell in row[4:8])
        assert available - standing - peak == pytest.approx(left, abs=0.16)  # each is rounded to a tenth
    assert {row[-1] for row in table.rows if row[0] == "rear"} == {"–"}


def test_travel_card_draws_ends_and_reaches(two_axles: Subject) -> None:
    card, looked = travel_budget(two_axles), two_axles.looked_at
    panel = panel_of(card, "travel-budget", "front, full")
    assert panel.x.names == tuple(setup.name for setup in looked.setups)
    ends = series_of(panel, "end of bump", "line").y
    assert set(ends[np.isfinite(ends)]) == {100.0}
    bump, rebound = (
        budget_of(budgets_of(two_axles.study, looked, way), "front", "full") for way in ("bump", "rebound")
    )
    for k, setup in enumerate(looked.setups):
        bar = series_of(panel, setup.name, "line")
        np.testing.assert_allclose(100.0 - bar.y[0], 1e3 * bump.left[k])
        np.testing.assert_allclose(bar.y[2] + 90.0, 1e3 * rebound.left[k])
        assert bar.y[2] < bar.y[1] < bar.y[0]


def test_road_by_road_against_an_evaluator(two_axles: Subject) -> None:
    card, looked = road_by_road(two_axles), two_axles.looked_at
    pieces = long_pieces(two_axles, looked.setups)
    for title, criterion, factor in (
        ("comfort", "comfort", 1.0),
        ("dynamic load coefficient", "dynamic_load_coefficient", 1.0),
        ("rattle space", "rattle_space", 1e3),
    ):
        own = pieces[pieces["criterion"] == criterion]
        worst = factor * own.groupby(["setup", "condition"])["value"].max()
        panel = panel_of(card, "road-by-road", title)
        names = [name.replace("\u00a0", " ") for name in reversed(panel.y.names)]
        assert names == list(dict.fromkeys(own["condition"]))
        for setup in looked.setups:
            shown = series_of(panel, setup.name)
            np.testing.assert_allclose(shown.x, [worst[setup.name, name] for name in names], rtol=1e-9)
            assert (np.diff(shown.y) < 0).all(), "the first condition is on top"
    front = pd.read_parquet(two_axles.folder / "front_pieces.parquet")
    front = front[(front["criterion"] == "comfort") & (front["response"] == "frequency-domain")]
    by_condition = front.groupby(["design", "condition"])["value"].max().groupby("condition")
    span = series_of(panel_of(card, "road-by-road", "comfort"), "all setups of the front", "line").x
    conditions = list(dict.fromkeys(front["condition"]))
    np.testing.assert_allclose(span[0::3], by_condition.min().loc[conditions])
    np.testing.assert_allclose(span[1::3], by_condition.max().loc[conditions])


def test_road_by_road_table_tells_changes(two_axles: Subject) -> None:
    table = road_by_road(two_axles).tables[0]
    pieces = long_pieces(two_axles, two_axles.looked_at.setups[:2])
    picked = table.columns.index("A")
    seen = 0
    for criterion, condition, place, unit, *cells in table.rows:
        factor = {"m/s²": 1.0, "": 1.0, "mm": 1e3, "kN": 1e-3}[unit]
        same = (pieces["criterion"] == criterion.replace(" ", "_")) & (pieces["condition"] == condition)
        before, after = factor * pieces[same & (pieces["place"] == place)]["value"].to_numpy()
        assert cells[0] == number(before) or cells[0].startswith("below")
        if "%" in cells[picked - 4]:
            seen += 1
            change = float(cells[picked - 4].rpartition("(")[2].removesuffix(" %)"))
            assert change == pytest.approx(100 * (after / before - 1), abs=0.051)
    assert seen > 10


def test_a_tenth_of_one_part_against_differences(two_axles: Subject) -> None:
    """Every part alone, the springs too, of which the study gives the rear one as so many times the front one."""
    study, front = two_axles.study, two_axles.front
    setups = tuple(
        Setup("A", "pick", int(front.design[row]), row, front.X[row], front.values[row]) for row in range(len(front))
    )
    changes = changes_of(two_axles, setups)
    assert np.isnan(changes[:, :, 0]).all(), "an unsprung mass of three has no slope"
    evaluator, compared = Evaluator(study), np.zeros(len(study.variables), dtype=int)
    for setup, change in zip(setups, changes, strict=True):
        for j in range(1, len(study.variables)):
            step = 2e-3 * setup.x * (np.arange(len(setup.x)) == j)
            if compared[j] >= 12 or not all(inside(side * step + setup.x) for side in (1, -1)):
                continue
            up, here, down = evaluator.evaluate(np.stack([setup.x + step, setup.x, setup.x - step])).values
            rising, falling = 50 * (up - here), 50 * (here - down)
            straight = np.isclose(rising, falling, rtol=0.1)  # elsewhere another place or road takes over
            np.testing.assert_allclose(change[straight, j], rising[straight], rtol=0.12, atol=1e-9)
            compared[j] += int(straight.sum())
    assert (compared[1:] >= 12).all()


def inside(x: Array) -> bool:
    """Whether a setup of the half car lies within its ranges."""
    return bool(16 <= x[1] <= 36 and 1200 <= x[2] <= 5000 and 0.9 <= x[3] / x[1] <= 1.6)


def test_levers_stay_within_ranges_and_name_the_limits_they_break(two_axles: Subject) -> None:
    study = two_axles.study
    low = np.array([40.0, 16.0, 2000.0, 16.0 * 1.2])
    high = np.array([40.0, 35.0, 2000.0, 35.0 * 1.2])
    assert not within_ranges(study, low, 1, -1)
    assert within_ranges(study, low, 1, 1)
    assert not within_ranges(study, high, 1, 1)
    # A front spring 10 % stiffer alone makes the rear one less times it.
    assert not within_ranges(study, np.array([40.0, 25.0, 2000.0, 25.0 * 0.95]), 1, 1)
    setup = Setup("A", "pick", 1, 0, low, np.array([0.8, 0.2, 8.0, 1.1]))
    changes = np.zeros((4, 4))
    changes[0] = [np.nan, 0.05, 0.01, 0.03]  # comfort: less is better; less front spring is out of reach
    changes[2] = [np.nan, 1.0, 2.0, 4.0]
    best = levers(study, setup, changes)
    assert [(item.objective, item.variable, item.sign) for item in best] == [(0, 3, -1)]
    assert broken(study, setup.values, -changes[:, 3]) == "bump reserve at least 5.00 mm"


def test_broken_limits(two_axles: Subject) -> None:
    values = np.array([0.8, 0.2, 8.0, 1.05])
    assert broken(two_axles.study, values, np.array([0.1, 0.1, -2.9, -0.04])) == ""
    said = broken(two_axles.study, values, np.array([0.0, 0.0, -3.1, -0.06]))
    assert said == "bump reserve at least 5.00 mm; ride frequency, front (driver) at least 1.00 Hz"


def test_what_lies_on_a_limit_does_not_break_it(two_axles: Subject) -> None:
    """As on a setup sheet: by less than a thousandth of a limit's scale none is broken, and none that was before."""
    item = next(one for one in two_axles.study.constraints if one.measure.criterion == "ride_frequency")
    on, hair = np.array([0.8, 0.2, 8.0, item.limit + 1e-5]), 1e-3 * item.scale
    assert broken(two_axles.study, on, np.array([0.0, 0.0, 0.0, -0.5 * hair])) == ""
    assert broken(two_axles.study, on, np.array([0.0, 0.0, 0.0, -1.5 * hair])) != ""
    before = np.array([0.8, 0.2, 8.0, item.limit - 2 * hair])
    assert broken(two_axles.study, before, np.array([0.0, 0.0, 0.0, -hair])) == ""


def test_holds_says_what_the_run_found(two_axles: Subject) -> None:
    card, front = holds(two_axles), two_axles.result.front
    rows = {row[0]: row for row in table_of(card, "What holds them").rows}
    assert list(rows) == [one.letter for one in two_axles.picked]
    for one in two_axles.picked:
        held = front["held_by"].iloc[one.row]
        if held:
            assert rows[one.letter][3] == held
        assert rows[one.letter][1] == str(one.design)
    moves = panel_of(card, "what-moves-what", "comfort (lane)")
    stored = pd.read_parquet(two_axles.folder / "sensitivity.parquet")
    total = stored[(stored["measure"] == "comfort (lane)") & (stored["kind"] == "total")]
    np.testing.assert_allclose(series_of(moves, "with all it does together with others").x, 100 * total["value"])
    np.testing.assert_allclose(series_of(moves, "interval of 95 %", "line").x[0::3], 100 * total["low"])
    assert moves.y.names[-1] == "front unsprung mass"


def test_next_choice_is_worked_out(two_axles: Subject) -> None:
    table = table_of(holds(two_axles), "What the next step")
    one = two_axles.picked[0]
    x = two_axles.front.X[one.row]
    for row in (row for row in table.rows if row[0] == one.letter):
        mass = float(row[1].split(" to ")[1].split()[0])
        assert abs(mass - x[0]) == 4.0
        values = Evaluator(two_axles.study).evaluate(np.array([[mass, *x[1:]]])).values[0]
        change = values[0] - two_axles.front.values[one.row, 0]
        assert float(row[3]) == pytest.approx(change, rel=0.06)


def test_domains_of_a_linear_front(two_axles: Subject) -> None:
    study = two_axles.study
    lane = study.roads[0]
    assert isinstance(lane, Road)
    few = replace(study, roads=(replace(lane, realisations=1), *study.roads[1:]))
    X = two_axles.front.X[:3]
    linear, driven = both(two_axles, study.measures[0])
    np.testing.assert_allclose(linear[:3], Evaluator(study).evaluate(X).values[:, 0], rtol=1e-12)
    found = Evaluator(few).evaluate(X, "time-domain").values[:, 0]
    np.testing.assert_allclose(driven[:3], found, rtol=1e-9)
    card = domains(two_axles)
    points = series_of(panel_of(card, "domains", "comfort (lane)"), "front")
    np.testing.assert_allclose(points.y, two_axles.result.front["comfort (lane).difference"])
    assert "lane (1 realisation)" in card.figures[0].source


def test_domains_of_a_front_in_time(in_time: Subject) -> None:
    study = in_time.study
    item = study.measures[1]
    linear, driven = both(in_time, item)
    evaluator = Evaluator(study)
    X = in_time.front.X[:3]
    np.testing.assert_allclose(linear[:3], evaluator.evaluate(X, "frequency-domain").values[:, 1], rtol=1e-9)
    np.testing.assert_allclose(driven[:3], evaluator.evaluate(X, "time-domain").values[:, 1], rtol=1e-9)
    card = domains(in_time)
    assert "lane (3 realisations)" in card.figures[0].source
    cell = next(row for row in card.tables[0].rows if row[0] == "dynamic load coefficient")[2]
    row = in_time.picked[0].row
    assert cell == f"{number(driven[row])} ({100 * (driven[row] / linear[row] - 1):+.1f} %)"


def test_cards_of_a_front_in_time_take_its_own_pieces(in_time: Subject) -> None:
    looked = in_time.looked_at
    assert set(looked.pieces.response) == {"time-domain", "at rest"}
    pieces = long_pieces(in_time, looked.setups)
    own = pieces[(pieces["criterion"] == "bump_reserve") & (pieces["setup"] == "present")]["value"]
    budget = budgets_of(in_time.study, looked, "bump")[0]
    assert budget.left[0] == pytest.approx(own.min(), rel=1e-9)
    assert not looked.columns("rebound_reserve")
    assert len(travel_budget(in_time).tables) == 1


def test_scatter_against_vehicles_built_one_by_one(scattered: Subject) -> None:
    """A damper's tolerance makes of each vehicle another design, which the evaluator can ride as it is drawn."""
    study, looked = scattered.study, scattered.looked_at
    assert study.scatter is not None
    draws = factors(study.scatter, study.seed)["front.damping"]
    measures = spreading(study)
    found = spread_of(scattered, looked, measures)
    labels = [item.label for item in study.measures]
    for s, setup in enumerate(looked.setups[:3]):
        X = np.repeat(setup.x[None, :], len(draws), axis=0)
        X[:, 2] *= draws
        values = Evaluator(study).evaluate(X).values
        for m, item in enumerate(measures):
            ends = np.quantile(values[:, labels.index(item.label)], [0.05, 0.95], method="hazen")
            np.testing.assert_allclose(found[s, m], ends, rtol=1e-9)
    card = scatter(scattered)
    row = next(row for row in card.tables[0].rows if row[0] == "comfort")
    assert row[2] == f"{number(found[0, 0, 0])} to {number(found[0, 0, 1])}"
    panel = next(panel for panel in card.figures[0].panels if panel.x.label == "comfort")
    np.testing.assert_allclose(series_of(panel, "A", "line").x[:2], found[1, 0])
    mark = series_of(panel, "A")
    np.testing.assert_allclose(mark.x, [looked.setups[1].values[0]])


def test_cards_that_have_nothing_to_say(two_axles: Subject, tmp_path: Path) -> None:
    with pytest.raises(DoesNotApply, match="no tolerances"):
        scatter(two_axles)
    impossible = small_study(tmp_path, ("at_least = 1.0", "at_least = 4.0"), ("at_most = 1.6", "at_most = 5.0"))
    empty = run(impossible, tmp_path)
    for card in (travel_budget, road_by_road, holds, domains):
        with pytest.raises(DoesNotApply, match="no setup meets all constraints"):
            card(empty)
    unfinished = Subject(two_axles.folder)
    unfinished.__dict__["record"] = {**two_axles.record, "state": "interrupted"}
    with pytest.raises(DoesNotApply, match="when a run is done"):
        holds(unfinished)


def test_no_end_of_travel_and_no_random_road(tmp_path: Path) -> None:
    hump = 'name = "lane"\nkind = "obstacle"\nshape = "arc"\nheight = "40 mm"\nlength = "2 m"'
    study = small_study(
        tmp_path,
        ('bump_travel = "90 mm"\n', ""),
        ('name = "lane"\nkind = "iso8608"\nclass = "C"', hump),
        ('criterion = "comfort"', 'criterion = "peak_acceleration"'),
        ('[[objective]]\ncriterion = "dynamic_load_coefficient"\n', ""),
        ('criterion = "bump_reserve"', 'criterion = "rattle_space"'),
    )
    subject = run(study, tmp_path)
    with pytest.raises(DoesNotApply, match="where travel ends"):
        travel_budget(subject)
    with pytest.raises(DoesNotApply, match="looks at a random road"):
        domains(subject)
    titles = [panel.title for panel in road_by_road(subject).figures[0].panels]
    assert titles == ["peak acceleration", "rattle space"]


def test_rows_and_lanes() -> None:
    """Two rows of two lanes: the first row on top, and in it the first lane; what is not known has no mark."""
    assert heights(2, 0, 1).tolist() == [1.0, 0.0]
    assert (heights(2, 0, 2) > heights(2, 1, 2)).all()
    assert heights(2, 1, 2)[0] > heights(2, 0, 2)[1]
    first, line = dots([Lane("A", "pick", np.array([np.nan, 2.0]), 7, ("no", "yes"))], from_zero=True)
    assert (first.x.tolist(), first.y.tolist(), first.hover) == ([2.0], [0.0], ("yes",))
    assert first.designs is not None
    assert first.designs.tolist() == [7]
    assert line.x[:2].tolist() == [0.0, 2.0]
    span = ranges("all", "front", np.array([[1.0, np.nan], [3.0, np.nan]]))
    assert span.x[:2].tolist() == [1.0, 3.0]
    assert np.isnan(span.x[2:]).all()

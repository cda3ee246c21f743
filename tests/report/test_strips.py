"""Strip charts by what is in them: lines, bars, levels, windows; not by their pixels."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from matplotlib.collections import PolyCollection

from ridefront.errors import CallError
from ridefront.evaluate import Evaluator
from ridefront.evaluate.tracing import Trace, trace
from ridefront.report.pictures import save
from ridefront.report.strips import WINDOW, check_drawable, strips, windows
from ridefront.report.traced import traced
from ridefront.results.traces import Lineup, line_up
from traced_studies import CAR, CORNER, TWO_SIDES, traced_study

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

HUMP, HUMP_FULL, LANE = range(3)
HEIGHTS, TRAVEL, SPEED, CONTACT, ACCELERATION = range(5)
TWO = ["front.spring_rate=35 N/mm", "front.damping=3800 N*s/m"]


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    return Evaluator(traced_study(tmp_path_factory.mktemp("car")), realisations=1)


def drawn(
    evaluator: Evaluator, lineup: Lineup, *conditions: int, start: float | None = None, end: float | None = None
) -> tuple[Figure, tuple[Trace, ...]]:
    traces = tuple(trace(evaluator, lineup.X, c) for c in conditions)
    parts = windows(evaluator.study, conditions, traces, start, end)
    return strips(evaluator.study, lineup.labels, traces, parts, "a note"), traces


def panels(figure: Figure, columns: int) -> NDArray[np.object_]:
    """(rows, columns)."""
    return np.array(figure.axes, dtype=object).reshape(-1, columns)


def line(axes: Axes, label: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and y of the one line of that label."""
    found = [item for item in axes.lines if item.get_label() == label]
    assert len(found) == 1, [item.get_label() for item in axes.lines]
    return np.asarray(found[0].get_xdata()), np.asarray(found[0].get_ydata())


def test_every_history_is_drawn_in_its_row_and_column(car: Evaluator) -> None:
    lineup = line_up(car.study, TWO)
    figure, (found,) = drawn(car, lineup, HUMP_FULL)
    rows = panels(figure, 2)
    assert rows.shape == (5, 2)
    end = rows[0, 0].get_xlim()[1]
    within = found.distance <= end
    for k, label in enumerate(lineup.labels):
        for c in range(2):
            for row, of, values in (
                (HEIGHTS, "wheel", 1e3 * found.wheel[k, c]),
                (HEIGHTS, "body", 1e3 * found.body[k, c]),
                (TRAVEL, "travel", 1e3 * found.travel[k, c]),
                (SPEED, "damper speed", found.damper_speed[k, c]),
                (CONTACT, "contact force", 1e-3 * found.contact_force[k, c]),
                (ACCELERATION, "acceleration", found.acceleration[k, c]),  # driver in front, back seat behind
                (ACCELERATION, "weighted", found.weighted[k, c]),
            ):
                x, y = line(rows[row, c], f"{label}, {of}")
                count = int(within.sum())
                assert np.array_equal(x[:count], found.distance[within]), of
                assert np.array_equal(y[:count], values[within]), of
                assert len(x) <= count + 1
    assert np.array_equal(line(rows[HEIGHTS, 1], "road")[1][:50], 1e3 * found.road[1, :50])
    colours = {item.get_label(): item.get_color() for item in rows[TRAVEL, 0].lines}
    assert colours["present, travel"] != colours[f"{lineup.labels[1]}, travel"]
    assert figure.legends[0].get_title().get_text() == "Car of the histories: hump @ 40 km/h, full"
    assert [text.get_text() for text in figure.legends[0].get_texts()] == list(lineup.labels)
    below = figure.get_supxlabel()
    assert below.startswith("a note")
    assert "prove it on a rig" in below


def test_travel_stands_among_its_stops_and_ends(car: Evaluator) -> None:
    figure, (found,) = drawn(car, line_up(car.study, TWO), HUMP_FULL)
    axes = panels(figure, 2)[TRAVEL, 1]
    for words, value in (("bump stop", 40), ("rebound stop", -60), ("end of bump", 85), ("end of rebound", -95)):
        np.testing.assert_allclose(line(axes, words)[1], value)
    low, high = axes.get_ylim()
    assert low < -95
    assert high > 1e3 * max(0.085, found.travel.max())
    # The rear springs are the same, the front ones not: one line at rest for both, then one each.
    np.testing.assert_allclose(line(axes, "at rest")[1], 1e3 * found.static_travel[0, 1])
    front = panels(figure, 2)[TRAVEL, 0]
    np.testing.assert_allclose(line(front, "present, at rest")[1], 1e3 * found.static_travel[0, 0])


def test_bars_show_where_wheels_are_off_the_ground(car: Evaluator) -> None:
    lineup = line_up(car.study, TWO)
    figure, (found,) = drawn(car, lineup, HUMP_FULL)
    axes = panels(figure, 2)[CONTACT, 0]
    for k, label in enumerate(lineup.labels):
        bars = [item for item in axes.collections if item.get_label() == f"{label}, off the ground"]
        assert len(bars) == 1
        assert isinstance(bars[0], PolyCollection)
        covered = np.zeros(len(found.distance), dtype=np.bool_)
        for path in bars[0].get_paths():
            x = np.asarray(path.vertices)[:, 0]
            covered |= (found.distance >= x.min() - 1e-9) & (found.distance < x.max() - 1e-9)
        assert np.array_equal(covered, found.lift_off[k, 0])
        assert covered.any()
    assert axes.get_ylim()[0] < 0, "room for the bars"
    assert min(axes.get_yticks()) >= 0


def test_an_obstacle_is_drawn_to_a_second_after_the_last_wheel(car: Evaluator) -> None:
    figure, _ = drawn(car, line_up(car.study), HUMP)
    # 1 m of lead, 0.6 m of hump, half a contact patch of 0.1 m, wheelbase, one second.
    np.testing.assert_allclose(panels(figure, 2)[0, 0].get_xlim(), (0, 1 + 0.6 + 0.05 + 2.7 + 40 / 3.6))


def test_a_long_road_is_drawn_about_the_first_setups_largest_travel(car: Evaluator) -> None:
    figure, (found,) = drawn(car, line_up(car.study), LANE)
    start, end = panels(figure, 2)[0, 1].get_xlim()
    np.testing.assert_allclose(end - start, WINDOW)
    moved = np.abs(found.travel[0] - found.static_travel[0][:, None]).max(axis=0)
    at = found.distance[np.argmax(moved)]
    assert 0 <= start <= at <= end <= 200
    asked, _ = drawn(car, line_up(car.study), LANE, start=150.0, end=190.0)
    np.testing.assert_allclose(panels(asked, 2)[0, 0].get_xlim(), (150, 190))
    x, _ = line(panels(asked, 2)[TRAVEL, 0], "present, travel")
    assert 149 < x[0] <= 150 < 190 <= x[-1] < 191
    tail, _ = drawn(car, line_up(car.study), LANE, start=170.0)
    np.testing.assert_allclose(panels(tail, 2)[0, 0].get_xlim(), (170, 200))
    head, _ = drawn(car, line_up(car.study), LANE, end=80.0)
    np.testing.assert_allclose(panels(head, 2)[0, 0].get_xlim(), (20, 80))


@pytest.mark.parametrize(
    ("start", "end"), [(150.0, 230.0), (-1.0, 50.0), (60.0, 40.0), (210.0, None), (float("nan"), 9.0)]
)
def test_windows_off_the_road_are_refused(car: Evaluator, start: float | None, end: float | None) -> None:
    found = trace(car, line_up(car.study).X, LANE)
    with pytest.raises(CallError, match='"lane @ 60 km/h, full" is driven from 0 to 200 m'):
        windows(car.study, (LANE,), (found,), start, end)


def test_conditions_stand_side_by_side_on_the_same_stretch(tmp_path: Path) -> None:
    """Speeds align: the same window and the same scales."""
    evaluator = Evaluator(traced_study(tmp_path, CORNER))
    X = np.array([[20.0, 1500.0], [30.0, 2500.0]])
    figure, traces = drawn(evaluator, Lineup(("soft", "stiff"), (None, None), X), 0, 1)
    rows = panels(figure, 2)
    assert [axes.get_title() for axes in rows[0]] == ["hole @ 30 km/h\nfront corner", "hole @ 50 km/h\nfront corner"]
    for row in rows:
        assert row[0].get_xlim() == row[1].get_xlim()
        assert row[0].get_ylim() == row[1].get_ylim()
    np.testing.assert_allclose(rows[0, 0].get_xlim()[1], 1 + 1 + 50 / 3.6)
    x, y = line(rows[ACCELERATION, 1], "stiff, acceleration")
    assert np.array_equal(y, traces[1].acceleration[1, 0, : len(x)])


def test_a_car_without_two_seats_shows_its_pitch(tmp_path: Path) -> None:
    text = CAR.replace('[[seat]]\nname = "back seat"\nbehind_front_axle = "2.2 m"\n', "")
    assert text != CAR
    evaluator = Evaluator(traced_study(tmp_path, text), realisations=1)
    figure, (found,) = drawn(evaluator, line_up(evaluator.study), HUMP)
    _, y = line(panels(figure, 2)[ACCELERATION, 1], "present, pitch")
    assert np.array_equal(y, np.degrees(found.pitch[0, : len(y)]))


def test_a_full_car_has_a_column_a_wheel_and_shows_its_pitch_and_roll(tmp_path: Path) -> None:
    evaluator = Evaluator(traced_study(tmp_path, CAR, *TWO_SIDES), realisations=1)
    figure, (found,) = drawn(evaluator, line_up(evaluator.study), HUMP)
    rows = panels(figure, 4)
    assert [axes.get_title() for axes in rows[0]] == ["front left", "front right", "rear left", "rear right"]
    for c in range(4):
        _, y = line(rows[TRAVEL, c], "present, travel")
        assert np.array_equal(y, 1e3 * found.travel[0, c, : len(y)])
    for column, (label, values) in enumerate(
        (
            ("acceleration", found.acceleration[0, 0]),  # the driver
            ("acceleration", found.acceleration[0, 1]),  # the back seat
            ("pitch", np.degrees(found.pitch[0])),
            ("roll", np.degrees(found.roll[0])),
        )
    ):
        _, y = line(rows[ACCELERATION, column], f"present, {label}")
        assert np.array_equal(y, values[: len(y)])
    table = traced(evaluator, line_up(evaluator.study), HUMP)
    names = [row[0] for row in table.rows]
    assert "rear right travel, largest in bump" in names
    assert "roll angle, largest either way" in names


@pytest.mark.parametrize("seats", [0, 1])
def test_a_full_car_without_two_seats(tmp_path: Path, seats: int) -> None:
    """The body's centre of mass takes the place of the one that is not there; nothing that of a second one."""
    kept = CAR.split("[[seat]]")
    rest = kept[2].partition("[[load]]")
    text = "[[seat]]".join(kept[: 1 + seats]) + rest[1] + rest[2]
    changes = [change for change in TWO_SIDES if change[0] in text]
    evaluator = Evaluator(traced_study(tmp_path, text, *changes), realisations=1)
    figure, (found,) = drawn(evaluator, line_up(evaluator.study), HUMP)
    rows = panels(figure, 4)
    assert found.points[seats] == "body"
    _, y = line(rows[ACCELERATION, seats], "present, acceleration")
    assert np.array_equal(y, found.acceleration[0, seats, : len(y)])
    assert [axes.get_visible() for axes in rows[ACCELERATION]] == [True, seats == 1, True, True]
    below = rows[CONTACT if seats == 0 else ACCELERATION, 1]
    assert below.get_xlabel() == "front axle at [m]"
    _, y = line(rows[ACCELERATION, 3], "present, roll")
    assert np.array_equal(y, np.degrees(found.roll[0, : len(y)]))


def test_too_much_for_a_picture_is_refused() -> None:
    check_drawable(6, 3)
    with pytest.raises(CallError, match="7 setups in a picture; allowed: 6 at most"):
        check_drawable(7, 1)
    with pytest.raises(CallError, match="4 conditions in a picture; allowed: 3 at most"):
        check_drawable(1, 4)


def test_names_from_the_study_cannot_break_a_picture(tmp_path: Path) -> None:
    evaluator = Evaluator(
        traced_study(tmp_path, CORNER, ('name = "hole"', 'name = "$hole_{"'), ('road = "hole"', 'road = "$hole_{"'))
    )
    lineup = Lineup(("$a^", "b"), (None, None), np.array([[20.0, 1500.0], [30.0, 2500.0]]))
    figure, _ = drawn(evaluator, lineup, 0)
    for ending in ("png", "svg"):
        save(figure, tmp_path / f"picture.{ending}")
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (tmp_path / "picture.svg").read_text(encoding="utf-8")


def test_the_printed_table_has_the_largest_values(car: Evaluator) -> None:
    lineup = line_up(car.study, TWO)
    table = traced(car, lineup, HUMP_FULL)
    found = trace(car, lineup.X, HUMP_FULL)
    rows = {row[0]: row[1:] for row in table.rows}
    assert table.title == "hump @ 40 km/h, full"
    assert table.columns == ("", "unit", *lineup.labels)
    assert rows["front travel, largest in bump"] == ("mm", *(f"{1e3 * x:.1f}" for x in found.travel[:, 0].max(axis=1)))
    assert rows["rear bump stop, largest force"][0] == "N"
    np.testing.assert_allclose(
        [float(text) for text in rows["rear bump stop, largest force"][1:]],
        found.stop_force[:, 1].max(axis=1),
        rtol=6e-3,
    )
    off = [1e3 * car.drive(HUMP_FULL).step * int(found.lift_off[k, 0].sum()) for k in range(2)]
    assert [float(text) for text in rows["front wheel off the ground"][1:]] == pytest.approx(off)
    assert rows["front contact force, least"] == ("N", "0", "0")
    assert rows["driver acceleration, largest below 30 Hz"][1] == f"{np.abs(found.smooth[0, 0]).max():.2f}"
    assert table.notes == ()
    lane = traced(car, lineup, LANE)
    share = float({row[0]: row for row in lane.rows}["rear wheel off the ground"][2])
    np.testing.assert_allclose(share, 100 * trace(car, lineup.X, LANE).lift_off[0, 1].mean(), rtol=6e-3)
    assert "first of 8 realisations" in lane.notes[0]
    assert "frequency domain" in lane.notes[1]
    many = Lineup(tuple("abcdefgh"), (None,) * 8, np.tile(lineup.X, (4, 1)))
    assert traced(car, many, HUMP).columns == ("", "unit", *"abcdef")
    assert "2 more setups" in traced(car, many, HUMP).notes[-1]

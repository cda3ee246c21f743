"""Pictures for a notebook: the examples in the docstrings, what is drawn against the tables, what is refused."""

from __future__ import annotations

import doctest
import importlib
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

import ridefront
from ridefront.run import run_study
from small_runs import small_study


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small run."""
    home = tmp_path_factory.mktemp("runs")
    return run_study(small_study(home), home / "out", workers=1).folder


@pytest.fixture(autouse=True)
def no_window(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Figures that pyplot makes are drawn nowhere, and closed."""
    from matplotlib import pyplot

    pyplot.switch_backend("agg")
    yield
    pyplot.close("all")


def axes() -> Axes:
    return Figure().subplots()


@pytest.mark.parametrize("name", ["ridefront", "ridefront.report.notebook"])
def test_examples_in_the_docstrings(name: str, folder: Path) -> None:
    module = importlib.import_module(name)
    runner = doctest.DocTestRunner()
    globs = {"ridefront": ridefront, "folder": folder, "new_axes": axes}
    said: list[str] = []
    for example in doctest.DocTestFinder(exclude_empty=True).find(module, name, globs=globs):
        runner.run(example, out=said.append)
    assert runner.summarize(verbose=False).attempted > 0
    assert said == []


def test_trade_off_draws_what_the_frame_holds(folder: Path) -> None:
    front = ridefront.read_front(folder)
    drawn = ridefront.trade_off(str(folder), axes=axes())
    dots = drawn.collections[0]
    assert np.array_equal(np.asarray(dots.get_offsets()), front[["comfort", "dynamic_load_coefficient"]].to_numpy())
    assert np.array_equal(np.asarray(dots.get_array()), front["bump_reserve"].to_numpy())
    assert [one.get_ylabel() for one in drawn.figure.axes] == ["dynamic load coefficient", "bump reserve [mm]"]


def test_a_filtered_frame_keeps_its_units_and_a_new_column_has_none(folder: Path) -> None:
    asked = ridefront.read_evaluations(folder)
    good = asked[asked["feasible"]].copy()
    good["share"] = good["comfort"] / good["comfort"].max()
    into = axes()
    for y in ("front.damping", "share"):
        assert ridefront.trade_off(good, x="comfort", y=y, axes=into, label=y, marker="x") is into
    assert (into.get_xlabel(), into.get_ylabel()) == ("comfort [m/s²]", "share")
    assert [len(np.asarray(one.get_offsets())) for one in into.collections] == [int(asked["feasible"].sum())] * 2
    assert into.get_legend_handles_labels()[1] == ["front.damping", "share"]


def test_names_with_dollar_signs_are_text(folder: Path) -> None:
    front = ridefront.read_front(folder).rename(columns={"comfort": "$x^2$"})
    drawn = ridefront.trade_off(front, x="$x^2$", y="bump_reserve", axes=axes())
    assert drawn.get_xlabel() == r"\$x^2\$"


def test_road_by_road_draws_the_pieces(folder: Path) -> None:
    pieces = ridefront.read_front_pieces(folder)
    designs = [int(design) for design in pieces["design"].unique()[:3]]
    drawn = ridefront.road_by_road(pieces, "bump_reserve", designs, axes(), "time-domain")
    for line, design in zip(drawn.lines, designs, strict=True):
        rows = pieces[
            (pieces["design"] == design)
            & (pieces["criterion"] == "bump_reserve")
            & (pieces["response"] == "time-domain")
        ]
        names = [label.get_text() for label in drawn.get_xticklabels()]
        for height, name in zip(np.asarray(line.get_ydata(), dtype=np.float64), names, strict=True):
            assert height == pytest.approx(1e3 * rows[rows["condition"] == name]["value"].min())  # m in mm
    assert drawn.get_ylabel() == "bump reserve [mm]"
    whole = ridefront.road_by_road(folder, "comfort.body", axes=axes(), response="frequency-domain")
    middle = np.asarray(whole.lines[0].get_ydata(), dtype=np.float64)
    at = (pieces["criterion"] == "comfort") & (pieces["response"] == "frequency-domain")
    expected = pieces[at].groupby("condition", observed=True)["value"].median()
    names = [label.get_text() for label in whole.get_xticklabels()]
    assert middle == pytest.approx([expected[name] for name in names])


def test_the_worst_place_counts(folder: Path) -> None:
    """A second place whose figures are all larger: it is the worst of comfort, and not of a reserve."""
    pieces = ridefront.read_front_pieces(folder)
    more = pieces.assign(place="elsewhere", value=pieces["value"] + 1.0)
    import pandas as pd

    both = pd.concat([pieces, more])
    for criterion, added in (("comfort", 1.0), ("bump_reserve", 0.0)):
        one, two = (
            ridefront.road_by_road(frame, criterion, axes=axes(), response="frequency-domain")
            for frame in (pieces, both)
        )
        heights = [np.asarray(each.lines[0].get_ydata(), dtype=np.float64) for each in (one, two)]
        assert heights[1] - heights[0] == pytest.approx(added)


def test_what_is_refused_says_what_is_allowed(folder: Path) -> None:
    front, pieces = ridefront.read_front(folder), ridefront.read_front_pieces(folder)
    bare = front.copy()
    bare.attrs = {}
    calls: list[tuple[Callable[[], Axes], str]] = [
        (lambda: ridefront.trade_off(front, x="comfrt", y="comfort"), r'no column "comfrt"; allowed: .*comfort'),
        (lambda: ridefront.trade_off(front, x="stage", y="comfort"), r'"stage" holds words; allowed: .*numbers'),
        (lambda: ridefront.trade_off(front, x="comfort"), "y is missing; allowed: x and y"),
        (lambda: ridefront.trade_off(front, colour="comfort"), "x is missing; allowed: x and y"),
        (lambda: ridefront.trade_off(bare), "no two objectives; allowed: x and y"),
        (lambda: ridefront.road_by_road(pieces, "comfrt"), r'no "comfrt"; allowed: .*comfort'),
        (lambda: ridefront.road_by_road(pieces, "comfort"), r'in both ways; allowed: "frequency-domain" or'),
        (lambda: ridefront.road_by_road(pieces, "ride_frequency", [-1]), r"no design -1; allowed"),
        (lambda: ridefront.road_by_road(pieces, "ride_frequency", []), "0 designs; allowed: 1 to 7"),
        (lambda: ridefront.road_by_road(pieces, "ride_frequency", range(8)), "8 designs; allowed: 1 to 7"),
    ]
    for call, said in calls:
        with pytest.raises(ridefront.CallError, match=said):
            call()
    with pytest.raises(ridefront.ResultError, match="nowhere"):
        ridefront.trade_off(folder / "nowhere")

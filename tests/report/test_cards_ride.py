"""Cards of the ride: what they draw against the run's figures, hand calculation and plain counting."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from ridefront.evaluate import Evaluator
from ridefront.evaluate.tracing import trace
from ridefront.report.card import Card, DoesNotApply
from ridefront.report.cards.dampers import SPEEDS, damper_forces, gaussian_shares, motion, what_dampers_do
from ridefront.report.cards.histories import over_an_obstacle, thinned
from ridefront.report.cards.spectra import where_it_shakes
from ridefront.report.figure import Panel, Series
from ridefront.report.subject import Subject
from ridefront.response.weighting import WEIGHTINGS
from ridefront.run import run_study
from small_runs import small_study
from traced_studies import CAR, TWO_SIDES, traced_study

Array = NDArray[np.float64]

SEARCH = ("[present]", "[search]\nsample = 32\npopulation = 12\ngenerations = 1\nrefine = 0\n[present]")
SHORT = ('length = "200 m"', 'length = "200 m"\nrealisations = 2')
COMFORT = (
    '[[objective]]\ncriterion = "rattle_space"\nroad = "hump"',
    '[[objective]]\ncriterion = "comfort"\nroad = "lane"',
)


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A quarter car on a random road at two speeds, in the frequency domain."""
    folder = tmp_path_factory.mktemp("corner")
    study = small_study(folder)
    return Subject(run_study(study, folder / "out", workers=1).folder)


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A half car over a hump and along a lane."""
    folder = tmp_path_factory.mktemp("car")
    study = traced_study(folder, CAR, SEARCH, SHORT, COMFORT)
    return Subject(run_study(study, folder / "out", workers=1).folder)


@pytest.fixture(scope="module")
def van(tmp_path_factory: pytest.TempPathFactory) -> Subject:
    """A full car with a beam axle, over a hump under its left wheels and along a lane, in the time domain."""
    folder = tmp_path_factory.mktemp("van")
    time = ("seed = 3", 'seed = 3\nresponse = "time-domain"')
    study = traced_study(folder, CAR, *TWO_SIDES, SEARCH, SHORT, COMFORT, time)
    return Subject(run_study(study, folder / "out", workers=1).folder)


def panel(card: Card, words: str) -> Panel:
    """The one panel whose title begins so."""
    found = [one for figure in card.figures for one in figure.panels if one.title.startswith(words)]
    assert len(found) == 1, [one.title for figure in card.figures for one in figure.panels]
    return found[0]


def line(of: Panel, name: str, *, dashed: bool = False) -> Series:
    found = [one for one in of.series if one.name == name and one.dashed == dashed and one.kind == "line"]
    assert len(found) == 1, [(one.name, one.dashed) for one in of.series]
    return found[0]


def cells(card: Card, title: str) -> dict[tuple[str, ...], dict[str, str]]:
    """A table's cells by the texts of its row and the head of its column."""
    (found,) = (one for one in card.tables if one.title.startswith(title))
    words = found.text_columns
    return {row[:words]: dict(zip(found.columns[words:], row[words:], strict=True)) for row in found.rows}


def rms_of_bands(of: Series) -> float:
    """Of bands side by side, a third of an octave each: every eighth point."""
    steps = np.diff(np.log2(of.x))
    np.testing.assert_allclose(steps, 1 / 24)
    return float(np.sqrt(np.sum(of.y[4::8] ** 2)))


def test_spectra_add_up_to_the_comfort_that_the_run_has(corner: Subject) -> None:
    card = where_it_shakes(corner)
    frame = corner.pieces
    acceleration = panel(card, "Acceleration")
    # The quicker of two equally long rides shakes more, and so decides.
    assert "80 km/h" in card.figures[0].title
    for setup in corner.looked_at.setups[:5]:
        if setup.row is None:
            continue
        own = frame[(frame["design"] == setup.design) & frame["condition"].str.contains("80 km/h")]
        own = own[own["response"] == "frequency-domain"]
        for criterion, dashed in (("comfort", False), ("body_acceleration", True)):
            known = float(own[own["criterion"] == criterion]["value"].iloc[0])
            drawn = rms_of_bands(line(acceleration, setup.name, dashed=dashed))
            # Between 0.4 and 50 Hz lies all that is felt but for half a per cent, and 3 % of what is not weighted.
            np.testing.assert_allclose(drawn, known, rtol=0.005 if criterion == "comfort" else 0.03)
        shown = cells(card, "What the weighted acceleration is made of")["weighted rms", "m/s²"][setup.name]
        np.testing.assert_allclose(float(shown), own[own["criterion"] == "comfort"]["value"].iloc[0], rtol=5e-3)
    assert any(note == "their weighted rms is the run's figure" for note in card.notes)
    curve = line(panel(card, "How much"), "weighting Wk")
    np.testing.assert_allclose(curve.y, np.abs(WEIGHTINGS["Wk"].response(curve.x)), rtol=1e-12)


def test_shares_of_bands_add_up_and_conditions_have_their_figures(corner: Subject) -> None:
    card = where_it_shakes(corner)
    table = cells(card, "What the weighted acceleration is made of")
    shares = [row for (_, unit), row in table.items() if unit == "%"]
    assert len(shares) == 3
    for setup in corner.looked_at.setups:
        assert sum(float(row[setup.name]) for row in shares) == pytest.approx(100, abs=1.2)  # two digits each
    now = corner.study.present
    assert now is not None
    found = corner.evaluator.pieces(now[np.newaxis], ["comfort"])
    for where, value in zip(found.condition, found.values[0], strict=True):
        np.testing.assert_allclose(float(cells(card, "Weighted")[where,]["present"]), value, rtol=5e-3)


def test_histories_keep_their_peaks_and_stand_among_their_stops(car: Subject) -> None:
    card = over_an_obstacle(car)
    study, evaluator = car.study, car.evaluator
    setups = car.looked_at.setups
    X = np.stack([setup.x for setup in setups])
    humps = [trace(evaluator, X, c) for c in range(2)]
    moved = [float(np.abs(one.travel[0] - one.static_travel[0][:, None]).max()) for one in humps]
    c = int(np.argmax(moved))
    assert card.question == "What happens over an obstacle?"
    assert card.figures[0].title == study.conditions[c].name
    found = humps[c]
    travel = panel(card, "Travel, rear")
    end = max(float(one.x[-1]) for one in travel.series if one.kind == "line")
    within = found.distance <= end
    for k, setup in enumerate(setups[:5]):
        for words, values in (
            ("Travel, rear", 1e3 * found.travel[k, 1]),
            ("Contact force, front", 1e-3 * found.contact_force[k, 0]),
            ("Pitch", np.degrees(found.pitch[k])),
        ):
            drawn = line(panel(card, words), setup.name)
            assert len(drawn.x) <= 402
            assert drawn.y.max() == values[within].max()
            assert drawn.y.min() == values[within].min()
            assert np.isin(drawn.x, found.distance).all()
    levels = {one.name: one.y for one in travel.series if one.kind == "level"}
    np.testing.assert_allclose(levels["stop is met"], [-60, 40])  # clearances of 54 and 36 mm at a ratio of 0.9
    np.testing.assert_allclose(levels["end of travel"], [-95, 85])
    off = [one for one in panel(card, "Contact force, front").series if one.kind == "points"]
    lifted = {setup.name for k, setup in enumerate(setups[:5]) if found.lift_off[k, 0, within].any()}
    assert {one.name for one in off} == lifted != set()
    table = cells(card, "Largest and smallest")
    pieces = evaluator.pieces(X, ["peak_acceleration", "bump_reserve"])
    for p, (criterion, place, where) in enumerate(zip(pieces.criterion, pieces.place, pieces.condition, strict=True)):
        if where != study.conditions[c].name or place == "body":
            continue
        for k, setup in enumerate(setups[:5]):
            if criterion == "peak_acceleration":
                shown = float(table[f"{place} acceleration, largest below 30 Hz", "m/s²"][setup.name])
                np.testing.assert_allclose(shown, pieces.values[k, p], rtol=6e-3)
            else:
                shown = float(table[f"{place} travel, largest in bump", "mm"][setup.name])
                np.testing.assert_allclose(shown, 85 - 1e3 * pieces.values[k, p], rtol=6e-3)


def test_a_car_on_a_random_road_alone_shows_a_stretch_of_it(corner: Subject) -> None:
    card = over_an_obstacle(corner)
    assert card.question == "What happens on the roughest road?"
    drawn = line(panel(card, "Travel"), "present")
    condition = next(item for item in corner.study.conditions if "80 km/h" in item.name)
    assert drawn.x[-1] - drawn.x[0] == pytest.approx(3 * condition.speed, rel=0.01)
    now = corner.looked_at.setups[0]
    found = trace(corner.evaluator, now.x[np.newaxis], corner.study.conditions.index(condition))
    largest = np.abs(found.travel[0, 0] - found.static_travel[0, 0]).max()
    moved = np.abs(drawn.y - 1e3 * found.static_travel[0, 0]).max()
    np.testing.assert_allclose(moved, 1e3 * largest, rtol=1e-12)
    assert any("first of 8 realisations" in note for note in card.notes)


def test_of_a_full_car_the_wheel_over_the_hump_is_drawn(van: Subject) -> None:
    card = over_an_obstacle(van)
    titles = [one.title for one in card.figures[0].panels]
    assert titles[:2] == ["Travel, front left", "Travel, rear left"]
    assert titles[-1].startswith("Roll")
    assert any("front left and rear left" in note for note in card.notes)


def test_thinned_lines_keep_every_extreme() -> None:
    draw = np.random.default_rng(5)
    x = np.cumsum(draw.uniform(0.1, 1.0, 5000))
    y = np.cumsum(draw.normal(size=5000))
    kept = thinned(x, y, bins=40)
    assert len(kept) <= 82
    assert np.array_equal(kept, np.unique(kept))
    assert {0, 4999} <= set(kept.tolist())
    edges = np.linspace(x[0], x[-1], 41)
    for low, high in pairwise(edges):
        inside = np.flatnonzero((x >= low) & (x < high))
        own = np.intersect1d(kept, inside)
        assert y[own].max() == y[inside].max()
        assert y[own].min() == y[inside].min()
    assert np.array_equal(thinned(x[:80], y[:80], bins=40), np.arange(80))


def by_hand(damping: float, speed: float) -> float:
    """Force of the damper of `traced_studies.AXLE` itself, N: share of bump 0.35, knees at 0.12 m/s to 0.4."""
    slope = 2 * damping * (0.35 if speed > 0 else 0.65)
    fast = abs(speed)
    force = slope * min(fast, 0.12) + 0.4 * slope * max(fast - 0.12, 0.0)
    return force if speed > 0 else -force


def test_damper_forces_are_those_calculated_by_hand(car: Subject, van: Subject) -> None:
    for subject in (car, van):
        card = what_dampers_do(subject)
        names = [item.path for item in subject.study.variables]
        for setup in subject.looked_at.setups[:5]:
            for axle in ("front", "rear"):
                drawn = line(panel(card, f"{axle.capitalize()} damper"), setup.name)
                damping = float(setup.x[names.index(f"{axle}.damping")])
                assert {-0.12, 0.0, 0.12, -0.52, 0.52} <= set(drawn.x.tolist())
                known = [1e-3 * by_hand(damping, speed) for speed in drawn.x]
                np.testing.assert_allclose(drawn.y, known, rtol=1e-9, atol=1e-12)


def test_gas_changes_no_damper_force_and_the_card_says_so(tmp_path: Path, car: Subject) -> None:
    plain = traced_study(tmp_path, CAR)
    gas = traced_study(tmp_path, CAR, ("damper_ratio = 0.9", 'damper_ratio = 0.9\ngas_force = "300 N"'))
    speeds = np.array([-0.4, 0.0, 0.4])
    assert plain.present is not None
    X = plain.present[np.newaxis]
    assert np.array_equal(damper_forces(gas, X, 1, speeds), damper_forces(plain, X, 1, speeds))
    assert any(re.search("gas.* left out", note) for note in what_dampers_do(car).notes)


def test_shares_of_a_gaussian_speed() -> None:
    draw = np.random.default_rng(2).normal(size=400_000)
    for sigma in (0.04, 0.13, 0.5):
        edges = [0.0, *SPEEDS, np.inf]
        counted = np.histogram(np.abs(sigma * draw), edges)[0] / len(draw)
        np.testing.assert_allclose(gaussian_shares(np.array(sigma)), counted, atol=3e-3)
    assert np.isnan(gaussian_shares(np.array([np.nan, 0.1]))[0]).all()


def test_a_linear_corners_dampers_spend_their_time_as_gaussian_ones(tmp_path: Path) -> None:
    study = small_study(
        tmp_path,
        ('friction = "40 N"', 'friction = "0 N"\nbump_share = 0.5\ndamper_ratio = 0.8'),
        ('class = "C"', 'class = "C"\nlength = "6 km"\nrealisations = 1'),
    )
    evaluator = Evaluator(study)
    assert study.present is not None
    X = study.present[np.newaxis]
    linear, driven = motion(evaluator, X, 1, "frequency-domain"), motion(evaluator, X, 1, "time-domain")
    assert (linear.gaussian, driven.gaussian) == (True, False)
    np.testing.assert_allclose(driven.rms, linear.rms, rtol=2e-3)
    np.testing.assert_allclose(driven.shares, linear.shares, atol=0.01)
    np.testing.assert_allclose(driven.shares.sum(axis=-1), 1, rtol=1e-12)
    # Largest of 270 s: some four deviations either way (Davenport: sqrt(2 ln N) of some thousand swings).
    for largest in (driven.bump, driven.rebound):
        assert 3.2 < float(largest[0, 0] / driven.rms[0, 0]) < 5.5


def test_damper_speeds_are_counted_where_they_are_driven(van: Subject) -> None:
    card = what_dampers_do(van)
    setups = van.looked_at.setups
    found = trace(van.evaluator, np.stack([setup.x for setup in setups]), 2)
    table = cells(card, "Share of time")
    rms = cells(card, "Damper speed, rms")
    name = van.study.conditions[2].name
    for axle, c in (("front", 0), ("rear", 2)):
        bars = next(one for one in card.figures[1].panels if one.title == axle.capitalize())
        for k, setup in enumerate(setups[:5]):
            speed = np.abs(found.damper_speed[k, c])
            counted = np.histogram(speed, [0.0, *SPEEDS, np.inf])[0] / len(speed)
            (drawn,) = (one for one in bars.series if one.name == setup.name)
            np.testing.assert_allclose(drawn.y, 100 * counted, rtol=1e-12)
            shown = [float(part) for part in table[name, axle][setup.name].split(" / ")]
            assert sum(shown) == 100
            np.testing.assert_allclose(shown, 100 * counted, atol=1.0)
            np.testing.assert_allclose(float(rms[name, axle][setup.name]), np.sqrt(np.mean(speed**2)), rtol=6e-3)
    hump = cells(card, "Largest damper speed on obstacles")
    over = trace(van.evaluator, setups[0].x[np.newaxis], 0)
    largest = float(hump[van.study.conditions[0].name, "front, rebound"]["present"])
    np.testing.assert_allclose(largest, -over.damper_speed[0, :2, over.first :].min(), rtol=6e-3)


def test_cards_say_when_they_do_not_apply(tmp_path: Path) -> None:
    impossible = small_study(tmp_path, ("at_least = 1.0", "at_least = 9.0"), ("at_most = 1.6", "at_most = 9.5"))
    empty = Subject(run_study(impossible, tmp_path / "empty", workers=1).folder)
    for card in (where_it_shakes, over_an_obstacle, what_dampers_do):
        with pytest.raises(DoesNotApply, match="no front to look at"):
            card(empty)
    text = CAR.split('[[road]]\nname = "lane"')[0] + "[[condition]]" + CAR.split("[[condition]]", 1)[1]
    text = text.replace('[[condition]]\nroad = "lane"\nspeed = "60 km/h"\nload = "full"\n', "")
    study = traced_study(tmp_path, text, SEARCH)
    humps = Subject(run_study(study, tmp_path / "humps", workers=1).folder)
    with pytest.raises(DoesNotApply, match="all roads are obstacles"):
        where_it_shakes(humps)
    assert [figure.name for figure in what_dampers_do(humps).figures] == ["dampers"]
    assert over_an_obstacle(humps).question == "What happens over an obstacle?"

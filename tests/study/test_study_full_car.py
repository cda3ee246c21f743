"""Studies of the full car: what it needs besides the half car's keys, and how a study moves between the two."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ridefront.road import Road
from ridefront.study import read_study
from ridefront.study.digest import figures_digest, figures_meaning
from ridefront.study.space import bounds, decode
from ridefront.vehicle import LoadMass, Seat
from study_texts import CORNER, FULL, changed, find, read

BEAM = 'axle = "beam"\naxle_roll_inertia = "42 kg*m^2"\nspring_spacing = "1.12 m"\ndamper_spacing = "1.2 m"\n'
ROLL_CENTRES = 'front_roll_centre = "60 mm"\nrear_roll_centre = "140 mm"\n'
RESERVE = 'criterion = "bump_reserve"'
HALF = changed(FULL, ('"full-car"', '"half-car"'))
OBSTACLE = '[[road]]\nname = "hump"\nkind = "obstacle"\nshape = "arc"\nheight = 0.05\nlength = 3\n'


def keys(text: str) -> list[str]:
    return [mistake.key for mistake in find(text)]


def test_full_car_is_read() -> None:
    study = read(FULL)
    assert (study.model, study.beams, study.notes) == ("full-car", frozenset({"rear"}), ())
    expected = {
        "front_roll_centre": 0.06, "rear_roll_centre": 0.14, "body.roll_inertia": 580.0, "front.track": 1.55,
        "front.anti_roll_rate": 12e3, "rear.track": 1.53, "rear.anti_roll_rate": 2e3, "rear.axle_roll_inertia": 42.0,
        "rear.spring_spacing": 1.12, "rear.damper_spacing": 1.2,
    }  # fmt: skip
    assert {path: study.fixed[path] for path in expected} == expected
    assert study.seats == (Seat("driver", 1.4, None, 0.38), Seat("back seat", 2.28, None, -0.4))
    assert study.loads[1].masses == (LoadMass(150.0, 1.4), LoadMass(415.0, 2.75, 0.0, 0.12))
    (road,) = study.roads
    assert isinstance(road, Road)
    assert road.tracks == "isotropic"


def test_what_is_not_given_is_as_it_mostly_is() -> None:
    plain = changed(
        FULL,
        (BEAM, ""),
        ('anti_roll_rate = "12 N/mm"\n', ""),
        ('anti_roll_rate = "2 N/mm"\n', ""),
        ('left_of_centre = "0.38 m"\n', ""),
        ('tracks = "isotropic"\n', ""),
    )
    study = read(plain)
    assert study.beams == frozenset()
    assert (study.fixed["front.anti_roll_rate"], study.fixed["rear.anti_roll_rate"]) == (0.0, 0.0)
    assert study.seats[0].left_of_centre == 0.0
    assert [road.tracks for road in study.roads if isinstance(road, Road)] == ["isotropic"]
    spaced = read(changed(FULL, ('spring_spacing = "1.12 m"\ndamper_spacing = "1.2 m"\n', "")))
    assert not {"rear.spring_spacing", "rear.damper_spacing"} & set(spaced.fixed)  # the track, whatever it is


def test_one_word_moves_a_study_between_half_and_full_car() -> None:
    full, half = read(FULL), read(HALF)
    assert (half.model, half.beams) == ("half-car", frozenset())
    same = ("title", "seed", "variables", "seats", "loads", "roads", "conditions", "objectives", "constraints", "given")
    for name in (*same, "search", "reference"):
        assert getattr(full, name) == getattr(half, name), name
    assert full.present is not None
    assert half.present is not None
    assert np.array_equal(full.present, half.present)
    assert dict(half.fixed).items() <= dict(full.fixed).items()
    sides = {path.rpartition(".")[2] for path in set(full.fixed) - set(half.fixed)}
    assert sides == {
        "front_roll_centre", "rear_roll_centre", "roll_inertia", "track", "anti_roll_rate", "axle_roll_inertia",
        "spring_spacing", "damper_spacing",
    }  # fmt: skip


def test_smaller_models_say_what_they_do_not_use() -> None:
    vehicle, around = read(HALF).notes
    assert vehicle == (
        "given but not used by the half car: front_roll_centre, rear_roll_centre, body.roll_inertia, front.track, "
        "front.anti_roll_rate, rear.track, rear.anti_roll_rate, rear.axle_roll_inertia, rear.spring_spacing, "
        "rear.damper_spacing, rear.axle"
    )
    assert around == (
        "given but not used by the half car: left_of_centre of seats, left_of_centre of masses, tracks of roads"
    )
    quarter = changed(
        CORNER,
        ("[vehicle.front]", '[vehicle.front]\ntrack = 1.5\naxle = "independent"'),
        ('class = "B"', 'class = "B"\ntracks = "equal"'),
    )
    assert read(quarter).notes == (
        "given but not used by the front quarter car: front.track, front.axle",
        "given but not used by the quarter car: tracks of roads",
    )


def test_sides_bear_on_no_figure_of_a_half_car() -> None:
    bare = changed(
        HALF,
        ('left_of_centre = "0.38 m"\n', ""),
        ('left_of_centre = "-0.4 m"\n', ""),
        (', left_of_centre = "0.12 m"', ""),
        ('tracks = "isotropic"', 'tracks = "equal"'),
        (BEAM, ""),
        (ROLL_CENTRES, ""),
        ('\nroll_inertia = "580 kg*m^2"', ""),
        ('track = "1.55 m"\nanti_roll_rate = "12 N/mm"\n', ""),
        ('track = "1.53 m"\nanti_roll_rate = "2 N/mm"\n', ""),
    )
    assert figures_meaning(read(bare)) == figures_meaning(read(HALF))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (BEAM, ""),
        ('\nroll_inertia = "580', '\nroll_inertia = "581'),
        ('left_of_centre = "0.38', 'left_of_centre = "0.39'),
        ('left_of_centre = "0.12', 'left_of_centre = "-0.12'),
        ('tracks = "isotropic"', 'tracks = "equal"'),
        ('track = "1.53', 'track = "1.54'),
        ('anti_roll_rate = "2 ', 'anti_roll_rate = "3 '),
    ],
)
def test_every_side_bears_on_a_full_car(old: str, new: str) -> None:
    assert figures_digest(read(changed(FULL, (old, new)))) != figures_digest(read(FULL))


def test_unit_of_a_side_does_not_count() -> None:
    assert figures_digest(read(changed(FULL, ('"1.55 m"', "1.55")))) == figures_digest(read(FULL))


def test_everything_that_a_full_car_lacks_is_named_at_once() -> None:
    text = changed(
        FULL,
        ('\nroll_inertia = "580 kg*m^2"', ""),
        ('track = "1.55 m"\n', ""),
        ('track = "1.53 m"\n', ""),
        ('axle_roll_inertia = "42 kg*m^2"\n', ""),
    )
    mistakes = find(text)
    assert [mistake.key for mistake in mistakes] == [
        "vehicle.body.roll_inertia", "vehicle.front.track", "vehicle.rear.track", "vehicle.rear.axle_roll_inertia",
    ]  # fmt: skip
    assert [mistake.found for mistake in mistakes] == ["missing"] * 4
    assert [mistake.hint for mistake in mistakes] == ["a full car needs it"] * 3 + ["a beam needs it"]
    assert "kg*m^2 above 0" in mistakes[0].allowed
    assert read(changed(text, ('"full-car"', '"half-car"'))).model == "half-car"


@pytest.mark.parametrize("model", ["full-car", "half-car"])
def test_a_beams_keys_on_an_axle_that_is_none(model: str) -> None:
    mistakes = find(changed(FULL, ('axle = "beam"\n', ""), ('"full-car"', f'"{model}"')))
    assert {mistake.key.rpartition(".")[2] for mistake in mistakes} == {
        "axle_roll_inertia", "spring_spacing", "damper_spacing",
    }  # fmt: skip
    assert {mistake.allowed for mistake in mistakes} == {'axle = "beam" with it, or no such key'}


def test_unknown_word_for_an_axle_brings_no_other_mistakes() -> None:
    (mistake,) = find(changed(FULL, ('axle = "beam"', 'axle = "baem"')))
    assert (mistake.key, mistake.allowed) == ("vehicle.rear.axle", '"independent" or "beam"')
    assert mistake.hint == 'nearest: "beam"'


@pytest.mark.parametrize(
    ("old", "new", "key", "found"),
    [
        ('track = "1.55 m"', "track = 0", "vehicle.front.track", "0 is not above 0"),
        ('track = "1.55 m"', "track = { low = 1.4, high = 1.6 }", "vehicle.front.track", "a range stands here"),
        ('"12 N/mm"', '"-12 N/mm"', "vehicle.front.anti_roll_rate", '"-12 N/mm" is out of bounds'),
        ('"12 N/mm"', '"12 N*m/deg"', "vehicle.front.anti_roll_rate", '"12 N*m/deg" has the wrong unit'),
        ('"0.38 m"', '"left"', "seat[1].left_of_centre", '"left" does not start with a number'),
        (
            'left_of_centre = "0.12 m"',
            'left_of_centre = "12 kg"',
            "load[2].masses[2].left_of_centre",
            '"12 kg" has the wrong unit',
        ),
        ('"isotropic"', '"wide"', "road[1].tracks", '"wide" is not known here'),
        ('axle = "beam"', "axle = 1", "vehicle.rear.axle", "1 is not known here"),
    ],
)
def test_mistakes_with_their_keys(old: str, new: str, key: str, found: str) -> None:
    (mistake,) = find(changed(FULL, (old, new)))
    assert mistake.key == key
    assert found in mistake.found


def test_track_shapes_the_road() -> None:
    (mistake,) = find(changed(FULL, ('track = "1.53 m"', "track = { low = 1.4, high = 1.6 }")))
    assert "shapes the road at a wheel" in mistake.allowed


def test_tracks_are_a_random_roads() -> None:
    text = changed(FULL, ("[[condition]]", OBSTACLE + 'tracks = "equal"\n[[condition]]'))
    (mistake,) = find(text)
    assert (mistake.key, mistake.allowed) == ("road[2].tracks", 'with kind = "iso8608" only')


def test_springs_may_stand_outside_the_wheels() -> None:
    assert read(changed(FULL, ('"1.12 m"', '"1.7 m"'))).fixed["rear.spring_spacing"] == 1.7


VARIED = changed(
    FULL,
    ('anti_roll_rate = "12 N/mm"', 'anti_roll_rate = { low = "0 N/mm", high = "30 N/mm" }'),
    ('spring_spacing = "1.12 m"', 'spring_spacing = { low = "1 m", high = "1.2 m" }'),
    ('\nroll_inertia = "580 kg*m^2"', "\nroll_inertia = { low = 500, high = 600 }"),
    (
        "rear.unsprung_mass",
        'body.roll_inertia = 580\nfront.anti_roll_rate = "12 N/mm"\nrear.spring_spacing = 1.1\nrear.unsprung_mass',
    ),
)


def test_bars_inertia_and_spacing_may_vary() -> None:
    study = read(VARIED)
    varied = {variable.path for variable in study.variables}
    assert {"body.roll_inertia", "front.anti_roll_rate", "rear.spring_spacing"} <= varied
    assert not varied & set(study.fixed)
    found = find(changed(VARIED, ('"full-car"', '"half-car"')))
    assert {mistake.key for mistake in found} == {
        "vehicle.body.roll_inertia", "vehicle.front.anti_roll_rate", "vehicle.rear.spring_spacing",
    }  # fmt: skip
    assert all("changes nothing in this half car" in mistake.found for mistake in found)


def rolling(low: str, high: str) -> str:
    """Roll centres that vary about the ground, the rear one a multiple of the front one."""
    return changed(
        FULL,
        ('front_roll_centre = "60 mm"', f'front_roll_centre = {{ low = "{low}", high = "{high}" }}'),
        ('rear_roll_centre = "140 mm"', 'rear_roll_centre = { times = "front_roll_centre", low = 1.5, high = 3 }'),
        ('criterion = "frequency_ratio"\nat_least = 1.0\nat_most = 1.35', 'criterion = "roll_gradient"\nat_most = 0.1'),
        ("rear.unsprung_mass", 'front_roll_centre = "10 mm"\nrear_roll_centre = "20 mm"\nrear.unsprung_mass'),
    )


@pytest.mark.parametrize(("low", "high"), [("-40 mm", "60 mm"), ("-60 mm", "-20 mm"), ("20 mm", "60 mm")])
def test_roll_centres_may_lie_below_the_ground(low: str, high: str) -> None:
    """Bounds of a multiple are those of the designs that the cube decodes to."""
    study = replace(read(rolling(low, high)), present=None)
    d = len(study.variables)
    ends = np.array(np.meshgrid(*[[0.0, 1.0]] * d)).reshape(d, -1).T
    X = decode(study, ends)
    lowest, highest = bounds(study)
    assert X.min(axis=0) == pytest.approx(lowest, rel=1e-12)
    assert X.max(axis=0) == pytest.approx(highest, rel=1e-12)


def test_roll_centres_matter_to_the_roll_gradient_alone() -> None:
    text = changed(rolling("-40 mm", "60 mm"), ('"roll_gradient"', '"front_roll_share"'))
    assert {mistake.key for mistake in find(text)} == {"vehicle.front_roll_centre", "vehicle.rear_roll_centre"}
    assert all("no objective or constraint looks at" in mistake.found for mistake in find(text))
    (mistake,) = find(changed(FULL, (RESERVE, 'criterion = "roll_gradient"'), ('rear_roll_centre = "140 mm"\n', "")))
    assert (mistake.key, mistake.found) == ("objective[3].criterion", "roll_gradient needs vehicle.rear_roll_centre")


def test_criteria_of_roll_are_the_full_cars() -> None:
    for name in ("roll_angle", "roll_acceleration", "roll_gradient", "front_roll_share"):
        text = changed(FULL, (RESERVE, f'criterion = "{name}"'))
        (mistake,) = find(changed(text, ('"full-car"', '"half-car"')))
        assert mistake.found == f"a half-car has no {name}"
    assert read(changed(FULL, (RESERVE, 'criterion = "roll_angle"'))).objectives[2].measure.label == "roll_angle"


def labels(text: str) -> list[str]:
    return [measure.label for measure in read(text).measures][3:]


def test_an_axle_is_the_worse_of_its_wheels() -> None:
    limits = ('criterion = "frequency_ratio"\nat_least = 1.0', 'criterion = "unsprung_mass.front"\nat_least = 1.0')
    both = changed(FULL, limits)
    assert labels(both) == ["unsprung_mass.front (smallest)", "unsprung_mass.front"]
    assert labels(changed(both, ('"full-car"', '"half-car"'))) == ["unsprung_mass.front"]  # one wheel, one figure
    wheel = changed(both, ("unsprung_mass.front", "unsprung_mass.front_left"))
    assert labels(wheel) == ["unsprung_mass.front_left"]


def test_wheels_are_places_of_the_full_car() -> None:
    text = changed(FULL, (RESERVE, 'criterion = "bump_reserve.rear_left"'))
    assert read(text).objectives[2].measure.place == "rear_left"
    (mistake,) = find(changed(text, ('"full-car"', '"half-car"')))
    assert mistake.allowed == '"bump_reserve.front" or "bump_reserve.rear"'
    (mistake,) = find(changed(text, ("rear_left", "rear_lift")))
    assert mistake.hint == 'nearest: "rear_left"'


def test_a_wheel_needs_what_its_axle_gives() -> None:
    lacking = changed(FULL, ('bump_travel = "105 mm"\n', ""))
    (mistake,) = find(lacking)  # bump_reserve of every wheel
    assert mistake.found == "bump_reserve needs vehicle.front.bump_travel"
    assert read(changed(lacking, (RESERVE, 'criterion = "bump_reserve.rear_right"'))).objectives[2].sign == -1
    (mistake,) = find(changed(lacking, (RESERVE, 'criterion = "bump_reserve.front_right"')))
    assert "vehicle.front.bump_travel" in mistake.found


def test_a_wheel_looks_at_its_axles_travel() -> None:
    varied = changed(
        FULL,
        ('bump_travel = "105 mm"', 'bump_travel = { low = "90 mm", high = "120 mm" }'),
        ("rear.unsprung_mass", 'front.bump_travel = "105 mm"\nrear.unsprung_mass'),
    )
    assert read(changed(varied, (RESERVE, 'criterion = "bump_reserve.front_right"'))).notes == ()
    assert keys(changed(varied, (RESERVE, 'criterion = "bump_reserve.rear_right"'))) == ["vehicle.front.bump_travel"]


def test_an_axle_and_one_of_its_wheels_order_designs_differently() -> None:
    text = changed(
        FULL,
        (RESERVE, 'criterion = "travel_rms.front"\n[[objective]]\ncriterion = "travel_rms.front_left"'),
    )
    assert len(read(text).objectives) == 4
    twice = changed(text, ("travel_rms.front_left", "travel_rms.front"))
    assert keys(twice) == ["objective[4].criterion"]


def test_the_estate_that_ships_becomes_a_full_car_by_one_word(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "studies" / "estate.toml").read_text(encoding="utf-8")
    (tmp_path / "estate.toml").write_text(text.replace('"half-car"', '"full-car"'), encoding="utf-8")
    study = read_study(tmp_path / "estate.toml")
    assert study.model == "full-car"
    assert study.notes == ()

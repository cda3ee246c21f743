"""Which quantities each model needs and uses, in which alternatives; seats, loads, roads and conditions."""

from __future__ import annotations

import os

import pytest

from ridefront.road import CLASSES, Road
from ridefront.vehicle import Load, LoadMass, Seat
from study_texts import CORNER, ESTATE, changed, find, read

SHARES = 'wheelbase = "2.82 m"\nfront_share = 0.555                      # of the sprung weight\n'
MASS = 'mass = "1408 kg"\n'
CORNER_MASS = '[vehicle.body]\ncorner_mass = "300 kg"\n'


def keys(text: str) -> list[str]:
    return [mistake.key for mistake in find(text)]


def test_one_word_makes_a_quarter_car_of_a_half_car() -> None:
    text = changed(ESTATE, ('"half-car"', '"quarter-car"'), (' = { choices = ["42 kg", "58 kg"] }', ' = "42 kg"'))
    text = changed(
        text,
        ('spring_rate = { times = "front.spring_rate", low = 1.5, high = 3.5 }', 'spring_rate = "68 N/mm"'),
        ('damping = { low = "1200 N*s/m", high = "6000 N*s/m", step = "50 N*s/m" }', "damping = 3000"),
        ('criterion = "frequency_ratio"', 'criterion = "damping_ratio"'),
    )
    text = text[: text.index("[present]")]
    study = read(text)
    assert (study.model, study.corner) == ("quarter-car", "front")
    assert not any(path.startswith("rear.") or path == "body.pitch_inertia" for path in study.fixed)
    assert {"front_share", "body.mass", "wheelbase"} <= set(study.fixed)
    assert "rear.spring_rate" in study.given
    (unused, seats) = study.notes
    assert unused.startswith("given but not used by the front quarter car: body.pitch_inertia, rear.unsprung_mass")
    assert "seats" in seats


def test_range_that_the_model_does_not_use_is_refused() -> None:
    text = changed(ESTATE, ('"half-car"', '"quarter-car"'))
    found = keys(text)
    assert {"vehicle.rear.unsprung_mass", "vehicle.rear.spring_rate", "vehicle.rear.damping"} <= set(found)
    assert "vehicle.front.spring_rate" not in found


def test_corner_key_is_unused_in_a_half_car() -> None:
    text = changed(ESTATE, ('model = "half-car"', 'model = "half-car"\ncorner = "rear"'))
    assert read(text).notes == ("given but not used by the half car: corner",)


def test_axle_loads_replace_mass_and_share() -> None:
    text = changed(ESTATE, ("front_share = 0.555", 'kerb_axle_loads = ["870 kg", 710]'), (MASS, ""))
    study = read(text)
    assert (study.fixed["kerb_axle_loads.front"], study.fixed["kerb_axle_loads.rear"]) == (870.0, 710.0)
    assert "kerb_axle_loads" in study.given
    light = changed(text, ('["870 kg", 710]', '["870 kg", "116 kg"]'))
    assert keys(light) == ["vehicle.kerb_axle_loads[2]"]  # twice the heavier choice, 58 kg


def test_axle_loads_in_a_quarter_car_need_both_wheels() -> None:
    text = changed(CORNER, ("[vehicle.body]\ncorner_mass = ", "kerb_axle_loads = [870, 710]\n# "))
    assert keys(text) == ["vehicle.rear.unsprung_mass"]
    study = read(text + '[vehicle.rear]\nunsprung_mass = "42 kg"\n')
    assert study.fixed["rear.unsprung_mass"] == 42.0
    assert keys(text + "[vehicle.rear]\nunsprung_mass = { low = 30, high = 40 }\n") == ["vehicle.rear.unsprung_mass"]


def test_quarter_car_wants_a_mass_and_names_the_ways_to_it() -> None:
    mistakes = find(changed(CORNER, (CORNER_MASS, "")))
    assert [mistake.key for mistake in mistakes] == ["vehicle.body.mass", "vehicle.front_share"]
    assert all("corner_mass" in mistake.allowed and "kerb_axle_loads" in mistake.allowed for mistake in mistakes)


def test_quarter_car_needs_a_wheelbase_for_loads_only() -> None:
    load = '[[load]]\nname = "two"\nreference = true\nmasses = [{ mass = 150, behind_front_axle = 1.4 }]\n'
    assert keys(CORNER + load) == ["vehicle.wheelbase"]
    assert read(changed(CORNER, ('model = "quarter-car"', 'model = "quarter-car"\nwheelbase = 2.5')) + load).notes == ()


def test_defaults_are_filled_in_for_what_is_there() -> None:
    fixed = read(CORNER).fixed
    assert fixed["contact_patch"] == 0.0
    assert (fixed["front.spring_ratio"], fixed["front.damper_ratio"], fixed["front.bump_share"]) == (1.0, 1.0, 0.5)
    assert (fixed["front.friction"], fixed["front.friction_speed"], fixed["front.tyre_damping"]) == (0.0, 0.005, 0.0)
    assert not any("stop" in path or "knee" in path or path.startswith("rear.") for path in fixed)
    estate = read(ESTATE).fixed
    assert estate["front.bump_stop_progression"] == 0.0
    assert "front.rebound_stop_progression" not in estate


def test_range_takes_the_place_of_a_default() -> None:
    study = read(changed(CORNER, ("damping = ", "bump_share = { low = 0.3, high = 0.5 }\ndamping = ")))
    assert [variable.path for variable in study.variables] == ["front.spring_rate", "front.bump_share"]
    assert "front.bump_share" not in study.fixed


def test_highest_multiple_counts_against_axle_loads() -> None:
    text = changed(
        ESTATE,
        ("front_share = 0.555", "kerb_axle_loads = [870, 170]"),
        (MASS, ""),
        ('unsprung_mass = "44 kg"', "unsprung_mass = { low = 40, high = 44 }"),
        ('{ choices = ["42 kg", "58 kg"] }', '{ times = "front.unsprung_mass", low = 0.5, high = 2 }'),
        ("rear.unsprung_mass = ", "front.unsprung_mass = 44\nrear.unsprung_mass = "),
    )
    (mistake,) = find(text)
    assert (mistake.key, mistake.allowed) == ("vehicle.kerb_axle_loads[2]", "more than 176 kg")
    assert read(changed(text, ("[870, 170]", "[870, 177]"))).variables[3].times == "front.unsprung_mass"


def test_slopes_each_way_replace_damping() -> None:
    study = read(changed(CORNER, ('damping = "2000 N*s/m"', "damping_bump = 1500\ndamping_rebound = 3000")))
    assert "front.damping" not in study.fixed
    assert "front.bump_share" not in study.fixed
    mixed = changed(CORNER, ('damping = "2000 N*s/m"', "damping_bump = 1500\ndamping_rebound = 3000\nbump_share = 0.3"))
    assert set(keys(mixed)) == {"vehicle.front.damping_bump", "vehicle.front.damping_rebound"}


def test_knee_one_way_only() -> None:
    study = read(
        changed(CORNER, ("damping = ", 'knee_speed_rebound = "0.1 m/s"\nknee_share_rebound = 0.4\ndamping = '))
    )
    assert study.fixed["front.knee_speed_rebound"] == 0.1


def test_quantity_that_a_criterion_needs() -> None:
    lacking = changed(ESTATE, ('rebound_travel = "95 mm"\n', ""), ('"bump_reserve"', '"rebound_reserve"'))
    (mistake,) = find(lacking)
    assert mistake.key == "objective[3].criterion"
    assert "vehicle.rear.rebound_travel" in mistake.found
    assert read(changed(lacking, ('"rebound_reserve"', '"rebound_reserve.front"'))).objectives[2].sign == -1


def test_height_of_the_seats_that_count() -> None:
    text = changed(
        ESTATE,
        ('behind_front_axle = "1.40 m"\n[[seat]]', 'behind_front_axle = "1.40 m"\nheight = "0.6 m"\n[[seat]]'),
        ('"bump_reserve"', '"comfort_total"'),
        ("front_share = 0.555", 'front_share = 0.555\nmass_centre_height = "0.58 m"'),
    )
    (mistake,) = find(text)
    assert 'height of seat "back seat"' in mistake.found
    assert read(changed(text, ('"comfort_total"', '"comfort_total.driver"'))).seats[0].height == 0.6


def test_seats_and_loads() -> None:
    study = read(ESTATE)
    assert study.seats == (Seat("driver", 1.4), Seat("back seat", 2.28))
    assert study.loads == (
        Load("two up", (LoadMass(150.0, 1.4),), True),
        Load("gross", (LoadMass(150.0, 1.4), LoadMass(415.0, 2.75))),
    )
    assert study.reference == 0


def test_no_load_means_the_body_as_given() -> None:
    study = read(CORNER)
    assert study.loads == (Load("", reference=True),)
    assert [condition.name for condition in study.conditions] == ["B @ 20.0 m/s"]


def test_loads_without_a_mark_refer_to_the_body_as_given() -> None:
    study = read(changed(ESTATE, ("reference = true\n", ""), ('load = ["two up", "gross"]', 'load = "gross"')))
    assert study.loads[2] == Load("kerb", reference=True)
    assert study.reference == 2
    unnamed = read(changed(ESTATE, ("reference = true\n", ""), ('load = ["two up", "gross"]', "")))
    assert [condition.load for condition in unnamed.conditions] == [2, 2]
    assert unnamed.conditions[0].name == "country road @ 60 km/h, kerb"


def test_empty_load_called_kerb_is_the_body_as_given() -> None:
    text = changed(ESTATE, ("reference = true\n", ""), ("[[road]]", '[[load]]\nname = "kerb"\n[[road]]'))
    assert read(text).reference == 2
    assert len(read(text).loads) == 3
    loaded = changed(text, ('name = "kerb"', 'name = "kerb"\nmasses = [{ mass = 80, behind_front_axle = 1 }]'))
    assert keys(loaded) == ["load[3].name"]


def test_roads() -> None:
    assert read(ESTATE).roads == (Road("country road", CLASSES["B"]),)
    text = changed(
        ESTATE, ('class = "B"', 'roughness = "40 cm^3"\nwaviness = 2.2\nband = [0.02, "2 cycles/m"]\nlength = "2 km"')
    )
    assert read(text).roads == (Road("country road", 40e-6, 2.2, (0.02, 2.0), 2000.0),)


def test_conditions_share_their_weight() -> None:
    conditions = read(changed(ESTATE, ("weight = 1.0", "weight = 0.9"))).conditions
    assert [condition.name for condition in conditions] == [
        "country road @ 60 km/h, two up", "country road @ 60 km/h, gross",
        "country road @ 90 km/h, two up", "country road @ 90 km/h, gross",
    ]  # fmt: skip
    assert [condition.weight for condition in conditions] == [0.225] * 4
    assert [condition.speed for condition in conditions[::2]] == [60 / 3.6, 25.0]


def test_speeds_are_compared_as_speeds() -> None:
    speeds = '["60 km/h", "90 km/h"]'
    assert keys(changed(ESTATE, (speeds, '["90 km/h", 25]'))) == ["condition[1]", "condition[1]"]
    assert len(read(changed(ESTATE, (speeds, '["25 km/h", 25]'))).conditions) == 4


def test_names_may_hold_any_characters() -> None:
    odd = 'Zufahrt "Süd", 3.5 % @ Tor'
    text = ESTATE.replace('"country road"', f"'{odd}'").replace('"driver"', '"driver.left"')
    study = read(changed(text, ('"comfort"', '"comfort.driver.left"')))
    assert study.conditions[0].name == f"{odd} @ 60 km/h, two up"
    assert study.objectives[0].measure.place == "driver.left"


def test_study_without_a_range_has_nothing_to_choose() -> None:
    (mistake,) = find(changed(CORNER, ('{ low = "14 N/mm", high = "36 N/mm" }', '"20 N/mm"')))
    assert (mistake.key, mistake.allowed) == ("vehicle", "at least one range")


def test_settings_and_their_defaults() -> None:
    study = read(CORNER)
    assert (study.search.sample, study.search.population, study.search.generations) == (2048, 100, 30)
    assert (study.seed, study.linearisation, study.title) == (0, "statistical", "study")
    assert study.workers == len(os.sched_getaffinity(0))
    given = read('linearisation = "at-rest"\n' + CORNER + "[compute]\nworkers = 3\n[search]\ngenerations = 0\n")
    assert (given.linearisation, given.workers, given.search.generations) == ("at-rest", 3, 0)


@pytest.mark.parametrize("text", [ESTATE, CORNER])
def test_study_keeps_its_text(text: str) -> None:
    assert read(text).text == text.encode()

"""Every kind of mistake: the key it is at, what was found, what is allowed or was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridefront.errors import StudyError
from ridefront.study import read_study
from study_texts import CORNER, ESTATE, changed, find, read

F_SPRING = 'spring_rate = { low = "16 N/mm", high = "40 N/mm" }'
R_SPRING = 'spring_rate = { times = "front.spring_rate", low = 1.5, high = 3.5 }'
R_MASS = 'unsprung_mass = { choices = ["42 kg", "58 kg"] }'
F_MASS = 'unsprung_mass = "44 kg"'
F_FRICTION = 'friction = "50 N"'
FIRST_SEAT = 'name = "driver"\nbehind_front_axle = "1.40 m"'
CONSTRAINT = 'criterion = "frequency_ratio"\nat_least = 1.0\nat_most = 1.35'

QUANTITIES = [
    ("wrong unit", F_MASS, 'unsprung_mass = "44 N"', "vehicle.front.unsprung_mass", '"44 N" has the wrong unit', "kg"),
    ("unknown unit", F_MASS, 'unsprung_mass = "44 kilogramm"', "vehicle.front.unsprung_mass", "not a known unit",
     "kilogram"),
    ("no number", F_MASS, 'unsprung_mass = "heavy"', "vehicle.front.unsprung_mass", "does not start with a number",
     "44 kg"),
    ("zero mass", 'mass = "1408 kg"', "mass = 0", "vehicle.body.mass", "0 is not above 0", "above 0"),
    ("negative mass", 'mass = "1408 kg"', 'mass = "-5 kg"', "vehicle.body.mass", "is not above 0", "above 0"),
    ("true for a number", F_FRICTION, "friction = true", "vehicle.front.friction", "true is not a quantity", "N"),
    ("a list", F_FRICTION, "friction = [1, 2]", "vehicle.front.friction", "[1, 2] is not a quantity", "N"),
    ("negative friction", F_FRICTION, "friction = -1.0", "vehicle.front.friction", "out of bounds", "0 or above"),
    ("not finite", F_FRICTION, "friction = inf", "vehicle.front.friction", "not a finite number", "N"),
    ("not a number", F_FRICTION, "friction = nan", "vehicle.front.friction", "not a finite number", "N"),
    ("beyond measure", F_FRICTION, "friction = 1e999999", "vehicle.front.friction", "beyond all measure", "N"),
    ("large whole", F_FRICTION, f"friction = 1{'0' * 200}", "vehicle.front.friction", "beyond all measure", "N"),
    ("share above 1", "front_share = 0.555", "front_share = 55.5", "vehicle.front_share", "out of bounds", "between 0"),
    ("an angle", "front_share = 0.555", 'front_share = "1 deg"', "vehicle.front_share", "wrong unit", "between 0"),
]  # fmt: skip
RANGES = [
    ("reversed", F_SPRING, 'spring_rate = { low = "40 N/mm", high = "16 N/mm" }', "vehicle.front.spring_rate",
     'reversed: low is above high ("40 N/mm" to "16 N/mm")', "low below high"),
    ("empty", F_SPRING, 'spring_rate = { low = "40 N/mm", high = "40000 N/m" }', "vehicle.front.spring_rate",
     "empty", "needs no range"),
    ("one end", F_SPRING, 'spring_rate = { low = "16 N/mm" }', "vehicle.front.spring_rate.high", "missing",
     "low, high"),
    ("negative end", F_SPRING, 'spring_rate = { low = "-1 N/mm", high = "4 N/mm" }', "vehicle.front.spring_rate.low",
     "not above 0", "N/m"),
    ("unknown key", F_SPRING, 'spring_rate = { low = 1, hgh = 2 }', "vehicle.front.spring_rate.hgh", "unknown key",
     '"high"'),
    ("unknown scale", F_SPRING, 'spring_rate = { low = 1, high = 2, scale = "lg" }', "vehicle.front.spring_rate.scale",
     '"lg" is not known here', '"log"'),
    ("log from 0", F_FRICTION, 'friction = { low = 0, high = "50 N", scale = "log" }', "vehicle.front.friction.low",
     "0 with a log scale", "above 0"),
    ("step too long", F_SPRING, 'spring_rate = { low = "16 N/mm", high = "40 N/mm", step = "5 N/mm" }',
     "vehicle.front.spring_rate.high", "not a whole number of steps", "36 N/mm or 41 N/mm"),
    ("step of another kind", F_SPRING, 'spring_rate = { low = "16 N/mm", high = "40 N/mm", step = "1 mm" }',
     "vehicle.front.spring_rate.step", "wrong unit", "N/m"),
    ("step 0", F_SPRING, "spring_rate = { low = 1, high = 2, step = 0 }", "vehicle.front.spring_rate.step",
     "not above 0", "N/m"),
    ("step too fine", F_SPRING, "spring_rate = { low = 1, high = 2, step = 1e-9 }", "vehicle.front.spring_rate.step",
     "more than 100000 steps", "coarser"),
    ("step and log", F_SPRING, 'spring_rate = { low = 1, high = 2, step = 1, scale = "log" }',
     "vehicle.front.spring_rate.step", "given with a log scale", "one of the two"),
    ("one choice", R_MASS, 'unsprung_mass = { choices = ["42 kg"] }', "vehicle.rear.unsprung_mass.choices",
     '["42 kg"] stands here', "at least two"),
    ("choice twice", R_MASS, 'unsprung_mass = { choices = ["42 kg", "42000 g"] }',
     "vehicle.rear.unsprung_mass.choices", "a value twice", "once"),
    ("bad choice", R_MASS, 'unsprung_mass = { choices = ["42 kg", "58 N"] }', "vehicle.rear.unsprung_mass.choices[2]",
     "wrong unit", "kg"),
    ("choices and low", R_MASS, "unsprung_mass = { choices = [1, 2], low = 3 }", "vehicle.rear.unsprung_mass.low",
     "beside choices", "low, high"),
    ("times unknown", R_SPRING, 'spring_rate = { times = "front.spring_rat", low = 1, high = 3 }',
     "vehicle.rear.spring_rate.times", 'no quantity is called "front.spring_rat"', '"front.spring_rate"'),
    ("times itself", R_SPRING, 'spring_rate = { times = "rear.spring_rate", low = 1, high = 3 }',
     "vehicle.rear.spring_rate.times", "the quantity itself", "front.spring_rate"),
    ("times fixed", R_SPRING, 'spring_rate = { times = "front.tyre_rate", low = 1, high = 3 }',
     "vehicle.rear.spring_rate.times", "has no range", "front.spring_rate"),
    ("times other kind", R_SPRING, 'spring_rate = { times = "front.damping", low = 1, high = 3 }',
     "vehicle.rear.spring_rate.times", "measured in N*s/m", "N/m"),
    ("times with a unit", R_SPRING, 'spring_rate = { times = "front.spring_rate", low = "1 N/mm", high = 3 }',
     "vehicle.rear.spring_rate.low", "wrong unit", "a number above 0"),
    ("times with steps", R_SPRING, 'spring_rate = { times = "front.spring_rate", low = 1, high = 3, step = 1 }',
     "vehicle.rear.spring_rate.step", "beside times", "low, high"),
    ("wheelbase", 'wheelbase = "2.82 m"', "wheelbase = { low = 2, high = 3 }", "vehicle.wheelbase", "a range",
     "one value"),
    ("no criterion looks", 'rebound_travel = "95 mm"', "rebound_travel = { low = 0.1, high = 0.2 }",
     "vehicle.rear.rebound_travel", "no objective or constraint looks at", "rebound_reserve"),
    ("nothing to turn round", F_FRICTION, "friction_speed = { low = 0.001, high = 0.01 }",
     "vehicle.front.friction_speed", "changes nothing", "plain value"),
]  # fmt: skip
VEHICLE = [
    ("unknown key", F_MASS, 'unsprung_mas = "44 kg"', "vehicle.front.unsprung_mas", "unknown key", '"unsprung_mass"'),
    ("unknown section", "[vehicle.body]", "[vehicle.bodi]", "vehicle.bodi", "unknown key", '"body"'),
    ("model", '"half-car"', '"truck"', "vehicle.model", '"truck" is not known', 'or "full-car"'),
    ("corner", 'model = "half-car"', 'model = "half-car"\ncorner = "left"', "vehicle.corner", '"left"', '"rear"'),
    ("missing mass", 'mass = "1408 kg"\n', "", "vehicle.body.mass", "missing", "kerb_axle_loads"),
    ("missing share", "front_share = 0.555", "", "vehicle.front_share", "missing", "front_axle_to_mass_centre"),
    ("missing inertia", 'pitch_inertia = "2550 kg*m^2"\n', "", "vehicle.body.pitch_inertia", "missing",
     "dynamic_index"),
    ("two inertias", 'mass = "1408 kg"', 'mass = "1408 kg"\ndynamic_index = 0.9', "vehicle.body.dynamic_index",
     "beside body.pitch_inertia", "one of the two"),
    ("missing wheelbase", 'wheelbase = "2.82 m"\n', "", "vehicle.wheelbase", "missing", "m"),
    ("missing rate", F_SPRING, "", "vehicle.front.spring_rate", "missing", "22 N/mm"),
    ("centre beyond the axles", "front_share = 0.555", 'front_axle_to_mass_centre = "2.9 m"',
     "vehicle.front_axle_to_mass_centre", "not between the axles", "2.82 m"),
    ("range beyond the axles", "front_share = 0.555", 'front_axle_to_mass_centre = { low = "1 m", high = "3 m" }',
     "vehicle.front_axle_to_mass_centre", "not between the axles", "2.82 m"),
    ("two ways to the centre", "front_share = 0.555", "front_share = 0.555\nfront_axle_to_mass_centre = 1.2",
     "vehicle.front_axle_to_mass_centre", "beside front_share", "one of the two"),
    ("scales and mass", "front_share = 0.555", 'kerb_axle_loads = ["870 kg", "710 kg"]', "vehicle.body.mass",
     "beside kerb_axle_loads", "or kerb_axle_loads"),
    ("half a knee", 'knee_speed = "0.13 m/s"\nknee_share = 0.35\n', 'knee_speed = "0.13 m/s"\n',
     "vehicle.front.knee_share", "missing", "go together"),
    ("two knees", "knee_share = 0.35\n", "knee_share = 0.35\nknee_speed_bump = 0.1\nknee_share_bump = 0.5\n",
     "vehicle.front.knee_speed_bump", "beside the knee for both ways", "each way"),
    ("half a stop", 'bump_clearance = "50 mm"\n', "", "vehicle.front.bump_clearance", "missing", "go together"),
    ("progression alone", "knee_share = 0.35\n", "knee_share = 0.35\nrebound_stop_progression = 1.0\n",
     "vehicle.front.rebound_stop_progression", "without the stop", "rebound_stop_rate"),
    ("half a damper", 'damping = { low = "1200 N*s/m", high = "6000 N*s/m", scale = "log" }', "damping_bump = 1500",
     "vehicle.front.damping_rebound", "missing", "go together"),
    ("two dampers", "bump_share = 0.32", "damping_rebound = 1500", "vehicle.front.damping_rebound",
     "beside damping", "damping_bump"),
    ("not a table", '[vehicle.body]\nmass = "1408 kg"\npitch_inertia = "2550 kg*m^2"\n', "body = 3\n", "vehicle.body",
     "3 stands here", "a table"),
]  # fmt: skip
AROUND = [
    ("unknown road", 'road = "country road"', 'road = "country lane"', "condition[1].road",
     'no road is called "country lane"', '"country road"'),
    ("unknown load", 'load = ["two up", "gross"]', 'load = ["two up", "grss"]', "condition[1].load[2]",
     'no load is called "grss"', '"gross"'),
    ("load twice", 'load = ["two up", "gross"]', 'load = ["gross", "gross"]', "condition[1].load", "twice", "once"),
    ("speed", '"90 km/h"]', '"90 km"]', "condition[1].speed[2]", "wrong unit", "m/s"),
    ("no speed", 'speed = ["60 km/h", "90 km/h"]', "speed = []", "condition[1].speed", "an empty list", "m/s"),
    ("same condition", '"90 km/h"]', '"60.0 km/h"]', "condition[1]", "is there already", "once"),
    ("weight", "weight = 1.0", "weight = 0", "condition[1].weight", "not above 0", "above 0"),
    ("class", 'class = "B"', 'class = "I"', "road[1].class", '"I"', '"H"'),
    ("no class", 'class = "B"', "", "road[1].class", "missing", "roughness"),
    ("class and roughness", 'class = "B"', 'class = "B"\nroughness = 1e-5', "road[1].roughness", "beside class",
     "class, or roughness"),
    ("band", 'class = "B"', 'class = "B"\nband = [2.83, 0.011]', "road[1].band", "not in order", "lowest"),
    ("half a band", 'class = "B"', 'class = "B"\nband = [2.83]', "road[1].band", "[2.83] stands here", "two"),
    ("kind", 'kind = "iso8608"', 'kind = "iso"', "road[1].kind", '"iso" is not known', '"iso8608"'),
    ("key of a later version", 'class = "B"', 'class = "B"\ngrip = "wet"', "road[1].grip", "unknown key",
     "keys name"),
    ("second reference", 'name = "gross"', 'name = "gross"\nreference = true', "load[2].reference", "second reference",
     "one load"),
    ("reference word", "reference = true", 'reference = "yes"', "load[1].reference", '"yes" stands here', "true or"),
    ("load's mass", 'masses = [ { mass = "150 kg", behind_front_axle = "1.40 m" } ]', "masses = [ { mass = 3 } ]",
     "load[1].masses[1].behind_front_axle", "missing", "m"),
    ("same load", 'name = "gross"', 'name = "gross"\n[[load]]\nname = "two up"', "load[3].name",
     'a second load is called "two up"', "once"),
    ("same seat", 'name = "back seat"', 'name = "driver"', "seat[2].name", 'a second seat is called "driver"', "once"),
    ("nameless seat", FIRST_SEAT, 'name = " "\nbehind_front_axle = 1', "seat[1].name", '" " stands here', "not empty"),
    ("seat that hides a place", FIRST_SEAT, 'name = "body"\nbehind_front_axle = 1', "seat[1].name",
     '"body" is a place of its own', "any other"),
]  # fmt: skip
ASKED = [
    ("criterion", '"comfort"', '"comfrt"', "objective[1].criterion", 'no criterion is called "comfrt"', '"comfort"'),
    ("place", '"comfort"', '"comfort.diver"', "objective[1].criterion", "no such place", '"driver"'),
    ("corner for a seat", '"comfort"', '"comfort.front"', "objective[1].criterion", "no such place", "comfort.driver"),
    ("place of none", '"frequency_ratio"', '"frequency_ratio.front"', "constraint[1].criterion", "no such place",
     "no places"),
    ("no sense", '"bump_reserve"', '"ride_frequency"', "objective[3].criterion", "neither large nor small",
     "[[constraint]]"),
    ("alike", '"bump_reserve"', '"comfort"\nunit = "m/s^2"', "objective[3].criterion", "as objective[1] does",
     "differ"),
    ("alike by another name", '"bump_reserve"', '"wheel_lift_off"', "objective[3].criterion", "as objective[2] does",
     "differ"),
    ("needs a height", '"comfort"', '"comfort_total"', "objective[1].criterion", 'height of seat "driver"', "give it"),
    ("needs travel", '"bump_reserve"', '"bump_reserve.rear"\n[vehicle.rea]\nx = 1', "vehicle.rea", "unknown key",
     '"rear"'),
    ("over", 'over = "worst"', 'over = "sum"', "objective[2].over", '"sum"', '"mean", "rms" or "worst"'),
    ("rms of a reserve", '"bump_reserve"', '"bump_reserve"\nover = "rms"', "objective[3].over", "may be negative",
     '"mean" or "worst"'),
    ("unit", '"bump_reserve"', '"bump_reserve"\nunit = "N"', "objective[3].unit", "not a unit of bump_reserve", '"mm"'),
    ("unknown unit", '"bump_reserve"', '"bump_reserve"\nunit = "mmm"', "objective[3].unit", "not a known unit", '"mm"'),
    ("unknown road", CONSTRAINT, 'criterion = "damping_ratio"\nroad = "lane"\nat_least = 0.2', "constraint[1].road",
     'no road is called "lane"', '"country road"'),
    ("road at rest", "at_least = 1.0", 'at_least = 1.0\nroad = "country road"', "constraint[1].road",
     "needs no road", "no such key"),
    ("no limit", "at_least = 1.0\nat_most = 1.35", "", "constraint[1]", "no limit", "at_least, at_most or both"),
    ("reversed limits", "at_least = 1.0", "at_least = 1.5", "constraint[1].at_least", "not below at_most", "below"),
    ("limit's unit", "at_least = 1.0", 'at_least = "1 Hz"', "constraint[1].at_least", "wrong unit", "a number"),
    ("plain limit beside a unit", CONSTRAINT, 'criterion = "rattle_space"\nunit = "mm"\nat_most = 80',
     "constraint[1].at_most", "might be either", '"80 mm"'),
]  # fmt: skip
REST = [
    ("top", 'title = "Light', 'titel = "Light', "titel", "unknown key", '"title"'),
    ("section", "[search]", "[serch]", "serch", "unknown key", '"search"'),
    ("key of a later version", "generations = 120", "generations = 120\npolish = true", "search.polish", "unknown key",
     "keys sample"),
    ("seed", "seed = 7", "seed = -7", "seed", "-7 stands here", "from 0 to"),
    ("seed of true", "seed = 7", "seed = true", "seed", "true stands here", "whole number"),
    ("response", '"frequency-domain"', '"time domain"', "response", '"time domain"', '"time-domain"'),
    ("generations of another response", "generations = 120", "generations = 120\nsimulated_generations = 5",
     "search.simulated_generations", 'given with response = "frequency-domain"', 'response = "auto"'),
    ("title", '"Light estate, first springs and dampers"', "3", "title", "3 stands here", "text"),
    ("sample", "sample = 4096", "sample = 5000", "search.sample", "not a power of two", "nearest: 4096"),
    ("sample above", "sample = 4096", "sample = 7000", "search.sample", "not a power of two", "nearest: 8192"),
    ("population", "population = 200", "population = 7", "search.population", "not even", "nearest: 8"),
    ("small population", "population = 200", "population = 2", "search.population", "2 stands here", "from 4 to"),
    ("large sample", "sample = 4096", "sample = 1073741824", "search.sample", "1073741824 stands here", "16777216"),
    ("generations", "generations = 120", "generations = 1.5", "search.generations", "1.5 stands here", "from 0 to"),
    ("workers", 'workers = "all"', 'workers = "many"', "compute.workers", '"many" stands here', "whole number"),
    ("no workers", 'workers = "all"', "workers = 0", "compute.workers", "0 stands here", '"all"'),
    ("present leaves out", 'front.damping = "2900 N*s/m"\n', "", "present.front.damping", "missing", "every quantity"),
    ("present sets a fixed one", 'front.damping = "2900 N*s/m"', 'front.damping = 2900\nfront.friction = "40 N"',
     "present.front.friction", "no range", '"front.spring_rate"'),
    ("present misspelt", 'front.damping = "2900 N*s/m"', 'front.damping = 2900\nfront.dampng = 2900',
     "present.front.dampng", "no quantity is called so", '"front.damping"'),
    ("present unit", 'front.damping = "2900 N*s/m"', 'front.damping = "2900 N"', "present.front.damping", "wrong unit",
     "N*s/m"),
]  # fmt: skip
CASES = [
    pytest.param(old, new, key, found, allowed, id=f"{group}: {name}")
    for group, cases in (
        ("quantity", QUANTITIES),
        ("range", RANGES),
        ("vehicle", VEHICLE),
        ("around", AROUND),
        ("asked", ASKED),
        ("rest", REST),
    )
    for name, old, new, key, found, allowed in cases
]


@pytest.mark.parametrize(("old", "new", "key", "found", "allowed"), CASES)
def test_mistake_is_at_its_key(old: str, new: str, key: str, found: str, allowed: str) -> None:
    mistakes = find(changed(ESTATE, (old, new)))
    at_key = [mistake for mistake in mistakes if mistake.key == key]
    assert at_key, [mistake.key for mistake in mistakes]
    lines = [mistake.line("study.toml") for mistake in at_key]
    assert any(found in line and allowed in line for line in lines), lines
    assert all(line.startswith(f"study.toml: {key}: ") and "\n" not in line for line in lines)


@pytest.mark.parametrize(("old", "new", "key", "found", "allowed"), CASES)
def test_one_mistake_does_not_cry_wolf(old: str, new: str, key: str, found: str, allowed: str) -> None:
    tops = {mistake.key.split(".")[0].split("[")[0] for mistake in find(changed(ESTATE, (old, new)))}
    top = key.split(".")[0].split("[")[0]
    assert tops - {top} <= ({"present"} if top == "vehicle" else set()), tops


def test_the_studies_are_right() -> None:
    assert read(ESTATE).notes == ()
    assert read(CORNER).notes == ()


def test_all_mistakes_at_once_in_the_order_of_the_file() -> None:
    text = changed(
        ESTATE,
        ("seed = 7", "seed = 0.5"),
        (F_MASS, 'unsprung_mass = "44 N"'),
        ('mass = "1408 kg"', "mass = 0"),
        ('name = "back seat"', 'name = "front"'),
        ('class = "B"', 'class = "Z"'),
        ('"comfort"', '"comfrt"'),
        ('"frequency_ratio"', '"frequency"'),
        ("sample = 4096", "sample = 3"),
        ("front.damping = ", "front.dampng = "),
    )
    keys = [mistake.key for mistake in find(text)]
    assert [key.split(".")[0] for key in keys] == [
        "seed", "vehicle", "vehicle", "seat[2]", "road[1]", "objective[1]", "constraint[1]", "present", "present",
        "search",
    ]  # fmt: skip
    with pytest.raises(StudyError) as caught:
        read(text)
    assert str(caught.value).count("\n") == len(keys) - 1


@pytest.mark.parametrize("section", ["vehicle", "road", "condition", "objective"])
def test_missing_section_is_missed(section: str) -> None:
    kept = [part for part in ESTATE.split("\n[") if not part.lstrip("[").startswith(section)]
    mistakes = find("\n[".join(kept))
    assert any(mistake.key == section and mistake.found == "missing" for mistake in mistakes)


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "empty"),
        (b" \n\t\n", "empty"),
        (b"\x89PNG\r\n\x1a\n\x00\xff", "not a text: line 1 is not UTF-8"),
        (b"seed = 1\n\n\xff", "not a text: line 3 is not UTF-8"),
        (b"seed = 1\ntitle = \n", "line 2"),
        (b"PAR1\x00\x15\x04", "not TOML"),
        (b"seed = 1\nseed = 2\n", "not TOML"),
        (b"a = " + b"[" * 5000, "not TOML"),
        (b"a = " + b"9" * 5000, "not TOML"),
        (b"#" * (4 * 2**20 + 1), "too large"),
    ],
    ids=["empty", "blank", "binary", "not utf-8", "not toml", "parquet", "twice", "deep", "digits", "large"],
)
def test_file_that_is_no_study(content: bytes, found: str) -> None:
    (mistake,) = find(content)
    assert mistake.key == ""
    assert found in mistake.found


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"none\.toml: no such file"):
        read_study(tmp_path / "none.toml")
    with pytest.raises(StudyError, match="not a file"):
        read_study(tmp_path)


def test_byte_order_mark_and_windows_lines_are_read() -> None:
    assert read(b"\xef\xbb\xbf" + ESTATE.replace("\n", "\r\n").encode()).seed == 7

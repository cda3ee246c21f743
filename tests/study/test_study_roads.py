"""Roads of every kind in the study file: what is read, and every mistake at its key."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridefront.errors import Mistake, StudyError
from ridefront.report.at_rest import conditions
from ridefront.report.doubts import doubts
from ridefront.report.roads import in_words
from ridefront.road import CLASSES, KINDS, SHAPES, Obstacle, Road, Size
from ridefront.study.digest import figures_digest, figures_meaning
from ridefront.study.keys import SECTIONS
from study_texts import CORNER, ESTATE, changed, find, read

RANDOM = 'kind = "iso8608"\nclass = "B"'
HUMP = 'kind = "obstacle"\nshape = "arc"\nheight = "75 mm"\nlength = "3.7 m"'
TABLE = 'kind = "obstacle"\nshape = "flat-top"\nheight = "75 mm"\nlength = "4 m"\ntop = "2.5 m"'
KERB = 'kind = "obstacle"\nshape = "step"\nheight = "-10 cm"'
STRIPS = 'kind = "obstacle"\nshape = "cleat"\nheight = "20 mm"\nlength = "50 mm"\ncount = 12\nspacing = "3 m"'
MIXED = """kind = "obstacle"
shape = "versine"
count = 12
spacing = "8 m"
lead = 2
run_out = "30 m"
side = "left"
realisations = 3
sizes = [ { height = "-30 mm", length = "0.6 m" }, { height = -0.05, length = "1 m" } ]"""


TRAVEL = changed(CORNER, ('"comfort"', '"rattle_space"'))
"""A corner of which a figure is asked that any road has."""

CAR = changed(
    ESTATE,
    ('"comfort"', '"comfort"\nroad = "country road"'),
    ('"dynamic_load_coefficient"', '"dynamic_load_coefficient"\nroad = "country road"'),
)
"""A car whose rms figures are asked on its random road only, so that others may be added."""


def on(road: str) -> str:
    """A corner's study on that road."""
    return changed(TRAVEL, (RANDOM, road))


@pytest.mark.parametrize(
    ("text", "road"),
    [
        (RANDOM, Road("B", CLASSES["B"])),
        (RANDOM + "\nrealisations = 4096\nlength = 20", Road("B", CLASSES["B"], length=20.0, realisations=4096)),
        (HUMP, Obstacle("B", "arc", 0.075, 3.7)),
        (TABLE + '\nlead = 0\nroad_length = "40 m"', Obstacle("B", "flat-top", 0.075, 4.0, 2.5, 0.0, road_length=40.0)),
        (KERB + '\nside = "right"\nrun_out = 25', Obstacle("B", "step", -0.1, run_out=25.0, side="right")),
        (STRIPS, Obstacle("B", "cleat", 0.02, 0.05, count=12, spacing=3.0)),
        (
            MIXED,
            Obstacle(
                "B", "versine", lead=2.0, run_out=30.0, count=12, spacing=8.0, side="left", realisations=3,
                sizes=(Size(-0.03, 0.6), Size(-0.05, 1.0)),
            ),
        ),
    ],
    ids=["random", "short random", "hump", "table", "kerb", "strips", "mixed"],
)  # fmt: skip
def test_what_is_read(text: str, road: Road | Obstacle) -> None:
    assert read(on(text)).roads == (road,)


def test_limits_are_within() -> None:
    """Obstacles that touch, an arc that is half a circle, and a road that ends with its obstacle."""
    touching = read(on('kind = "obstacle"\nshape = "arc"\nheight = 0.1\nlength = 0.2\ncount = 2\nspacing = "20 cm"'))
    assert touching.roads == (Obstacle("B", "arc", 0.1, 0.2, count=2, spacing=0.2),)
    ending = read(on(HUMP + '\nroad_length = "2470 cm"'))
    assert ending.roads == (Obstacle("B", "arc", 0.075, 3.7, road_length=24.7),)


def test_tables_of_words_are_those_of_the_roads() -> None:
    assert SECTIONS["road"]["shape"].words == tuple(SHAPES)
    assert SECTIONS["road"]["kind"].words == tuple(KINDS)
    assert SECTIONS["road"]["class"].words == tuple(CLASSES)


def test_roads_keep_their_order() -> None:
    text = changed(TRAVEL, ('[[road]]\nname = "B"', f'[[road]]\nname = "hump"\n{HUMP}\n[[road]]\nname = "B"'))
    text += '[[road]]\nname = "kerb"\n' + KERB + '\n[[condition]]\nroad = "kerb"\nspeed = 5\n'
    study = read(text)
    assert [road.name for road in study.roads] == ["hump", "B", "kerb"]
    assert [study.roads[condition.road].name for condition in study.conditions] == ["B", "kerb"]


def test_exposure() -> None:
    assert [item.exposure for item in read(ESTATE).conditions] == [None] * 4
    study = read(changed(ESTATE, ("weight = 1.0", 'exposure = "30 min"')))
    assert [item.exposure for item in study.conditions] == [1800.0] * 4
    (mistake,) = find(changed(TRAVEL, (RANDOM, HUMP), ("speed = 20.0", "speed = 20.0\nexposure = 60")))
    assert mistake.key == "condition[1].exposure"
    assert mistake.line("s.toml").endswith("allowed: no such key (a dose on obstacles is of one passage)")


MISTAKES = [
    ("class", HUMP, 'class = "B"', "class", "given for an obstacle", 'kind = "iso8608"'),
    ("roughness", HUMP, "roughness = 1e-6", "roughness", "given for an obstacle", 'kind = "iso8608"'),
    ("waviness", HUMP, "waviness = 2", "waviness", "given for an obstacle", 'kind = "iso8608"'),
    ("band", HUMP, "band = [0.1, 1]", "band", "given for an obstacle", 'kind = "iso8608"'),
    *(
        (key, RANDOM, f"{key} = {value}", key, "given for a random road", 'kind = "obstacle" only')
        for key, value in (
            ("shape", '"arc"'), ("height", "0.1"), ("top", "1"), ("lead", "1"), ("run_out", "1"), ("road_length", "99"),
            ("count", "2"), ("spacing", "1"), ("sizes", "[]"), ("side", '"left"'),
        )
    ),
    ("realisations", RANDOM, "realisations = 0", "realisations", "0 stands here", "from 1 to 4096"),
    ("too many", RANDOM, "realisations = 4097", "realisations", "4097 stands here", "from 1 to 4096"),
    ("no shape", 'kind = "obstacle"\nheight = 0.1', "length = 1", "shape", "missing", '"half-sine"'),
    ("shape", 'kind = "obstacle"\nheight = 0.1\nlength = 1', 'shape = "halfsine"', "shape", '"halfsine"',
     'nearest: "half-sine"'),
    ("no height", 'kind = "obstacle"\nshape = "arc"', "length = 1", "height", "missing", "a number in m"),
    ("no length", 'kind = "obstacle"\nshape = "arc"', "height = 0.1", "length", "missing", "a number in m above 0"),
    ("height of 0", 'kind = "obstacle"\nshape = "arc"\nlength = 1', 'height = "0 mm"', "height", '"0 mm" stands here',
     "minus sign"),
    ("height's unit", 'kind = "obstacle"\nshape = "arc"\nlength = 1', 'height = "1 kg"', "height", "wrong unit",
     "in m"),
    ("length of 0", 'kind = "obstacle"\nshape = "arc"\nheight = 1', "length = 0", "length", "not above 0", "above 0"),
    ("high arc", 'kind = "obstacle"\nshape = "arc"\nlength = "1 m"', 'height = "-51 cm"', "height",
     '"-51 cm" is more than half the length of an arc, 1 m', "0.5 m at most"),
    ("top of an arc", HUMP, "top = 1", "top", "given for the shape arc", '"flat-top" only'),
    ("no top", 'kind = "obstacle"\nshape = "flat-top"\nheight = 0.1', "length = 1", "top", "missing", "above 0"),
    ("long top", 'kind = "obstacle"\nshape = "flat-top"\nheight = 0.1\nlength = 1', 'top = "100 cm"', "top",
     '"100 cm" is not shorter than the base', "less than length, 1 m"),
    ("step's length", KERB, "length = 1", "length", "given for a step", "no such key"),
    ("step's top", KERB, "top = 1", "top", "given for the shape step", '"flat-top" only'),
    ("steps", KERB, "count = 2", "count", "2 of a step", "1, or another shape"),
    ("step's sizes", KERB.replace("\nheight", "\n#"), "sizes = []", "sizes", "given for a step", "height"),
    ("spacing", HUMP, "spacing = 5", "spacing", "given for one obstacle", "a count of 2 or more"),
    ("sizes", MIXED.replace("count = 12\nspacing", "#"), "count = 1", "sizes", "given for one obstacle", "a count of"),
    ("count", HUMP, "count = 0", "count", "0 stands here", "from 1 to 10000"),
    ("no spacing", HUMP, "count = 3", "spacing", "missing", "from one start to the next"),
    ("close", HUMP, 'count = 3\nspacing = "3.69 m"', "spacing", '"3.69 m" is shorter than an obstacle of 3.7 m',
     "3.7 m or more"),
    ("close mix", MIXED.replace("spacing", "#"), "spacing = 0.9", "spacing", "0.9 is shorter than an obstacle of 1 m",
     "1 m or more"),
    ("height beside sizes", MIXED, "height = 1", "height", "given beside sizes", "or sizes"),
    ("length beside sizes", MIXED, "length = 1", "length", "given beside sizes", "or sizes"),
    ("top beside sizes", MIXED, "top = 1", "top", "given beside sizes", "or sizes"),
    ("one size", MIXED.replace("sizes", "#"), "sizes = [{ height = 1, length = 1 }]", "sizes", "1 of them", "two"),
    ("no sizes", MIXED.replace("sizes", "#"), "sizes = []", "sizes", "0 of them", "at least two"),
    ("no list", MIXED.replace("sizes", "#"), "sizes = 3", "sizes", "3 stands here", "list of tables"),
    ("no tables", MIXED.replace("sizes", "#"), "sizes = [1, 2]", "sizes[2]", "2 stands here", "a table"),
    ("size without height", MIXED.replace("sizes", "#"), "sizes = [{ length = 1 }, { height = 1, length = 1 }]",
     "sizes[1].height", "missing", "in m"),
    ("size without length", MIXED.replace("sizes", "#"), "sizes = [{ height = 1 }, { height = 1, length = 1 }]",
     "sizes[1].length", "missing", "in m"),
    ("level size", MIXED.replace("sizes", "#"), "sizes = [{ height = 1, length = 1 }, { height = 0, length = 1 }]",
     "sizes[2].height", "0 stands here", "minus sign"),
    ("size's key", MIXED.replace("sizes", "#"), "sizes = [{ heigt = 1 }, { height = 1, length = 1 }]",
     "sizes[1].heigt", "unknown key", '"height"'),
    ("top of a versine", MIXED.replace("sizes", "#"), "sizes = [{ height = 1, length = 2, top = 1 }, {}]",
     "sizes[1].top", "given for the shape versine", "flat-top"),
    ("always the same", STRIPS, "realisations = 2", "realisations", "2 of a road that is always the same", "sizes"),
    ("two ends", HUMP, "run_out = 3\nroad_length = 9", "road_length", "given beside run_out", "one of the two"),
    ("longer than its road", HUMP, "road_length = 4.6", "road_length",
     "4.6 is shorter than lead and obstacles together, 4.7 m", "4.7 m or more"),
    ("train longer than its road", STRIPS, 'road_length = "34 m"', "road_length", '"34 m" is shorter than', "34.05 m"),
    ("lead", HUMP, "lead = -1", "lead", "-1 is out of bounds", "0 or above"),
    ("side", HUMP, 'side = "middle"', "side", '"middle" is not known', '"both", "left" or "right"'),
]  # fmt: skip


@pytest.mark.parametrize(
    ("road", "line", "key", "found", "allowed"), [row[1:] for row in MISTAKES], ids=[row[0] for row in MISTAKES]
)
def test_mistake_is_at_its_key(road: str, line: str, key: str, found: str, allowed: str) -> None:
    mistakes = find(on(f"{road}\n{line}"))
    lines = [mistake.line("study.toml") for mistake in mistakes if mistake.key == f"road[1].{key}"]
    assert any(found in text and allowed in text for text in lines), [item.line("") for item in mistakes]
    assert {mistake.key.split(".")[0] for mistake in mistakes} == {"road[1]"}, "nothing else cries wolf"


def test_all_mistakes_of_a_road_at_once() -> None:
    text = 'kind = "obstacle"\nshape = "arc"\nheight = 0\ntop = 1\nspacing = 2\nclass = "B"\nrealisations = 3\nside = 1'
    keys = {mistake.key.removeprefix("road[1].") for mistake in find(on(text))}
    assert keys == {"height", "length", "top", "spacing", "class", "realisations", "side"}


SCRAPS = ["0", "-1", "1e99", "nan", "true", "[]", "{}", '""', '"1 kg"', "[1, 2]", '"arc"', '"step"', '"20 mm"', "3"]
KEYS = [name for name in SECTIONS["road"] if name != "name"]


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.sampled_from([RANDOM, HUMP, TABLE, KERB, STRIPS, MIXED]),
    st.dictionaries(st.sampled_from(KEYS), st.sampled_from(SCRAPS), max_size=3),
)
def test_spoilt_roads_are_read_or_refused(road: str, scraps: dict[str, str]) -> None:
    lines = [line for line in road.split("\n") if line.split(" = ")[0] not in scraps]
    text = on("\n".join(lines + [f"{key} = {value}" for key, value in scraps.items()]))
    mistakes: tuple[Mistake, ...] = ()
    try:
        study = read(text)
    except StudyError as error:
        mistakes = error.mistakes
    else:
        json.dumps(figures_meaning(study), allow_nan=False)
        assert in_words(study.roads[0])
    assert all(mistake.key.startswith("road[1]") for mistake in mistakes), mistakes


def test_digest_tells_roads_apart() -> None:
    """Kinds by name; every field of a road counts; how it is written does not."""
    texts = [
        RANDOM, RANDOM + "\nrealisations = 9", HUMP, TABLE, KERB, STRIPS, MIXED, HUMP + "\nlead = 2",
        HUMP + "\nrun_out = 30", HUMP + "\nroad_length = 99", STRIPS.replace("12", "11"),
        MIXED.replace("-0.05", "0.05"), MIXED.replace('"left"', '"right"'),
    ]  # fmt: skip
    assert len({figures_digest(read(on(text))) for text in texts}) == len(texts)
    assert figures_digest(read(on(HUMP.replace('"75 mm"', "0.075") + "\nlead = 1.0"))) == figures_digest(read(on(HUMP)))
    kinds = [figures_meaning(read(on(text)))["roads"][0]["kind"] for text in (RANDOM, HUMP)]
    assert kinds == ["iso8608", "obstacle"]
    exposed = changed(CORNER, ("speed = 20.0", "speed = 20.0\nexposure = 60"))
    assert figures_digest(read(exposed)) != figures_digest(read(CORNER))


def test_digest_of_equal_fields_differs_by_kind() -> None:
    study = read(CORNER)
    (road,) = figures_meaning(study)["roads"]
    assert road.pop("kind") == "iso8608"
    (obstacle,) = figures_meaning(replace(study, roads=(Obstacle("B", "arc", 0.1, 1.0),)))["roads"]
    assert obstacle["kind"] == "obstacle"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (RANDOM, "random, G_d(0.1/m) 64.0·10⁻⁶ m³, waviness 2.00"),
        (HUMP, "arc 75 mm × 3.7 m"),
        (TABLE, "flat-top 75 mm × 4 m with a top of 2.5 m"),
        (KERB, "step 100 mm deep"),
        (STRIPS, "train of 12 every 3 m: cleat 20 mm × 0.05 m"),
        (MIXED, "train of 12 every 8 m: versine 30 mm deep × 0.6 m or 50 mm deep × 1 m, left wheels"),
        (
            MIXED.replace("sizes = [", "sizes = [" + ' { height = "4 cm", length = "1 m" },' * 2),
            "train of 12 every 8 m: versine in 4 sizes, -50 to 40 mm, left wheels",
        ),
    ],
    ids=["random", "hump", "table", "kerb", "strips", "mixed", "many sizes"],
)
def test_in_words(text: str, words: str) -> None:
    assert in_words(read(on(text)).roads[0]) == words


def test_conditions_as_shown() -> None:
    """A half car drives its wheelbase and five seconds beyond the hump; a given run-out is what is driven."""
    roads = f'[[road]]\nname = "hump"\n{HUMP}\n[[road]]\nname = "holes"\n{MIXED}\n[[condition]]\n'
    driven = 'road = "hump"\nspeed = "36 km/h"\n[[condition]]\nroad = "holes"\nspeed = 12.1\n[[condition]]\n'
    study = read(changed(CAR, ("[[condition]]\n", roads + driven)))
    rows = {row[0]: row[1:] for row in conditions(study).rows}
    length = 1.0 + 3.7 + 2.82 + 50.0
    assert rows["hump @ 36 km/h, two up"][1:4] == (f"{length:.6g}", "5.75", "1")
    assert rows["holes @ 12.1 m/s, two up"][1:4] == ("121", "10.0", "3")
    assert rows["country road @ 60 km/h, gross"][1:3] == ("1000", "60.0")


def test_realisations_are_shown_where_there_are_some() -> None:
    column = [row[4] for row in conditions(read(CORNER)).rows]
    assert column == ["–"], "the frequency domain needs none"
    assert [row[4] for row in conditions(read('response = "time-domain"\n' + CORNER)).rows] == ["8"]


@pytest.mark.parametrize(("length", "doubtful"), [("45 m", True), ("46 m", False)])
def test_doubt_about_a_road_shorter_than_half_its_longest_wave(length: str, doubtful: bool) -> None:
    """1/0.011 m is 90.9 m."""
    text = on(f'{RANDOM}\nlength = "{length}"')
    lines = [line for line in doubts(read('response = "time-domain"\n' + text)) if line.startswith('road "B"')]
    assert len(lines) == doubtful
    assert not any(line.startswith('road "B"') for line in doubts(read(text)))


@pytest.mark.parametrize(
    ("text", "patch", "doubt"),
    [
        (STRIPS, "0", "vertical edges rise over one sample"),
        (KERB, "0", "vertical edges rise over one sample"),
        (STRIPS, "0.12", None),
        (HUMP, "0", None),
        (HUMP + "\nlead = 0.05", "0.12", "lead is less than half the contact patch"),
        (HUMP + "\nlead = 0.06", "0.12", None),
        (HUMP + "\nrun_out = 15", "0.12", None),
    ],
)
def test_doubts_about_obstacles(text: str, patch: str, doubt: str | None) -> None:
    roads = f'[[road]]\nname = "it"\n{text}\n'
    driven = '[[condition]]\nroad = "it"\nspeed = 10\n'
    pieces = (("[[condition]]\n", roads + driven + "[[condition]]\n"), ('"0.12 m"', patch))
    found = [line for line in doubts(read(changed(CAR, *pieces))) if line.startswith('road "it"')]
    assert len(found) == (doubt is not None), found
    assert doubt is None or doubt in found[0]
    undriven = changed(CAR, ("[[condition]]\n", roads + "[[condition]]\n"), ('"0.12 m"', patch))
    assert not any(line.startswith('road "it"') for line in doubts(read(undriven)))

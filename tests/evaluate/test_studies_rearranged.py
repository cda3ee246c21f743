"""Whole studies that say the same in another order or in more words, and their mirror images."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from evaluate.studies import HALF, REAL
from rewritten import mirrored, reversed_blocks
from ridefront.evaluate import Evaluator
from ridefront.evaluate.stepping import StepChoice
from ridefront.study import Study
from ridefront.study.space import decode
from study_texts import FULL, changed, read

Array = NDArray[np.float64]
Domain = Literal["frequency-domain", "time-domain"]
Key = tuple[str, str, str]
KINDS = ("condition", "road", "load", "seat", "objective")
SE = ".se"
STEP = StepChoice(
    1e-3, 0.0, 0, (), (), (), held=True
)  # of everything that is driven here; what it is matters to nothing
DOMAINS = pytest.mark.parametrize("domain", ["frequency-domain", "time-domain"])

# Asked for, so that what evaluates takes the same kernel as what asks for every piece.
BACKREST = '[[constraint]]\ncriterion = "comfort_total"\nat_most = "2 m/s^2"\n'
HALF_CAR = changed(
    HALF.replace("FRONT", REAL).replace("REAR", REAL),
    ('class = "A"', 'class = "A"\nlength = "60 m"'),
    ('length = "500 m"', 'length = "50 m"'),
    ('[[constraint]]\ncriterion = "frequency_ratio"\n', f'{BACKREST}[[constraint]]\ncriterion = "frequency_ratio"\n'),
)
TO_ONE_SIDE = changed(
    FULL,
    ('tracks = "isotropic"', 'tracks = "isotropic"\nlength = "60 m"'),
    ('speed = ["60 km/h", "90 km/h"]', 'speed = "60 km/h"'),
    (
        "[[objective]]\ncriterion = \"comfort\"\n",
        '[[road]]\nname = "kerbs"\nkind = "obstacle"\nshape = "versine"\nrealisations = 2\n'
        'sizes = [ { height = "50 mm", length = "0.8 m" }, { height = "30 mm", length = "0.5 m" } ]\n'
        'count = 3\nspacing = "3 m"\nrun_out = "12 m"\nside = "left"\n'
        '[[condition]]\nroad = "kerbs"\nspeed = "30 km/h"\nload = ["two up", "gross"]\n'
        '[[objective]]\ncriterion = "comfort"\nroad = "country road"\n',
    ),
    ('over = "worst"\n', 'over = "worst"\nroad = "country road"\n'),
    ('behind_front_axle = "1.40 m" } ]', 'behind_front_axle = "1.40 m", left_of_centre = "0.05 m" } ]'),
)  # fmt: skip
SIDES = (("left", "right"), ("right", "left"))
TEXTS = {"half car": HALF_CAR, "full car": TO_ONE_SIDE}
EITHER = pytest.mark.parametrize("text", TEXTS.values(), ids=list(TEXTS))


def designs(study: Study, n: int = 5) -> Array:
    return decode(study, np.random.default_rng(8).random((n, len(study.variables))))


def pieces(text: str, domain: Domain = "frequency-domain") -> dict[Key, Array]:
    """Every figure (n,) of the same designs by criterion, place and condition, SI, and of what was sampled its standard
    error behind it, by the criterion's name and `SE`.
    """
    study = read(text)
    found = Evaluator(study, step=STEP, realisations=2).pieces(designs(study), None, domain)
    assert not found.status.any()
    keys = list(zip(found.criterion, found.place, found.condition, strict=True))
    all_of = dict(zip(keys, found.values.T, strict=True))
    for (criterion, *where), error in zip(keys, found.se.T, strict=True):
        if np.isfinite(error).any():
            all_of[criterion + SE, where[0], where[1]] = error
    return all_of


def measures(text: str, domain: Domain = "frequency-domain") -> dict[str, Array]:
    """Objectives and constraints (n,) by label, and standard errors of what was sampled, by the label and `SE`; how far
    designs break constraints, by `violation`.
    """
    study = read(text)
    found = Evaluator(study, step=STEP, realisations=2).evaluate(designs(study), domain)
    assert not found.status.any()
    all_of = {"violation": found.violation}
    for k, item in enumerate(study.measures):
        all_of[item.label] = found.values[:, k]
        if np.isfinite(found.se[:, k]).any():
            all_of[item.label + SE] = found.se[:, k]
    return all_of


def assert_same(one: dict[Key, Array], other: dict[Key, Array], name: Callable[[Key], Key] = lambda key: key) -> None:
    """Bit for bit, whatever order they come in."""
    assert {name(key) for key in one} == other.keys()
    for key, values in one.items():
        np.testing.assert_array_equal(other[name(key)], values, err_msg=str(key))


@DOMAINS
@EITHER
def test_order_matters_to_nothing(text: str, domain: Domain) -> None:
    """Conditions, roads, loads and seats backwards: every piece and its standard error have the same bits, random roads
    are the same ones.
    """
    turned = text
    for kind in KINDS:
        turned = reversed_blocks(turned, kind)
    assert [road.name for road in read(turned).roads] == [road.name for road in read(text).roads[::-1]]
    one = pieces(text, domain)
    assert_same(one, pieces(turned, domain))
    errors = [values for key, values in one.items() if key[0].endswith(SE)]
    assert bool(errors) == (domain == "time-domain" or text is TO_ONE_SIDE), "kerbs are driven in either"
    assert not errors or np.mean(np.array(errors) > 0) > 0.5


@DOMAINS
@EITHER
@pytest.mark.parametrize("kind", KINDS)
def test_order_of_one_kind_of_table(text: str, kind: str, domain: Domain) -> None:
    """Figures over conditions, and their standard errors: sums of some few terms in another order; the worst of them is
    the same to the bit.
    """
    one, other = measures(text, domain), measures(reversed_blocks(text, kind), domain)
    worst = {item.label for item in read(text).measures if item.over == "worst"}
    assert one.keys() == other.keys() > worst
    assert any(label.endswith(SE) for label in one) == (domain == "time-domain" or text is TO_ONE_SIDE)
    for label, values in one.items():
        within = 0 if label in worst else 1e-11 if label.endswith(SE) else 1e-14
        np.testing.assert_allclose(other[label], values, rtol=within, err_msg=label)


@DOMAINS
def test_order_of_constraints(domain: Domain) -> None:
    """Each has the same bits; what designs break of them together is another sum of the same terms."""
    one, other = measures(HALF_CAR, domain), measures(reversed_blocks(HALF_CAR, "constraint"), domain)
    assert list(one) != list(other)
    np.testing.assert_allclose(other.pop("violation"), one.pop("violation"), rtol=1e-14)
    assert one.keys() == other.keys()
    for label, values in one.items():
        np.testing.assert_array_equal(other[label], values, err_msg=label)


def opposite(key: Key) -> Key:
    """The same figure on the other side."""
    for one, other in SIDES:
        if key[1].endswith(f"_{one}"):
            return key[0], key[1].replace(one, other), key[2]
    return key


def assert_mirrored(one: dict[Key, Array], other: dict[Key, Array]) -> set[str]:
    """1e-9: the sides are not worked out in the same order. Returns criteria that tell left from right."""
    assert {opposite(key) for key in one} == other.keys()
    for key, values in one.items():
        np.testing.assert_allclose(other[opposite(key)], values, rtol=1e-9, atol=1e-12, err_msg=str(key))
    return {key[0] for key in one if opposite(key) != key and not np.allclose(one[key], other[key], rtol=1e-3)}


def test_a_mirror_image_swaps_left_and_right() -> None:
    """Seats, loads and the kerbs on the other side: what the left wheels did the right ones do, on random roads in the
    frequency domain and over the kerbs in time, where two orders of them differ by as much.
    """
    one, other = pieces(TO_ONE_SIDE), pieces(mirrored(TO_ONE_SIDE))
    told = {"dynamic_load_coefficient", "bump_reserve", "rattle_space", "stop_force"}
    assert assert_mirrored(one, other) >= told | {"bump_reserve" + SE, "stop_force" + SE}


def test_a_measured_road_driven_with_its_tracks_swapped(tmp_path: Path) -> None:
    """The same in time on a road of two tracks, whose columns a study names in either order."""
    file, draw = tmp_path / "lane.csv", np.random.default_rng(5)
    heights = np.cumsum(draw.normal(0.0, 2e-3, (2, 161)), axis=1)
    rows = np.stack([0.25 * np.arange(161, dtype=np.float64), *heights], axis=1)
    np.savetxt(file, rows, fmt="%.6f", delimiter=",", header="distance,one,other", comments="")
    start, end = TO_ONE_SIDE.index('kind = "obstacle"'), TO_ONE_SIDE.index('[[condition]]\nroad = "kerbs"')
    found = []
    for order, turned in ((("one", "other"), False), (("other", "one"), True)):
        columns = ", ".join(f'"{name}"' for name in ("distance", *order))
        road = f'kind = "measured"\nfile = "{file}"\ncolumns = [{columns}]\n'
        text = TO_ONE_SIDE[:start] + road + TO_ONE_SIDE[end:]
        all_of = pieces(mirrored(text) if turned else text)
        found.append({key: values for key, values in all_of.items() if key[2].startswith("kerbs")})
    assert assert_mirrored(*found) >= {"dynamic_load_coefficient", "travel_rms", "bump_reserve"}


@DOMAINS
@EITHER
def test_a_load_in_two_parts_at_one_place(text: str, domain: Domain) -> None:
    """One mass, or two of half of it, or nine tenths and a tenth: the vehicle is the same but for rounding."""
    whole = pieces(text, domain)
    for first, second in (("75 kg", "75 kg"), ("135 kg", "15 kg")):
        start = text.index('{ mass = "150 kg"')
        mass = text[start : text.index("}", start) + 1]
        assert text.count(mass) >= 1
        parts = ", ".join(mass.replace("150 kg", part) for part in (first, second))
        split = pieces(text.replace(mass, parts), domain)
        assert split.keys() == whole.keys()
        for key, values in whole.items():
            np.testing.assert_allclose(split[key], values, rtol=1e-9, atol=1e-12, err_msg=str(key))


AGAIN = """[[road]]
name = "broken again"
kind = "iso8608"
class = "C"
length = "50 m"
[[condition]]
road = "broken again"
speed = ["40 km/h", "70 km/h"]
load = ["two up", "full"]
weight = 1.0
[[objective]]
criterion = "comfort"
"""


def test_a_condition_split_in_two() -> None:
    """Half of the time on a copy of the road under another name: in the frequency domain, which knows spectra and not
    realisations, means and worst figures stay as they are.
    """
    split = changed(HALF_CAR, ("weight = 2.0", "weight = 1.0"), ('[[objective]]\ncriterion = "comfort"\n', AGAIN))
    assert len(read(split).conditions) == len(read(HALF_CAR).conditions) + 4
    whole, parts = measures(HALF_CAR), measures(split)
    assert whole.keys() == parts.keys()
    for label, values in whole.items():
        np.testing.assert_allclose(parts[label], values, rtol=1e-14, err_msg=label)
    lighter = measures(changed(HALF_CAR, ("weight = 2.0", "weight = 1.0")))
    assert np.all(lighter["comfort"] < 0.99 * whole["comfort"]), "weights matter"


ALIKE = (
    ('name = "two up"\nreference = true\n', "two up", '{ mass = "150 kg", behind_front_axle = "1.35 m" }'),
    (
        'name = "full"\n', "full",
        '{ mass = "150 kg", behind_front_axle = "1.35 m" }, { mass = "300 kg", behind_front_axle = "2.6 m" }',
    ),
)  # fmt: skip


@DOMAINS
def test_a_condition_split_in_two_on_the_same_road(domain: Domain) -> None:
    """Half of the time under each of two loads that are alike but for their names, on the same realisations of the
    road: figures and standard errors stay, since whatever one realisation does it does in both.
    """
    again, names = "", []
    for head, name, masses in ALIKE:
        assert head in HALF_CAR
        again += f'[[load]]\nname = "{name} again"\nmasses = [ {masses} ]\n'
        names += [f'"{name}"', f'"{name} again"']
    split = changed(
        HALF_CAR, ('[[road]]\nname = "smooth"\n', again + '[[road]]\nname = "smooth"\n'),
        ('load = ["two up", "full"]', f"load = [{', '.join(names)}]"),
    )  # fmt: skip
    assert len(read(split).conditions) == len(read(HALF_CAR).conditions) + 4
    whole, parts = measures(HALF_CAR, domain), measures(split, domain)
    assert whole.keys() == parts.keys()
    for label, values in whole.items():
        within = 1e-11 if label.endswith(SE) else 1e-14
        np.testing.assert_allclose(parts[label], values, rtol=within, err_msg=label)
    if domain == "time-domain":
        assert np.all(whole["comfort" + SE] > 0)


def test_speeds_in_a_list_share_their_weight() -> None:
    listed = 'speed = ["40 km/h", "70 km/h"]\nload = ["two up", "full"]\nweight = 2.0\n'
    each = [
        f'speed = "{speed} km/h"\nload = "{load}"\nweight = 0.5\n' for speed in (40, 70) for load in ("two up", "full")
    ]
    apart = changed(HALF_CAR, (listed, '[[condition]]\nroad = "broken"\n'.join(each)))
    one, other = measures(HALF_CAR), measures(apart)
    for label, values in one.items():
        np.testing.assert_array_equal(other[label], values, err_msg=label)


KEPT = (
    ("front.spring_rate",),
    ("front.spring_rate", "rear.spring_rate"),
    ("front.damping",),
    ("rear.unsprung_mass",),
    ("rear.damping",),
)


def fixed_but(study: Study, text: str, kept: tuple[str, ...]) -> str:
    """The study's text with every range but those kept replaced by the present setup's number, which goes."""
    assert study.present is not None
    present = dict(zip([item.path for item in study.variables], study.present.tolist(), strict=True))
    units = {item.path: item.unit for item in study.variables}
    lines, section = [], ""
    for line in text.split("\n"):
        section = line if line.startswith("[") else section
        key = line.split(" = ")[0]
        path = f"{section.removeprefix('[vehicle.').rstrip(']')}.{key}"
        if path in present and path not in kept:
            lines.append(f'{key} = "{present[path]!r} {units[path]}"')
        elif section != "[present]" or key not in present or key in kept:
            lines.append(line)
    return "\n".join(lines)


@pytest.mark.parametrize("kept", KEPT, ids=" and ".join)
def test_a_fixed_value_is_a_range_at_that_value(kept: tuple[str, ...]) -> None:
    """A linear and a logarithmic range, a choice, a step and a multiple, fixed at the present setup: every figure has
    the same bits, there and, along the range that stays, elsewhere.
    """
    study = read(FULL)
    fixed = read(fixed_but(study, FULL, kept))
    assert tuple(item.path for item in fixed.variables) == kept
    assert study.present is not None
    X = np.repeat(study.present[np.newaxis], 3, axis=0)
    columns = [[item.path for item in study.variables].index(path) for path in kept]
    if kept == ("rear.unsprung_mass",):
        X[:, columns[0]] = [42.0, 58.0, 42.0]
    else:
        X[:, columns] *= np.array([[1.0], [1.05], [0.9]])
    one, other = Evaluator(study).pieces(X), Evaluator(fixed).pieces(X[:, columns])
    assert (one.criterion, one.place, one.condition) == (other.criterion, other.place, other.condition)
    np.testing.assert_array_equal(other.values, one.values)
    assert np.all(np.ptp(one.values, axis=0)[np.array(one.criterion) == "comfort"] > 0)

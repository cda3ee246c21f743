"""Catalogues of parts: read or refused with the key, and the parts about a setup."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest

from ridefront.study.catalogue import MOST, _next, neighbours
from ridefront.study.digest import figures_digest, plan_digest
from ridefront.study.model import Catalogue
from study_texts import ESTATE, find, read

PARTS = """
[catalogue]
front.spring_rate = { step = "2 N/mm" }
rear.spring_rate = ["75 N/mm", "60 N/mm", 68000]
front.damping = { choices = ["2.5 kN*s/m", 3000] }
"""


def test_read_in_the_variables_units() -> None:
    study = read(ESTATE + PARTS)
    assert list(study.catalogue) == ["front.spring_rate", "front.damping", "rear.spring_rate"]
    assert study.catalogue["front.spring_rate"].step == 2
    assert study.catalogue["rear.spring_rate"].values == (60.0, 68.0, 75.0)
    assert study.catalogue["front.damping"].values == (2500.0, 3000.0)
    quoted = '\n[catalogue]\n"front.spring_rate" = { step = 2000 }\n'
    nested = '\n[catalogue.front]\nspring_rate = { step = "2 N/mm" }\n'
    assert read(ESTATE + quoted).catalogue == read(ESTATE + nested).catalogue
    assert not read(ESTATE).catalogue


def test_bears_on_no_digest() -> None:
    with_parts, without = read(ESTATE + PARTS), read(ESTATE)
    assert figures_digest(with_parts) == figures_digest(without)
    assert plan_digest(with_parts) == plan_digest(without)


@pytest.mark.parametrize(
    ("text", "key", "found"),
    [
        ("catalogue = 3", "catalogue", "3 stands here"),
        ('[catalogue]\nfront.spring_rat = { step = "2 N/mm" }', "catalogue.front.spring_rat", "no quantity"),
        ('[catalogue]\nfront.tyre_rate = { step = "2 N/mm" }', "catalogue.front.tyre_rate", "has no range"),
        ('[catalogue]\nrear.damping = ["1200 N*s/m"]', "catalogue.rear.damping", "certain values only"),
        ('[catalogue]\nfront.damping = "3 kN*s/m"', "catalogue.front.damping", "stands here"),
        ("[catalogue]\nfront.damping = {}", "catalogue.front.damping", "neither step nor choices"),
        ("[catalogue]\nfront.damping = { step = 50, choices = [2000] }", "catalogue.front.damping", "both step and"),
        ('[catalogue]\nfront.damping = { step = "2 N/mm" }', "catalogue.front.damping.step", "wrong unit"),
        ("[catalogue]\nfront.damping = { step = 0 }", "catalogue.front.damping.step", "not above 0"),
        ("[catalogue]\nfront.damping = { step = 7000 }", "catalogue.front.damping", "no multiple of the step"),
        ("[catalogue]\nfront.damping = { steps = 50 }", "catalogue.front.damping.steps", "unknown key"),
        ("[catalogue]\nfront.damping = []", "catalogue.front.damping", "[] stands here"),
        ("[catalogue]\nfront.damping = [2000, -1]", "catalogue.front.damping[2]", "not above 0"),
        ('[catalogue]\nfront.damping = [2000, "2 kN*s/m"]', "catalogue.front.damping", "a value twice"),
        ("[catalogue]\nfront.damping = [20, 30]", "catalogue.front.damping", "no value lies within the range"),
        ('[catalogue]\nrear.spring_rate = { step = "1 kN/mm" }', "catalogue.rear.spring_rate", "no multiple"),
        (
            '[catalogue]\nfront.damping = [2000]\n"front.damping" = [3000]',
            'catalogue."front.damping"',
            "given twice",
        ),
    ],
    ids=lambda text: text[-34:],
)
def test_refused_with_the_key(text: str, key: str, found: str) -> None:
    whole = text + "\n" + ESTATE if text.startswith("catalogue") else ESTATE + text
    mistakes = [item for item in find(whole) if found in item.found]
    assert [item.key for item in mistakes] == [key]
    assert mistakes[0].allowed or mistakes[0].hint


def rows(text: str, **values: float) -> set[tuple[float, ...]]:
    study = read(ESTATE + text)
    assert study.present is not None
    x = study.present.copy()
    paths = [variable.path for variable in study.variables]
    for path, value in values.items():
        x[paths.index(path.replace("__", "."))] = value
    return {tuple(row) for row in neighbours(study, x).X.tolist()}


def test_neighbours_are_all_combinations_just_below_and_above() -> None:
    """Variables: front spring and damper, rear unsprung mass (two choices), spring and damper (steps of 50)."""
    found = rows(PARTS, front__spring_rate=27.3, front__damping=2900.0, rear__spring_rate=70.0, rear__damping=3000.0)
    every = itertools.product((26.0, 28.0), (2500.0, 3000.0), (42.0, 58.0), (68.0, 75.0), (2950.0, 3000.0, 3050.0))
    assert found == set(every)


def test_a_part_of_the_catalogue_stays_and_ends_have_one_neighbour() -> None:
    fixed = {"rear__damping": 1200.0, "rear__unsprung_mass": 58.0}
    found = rows(PARTS, front__spring_rate=28.0, front__damping=3500.0, rear__spring_rate=60.0 + 1e-12, **fixed)
    assert {row[:2] + row[3:4] for row in found} == {(28.0, 3000.0, 60.0)}
    assert {row[4] for row in found} == {1200.0, 1250.0}
    assert {row[2] for row in found} == {42.0, 58.0}


def test_nothing_beyond_the_range() -> None:
    found = rows('[catalogue]\nfront.spring_rate = { step = "3 N/mm" }\n', front__spring_rate=16.5)
    assert {row[0] for row in found} == {18.0}  # 15 lies below the range


def test_steps_are_exact_in_decimal() -> None:
    found = rows('[catalogue]\nfront.spring_rate = { step = "0.1 N/mm" }\n', front__spring_rate=27.3)
    assert {row[0] for row in found} == {27.3}
    found = rows('[catalogue]\nfront.spring_rate = { step = "0.1 N/mm" }\n', front__spring_rate=27.34)
    assert {row[0] for row in found} == {27.3, 27.4}


def test_too_many_combinations_are_cut_with_a_word() -> None:
    """Nine catalogued quantities: those with values of their own stay, and the last one simply takes the nearest."""
    more = ("bump_travel", "rebound_travel", "bump_clearance", "bump_stop_rate", "friction", "tyre_rate")
    text, parts, present = ESTATE, PARTS, []
    for name, value in zip(more, (105, 90, 50, 45, 50, 215), strict=True):
        unit = {"friction": "N", "bump_stop_rate": "N/mm", "tyre_rate": "N/mm"}.get(name, "mm")
        ranged = f'{name} = {{ low = "{value - 5} {unit}", high = "{value + 5} {unit}" }}'
        text = text.replace(f'{name} = "{value} {unit}"', ranged, 1)
        parts += f'front.{name} = {{ step = "2 {unit}" }}\n'
        present.append(f'front.{name} = "{value + 0.5} {unit}"')
    text = text.replace("[present]", "\n".join(["[present]", *present]))
    text = text.replace('criterion = "bump_reserve"', 'criterion = "bump_reserve"\n[[constraint]]\n'
                        'criterion = "rebound_reserve"\nat_least = 0.0')  # fmt: skip
    study = read(text + parts)
    assert study.present is not None
    paths = [variable.path for variable in study.variables]
    x = study.present.copy()
    x[paths.index("rear.spring_rate")] = 70.0
    found = neighbours(study, x)
    assert len(found.X) == len(np.unique(found.X, axis=0)) == MOST
    options = {path: set(found.X[:, j].tolist()) for j, path in enumerate(paths)}
    for path in ("rear.unsprung_mass", "rear.damping"):
        assert options[path] == {x[paths.index(path)]}
    assert [path for path in study.catalogue if len(options[path]) == 1] == ["rear.spring_rate"]
    assert options["rear.spring_rate"] == {68.0}
    assert "steps or choices of their own" in found.notes[0]
    assert "rear.spring_rate simply took the nearest value" in found.notes[1]


def test_wide_looks_one_part_further_on_either_side() -> None:
    step, some = Catalogue(Fraction(2)), Catalogue(None, (1.0, 4.0, 7.0))
    assert _next(step, 24.0, -1) == (22.0,)
    assert _next(step, 24.0, 1) == (26.0,)
    assert _next(some, 4.0, -1) == (1.0,)
    assert _next(some, 7.0, 1) == ()

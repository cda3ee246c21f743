"""Tolerances in study files: what may have one, how measures count built vehicles, and every mistake at its key."""

from __future__ import annotations

import pytest

from ridefront.study.digest import figures_digest
from study_texts import CORNER, ESTATE, changed, find, read

SEARCH = "\n[search]\n"
SOME = '[scatter]\nfront.spring_rate = "5 %"\nrear.damping = 0.15\nrear.spring_rate = "50 %"\nsamples = 16\n'
SCATTERED = changed(ESTATE, (SEARCH, f"\n{SOME}[search]\n"))


def test_tolerances_are_shares_in_the_order_of_the_table_of_keys() -> None:
    found = read(SCATTERED).scatter
    assert found is not None
    assert list(found.tolerances.items()) == [
        ("front.spring_rate", 0.05), ("rear.spring_rate", 0.5), ("rear.damping", 0.15),
    ]  # fmt: skip
    assert found.samples == 16
    assert read(ESTATE).scatter is None


def test_measures_say_how_built_vehicles_count() -> None:
    study = read(
        changed(
            SCATTERED,
            ('criterion = "comfort"', 'criterion = "comfort"\nscatter = "mean"'),
            ('criterion = "bump_reserve"', 'criterion = "bump_reserve"\nscatter = 0.9'),
            ('criterion = "frequency_ratio"', 'criterion = "frequency_ratio"\nscatter = "95 %"'),
        )
    )
    found = {item.label: (item.scatter, item.worst) for item in study.measures}
    assert found == {
        "comfort (mean over scatter)": ("mean", "largest"),
        "dynamic_load_coefficient": (None, "largest"),
        "bump_reserve (90 % of scatter)": (0.9, "smallest"),
        "frequency_ratio (smallest, 95 % of scatter)": (0.95, "smallest"),
        "frequency_ratio (95 % of scatter)": (0.95, "largest"),
    }


def test_the_same_criterion_as_drawn_and_as_built_are_two_objectives() -> None:
    more = 'scatter = "90 %"\n[[objective]]\ncriterion = "comfort"\n[[objective]]\ncriterion = "dynamic'
    study = read(changed(SCATTERED, ('[[objective]]\ncriterion = "dynamic', more)))
    assert [item.measure.label for item in study.objectives[:2]] == ["comfort (90 % of scatter)", "comfort"]
    twice = more.replace('"comfort"\n', '"comfort"\nscatter = 0.9\n')
    same = changed(SCATTERED, ('[[objective]]\ncriterion = "dynamic', twice))
    assert [item.key for item in find(same)] == ["objective[2].criterion"]


def test_tolerances_are_part_of_what_fixes_figures() -> None:
    digests = {
        figures_digest(read(text))
        for text in (
            ESTATE,
            SCATTERED,
            changed(SCATTERED, ("samples = 16", "samples = 32")),
            changed(SCATTERED, ("seed = 7", "seed = 8")),
            changed(SCATTERED, ('"5 %"', '"6 %"')),
        )
    }
    assert len(digests) == 5
    assert figures_digest(read(SCATTERED)) == figures_digest(read(changed(SCATTERED, ('"5 %"', "0.05"))))


@pytest.mark.parametrize(
    ("line", "key", "found"),
    [
        ('front.spring_rat = "5 %"', "scatter.front.spring_rat", "no quantity is called so"),
        ('front.tyre_rate = "5 mm"', "scatter.front.tyre_rate", "wrong unit"),
        ("front.tyre_rate = 0", "scatter.front.tyre_rate", "out of bounds"),
        ("front.tyre_rate = -0.1", "scatter.front.tyre_rate", "out of bounds"),
        ('front.tyre_rate = "51 %"', "scatter.front.tyre_rate", "out of bounds"),
        ("front.tyre_rate = true", "scatter.front.tyre_rate", "not a quantity"),
        ("front.tyre_damping = 0.1", "scatter.front.tyre_damping", "is 0"),
        ("rear.damper_scale = 0.1", "scatter.rear.damper_scale", "does not give it"),
        ("rear.spring_table = 0.1", "scatter.rear.spring_table", "no tolerance of its own"),
        ("rear.axle = 0.1", "scatter.rear.axle", "a word has no tolerance"),
        ("wheelbase = 0.1", "scatter.wheelbase", "no property of a part"),
        ("front.spring_ratio = 0.01", "scatter.front.spring_ratio", "no property of a part"),
        ("contact_patch = 0.1", "scatter.contact_patch", "no property of a part"),
        ('"front.spring_rate" = 0.1', 'scatter."front.spring_rate"', "given twice"),
    ],
)
def test_mistake_is_at_its_key(line: str, key: str, found: str) -> None:
    (mistake,) = find(changed(SCATTERED, ("samples = 16", f"{line}\nsamples = 16")))
    assert mistake.key == key
    assert found in mistake.found
    assert mistake.allowed or mistake.hint


def test_mistakes_of_the_whole_table() -> None:
    (mistake,) = find(changed(SCATTERED, ("samples = 16", "samples = 24")))
    assert (mistake.key, mistake.found) == ("scatter.samples", "24 is not a power of two")
    (mistake,) = find(changed(ESTATE, ("seed = 7", "seed = 7\nscatter = 0.1")))
    assert mistake.key == "scatter"
    (mistake,) = find(changed(ESTATE, (SEARCH, "\n[scatter]\nsamples = 16\n[search]\n")))
    assert (mistake.key, mistake.found) == ("scatter", "no tolerance")
    wide = ("samples = 16", "front.knee_share = 0.45")
    (mistake,) = find(changed(SCATTERED, ("knee_share = 0.35", "knee_share = 0.7"), wide))
    assert mistake.key == "scatter.front.knee_share"
    assert "a share" in mistake.found


def test_what_the_model_does_not_use_has_no_tolerance() -> None:
    text = f"{CORNER}\n[scatter]\nrear.spring_rate = 0.05\n"
    (mistake,) = find(changed(text, ("[[road]]", "[vehicle.rear]\nspring_rate = 2e4\n[[road]]")))
    assert (mistake.key, mistake.found) == ("scatter.rear.spring_rate", "not used by this quarter car")


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ('"maen"', "stands here"),
        ('"40 %"', "out of bounds"),
        ("1.0", "out of bounds"),
        ('"0.9 mm"', "stands here"),
        ('"98 %"', "all of them"),
    ],
)
def test_mistake_of_a_measure(value: str, found: str) -> None:
    (mistake,) = find(changed(SCATTERED, ('criterion = "comfort"', f'criterion = "comfort"\nscatter = {value}')))
    assert mistake.key == "objective[1].scatter"
    assert found in mistake.found
    assert mistake.allowed


def test_a_measure_needs_tolerances() -> None:
    (mistake,) = find(changed(ESTATE, ('criterion = "comfort"', 'criterion = "comfort"\nscatter = "mean"')))
    assert (mistake.key, mistake.found) == ("objective[1].scatter", "given in a study without tolerances")

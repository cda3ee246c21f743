"""Digests follow what a study means, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridefront.study import digest
from ridefront.study.digest import engine_digest, figures_digest, plan_digest
from study_texts import CORNER, ESTATE, changed, read

LIMITS = "at_least = 1.0\nat_most = 1.35"


def both(text: str) -> tuple[str, str]:
    """Digest of figures, digest of plan."""
    study = read(text)
    return figures_digest(study), plan_digest(study)


def test_digests_are_sha256_in_hexadecimal() -> None:
    for text in both(ESTATE):
        assert len(text) == 64
        assert int(text, 16) > 0


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Light estate, first springs and dampers", "Another title"),
        ('tyre_rate = "215 N/mm"\nbump_travel = "105 mm"', 'tyre_rate = 215000\nbump_travel = "10.5 cm"'),
        ('wheelbase = "2.82 m"', 'wheelbase = "2820 mm"'),
        ("front_share = 0.555", 'front_share = "55.5 %"'),
        ("# of the sprung weight", "# a comment"),
        ("generations = 120", "generations = 120\nrefine = 9999"),
        ('workers = "all"', "workers = 1"),
        ('["60 km/h", "90 km/h"]', '["60.0 km/h", 25]'),
        ('linearisation = "statistical"\nseed = 7', "seed = 7"),
        ('class = "B"', "roughness = 64e-6"),
        ('class = "B"', 'class = "B"\nlength = "1 km"'),
        ("spring_ratio = 0.96\ndamping", 'spring_ratio = 0.96\nfriction_speed = "5 mm/s"\ndamping'),
        ('front.spring_rate = "27 N/mm"', "front.spring_rate = 27000"),
        ('load = ["two up", "gross"]\nweight = 1.0', 'load = ["two up", "gross"]'),
        ('mass = "1408 kg"\npitch_inertia = "2550 kg*m^2"', 'pitch_inertia = 2550\nmass = "1408 kg"'),
    ],
    ids=lambda piece: piece[:30].replace("\n", " "),
)
def test_how_it_is_written_does_not_count(old: str, new: str) -> None:
    text = ESTATE.replace("seed = 7", 'linearisation = "statistical"\nseed = 7')
    assert both(changed(text, (old, new))) == both(ESTATE)


@pytest.mark.parametrize(
    ("old", "new", "figures", "plan"),
    [
        ('tyre_rate = "215 N/mm"\nbump_travel = "105 mm"', 'tyre_rate = 215001\nbump_travel = "105 mm"', True, False),
        ("seed = 7", 'seed = 7\nlinearisation = "at-rest"', True, False),
        ('class = "B"', 'class = "C"', True, False),
        ('class = "B"', 'class = "B"\nlength = 900', True, False),
        ('"90 km/h"]', '"91 km/h"]', True, False),
        (
            'name = "back seat"\nbehind_front_axle = "2.28 m"',
            'name = "back seat"\nbehind_front_axle = 2.3',
            True,
            False,
        ),
        ("weight = 1.0", "weight = 2.0", True, False),
        ("reference = true\n", "", True, False),
        ('criterion = "comfort"', 'criterion = "comfort.driver"', True, True),
        ('criterion = "bump_reserve"', 'criterion = "bump_reserve"\nunit = "m"', True, False),
        ("seed = 7", "seed = 8", False, True),
        ('high = "40 N/mm"', 'high = "41 N/mm"', False, True),
        ('step = "50 N*s/m"', 'step = "100 N*s/m"', False, True),
        ('high = "6000 N*s/m", scale = "log"', 'high = "6000 N*s/m"', False, True),
        ('low = "16 N/mm", high = "40 N/mm"', "low = 16000, high = 40000", True, True),  # stored in another unit
        (LIMITS, "at_least = 1.0\nat_most = 1.4", False, True),
        ("sample = 4096", "sample = 2048", False, True),
        ("population = 200", "population = 100", False, True),
        ('front.spring_rate = "27 N/mm"', 'front.spring_rate = "28 N/mm"', False, True),
    ],
    ids=lambda piece: str(piece)[:30].replace("\n", " "),
)
def test_what_it_means_counts(old: str, new: str, figures: bool, plan: bool) -> None:
    before, after = both(ESTATE), both(changed(ESTATE, (old, new)))
    assert (before[0] != after[0], before[1] != after[1]) == (figures, plan)


def test_seats_of_a_quarter_car_do_not_count() -> None:
    assert both(CORNER + '[[seat]]\nname = "driver"\nbehind_front_axle = 1.2\n') == both(CORNER)


def test_sources_that_compute_figures_count(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("vehicle", "road", "response", "criteria", "evaluate", "study"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "space.py").write_text("one = 1\n", encoding="utf-8")
    study = read(CORNER)
    monkeypatch.setattr(digest, "_PACKAGE", tmp_path)
    seen = []
    for name in ("vehicle/space.py", "response/space.py", "evaluate/space.py", "study/space.py", "study/other.py"):
        digest.engine_digest.cache_clear()
        seen.append((engine_digest(), figures_digest(study)))
        (tmp_path / name).write_text("one = 2\n", encoding="utf-8")
    digest.engine_digest.cache_clear()
    assert (engine_digest(), figures_digest(study)) == seen[-1]  # study/other.py computes no figures
    assert len({engine for engine, _ in seen}) == len({figures for _, figures in seen}) == 5
    digest.engine_digest.cache_clear()

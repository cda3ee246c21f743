"""Which criteria may be asked on which roads, under which response; what is refused, where and why."""

from __future__ import annotations

import pytest

from ridefront.study.digest import figures_digest, plan_digest
from study_texts import ESTATE, changed, find, read

BUMP = """
[[road]]
name = "bump"
kind = "obstacle"
shape = "half-sine"
height = "60 mm"
length = "0.5 m"
"""
TRAIN = BUMP.replace('"bump"', '"train"') + 'count = 4\nspacing = "6 m"\n'
ON = '[[condition]]\nroad = "{}"\nspeed = "30 km/h"\n'
TIME = ('response = "frequency-domain"', 'response = "time-domain"')
AUTO = ('response = "frequency-domain"', 'response = "auto"')


def with_roads(text: str, *roads: str) -> str:
    """The study with further roads and a condition on each."""
    for road in roads:
        name = road.split('name = "')[1].split('"')[0]
        text += road + ON.format(name)
    return text


def asking(criterion: str, *lines: str) -> str:
    return f'\n[[constraint]]\ncriterion = "{criterion}"\nat_most = 1.0\n' + "".join(f"{line}\n" for line in lines)


BASE = changed(ESTATE, ('criterion = "comfort"', 'criterion = "comfort"\nroad = "country road"')).replace(
    'criterion = "dynamic_load_coefficient"', 'criterion = "dynamic_load_coefficient"\nroad = "country road"'
)


def test_reserves_count_on_every_road() -> None:
    study = read(with_roads(BASE, BUMP, TRAIN))
    reserve = next(item.measure for item in study.objectives if item.measure.criterion == "bump_reserve")
    assert [study.conditions[c].name for c in reserve.conditions][-2:] == [
        "bump @ 30 km/h, two up",
        "train @ 30 km/h, two up",
    ]


@pytest.mark.parametrize("criterion", ["comfort", "dynamic_load_coefficient", "wheel_lift_off", "damping_ratio"])
def test_rms_and_shares_are_refused_on_obstacles(criterion: str) -> None:
    text = with_roads(BASE, BUMP)
    (mistake,) = find(text + asking(criterion))
    assert mistake.key == "constraint[2].criterion"
    assert 'on "bump" it is refused' in mistake.found
    assert mistake.allowed == 'road = ["country road"]'
    (mistake,) = find(text + asking(criterion, 'road = ["country road", "bump"]'))
    assert mistake.key == "constraint[2].road"
    assert read(text + asking(criterion, 'road = "country road"')) is not None


@pytest.mark.parametrize("criterion", ["residual_pitch", "settling_time"])
def test_what_follows_one_obstacle_needs_one(criterion: str) -> None:
    text = with_roads(BASE, BUMP, TRAIN)
    (mistake,) = find(text + asking(criterion, 'road = "train"'))
    assert "behind one obstacle" in mistake.found
    assert mistake.allowed == 'road = ["bump"]'
    assert read(text + asking(criterion, 'road = "bump"')) is not None
    (mistake,) = find(BASE + asking(criterion))
    assert "no road for this one" in mistake.allowed


@pytest.mark.parametrize(
    "criterion",
    [
        "vibration_dose",
        "transient_vibration",
        "peak_acceleration",
        "stop_force",
        "bump_stop_engagement",
    ],
)
def test_some_criteria_need_the_time_domain_on_random_roads(criterion: str) -> None:
    (mistake,) = find(BASE + asking(criterion))
    assert mistake.key == "constraint[2].criterion"
    assert "needs the time domain" in mistake.found
    assert 'response = "time-domain"' in mistake.allowed
    (mistake,) = find(changed(BASE, AUTO) + asking(criterion))
    assert "auto begins in the frequency domain" in mistake.found
    assert read(changed(BASE, TIME) + asking(criterion)) is not None
    if criterion != "bump_stop_engagement":
        assert read(with_roads(BASE, BUMP) + asking(criterion, 'road = "bump"')) is not None


def test_stop_forces_need_stops() -> None:
    text = changed(with_roads(BASE, BUMP), ('bump_clearance = "60 mm"\nbump_stop_rate = "40 N/mm"\n', ""))
    (mistake,) = find(text + asking("stop_force", 'road = "bump"'))
    assert "vehicle.rear.bump_stop_rate or vehicle.rear.rebound_stop_rate" in mistake.found


def test_obstacles_need_a_second_of_road_behind_them() -> None:
    """The rear axle's blow and what follows are figures too: a road that ends before would make them small."""
    short = BUMP + 'run_out = "8 m"\n'
    (mistake,) = find(with_roads(BASE, short))
    assert mistake.key == "road[2].run_out"
    assert "too short at bump @ 30 km/h" in mistake.found
    assert mistake.allowed == "11.21 m or more behind the last obstacle"  # 0.06 m, wheelbase 2.82 m, 30 km/h for 1 s
    long = BUMP + 'run_out = "11.22 m"\n'
    assert read(with_roads(BASE, long) + asking("residual_pitch", 'road = "bump"')) is not None
    (mistake,) = find(with_roads(BASE, BUMP + 'road_length = "12 m"\n'))
    assert mistake.key == "road[2].road_length"


def test_a_limit_on_the_settling_time_must_lie_on_the_road() -> None:
    """5 s at 30 km/h, the wheelbase, the bump and half a contact patch: 5.41 s after first contact the road ends."""
    text = with_roads(BASE, BUMP)
    limit = '\n[[constraint]]\ncriterion = "settling_time"\nroad = "bump"\nat_most = "{} s"\n'
    assert read(text + limit.format(5.4)) is not None
    (mistake,) = find(text + limit.format(6))
    assert mistake.key == "road[2].run_out"
    assert "the road ends 5.41 s after first contact" in mistake.found


def test_auto_needs_a_random_road() -> None:
    head, _ = changed(ESTATE, AUTO).split("[[road]]", 1)
    text = with_roads(head, BUMP) + '\n[[objective]]\ncriterion = "bump_reserve"\n'
    text += '[[objective]]\ncriterion = "peak_acceleration"\n'
    present = ESTATE[ESTATE.index("[present]") :].split("[search]", 1)[0]
    (mistake,) = find(text + present)
    assert mistake.key == "response"
    assert '"auto" without a random road' in mistake.found


def test_random_roads_hold_some_waves_of_their_band() -> None:
    short = ('class = "B"', 'class = "B"\nlength = "5 m"')
    (mistake,) = find(changed(ESTATE, TIME, short))
    assert mistake.key == "road[1].length"
    assert "5 m hold 14 waves" in mistake.found
    assert read(changed(ESTATE, short)) is not None  # its spectrum does not care


def test_roads_beyond_all_memory_are_refused() -> None:
    (mistake,) = find(changed(ESTATE, TIME, ('class = "B"', 'class = "B"\nlength = "10 km"\nrealisations = 4096')))
    assert mistake.key == "road[1]"
    assert "GiB of heights" in mistake.found
    assert "2 GiB" in mistake.allowed


def test_one_kind_of_stop_is_enough_for_a_stop_force() -> None:
    text = changed(
        with_roads(BASE, BUMP),
        ('bump_clearance = "60 mm"\nbump_stop_rate', 'rebound_clearance = "60 mm"\nrebound_stop_rate'),
    )
    assert read(text + asking("stop_force", 'road = "bump"')) is not None
    (mistake,) = find(changed(text, TIME) + asking("bump_stop_engagement", 'road = "country road"'))
    assert "vehicle.rear.bump_stop_rate" in mistake.found


def test_lift_off_and_load_order_alike_by_gaussian_theory_only() -> None:
    """In time, stops and knees decide which setup leaves the ground more often."""
    both = '\n[[objective]]\ncriterion = "wheel_lift_off"\n'
    (mistake,) = find(ESTATE + both)
    assert "orders designs as" in mistake.found
    assert len(read(changed(ESTATE, TIME) + both).objectives) == 4


def test_seed_counts_for_figures_where_roads_are_drawn() -> None:
    for change, counts in ((TIME, True), (AUTO, True), (("seed = 7", "seed = 7"), False)):
        one, other = read(changed(ESTATE, change)), read(changed(ESTATE, change, ("seed = 7", "seed = 8")))
        assert (figures_digest(one) != figures_digest(other)) == counts


def test_which_generations_may_grow() -> None:
    """In auto the time domain repeats what the frequency domain ended with, so only its own generations may grow."""
    auto = changed(ESTATE, AUTO, ("generations = 120", "generations = 120\nsimulated_refine = 0"))
    more = changed(auto, ("generations = 120", "generations = 130"))
    longer = changed(auto, ("generations = 120", "generations = 120\nsimulated_generations = 50"))
    assert plan_digest(read(auto)) != plan_digest(read(more))
    assert plan_digest(read(auto)) == plan_digest(read(longer))
    refined = changed(longer, ("simulated_refine = 0", "simulated_refine = 100"))
    assert plan_digest(read(refined)) != plan_digest(read(longer))
    last = changed(ESTATE, ("generations = 120", "generations = 120\nrefine = 0"))
    assert plan_digest(read(last)) == plan_digest(read(changed(last, ("generations = 120", "generations = 130"))))


def test_refinement_may_grow_and_holds_the_generations_before_it() -> None:
    refined = changed(ESTATE, ("generations = 120", "generations = 120\nrefine = 100"))
    assert plan_digest(read(refined)) == plan_digest(read(changed(refined, ("refine = 100", "refine = 200"))))
    assert plan_digest(read(refined)) != plan_digest(read(changed(refined, ("generations = 120", "generations = 130"))))

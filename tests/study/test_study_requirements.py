"""Labels, senses, filters and units of objectives and constraints."""

from __future__ import annotations

from ridefront.study import Constraint, Measure
from study_texts import CORNER, ESTATE, changed, find, read

LIMITS = 'criterion = "frequency_ratio"\nat_least = 1.0\nat_most = 1.35'


def asked(text: str) -> tuple[Constraint, ...]:
    """The estate's constraints, with others instead of its own."""
    return read(changed(ESTATE, (LIMITS, text))).constraints


def objective(text: str) -> Measure:
    """The estate's last objective, with another criterion."""
    return read(changed(ESTATE, ('criterion = "bump_reserve"', text))).objectives[2].measure


def labels(text: str) -> list[str]:
    return [constraint.measure.label for constraint in asked(text)]


def test_objectives_of_the_estate() -> None:
    study = read(ESTATE)
    assert [(item.measure.label, item.sign) for item in study.objectives] == [
        ("comfort", 1), ("dynamic_load_coefficient", 1), ("bump_reserve", -1),
    ]  # fmt: skip
    comfort, _, reserve = (item.measure for item in study.objectives)
    assert (comfort.over, comfort.worst, comfort.unit, comfort.factor) == ("rms", "largest", "m/s^2", 1.0)
    assert (reserve.over, reserve.worst, reserve.unit, reserve.factor) == ("worst", "smallest", "mm", 0.001)
    assert comfort.conditions == (0, 1, 2, 3)
    assert comfort.loads == (0, 1)


def test_label_says_what_differs_from_the_usual() -> None:
    assert objective('criterion = "travel_rms.rear"').label == "travel_rms.rear"
    assert objective('criterion = "travel_rms"\nover = "mean"').label == "travel_rms (mean)"
    assert objective('criterion = "travel_rms"\nload = "gross"').label == "travel_rms (gross)"
    assert objective('criterion = "comfort.driver"\nover = "worst"\nload = "gross"').label == (
        "comfort.driver (gross, worst)"
    )
    assert labels('criterion = "damping_ratio"\nload = "gross"\nat_least = 0.1\nat_most = 0.5') == [
        "damping_ratio (gross, smallest)", "damping_ratio (gross)",
    ]  # fmt: skip
    assert labels('criterion = "bump_reserve"\nat_least = 0.01\nat_most = 0.2') == [
        "bump_reserve", "bump_reserve (largest)",
    ]  # fmt: skip


def test_filter_that_leaves_everything_in_is_none() -> None:
    text = 'criterion = "travel_rms"\nroad = "country road"\nload = ["gross", "two up"]'
    assert objective(text).label == "travel_rms"


def test_order_of_filtered_names_does_not_matter() -> None:
    third = '[[load]]\nname = "full"\nmasses = []\n[[road]]'
    text = changed(ESTATE, ("[[road]]", third), ('"two up", "gross"]\n', '"two up", "gross", "full"]\n'))
    several = changed(text, (LIMITS, 'criterion = "damping_ratio"\nload = ["full", "two up"]\nat_most = 0.5'))
    assert read(several).constraints[0].measure.label == "damping_ratio (two up, full)"


def test_one_figure_alone_has_no_worst() -> None:
    one, other = asked('criterion = "frequency_ratio"\nload = "gross"\nat_least = 1.0\nat_most = 1.3')
    assert one.measure == other.measure
    assert one.measure.label == "frequency_ratio (gross)"
    assert (one.limit, other.limit) == (1.0, 1.3)


def test_limits_look_at_their_own_end() -> None:
    low, high = asked(LIMITS)
    assert (low.kind, low.measure.worst, high.kind, high.measure.worst) == (
        "at_least", "smallest", "at_most", "largest",
    )  # fmt: skip


def test_equal_labels_are_one_measure() -> None:
    study = read(changed(ESTATE, (LIMITS, 'criterion = "bump_reserve"\nat_least = "1 cm"')))
    assert study.constraints[0].measure == study.objectives[2].measure
    assert study.constraints[0].limit == 10.0
    assert len(study.measures) == 3


def test_unit_of_a_limit() -> None:
    (plain,) = asked('criterion = "rattle_space"\nat_most = 0.08')
    assert (plain.measure.unit, plain.limit, plain.scale) == ("m", 0.08, 0.08)
    (written,) = asked('criterion = "rattle_space"\nat_most = "8 cm"')
    assert (written.measure.unit, written.measure.factor, written.limit) == ("cm", 0.01, 8.0)
    (named,) = asked('criterion = "rattle_space"\nunit = "mm"\nat_most = "8 cm"')
    assert (named.measure.unit, named.limit) == ("mm", 80.0)


def test_second_unit_of_one_label_is_converted_to_the_first() -> None:
    both = asked(
        'criterion = "rattle_space"\nat_most = "80 mm"\n[[constraint]]\ncriterion = "rattle_space"\nat_most = "7 cm"'
    )
    assert [item.limit for item in both] == [80.0, 70.0]
    assert {item.measure.unit for item in both} == {"mm"}


def test_unit_of_an_objective() -> None:
    assert objective('criterion = "rattle_space"\nunit = "cm"').unit == "cm"
    assert objective('criterion = "pitch_angle"').unit == "deg"


def test_violations_are_scaled_by_limit_or_typical_size() -> None:
    (small,) = asked('criterion = "bump_reserve"\nat_least = "5 mm"')
    assert (small.limit, small.scale) == (5.0, 20.0)
    (large,) = asked('criterion = "bump_reserve"\nat_least = "50 mm"')
    assert large.scale == 50.0


def test_filters_pick_conditions() -> None:
    measure = objective('criterion = "travel_rms"\nload = "gross"')
    assert (measure.conditions, measure.loads) == ((1, 3), (1,))


def test_criteria_at_rest_count_every_load_of_the_file() -> None:
    text = changed(ESTATE, ('load = ["two up", "gross"]', 'load = "two up"'))
    assert read(text).constraints[0].measure.loads == (0, 1)
    unmarked = changed(text, ("reference = true\n", ""))
    assert len(read(unmarked).loads) == 3
    assert read(unmarked).constraints[0].measure.loads == (0, 1)
    driven = changed(unmarked, ('load = "two up"', ""))
    assert read(driven).constraints[0].measure.loads == (0, 1, 2)


def test_filter_without_a_condition_is_refused() -> None:
    text = changed(
        ESTATE,
        ('load = ["two up", "gross"]', 'load = "two up"'),
        (LIMITS, 'criterion = "damping_ratio"\nload = "gross"\nat_least = 0.1'),
    )
    (mistake,) = find(text)
    assert (mistake.key, mistake.found) == ("constraint[1]", 'no condition has "gross"')


def test_objectives_alike_whatever_their_combination_where_one_condition_counts() -> None:
    text = CORNER + '[[objective]]\ncriterion = "comfort.body"\nover = "worst"\n'
    (mistake,) = find(text)
    assert mistake.key == "objective[2].criterion"
    assert read(text.replace("speed = 20.0", "speed = [20.0, 30.0]")).objectives[1].measure.over == "worst"


def test_objectives_under_two_loads_differ() -> None:
    text = changed(
        ESTATE,
        ('criterion = "comfort"', 'criterion = "comfort"\nload = "two up"'),
        ('criterion = "bump_reserve"', 'criterion = "comfort"\nload = "gross"'),
    )
    assert [item.measure.label for item in read(text).objectives][::2] == ["comfort (two up)", "comfort (gross)"]


def test_objectives_at_two_places_differ() -> None:
    text = changed(
        ESTATE,
        ('criterion = "comfort"', 'criterion = "comfort.driver"'),
        ('criterion = "bump_reserve"', 'criterion = "comfort.body"'),
    )
    assert [item.measure.label for item in read(text).objectives] == [
        "comfort.driver", "dynamic_load_coefficient", "comfort.body",
    ]  # fmt: skip


def test_lift_off_averaged_orders_otherwise_than_load_coefficient() -> None:
    assert objective('criterion = "wheel_lift_off"\nover = "mean"').label == "wheel_lift_off (mean)"
    assert objective('criterion = "wheel_lift_off.rear"').label == "wheel_lift_off.rear"


def test_two_figures_may_not_share_a_label() -> None:
    text = ESTATE.replace('"country road"', '"two up"')
    text = changed(
        text,
        ("[[condition]]", '[[road]]\nname = "lane"\nkind = "iso8608"\nclass = "C"\n[[condition]]'),
        ("weight = 1.0\n", 'weight = 1.0\n[[condition]]\nroad = "lane"\nspeed = 10\n'),
        (LIMITS, 'criterion = "damping_ratio"\nload = "two up"\nat_most = 0.5\n[[constraint]]\n'
         'criterion = "damping_ratio"\nroad = "two up"\nat_most = 0.5'),
    )  # fmt: skip
    (mistake,) = find(text)
    assert "damping_ratio (two up)" in mistake.found


def test_quarter_car_has_its_own_places() -> None:
    text = CORNER + '[[constraint]]\ncriterion = "ride_frequency.front"\nat_most = "2 Hz"\n'
    assert read(text).constraints[0].measure.place == "front"
    (mistake,) = find(changed(text, ("ride_frequency.front", "ride_frequency.rear")))
    assert mistake.allowed == '"ride_frequency.front"'
    (absent,) = find(changed(text, ("ride_frequency.front", "frequency_ratio")))
    assert absent.found == "a quarter-car has no frequency_ratio"


def test_range_must_be_looked_at_where_it_stands() -> None:
    ranged = changed(
        ESTATE,
        ('bump_travel = "105 mm"', 'bump_travel = { low = "90 mm", high = "110 mm" }'),
        ("[present]", '[present]\nfront.bump_travel = "105 mm"'),
    )
    assert read(changed(ranged, ('"bump_reserve"', '"bump_reserve.front"'))).variables[2].path == "front.bump_travel"
    (mistake,) = find(changed(ranged, ('"bump_reserve"', '"bump_reserve.rear"')))
    assert mistake.key == "vehicle.front.bump_travel"

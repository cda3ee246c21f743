"""What `check` says of a full car at rest, against figures by hand, and what it asks about its sides."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ridefront.report.at_rest import conditions, cost, standing_figures
from ridefront.report.doubts import EQUAL_TRACKS, caveats, doubts
from ridefront.report.words import measure, number
from ridefront.study import Study
from study_texts import CORNER, FULL, changed, read

G = 9.80665
BEAM = 'axle = "beam"\naxle_roll_inertia = "42 kg*m^2"\nspring_spacing = "1.12 m"\ndamper_spacing = "1.2 m"\n'
INDEPENDENT = changed(FULL, (BEAM, ""))
STIFF = INDEPENDENT.replace('tyre_rate = "215 N/mm"', 'tyre_rate = "2e6 N/mm"')
LOADED = ', left_of_centre = "0.12 m"'

# The estate's present setup with two up.
FRONT, REAR = 0.5 * 27e3 * 0.96**2, 0.5 * 68e3 * 0.62**2  # half the rate at one wheel, N/m
FRONT_STIFFNESS = (FRONT + 12e3) * 1.55**2
REAR_STIFFNESS = (REAR + 2e3) * 1.53**2


def column(study: Study, head: str) -> dict[str, str]:
    table = standing_figures(study)
    at = table.columns.index(head)
    return {row[0]: row[at] for row in table.rows}


def notes(study: Study) -> str:
    """Of the first load."""
    return standing_figures(study).notes[0]


def test_a_load_off_the_centre_line_shows_each_wheel() -> None:
    heads = standing_figures(read(FULL)).columns[2:]
    assert heads == (
        "front, two up", "rear, two up",
        "front left, gross", "front right, gross", "rear left, gross", "rear right, gross",
    )  # fmt: skip
    heads = standing_figures(read(changed(FULL, (LOADED, "")))).columns[2:]
    assert heads == ("front, two up", "rear, two up", "front, gross", "rear, gross")
    # Under a reference load to one side travels differ wherever else the load lies.
    aside = changed(FULL, (LOADED, ""), ('masses = [ { mass = "150 kg", behind_front_axle = "1.40 m" } ]',
        'masses = [ { mass = "150 kg", behind_front_axle = "1.40 m", left_of_centre = 0.3 } ]'))  # fmt: skip
    assert len(standing_figures(read(aside)).columns) == 2 + 8


def test_load_on_the_centre_line_stands_as_in_the_half_car() -> None:
    text = changed(FULL, (LOADED, ""))
    full, half = (standing_figures(read(changed(text, ('"full-car"', f'"{model}-car"')))) for model in ("full", "half"))
    assert full.columns == half.columns
    assert full.rows[: len(half.rows)] == half.rows
    assert [row[0] for row in full.rows[len(half.rows) :]] == [
        "roll stiffness of the axle, tyres rigid", "of which anti-roll bar",
    ]  # fmt: skip
    for one, other in zip(full.notes, half.notes, strict=True):
        assert one.startswith(other)


def test_load_to_one_side_moves_weight_from_wheel_to_wheel() -> None:
    """The axle's load is the half car's; what left has more, right has less, and left sinks more."""
    full, half = read(FULL), read(changed(FULL, ('"full-car"', '"half-car"')))
    for axle in ("front", "rear"):
        left, right, alike = (column(full, f"{axle} left, gross"), column(full, f"{axle} right, gross"),
                              column(half, f"{axle}, gross"))  # fmt: skip
        assert left["axle load on the scales"] == right["axle load on the scales"] == alike["axle load on the scales"]
        masses = [float(each["sprung mass per wheel"]) for each in (left, right, alike)]
        assert masses[0] + masses[1] == pytest.approx(2 * masses[2], abs=2)  # three digits each
        assert masses[0] > masses[2] > masses[1]
        sinks = [float(each["sink of the body, tyre included"]) for each in (left, right)]
        assert sinks[0] > sinks[1]


def test_roll_stiffness_by_hand() -> None:
    study = read(INDEPENDENT)
    for axle, whole, bar in (("front", FRONT_STIFFNESS, 12e3 * 1.55**2), ("rear", REAR_STIFFNESS, 2e3 * 1.53**2)):
        shown = column(study, f"{axle}, two up")
        assert shown["roll stiffness of the axle, tyres rigid"] == number(whole * np.pi / 180)
        assert shown["of which anti-roll bar"] == number(100 * bar / whole)
    share = 100 * FRONT_STIFFNESS / (FRONT_STIFFNESS + REAR_STIFFNESS)
    assert f"{number(share)} % of the roll stiffness in front" in notes(study)


def test_springs_of_a_beam_stand_closer() -> None:
    shown = column(read(FULL), "rear, two up")
    whole = REAR * 1.12**2 + 2e3 * 1.53**2
    assert shown["roll stiffness of the axle, tyres rigid"] == number(whole * np.pi / 180)


def test_roll_gradient_by_hand() -> None:
    """m g h/(K - m g h), h above the line through the roll centres, where the centre of mass is."""
    mass, behind = 1408 + 150, (1408 * 0.445 * 2.82 + 150 * 1.4) / (1408 + 150)
    arm = 0.58 - (0.06 + (0.14 - 0.06) * behind / 2.82)
    moment = mass * G * arm
    gradient = np.degrees(moment / (FRONT_STIFFNESS + REAR_STIFFNESS - moment))
    assert f"roll gradient {number(gradient)} deg per g" in notes(read(INDEPENDENT))
    unknown = changed(INDEPENDENT, ('rear_roll_centre = "140 mm"\n', ""))
    assert "roll gradient" not in notes(read(unknown))
    falls = changed(INDEPENDENT, ('mass_centre_height = "0.58 m"', 'mass_centre_height = "9 m"'))
    assert notes(read(falls)).endswith("the springs in roll do not hold the body up")


def test_roll_mode_on_rigid_tyres_by_hand() -> None:
    """√(K/I)/2π whatever the damping; the load on the centre line adds no inertia. 1 %: what tyres as stiff as rock
    still give, and three digits.
    """
    found = re.search(r"; roll ([0-9.]+) Hz \(damping ratio ([0-9.]+)\)", notes(read(STIFF)))
    assert found is not None
    assert float(found[1]) == pytest.approx(np.sqrt((FRONT_STIFFNESS + REAR_STIFFNESS) / 580) / (2 * np.pi), rel=0.01)
    rate = FRONT_STIFFNESS + REAR_STIFFNESS
    damping = 0.5 * 2900 * 0.96**2 * 1.55**2 + 0.5 * 3000 * 0.88**2 * 1.53**2  # mean of bump and rebound
    assert float(found[2]) == pytest.approx(damping / (2 * np.sqrt(rate * 580)), rel=0.02)


def test_tramp_of_independent_wheels_is_hop_with_the_bar_twice() -> None:
    """√((k + k_t + 2 k_b)/m_u)/2π without damping, the body heavy beside the wheels. 2 %: it moves a little."""
    loose = changed(INDEPENDENT, ('"2900 N*s/m"', '"29 N*s/m"'), ('"3000 N*s/m"', '"30 N*s/m"'))
    found = re.search(r"front tramp ([0-9.]+) Hz", notes(read(loose)))
    assert found is not None
    stiffness = 2 * FRONT + 215e3 + 2 * 12e3
    assert float(found[1]) == pytest.approx(np.sqrt(stiffness / 44) / (2 * np.pi), rel=0.02)


def test_doubts_about_sides() -> None:
    assert not any("bar" in line or "beam" in line or "track" in line for line in doubts(read(FULL)))
    bare = changed(FULL, ('anti_roll_rate = "12 N/mm"', ""), ('anti_roll_rate = "2 N/mm"', "anti_roll_rate = 0"))
    assert sum("no anti-roll bars" in line for line in doubts(read(bare))) == 1
    wide = changed(FULL, ('spring_spacing = "1.12 m"\n', ""))
    (line,) = (line for line in doubts(read(wide)) if "beam" in line)
    assert line.startswith("rear is a beam without spring_spacing")
    # Half of the wider track, 1.55 m, and half a metre.
    for place, far in (('"0.12 m"', False), ('"-1.27 m"', False), ('"-1.28 m"', True)):
        outside = changed(FULL, (LOADED, f", left_of_centre = {place}"))
        said = [line for line in doubts(read(outside)) if "outside the wheels" in line]
        assert said == (
            ['load "gross": a mass lies 1.28 m right of the centre line, well outside the wheels'] if far else []
        )
    seated = doubts(read(changed(FULL, ('left_of_centre = "0.38 m"', "left_of_centre = 2"))))
    assert 'seat "driver" lies 2 m left of the centre line, well outside the wheels' in seated


def test_comfort_is_too_high_where_tracks_are_alike() -> None:
    equal = changed(FULL, ('tracks = "isotropic"', 'tracks = "equal"'))
    assert sum("left and right tracks are alike" in line for line in doubts(read(equal))) == 1
    assert conditions(read(equal)).rows[0][1].endswith("tracks alike")
    assert not conditions(read(FULL)).rows[0][1].endswith("tracks alike")
    assert EQUAL_TRACKS not in caveats(read(FULL))
    assert EQUAL_TRACKS in caveats(read(changed(equal, ('"full-car"', '"half-car"'))))
    assert EQUAL_TRACKS in caveats(read(CORNER))


def test_gas_that_lifts_is_said_once_an_axle() -> None:
    lifted = changed(FULL, ('bump_travel = "105 mm"', 'bump_travel = "105 mm"\ngas_force = "9 kN"'))
    assert sum("front.gas_force alone carries more" in line for line in doubts(read(lifted))) == 1


def test_cost_of_a_full_car_is_said() -> None:
    full, half = (cost(read(changed(FULL, ('"full-car"', f'"{model}-car"')))) for model in ("full", "half"))
    assert re.sub(r"about .*|at .*", "", full) == re.sub(r"about .*|at .*", "", half)
    assert "µs a ride" in full


def test_wheels_in_words() -> None:
    assert measure("travel_rms.rear_left (mean)") == "travel rms, rear left (mean)"
    assert measure("comfort.back_seat") == "comfort, back_seat"

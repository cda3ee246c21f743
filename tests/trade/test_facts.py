"""Facts of the trade: common practice, no source; what every ride engineer expects of springs, dampers, loads and
roads.

Those that the frequency domain and statics can show. Each was seen on four invented vehicles (vehicles.py); where one
of them is an exception the docstring says so.
"""

from __future__ import annotations

import numpy as np
import pytest

from builders import KMH, Parameters, figure, half_car, iso_road, ride
from ridefront.criteria.ride import Ride
from ridefront.vehicle.body import Seat
from trade.setups import AXLES, scaled, with_frequency_ratios
from trade.vehicles import ESTATE, HATCHBACK, SPORTS_CAR, VAN, Vehicle

VEHICLES = {"hatchback": HATCHBACK, "estate": ESTATE, "van": VAN, "sports car": SPORTS_CAR}
CARS = {name: VEHICLES[name] for name in ("hatchback", "estate", "sports car")}
EVERY = pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=list(VEHICLES))
EVERY_CAR = pytest.mark.parametrize("vehicle", CARS.values(), ids=list(CARS))
DAMPER_KEYS = ("damping", "knee_speed", "knee_share")


def on(
    vehicle: Vehicle, parameters: Parameters, letter: str, kmh: float, at: int = 0, *, at_rest: bool = False
) -> Ride:
    road = iso_road(letter)
    return ride(parameters, road, kmh * KMH, loads=vehicle.loads, at=at, patch=0.12, at_rest=at_rest)


def driver(vehicle: Vehicle) -> Seat:
    return vehicle.seats[0]


SPRINGS = np.array([0.7, 0.85, 1.0, 1.2, 1.5])


@EVERY
def test_softer_springs_pass_less_but_leave_less_travel(vehicle: Vehicle) -> None:
    """On rough road under the design load: less vertical vibration, by a tenth to a fifth from the stiffest springs to
    the softest, which are less than half as stiff; under the gross load: less reserve before metal, by millimetres to
    some centimetres.
    """
    softer_to_stiffer = scaled(vehicle, SPRINGS, "spring_rate")
    design = on(vehicle, softer_to_stiffer, "C", 60)
    for seat in vehicle.seats:
        comfort = figure(design, "comfort", seat)
        assert np.all(np.diff(comfort) > 0)
        assert 1.1 < comfort[-1] / comfort[0] < 1.25
    gross = on(vehicle, softer_to_stiffer, "C", 60, at=1)
    for axle in AXLES:
        reserve = figure(gross, "bump_reserve", axle)
        assert np.all(np.diff(reserve) > 0)
        assert 0.003 < reserve[-1] - reserve[0] < 0.03
        assert np.all(reserve < figure(design, "bump_reserve", axle))


@pytest.mark.parametrize("vehicle", [HATCHBACK, ESTATE], ids=["hatchback", "estate"])
def test_too_soft_for_the_load_is_harsher(vehicle: Vehicle) -> None:
    """With the boot full the rear sits on its stops; springs stiff enough to keep it off them ride better at the back
    seat, though they ride worse with two up.
    """
    soft_and_stiff = scaled(vehicle, np.array([0.7, 1.5]), "spring_rate")
    gross = on(vehicle, soft_and_stiff, "C", 60, at=1)
    touch = vehicle.parameters["rear.bump_clearance"] / vehicle.parameters["rear.stop_ratio"]
    assert gross.state.travel[0, 1] > touch[0] > gross.state.travel[1, 1]
    back = vehicle.seats[1]
    assert figure(gross, "comfort", back)[0] > 1.15 * figure(gross, "comfort", back)[1]
    two_up = on(vehicle, soft_and_stiff, "C", 60)
    assert figure(two_up, "comfort", back)[0] < figure(two_up, "comfort", back)[1]


@EVERY
def test_travel_hardly_depends_on_the_spring(vehicle: Vehicle) -> None:
    """Springs from 0.7 to 1.5 times, more than double, change the rms travel by less than 8 %, dampers from 0.7 to 1.5
    times by more than 20 %: without a budget of travel every study answers "the softest spring allowed".
    """
    springs = on(vehicle, scaled(vehicle, SPRINGS, "spring_rate"), "C", 60)
    dampers = on(vehicle, scaled(vehicle, SPRINGS, "damping_bump", "damping_rebound"), "C", 60)
    for axle in AXLES:
        assert np.ptp(figure(springs, "travel_rms", axle)) < 0.08 * figure(springs, "travel_rms", axle).min()
        assert np.ptp(figure(dampers, "travel_rms", axle)) > 0.2 * figure(dampers, "travel_rms", axle).min()


@EVERY
def test_too_little_and_too_much_damping_are_both_rough(vehicle: Vehicle) -> None:
    """Acceleration is least at a damping ratio of 0.2 to 0.35 and rises both ways."""
    factors = np.array([0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.5, 4.0])
    many = scaled(vehicle, factors, "damping_bump", "damping_rebound", "friction")
    road = on(vehicle, many, "B", 80)
    acceleration = figure(road, "body_acceleration", driver(vehicle))
    best = int(np.argmin(acceleration))
    assert 0.2 < figure(road, "damping_ratio", "front")[best] < 0.35
    assert np.all(np.diff(acceleration[: best + 1]) < 0)
    assert np.all(np.diff(acceleration[best:]) > 0)
    assert acceleration[0] > 1.8 * acceleration[best]
    assert acceleration[-1] > 1.4 * acceleration[best]


@EVERY
def test_without_damping_the_wheels_leave_the_ground(vehicle: Vehicle) -> None:
    """A tenth of the damping: the wheels hop, and road holding is lost on a road that was harmless."""
    worn = on(vehicle, scaled(vehicle, np.array([0.1, 1.0]), "damping_bump", "damping_rebound", "friction"), "C", 60)
    for axle in AXLES:
        lift_off = figure(worn, "wheel_lift_off", axle)
        assert lift_off[0] > 1e-4
        assert lift_off[0] > 3 * lift_off[1]


@EVERY
def test_faster_is_rougher(vehicle: Vehicle) -> None:
    """30 to 130 km/h on one road: comfort, road holding and travel used all get worse, a corner's that is linear with
    the root of speed, here 2.1 times. Road holding and travel by some more, for knees open and friction matters less
    and less; comfort by some less, for front and rear are less and less in step at the seat. (Above 130 km/h it levels
    off: the estate's is 1 % better again at 160.)
    """
    rides = [on(vehicle, vehicle.parameters, "B", kmh) for kmh in (30, 50, 70, 90, 110, 130)]
    for criterion, place, low, high in (
        ("comfort", driver(vehicle), 0.8, 0.95),
        ("dynamic_load_coefficient", "front", 0.95, 1.25),
        ("dynamic_load_coefficient", "rear", 0.95, 1.25),
        ("travel_rms", "front", 1.1, 1.5),
        ("travel_rms", "rear", 1.1, 1.5),
    ):
        found = np.array([figure(r, criterion, place)[0] for r in rides])
        assert np.all(np.diff(found) > 0), criterion
        assert low < found[-1] / found[0] / np.sqrt(130 / 30) < high, criterion


@EVERY
def test_rougher_roads_are_rougher_but_not_in_proportion(vehicle: Vehicle) -> None:
    """From class to class a linear car would double; knees open and friction matters less, so comfort's growth is near
    two but not two, and the linearised damping ratio falls.
    """
    rides = [on(vehicle, vehicle.parameters, letter, 50) for letter in "ABCD"]
    comfort = np.array([figure(r, "comfort", driver(vehicle))[0] for r in rides])
    assert np.all((comfort[1:] / comfort[:-1] > 1.5) & (comfort[1:] / comfort[:-1] < 2.3))
    assert np.all(np.abs(comfort[1:] / comfort[:-1] - 2) > 1e-3)
    for axle in AXLES:
        assert np.all(np.diff([figure(r, "damping_ratio", axle)[0] for r in rides]) < 0)


@pytest.mark.parametrize("differs", ["unsprung mass", "load"])
def test_lift_off_comes_first_where_unsprung_mass_is_large_for_its_load(differs: str) -> None:
    """Axles alike but for one of the two: the wheel with more unsprung mass over static load lifts off first. (Where
    tyres, dampers or springs differ as well, they can turn the order.)
    """
    wheels, shares = np.full(9, 40.0), np.linspace(0.42, 0.58, 9)
    if differs == "unsprung mass":
        wheels, shares = np.linspace(28.0, 52.0, 9), np.full(9, 0.5)
    road = ride(half_car({"front_share": shares, "front.unsprung_mass": wheels}), iso_road("D"), 60 * KMH)
    ratio = road.state.unsprung_mass / road.state.contact_force
    differ = np.abs(ratio[:, 0] / ratio[:, 1] - 1) > 1e-6
    assert differ.sum() == 8
    front, rear = (figure(road, "wheel_lift_off", axle) for axle in AXLES)
    np.testing.assert_array_equal((front > rear)[differ], (ratio[:, 0] > ratio[:, 1])[differ])


@pytest.mark.parametrize("vehicle", [HATCHBACK, ESTATE, VAN], ids=["hatchback", "estate", "van"])
def test_light_tails_hop(vehicle: Vehicle) -> None:
    """Under the design load the rear has more unsprung mass for its load and lifts off first; most of all the van with
    its beam axle, empty. On a broken lane at 60 km/h the rear wheels are in the air for 1 % to 8 % of the time, six
    times as long as the front ones and more. (The sports car's two axles are within 4 % of each other: there springs
    and dampers decide.)
    """
    road = on(vehicle, vehicle.parameters, "D", 60)
    ratio = road.state.unsprung_mass[0] / road.state.contact_force[0]
    assert ratio[1] > 1.1 * ratio[0]
    front, rear = (figure(road, "wheel_lift_off", axle)[0] for axle in AXLES)
    assert rear > 5 * front
    assert 0.005 < rear < 0.1


def test_an_empty_van_hops_more_than_a_full_one() -> None:
    empty, full = (on(VAN, VAN.parameters, "C", 60, at=at) for at in (0, 1))
    ratio = figure(empty, "dynamic_load_coefficient", "rear") / figure(full, "dynamic_load_coefficient", "rear")
    assert ratio[0] > 1.8


@EVERY
def test_heavier_wheels_cost_road_holding(vehicle: Vehicle) -> None:
    """A quarter more of unsprung mass: a load coefficient 2 % to 8 % larger; a fifth less: as much smaller."""
    heavier = on(vehicle, scaled(vehicle, np.array([0.8, 1.0, 1.25]), "unsprung_mass"), "C", 60)
    for axle in AXLES:
        coefficient = figure(heavier, "dynamic_load_coefficient", axle)
        for ratio in coefficient[1:] / coefficient[:-1]:
            assert 1.02 < ratio < 1.08


def test_dampers_at_rest_mislead() -> None:
    """Estate on class D at 40 km/h, no contact patch: a_w at the driver 1.32 m/s² with dampers by their slope at rest,
    1.07 with statistical linearisation; the non-linear car does 1.08 (simulated apart). Slopes at rest are those before
    the knee, which a broken lane leaves far behind.
    """
    figures = []
    for at_rest in (True, False):
        road = ride(ESTATE.parameters, iso_road("D"), 40 * KMH, loads=ESTATE.loads, at_rest=at_rest)
        figures.append(float(figure(road, "comfort", driver(ESTATE))[0]))
    assert figures == pytest.approx([1.32, 1.07], abs=0.005)


def test_springs_on_their_stops_matter_to_road_holding() -> None:
    """Estate, gross, class B at 80 km/h: without the stop that it sits on, the rear's dynamic load coefficient would
    come out 21 % low (first reckoned with the stop's whole slope: 23 %; on this road the wheel leaves it now and then).
    """
    with_stop = on(ESTATE, ESTATE.parameters, "B", 80, at=1)
    without = on(ESTATE, scaled(ESTATE, np.array([0.0]), "bump_stop_rate"), "B", 80, at=1)
    pair = [float(figure(r, "dynamic_load_coefficient", "rear")[0]) for r in (with_stop, without)]
    assert pair[1] / pair[0] - 1 == pytest.approx(-0.21, abs=0.01)
    front = [float(figure(r, "dynamic_load_coefficient", "front")[0]) for r in (with_stop, without)]
    assert front[1] == pytest.approx(front[0], rel=0.02)  # the front does not sit on its stops


@EVERY_CAR
def test_a_rear_somewhat_faster_than_the_front_pitches_least(vehicle: Vehicle) -> None:
    """On random road at 120 km/h the rms pitch angle is least for a frequency ratio of 1.1 to 1.2; a rear softer than
    the front pitches more than equal axles. Pitch acceleration does not show it: it only rises, and hardly, from 0.9 to
    1.2 by 4 % to 7 %, where the touring cars' angle falls by a fifth and more. (The van, whose wheelbase is 3.45 m,
    wants 1.3.)
    """
    ratios = np.array([0.8, 0.9, 1.0, 1.05, 1.1, 1.15, 1.2, 1.3, 1.4])
    road = on(vehicle, with_frequency_ratios(vehicle, ratios), "B", 120)
    np.testing.assert_allclose(figure(road, "frequency_ratio"), ratios, rtol=1e-9)
    pitch = figure(road, "pitch_angle")
    assert 1.1 <= ratios[np.argmin(pitch)] <= 1.2
    assert pitch[0] > pitch[1] > pitch[2]
    acceleration = figure(road, "pitch_acceleration")
    assert np.all(np.diff(acceleration) > 0)
    usual = slice(1, 7)
    assert acceleration[usual][-1] < 1.08 * acceleration[usual][0]
    if vehicle is not SPORTS_CAR:
        assert pitch[usual].min() < 0.85 * pitch[usual].max()


@EVERY
def test_stiffer_dampers_in_rebound_pull_the_body_down(vehicle: Vehicle) -> None:
    """Rebound twice bump: the body is jacked down (bump positive travel), more on a rougher road; equal ways do not
    jack. What jacking takes from the bump reserve it gives to the rebound reserve.
    """
    down = [-on(vehicle, vehicle.parameters, letter, 60).linearised.pumped_force[0] for letter in "BCD"]
    assert np.all(down[0] > 0)
    assert np.all(down[1] > down[0])
    assert np.all(down[2] > down[1])
    equal = {f"{axle}.{k}_rebound": vehicle.parameters[f"{axle}.{k}_bump"] for axle in AXLES for k in DAMPER_KEYS}
    level = on(vehicle, vehicle.parameters | equal, "C", 60)
    np.testing.assert_allclose(level.linearised.pumped_force, 0.0, atol=1e-9)


@EVERY
def test_back_seats_ride_rougher(vehicle: Vehicle) -> None:
    """The driver sits between the axles, whoever sits over the rear axle has all of its motion."""
    over_rear = Seat("over the rear axle", float(vehicle.parameters["wheelbase"][0]))
    road = on(vehicle, vehicle.parameters, "B", 80)
    assert figure(road, "comfort", over_rear)[0] > 1.2 * figure(road, "comfort", driver(vehicle))[0]


@EVERY
def test_a_load_behind_sinks_the_rear_and_slows_its_bounce(vehicle: Vehicle) -> None:
    """Gross against design: the rear sinks more than the front, and both tyre and spring give way; without stops the
    rear's ride frequency falls.
    """
    no_stops = scaled(vehicle, np.array([0.0]), "bump_stop_rate")
    design, gross = (on(vehicle, no_stops, "B", 80, at=at) for at in (0, 1))
    sink = [figure(gross, "ride_height_change", axle)[0] for axle in AXLES]
    assert sink[1] > sink[0]
    assert sink[1] > gross.state.travel[0, 1] > 0
    assert figure(gross, "ride_frequency", "rear")[0] < figure(design, "ride_frequency", "rear")[0]

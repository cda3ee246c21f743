"""Facts of the trade that only the time domain shows, or shows again: common practice, no source.

Blows, stops met and left, wheels in the air, what is left after a bump. Each was seen on four invented vehicles
(vehicles.py); where one of them is an exception, or the fact needs a condition that the saying leaves out, the
docstring says so. Numbers in docstrings are those of these vehicles.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from builders import KMH, Array, Parameters, at_rest_under, figure, half_car, iso_road, ride
from ridefront.criteria.ride import Ride
from ridefront.response.simulate import histories
from ridefront.road import AnyRoad, Obstacle, Road
from ridefront.vehicle import Seat
from time_rides import road_in_time, time_ride
from trade.setups import AXLES, scaled, with_even_dampers, with_frequency_ratios
from trade.vehicles import ESTATE, HATCHBACK, SPORTS_CAR, VAN, Vehicle

VEHICLES = {"hatchback": HATCHBACK, "estate": ESTATE, "van": VAN, "sports car": SPORTS_CAR}
CARS = {name: VEHICLES[name] for name in ("hatchback", "estate", "sports car")}
EVERY = pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=list(VEHICLES))
EVERY_CAR = pytest.mark.parametrize("vehicle", CARS.values(), ids=list(CARS))
TWO = pytest.mark.parametrize("vehicle", [HATCHBACK, ESTATE], ids=["hatchback", "estate"])
PATCH = 0.12
SPRINGS = np.array([0.6, 0.8, 1.0, 1.25, 1.5])
HUMP = Obstacle("hump", "half-sine", height=0.075, length=3.7)
NO_STOPS = {f"{axle}.bump_stop_rate": 0.0 for axle in AXLES}


def on(
    vehicle: Vehicle, parameters: Parameters, road: AnyRoad, kmh: float, at: int = 0, *, seat: Seat | None = None
) -> Ride:
    """The vehicle with these parameters; dose and peak at the driver unless another seat is named."""
    seat = seat or vehicle.seats[0]
    return time_ride(parameters, road, kmh * KMH, loads=vehicle.loads, at=at, patch=PATCH, seat=seat)


def linearised(vehicle: Vehicle, parameters: Parameters, road: Road, kmh: float, at: int = 0) -> Ride:
    """The same in the frequency domain."""
    return ride(parameters, road, kmh * KMH, loads=vehicle.loads, at=at, patch=PATCH)


def bump(height: float, length: float, shape: str = "half-sine") -> Obstacle:
    return Obstacle("bump", shape, height=height, length=length)


@EVERY
def test_softer_springs_pass_less_of_a_small_bump(vehicle: Vehicle) -> None:
    """20 mm x 2 m at 30 km/h, springs from 0.6 to 1.5 times: peak, dose and running rms grow by a quarter to a half."""
    small = on(vehicle, scaled(vehicle, SPRINGS, "spring_rate"), bump(0.02, 2.0, "versine"), 30)
    assert np.all(small.simulated.stop_force == 0)
    for criterion in ("peak_acceleration", "vibration_dose", "transient_vibration"):
        passed = figure(small, criterion, vehicle.seats[0])
        assert np.all(np.diff(passed) > 0), criterion
        assert 1.2 < passed[-1] / passed[0] < 1.6, criterion


@TWO
def test_under_a_heavy_blow_a_softer_spring_meets_its_stop_and_is_harsher(vehicle: Vehicle) -> None:
    """100 mm x 2 m at 30 km/h, springs from 0.6 to 1.5 times. The softer, the harder it goes into its stop, by a
    third and more. On stops ten times as stiff, which is next to metal, it is therefore the harsher one. On the
    vehicles' own it is not: the bump's height sets how deep they are pressed, and they are so mild that what the spring
    gives away it does not take back. That is what long and progressive stops are made for.
    """
    blow = bump(0.1, 2.0, "versine")
    own = scaled(vehicle, SPRINGS, "spring_rate")
    hard = own | {f"{axle}.bump_stop_rate": 10 * own[f"{axle}.bump_stop_rate"] for axle in AXLES}
    for setups in (own, hard):
        met = on(vehicle, setups, blow, 30)
        force = figure(met, "stop_force", "front")
        assert np.all(np.diff(force) < 0)
        assert force[0] > 1.3 * force[-1] > 0
        for place in ("body", vehicle.seats[0]):
            peak = figure(met, "peak_acceleration", place)
            if setups is hard:
                assert np.all(np.diff(peak) < 0)
                assert peak[0] > 1.05 * peak[-1]
            else:
                assert peak[0] < peak[-1]


@TWO
def test_under_a_full_load_a_softer_spring_is_harsher(vehicle: Vehicle) -> None:
    """Over the hump at 25 km/h: two up the softer rear is the smoother at the back seat, with the boot full it sits on
    its stop and is the harsher.
    """
    back = vehicle.seats[1]
    soft_and_stiff = scaled(vehicle, np.array([0.7, 1.5]), "spring_rate")
    two_up, full = (on(vehicle, soft_and_stiff, HUMP, 25, at=at, seat=back) for at in (0, 1))
    for criterion in ("peak_acceleration", "vibration_dose"):
        assert figure(two_up, criterion, back)[0] < 0.75 * figure(two_up, criterion, back)[1], criterion
        assert figure(full, criterion, back)[0] > 1.05 * figure(full, criterion, back)[1], criterion
    assert figure(full, "stop_force", "rear")[0] > 1.7 * figure(full, "stop_force", "rear")[1]


RATIOS = np.array([0.8, 0.9, 1.0, 1.1, 1.2, 1.3])


@EVERY
def test_a_rear_faster_than_the_front_pitches_less_after_a_bump(vehicle: Vehicle) -> None:
    """A hump of 30 mm x 3.7 m, damping ratio 0.15: the pitch left in the second after it is less for a rear a tenth
    faster than the front than for equal axles, at every speed from 30 to 120 km/h, and more for one a tenth softer,
    from 45 km/h on (at 30 the two are within 4 %). The best ratio falls with speed, as the delay between the axles
    does, and is 1.1 or 1.2 at 120 km/h.

    The rule is one for light dampers, under which the body swings on; see the next test.
    """
    many = with_even_dampers(vehicle, with_frequency_ratios(vehicle, RATIOS), 0.15)
    best = []
    for kmh in (30, 45, 60, 75, 90, 105, 120):
        passed = on(vehicle, many, bump(0.03, 3.7), kmh)
        _, slower, equal, faster, *_ = pitch = figure(passed, "residual_pitch")
        assert faster < 0.96 * equal
        assert slower > (1.07 if kmh > 30 else 0.95) * equal
        best.append(RATIOS[np.argmin(pitch)])
    assert np.all(np.diff(best) <= 0)
    assert best[0] == 1.3
    assert best[-1] in (1.1, 1.2)


@EVERY_CAR
def test_strong_dampers_hide_that_rule(vehicle: Vehicle) -> None:
    """The same hump at 80 km/h with the cars' own dampers, 0.4 at rest: the softer rear pitches less. The rule is about
    the swing. With a damping ratio of 0.15 that is what is left from 0.3 s after the hump on, and a tenth of frequency
    takes a fifth to a third of it away. Their own dampers leave half as much and less, whatever the ratio; most of the
    second's pitch is the throw itself, which a stiffer rear makes larger.
    """
    hump, speed = bump(0.03, 3.7), 80 * KMH
    own = with_frequency_ratios(vehicle, np.array([0.9, 1.0, 1.1]))
    slower, equal, faster = figure(on(vehicle, own, hump, 80), "residual_pitch")
    assert slower < 0.92 * equal < 0.92 * 0.92 * faster
    way = road_in_time(own, hump, speed, patch=PATCH)
    throw = round(0.3 / way.step)

    def throw_and_swing(setups: Parameters) -> tuple[Array, Array]:
        displacements, _ = histories(at_rest_under(setups, vehicle.loads), way)
        square = displacements[:, 1, slice(*way.window)] ** 2
        return square[:, :throw].sum(axis=1), square[:, throw:].sum(axis=1)

    own_throw, own_swing = throw_and_swing(own)
    _, swing = throw_and_swing(with_even_dampers(vehicle, own, 0.15))
    assert np.all(np.sqrt(swing[1:] / swing[:-1]) < 0.85)
    assert np.all(np.sqrt(own_swing / swing) < 0.6)
    assert np.all(own_throw > 3 * own_swing)


@EVERY_CAR
def test_on_random_road_a_rear_somewhat_faster_pitches_least(vehicle: Vehicle) -> None:
    """Class B at 120 km/h: the rms pitch angle is least at a ratio of 1.1 to 1.2; a softer rear pitches more than equal
    axles, by 6 % to 18 % at 0.9. (The van, whose wheelbase is 3.45 m, wants 1.3.)
    """
    ratios = np.array([0.8, 0.9, 1.0, 1.05, 1.1, 1.15, 1.2, 1.3])
    pitch = figure(on(vehicle, with_frequency_ratios(vehicle, ratios), iso_road("B"), 120), "pitch_angle")
    assert 1.1 <= ratios[np.argmin(pitch)] <= 1.2
    assert pitch[0] > pitch[1] > 1.04 * pitch[2]
    assert pitch[2] > 1.01 * pitch.min()
    assert pitch[-1] > 1.03 * pitch.min()


DAMPING = np.array([0.0, 0.1, 0.3, 0.7, 1.0, 1.5, 2.5, 4.0])


@EVERY
def test_without_dampers_the_body_goes_on_swinging(vehicle: Vehicle) -> None:
    """After the hump at 25 km/h: without dampers, and with a tenth of them, heave has not settled when the road ends,
    some six seconds later; with the vehicle's own it has in two. Four times as much creeps back for longer again.
    """
    passed = on(vehicle, scaled(vehicle, DAMPING, "damping_bump", "damping_rebound", "friction"), HUMP, 25)
    settling = figure(passed, "settling_time")
    assert np.all(settling[:2] >= passed.simulated.drive.duration)
    assert settling[4] < 2.0
    assert settling[2] > 1.5 * settling[4]
    assert settling[-1] > 1.5 * settling[4]


@EVERY
def test_too_little_and_too_much_damping_are_both_rough(vehicle: Vehicle) -> None:
    """On class B at 80 km/h and over a bump of 30 mm x 2 m at 40 km/h: acceleration is least between a tenth of the
    vehicle's own damping and all of it, and rises both ways.
    """
    many = scaled(vehicle, DAMPING, "damping_bump", "damping_rebound", "friction")
    for road, kmh, criterion in (
        (iso_road("B", length=500.0), 80, "body_acceleration"),
        (bump(0.03, 2.0), 40, "vibration_dose"),
    ):
        rough = figure(on(vehicle, many, road, kmh), criterion, vehicle.seats[0])
        best = int(np.argmin(rough))
        assert 0.1 < DAMPING[best] <= 1.0
        assert np.all(np.diff(rough[: best + 1]) < 0)
        assert np.all(np.diff(rough[best:]) > 0)
        assert rough[0] > 1.2 * rough[best]
        assert rough[-1] > 1.4 * rough[best]


@EVERY
def test_on_random_road_faster_is_rougher(vehicle: Vehicle) -> None:
    """Class B from 30 to 130 km/h: comfort, peaks, road holding, travel used. What is linear grows with the root of
    speed, 2.1 times; comfort and peaks at the seat by some less, for front and rear are less and less in step there,
    road holding and travel by some more, for knees open.
    """
    road = replace(iso_road("B"), realisations=4)
    rides = [on(vehicle, vehicle.parameters, road, kmh) for kmh in (30, 50, 70, 90, 110, 130)]
    for criterion, place, low, high in (
        ("comfort", vehicle.seats[0], 0.8, 0.95),
        ("peak_acceleration", vehicle.seats[0], 0.8, 1.05),
        ("dynamic_load_coefficient", "front", 0.95, 1.25),
        ("dynamic_load_coefficient", "rear", 0.95, 1.25),
        ("travel_rms", "front", 1.1, 1.5),
        ("travel_rms", "rear", 1.1, 1.5),
    ):
        found = np.array([figure(r, criterion, place)[0] for r in rides])
        assert np.all(np.diff(found) > 0), criterion
        assert low < found[-1] / found[0] / np.sqrt(130 / 30) < high, criterion


SPEEDS = (10, 15, 20, 25, 30, 35, 40, 50, 60, 80, 100, 120)


def peaks(vehicle: Vehicle, road: Obstacle) -> Array:
    return np.array(
        [figure(on(vehicle, vehicle.parameters, road, k), "peak_acceleration", vehicle.seats[0])[0] for k in SPEEDS]
    )


@EVERY
def test_a_short_bump_has_a_worst_speed(vehicle: Vehicle) -> None:
    """50 mm x 0.5 m, of rounded foot: the peak at the driver is worst at 20 to 30 km/h, and at 100 a fifth to a half
    less. (With a sharp foot, as of a half-sine, the stiff sports car's worst is at 35.)
    """
    peak = peaks(vehicle, bump(0.05, 0.5, "versine"))
    assert 20 <= SPEEDS[int(np.argmax(peak))] <= 30
    assert peak[0] < 0.8 * peak.max()
    assert peak[SPEEDS.index(100)] < 0.8 * peak.max()


@EVERY
def test_a_long_hump_keeps_rising_with_speed(vehicle: Vehicle) -> None:
    """75 mm x 3.7 m: the peak at the driver is largest at the highest speed, 120 km/h, and 1.4 to 2 times that at
    40. (On the way, between 40 and 60 km/h, the van's falls back by 9 % and the sports car's by 6 %.)
    """
    peak = peaks(vehicle, HUMP)
    assert int(np.argmax(peak)) == len(SPEEDS) - 1
    assert peak[-1] > 1.35 * peak[SPEEDS.index(40)]
    assert np.all(peak > 0.9 * np.maximum.accumulate(peak))


def first_lift_off(rides: dict[int, Ride]) -> Array:
    """Speed at which each wheel first leaves the ground, (n, 2), km/h; infinite where none does."""
    first = np.full((len(next(iter(rides.values())).simulated.lift_off), 2), np.inf)
    for kmh, of in rides.items():
        first = np.where(np.isinf(first) & (of.simulated.lift_off > 0), kmh, first)
    return first


@pytest.mark.parametrize("differs", ["unsprung mass", "load"])
def test_lift_off_comes_first_where_unsprung_mass_is_large_for_its_load(differs: str) -> None:
    """Axles alike but for one of the two, class C, speed raised until each wheel leaves the ground: the wheel with more
    unsprung mass over static load does so first, or, within the 5 km/h of a step, at the same speed.
    """
    wheels, shares = np.full(9, 40.0), np.linspace(0.42, 0.58, 9)
    if differs == "unsprung mass":
        wheels, shares = np.linspace(28.0, 52.0, 9), np.full(9, 0.5)
    car = half_car({"front_share": shares, "front.unsprung_mass": wheels})
    state = at_rest_under(car)
    ratio = state.unsprung_mass / state.contact_force
    road = replace(iso_road("C", length=500.0), realisations=4)
    first = first_lift_off({kmh: time_ride(car, road, kmh * KMH) for kmh in range(70, 125, 5)})
    assert np.all(np.isfinite(first.min(axis=1)))
    front_more = ratio[:, 0] > ratio[:, 1]
    earlier, later = np.where(front_more, first.T, first.T[::-1])
    assert np.all(earlier <= later)
    apart = np.abs(np.log(ratio[:, 0] / ratio[:, 1])) > 0.15
    assert apart.sum() >= 4
    assert np.all(earlier[apart] < later[apart])


@pytest.mark.parametrize("vehicle", [HATCHBACK, ESTATE, VAN], ids=["hatchback", "estate", "van"])
def test_light_tails_hop_first(vehicle: Vehicle) -> None:
    """Two up the rear wheels have more unsprung mass for their load: on class C they leave the ground by 40, 100 and
    40 km/h, the front wheels by 120, 180 and 180. (The sports car's axles are within 4 % of each other.)
    """
    road = replace(iso_road("C", length=500.0), realisations=4)
    first = first_lift_off({k: on(vehicle, vehicle.parameters, road, k) for k in (30, 40, 60, 80, 100, 120, 140, 180)})
    ((front, rear),) = first
    assert 1.3 * rear < front < np.inf


def test_dampers_at_rest_mislead() -> None:
    """Estate on class D at 40 km/h, no contact patch: a_w at the driver is 1.08 m/s² step by step, 1.07 by statistical
    linearisation, 1.32 with dampers by their slope at rest.
    """
    driver = ESTATE.seats[0]
    road, speed = iso_road("D"), 40 * KMH
    real = figure(time_ride(ESTATE.parameters, road, speed, loads=ESTATE.loads, seat=driver), "comfort", driver)[0]
    statistical, at_rest = (
        figure(ride(ESTATE.parameters, road, speed, loads=ESTATE.loads, at_rest=way), "comfort", driver)[0]
        for way in (False, True)
    )
    assert real == pytest.approx(1.08, abs=0.015)
    assert statistical == pytest.approx(real, rel=0.03)
    assert at_rest > 1.15 * real


@pytest.mark.parametrize(
    ("vehicle", "low"), [(HATCHBACK, -0.14), (ESTATE, -0.22)], ids=["hatchback", "estate"]
)  # fmt: skip
def test_springs_on_their_stops_matter_to_road_holding(vehicle: Vehicle, low: float) -> None:
    """Gross, class B at 80 km/h: the rear sits on its stops most of the time (the hatchback 62 %, the estate 87 %). A
    linear model without them puts its dynamic load coefficient 14 % and 22 % low; with them 2 %.
    """
    road = iso_road("B")
    real = on(vehicle, vehicle.parameters, road, 80, at=1)
    assert 0.5 < figure(real, "bump_stop_engagement", "rear")[0] < 0.95
    assert figure(real, "bump_stop_engagement", "front")[0] < 0.01
    want = figure(real, "dynamic_load_coefficient", "rear")[0]
    with_stops, without = (
        figure(linearised(vehicle, vehicle.with_changes(change), road, 80, at=1), "dynamic_load_coefficient", "rear")[0]
        for change in ({}, NO_STOPS)
    )
    assert with_stops == pytest.approx(want, rel=0.03)
    assert without / want - 1 == pytest.approx(low, abs=0.015)


# fmt: off
# Bump travel from the design position over the hump at 25 km/h, mm, front and rear. Worked out apart, with another
# program, before this one had a time domain, and written down to a millimetre; its stops' rates were at the wheel.
TRAVEL_ON_THE_HUMP = [
    (HATCHBACK, 0, 50, 44), (HATCHBACK, 1, 57, 99), (ESTATE, 0, 53, 51), (ESTATE, 1, 55, 104), (SPORTS_CAR, 0, 34, 27),
]
# fmt: on


@pytest.mark.parametrize(
    ("vehicle", "at", "front", "rear"),
    TRAVEL_ON_THE_HUMP,
    ids=["hatchback", "hatchback gross", "estate", "estate gross", "sports car"],
)
def test_travel_on_a_hump(vehicle: Vehicle, at: int, front: float, rear: float) -> None:
    """Within 1.5 mm. (With the stops' rates at the element, as these vehicles give them, the laden estate's rear stop
    is softer at the wheel by the square of its ratio, 0.77, and goes 5 mm deeper: 109.)
    """
    at_wheel = {f"{axle}.stop_ratio": 1.0 for axle in AXLES} | {
        f"{axle}.bump_clearance": float(
            vehicle.parameters[f"{axle}.bump_clearance"][0] / vehicle.parameters[f"{axle}.stop_ratio"][0]
        )
        for axle in AXLES
    }
    passed = on(vehicle, vehicle.with_changes(at_wheel), HUMP, 25, at=at)
    assert passed.simulated.highest[0] == pytest.approx(np.array([front, rear]) * 1e-3, abs=1.5e-3)


@pytest.mark.parametrize("vehicle", [HATCHBACK, ESTATE, VAN], ids=["hatchback", "estate", "van"])
def test_stops_are_met_laden(vehicle: Vehicle) -> None:
    """Over the hump at 25 km/h: laden, the rear is pressed deep into its stop; two up it does not reach it, and even
    laden it stays off the metal.
    """
    two_up, gross = (on(vehicle, vehicle.parameters, HUMP, 25, at=at) for at in (0, 1))
    assert figure(two_up, "stop_force", "rear")[0] == 0
    assert figure(gross, "stop_force", "rear")[0] > 2000
    assert 0.003 < figure(gross, "bump_reserve", "rear")[0] < 0.03


@EVERY
def test_stiffer_dampers_in_rebound_pull_the_body_down(vehicle: Vehicle) -> None:
    """Rebound twice bump, class B, C and D at 60 km/h: the body rides down by 2 to 9 mm, more on a rougher road, and
    what the frequency domain says of it is close: 8 % too little on B (12 % at the van's rear, where friction is most),
    7 % on C, 3 % on D. Friction and knees are the reason: what little speed they leave on a smooth road is not
    Gaussian; without both the two are within 1.5 % on B.
    """
    low, down = [], []
    for letter in "BCD":
        road = iso_road(letter)
        real = on(vehicle, vehicle.parameters, road, 60).simulated.mean_travel[0]
        down.append(real)
        low.append(linearised(vehicle, vehicle.parameters, road, 60).response.mean_travel[0] / real - 1)
    assert np.all(down[0] > 1.5e-3)
    assert np.all(np.diff(down, axis=0) > 1e-3)
    assert np.all(np.diff(low, axis=0) > 0)
    for found, bound in zip(low, (0.14, 0.08, 0.035), strict=True):
        assert np.all(np.abs(found) < bound)
    plain = vehicle.with_changes(
        {f"{axle}.friction": 0.0 for axle in AXLES}
        | {f"{axle}.knee_share_{way}": 1.0 for axle in AXLES for way in ("bump", "rebound")}
    )
    real = on(vehicle, plain, iso_road("B"), 60).response.mean_travel[0]
    assert linearised(vehicle, plain, iso_road("B"), 60).response.mean_travel[0] == pytest.approx(real, rel=0.02)


@EVERY
def test_dampers_alike_both_ways_do_not_pull(vehicle: Vehicle) -> None:
    keys = ("damping", "knee_speed", "knee_share")
    equal = {f"{axle}.{k}_rebound": vehicle.parameters[f"{axle}.{k}_bump"] for axle in AXLES for k in keys}
    level = on(vehicle, vehicle.parameters | equal, iso_road("C"), 60).simulated.mean_travel[0]
    assert np.all(np.abs(level) < 0.2e-3)

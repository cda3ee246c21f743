"""Half and full cars on a random road against closed forms: wheelbase filtering, seats ahead and behind, roll.

The car has a dynamic index of 1, so that it is two quarter cars: `two_ends` has the formulas and where they come from.
A full car on two tracks is that half car on the mean of them. With its ends alike, the roll of its body is a quarter
car too: one with the mass I/t², I the roll inertia and t the track, on the mean of both axles' half differences of
tracks, and the angle is 2/t of its height (derived). Half the difference has (1 - g)/2 of a track's spectrum, g the
tracks' coherence: a half of it where nothing is in common.

Everything goes from a study's text to pieces, in the frequency domain and in time: invented cars on so smooth a road
that no wheel leaves it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np
import pytest

from builders import Array, half_car, ride
from checks import check_all
from published.two_ends import End, TwoEnds, half_difference, rms
from ridefront.evaluate import Evaluator, Pieces
from ridefront.evaluate.outcome import Domain
from ridefront.road import Road
from study_texts import changed, read

FILTERING = "Wheelbase filtering and the car of two quarter cars, closed forms (Butkunas 1966; Crolla, King 2000)"
HOW = "derived (sources from memory): transfer functions of two quarter cars, integrated"

ROUGHNESS = 16e-6  # m³, class A
SPEEDS = (12.0, 31.0)
WHEELBASE, SHARE, MASS = 2.7, 0.56, 1400.0
FRONT = End(0.5 * SHARE * MASS, 42.0, 23e3, 1900.0, 210e3)
REAR = End(0.5 * (1 - SHARE) * MASS, 36.0, 29e3, 1500.0, 190e3)
SEATS = {"driver": 0.9, "back seat": 2.3}
"""Behind the front axle, m; the centre of mass is at 1.188 m, between them."""
ARM = 0.4
"""Height of the seats above the centre of mass, m."""
TRACK, ROLL_INERTIA = 1.6, 500.0

HALF = f"""
[vehicle]
model = "half-car"
wheelbase = {WHEELBASE}
front_share = {SHARE}
mass_centre_height = 0.55
[vehicle.body]
mass = {MASS}
dynamic_index = 1.0
[vehicle.front]
unsprung_mass = {FRONT.mu}
spring_rate = {{ low = {FRONT.k}, high = {1.01 * FRONT.k} }}
damping = {FRONT.c}
tyre_rate = {FRONT.kt}
[vehicle.rear]
unsprung_mass = {REAR.mu}
spring_rate = {REAR.k}
damping = {REAR.c}
tyre_rate = {REAR.kt}
[[seat]]
name = "driver"
behind_front_axle = {SEATS["driver"]}
height = {0.55 + ARM}
[[seat]]
name = "back seat"
behind_front_axle = {SEATS["back seat"]}
height = {0.55 + ARM}
[[road]]
name = "smooth"
kind = "iso8608"
class = "A"
length = 500.0
realisations = 2
[[condition]]
road = "smooth"
speed = [{SPEEDS[0]}, {SPEEDS[1]}]
[[objective]]
criterion = "comfort_total"
"""

FULL = changed(
    HALF,
    ('model = "half-car"', 'model = "full-car"'),
    ("dynamic_index = 1.0", f"dynamic_index = 1.0\nroll_inertia = {ROLL_INERTIA}"),
    (f"damping = {FRONT.c}", f"damping = {FRONT.c}\ntrack = {TRACK}"),
    (f"damping = {REAR.c}", f"damping = {REAR.c}\ntrack = {TRACK}"),
)
COHERENT = changed(FULL, ("realisations = 2", 'realisations = 2\ntracks = "equal"'))
ALIKE = changed(
    FULL,
    (f"front_share = {SHARE}", "front_share = 0.5"),
    (f"unsprung_mass = {REAR.mu}", f"unsprung_mass = {FRONT.mu}"),
    (f"spring_rate = {REAR.k}", f"spring_rate = {FRONT.k}"),
    (f"damping = {REAR.c}", f"damping = {FRONT.c}"),
    (f"tyre_rate = {REAR.kt}", f"tyre_rate = {FRONT.kt}"),
)
"""Ends alike, and two tracks of a surface that is alike in all directions."""

DOMAINS: tuple[Domain, ...] = ("frequency-domain", "time-domain")
ROOM: dict[Domain, float] = {"frequency-domain": 1e-5, "time-domain": 1e-3}
"""In time the road is lines, 0.002 cycles/m apart; the step is some milliseconds, weightings are digital (0.06 %)."""


@lru_cache
def worked_out(text: str, domain: Domain) -> Pieces:
    study = read(text)
    names = ("body_acceleration", "comfort", "comfort_total", "pitch_angle", "pitch_acceleration")
    rolling = ("roll_angle", "roll_acceleration") if "full-car" in text else ()
    return Evaluator(study).pieces(np.array([[FRONT.k]]), names + rolling, domain)


def ours(text: str, domain: Domain, criterion: str, place: str = "") -> Array:
    """A criterion at both speeds."""
    found = worked_out(text, domain)
    columns = [k for k in range(len(found.place)) if (found.criterion[k], found.place[k]) == (criterion, place)]
    assert [found.condition[k] for k in columns] == [f"smooth @ {speed} m/s" for speed in SPEEDS]
    return found.values[0, columns]


def car(speed: float) -> TwoEnds:
    return TwoEnds(FRONT, REAR, WHEELBASE, speed)


def total(of: TwoEnds, behind_front_axle: float) -> float:
    """comfort_total: vertical with Wk, pitch with We and 0.4 m/rad, fore-aft at the backrest with Wc and 0.8."""
    vertical = rms(of.at(behind_front_axle), ROUGHNESS, of.speed, weighted="Wk")
    pitch, fore_aft = (rms(of.pitch, ROUGHNESS, of.speed, weighted=name) for name in ("We", "Wc"))
    return float(np.sqrt(vertical**2 + (0.4 * pitch) ** 2 + (0.8 * ARM * fore_aft) ** 2))


def closed(criterion: str, behind_front_axle: float) -> list[float]:
    """A criterion of the half car at both speeds, from the formulas."""
    found = []
    for of in map(car, SPEEDS):
        if criterion == "comfort_total":
            found.append(total(of, behind_front_axle))
        elif criterion.startswith("pitch"):
            found.append(rms(of.pitch, ROUGHNESS, of.speed, order=0 if criterion == "pitch_angle" else 2))
        else:
            weighted = "Wk" if criterion == "comfort" else None
            found.append(rms(of.at(behind_front_axle), ROUGHNESS, of.speed, weighted=weighted))
    return found


UNITS = {
    "body_acceleration": "m/s²",
    "comfort": "m/s²",
    "comfort_total": "m/s²",
    "pitch_angle": "rad",
    "pitch_acceleration": "rad/s²",
}


@pytest.mark.parametrize("domain", DOMAINS)
def test_seats_and_pitch(domain: Domain) -> None:
    """At two seats, one ahead of the centre of mass and one behind, at 12 and 31 m/s; pitch is of the whole body. The
    seats differ by a quarter: a wrong lag or sign would show.
    """
    cars = {"half car": HALF, "full car": COHERENT}
    for criterion, unit in UNITS.items():
        places = {"": 0.0} if criterion.startswith("pitch") else SEATS
        theirs = [figure for x in places.values() for figure in closed(criterion, x)]
        check_all(
            figure=f"{criterion} of a half car, and of a full car on equal tracks, {domain}",
            source=FILTERING,
            theirs=theirs * len(cars),
            ours=np.concatenate([ours(text, domain, criterion, place) for text in cars.values() for place in places]),
            at=[" ".join(filter(None, (*at, f"{speed:g} m/s"))) for at in product(cars, places) for speed in SPEEDS],
            unit=unit,
            rel=ROOM[domain],
            how=HOW,
            robust=domain == "frequency-domain",
        )
    one, other = (closed("comfort", x) for x in SEATS.values())
    assert np.all(np.array(other) > 1.2 * np.array(one))


@pytest.mark.parametrize("domain", DOMAINS)
def test_roll_of_a_full_car(domain: Domain) -> None:
    """Isotropic tracks, 1.6 m apart; ends alike. Front and rear meet the same half difference, a wheelbase apart."""
    rolling = replace(FRONT, m=ROLL_INERTIA / TRACK**2)
    for criterion, order, unit in (("roll_angle", 0, "rad"), ("roll_acceleration", 2, "rad/s²")):
        theirs = []
        for speed in SPEEDS:
            both = TwoEnds(rolling, rolling, WHEELBASE, speed).at(0.5 * WHEELBASE)
            height = rms(both, ROUGHNESS, speed, order=order, share=lambda n: half_difference(n, TRACK))
            theirs.append(2 / TRACK * height)
        check_all(
            figure=f"{criterion} of a full car on isotropic tracks, {domain}",
            source=FILTERING,
            theirs=theirs,
            ours=ours(ALIKE, domain, criterion),
            at=[f"{speed:g} m/s" for speed in SPEEDS],
            unit=unit,
            rel=ROOM[domain],
            how=HOW,
            robust=domain == "frequency-domain",
        )


@pytest.mark.parametrize("domain", DOMAINS)
def test_comfort_of_a_full_car_with_its_roll(domain: Domain) -> None:
    """comfort_total on isotropic tracks, on the centre line: heave and pitch on the mean of the tracks, and 0.63 m/rad
    of roll with We beside them.
    """
    rolling = replace(FRONT, m=ROLL_INERTIA / TRACK**2)
    sprung = replace(FRONT, m=0.25 * MASS)
    theirs = []
    for speed in SPEEDS:
        of = TwoEnds(sprung, sprung, WHEELBASE, speed)
        both = TwoEnds(rolling, rolling, WHEELBASE, speed).at(0.5 * WHEELBASE)

        def mean(n: Array) -> Array:
            return 1 - half_difference(n, TRACK)

        vertical = rms(of.at(SEATS["driver"]), ROUGHNESS, speed, weighted="Wk", share=mean)
        pitch, fore_aft = (rms(of.pitch, ROUGHNESS, speed, weighted=name, share=mean) for name in ("We", "Wc"))
        roll = 2 / TRACK * rms(both, ROUGHNESS, speed, weighted="We", share=lambda n: half_difference(n, TRACK))
        parts = (vertical, 0.4 * pitch, 0.8 * ARM * fore_aft, 0.63 * roll)
        theirs.append(float(np.sqrt(sum(part**2 for part in parts))))
    check_all(
        figure=f"comfort_total of a full car on isotropic tracks, {domain}",
        source=FILTERING,
        theirs=theirs,
        ours=ours(ALIKE, domain, "comfort_total", "driver"),
        at=[f"{speed:g} m/s" for speed in SPEEDS],
        unit="m/s²",
        rel=ROOM[domain],
        how=HOW,
        robust=domain == "frequency-domain",
    )


WAVES = (8.0, 4.0, 3.0, 2.0, 1.5, 1.0)
"""Lengths of waves over the wheelbase."""


def test_heave_and_pitch_see_the_wheelbase() -> None:
    """A road of one wave, a car alike at both ends: its heave is |cos πL/λ| of an end's own, and half its wheelbase's
    pitch |sin πL/λ|. A wave twice as long as the wheelbase leaves no heave, one as long no pitch.
    """
    speed = 20.0
    own = End(350.0, 40.0, 25e3, 1600.0, 200e3)
    alike = half_car({"front_share": 0.5, "body.dynamic_index": 1.0})
    heave, pitch = [], []
    for wave in WAVES:
        n = 1 / (wave * WHEELBASE)
        line = Road("line", 1e-9, band=(n * (1 - 1e-7), n * (1 + 1e-7)))
        on_line = ride(alike, line, speed)
        height = np.sqrt(on_line.linearised.grid.power.sum())
        end = float(np.abs(own.body(np.array([speed * n])))[0]) * (2 * np.pi * speed * n) ** 2 * height
        heave.append(np.sqrt(on_line.response.acceleration[0, 0]) / end)
        pitch.append(np.sqrt(on_line.response.acceleration[0, 2]) * 0.5 * WHEELBASE / end)
    for name, theirs, found in (
        ("heave", np.abs(np.cos(np.pi / np.array(WAVES))), heave),
        ("pitch times half the wheelbase", np.abs(np.sin(np.pi / np.array(WAVES))), pitch),
    ):
        check_all(
            figure=f"{name} over an end's own movement, waves of 1 to 8 wheelbases",
            source=FILTERING,
            theirs=theirs.round(6),
            ours=found,
            at=[f"{wave:g} wheelbases" for wave in WAVES],
            abs=2e-6,
            how="derived (sources from memory): (1 ± e^-iωL/v)/2",
        )


def test_tracks_with_nothing_in_common() -> None:
    """Two tracks 500 m apart: half a track's spectrum is in their mean, half in half their difference, so that the roll
    of a car with the roll inertia of four point masses, m(t/2)², has the formula of two quarter cars.
    """
    wide = changed(ALIKE, (f"roll_inertia = {ROLL_INERTIA}", f"roll_inertia = {0.25 * MASS * 500.0**2}"))
    wide = wide.replace(f"track = {TRACK}", "track = 500.0")
    own = replace(FRONT, m=0.25 * MASS)
    theirs = []
    for speed in SPEEDS:
        both = TwoEnds(own, own, WHEELBASE, speed).at(0.5 * WHEELBASE)
        theirs.append(500.0 / 2 * 2 / 500.0 * rms(both, ROUGHNESS, speed) / np.sqrt(2))
    check_all(
        figure="roll acceleration times half the track, tracks with nothing in common",
        source=FILTERING,
        theirs=theirs,
        ours=250.0 * ours(wide, "frequency-domain", "roll_acceleration"),
        at=[f"{speed:g} m/s" for speed in SPEEDS],
        unit="m/s²",
        rel=ROOM["frequency-domain"],
        how=HOW,
    )

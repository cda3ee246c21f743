"""A whole run's front against the exact Pareto set of the quarter car on white-noise road velocity.

Gobbi M., Mastinu G., Analytical description and optimization of the dynamic behaviour of passively suspended road
vehicles, J. Sound and Vibration 245(3) (2001) 457-481, doi 10.1006/jsvi.2001.3591 (abstract seen; the formulas below
are derived, and checked against the engine in test_quarter_car_white_noise.py).

With ms, mu the sprung and unsprung mass, M their sum, ks, c spring and damper, kt the tyre, and W the road's intensity:

    var(body acceleration)   W/2 [M ks²/(ms² c) + kt c/ms²]
    var(travel)              W/2 M/c
    var(dynamic tyre force)  W/2 [M³ ks²/(ms² c) - 2 mu kt M ks/(ms c) + kt M² c/ms² + kt² mu/c]

    comfort against road holding: 0 < ks <= mu ms kt/M², c = √(ks ms - M ks²/kt); with a lower limit on ks, the edge
    ks = limit joins, from the damping of least acceleration ks √(M/kt) up to the curve
    with travel as a third objective: all (ks, c) with such ks on or above that curve

The road is class C on a band so wide that its velocity is white for the vehicle; what the band still cuts off from the
tyre force at its upper end is stated as the tolerance.
"""

from __future__ import annotations

from pathlib import Path

import moocore
import numpy as np
from numpy.typing import NDArray

from checks import check, check_bound
from ridefront import read_front, read_study, run_study

Array = NDArray[np.float64]

SOURCE = "Gobbi, Mastinu, J. Sound and Vibration (2001)"
DERIVED = "derived (abstract seen)"

MS, MU, KT = 320.0, 36.0, 190e3
M = MS + MU
SPEED, ROUGHNESS = 20.0, 256e-6
W = SPEED * (2 * np.pi * 0.1) ** 2 * ROUGHNESS / 2
LOW, HIGH = 4e3, 60e3
BAND = 0.001  # relative: tyre force within the band against white noise without end

STUDY = """
title = "quarter car on a white road"
seed = 11
[vehicle]
model = "quarter-car"
[vehicle.body]
corner_mass = "320 kg"
[vehicle.front]
unsprung_mass = "36 kg"
tyre_rate = "190 N/mm"
spring_rate = { low = "4 N/mm", high = "60 N/mm" }
damping = { low = "300 N*s/m", high = "6000 N*s/m", scale = "log" }
[[road]]
name = "white"
kind = "iso8608"
class = "C"
band = ["0.001 1/m", "300 1/m"]
[[condition]]
road = "white"
speed = "20 m/s"
[[objective]]
criterion = "body_acceleration"
[[objective]]
criterion = "dynamic_load_coefficient"
TRAVEL
[search]
sample = 512
population = 100
generations = GENERATIONS
refine = 0
"""


def variances(ks: Array, c: Array) -> tuple[Array, Array, Array]:
    """Body acceleration, travel and tyre force in closed form."""
    acceleration = W / 2 * (M * ks**2 / (MS**2 * c) + KT * c / MS**2)
    force = (
        W / 2 * (M**3 * ks**2 / (MS**2 * c) - 2 * MU * KT * M * ks / (MS * c) + KT * M**2 * c / MS**2 + KT**2 * MU / c)
    )
    return acceleration, W / 2 * M / c, force


def figures(ks: Array, c: Array) -> Array:
    """(n, 2): rms acceleration, m/s², and dynamic load coefficient, in closed form."""
    acceleration, _, force = variances(ks, c)
    return np.stack([np.sqrt(acceleration), np.sqrt(force) / (M * 9.80665)], axis=1)


def run(folder: Path, text: str) -> NDArray[np.float64]:
    file = folder / "white.toml"
    file.write_text(text, encoding="utf-8")
    run_study(read_study(file), folder / "out", workers=1)
    front = read_front(folder / "out" / "white")
    columns = ["front.spring_rate", "front.damping", "body_acceleration", "dynamic_load_coefficient"]
    return np.asarray(front[columns].to_numpy(dtype=np.float64))


def test_two_objectives_lie_on_the_exact_curve(tmp_path: Path) -> None:
    found = run(tmp_path, STUDY.replace("TRAVEL", "").replace("GENERATIONS", "16"))
    assert len(found) > 50
    ks, c = found[:, 0] * 1e3, found[:, 1]
    exact = figures(ks, c)
    # the engine's figures are the closed form's, but for what the band cuts off
    np.testing.assert_allclose(found[:, 2], exact[:, 0], rtol=BAND)
    np.testing.assert_allclose(found[:, 3], exact[:, 1], rtol=BAND)
    # the designs: on the lower limit of the spring below the curve, then along the curve to the spring of least force
    softest_force = MU * MS * KT / M**2
    assert ks.max() <= softest_force * 1.03
    on_curve = np.sqrt(ks * MS - M * ks**2 / KT)
    edge = ks < LOW * 1.1
    assert 0.2 < edge.mean() < 0.9
    # Figures are flat across the curve, and a front of a few thousand designs is a sample: hence shares, not all.
    assert np.quantile(c[edge] / on_curve[edge], 0.95) < 1.1
    assert np.quantile(np.abs(c[~edge] / on_curve[~edge] - 1), 0.75) < 0.1
    # the figures: the front covers the exact one, and nothing is better than it
    k = np.linspace(LOW, softest_force, 4000)
    curve = figures(k, np.sqrt(k * MS - M * k**2 / KT))
    damping = np.linspace(max(300.0, LOW * np.sqrt(M / KT)), np.sqrt(LOW * MS - M * LOW**2 / KT), 4000)
    whole = np.concatenate([figures(np.full_like(damping, LOW), damping), curve])
    nadir = whole.max(axis=0) * 1.05
    share = moocore.hypervolume(exact, ref=nadir) / moocore.hypervolume(whole, ref=nadir)
    check_bound(
        figure="hypervolume of a run's front over the exact one's, two objectives (drawn with 8,000 points)",
        source=SOURCE,
        at_least="0.998",
        at_most="1.000001",
        ours=share,
        how=DERIVED,
        robust=False,
    )


def test_three_objectives_fill_the_exact_region(tmp_path: Path) -> None:
    travel = '[[objective]]\ncriterion = "travel_rms"\n'
    found = run(tmp_path, STUDY.replace("TRAVEL", travel).replace("GENERATIONS", "16"))
    ks, c = found[:, 0] * 1e3, found[:, 1]
    exact = in_three(ks, c)
    # the exact region, drawn: on or above the two objectives' curve, and the edge of the softest spring
    k, share = np.meshgrid(np.linspace(LOW, MU * MS * KT / M**2, 150), np.linspace(0, 1, 150), indexing="ij")
    curve = np.sqrt(k * MS - M * k**2 / KT)
    edge = np.linspace(300.0, curve[0, 0], 300)
    region = np.concatenate(
        [in_three(k.ravel(), (curve * (6000.0 / curve) ** share).ravel()), in_three(np.full_like(edge, LOW), edge)]
    )
    # no design of the front is beaten by the exact set in every objective by much: the front is a sample of the region,
    # so what a neighbour in the region would beat by a little is still on it
    excess = np.array([np.min(point / region, axis=1).max() for point in exact])
    assert np.median(excess) < 1.002
    assert excess.max() < 1.03
    nadir = region.max(axis=0) * 1.05
    check_bound(
        figure="hypervolume of a run's front over that of the exact one, drawn, three objectives",
        source=SOURCE,
        at_least="0.99",
        ours=moocore.hypervolume(exact, ref=nadir) / moocore.hypervolume(region, ref=nadir),
        how=DERIVED,
        robust=False,
    )


def in_three(ks: Array, c: Array) -> Array:
    """(n, 3): rms acceleration, rms tyre force, rms travel."""
    acceleration, travel, force = variances(ks, c)
    return np.sqrt(np.stack([acceleration, force, travel], axis=1))


def test_road_holding_alone_finds_the_spring_of_least_tyre_force(tmp_path: Path) -> None:
    text = STUDY.replace("TRAVEL", "").replace('[[objective]]\ncriterion = "body_acceleration"\n', "")
    file = tmp_path / "white.toml"
    file.write_text(text.replace("GENERATIONS", "16"), encoding="utf-8")
    run_study(read_study(file), tmp_path / "out", workers=1)
    best = read_front(tmp_path / "out" / "white")
    assert len(best) == 1
    ks, c = float(best["front.spring_rate"].iloc[0]) * 1e3, float(best["front.damping"].iloc[0])
    least = MU * MS * KT / M**2
    for name, theirs, ours, unit in (
        ("spring", least, ks, "N/m"),
        ("damper", np.sqrt(least * MS - M * least**2 / KT), c, "N s/m"),
    ):
        check(
            figure=f"{name} of least tyre force, as a run finds it",
            source=SOURCE,
            theirs=theirs,
            ours=ours,
            unit=unit,
            rel=0.02,
            how=DERIVED,
            robust=False,
        )

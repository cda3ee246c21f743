"""Obstacles against the geometry they are named after, and under a tyre against averages worked out by quadrature."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from ridefront.errors import CallError
from ridefront.road import CLASSES, KINDS, SHAPES, Obstacle, Road, Size, kind_of
from ridefront.road.obstacle import SETTLING, kinks, mix, profile, span, total_length

Array = NDArray[np.float64]

WITH_LENGTH = [name for name in SHAPES if name != "step"]


def arc_height(x: float, h: float, length: float) -> float:
    """From the circle through both ends and the top, its centre found as the point as far from the end as from the
    top.
    """
    rise = abs(h)
    low, high = -2 * length**2 / rise, rise
    centre = brentq(lambda y: np.hypot(length / 2, y) - (rise - y), low, high, xtol=1e-15, rtol=1e-15)
    return float(np.sign(h) * (centre + np.sqrt(max((rise - centre) ** 2 - (x - length / 2) ** 2, 0.0))))


def flat_top_height(x: float, h: float, length: float, top: float) -> float:
    ramp = (length - top) / 2
    return float(np.interp(x, [0.0, ramp, length - ramp, length], [0.0, h, h, 0.0]))


def slow_height(shape: str, x: float, size: Size) -> float:
    """The shapes as they are drawn; the road is level where none of them is."""
    h, length, top = size
    if shape == "step":
        return h if x >= 0 else 0.0
    if not 0 <= x < length:
        return 0.0
    if shape == "half-sine":
        return float(h * np.sin(np.pi * x / length))
    if shape == "versine":
        return float(h / 2 * (1 - np.cos(2 * np.pi * x / length)))
    if shape == "flat-top":
        return flat_top_height(x, h, length, top)
    return arc_height(x, h, length) if shape == "arc" else h


def slow_average(road: Obstacle, sizes: tuple[Size, ...], x: float, width: float) -> float:
    """The mean of the road over `width` about x, by quadrature between the points where it is not smooth."""

    def height(at: float) -> float:
        return sum(
            slow_height(road.shape, at - road.lead - k * road.spacing, size) for k, size in enumerate(sizes)
        )  # fmt: skip

    ends = [x - width / 2, x + width / 2]
    corners = [place for place in kinks(road, 0.0, 0.0, sizes) if ends[0] < place < ends[1]]
    places = [ends[0], *corners, ends[1]]
    parts = pairwise(places)
    # Just inside both ends of each part: where a height jumps, the point itself belongs to one side.
    inner = [(a + 1e-13, b - 1e-13) for a, b in parts if b - a > 1e-12]
    return sum(quad(height, a, b, epsabs=1e-14, epsrel=1e-12, limit=200)[0] for a, b in inner) / width


@st.composite
def obstacles(draw: st.DrawFn, shape: str, count: int = 1) -> tuple[Obstacle, tuple[Size, ...]]:
    """A road with obstacles of that shape, each of a size of its own, and these sizes."""
    sizes = []
    for _ in range(count):
        length = draw(st.floats(0.05, 8.0))
        height = draw(st.floats(0.01, 0.5)) * length * draw(st.sampled_from([1, -1]))
        top = length * draw(st.floats(0.05, 0.95)) if shape == "flat-top" else 0.0
        sizes.append(Size(height, 0.0 if shape == "step" else length, top))
    lead = draw(st.floats(0.0, 4.0))
    if count == 1:
        return Obstacle("one", shape, *sizes[0], lead=lead), (sizes[0],)
    spacing = max(size.length for size in sizes) + draw(st.floats(0.0, 1.0))
    return Obstacle("train", shape, lead=lead, count=count, spacing=spacing, sizes=tuple(sizes)), tuple(sizes)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(data=st.data(), shape=st.sampled_from(sorted(SHAPES)), place=st.floats(-0.2, 1.2))
def test_shape_is_the_one_it_is_named_after(data: st.DataObject, shape: str, place: float) -> None:
    road, (size,) = data.draw(obstacles(shape))
    x = place * (size.length or 1.0)
    found = profile(road, road.lead + x, 0.0, 0.0)
    assert found == pytest.approx(slow_height(shape, road.lead + x - road.lead, size), abs=1e-10 * abs(size.height))


@settings(derandomize=True, max_examples=200, deadline=None)
@given(
    data=st.data(),
    shape=st.sampled_from(sorted(SHAPES)),
    count=st.integers(1, 3),
    patch=st.floats(0.02, 1.0),
    place=st.floats(-0.1, 1.1),
)
def test_tyre_averages_exactly(data: st.DataObject, shape: str, count: int, patch: float, place: float) -> None:
    road, sizes = data.draw(obstacles(shape, 1 if shape == "step" else count))
    start, end = span(road)
    x = start + place * (end - start or 1.0)
    highest = max(abs(size.height) for size in sizes)
    found = profile(road, x, patch, 0.001, sizes)
    assert found == pytest.approx(slow_average(road, sizes, x, patch), abs=2e-10 * highest)


@pytest.mark.parametrize(
    ("shape", "area"),
    [("half-sine", 2 / np.pi), ("versine", 1 / 2), ("flat-top", 0.7), ("cleat", 1.0), ("arc", None)],
)
@pytest.mark.parametrize("height", [0.06, -0.06])
@pytest.mark.parametrize("patch", [0.0, 0.12, 3.0])
def test_the_patch_keeps_the_area(shape: str, area: float | None, height: float, patch: float) -> None:
    """Areas of the shapes over height times length: textbook; of a circular segment r² (α - sin α)/2 with half the
    angle asin(L/2r).
    """
    length = 0.5
    road = Obstacle("one", shape, height, length, 0.2 if shape == "flat-top" else 0.0, lead=4.0)
    if area is None:
        radius = (length**2 / 4 + height**2) / (2 * abs(height))
        angle = 2 * np.arcsin(length / (2 * radius))
        area = radius**2 * (angle - np.sin(angle)) / 2 / (abs(height) * length)
    places = np.concatenate([kinks(road, patch), [0.0, 9.0]])
    places.sort()
    found = sum(
        quad(lambda x: float(profile(road, x, patch, 0.0)), a, b, epsabs=1e-13, limit=200)[0]
        for a, b in pairwise(places)
    )
    assert found == pytest.approx(area * height * length, rel=1e-8)
    assert profile(road, [0.0, 9.0], patch, 0.0) == pytest.approx([0.0, 0.0], abs=1e-15)


@pytest.mark.parametrize("shape", WITH_LENGTH)
@pytest.mark.parametrize("patch", [0.0, 0.12])
def test_shapes_are_symmetric_and_a_hole_is_a_hump_upside_down(shape: str, patch: float) -> None:
    road = Obstacle("one", shape, 0.05, 0.8, 0.3 if shape == "flat-top" else 0.0)
    u = np.linspace(0.001, 0.6, 200)
    ahead, behind = (profile(road, 1.4 + side * u, patch, 0.0) for side in (1, -1))
    np.testing.assert_allclose(ahead, behind, rtol=0, atol=1e-15)
    assert profile(road, 1.4, 0.0, 0.0) == pytest.approx(0.05, rel=1e-14)
    np.testing.assert_array_equal(profile(replace(road, height=-0.05), 1.4 + u, patch, 0.0), -ahead)


def test_circular_hump() -> None:
    """Circular-arc road humps, 3.7 m long and 75 to 100 mm high (scribd.com/document/379992213): the radius follows
    from the chord and the rise, r = L²/8h + h/2 (textbook), and all of the hump lies on that circle.
    """
    for height, radius in ((0.075, 22.854), (0.1, 17.163)):
        road = Obstacle("hump", "arc", height, 3.7)
        u = np.linspace(-1.85, 1.849, 50)
        z = profile(road, 1.0 + 1.85 + u, 0.0, 0.0)
        assert np.hypot(u, z + radius - height) == pytest.approx(np.full(50, radius), abs=1e-3)
        x = np.array([1.0, 1.85 + 1.0])
        assert profile(road, x, 0.0, 0.0) == pytest.approx([0.0, height], abs=1e-14)


def test_half_a_circle_is_the_highest_arc() -> None:
    road = Obstacle("pipe", "arc", 0.5, 1.0, lead=0.0)
    x = np.array([0.1, 0.25, 0.5, 0.9])
    np.testing.assert_allclose(profile(road, x, 0.0, 0.0), np.sqrt(0.25 - (x - 0.5) ** 2), atol=1e-14)
    assert profile(road, 0.5, 1.0, 0.0) == pytest.approx(np.pi / 8, rel=1e-13)  # half a disc's area


def test_shallow_arc_keeps_its_digits() -> None:
    """A circle of kilometres: to first order a parabola, 4h/L² x (L - x), of area 2/3 h L (textbook)."""
    road = Obstacle("long wave", "arc", 1e-3, 10.0, lead=0.0)
    x = np.linspace(0.5, 9.5, 19)
    parabola = 4e-5 * x * (10.0 - x)
    np.testing.assert_allclose(profile(road, x, 0.0, 0.0), parabola, rtol=1e-7)
    # The mean of a parabola over p lies p²/24 of its curvature off it.
    np.testing.assert_allclose(profile(road, x, 0.2, 0.0), parabola - 8e-5 * 0.04 / 24, rtol=1e-7)
    np.testing.assert_allclose(profile(road, x, 1e-3, 0.0), parabola, rtol=1e-7, atol=1e-13)


def test_flat_topped_hump() -> None:
    """Flat-topped humps 75 mm high with ramps from 1:10 to 1:15 (trl.co.uk/reports/TRL186)."""
    for ratio in (10, 15):
        ramp = ratio * 0.075
        road = Obstacle("table", "flat-top", 0.075, 2.5 + 2 * ramp, 2.5, lead=0.0)
        slope = np.gradient(profile(road, np.linspace(0.01, ramp - 0.01, 50), 0.0, 0.0), (ramp - 0.02) / 49)
        assert slope == pytest.approx(np.full(50, 1 / ratio), rel=1e-9)
        top = profile(road, np.linspace(ramp, ramp + 2.5, 50), 0.0, 0.0)
        assert top == pytest.approx(np.full(50, 0.075), rel=1e-12)


@pytest.mark.parametrize(("patch", "edge", "width"), [(0.12, 0.01, 0.12), (0.0, 0.02, 0.02), (0.01, 0.02, 0.02)])
def test_vertical_edges_rise_over_the_patch_or_one_sample(patch: float, edge: float, width: float) -> None:
    step, cleat = Obstacle("kerb", "step", 0.1), Obstacle("strip", "cleat", 0.1, 0.5)
    x = 1.0 + width * np.array([-0.6, -0.5, -0.25, 0.0, 0.25, 0.5, 0.6])
    rising = 0.1 * np.array([0.0, 0.0, 0.25, 0.5, 0.75, 1.0, 1.0])
    for road in (step, cleat):
        assert profile(road, x, patch, edge) == pytest.approx(rising, abs=1e-15)
    assert profile(cleat, x + 0.5, patch, edge) == pytest.approx(rising[::-1], abs=1e-15)
    assert profile(step, [3.0, 100.0], patch, edge) == pytest.approx([0.1, 0.1], rel=1e-11)
    for shape in ("half-sine", "versine", "arc"):
        smooth = Obstacle("hump", shape, 0.1, 0.5)
        np.testing.assert_array_equal(profile(smooth, x, patch, edge), profile(smooth, x, patch, 0.0))


def test_edges_without_patch_or_sample_jump() -> None:
    road = Obstacle("strip", "cleat", 0.02, 0.5)
    x = [np.nextafter(1.0, 0.0), 1.0, np.nextafter(1.5, 0.0), 1.5]
    assert list(profile(road, x, 0.0, 0.0)) == [0.0, 0.02, 0.02, 0.0]


def test_cleat_shorter_than_the_patch() -> None:
    """It never fills the patch: a trapezium, as high as its share of the patch."""
    road = Obstacle("cleat", "cleat", 0.02, 0.03)
    x = 1.015 + np.array([-0.08, -0.06, -0.04, 0.0, 0.04, 0.06, 0.08])
    full = 0.02 * 0.03 / 0.12
    expected = [0.0, full / 2, full, full, full, full / 2, 0.0]
    assert profile(road, x, 0.12, 0.001) == pytest.approx(expected, rel=1e-9, abs=1e-16)


@pytest.mark.parametrize("shape", sorted(SHAPES))
@pytest.mark.parametrize("patch", [0.0, 0.12])
def test_kinks_are_all_there_and_nothing_else_is(shape: str, patch: float) -> None:
    """Between two kinks a polynomial fits as well as it does a smooth curve; across one it does not."""
    length, top = (0.0, 0.0) if shape == "step" else (1.0, 0.4 if shape == "flat-top" else 0.0)
    road = Obstacle("one", shape, 0.05, length, top)
    edge = 0.01
    places = kinks(road, patch, edge)

    def misfit(a: float, b: float) -> float:
        # Chebyshev's points crowd at the ends; an arc's slope is no polynomial, but nearly.
        u = np.cos(np.pi * (np.arange(40) + 0.5) / 40)
        z = profile(road, (a + b) / 2 + u * (b - a) / 2, patch, edge)
        return float(np.abs(z - np.polynomial.Chebyshev.fit(u, z, 18)(u)).max())

    bounds = [places[0] - 0.3, *places, places[-1] + 0.3]
    assert max(misfit(a, b) for a, b in pairwise(bounds)) < 1e-12
    assert min(misfit(place - 0.004, place + 0.004) for place in places) > 1e-12
    assert list(places) == sorted(set(places))


def test_kinks_of_a_train() -> None:
    road = Obstacle("tables", "flat-top", 0.05, 1.0, 0.4, lead=2.0, count=2, spacing=3.0)
    assert kinks(road, 0.0) == pytest.approx([2.0, 2.3, 2.7, 3.0, 5.0, 5.3, 5.7, 6.0])
    assert kinks(road, 0.1) == pytest.approx(
        sorted(place + side for place in (2.0, 2.3, 2.7, 3.0, 5.0, 5.3, 5.7, 6.0) for side in (-0.05, 0.05))
    )


def test_train_is_one_obstacle_after_another() -> None:
    one = Obstacle("hump", "half-sine", 0.05, 0.5, lead=2.0)
    train = replace(one, count=40, spacing=0.5)
    x = np.linspace(-1.0, 30.0, 4001)
    for patch in (0.0, 0.12, 1.7):
        alone = sum(profile(one, x - 0.5 * k, patch, 0.0) for k in range(40))
        np.testing.assert_allclose(profile(train, x, patch, 0.0), alone, rtol=0, atol=1e-13)
    assert np.array_equal(profile(train, x[::-1], 0.12, 0.0)[::-1], profile(train, x, 0.12, 0.0))


def test_road_is_level_between_obstacles() -> None:
    train = Obstacle("humps", "arc", 0.075, 3.7, count=100, spacing=20.0)
    between = 1.0 + 20.0 * np.arange(100) + 10.0
    assert np.array_equal(profile(train, between, 0.12, 0.0), np.zeros(100))


def test_lengths() -> None:
    hump = Obstacle("hump", "arc", 0.075, 3.7, lead=2.0)
    assert span(hump) == (2.0, 5.7)
    assert total_length(hump, 10.0) == pytest.approx(5.7 + SETTLING * 10.0)
    assert total_length(hump, 10.0, 2.7) == pytest.approx(5.7 + 2.7 + SETTLING * 10.0)
    assert total_length(replace(hump, run_out=4.0), 10.0, 2.7) == pytest.approx(9.7)
    assert total_length(replace(hump, road_length=30.0), 10.0, 2.7) == 30.0
    sizes = (Size(0.05, 0.5), Size(0.05, 2.0))
    train = Obstacle("train", "versine", lead=1.0, count=5, spacing=3.0, sizes=sizes, run_out=1.0)
    assert span(train) == (1.0, 15.0)
    assert total_length(train, 10.0) == 16.0
    assert span(Obstacle("kerb", "step", 0.1, lead=3.0)) == (3.0, 3.0)


SIZES = (Size(0.03, 0.5), Size(0.05, 0.5), Size(-0.04, 0.8))


@pytest.mark.parametrize("count", [2, 3, 7, 12, 100])
def test_mix_has_every_size_equally_often(count: int) -> None:
    road = Obstacle("train", "versine", count=count, spacing=1.0, sizes=SIZES)
    for index in range(6):
        counts = Counter(mix(road, seed=4, index=index))
        often = [counts[size] for size in SIZES]
        assert sum(often) == count
        assert max(often) - min(often) <= 1


def test_mixes_are_drawn() -> None:
    """Which size there is once more, and the order, differ between realisations, seeds, names and held-out roads; and
    the same call gives the same mix.
    """
    road = Obstacle("train", "versine", count=40, spacing=1.0, sizes=SIZES)
    drawn = [
        mix(road, seed=4, index=0),
        mix(road, seed=4, index=1),
        mix(road, seed=5, index=0),
        mix(road, seed=4, index=0, held_out=True),
        mix(replace(road, name="other"), seed=4, index=0),
    ]
    assert len(set(drawn)) == len(drawn)
    assert mix(replace(road, lead=3.0, side="left"), seed=4, index=0) == drawn[0]
    more = Counter(Counter(mix(road, seed=4, index=index)).most_common(1)[0][0] for index in range(60))
    assert set(more) == set(SIZES)
    first = Counter(mix(road, seed=4, index=index)[0] for index in range(60))
    assert set(first) == set(SIZES)


def test_mixed_train_has_the_sizes_in_their_places() -> None:
    road = Obstacle("train", "versine", count=6, spacing=2.0, sizes=SIZES)
    sizes = mix(road, seed=1, index=0)
    tops = [1.0 + 2.0 * k + size.length / 2 for k, size in enumerate(sizes)]
    assert profile(road, tops, 0.0, 0.0, sizes) == pytest.approx([size.height for size in sizes], rel=1e-12)


def test_a_train_of_one_size_needs_no_mix() -> None:
    road = Obstacle("train", "versine", 0.05, 0.5, count=3, spacing=1.0)
    assert mix(road, seed=0, index=0) == (Size(0.05, 0.5),) * 3
    x = np.linspace(0.0, 5.0, 100)
    assert np.array_equal(profile(road, x, 0.1, 0.0, mix(road, seed=0, index=0)), profile(road, x, 0.1, 0.0))


def test_mixed_sizes_must_be_given() -> None:
    road = Obstacle("train", "versine", count=4, spacing=1.0, sizes=SIZES)
    calls: list[Callable[..., Array]] = [partial(profile, road, [0.0]), partial(kinks, road)]
    for call in calls:
        with pytest.raises(CallError, match=r'no sizes for the obstacles of road "train"\n.*one for each of 4'):
            call(0.1, 0.0)
        with pytest.raises(CallError, match="3 sizes for"):
            call(0.1, 0.0, SIZES)


def test_kinds() -> None:
    assert kind_of(Road("B", CLASSES["B"])) == "iso8608"
    assert kind_of(Obstacle("hump", "arc", 0.075, 3.7)) == "obstacle"
    assert set(KINDS) == {"iso8608", "obstacle", "measured"}

"""Roads in the words of people who drive them."""

from __future__ import annotations

import numpy as np

from ridefront.report.words import number
from ridefront.road import SHAPES, AnyRoad, Obstacle, Profile, Size
from ridefront.road.measured import estimate
from ridefront.road.obstacle import total_length
from ridefront.study.model import Study

_LISTED = 3  # sizes one by one
_HOP = 20.0  # Hz up to which a wheel wants to be shaken
_RIDE = 0.7  # Hz from which a body wants to be shaken
_UNLIKE = 2.0  # ratio of variances from which two tracks are not alike
_SOON_OVER = 10.0  # s: body motion in a shorter drive is a few swings


def in_words(road: AnyRoad) -> str:
    """What a road is, in a few words: "half-sine 50 mm × 0.5 m", "train of 12 every 8 m: cleat 30 mm × 1 m"."""
    if isinstance(road, Profile):
        two = "" if len(road.heights) == 1 else ", two tracks"
        return f"measured: {road.file}, every {road.step * 1e3:.4g} mm{two}{', by its spectrum' * road.estimated}"
    if not isinstance(road, Obstacle):
        alike = ", tracks alike" if road.tracks == "equal" else ""
        return f"random, G_d(0.1/m) {number(road.roughness * 1e6)}·10⁻⁶ m³, waviness {number(road.waviness)}{alike}"
    sizes = road.every_size
    if len(sizes) <= _LISTED:
        one = f"{road.shape} {' or '.join(_size(road.shape, size) for size in sizes)}"
    else:
        low, high = (end(size.height for size in sizes) * 1e3 for end in (min, max))
        one = f"{road.shape} in {len(sizes)} sizes, {low:g} to {high:g} mm"
    train = "" if road.count == 1 else f"train of {road.count} every {road.spacing:g} m: "
    side = "" if road.side == "both" else f", {road.side} wheels"
    return train + one + side


def _size(shape: str, size: Size) -> str:
    height = f"{abs(size.height) * 1e3:g} mm{' deep' if size.height < 0 else ''}"
    if SHAPES[shape].endless:
        return height
    top = f" with a top of {size.top:g} m" if SHAPES[shape].ramps else ""
    return f"{height} × {size.length:g} m{top}"


def driven_length(study: Study, road: AnyRoad, speed: float) -> float:
    """How far a road is driven at a speed, m/s; m."""
    if isinstance(road, Obstacle):
        return total_length(road, speed, wheelbase_of(study))
    return road.length


def wheelbase_of(study: Study) -> float | None:
    """m; None where the model has one axle."""
    return None if study.model == "quarter-car" else study.fixed["wheelbase"]


def in_time(response: str) -> bool:
    """Whether roads are driven in the time domain, so that there are realisations of them."""
    return response != "frequency-domain"


def doubts_about_roads(study: Study) -> tuple[str, ...]:
    """What an engineer would ask about the roads that are driven."""
    patch = study.fixed.get("contact_patch", 0.0)
    lines = []
    driven = {condition.road for condition in study.conditions}
    for k, road in ((k, study.roads[k]) for k in sorted(driven)):
        if isinstance(road, Profile):
            if len(road.heights) > 1 and study.model in ("quarter-car", "half-car"):
                lines.append(f'road "{road.name}": a {study.model.replace("-", " ")} drives the mean of its two tracks')
            speeds = [item.speed for item in study.conditions if item.road == k]
            lines += [f'road "{road.name}": {line}' for line in _about_a_profile(road, min(speeds), max(speeds))]
            continue
        if not isinstance(road, Obstacle):
            longest = 2 * road.length
            if in_time(study.response) and road.band[0] * longest < 1:
                lines.append(
                    f'road "{road.name}": waves of its band that are longer than {longest:g} m, twice its length, are '
                    "left out in the time domain"
                )
            continue
        if SHAPES[road.shape].vertical and patch == 0:
            lines.append(
                f'road "{road.name}": contact_patch is 0, so vertical edges rise over one sample and what they do to '
                "the wheel depends on the step of time"
            )
        if road.lead < patch / 2:
            lines.append(f'road "{road.name}": lead is less than half the contact patch: the drive starts on it')
    return tuple(lines)


def _about_a_profile(road: Profile, slowest: float, fastest: float) -> list[str]:
    """What an engineer would ask about a measured road driven at speeds between two, m/s."""
    lines = list(road.notes)
    highest = slowest / (2 * road.step)
    if highest < _HOP:
        lines.append(
            f"a sample every {road.step:.4g} m shows nothing above {number(highest, 2)} Hz at {number(slowest)} m/s: "
            "wheels hop at 10 to 15 Hz (common practice)"
        )
    if road.estimated:
        lowest = estimate(road).band[0] * fastest
        if lowest > _RIDE:
            lines.append(
                f"its spectrum shows nothing below {number(lowest, 2)} Hz at {number(fastest)} m/s: bodies ride at 1 "
                "to 1.5 Hz (common practice); take a longer profile, or drive it (leave out spectrum)"
            )
        rougher = float(np.var(road.left) / np.var(road.right)) if len(road.heights) > 1 else 1.0
        if not 1 / _UNLIKE <= rougher <= _UNLIKE:
            lines.append(
                "by its spectrum both sides ride on the mean of two tracks that are not alike; drive it instead"
            )
    seconds = road.length / fastest
    if seconds < _SOON_OVER:
        lines.append(
            f"driven for {number(seconds, 2)} s at {number(fastest)} m/s: rms figures of so short a ride are of this "
            "stretch alone"
        )
    return lines

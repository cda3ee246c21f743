"""How a full car rolls, in the figures that a chassis engineer asks for first."""

from __future__ import annotations

import numpy as np

from ridefront.criteria import CRITERIA, standing
from ridefront.criteria.ride import VEHICLE, Standing
from ridefront.report.words import number
from ridefront.vehicle.equations import Mode, equations_of_motion, modes
from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest

_MOTIONS = ("roll", "front tramp", "rear tramp")


def roll_and_tramp(base: Standing) -> str:
    """Modes in which left and right move against each other, front share of roll stiffness, and roll gradient where the
    heights that it needs are known; in a line, of the first design.
    """
    state = base.state
    parts = [_modes(state)] if bool(state.possible[0]) else []
    share = number(100 * float(standing.front_roll_share(base, VEHICLE)[0]))
    parts.append(f"{share} % of the roll stiffness in front")
    if all(need in base.parameters for need in CRITERIA["roll_gradient"].needs):
        gradient = float(standing.roll_gradient(base, VEHICLE)[0])
        parts.append(
            f"roll gradient {number(np.degrees(gradient))} deg per g"
            if np.isfinite(gradient)
            else "the springs in roll do not hold the body up"
        )
    return "; ".join(parts)


def _modes(state: AtRest) -> str:
    found = modes(equations_of_motion(state, damping_at_rest(state)))
    return ", ".join(_named(motion, [mode for mode in found if mode.motion == motion]) for motion in _MOTIONS)


def _named(motion: str, found: list[Mode]) -> str:
    """A motion's mode; where damping couples several to it, the one that swings longest."""
    swinging = [mode for mode in found if mode.damping_ratio < 1]
    if not swinging:
        return f"{motion} overdamped"
    mode = min(swinging, key=lambda item: item.damping_ratio)
    return f"{motion} {number(mode.frequency)} Hz (damping ratio {number(mode.damping_ratio, 2)})"


def damping_at_rest(state: AtRest) -> Array:
    """Dampers by the mean of their slopes in bump and rebound at rest, friction left out; (n, corners), N·s/m."""
    small = np.full_like(state.friction, 1e-9)
    mean: Array = 0.5 * (state.speed_law.slope_at(small) + state.speed_law.slope_at(-small))
    return mean

"""Designs into the kernels' lanes, figures out of them.

A full car whose load lies on the centre line is alike left and right and is worked out as two smaller problems; any
other one as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ridefront.response.grid import Grid
from ridefront.vehicle.laws import Array
from ridefront.vehicle.sides import PAIRS
from ridefront.vehicle.static import AtRest

LANES = 16
"""Designs side by side in the kernel."""

_ONE = (0,)
_POWER = 1  # column of a grid's table
_ROUNDING = 1e-9  # kg·m²: products of inertia that stand for none


def mean_squares(
    state: AtRest, rate: Array, damping: Array, grids: Sequence[Grid], *, full: bool, lanes: int = LANES
) -> Array:
    """Runs a kernel over the frequencies of each condition.

    Args:
        state: designs at rest, for masses, tyres and geometry: the n designs of the first condition, then those of the
            second, and so on.
        rate, damping: linear, of each corner, (conditions * n, corners), N/m and N·s/m. Alike left and right in a full
            car that `off_centre` says is.
        grids: of the conditions.
        full: everything, or travel and its speed alone.
        lanes: designs side by side; figures do not depend on it, only how long they take.

    Returns:
        (figures, conditions * n): for each corner the mean squares of travel, of its speed, of the dynamic contact
        force; then of the body what `kernel_spectrum.respond` says, of a full car what `kernel_full.respond` says.
        Of a full car travel is that of the spring and its speed that of the damper.
    """
    n = len(damping) // len(grids)
    if n == 0:
        return np.empty((_figures(damping.shape[1]), 0))
    corners, found = damping.shape[1], []
    for k, grid in enumerate(grids):
        part = _Part(state, rate, damping, slice(k * n, (k + 1) * n), full, lanes)
        if corners < 4:
            found.append(_one_side(part, range(corners), 1.0, grid.table))
        elif off_centre(state, part.rows):
            found.append(_whole(part, grid))
        else:
            found.append(_alike(part, grid))
    return np.concatenate(found, axis=1)


def off_centre(state: AtRest, rows: slice = slice(None)) -> bool:
    """Whether some of a batch of full cars are not alike left and right; the rows are of one load.

    Loads are the study's and bodies as given are alike left and right, so masses off the centre line, under this load
    or the reference load, show in every design or in none: what is said of a batch does not hang on who is in it. Their
    balance in roll moves the centre of mass, what is left of them turns pitch into roll or leaves the springs of one
    side compressed further. Designs that cannot stand (NaN) say nothing.
    """
    body, travel = state.body, state.travel[rows]
    found = np.any(np.abs(body.left[rows]) > 0) or np.any(np.abs(body.product[rows]) > _ROUNDING)
    return bool(found or any(np.any(np.abs(travel[:, left] - travel[:, right]) > 0) for left, right in PAIRS))


@dataclass(frozen=True)
class _Part:
    """The designs of one condition: `rows` of states, rates and damping.

    Attributes: as of `mean_squares`.
    """

    state: AtRest
    rate: Array
    damping: Array
    rows: slice
    full: bool
    lanes: int

    @property
    def side_by_side(self) -> tuple[int, ...]:
        """What tells the kernels how many."""
        return _ONE * self.lanes

    @property
    def figures(self) -> tuple[int, ...]:
        """What the kernels are asked for."""
        return _ONE if self.full else ()

    def corner(self, quantity: Array, c: int) -> Array:
        """Of a quantity (conditions * n, corners), what is one corner's in this condition, (n,)."""
        return quantity[self.rows, c]


def _figures(corners: int) -> int:
    """How many figures there are."""
    from ridefront.response import kernel_full, kernel_spectrum

    if corners == 4:
        return 4 * kernel_full.WHEEL_FIGURES + kernel_full.BODY_FIGURES
    return kernel_spectrum.AXLE_FIGURES * corners + kernel_spectrum.body_figures(corners)


def _run(kernel: Callable[[Array, Array], None], rows: Sequence[Array], count: int, lanes: int) -> Array:
    """Runs a kernel.

    Args:
        kernel: from P (blocks, rows, lanes) to figures (blocks, count, lanes).
        rows: of P, each (n,).
        count: of figures; lanes: designs side by side.

    Returns:
        (count, n).
    """
    n = len(rows[0])
    blocks = -(-n // lanes)
    P = np.empty((len(rows), blocks * lanes))
    for i, row in enumerate(rows):
        P[i, :n] = row
    P[:, n:] = P[:, n - 1 : n]
    out = np.empty((blocks, count, lanes))
    kernel(np.ascontiguousarray(P.reshape(len(rows), blocks, lanes).transpose(1, 0, 2)), out)
    return out.transpose(1, 0, 2).reshape(count, blocks * lanes)[:, :n]


def _one_side(part: _Part, corners: Sequence[int], share: float, table: Array) -> Array:
    """A quarter or half car, or the motion of a full car in which left and right move alike.

    Args:
        part: the designs.
        corners: the corner of each axle.
        share: of the body's mass and inertia.
        table: of the grid.
    """
    from ridefront.response import kernel_spectrum as kernel

    state = part.state
    rows = [share * state.body.mass[part.rows], share * state.body.pitch_inertia[part.rows]]
    for c in corners:
        axle = (part.rate, part.damping, state.tyre_rate, state.tyre_damping, state.unsprung_mass, state.body.x)
        rows += [part.corner(quantity, c) for quantity in axle]
    axles = len(corners)

    def run(P: Array, out: Array) -> None:
        kernel.respond(_ONE * axles, part.side_by_side, part.figures, P, table, out)

    return _run(run, rows, _figures(axles), part.lanes)


def _in_roll(part: _Part, table: Array) -> Array:
    """The motion of a full car in which left and right move against each other; rows as `kernel_spectrum` says."""
    from ridefront.response import kernel_spectrum as kernel

    state = part.state
    rows = [0.5 * state.body.roll_inertia[part.rows]]
    for left, _ in PAIRS:
        k, c, bar, y, y_s, y_d, mix, damper_mix, inverse, cross, tyre, tyre_damping = (
            part.corner(quantity, left)
            for quantity in (
                part.rate, part.damping, state.anti_roll, state.body.y, state.spring_y, state.damper_y,
                state.spring_mix, state.damper_mix, state.wheel_inverse, state.wheel_cross,
                state.tyre_rate, state.tyre_damping,
            )
        )  # fmt: skip
        rows += [mix, y_s, damper_mix, y_d]
        rows += [mix * k * y_s + 2 * bar * y, damper_mix * c * y_d]
        rows += [k * y_s**2 + 2 * bar * y**2, c * y_d**2]
        rows += [mix**2 * k + 2 * bar, damper_mix**2 * c]
        rows += [tyre, tyre_damping, 1 / (inverse - cross)]

    def run(P: Array, out: Array) -> None:
        kernel.respond_in_roll(part.side_by_side, part.figures, P, table, out)

    return _run(run, rows, len(PAIRS) * kernel.AXLE_FIGURES + kernel.ROLL_FIGURES, part.lanes)


def _alike(part: _Part, grid: Grid) -> Array:
    """Full cars that are alike left and right: what the mean of the tracks does and what their difference does."""
    mean = _one_side(part, [left for left, _ in PAIRS], 0.5, _with_power(grid, grid.mean_power))
    roll = _in_roll(part, _with_power(grid, grid.difference_power))
    none = np.zeros_like(roll[0])
    wheels: list[Array] = []
    for axle in range(len(PAIRS)):
        each = slice(3 * axle, 3 * axle + 3)
        wheels += [*(mean[each] + roll[each])] * 2
    heave_pitch, by_roll = mean[6:], roll[6:]
    plain = [*heave_pitch[0:3], none, none, by_roll[0]]
    weighted = [*heave_pitch[3:6], none, none, by_roll[1]]
    return np.stack([*wheels, *plain, *weighted, *heave_pitch[6:9], *by_roll[2:4]])


def _whole(part: _Part, grid: Grid) -> Array:
    """Full cars that are not alike left and right; rows as `kernel_full` says."""
    from ridefront.response import kernel_full as kernel

    state, body = part.state, part.state.body
    rows = [0.5 * item[part.rows] for item in (body.mass, body.pitch_inertia, body.roll_inertia, body.product)]
    for pair in PAIRS:
        (k, k_r), (c, c_r), (y_s, y_sr), (y_d, y_dr), (y, y_r) = (
            (part.corner(quantity, pair[0]), part.corner(quantity, pair[1]))
            for quantity in (part.rate, part.damping, state.spring_y, state.damper_y, body.y)
        )
        x, mix, damper_mix, bar, inverse, cross = (
            part.corner(quantity, pair[0])
            for quantity in (
                body.x, state.spring_mix, state.damper_mix, state.anti_roll, state.wheel_inverse, state.wheel_cross
            )
        )  # fmt: skip
        half = 0.5 * (y - y_r)
        rows += [x, mix, damper_mix, y_s, y_sr, y_d, y_dr]
        rows += [0.5 * (k + k_r), 0.5 * (c + c_r)]
        rows += [0.5 * mix * (k - k_r), 0.5 * damper_mix * (c - c_r)]
        rows += [0.5 * (k * y_s + k_r * y_sr), 0.5 * (c * y_d + c_r * y_dr)]
        rows += [0.5 * mix * (k * y_s - k_r * y_sr) + 2 * bar * half, 0.5 * damper_mix * (c * y_d - c_r * y_dr)]
        rows += [0.5 * (k * y_s**2 + k_r * y_sr**2) + 2 * bar * half**2, 0.5 * (c * y_d**2 + c_r * y_dr**2)]
        rows += [0.5 * mix**2 * (k + k_r) + 2 * bar, 0.5 * damper_mix**2 * (c + c_r)]
        rows += [part.corner(quantity, pair[0]) for quantity in (state.tyre_rate, state.tyre_damping)]
        rows += [part.corner(state.unsprung_mass, pair[0]), 1 / (inverse - cross)]
    power = np.stack([grid.mean_power, grid.difference_power], axis=1)
    table = np.concatenate([grid.table[:, :_POWER], power, grid.table[:, _POWER + 1 :]], axis=1)

    def run(P: Array, out: Array) -> None:
        kernel.respond(part.side_by_side, part.figures, P, table, out)

    return _run(run, rows, _figures(4), part.lanes)


def _with_power(grid: Grid, power: Array) -> Array:
    """The grid's table with another power."""
    table = grid.table.copy()
    table[:, _POWER] = power
    return table

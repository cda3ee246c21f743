"""The obvious way to a full car's mean squares: its seven equations of motion at every frequency, force by force, one
dense solve for each of two inputs.

Equations are written anew. The two inputs' power, lag and weightings are those of the engine's `Grid`, masses and
places those of its `AtRest`: `tests/road/test_tracks.py` and `tests/published/test_isotropic_tracks.py` hold how the
tracks' power is parted, `test_full_car_statics.py` and `tests/vehicle/test_full_car.py` masses and places, and
`test_full_car_two_domains.py` all of it together, by the time domain. See `dense` for the rest.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.response.grid import Grid
from ridefront.vehicle.static import AtRest

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SIZE = 7  # z, pitch, roll, front left, front right, rear left, rear right
OTHER = (1, 0, 3, 2)
SIDE = (1.0, -1.0, 1.0, -1.0)
PAIRS = ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))


def _each(state: AtRest, rate: Array, damping: Array, q: ComplexArray, w: Array) -> tuple[list[ComplexArray], ...]:
    """Travel at the springs, at the dampers, forces of both, forces of the bars on the body, for motions q
    (n, n_freq, 7); lists of the corners, (n, n_freq).
    """

    def per(values: Array) -> Array:
        return values[:, np.newaxis]

    z, theta, phi = q[..., 0], q[..., 1], q[..., 2]
    u = [q[..., 3 + c] for c in range(4)]
    springs, dampers, spring_forces, damper_forces, bars = [], [], [], [], []
    for c in range(4):
        found = []
        for mix, y in ((state.spring_mix, state.spring_y), (state.damper_mix, state.damper_y)):
            wheel = per(0.5 * (1 + mix[:, c])) * u[c] + per(0.5 * (1 - mix[:, c])) * u[OTHER[c]]
            found.append(wheel - (z - per(state.body.x[:, c]) * theta + per(y[:, c]) * phi))
        springs.append(found[0])
        dampers.append(found[1])
        spring_forces.append(per(rate[:, c]) * found[0])
        damper_forces.append(1j * w * per(damping[:, c]) * found[1])
        left, right = min(c, OTHER[c]), max(c, OTHER[c])
        width = per(state.body.y[:, left] - state.body.y[:, right])
        bars.append(SIDE[c] * per(state.anti_roll[:, left]) * ((u[left] - u[right]) - width * phi))
    return springs, dampers, spring_forces, damper_forces, bars


def _missing(state: AtRest, rate: Array, damping: Array, q: ComplexArray, w: Array) -> ComplexArray:
    """What is left of the seven equations for motions q (n, n_freq, 7) on a level road, (n, n_freq, 7)."""

    def per(values: Array) -> Array:
        return values[:, np.newaxis]

    body = state.body
    _, _, spring, damper, bar = _each(state, rate, damping, q, w)
    left = np.zeros_like(q)
    second = -w * w
    left[..., 0] = per(body.mass) * second * q[..., 0]
    left[..., 1] = second * (per(body.pitch_inertia) * q[..., 1] - per(body.product) * q[..., 2])
    left[..., 2] = second * (per(body.roll_inertia) * q[..., 2] - per(body.product) * q[..., 1])
    on_wheel = []
    for c in range(4):
        o = OTHER[c]
        force = spring[c] + damper[c]
        left[..., 0] -= force
        left[..., 1] += per(body.x[:, c]) * force
        left[..., 2] -= per(state.spring_y[:, c]) * spring[c] + per(state.damper_y[:, c]) * damper[c]
        left[..., 2] -= per(body.y[:, c]) * bar[c]
        tyre = (per(state.tyre_rate[:, c]) + 1j * w * per(state.tyre_damping[:, c])) * -q[..., 3 + c]
        for mix, forces in ((state.spring_mix, spring), (state.damper_mix, damper)):
            tyre = tyre - per(0.5 * (1 + mix[:, c])) * forces[c] - per(0.5 * (1 - mix[:, o])) * forces[o]
        on_wheel.append(tyre - bar[c])
    for c in range(4):
        moved = per(state.wheel_inverse[:, c]) * on_wheel[c] + per(state.wheel_cross[:, c]) * on_wheel[OTHER[c]]
        left[..., 3 + c] = second * q[..., 3 + c] - moved
    return left


def _of(state: AtRest, grid: Grid) -> tuple[ComplexArray, ComplexArray]:
    """Tyres' stiffness and what the road at each wheel is under the two inputs, (n, n_freq, 4) and (n_freq, 4, 2)."""
    w = grid.omega[:, np.newaxis]
    tyres = state.tyre_rate[:, np.newaxis] + 1j * w * state.tyre_damping[:, np.newaxis]
    lag = np.exp(-1j * w * np.array([0.0, 0.0, grid.lag, grid.lag]))
    return tyres, np.stack([lag, lag * np.array(SIDE)], axis=2)


def motions(state: AtRest, rate: Array, damping: Array, grid: Grid) -> ComplexArray:
    """Motions per metre of the tracks' mean and of half their difference, (n, n_freq, 7, 2)."""
    n, w = len(rate), grid.omega[np.newaxis]
    shape = (n, len(grid.omega), SIZE)
    matrix = np.zeros((*shape, SIZE), dtype=np.complex128)
    for k in range(SIZE):
        unit = np.zeros(shape, dtype=np.complex128)
        unit[..., k] = 1.0
        matrix[..., k] = _missing(state, rate, damping, unit, w)
    tyres, road = _of(state, grid)
    push = np.zeros((*shape, 2), dtype=np.complex128)
    for c in range(4):
        for k, factor in ((c, state.wheel_inverse), (OTHER[c], state.wheel_cross)):
            push[:, :, 3 + c] += (factor[:, c, np.newaxis] * tyres[:, :, k])[..., np.newaxis] * road[:, k]
    return np.asarray(np.linalg.solve(matrix, push))


def mean_squares(state: AtRest, rate: Array, damping: Array, grid: Grid) -> dict[str, Array]:
    """Figures by the names of `FrequencyResponse`."""
    q = motions(state, rate, damping, grid)
    tyres, road = _of(state, grid)
    w, (wk, we, wc) = grid.omega, grid.weightings
    ones = np.ones_like(w)
    found: dict[str, Array] = {}

    def add(name: str, column: int | None, squares: Array, factor: Array, power: Array, width: int) -> None:
        total = np.einsum("nf,f->n", squares, factor * power)
        if column is None:
            found[name] = found.get(name, np.zeros(len(total))) + total
        else:
            found.setdefault(name, np.zeros((len(total), width)))[:, column] += total

    for k, power in enumerate((grid.mean_power, grid.difference_power)):
        springs, dampers, *_ = _each(state, rate, damping, q[..., k], w[np.newaxis])
        for c in range(4):
            contact = tyres[:, :, c] * (road[:, c, k] - q[:, :, 3 + c, k])
            add("travel", c, np.abs(springs[c]) ** 2, ones, power, 4)
            add("travel_speed", c, np.abs(dampers[c]) ** 2, w**2, power, 4)
            add("contact_force", c, np.abs(contact) ** 2, ones, power, 4)
        for i, (one, two) in enumerate(PAIRS):
            product = (q[:, :, one, k].conj() * q[:, :, two, k]).real
            add("acceleration", i, product, w**4, power, 6)
            add("weighted", i, product, w**4 * wk, power, 6)
        pitch, roll = (np.abs(q[:, :, m, k]) ** 2 for m in (1, 2))
        add("pitch", None, pitch, ones, power, 1)
        add("pitch_weighted", None, pitch, w**4 * we, power, 1)
        add("pitch_backrest", None, pitch, w**4 * wc, power, 1)
        add("roll", None, roll, ones, power, 1)
        add("roll_weighted", None, roll, w**4 * we, power, 1)
    return found

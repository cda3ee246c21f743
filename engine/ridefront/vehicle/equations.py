"""The equations of motion as matrices, and their undamped and damped modes.

M q" + C q' + K q = T_k r + T_c r', q = (body motions, wheels), r the road under each corner. One assembly for every
size of the model: an element at (x, y) contributes through its row g = (1, -x, y) of the body's motions. The compiled
kernels do the same algebra wheel by wheel; these matrices are what they are checked against, and what modes are worked
out from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridefront.vehicle.laws import Array
from ridefront.vehicle.sides import PAIRS, other_wheel
from ridefront.vehicle.static import AtRest

ComplexArray = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]

_BODY = ("bounce", "pitch", "roll")


@dataclass(frozen=True)
class Equations:
    """Matrices for a batch of designs, m = body motions + corners.

    Attributes:
        M, C, K: (n, m, m), SI.
        T_k, T_c: (n, m, corners), N/m and N·s/m.
        G: body's displacement above each wheel per body motion, (n, corners, motions).
    """

    M: Array
    C: Array
    K: Array
    T_k: Array
    T_c: Array
    G: Array


def equations_of_motion(state: AtRest, damping: Array, rate: Array | None = None) -> Equations:
    """The linear equations about a state of rest.

    Args:
        state: n designs at rest.
        damping: linear damping of each corner, (n, corners), N·s/m.
        rate: linear rate of each corner, (n, corners), N/m; the slope at rest unless given.
    """
    rate = state.wheel_rate if rate is None else rate
    n, corners = state.wheel_rate.shape
    motions = len(state.model.motions)
    size = motions + corners
    C, K = (np.zeros((n, size, size)) for _ in range(2))
    T_k, T_c = np.zeros((n, size, corners)), np.zeros((n, size, corners))
    for c in range(corners):
        K += _square(rate[:, c], travel_row(state, c, state.spring_y, state.spring_mix))
        C += _square(damping[:, c], travel_row(state, c, state.damper_y, state.damper_mix))
        w = motions + c
        K[:, w, w] += state.tyre_rate[:, c]
        C[:, w, w] += state.tyre_damping[:, c]
        T_k[:, w, c] = state.tyre_rate[:, c]
        T_c[:, w, c] = state.tyre_damping[:, c]
    if corners == 4:
        for left, right in PAIRS:
            twist = np.zeros((n, size))
            twist[:, 2] = -(state.body.y[:, left] - state.body.y[:, right])
            twist[:, motions + left], twist[:, motions + right] = 1.0, -1.0
            K += _square(state.anti_roll[:, left], twist)
    G = np.stack([_above(state, c, state.body.y) for c in range(corners)], axis=1)
    return Equations(_masses(state), C, K, T_k, T_c, G)


def _square(factor: Array, row: Array) -> Array:
    """Matrices (n, m, m) of a force factor · (row · q) that acts along `row` (n, m)."""
    return factor[:, np.newaxis, np.newaxis] * (row[:, :, np.newaxis] * row[:, np.newaxis, :])


def _above(state: AtRest, c: int, y: Array) -> Array:
    """Body's displacement above an element at corner `c`, `y` (n, corners) left, per body motion; (n, motions)."""
    lever = (np.ones_like(state.body.mass), -state.body.x[:, c], y[:, c])
    return np.stack(lever[: len(state.model.motions)], axis=1)


def travel_row(state: AtRest, c: int, y: Array, mix: Array) -> Array:
    """Travel of an element at corner `c` per motion and wheel, (n, m), SI.

    Args:
        state: n designs at rest.
        c: the corner.
        y: of the elements, left of the centre of mass, (n, corners), m.
        mix: (n, corners), without unit: half of 1 + mix of the corner's own wheel counts, and half of 1 - mix of the
            other one.
    """
    n, corners = state.wheel_rate.shape
    motions = len(state.model.motions)
    row = np.zeros((n, motions + corners))
    row[:, :motions] = -_above(state, c, y)
    row[:, motions + c] = 0.5 * (1 + mix[:, c])
    if corners == 4:
        row[:, motions + other_wheel(c)] = 0.5 * (1 - mix[:, c])
    return row


def _masses(state: AtRest) -> Array:
    """Mass matrix, (n, m, m)."""
    n, corners = state.wheel_rate.shape
    motions = len(state.model.motions)
    M = np.zeros((n, motions + corners, motions + corners))
    M[:, 0, 0] = state.body.mass
    if motions > 1:
        M[:, 1, 1] = state.body.pitch_inertia
    if motions > 2:
        M[:, 2, 2] = state.body.roll_inertia
        M[:, 1, 2] = M[:, 2, 1] = -state.body.product
    for c in range(corners):
        own, cross = state.wheel_inverse[:, c], state.wheel_cross[:, c]
        beam = cross != 0
        both = own * own - cross * cross
        w = motions + c
        M[:, w, w] = np.where(beam, own / both, state.unsprung_mass[:, c])
        if corners == 4:
            M[:, w, motions + other_wheel(c)] = np.where(beam, -cross / both, 0.0)
    return M


def state_matrix(equations: Equations) -> Array:
    """A of x' = A x with x = (q, q'), (n, 2m, 2m), SI."""
    n, size, _ = equations.M.shape
    A = np.zeros((n, 2 * size, 2 * size))
    A[:, :size, size:] = np.eye(size)
    A[:, size:, :size] = -np.linalg.solve(equations.M, equations.K)
    A[:, size:, size:] = -np.linalg.solve(equations.M, equations.C)
    return A


@dataclass(frozen=True)
class Mode:
    """One mode of the damped vehicle.

    Attributes:
        frequency: natural (undamped) frequency |λ|/2π, Hz.
        damping_ratio: -Re λ/|λ|.
        shape: of the body's motions and the wheels, (m,), complex, scaled to a largest entry of 1.
        centre: for a mode of the body: the point about which it pitches, ahead of the centre of mass, m (infinite in
            pure bounce); NaN for a model without pitch.
        motion: what moves most, by its share of the kinetic energy: ``bounce``, ``pitch``, ``roll``; both wheels of an
            axle together, ``front hop``, or against each other, ``front tramp``; ``rear`` likewise; the wheel of a
            quarter car, ``hop``.
    """

    frequency: float
    damping_ratio: float
    shape: ComplexArray
    centre: float
    motion: str


def modes(equations: Equations, design: int = 0) -> tuple[Mode, ...]:
    """Modes of one design, lowest frequency first; overdamped pairs (real eigenvalues) count one by one."""
    size, motions = equations.M.shape[1], equations.G.shape[2]
    values, vectors = np.linalg.eig(state_matrix(equations)[design])
    found = []
    for k in np.argsort(np.abs(values), kind="stable"):
        value, shape = complex(values[k]), np.asarray(vectors[:size, k], dtype=np.complex128)
        if value.imag < 0:
            continue
        shape = shape / shape[np.argmax(np.abs(shape))]
        centre = _centre(shape) if motions > 1 else np.nan
        moving = _motion(shape, equations.M[design], motions)
        found.append(Mode(abs(value) / (2 * np.pi), -value.real / abs(value), shape, centre, moving))
    return tuple(found)


def _motion(shape: ComplexArray, M: Array, motions: int) -> str:
    """What moves most in a mode; the products of motions, as of pitch with roll, count for neither."""
    energy = {name: M[k, k] * abs(shape[k]) ** 2 for k, name in zip(range(motions), _BODY, strict=False)}
    wheels = range(motions, len(shape))
    if len(wheels) == 4:
        for axle, (left, right) in zip(("front", "rear"), PAIRS, strict=True):
            one, other = shape[motions + left], shape[motions + right]
            mass, cross = M[motions + left, motions + left], M[motions + left, motions + right]
            energy[f"{axle} hop"] = 0.5 * (mass + cross) * abs(one + other) ** 2
            energy[f"{axle} tramp"] = 0.5 * (mass - cross) * abs(one - other) ** 2
    else:
        for axle, w in zip(("front", "rear"), wheels, strict=False):
            energy[f"{axle} hop" if len(wheels) > 1 else "hop"] = M[w, w] * abs(shape[w]) ** 2
    return max(energy, key=lambda name: energy[name])


def _centre(shape: ComplexArray) -> float:
    """Where z - x θ vanishes, ahead of the centre of mass; of a damped mode, the part in phase with pitch."""
    if shape[1] == 0:
        return float(np.inf)
    return float((shape[0] / shape[1]).real)


@dataclass(frozen=True)
class BouncePitch:
    """The body on its springs alone (wheels held), undamped: the classic two coordinates.

    Attributes:
        frequency: (n, 2), Hz, lower first.
        centre: of each mode, ahead of the centre of mass, (n, 2), m; infinite in pure bounce.
        dynamic_index: pitch gyration² / (a b), (n,).
    """

    frequency: Array
    centre: Array
    dynamic_index: Array


def bounce_pitch(mass: Array, pitch_inertia: Array, x: Array, rate: Array) -> BouncePitch:
    """Bounce and pitch of a body on two springs.

    Args:
        mass: (n,), kg; pitch_inertia: (n,), kg·m².
        x: of the two springs ahead of the centre of mass, (n, 2), m.
        rate: of the springs, (n, 2), N/m; ride rates give the modes with tyres in series.

    Returns:
        Frequencies and centres of the 2 x 2 eigenproblem, solved in closed form.
    """
    a = (rate[:, 0] + rate[:, 1]) / mass
    b = -(rate[:, 0] * x[:, 0] + rate[:, 1] * x[:, 1])
    c = (rate[:, 0] * x[:, 0] ** 2 + rate[:, 1] * x[:, 1] ** 2) / pitch_inertia
    gyration = pitch_inertia / mass
    half, root = 0.5 * (a + c), np.sqrt(0.25 * (a - c) ** 2 + b * b / (mass * pitch_inertia))
    squared = np.stack([half - root, half + root], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        # (a - ω²) z + (b/m) θ = 0: the mode turns about x = z/θ.
        centre = np.where(
            b[:, np.newaxis] == 0,
            np.where(np.abs(a[:, np.newaxis] - squared) <= np.abs(c[:, np.newaxis] - squared), np.inf, 0.0),
            -(b / mass)[:, np.newaxis] / (a[:, np.newaxis] - squared),
        )
    return BouncePitch(np.sqrt(np.maximum(squared, 0.0)) / (2 * np.pi), centre, gyration / (x[:, 0] * -x[:, 1]))

"""The equations of motion as matrices, and their undamped and damped modes.

M q" + C q' + K q = T_k r + T_c r', q = (body motions, wheels), r the road under each corner. One assembly for every
size of
the model: a corner at x contributes through its row g = (1, -x) of the body's motions. The compiled kernels do the same
algebra wheel by wheel; these matrices are what they are checked against, and what modes are worked out from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridefront.vehicle.laws import Array
from ridefront.vehicle.static import AtRest

ComplexArray = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]


@dataclass(frozen=True)
class Equations:
    """Matrices for a batch of designs, m = body motions + corners.

    Attributes:
        M, C, K: (n, m, m), SI.
        T_k, T_c: (n, m, corners), N/m and N·s/m.
        G: body's displacement above each corner per body motion, (n, corners, motions).
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
    G = np.ones((n, corners, motions))
    M, C, K = (np.zeros((n, size, size)) for _ in range(3))
    T_k, T_c = np.zeros((n, size, corners)), np.zeros((n, size, corners))
    M[:, 0, 0] = state.body.mass
    if motions > 1:
        G[:, :, 1] = -state.body.x
        M[:, 1, 1] = state.body.pitch_inertia
    for c in range(corners):
        row = np.zeros((n, size))  # travel = row · q
        row[:, :motions] = -G[:, c]
        row[:, motions + c] = 1.0
        square = row[:, :, np.newaxis] * row[:, np.newaxis, :]
        K += rate[:, c, np.newaxis, np.newaxis] * square
        C += damping[:, c, np.newaxis, np.newaxis] * square
        w = motions + c
        M[:, w, w] = state.unsprung_mass[:, c]
        K[:, w, w] += state.tyre_rate[:, c]
        C[:, w, w] += state.tyre_damping[:, c]
        T_k[:, w, c] = state.tyre_rate[:, c]
        T_c[:, w, c] = state.tyre_damping[:, c]
    return Equations(M, C, K, T_k, T_c, G)


def state_matrix(equations: Equations) -> Array:
    """A of x' = A x with x = (q, q'), (n, 2m, 2m)."""
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
        shape: of the body's motions and the wheels, complex, scaled to a largest entry of 1.
        centre: for a mode of the body: the point about which it turns, ahead of the centre of mass, m (infinite in pure
            bounce); NaN for a model without pitch.
    """

    frequency: float
    damping_ratio: float
    shape: ComplexArray
    centre: float


def modes(equations: Equations, design: int = 0) -> tuple[Mode, ...]:
    """Modes of one design, lowest frequency first; overdamped pairs (real eigenvalues) count one by one."""
    size = equations.M.shape[1]
    motions = equations.G.shape[2]
    values, vectors = np.linalg.eig(state_matrix(equations)[design])
    found = []
    for k in np.argsort(np.abs(values), kind="stable"):
        value, shape = complex(values[k]), np.asarray(vectors[:size, k], dtype=np.complex128)
        if value.imag < 0:
            continue
        shape = shape / shape[np.argmax(np.abs(shape))]
        found.append(
            Mode(abs(value) / (2 * np.pi), -value.real / abs(value), shape, _centre(shape) if motions > 1 else np.nan)
        )
    return tuple(found)


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

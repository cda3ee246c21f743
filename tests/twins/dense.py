"""The obvious way to a linear vehicle's mean squares: one dense solve a frequency, figures summed from amplitudes.

It holds the kernels, and no more: frequencies, power with its end corrections and patch, lag and weightings are those
of the engine's `Grid`, matrices those of its equations of motion, as `ridefront.evaluate.spectra` has them too. A fault
in these would be on both sides. They are held by `tests/response/test_grid.py`, `tests/published/test_iso8608.py`,
`test_iso2631.py` and `tests/twins/test_signal.py` (weightings), and `tests/vehicle/test_equations.py`; grid, equations
and kernels together by `test_lyapunov.py`, which needs no grid, and `test_march_random.py`, by the time domain.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridefront.response.grid import Grid
from ridefront.vehicle.equations import equations_of_motion
from ridefront.vehicle.static import AtRest

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def amplitudes(
    state: AtRest, damping: Array, grid: Grid, rate: Array | None = None
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Motions, travels and dynamic contact forces per metre of road, (n, n_freq, motions | corners | corners)."""
    eq = equations_of_motion(state, damping, rate)
    w = grid.omega[np.newaxis, :, np.newaxis, np.newaxis]
    corners = damping.shape[1]
    lag = np.exp(-1j * grid.omega[:, np.newaxis] * np.array([0.0, grid.lag])[:corners])
    tyre = eq.T_k[:, np.newaxis] + 1j * w * eq.T_c[:, np.newaxis]
    dynamic = eq.K[:, np.newaxis] + 1j * w * eq.C[:, np.newaxis] - w * w * eq.M[:, np.newaxis]
    q = np.linalg.solve(dynamic, (tyre @ lag[np.newaxis, :, :, np.newaxis]))[..., 0]
    motions = len(state.model.motions)
    body, wheels = q[..., :motions], q[..., motions:]
    above = np.einsum("ncm,nfm->nfc", eq.G, body)
    tyres = state.tyre_rate[:, np.newaxis] + 1j * grid.omega[:, np.newaxis] * state.tyre_damping[:, np.newaxis]
    return body, wheels - above, tyres * (lag - wheels)


def mean_squares(state: AtRest, damping: Array, grid: Grid, rate: Array | None = None) -> dict[str, Array]:
    """Figures by the names of `FrequencyResponse`; pitch figures only for a half car."""
    body, travel, contact = amplitudes(state, damping, grid, rate)
    w, power = grid.omega, grid.power
    wk, we, wc = grid.weightings

    def total(squares: NDArray[np.float64], factor: Array) -> Array:
        return np.asarray(np.tensordot(squares, factor * power, axes=([1], [0])))

    n = damping.shape[0]
    z = body[..., 0]
    t = body[..., 1] if body.shape[-1] > 1 else np.zeros_like(z)
    products = np.stack([np.abs(z) ** 2, (z.conj() * t).real, np.abs(t) ** 2], axis=2)
    found = {
        "travel": total(np.abs(travel) ** 2, np.ones_like(w)),
        "travel_speed": total(np.abs(travel) ** 2, w**2),
        "contact_force": total(np.abs(contact) ** 2, np.ones_like(w)),
        "acceleration": total(products, w**4),
        "weighted": total(products, w**4 * wk),
        "pitch": total(np.abs(t) ** 2, np.ones_like(w)),
        "pitch_weighted": total(np.abs(t) ** 2, w**4 * we),
        "pitch_backrest": total(np.abs(t) ** 2, w**4 * wc),
    }
    assert found["pitch"].shape == (n,)
    return found

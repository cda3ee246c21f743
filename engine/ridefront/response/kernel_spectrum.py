"""The compiled response to a random road, many designs side by side. This file imports nothing of ours (numba's cache
knows the defining file only).

Each wheel is eliminated as a scalar: with K = k + iωc, T = k_t + iωc_t, D = K + T - ω²m_u,

    force on the body above the wheel   F = τ r - κ z,   κ = K (T - ω²m_u)/D,   τ = K T/D
    wheel                               u = (T r + K z)/D

so what is left is the body: (-ω²M + Σ g gᵀ κ) q = Σ g τ r, one or two unknowns.

A full car that is alike left and right falls apart into two such problems (`kernel_full` has the one that does not).
The mean of left and right is half a car with its pitch. Their half difference u is roll φ and warp; a spring's travel
is α u - y_s φ, a damper's β u - y_d φ, a bar's u - y φ at each wheel (y of the wheel, y_s and y_d of spring and damper;
α, β are 1 but on a beam axle), and with m_d the mass that u moves

    D = T + α² k + iω β² c + 2 k_b - ω²m_d,   g = α k y_s + iω β c y_d + 2 k_b y,   h = k y_s² + iω c y_d² + 2 k_b y²
    wheel  u = (T r + g φ)/D,   moment on the body   g T/D r - (h - g²/D) φ

Sizes are the lengths of tuples in the signature (`axles`, `lanes`, `figures`), so that one source serves all and the
loop over lanes has a compile-time length and vectorises. What keeps it so: one scratch array with rows at
compile-time positions, no array argument read inside the loop over lanes, small helpers inlined by LLVM, no calls of
the maths library. Floating point is strict, so a design's bits depend neither on its lane nor on its neighbours.

Rows of P: mass, pitch inertia, then for each axle k, c, k_t, c_t, m_u, x.
Columns of the grid: ω, power, cos ω·lag, sin ω·lag, |Wk|², |We|², |Wc|².
Rows of the result: for each axle the mean squares of travel, of its speed, of the dynamic contact force; with
`figures`, then z"z", z"θ", θ"θ", the same weighted by Wk, θθ, θ"θ" weighted by We, by Wc (one axle: z"z" and weighted
z"z").

Rows of P in roll: half of the roll inertia, then for each axle α, y_s, β, y_d, real parts and those over iω of g, h and
D - T + ω²m_d, then k_t, c_t, m_d. Rows of the result: for each axle as above; with `figures`, then φ"φ", the same
weighted by Wk, φφ, φ"φ" weighted by We.
"""

import warnings
from functools import partial

import numpy as np
from numba import njit

BODY_ROWS = 2
AXLE_ROWS = 6
AXLE_FIGURES = 3
_K, _C, _KT, _CT, _MU, _X = range(AXLE_ROWS)
_M, _I = range(BODY_ROWS)
_S2, _W2, _N2 = range(AXLE_FIGURES)

ROLL_BODY_ROWS = 1
ROLL_AXLE_ROWS = 13
ROLL_FIGURES = 4
"""Of the body, behind those of the axles."""
_A, _YS, _B, _YD, _GK, _GC, _HK, _HC, _DK, _DC, _RKT, _RCT, _MD = range(ROLL_AXLE_ROWS)


def _kept(function, **options):
    """Compile on first use and keep the machine code on disk; where no folder can be written, without keeping it."""
    try:
        return njit(cache=True, error_model="numpy", **options)(function)
    except RuntimeError:
        warnings.warn(
            "no folder for compiled code can be written, so every start compiles anew (some seconds); "
            "set NUMBA_CACHE_DIR to a writable folder",
            stacklevel=1,
        )
        return njit(error_model="numpy", **options)(function)


_compiled = partial(_kept, nogil=True)
# What others call is kept too, so that a process compiles only what is new to the machine.
_inlined = partial(_kept, forceinline=True)


def body_figures(axles: int) -> int:
    """How many figures of the body follow those of the axles."""
    return 2 if axles == 1 else 9


@_inlined
def _mul(a, b):
    return a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]


@_inlined
def _add(a, b):
    return a[0] + b[0], a[1] + b[1]


@_inlined
def _sub(a, b):
    return a[0] - b[0], a[1] - b[1]


@_inlined
def _scale(a, s):
    return a[0] * s, a[1] * s


@_inlined
def _inverse(a):
    d = 1.0 / (a[0] * a[0] + a[1] * a[1])
    return a[0] * d, -a[1] * d


@_inlined
def _abs2(a):
    return a[0] * a[0] + a[1] * a[1]


@_inlined
def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1]


@_inlined
def _wheel(X, p, j, w, w2):
    """κ, τ, 1/D, K, T of one wheel."""
    K = (X[p + _K, j], w * X[p + _C, j])
    T = (X[p + _KT, j], w * X[p + _CT, j])
    inertia = w2 * X[p + _MU, j]
    D = _inverse((K[0] + T[0] - inertia, K[1] + T[1]))
    KD = _mul(K, D)
    return _mul(KD, (T[0] - inertia, T[1])), _mul(KD, T), D, K, T


@_inlined
def _note(X, a, j, D, K, T, z, r, w2, q, full):
    """Add an axle's travel, its speed and the dynamic contact force; z of the body above it, r of the road."""
    u = _mul(_add(_mul(T, r), _mul(K, z)), D)
    s = _abs2(_sub(u, z)) * q
    X[a + _S2, j] += s
    X[a + _W2, j] += s * w2
    if full:
        X[a + _N2, j] += _abs2(_mul(T, _sub(r, u))) * q


@_inlined
def _note_body(X, b, j, z, t, w2, q, k2, e2, c2):
    """Add the body's products: accelerations plain and weighted, and the pitch angle."""
    q4 = q * w2 * w2
    zz = _abs2(z) * q4
    zt = _dot(z, t) * q4
    tt = _abs2(t) * q4
    X[b, j] += zz
    X[b + 1, j] += zt
    X[b + 2, j] += tt
    X[b + 3, j] += zz * k2
    X[b + 4, j] += zt * k2
    X[b + 5, j] += tt * k2
    X[b + 6, j] += _abs2(t) * q
    X[b + 7, j] += tt * e2
    X[b + 8, j] += tt * c2


@_compiled
def respond(axles, lanes, figures, P, grid, out):
    """Mean squares of one or two axles' vehicles on a spectrum.

    Args:
        axles: tuple whose length is the number of axles, 1 or 2.
        lanes: tuple whose length is the number of designs side by side.
        figures: empty tuple for travel and its speed alone (linearisation), one entry for everything.
        P: (blocks, rows, lanes); grid: (n_freq, 7); out: (blocks, figures, lanes), written.
    """
    A = len(axles)
    L = len(lanes)
    full = len(figures) > 0
    a = BODY_ROWS + A * AXLE_ROWS
    b = a + A * AXLE_FIGURES
    end = b + (2 if A == 1 else 9)
    X = np.empty((end, L))
    for block in range(P.shape[0]):
        for i in range(a):
            for j in range(L):
                X[i, j] = P[block, i, j]
        for i in range(a, end):
            for j in range(L):
                X[i, j] = 0.0
        for n in range(grid.shape[0]):
            w = grid[n, 0]
            q = grid[n, 1]
            lag = (grid[n, 2], -grid[n, 3])
            k2 = grid[n, 4]
            e2 = grid[n, 5]
            c2 = grid[n, 6]
            w2 = w * w
            one = (1.0, 0.0)
            p1 = BODY_ROWS
            p2 = BODY_ROWS + AXLE_ROWS
            for j in range(L):
                kap1, tau1, D1, K1, T1 = _wheel(X, p1, j, w, w2)
                if A == 1:
                    z = _mul(tau1, _inverse((kap1[0] - w2 * X[_M, j], kap1[1])))
                    _note(X, a, j, D1, K1, T1, z, one, w2, q, full)
                    if full:
                        acc = _abs2(z) * w2 * w2 * q
                        X[b, j] += acc
                        X[b + 1, j] += acc * k2
                else:
                    kap2, tau2, D2, K2, T2 = _wheel(X, p2, j, w, w2)
                    x1 = X[p1 + _X, j]
                    x2 = X[p2 + _X, j]
                    f2 = _mul(tau2, lag)
                    m11 = (kap1[0] + kap2[0] - w2 * X[_M, j], kap1[1] + kap2[1])
                    m12 = (-x1 * kap1[0] - x2 * kap2[0], -x1 * kap1[1] - x2 * kap2[1])
                    m22 = (
                        x1 * x1 * kap1[0] + x2 * x2 * kap2[0] - w2 * X[_I, j],
                        x1 * x1 * kap1[1] + x2 * x2 * kap2[1],
                    )
                    b1 = _add(tau1, f2)
                    b2 = (-x1 * tau1[0] - x2 * f2[0], -x1 * tau1[1] - x2 * f2[1])
                    det = _inverse(_sub(_mul(m11, m22), _mul(m12, m12)))
                    z = _mul(_sub(_mul(b1, m22), _mul(b2, m12)), det)
                    t = _mul(_sub(_mul(b2, m11), _mul(b1, m12)), det)
                    _note(X, a, j, D1, K1, T1, _sub(z, _scale(t, x1)), one, w2, q, full)
                    _note(X, a + AXLE_FIGURES, j, D2, K2, T2, _sub(z, _scale(t, x2)), lag, w2, q, full)
                    if full:
                        _note_body(X, b, j, z, t, w2, q, k2, e2, c2)
        for i in range(end - a):
            for j in range(L):
                out[block, i, j] = X[a + i, j]


@_inlined
def _axle_in_roll(X, p, j, w, w2):
    """κ, τ, 1/D, g, T of one axle's half difference."""
    T = (X[p + _RKT, j], w * X[p + _RCT, j])
    g = (X[p + _GK, j], w * X[p + _GC, j])
    D = _inverse((X[p + _DK, j] + T[0] - w2 * X[p + _MD, j], w * X[p + _DC, j] + T[1]))
    gD = _mul(g, D)
    return _sub((X[p + _HK, j], w * X[p + _HC, j]), _mul(gD, g)), _mul(gD, T), D, g, T


@_inlined
def _note_roll(X, p, a, j, D, g, T, f, r, w2, q, full):
    """Add an axle's travel at the spring, its speed at the damper and the contact force; f: roll of the body."""
    u = _mul(_add(_mul(T, r), _mul(g, f)), D)
    X[a + _S2, j] += _abs2(_sub(_scale(u, X[p + _A, j]), _scale(f, X[p + _YS, j]))) * q
    X[a + _W2, j] += _abs2(_sub(_scale(u, X[p + _B, j]), _scale(f, X[p + _YD, j]))) * q * w2
    if full:
        X[a + _N2, j] += _abs2(_mul(T, _sub(r, u))) * q


@_compiled
def respond_in_roll(lanes, figures, P, grid, out):
    """Mean squares of roll and warp of a full car that is alike left and right, by the half difference of its tracks.

    Args:
        lanes, figures: as of `respond`.
        P: (blocks, rows, lanes); grid: (n_freq, 7), its power that of the half difference; out: (blocks, figures,
            lanes), written.
    """
    L = len(lanes)
    full = len(figures) > 0
    p1 = ROLL_BODY_ROWS
    p2 = p1 + ROLL_AXLE_ROWS
    a = p2 + ROLL_AXLE_ROWS
    b = a + 2 * AXLE_FIGURES
    end = b + ROLL_FIGURES
    X = np.empty((end, L))
    for block in range(P.shape[0]):
        for i in range(a):
            for j in range(L):
                X[i, j] = P[block, i, j]
        for i in range(a, end):
            for j in range(L):
                X[i, j] = 0.0
        for n in range(grid.shape[0]):
            w = grid[n, 0]
            q = grid[n, 1]
            lag = (grid[n, 2], -grid[n, 3])
            k2 = grid[n, 4]
            e2 = grid[n, 5]
            w2 = w * w
            one = (1.0, 0.0)
            for j in range(L):
                kap1, tau1, D1, g1, T1 = _axle_in_roll(X, p1, j, w, w2)
                kap2, tau2, D2, g2, T2 = _axle_in_roll(X, p2, j, w, w2)
                body = (kap1[0] + kap2[0] - w2 * X[0, j], kap1[1] + kap2[1])
                f = _mul(_add(tau1, _mul(tau2, lag)), _inverse(body))
                _note_roll(X, p1, a, j, D1, g1, T1, f, one, w2, q, full)
                _note_roll(X, p2, a + AXLE_FIGURES, j, D2, g2, T2, f, lag, w2, q, full)
                if full:
                    angle = _abs2(f) * q
                    acc = angle * w2 * w2
                    X[b, j] += acc
                    X[b + 1, j] += acc * k2
                    X[b + 2, j] += angle
                    X[b + 3, j] += acc * e2
        for i in range(end - a):
            for j in range(L):
                out[block, i, j] = X[a + i, j]

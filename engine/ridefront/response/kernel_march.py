"""The compiled march through time: one rigid body on one, two or four corners over a road, many designs side by side.

This file imports nothing of ours (numba's cache knows the defining file only).

    body     m z" = Σ F,  I_y θ" = -Σ x F                           (deviations from that load's position of rest)
    wheel    m_u u" = N - N0 - F
    force    F = F0 + k s + stops + bends + c w + knees + friction,  s = u - (z - x θ),  w = ds/dt
             stop    ± (rate + growth d) d,  d = max(0, ±s - start)
             bend    rate max(0, s - start);  knee    rate max(0, w - start)
             friction    level w/√(w² + v²)
    contact  N = N0 + k_t (r - u) + c_t (dr/dt - du/dt) while the elastic part and the sum are above zero, else 0

Four corners also roll; their wheels go by axles, l left and r right. With y the middle of an axle's wheels and t their
distance, springs (stops and bends with them, F) see the share α of the axle's tilt against the body, dampers (knees and
friction with them, D) the share β: what they are apart over what the wheels are, 1 unless on a beam axle.

    travel   s = (u_l + u_r)/2 - (z - x θ + y φ) ± α e,  e = (u_l - u_r - t φ)/2;  w = d/dt of the same with β
    tilt     T = α/2 (F_l - F_r) + β/2 (D_l - D_r) + 2 k_arb e
    wheel    f = N - N0 - (F_l + F_r + D_l + D_r)/2 ∓ T;  u" = f/m + cross f of the other wheel
    body     M_θ = -Σ x (F + D),  M_φ = Σ y (F + D) + Σ t T;  (θ", φ") = inverse inertia (M_θ, M_φ)

The classical fourth-order Runge-Kutta method with a fixed step; the road is given at the half step too, and its slope
is that of the parabola through a step's three heights. Figures are summed as the march goes, at the beginning of each
step; histories are kept only when asked for.

Sizes are the lengths of tuples in the signature, so that one source serves all and LLVM sees constants. What keeps the
loop over lanes vectorised (each was measured): the whole step inside one loop, one scratch array with rows at
compile-time positions, no array argument read inside the loop, no choice between two addresses, helpers inlined by
LLVM, no calls of the maths library. Floating point is strict, so a design's bits depend neither on its lane nor on its
neighbours, not even on one that diverges.

Each combination of sizes is compiled anew, so what costs nothing unless wanted is none. So are helpers for each
literal that numba sees; where none is needed it is kept from that (`+ 0`, `a > 0`). Loops in helpers need theirs.

    body        motions: z; z, pitch; z, pitch, roll       corners     front (left, right), rear (left, right)
    lanes       designs side by side                       points      places on the body that have figures
    bends       of the travel law, stops apart             knees       of the speed law
    friction    () or (0,): whether there is any           backrest    whether We and Wc are wanted, two motions or more

Rows of P: `BODY`; each corner's `CORNER` rows, then of its stops start, rate, growth of bump and of rebound, then start
and rate of each bend and of each knee; x and y of each point. What is an axle's is read at its left corner: x, y, t,
k_arb, α/2, β/2.
Rows of the result: each corner's `CORNER_FIGURES`; mean products of accelerations of the motions (zz, zθ, θθ, zφ, θφ,
φφ), the same weighted by Wk; mean and mean square of pitch (and roll) and mean square of pitch in `window`; θ"θ"
weighted by We and by Wc (and φ"φ" by We); for each point Σ a_w⁴, the largest |a| behind the low-pass and the largest
running mean square of a_w; the step after which heave has settled.
Means are over the steps from `first` on; the share of the window is over the window's.
"""

import math
import warnings
from functools import partial

import numpy as np
from numba import njit

# The last three are of the inverse of the 2 x 2 matrix of inertia.
BODY = ("inverse mass", "inverse pitch inertia", "inverse roll inertia", "inverse product")
CORNER = (
    "rate", "damping", "constant force", "tyre rate", "tyre damping", "contact force", "inverse unsprung mass",
    "x", "friction", "friction speed",
    "axle y", "track", "anti-roll rate", "half spring mix", "half damper mix", "cross inverse unsprung mass",
    "constant damper force",  # of four corners, like the row above; else in the constant force
)  # fmt: skip
STOP_ROWS = 6
HINGE_ROWS = 2
POINT_ROWS = 2
CORNER_FIGURES = (
    "mean travel", "mean square travel", "highest travel", "lowest travel", "mean square speed",
    "mean square load", "lift-off", "bump stop", "stop force",
)  # fmt: skip
POINT_FIGURES = ("dose", "peak", "running")
SETTLED = 0.05  # of the largest heave

_BODY_ROWS, _CORNER_ROWS = len(BODY), len(CORNER)
_CORNER_FIGURES, _POINT_FIGURES = len(CORNER_FIGURES), len(POINT_FIGURES)
_IM, _IY, _IX, _IXY = range(_BODY_ROWS)
_K, _C, _F0, _KT, _CT, _N0, _IMU, _X, _FF, _FV, _Y, _T, _ARB, _SM, _DM, _CMU, _D0 = range(_CORNER_ROWS)
_S, _S2, _UP, _DOWN, _W2, _N2, _OFF, _ON, _STOP = range(_CORNER_FIGURES)
_WK, _LP, _WE, _WC = 4, 1, 3, 3  # sections of each filter


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


def corner_rows(bends: int, knees: int) -> int:
    """Rows of P that one corner takes."""
    return _CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (bends + knees)


def parameter_rows(corners: int, points: int, bends: int, knees: int) -> int:
    """Rows of P."""
    return _BODY_ROWS + corners * corner_rows(bends, knees) + POINT_ROWS * points


def body_figures(motions: int) -> int:
    """How many figures of the body follow those of the corners: products, weighted products, rotations, We, Wc (We)."""
    return motions * (motions + 1) + 2 * (motions - 1) + (4 if motions > 2 else 3)


def figure_rows(motions: int, corners: int, points: int) -> int:
    """Rows of the result."""
    return _CORNER_FIGURES * corners + body_figures(motions) + _POINT_FIGURES * points + 1


@_inlined
def _axpy(x, h, y):
    return (
        x[0] + h * y[0], x[1] + h * y[1], x[2] + h * y[2], x[3] + h * y[3], x[4] + h * y[4], x[5] + h * y[5],
        x[6] + h * y[6],
    )  # fmt: skip


@_inlined
def _combine(x, g, a, b, c, d):
    return (
        x[0] + g * (a[0] + 2.0 * (b[0] + c[0]) + d[0]),
        x[1] + g * (a[1] + 2.0 * (b[1] + c[1]) + d[1]),
        x[2] + g * (a[2] + 2.0 * (b[2] + c[2]) + d[2]),
        x[3] + g * (a[3] + 2.0 * (b[3] + c[3]) + d[3]),
        x[4] + g * (a[4] + 2.0 * (b[4] + c[4]) + d[4]),
        x[5] + g * (a[5] + 2.0 * (b[5] + c[5]) + d[5]),
        x[6] + g * (a[6] + 2.0 * (b[6] + c[6]) + d[6]),
    )


@_inlined
def _load(B, N, S, row, j):
    """z, pitch, roll and four wheels of a lane; zeros where this size has none."""
    pitch = 0.0
    roll = 0.0
    u1 = 0.0
    u2 = 0.0
    u3 = 0.0
    if B > 1:
        pitch = S[row + 1, j]
    if B > 2:
        roll = S[row + 2, j]
    if N > 1:
        u1 = S[row + B + 1, j]
    if N > 2:
        u2 = S[row + B + 2, j]
        u3 = S[row + B + 3, j]
    return S[row, j], pitch, roll, S[row + B, j], u1, u2, u3


@_inlined
def _save(B, N, S, row, j, x):
    S[row, j] = x[0]
    if B > 1:
        S[row + 1, j] = x[1]
    if B > 2:
        S[row + 2, j] = x[2]
    S[row + B, j] = x[3]
    if N > 1:
        S[row + B + 1, j] = x[4]
    if N > 2:
        S[row + B + 2, j] = x[5]
        S[row + B + 3, j] = x[6]


@_inlined
def _body_at(B, S, p, j, x):
    """Height (or speed) of the body above a corner."""
    z = x[0]
    if B > 1:
        z = z - S[p + _X, j] * x[1]
    return z


@_inlined
def _springs(H, S, p, j, F, s):
    """F and what stops and bends add to it, and the force of the bump stop and of the rebound stop."""
    r = p + _CORNER_ROWS
    d = s - S[r, j]
    d = d if d > 0.0 else 0.0
    bump = (S[r + 1, j] + S[r + 2, j] * d) * d
    d = -s - S[r + 3, j]
    d = d if d > 0.0 else 0.0
    rebound = (S[r + 4, j] + S[r + 5, j] * d) * d
    F = F + (bump - rebound)
    r = r + STOP_ROWS
    for i in range(H):
        d = s - S[r + HINGE_ROWS * i, j]
        d = d if d > 0.0 else 0.0
        F = F + S[r + HINGE_ROWS * i + 1, j] * d
    return F, bump, rebound


@_inlined
def _dampers(H, V, FR, S, p, j, F, w):
    """F and what knees and friction add to it."""
    r = p + _CORNER_ROWS + STOP_ROWS + HINGE_ROWS * H
    for i in range(V):
        d = w - S[r + HINGE_ROWS * i, j]
        d = d if d > 0.0 else 0.0
        F = F + S[r + HINGE_ROWS * i + 1, j] * d
    if FR > 0:
        F = F + S[p + _FF, j] * w / math.sqrt(w * w + S[p + _FV, j] * S[p + _FV, j])
    return F


@_inlined
def _force(H, V, FR, S, p, j, s, w):
    """Force on the body at a corner, and the force of its bump stop and of its rebound stop."""
    F, bump, rebound = _springs(H, S, p, j, S[p + _F0, j] + S[p + _K, j] * s + S[p + _C, j] * w, s)
    return _dampers(H, V, FR, S, p, j, F, w), bump, rebound


@_inlined
def _contact(S, p, j, r, slope, u, v):
    """Contact force; tyres push and do not pull."""
    elastic = S[p + _N0, j] + S[p + _KT, j] * (r - u)
    N = elastic + S[p + _CT, j] * (slope - v)
    N = N if N > 0.0 else 0.0
    return N if elastic > 0.0 else 0.0


@_inlined
def _note(S, a, p, j, s, w, N, bump, rebound):
    """Add a corner's figures of this moment."""
    S[a + _S, j] += s
    S[a + _S2, j] += s * s
    old = S[a + _UP, j]
    S[a + _UP, j] = s if s > old else old
    old = S[a + _DOWN, j]
    S[a + _DOWN, j] = s if s < old else old
    S[a + _W2, j] += w * w
    d = N - S[p + _N0, j]
    S[a + _N2, j] += d * d
    S[a + _OFF, j] += 0.0 if N > 0.0 else 1.0
    S[a + _ON, j] += 1.0 if bump > 0.0 else 0.0
    f = bump if bump > rebound else rebound
    old = S[a + _STOP, j]
    S[a + _STOP, j] = f if f > old else old


@_inlined
def _axle(H, V, FR, S, p, o, j, x, v, ul, ur, vl, vr, r, slope, a, noted):
    """Force and moments (of pitch, nose up) of an axle, accelerations of its wheels; their rows start at p and at o."""
    m = 0.5 * (ul + ur) - (x[0] - S[p + _X, j] * x[1] + S[p + _Y, j] * x[2])
    tilt = ul - ur - S[p + _T, j] * x[2]
    e = S[p + _SM, j] * tilt
    sl = m + e
    sr = m - e
    m = 0.5 * (vl + vr) - (v[0] - S[p + _X, j] * v[1] + S[p + _Y, j] * v[2])
    e = S[p + _DM, j] * (vl - vr - S[p + _T, j] * v[2])
    wl = m + e
    wr = m - e
    Fl, up, down = _springs(H, S, p, j, S[p + _F0, j] + S[p + _K, j] * sl, sl)
    N = _contact(S, p, j, r[0], slope[0], ul, vl)
    if noted:
        _note(S, a, p, j, sl, wl, N, up, down)
    fl = N - S[p + _N0, j]
    Fr, up, down = _springs(H, S, o, j, S[o + _F0, j] + S[o + _K, j] * sr, sr)
    N = _contact(S, o, j, r[1], slope[1], ur, vr)
    if noted:
        _note(S, a + _CORNER_FIGURES, o, j, sr, wr, N, up, down)
    fr = N - S[o + _N0, j]
    Dl = _dampers(H, V, FR, S, p, j, S[p + _D0, j] + S[p + _C, j] * wl, wl)
    Dr = _dampers(H, V, FR, S, o, j, S[o + _D0, j] + S[o + _C, j] * wr, wr)
    T = S[p + _SM, j] * (Fl - Fr) + S[p + _DM, j] * (Dl - Dr) + S[p + _ARB, j] * tilt
    F = (Fl + Fr) + (Dl + Dr)
    fl = fl - (0.5 * F + T)
    fr = fr - (0.5 * F - T)
    al = S[p + _IMU, j] * fl + S[p + _CMU, j] * fr
    ar = S[o + _IMU, j] * fr + S[o + _CMU, j] * fl
    return F, S[p + _X, j] * F, S[p + _Y, j] * F + S[p + _T, j] * T, al, ar


@_inlined
def _acceleration(B, N, H, V, FR, S, j, x, v, r, slope, a, noted):
    """Accelerations of body and wheels; `noted` adds the corners' figures."""
    R = _CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (H + V)
    p1 = _BODY_ROWS + R
    p0 = p1 - R  # no literal
    if N > 2:
        p2 = p1 + R
        fz, ft, fr, a0, a1 = _axle(H, V, FR, S, p0, p1, j, x, v, x[3], x[4], v[3], v[4], r[:2], slope[:2], a, noted)
        a = a + 2 * _CORNER_FIGURES
        gz, gt, gr, a2, a3 = _axle(H, V, FR, S, p2, p2 + R, j, x, v, x[5], x[6], v[5], v[6], r[2:], slope[2:], a, noted)
        ft = ft + gt
        fr = fr + gr
        pitch = fr * S[_IXY, j] - ft * S[_IY, j]
        return (fz + gz) * S[_IM, j], pitch, fr * S[_IX, j] - ft * S[_IXY, j], a0, a1, a2, a3
    s0 = x[3] - _body_at(B, S, p0, j, x)
    w0 = v[3] - _body_at(B, S, p0, j, v)
    F0, up0, down0 = _force(H, V, FR, S, p0, j, s0, w0)
    N0 = _contact(S, p0, j, r[0], slope[0], x[3], v[3])
    if noted:
        _note(S, a, p0, j, s0, w0, N0, up0, down0)
    a0 = (N0 - S[p0 + _N0, j] - F0) * S[p0 + _IMU, j]
    if N == 1:
        return F0 * S[_IM, j], 0.0, 0.0, a0, 0.0, 0.0, 0.0
    s1 = x[4] - _body_at(B, S, p1, j, x)
    w1 = v[4] - _body_at(B, S, p1, j, v)
    F1, up1, down1 = _force(H, V, FR, S, p1, j, s1, w1)
    N1 = _contact(S, p1, j, r[1], slope[1], x[4], v[4])
    if noted:
        _note(S, a + _CORNER_FIGURES, p1, j, s1, w1, N1, up1, down1)
    ft = -S[p0 + _X, j] * F0 - S[p1 + _X, j] * F1
    a1 = (N1 - S[p1 + _N0, j] - F1) * S[p1 + _IMU, j]
    return (F0 + F1) * S[_IM, j], ft * S[_IY, j], 0.0, a0, a1, 0.0, 0.0


@_inlined
def _section(S, f, j, c, y):
    """One second-order section, transposed direct form II; c is b0, b1, b2, a1, a2."""
    out = c[0] * y + S[f, j]
    S[f, j] = c[1] * y - c[3] * out + S[f + 1, j]
    S[f + 1, j] = c[2] * y - c[4] * out
    return out


@_inlined
def _four(S, f, j, c, y):
    return _section(
        S, f + 6, j, c[3], _section(S, f + 4, j, c[2], _section(S, f + 2, j, c[1], _section(S, f, j, c[0], y)))
    )


@_inlined
def _three(S, f, j, c, y):
    y = _section(S, f, j, c[0], y)
    y = _section(S, f + 2, j, c[1], y)
    return _section(S, f + 4, j, c[2], y)


@_inlined
def _note_body(B, E, BK, S, j, p, f, g, b, e, x, acc, wk, lp, we, wc, share):
    """Add the body's figures of this moment: products, weighted products, rotations; dose, peak and largest running
    mean square at the points.
    """
    fm = 2 * (_WK + _LP)  # rows that one motion's filters take
    w = b + B * (B + 1) // 2
    m = b + B * (B + 1)
    wz = _four(S, f, j, wk, acc[0])
    lz = _section(S, f + 2 * _WK, j, lp[0], acc[0])
    wt, lt, wr, lr = 0.0, 0.0, 0.0, 0.0
    S[b, j] += acc[0] * acc[0]
    S[w, j] += wz * wz
    if B > 1:
        wt = _four(S, f + fm, j, wk, acc[1])
        lt = _section(S, f + fm + 2 * _WK, j, lp[0], acc[1])
        S[b + 1, j] += acc[0] * acc[1]
        S[b + 2, j] += acc[1] * acc[1]
        S[w + 1, j] += wz * wt
        S[w + 2, j] += wt * wt
        S[m, j] += x[1]
        S[m + 1, j] += x[1] * x[1]
    if B > 2:
        wr = _four(S, f + 2 * fm, j, wk, acc[2])
        lr = _section(S, f + 2 * fm + 2 * _WK, j, lp[0], acc[2])
        S[b + 3, j] += acc[0] * acc[2]
        S[b + 4, j] += acc[1] * acc[2]
        S[b + 5, j] += acc[2] * acc[2]
        S[w + 3, j] += wz * wr
        S[w + 4, j] += wt * wr
        S[w + 5, j] += wr * wr
        S[m + 2, j] += x[2]
        S[m + 3, j] += x[2] * x[2]
    if BK > 0:
        last = m + 2 * (B - 1) + 1
        y = _three(S, f + B * fm, j, we, acc[1])
        S[last, j] += y * y
        y = _three(S, f + B * fm + 2 * _WE, j, wc, acc[1])
        S[last + 1, j] += y * y
        if B > 2:
            y = _three(S, f + B * fm + 2 * (_WE + _WC), j, we, acc[2])
            S[last + 2, j] += y * y
    for i in range(E):
        y = wz
        low = lz
        if B > 1:
            y = y - S[p + POINT_ROWS * i, j] * wt
            low = low - S[p + POINT_ROWS * i, j] * lt
        if B > 2:
            y = y + S[p + POINT_ROWS * i + 1, j] * wr
            low = low + S[p + POINT_ROWS * i + 1, j] * lr
        y = y * y
        S[e + _POINT_FIGURES * i, j] += y * y
        low = abs(low)
        old = S[e + _POINT_FIGURES * i + 1, j]
        S[e + _POINT_FIGURES * i + 1, j] = low if low > old else old
        y = S[g + i, j] + share * (y - S[g + i, j])
        S[g + i, j] = y
        old = S[e + _POINT_FIGURES * i + 2, j]
        S[e + _POINT_FIGURES * i + 2, j] = y if y > old else old


@_inlined
def _heights(N, road, k, i):
    """Heights under the corners at one half step, zeros where this size has none."""
    r1, r2, r3 = 0.0, 0.0, 0.0
    if N > 1:
        r1 = road[k, 1, i]
    if N > 2:
        r2 = road[k, 2, i]
        r3 = road[k, 3, i]
    return road[k, 0, i], r1, r2, r3


@_inlined
def _slopes(x, a, y, b, z, c):
    """x a + y b + z c for each corner: the slope in time of the parabola through a step's heights."""
    return (
        x * a[0] + y * b[0] + z * c[0],
        x * a[1] + y * b[1] + z * c[1],
        x * a[2] + y * b[2] + z * c[2],
        x * a[3] + y * b[3] + z * c[3],
    )


@_inlined
def _advance(B, N, H, V, FR, S, j, q, v, a, step, ra, da, rm, dm, rb, db):
    """One step of a lane; returns displacements and accelerations at its beginning."""
    h = 0.5 * step
    g = step / 6.0
    x1 = _load(B, N, S, q, j)
    v1 = _load(B, N, S, v, j)
    a1 = _acceleration(B, N, H, V, FR, S, j, x1, v1, ra, da, a, a > 0)
    v2 = _axpy(v1, h, a1)
    a2 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, h, v1), v2, rm, dm, a, a < 0)
    v3 = _axpy(v1, h, a2)
    a3 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, h, v2), v3, rm, dm, a, a < 0)
    v4 = _axpy(v1, step, a3)
    a4 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, step, v3), v4, rb, db, a, a < 0)
    _save(B, N, S, q, j, _combine(x1, g, v1, v2, v3, v4))
    _save(B, N, S, v, j, _combine(v1, g, a1, a2, a3, a4))
    return x1, a1


@_inlined
def _finish(N, B, S, L, a, b, steps, within):
    """Sums into means."""
    for j in range(L):
        for c in range(N):
            row = a + _CORNER_FIGURES * c
            for i in (_S, _S2, _W2, _N2, _OFF, _ON):
                S[row + i, j] = S[row + i, j] / steps
        last = b + B * (B + 1) + 2 * (B - 1)
        for i in range(b, last):
            S[i, j] = S[i, j] / steps
        S[last, j] = S[last, j] / within
        for i in range(last + 1, last + (4 if B > 2 else 3)):
            S[i, j] = S[i, j] / steps


@_inlined
def _settled(S, row, L, heave, first, floor, block):
    """Steps from `first` on until heave stays within its share of the largest; infinite where it does not."""
    for j in range(L):
        peak = 0.0
        for t in range(first, heave.shape[0]):
            d = abs(heave[t, j] - floor[block, j])
            peak = d if d > peak else peak
        when = heave.shape[0]
        while when > first and not abs(heave[when - 1, j] - floor[block, j]) > SETTLED * peak:
            when -= 1
        S[row, j] = when - first if when < heave.shape[0] else np.inf


@_compiled
def march(
    body, corners, lanes, points, bends, knees, friction, backrest,
    P, road, step, first, window, floor, wk, lp, we, wc, share, settling, out, history,
):  # fmt: skip
    """Fill `out` (blocks, realisations, figures, lanes) for every block of designs on every realisation of a road.

    Sizes, from `body` to `backrest`: see the module. P (blocks, rows, lanes); road, heights under each corner at every
    half step, (realisations, corners, 2 steps + 1), m; step, s; first, the step from which on figures count (of heave,
    where the front wheel meets the obstacle); window, first step and the one after the last of those over which the
    residual pitch is taken; floor, where the centre of mass comes to rest, (blocks, lanes), m; wk, lp, we, wc, sections
    of the filters at this step, tuples of (b0, b1, b2, a1, a2); share, of the running mean square that a step replaces;
    settling, whether heave is watched for its end;
    history, for displacements and speeds, (blocks, realisations, steps + 1, 2 (motions + corners), lanes), or empty.
    """
    B, N, L, FR, BK = len(body) + 0, len(corners) + 0, len(lanes) + 0, len(friction) + 0, len(backrest) + 0
    E, H, V = len(points), len(bends), len(knees)
    p = _BODY_ROWS + N * (_CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (H + V))
    q = p + POINT_ROWS * E
    v = q + B + N
    f = v + B + N
    g = f + 2 * (_WK + _LP) * B + 2 * (_WE + _WC + (_WE if B > 2 else 0)) * BK
    a = g + E
    b = a + _CORNER_FIGURES * N
    window2 = b + B * (B + 1) + 2 * (B - 1)
    e = window2 + (4 if B > 2 else 3)
    end = e + _POINT_FIGURES * E + 1
    pitch2 = b + B * (B + 1) + 1
    steps = (road.shape[2] - 1) // 2
    keep = history.shape[2] > 0
    S = np.empty((end, L))
    heave = np.empty((steps + 1 if settling else 0, L))
    per = 1.0 / step
    for block in range(P.shape[0]):
        for i in range(q):
            for j in range(L):
                S[i, j] = P[block, i, j]
        for k in range(road.shape[0]):
            for i in range(q, end):
                for j in range(L):
                    S[i, j] = 0.0
            for t in range(steps + 1):
                if t == first:
                    for i in range(a, end):
                        for j in range(L):
                            S[i, j] = 0.0
                if B > 1 and (t == window[0] or t == window[1]):
                    for j in range(L):
                        S[window2, j] = S[pitch2, j] - S[window2, j]
                if keep:
                    for i in range(2 * (B + N)):
                        for j in range(L):
                            history[block, k, t, i, j] = S[q + i, j]
                if settling:
                    for j in range(L):
                        heave[t, j] = S[q, j]
                if t < steps:
                    ra = _heights(N, road, k, 2 * t)
                    rm = _heights(N, road, k, 2 * t + 1)
                    rb = _heights(N, road, k, 2 * t + 2)
                    da = _slopes(-3.0 * per, ra, 4.0 * per, rm, -per, rb)
                    dm = _slopes(-per, ra, 0.0, rm, per, rb)
                    db = _slopes(per, ra, -4.0 * per, rm, 3.0 * per, rb)
                    for j in range(L):
                        x, acc = _advance(B, N, H, V, FR, S, j, q, v, a, step, ra, da, rm, dm, rb, db)
                        _note_body(B, E, BK, S, j, p, f, g, b, e, x, acc, wk, lp, we, wc, share)
            _finish(N, B, S, L, a, b, float(steps - first), float(window[1] - window[0]))
            if settling:
                _settled(S, end - 1, L, heave, first, floor, block)
            for i in range(end - a):
                for j in range(L):
                    out[block, k, i, j] = S[a + i, j]

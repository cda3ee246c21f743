"""The compiled march through time: one rigid body on one, two or four corners over a road, many designs side by side.

This file imports nothing of ours (numba's cache knows the defining file only).

    body     m z" = Σ F,  I_y θ" = -Σ x F,  I_x φ" = Σ y F          (deviations from that load's position of rest)
    wheel    m_u u" = N - N0 - F
    force    F = F0 + k s + stops + bends + c w + knees + friction,  s = u - (z - x θ + y φ),  w = ds/dt
             stop    ± (rate + growth d) d,  d = max(0, ±s - start)
             bend    rate max(0, s - start);  knee    rate max(0, w - start)
             friction    level w/√(w² + v²)
             bar     k_arb (s - s of the other side), four corners only
    contact  N = N0 + k_t (r - u) + c_t (dr/dt - du/dt) while the elastic part and the sum are above zero, else 0

The classical fourth-order Runge-Kutta method with a fixed step; the road is given at the half step too, and its slope
is that of the parabola through a step's three heights. Figures are summed as the march goes, at the beginning of each
step; histories are kept only when asked for.

Sizes are the lengths of tuples in the signature, so that one source serves all and LLVM sees constants. What keeps the
loop over lanes vectorised (each was measured): the whole step inside one loop, one scratch array with rows at
compile-time positions, no array argument read inside the loop, no choice between two addresses, helpers inlined by
LLVM, no calls of the maths library. Floating point is strict, so a design's bits depend neither on its lane nor on its
neighbours, not even on one that diverges.

    body        motions: z; z, pitch; z, pitch, roll       corners     front (left, right), rear (left, right)
    lanes       designs side by side                       points      places on the body where dose and peak are taken
    bends       of the travel law, stops apart             knees       of the speed law
    friction    () or (0,): whether there is any           backrest    whether We and Wc are wanted, two motions or more
    settling    whether heave is watched for its end       keep        whether `history` is filled

Rows of P: 1/m, 1/I_y, 1/I_x; each corner's `CORNER` rows, then of its stops start, rate, growth of bump and of rebound,
then start and rate of each bend and of each knee; x and y of each point.
Rows of the result: each corner's `CORNER_FIGURES`; mean products of accelerations of the motions (zz, zθ, θθ ...), the
same weighted by Wk; mean and mean square of pitch (and roll) and mean square of pitch in `window`; θ"θ" weighted by We
and by Wc; for each point Σ a_w⁴ and the largest |a| behind the low-pass; the step after which heave has settled.
Means are over the steps from `first` on; the share of the window is over the window's.
"""

import math
import warnings

import numpy as np
from numba import njit

BODY = ("inverse mass", "inverse pitch inertia", "inverse roll inertia")
CORNER = (
    "rate", "damping", "constant force", "tyre rate", "tyre damping", "contact force", "inverse unsprung mass",
    "x", "y", "anti-roll rate", "friction", "friction speed",
)  # fmt: skip
STOP_ROWS = 6
HINGE_ROWS = 2
POINT_ROWS = 2
CORNER_FIGURES = (
    "mean travel", "mean square travel", "highest travel", "lowest travel", "mean square speed",
    "mean square load", "lift-off", "bump stop", "stop force",
)  # fmt: skip
POINT_FIGURES = ("dose", "peak")
SETTLED = 0.05  # of the largest heave

_BODY_ROWS, _CORNER_ROWS = len(BODY), len(CORNER)
_CORNER_FIGURES, _POINT_FIGURES = len(CORNER_FIGURES), len(POINT_FIGURES)
_IM, _IY, _IX = range(_BODY_ROWS)
_K, _C, _F0, _KT, _CT, _N0, _IMU, _X, _Y, _ARB, _FF, _FV = range(_CORNER_ROWS)
_S, _S2, _UP, _DOWN, _W2, _N2, _OFF, _ON, _STOP = range(_CORNER_FIGURES)
_WK, _LP, _WE, _WC = 4, 1, 3, 3  # sections of each filter


def _compiled(function):
    """Compile on first use and keep the machine code on disk; where no folder can be written, without keeping it."""
    try:
        return njit(cache=True, error_model="numpy", nogil=True)(function)
    except RuntimeError:
        warnings.warn(
            "no folder for compiled code can be written, so every start compiles anew (some seconds); "
            "set NUMBA_CACHE_DIR to a writable folder",
            stacklevel=2,
        )
        return njit(error_model="numpy", nogil=True)(function)


_inlined = njit(error_model="numpy", forceinline=True)


def corner_rows(bends: int, knees: int) -> int:
    """Rows of P that one corner takes."""
    return _CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (bends + knees)


def parameter_rows(corners: int, points: int, bends: int, knees: int) -> int:
    """Rows of P."""
    return _BODY_ROWS + corners * corner_rows(bends, knees) + POINT_ROWS * points


def body_figures(motions: int) -> int:
    """How many figures of the body follow those of the corners: products, weighted products, rotations, We, Wc."""
    return motions * (motions + 1) + 2 * (motions - 1) + 3


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
    if B > 2:
        z = z + S[p + _Y, j] * x[2]
    return z


@_inlined
def _force(H, V, FR, S, p, j, s, w):
    """Force on the body at a corner, and the force of its bump stop and of its rebound stop."""
    F = S[p + _F0, j] + S[p + _K, j] * s + S[p + _C, j] * w
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
    r = r + HINGE_ROWS * H
    for i in range(V):
        d = w - S[r + HINGE_ROWS * i, j]
        d = d if d > 0.0 else 0.0
        F = F + S[r + HINGE_ROWS * i + 1, j] * d
    if FR > 0:
        F = F + S[p + _FF, j] * w / math.sqrt(w * w + S[p + _FV, j] * S[p + _FV, j])
    return F, bump, rebound


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
def _acceleration(B, N, H, V, FR, S, j, x, v, r, slope, a, noted):
    """Accelerations of body and wheels; `noted` adds the corners' figures."""
    R = _CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (H + V)
    p0 = _BODY_ROWS
    p1 = p0 + R
    p2 = p1 + R
    p3 = p2 + R
    s0 = x[3] - _body_at(B, S, p0, j, x)
    w0 = v[3] - _body_at(B, S, p0, j, v)
    F0, up0, down0 = _force(H, V, FR, S, p0, j, s0, w0)
    N0 = _contact(S, p0, j, r[0], slope[0], x[3], v[3])
    if noted:
        _note(S, a, p0, j, s0, w0, N0, up0, down0)
    fz = F0
    ft = 0.0
    fr = 0.0
    a1 = 0.0
    a2 = 0.0
    a3 = 0.0
    if N == 1:
        a0 = (N0 - S[p0 + _N0, j] - F0) * S[p0 + _IMU, j]
    else:
        s1 = x[4] - _body_at(B, S, p1, j, x)
        w1 = v[4] - _body_at(B, S, p1, j, v)
        F1, up1, down1 = _force(H, V, FR, S, p1, j, s1, w1)
        N1 = _contact(S, p1, j, r[1], slope[1], x[4], v[4])
        if noted:
            _note(S, a + _CORNER_FIGURES, p1, j, s1, w1, N1, up1, down1)
        if N == 2:
            fz = F0 + F1
            ft = -S[p0 + _X, j] * F0 - S[p1 + _X, j] * F1
        else:
            s2 = x[5] - _body_at(B, S, p2, j, x)
            w2 = v[5] - _body_at(B, S, p2, j, v)
            F2, up2, down2 = _force(H, V, FR, S, p2, j, s2, w2)
            N2 = _contact(S, p2, j, r[2], slope[2], x[5], v[5])
            s3 = x[6] - _body_at(B, S, p3, j, x)
            w3 = v[6] - _body_at(B, S, p3, j, v)
            F3, up3, down3 = _force(H, V, FR, S, p3, j, s3, w3)
            N3 = _contact(S, p3, j, r[3], slope[3], x[6], v[6])
            if noted:
                _note(S, a + 2 * _CORNER_FIGURES, p2, j, s2, w2, N2, up2, down2)
                _note(S, a + 3 * _CORNER_FIGURES, p3, j, s3, w3, N3, up3, down3)
            bar = S[p0 + _ARB, j] * (s0 - s1)
            F0 = F0 + bar
            F1 = F1 - bar
            bar = S[p2 + _ARB, j] * (s2 - s3)
            F2 = F2 + bar
            F3 = F3 - bar
            fz = (F0 + F1) + (F2 + F3)
            ft = -S[p0 + _X, j] * F0 - S[p1 + _X, j] * F1 - S[p2 + _X, j] * F2 - S[p3 + _X, j] * F3
            fr = S[p0 + _Y, j] * F0 + S[p1 + _Y, j] * F1 + S[p2 + _Y, j] * F2 + S[p3 + _Y, j] * F3
            a2 = (N2 - S[p2 + _N0, j] - F2) * S[p2 + _IMU, j]
            a3 = (N3 - S[p3 + _N0, j] - F3) * S[p3 + _IMU, j]
        a0 = (N0 - S[p0 + _N0, j] - F0) * S[p0 + _IMU, j]
        a1 = (N1 - S[p1 + _N0, j] - F1) * S[p1 + _IMU, j]
    return fz * S[_IM, j], ft * S[_IY, j], fr * S[_IX, j], a0, a1, a2, a3


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
def _note_body(B, E, BK, S, j, p, f, b, e, x, acc, wk, lp, we, wc):
    """Add the body's figures of this moment: products, weighted products, rotations; dose and peak at the points."""
    fm = 2 * (_WK + _LP)  # rows that one motion's filters take
    wz = _four(S, f, j, wk, acc[0])
    lz = _section(S, f + 2 * _WK, j, lp[0], acc[0])
    wt = 0.0
    lt = 0.0
    wr = 0.0
    lr = 0.0
    if B == 1:
        S[b, j] += acc[0] * acc[0]
        S[b + 1, j] += wz * wz
    if B > 1:
        wt = _four(S, f + fm, j, wk, acc[1])
        lt = _section(S, f + fm + 2 * _WK, j, lp[0], acc[1])
    if B == 2:
        S[b, j] += acc[0] * acc[0]
        S[b + 1, j] += acc[0] * acc[1]
        S[b + 2, j] += acc[1] * acc[1]
        S[b + 3, j] += wz * wz
        S[b + 4, j] += wz * wt
        S[b + 5, j] += wt * wt
        S[b + 6, j] += x[1]
        S[b + 7, j] += x[1] * x[1]
    if B > 2:
        wr = _four(S, f + 2 * fm, j, wk, acc[2])
        lr = _section(S, f + 2 * fm + 2 * _WK, j, lp[0], acc[2])
        S[b, j] += acc[0] * acc[0]
        S[b + 1, j] += acc[0] * acc[1]
        S[b + 2, j] += acc[0] * acc[2]
        S[b + 3, j] += acc[1] * acc[1]
        S[b + 4, j] += acc[1] * acc[2]
        S[b + 5, j] += acc[2] * acc[2]
        S[b + 6, j] += wz * wz
        S[b + 7, j] += wz * wt
        S[b + 8, j] += wz * wr
        S[b + 9, j] += wt * wt
        S[b + 10, j] += wt * wr
        S[b + 11, j] += wr * wr
        S[b + 12, j] += x[1]
        S[b + 13, j] += x[1] * x[1]
        S[b + 14, j] += x[2]
        S[b + 15, j] += x[2] * x[2]
    if BK > 0:
        last = b + B * (B + 1) + 2 * (B - 1) + 1
        y = _three(S, f + B * fm, j, we, acc[1])
        S[last, j] += y * y
        y = _three(S, f + B * fm + 2 * _WE, j, wc, acc[1])
        S[last + 1, j] += y * y
    for i in range(E):
        y = wz
        low = lz
        if B > 1:
            y = y - S[p + POINT_ROWS * i, j] * wt
            low = low - S[p + POINT_ROWS * i, j] * lt
        if B > 2:
            y = y + S[p + POINT_ROWS * i + 1, j] * wr
            low = low + S[p + POINT_ROWS * i + 1, j] * lr
        S[e + _POINT_FIGURES * i, j] += (y * y) * (y * y)
        low = abs(low)
        old = S[e + _POINT_FIGURES * i + 1, j]
        S[e + _POINT_FIGURES * i + 1, j] = low if low > old else old


@_inlined
def _heights(N, road, k, i):
    """Heights under the corners at one half step, zeros where this size has none."""
    r1 = 0.0
    r2 = 0.0
    r3 = 0.0
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
    a1 = _acceleration(B, N, H, V, FR, S, j, x1, v1, ra, da, a, True)
    v2 = _axpy(v1, h, a1)
    a2 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, h, v1), v2, rm, dm, a, False)
    v3 = _axpy(v1, h, a2)
    a3 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, h, v2), v3, rm, dm, a, False)
    v4 = _axpy(v1, step, a3)
    a4 = _acceleration(B, N, H, V, FR, S, j, _axpy(x1, step, v3), v4, rb, db, a, False)
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
        S[last + 1, j] = S[last + 1, j] / steps
        S[last + 2, j] = S[last + 2, j] / steps


@_inlined
def _settled(S, row, L, heave, first, floor):
    """Steps from `first` on until heave stays within its share of the largest."""
    for j in range(L):
        peak = 0.0
        for t in range(first, heave.shape[0]):
            d = abs(heave[t, j] - floor)
            peak = d if d > peak else peak
        when = heave.shape[0] - 1
        while when > first and not abs(heave[when - 1, j] - floor) > SETTLED * peak:
            when -= 1
        S[row, j] = when - first


@_compiled
def march(
    body, corners, lanes, points, bends, knees, friction, backrest, settling, keep,
    P, road, step, first, window, floor, wk, lp, we, wc, out, history,
):  # fmt: skip
    """Fill `out` (blocks, realisations, figures, lanes) for every block of designs on every realisation of a road.

    Sizes, from `body` to `keep`: see the module. P (blocks, rows, lanes); road, heights under each corner at every half
    step, (realisations, corners, 2 steps + 1), m; step, s; first, the step from which on figures count (of heave, where
    the front wheel meets the obstacle); window, first step and the one after the last of those over which the residual
    pitch is taken; floor, height of the road after the obstacle, m; wk, lp, we, wc, sections of the filters at this
    step, tuples of (b0, b1, b2, a1, a2); history (blocks, realisations, steps + 1, 2 (motions + corners), lanes) takes
    displacements and speeds if `keep`.
    """
    B, N, L, E = len(body), len(corners), len(lanes), len(points)
    H, V, FR, BK = len(bends), len(knees), len(friction), len(backrest)
    p = _BODY_ROWS + N * (_CORNER_ROWS + STOP_ROWS + HINGE_ROWS * (H + V))
    q = p + POINT_ROWS * E
    v = q + B + N
    f = v + B + N
    a = f + 2 * (_WK + _LP) * B + 2 * (_WE + _WC) * BK
    b = a + _CORNER_FIGURES * N
    e = b + B * (B + 1) + 2 * (B - 1) + 3
    end = e + _POINT_FIGURES * E + 1
    pitch2 = b + B * (B + 1) + 1
    window2 = e - 3
    steps = (road.shape[2] - 1) // 2
    S = np.empty((end, L))
    heave = np.empty((steps + 1 if len(settling) > 0 else 0, L))
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
                if len(keep) > 0:
                    for i in range(2 * (B + N)):
                        for j in range(L):
                            history[block, k, t, i, j] = S[q + i, j]
                if len(settling) > 0:
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
                        _note_body(B, E, BK, S, j, p, f, b, e, x, acc, wk, lp, we, wc)
            _finish(N, B, S, L, a, b, float(steps - first), float(window[1] - window[0]))
            if len(settling) > 0:
                _settled(S, end - 1, L, heave, first, floor)
            for i in range(end - a):
                for j in range(L):
                    out[block, k, i, j] = S[a + i, j]

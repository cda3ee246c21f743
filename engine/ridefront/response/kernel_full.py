"""The compiled response of a full car that is not alike left and right, many designs side by side. This file imports
nothing of ours (numba's cache knows the defining file only).

Each axle has two unknowns, the mean u_m of its wheels and half their difference u_d, driven by the mean and the half
difference of its tracks, and moves with the body by Z = z - x θ and the roll φ. With σ = 1 left and -1 right, a spring
travels u_m + σ α u_d - Z - y_s φ, a damper u_m + σ β u_d - Z - y_d φ, and a bar is twisted by 2 (u_d - y φ), y half the
track. Over the means of both sides, K = k + iωc with springs and dampers each at their own y, α and β,

    A = <K>,  B = <σ α K>,  E = <K y>,  F = <σ α K y> + 2 k_b y,  H = <K y²> + 2 k_b y²
    D = | A + T - ω²m_u   B                             |    G = | A  E |    S = | A  E |
        | B               <α² K> + 2 k_b + T - ω²m_d    |        | B  F |        | E  H |
    wheels  D (u_m, u_d) = T (r_m, r_d) + G (Z, φ),    W = D⁻¹ G
    force on the body  T Wᵀ (r_m, r_d) - (S - Gᵀ W) (Z, φ)

all of it, like the body that is left with its three unknowns, of half the vehicle. The two inputs are not correlated:
their mean squares add up.

What keeps the loop over lanes vectorised is what `kernel_spectrum` says, and so are the reasons: a design's bits depend
neither on its lane nor on its neighbours.

Rows of P: half of the mass, of the pitch inertia, of the roll inertia, of the product of inertia; then for each axle x,
α, β, y_s left and right, y_d left and right; real parts and those over iω of A, B, E, F, H, <α² K> + 2 k_b; k_t, c_t,
m_u, m_d.
Columns of the grid: ω, power of the mean, of the half difference, cos ω·lag, sin ω·lag, |Wk|², |We|², |Wc|².
Rows of the result: for each wheel, front before rear and left before right, the mean squares of travel at the spring,
of its speed at the damper, of the dynamic contact force; with `figures`, then z"z", z"θ", θ"θ", z"φ", θ"φ", φ"φ", the
same weighted by Wk, θθ, θ"θ" weighted by We, by Wc, φφ, φ"φ" weighted by We.
"""

import warnings
from functools import partial

import numpy as np
from numba import njit

BODY_ROWS = 4
AXLE_ROWS = 23
WHEEL_FIGURES = 3
BODY_FIGURES = 17
_M, _IY, _IX, _IXY = range(BODY_ROWS)
_X, _AL, _BE, _YSL, _YSR, _YDL, _YDR = range(7)
_AK, _AC, _BK, _BC, _EK, _EC, _FK, _FC, _HK, _HC, _DK, _DC, _KT, _CT, _MU, _MD = range(7, AXLE_ROWS)
_S2, _W2, _N2 = range(WHEEL_FIGURES)


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
def _pair(a, b, c, d):
    """a b + c d."""
    return _add(_mul(a, b), _mul(c, d))


@_inlined
def _minor(a, b, c, d):
    """a b - c d."""
    return _sub(_mul(a, b), _mul(c, d))


@_inlined
def _axle(X, p, j, w, w2):
    """Of one axle: S - Gᵀ W (zz, zφ, φφ), W (mz, dz, mφ, dφ), T and D⁻¹ (mm, md, dd)."""
    A = (X[p + _AK, j], w * X[p + _AC, j])
    B = (X[p + _BK, j], w * X[p + _BC, j])
    E = (X[p + _EK, j], w * X[p + _EC, j])
    F = (X[p + _FK, j], w * X[p + _FC, j])
    H = (X[p + _HK, j], w * X[p + _HC, j])
    T = (X[p + _KT, j], w * X[p + _CT, j])
    free = (T[0] - w2 * X[p + _MU, j], T[1])
    mm = _add(A, free)
    dd = (X[p + _DK, j] + T[0] - w2 * X[p + _MD, j], w * X[p + _DC, j] + T[1])
    det = _inverse(_minor(mm, dd, B, B))
    wmz = _mul(_minor(A, dd, B, B), det)
    wdz = _mul(_mul(B, free), det)
    wmf = _mul(_minor(E, dd, F, B), det)
    wdf = _mul(_minor(F, mm, E, B), det)
    # A - A wmz - B wdz and E - A wmf - B wdf come to this, without their differences.
    zz = _mul(free, wmz)
    zf = _mul(free, wmf)
    ff = _sub(H, _pair(E, wmf, F, wdf))
    inverse = (_mul(dd, det), _mul(_scale(B, -1.0), det), _mul(mm, det))
    return (zz, zf, ff), (wmz, wdz, wmf, wdf), T, inverse


@_inlined
def _body(X, j, s1, s2, x1, x2, w2):
    """The body's matrix (zz, zθ, zφ, θθ, θφ, φφ) from both axles' S - Gᵀ W."""
    return (
        (s1[0][0] + s2[0][0] - w2 * X[_M, j], s1[0][1] + s2[0][1]),
        (-x1 * s1[0][0] - x2 * s2[0][0], -x1 * s1[0][1] - x2 * s2[0][1]),
        _add(s1[1], s2[1]),
        (x1 * x1 * s1[0][0] + x2 * x2 * s2[0][0] - w2 * X[_IY, j], x1 * x1 * s1[0][1] + x2 * x2 * s2[0][1]),
        (-x1 * s1[1][0] - x2 * s2[1][0] + w2 * X[_IXY, j], -x1 * s1[1][1] - x2 * s2[1][1]),
        (s1[2][0] + s2[2][0] - w2 * X[_IX, j], s1[2][1] + s2[2][1]),
    )


@_inlined
def _adjugate(A):
    """Adjugate and inverse determinant of a symmetric matrix (00, 01, 02, 11, 12, 22)."""
    c00 = _minor(A[3], A[5], A[4], A[4])
    c01 = _minor(A[2], A[4], A[1], A[5])
    c02 = _minor(A[1], A[4], A[2], A[3])
    c11 = _minor(A[0], A[5], A[2], A[2])
    c12 = _minor(A[1], A[2], A[0], A[4])
    c22 = _minor(A[0], A[3], A[1], A[1])
    return (c00, c01, c02, c11, c12, c22), _inverse(_add(_pair(A[0], c00, A[1], c01), _mul(A[2], c02)))


@_inlined
def _solved(C, d, b):
    """The motions under forces b, from what `_adjugate` gives."""
    return (
        _mul(d, _add(_pair(C[0], b[0], C[1], b[1]), _mul(C[2], b[2]))),
        _mul(d, _add(_pair(C[1], b[0], C[3], b[1]), _mul(C[4], b[2]))),
        _mul(d, _add(_pair(C[2], b[0], C[4], b[1]), _mul(C[5], b[2]))),
    )


@_inlined
def _forces(f1, f2, x1, x2):
    """On z, θ and φ of the body by the forces (Z, φ) of both axles."""
    force = _add(f1[0], f2[0])
    return force, _sub(_scale(f1[0], -x1), _scale(f2[0], x2)), _add(f1[1], f2[1])


@_inlined
def _note_wheel(X, p, a, j, y_s, y_d, side, T, um, ud, r, Z, f, w2, q, full):
    """Add a wheel's travel at the spring, its speed at the damper and the dynamic contact force."""
    s = _sub(_add(um, _scale(ud, side * X[p + _AL, j])), _add(Z, _scale(f, X[p + y_s, j])))
    d = _sub(_add(um, _scale(ud, side * X[p + _BE, j])), _add(Z, _scale(f, X[p + y_d, j])))
    X[a + _S2, j] += _abs2(s) * q
    X[a + _W2, j] += _abs2(d) * q * w2
    if full:
        X[a + _N2, j] += _abs2(_mul(T, _sub(r, _add(um, _scale(ud, side))))) * q


@_inlined
def _note_axle(X, p, a, j, W, T, nm, nd, motions, r, across, w2, q, full):
    """Add the figures of both wheels; the tracks move by r, the right one by `across` times that; nm and nd: the
    wheels' mean and half difference for tyre forces T r.
    """
    Z = _sub(motions[0], _scale(motions[1], X[p + _X, j]))
    f = motions[2]
    Tr = _mul(T, r)
    um = _add(_mul(nm, Tr), _pair(W[0], Z, W[2], f))
    ud = _add(_mul(nd, Tr), _pair(W[1], Z, W[3], f))
    _note_wheel(X, p, a, j, _YSL, _YDL, 1.0, T, um, ud, r, Z, f, w2, q, full)
    _note_wheel(X, p, a + WHEEL_FIGURES, j, _YSR, _YDR, -1.0, T, um, ud, _scale(r, across), Z, f, w2, q, full)


@_inlined
def _note_body(X, b, j, motions, w2, q, k2, e2, c2):
    """Add the body's products: accelerations plain and weighted, and the angles."""
    z, t, f = motions
    q4 = q * w2 * w2
    zz = _abs2(z) * q4
    zt = _dot(z, t) * q4
    tt = _abs2(t) * q4
    zf = _dot(z, f) * q4
    tf = _dot(t, f) * q4
    ff = _abs2(f) * q4
    X[b, j] += zz
    X[b + 1, j] += zt
    X[b + 2, j] += tt
    X[b + 3, j] += zf
    X[b + 4, j] += tf
    X[b + 5, j] += ff
    X[b + 6, j] += zz * k2
    X[b + 7, j] += zt * k2
    X[b + 8, j] += tt * k2
    X[b + 9, j] += zf * k2
    X[b + 10, j] += tf * k2
    X[b + 11, j] += ff * k2
    X[b + 12, j] += _abs2(t) * q
    X[b + 13, j] += tt * e2
    X[b + 14, j] += tt * c2
    X[b + 15, j] += _abs2(f) * q
    X[b + 16, j] += ff * e2


@_compiled
def respond(lanes, figures, P, grid, out):
    """Mean squares of full cars on the spectra of the mean and the half difference of two tracks.

    Args:
        lanes: tuple whose length is the number of designs side by side.
        figures: empty tuple for travel and its speed alone (linearisation), one entry for everything.
        P: (blocks, rows, lanes); grid: (n_freq, 8); out: (blocks, figures, lanes), written.
    """
    L = len(lanes)
    full = len(figures) > 0
    p1 = BODY_ROWS
    p2 = p1 + AXLE_ROWS
    a = p2 + AXLE_ROWS
    a2 = a + 2 * WHEEL_FIGURES
    b = a + 4 * WHEEL_FIGURES
    end = b + BODY_FIGURES
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
            qm = grid[n, 1]
            qd = grid[n, 2]
            lag = (grid[n, 3], -grid[n, 4])
            k2 = grid[n, 5]
            e2 = grid[n, 6]
            c2 = grid[n, 7]
            w2 = w * w
            one = (1.0, 0.0)
            for j in range(L):
                s1, W1, T1, N1 = _axle(X, p1, j, w, w2)
                s2, W2, T2, N2 = _axle(X, p2, j, w, w2)
                x1 = X[p1 + _X, j]
                x2 = X[p2 + _X, j]
                C, d = _adjugate(_body(X, j, s1, s2, x1, x2, w2))
                t2 = _mul(T2, lag)
                by_m = _forces((_mul(T1, W1[0]), _mul(T1, W1[2])), (_mul(t2, W2[0]), _mul(t2, W2[2])), x1, x2)
                by_d = _forces((_mul(T1, W1[1]), _mul(T1, W1[3])), (_mul(t2, W2[1]), _mul(t2, W2[3])), x1, x2)
                m = _solved(C, d, by_m)
                _note_axle(X, p1, a, j, W1, T1, N1[0], N1[1], m, one, 1.0, w2, qm, full)
                _note_axle(X, p2, a2, j, W2, T2, N2[0], N2[1], m, lag, 1.0, w2, qm, full)
                h = _solved(C, d, by_d)
                _note_axle(X, p1, a, j, W1, T1, N1[1], N1[2], h, one, -1.0, w2, qd, full)
                _note_axle(X, p2, a2, j, W2, T2, N2[1], N2[2], h, lag, -1.0, w2, qd, full)
                if full:
                    _note_body(X, b, j, m, w2, qm, k2, e2, c2)
                    _note_body(X, b, j, h, w2, qd, k2, e2, c2)
        for i in range(end - a):
            for j in range(L):
                out[block, i, j] = X[a + i, j]

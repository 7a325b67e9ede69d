"""One series of session means: filter, every possible jump in one sweep, and the gradient of both.

The state before session s is (level a, day's effect b), with covariance (A, B; B, C):

    level_s = level_{s-1} + Normal(step_mean_s, drift2 * gap_s + step_var_s)
    day_s   = day_{s-1} * phi + Normal(0, day2 (1 - phi^2))      read sessions only
    mean_s  ~ Normal(level_s + day_s, var_s)                     skipped where var_s is infinite

The recursions are those of Durbin & Koopman 2012, Time Series Analysis by State Space Methods (2nd
ed.), ch. 4. With innovations e, variances F and gains (K, M) of level and day, the derivative of
the log likelihood by the predicted state is (q, p) and minus its second derivative is
(Qaa, Qab, Qbb), both by one backward sweep. A jump of variance J^2 arriving before session s
changes the log likelihood by

    -1/2 log(1 + J^2 Qaa_s) + 1/2 q_s^2 / (1/J^2 + Qaa_s)

(de Jong & Penzer 1998, JASA 93:796), so all positions cost one sweep. A steady change of slope
b ~ Normal(0, v) per week enters through its regressor x_s, the weeks since the first session, sent
through the same filter: with innovations x~_s, r = sum x~ e / F and N = sum x~^2 / F its ratio is
-1/2 log(1 + v N) + 1/2 r^2 v / (1 + v N) (Rosenberg 1973, Ann. Econ. Soc. Meas. 2:399). At most one
change: none with probability exp(-rate T), T the weeks from the first session to the last; else
steady with probability ``STEADY``, or a jump before session s with the rest times gap_s / T. Sizes
are mixtures of normals, see ``JUMP_VARIANCES``. The gradient is the adjoint of all sweeps, worked
by hand and checked against finite differences.
"""

import numba
import numpy as np

from models.arrays import Floats

JUMP_VARIANCES = (1.0, 2.0, 4.0)
"""Variances of a jump's size in units of the squared jump SD, equally likely: heavier tails than
one normal has (estimate, no source). None is small: what hardly moves a player is drift."""
STEADY = 1 / 3
"""Share of unlogged changes that come on steadily (estimate, no source)."""
STEADY_WEEKS = 8.0
"""A steady change moves as far in this time as a jump does at once (estimate, no source)."""
ROWS = 21
"""Rows of the work space, one a quantity."""
(
    E,
    F,
    K,
    M,
    G,
    H,
    TRANS,
    B_DAY,
    B_COV,
    B_VAR,
    Q,
    P,
    QAA,
    QAB,
    QBB,
    D_E,
    D_F,
    D_K,
    D_M,
    X,
    X_DAY,
) = range(ROWS)
OUT = 7
"""Derivatives of one series by drift2, m0, v0, day2, phi, jump2 and rate."""

_LOG_2PI = float(np.log(2 * np.pi))
_SIZES = np.array(JUMP_VARIANCES)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def filter_forward(
    mean: Floats,
    var: Floats,
    gap: Floats,
    step_mean: Floats,
    step_var: Floats,
    drift2: float,
    m0: float,
    v0: float,
    day2: float,
    phi: float,
    work: Floats,
) -> float:
    """Return the log likelihood without a jump, and fill what the sweeps back need."""
    a, b, va, vab, vb = m0, 0.0, v0, 0.0, day2
    total = 0.0
    begun = False
    for s in range(mean.size):
        a += step_mean[s]
        va += step_var[s]
        if s > 0:
            va += drift2 * gap[s]
        work[F, s] = 0.0
        work[TRANS, s] = 1.0
        work[B_DAY, s], work[B_COV, s], work[B_VAR, s] = b, vab, vb
        if not var[s] < np.inf:
            continue
        if begun:
            work[TRANS, s] = phi
            b *= phi
            vab *= phi
            vb = phi * phi * vb + day2 * (1.0 - phi * phi)
        begun = True
        g, h = va + vab, vab + vb
        f = g + h + var[s]
        e = mean[s] - a - b
        k, m = g / f, h / f
        total -= 0.5 * (_LOG_2PI + np.log(f) + e * e / f)
        work[E, s], work[F, s], work[K, s], work[M, s] = e, f, k, m
        work[G, s], work[H, s] = g, h
        a += k * e
        b += m * e
        va -= k * g
        vab -= k * h
        vb -= m * h
    return total


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def sweep_back(work: Floats, size: int) -> None:
    """Fill (q, p) and (Qaa, Qab, Qbb), derivatives by each session's predicted state."""
    q = p = xaa = xab = xbb = 0.0
    for s in range(size - 1, -1, -1):
        f = work[F, s]
        if f > 0.0:
            k, m, inverse = work[K, s], work[M, s], 1.0 / f
            c = k * q + m * p
            pull = work[E, s] * inverse
            q += pull - c
            p += pull - c
            w1 = xaa * k + xab * m
            w2 = xab * k + xbb * m
            z = k * w1 + m * w2 + inverse
            xaa += z - 2.0 * w1
            xab += z - w1 - w2
            xbb += z - 2.0 * w2
        work[Q, s], work[P, s] = q, p
        work[QAA, s], work[QAB, s], work[QBB, s] = xaa, xab, xbb
        t = work[TRANS, s]
        p *= t
        xab *= t
        xbb *= t * t


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def slope_terms(gap: Floats, work: Floats) -> tuple[float, float]:
    """Return r and N of a steady change: derivatives of the log likelihood by its slope at 0."""
    r = n = a = b = weeks = 0.0
    for s in range(gap.size):
        weeks += gap[s]
        f = work[F, s]
        work[X_DAY, s] = b
        if f > 0.0:
            b *= work[TRANS, s]
            x = weeks - gap[0] - a - b
            work[X, s] = x
            r += x * work[E, s] / f
            n += x * x / f
            a += work[K, s] * x
            b += work[M, s] * x
    return r, n


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def change_mixture(
    gap: Floats, rate: float, jump2: float, r: float, n: float, work: Floats, chance: Floats
) -> float:
    """Return the log of the likelihood ratio that at most one unlogged change brings.

    Fills ``chance`` (session, size), the posterior chance of a jump before each session by size;
    the first row is that of a steady change, whose ``slope_terms`` are ``r`` and ``n``.
    """
    size = gap.size
    weeks = 0.0
    for s in range(1, size):
        weeks += gap[s]
    if not weeks > 0.0 or not rate > 0.0:
        for s in range(size):
            for j in range(_SIZES.size):
                chance[s, j] = 0.0
        return 0.0
    none = np.exp(-rate * weeks)
    some = (1.0 - none) * (1.0 - STEADY) / (weeks * _SIZES.size)
    largest = jump2 * _SIZES[-1]
    slope2 = largest / STEADY_WEEKS**2
    top = 0.5 * r * r * slope2 / (1.0 + slope2 * n)
    for s in range(1, size):
        q = work[Q, s]
        top = max(top, 0.5 * q * q * largest / (1.0 + largest * work[QAA, s]))
    total = none * np.exp(-top)
    for j in range(_SIZES.size):
        v = jump2 * _SIZES[j]
        grown = 1.0 + v * n / STEADY_WEEKS**2
        part = np.exp(0.5 * r * r * v / (grown * STEADY_WEEKS**2) - top) / np.sqrt(grown)
        chance[0, j] = (1.0 - none) * STEADY / _SIZES.size * part
        total += chance[0, j]
        for s in range(1, size):
            chance[s, j] = 0.0
            if gap[s] > 0.0:
                q = work[Q, s]
                grown = 1.0 + v * work[QAA, s]
                part = np.exp(0.5 * q * q * v / grown - top) / np.sqrt(grown)
                chance[s, j] = some * gap[s] * part
                total += chance[s, j]
    for s in range(size):
        for j in range(_SIZES.size):
            chance[s, j] /= total
    return float(top + np.log(total))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def adjoint(
    gap: Floats,
    drift2: float,
    day2: float,
    phi: float,
    rate: float,
    jump2: float,
    r: float,
    n_slope: float,
    work: Floats,
    chance: Floats,
    d_mean: Floats,
    d_var: Floats,
    d_step: Floats,
    d_step_var: Floats,
    out: Floats,
) -> None:
    """Fill the derivatives of the log likelihood, jump included.

    Needs ``filter_forward``, ``sweep_back``, ``slope_terms`` (``r``, ``n_slope``) and
    ``change_mixture`` on the same work space.
    ``d_mean``, ``d_var``, ``d_step`` (by step_mean), ``d_step_var`` (session,); ``out`` as ``OUT``.
    """
    size = gap.size
    for i in range(OUT):
        out[i] = 0.0
    weeks = some = 0.0
    for s in range(size):
        if s > 0:
            weeks += gap[s]
        for j in range(_SIZES.size):
            some += chance[s, j]
    d_r = d_n = 0.0
    for j in range(_SIZES.size):
        w, v = chance[0, j], jump2 * _SIZES[j] / STEADY_WEEKS**2
        grown = 1.0 + v * n_slope
        d_r += w * r * v / grown
        d_n -= w * 0.5 * v * (1.0 / grown + r * r * v / (grown * grown))
        by_v = 0.5 * (r * r / (grown * grown) - n_slope / grown)
        out[5] += w * by_v * _SIZES[j] / STEADY_WEEKS**2
    if weeks > 0.0 and rate > 0.0:
        out[6] = weeks * (some / np.expm1(rate * weeks) - (1.0 - some))
    # forward through the adjoint of the sweep back
    d_phi = 0.0
    dq = dp = daa = dab = dbb = 0.0  # by the state that a session hands to the one before it
    for s in range(size):
        t = work[TRANS, s]
        if s > 0:
            for j in range(_SIZES.size):
                w = chance[s, j]
                if w > 0.0:
                    v = jump2 * _SIZES[j]
                    q, n = work[Q, s], work[QAA, s]
                    grown = 1.0 + v * n
                    dq += w * q * v / grown
                    daa -= w * 0.5 * v * (1.0 / grown + q * q * v / (grown * grown))
                    out[5] += w * _SIZES[j] * 0.5 * (q * q / (grown * grown) - n / grown)
        nq = npp = naa = nab = nbb = nt = 0.0
        if s + 1 < size:
            nt = work[TRANS, s + 1]
            nq, npp = work[Q, s + 1], work[P, s + 1] * nt
            naa = work[QAA, s + 1]
            nab, nbb = work[QAB, s + 1] * nt, work[QBB, s + 1] * nt * nt
        work[D_E, s] = work[D_F, s] = work[D_K, s] = work[D_M, s] = 0.0
        uq, up, uaa, uab, ubb = dq, dp, daa, dab, dbb
        f = work[F, s]
        if f > 0.0:
            k, m, inverse = work[K, s], work[M, s], 1.0 / f
            both = dq + dp
            w1 = naa * k + nab * m
            w2 = nab * k + nbb * m
            whole = daa + dab + dbb
            dw1 = whole * k - 2.0 * daa - dab
            dw2 = whole * m - dab - 2.0 * dbb
            work[D_E, s] = both * inverse
            work[D_F, s] = -(both * work[E, s] + whole) * inverse * inverse
            work[D_K, s] = -both * nq + whole * w1 + dw1 * naa + dw2 * nab
            work[D_M, s] = -both * npp + whole * w2 + dw1 * nab + dw2 * nbb
            uq -= both * k
            up -= both * m
            uaa += dw1 * k
            uab += dw1 * m + dw2 * k
            ubb += dw2 * m
        if s + 1 < size:
            if nt != 1.0:
                d_phi += up * work[P, s + 1] + uab * work[QAB, s + 1]
                d_phi += 2.0 * nt * ubb * work[QBB, s + 1]
            dq, dp, daa, dab, dbb = uq, up * nt, uaa, uab * nt, ubb * nt * nt
    # back through the adjoint of the filter
    d_drift2 = d_day2 = 0.0
    da = db = dva = dvab = dvb = 0.0
    dxa = dxb = 0.0
    for s in range(size - 1, -1, -1):
        d_mean[s] = d_var[s] = 0.0
        f = work[F, s]
        if f > 0.0:
            k, m, e, g, h = work[K, s], work[M, s], work[E, s], work[G, s], work[H, s]
            inverse = 1.0 / f
            de = work[D_E, s] - e * inverse + da * k + db * m
            df = work[D_F, s] + 0.5 * (e * e * inverse - 1.0) * inverse
            dk = work[D_K, s] + da * e - dva * g - dvab * h
            dm = work[D_M, s] + db * e - dvb * h
            x = work[X, s]
            de += d_r * x * inverse
            df -= (d_r * e + d_n * x) * x * inverse * inverse
            dk += dxa * x
            dm += dxb * x
            dx = (d_r * e + 2.0 * d_n * x) * inverse + dxa * k + dxb * m
            dxa -= dx
            dxb -= dx
            df -= (dk * k + dm * m) * inverse
            dg = dk * inverse - dva * k + df
            dh = dm * inverse - dvab * k - dvb * m + df
            d_mean[s], d_var[s] = de, df
            da -= de
            db -= de
            dva += dg
            dvab += dg + dh
            dvb += dh
        t = work[TRANS, s]
        if t != 1.0:
            d_phi += db * work[B_DAY, s] + dvab * work[B_COV, s]
            d_phi += 2.0 * t * dvb * (work[B_VAR, s] - day2)
            d_day2 += dvb * (1.0 - t * t)
            d_phi += dxb * work[X_DAY, s]
            dxb *= t
            db *= t
            dvab *= t
            dvb *= t * t
        d_step[s], d_step_var[s] = da, dva
        if s > 0:
            d_drift2 += dva * gap[s]
    out[0], out[1], out[2], out[3], out[4] = d_drift2, da, dva, d_day2 + dvb, d_phi

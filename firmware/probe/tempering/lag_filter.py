"""Kalman filter for a probe that lags: the chocolate behind the reading.

State: chocolate temperature T, its rate r, the patch p that passes the tip (uneven
temperature, gone after some seconds), the probe's sheath y, and its junction z. T' = r with
r wandering at random, p decays towards nothing, y' = (T + p - y) / (its part of the lag),
z' = (y - z) / (the junction's part), measured is z with noise. Kalman's equations (Kalman
1960; any textbook) with the 5 x 5 covariance written out, since there is one measurement
and the matrices are mostly zeros. Without a part for the junction z is y.

How uneven the bowl is the filter learns from its own surprises: pieces that melt make
large patches, an even bowl none.
"""

import math
from array import array

from wire.const import const

_NOISE_C = const(0.06)  # of one reading: converter, wiring, small eddies
_WANDER_RATE = const(0.003)  # °C/s per root second: how fast the rate itself may change
_PATCH_S = const(3)  # how long a patch stays at the tip
_PATCH_MIN_C = const(0.02)
_PATCH_MAX_C = const(0.5)
_PATCH_FIRST_C = const(0.2)  # supposed whenever the probe goes in: what was known before is stale
_PATCH_LEARN = const(0.04)  # share by which a surprise moves the idea of the patches
_LIKELY_LIMIT = const(3)  # variances; a single odd reading must not decide which lag it is
_LEAN_SHARE = const(0.1)  # of a surprise that goes into their running mean
_LEAN_LIMIT = const(1.5)  # standard deviations
_LOOSEN_C = const(0.5)  # soon after the probe went in the value may be wrong by this,
_LOOSEN_CALM_C = const(0.1)  # later hardly: a kilogram does not jump,
_LOOSEN_PATCH_C = const(0.15)  # but a warm or cold patch may have come to the tip
_LOOSEN_RATE = const(0.02)
_UNKNOWN_C = const(15)  # spread of T when the probe has just gone in
_UNKNOWN_RATE = const(0.03)  # °C/s, of the rate then
_UNKNOWN_SHEATH_C = const(2)  # the sheath has warmed before the junction shows it

# Places in the state. An array, because numbers kept as attributes are objects: they take
# more memory and, new with each reading, lie scattered over all that is free.
VALUE_C = 0  # chocolate, °C
RATE_C_PER_S = 1  # its rate
_P = const(2)  # patch, sheath, junction, °C
_Y = const(3)
_Z = const(4)
VARIANCE = 5  # of the value, °C²; then the other covariances
_RR = const(6)
_PP = const(7)
_YY = const(8)
_ZZ = const(9)
_TR = const(10)
_TP = const(11)
_TY = const(12)
_TZ = const(13)
_RP = const(14)
_RY = const(15)
_RZ = const(16)
_PY = const(17)
_PZ = const(18)
_YZ = const(19)
PATCH_C = 20  # the usual size of a patch
SURPRISE_C = 21  # by how much the last reading was not foreseen
_LEAN = const(22)  # running mean of the surprises, in standard deviations
_STATE = const(23)  # the places before this one change; behind them is what the probe is like:
_DT = const(23)
_KEEP = const(24)  # of a patch, from one reading to the next
_FOLLOW = const(25)  # of the way to the chocolate, what the sheath covers, and of the way to
_INNER = const(26)  # the sheath the junction
LAG_S = 27
_PLACES = const(28)


def _part(period_s: float, lag_s: float) -> float:
    """Of the way that is left, what ``period_s`` covers; all of it without a lag."""
    return 1.0 if lag_s == 0.0 else 1.0 - math.exp(-period_s / lag_s)


def made(period_s: float, lag_s: float, junction_share: float = 0.0):
    """The state of a filter for readings ``period_s`` apart of a probe that lags by ``lag_s``;
    the share ``junction_share`` of it (0 to 0.5) lies between sheath and junction.

    An array, and no object around it: there are many of them. What stands in the places with
    public names is for reading.
    """
    state = array("d", [0.0] * _PLACES)
    state[_DT] = period_s
    state[_KEEP] = math.exp(-period_s / _PATCH_S)
    state[_FOLLOW] = _part(period_s, lag_s * (1.0 - junction_share))
    state[_INNER] = _part(period_s, lag_s * junction_share)
    state[LAG_S] = lag_s
    start(state, 0.0)
    return state


def start(state, indicated_c: float) -> None:
    """Forget everything but that the probe is at ``indicated_c``."""
    for place in range(_STATE):
        state[place] = 0.0
    state[VALUE_C] = state[_Y] = state[_Z] = indicated_c
    state[VARIANCE] = _UNKNOWN_C * _UNKNOWN_C
    state[_RR] = _UNKNOWN_RATE * _UNKNOWN_RATE
    state[PATCH_C] = _PATCH_FIRST_C
    state[_PP] = _PATCH_FIRST_C * _PATCH_FIRST_C
    state[_YY] = state[_ZZ] = state[_YZ] = _NOISE_C * _NOISE_C
    if state[_INNER] < 1.0:
        state[_YY] += _UNKNOWN_SHEATH_C * _UNKNOWN_SHEATH_C


def step(state, indicated_c: float, learn: bool, settled: bool = False) -> float:
    """Take a reading; the logarithm of how likely it was (up to a constant).

    ``learn``: the surprise says something of the patches; ``settled``: the way in is over.
    """
    (
        t, r, p, y, z, tt, rr, pp, yy, zz, tr, tp, ty, tz, rp, ry, rz, py, pz, yz,
        patch, _, lean, dt, keep, a, c, _,
    ) = state  # fmt: skip
    b = 1.0 - a
    d = 1.0 - c
    # Predict the state, then its covariance: the sheath from the chocolate, the
    # junction from the sheath.
    y += a * (t + p - y)
    z += c * (y - z)
    t += r * dt
    p *= keep
    yt = a * (tt + tp) + b * ty
    yr = a * (tr + rp) + b * ry
    yp = a * (tp + pp) + b * py
    old_yz = a * (tz + pz) + b * yz
    yy = a * (yt + yp) + b * (a * (ty + py) + b * yy)
    ty = yt + dt * yr
    ry = yr
    py = keep * yp
    tz = c * ty + d * (tz + dt * rz)
    rz = c * ry + d * rz
    pz = c * py + d * keep * pz
    yz = c * yy + d * old_yz
    zz = c * (yz + d * old_yz) + d * d * zz
    tp = keep * (tp + dt * rp)
    rp = keep * rp
    tt += dt * (2 * tr + dt * rr)
    tr += dt * rr
    rr += _WANDER_RATE * _WANDER_RATE * dt
    patch_variance = patch * patch
    pp = keep * keep * (pp - patch_variance) + patch_variance
    # Correct with the one measurement.
    spread = zz + _NOISE_C * _NOISE_C
    surprise = indicated_c - z
    gain_t, gain_r, gain_p = tz / spread, rz / spread, pz / spread
    gain_y, gain_z = yz / spread, zz / spread
    state[VALUE_C] = t + gain_t * surprise
    state[RATE_C_PER_S] = r + gain_r * surprise
    state[_P] = p + gain_p * surprise
    state[_Y] = y + gain_y * surprise
    state[_Z] = z + gain_z * surprise
    state[VARIANCE] = tt - gain_t * tz
    state[_TR] = tr - gain_t * rz
    state[_TP] = tp - gain_t * pz
    state[_TY] = ty - gain_t * yz
    state[_TZ] = tz - gain_t * zz
    state[_RR] = rr - gain_r * rz
    state[_RP] = rp - gain_r * pz
    state[_RY] = ry - gain_r * yz
    state[_RZ] = rz - gain_r * zz
    state[_PP] = pp - gain_p * pz
    state[_PY] = py - gain_p * yz
    state[_PZ] = pz - gain_p * zz
    state[_YY] = yy - gain_y * yz
    state[_YZ] = yz - gain_y * zz
    state[_ZZ] = zz - gain_z * zz
    ratio = surprise * surprise / spread
    lean += _LEAN_SHARE * (surprise / math.sqrt(spread) - lean)
    if abs(lean) > _LEAN_LIMIT:
        # Always wrong to the same side: something new has begun.
        lean = 0.0
        state[_RR] += _LOOSEN_RATE * _LOOSEN_RATE
        if settled:
            state[VARIANCE] += _LOOSEN_CALM_C * _LOOSEN_CALM_C
            patch = min(_PATCH_MAX_C, patch + _LOOSEN_PATCH_C)
            state[_PP] += _LOOSEN_PATCH_C * _LOOSEN_PATCH_C
        else:
            state[VARIANCE] += _LOOSEN_C * _LOOSEN_C
    state[SURPRISE_C] = surprise
    state[_LEAN] = lean
    if learn:
        # Surprises above their due make larger patches likely, small ones smaller.
        change = _PATCH_LEARN * (min(ratio, 6) - 1.0)
        patch = min(_PATCH_MAX_C, max(_PATCH_MIN_C, patch * (1.0 + change)))
    state[PATCH_C] = patch
    return -0.5 * (min(ratio, _LIKELY_LIMIT) + math.log(spread))

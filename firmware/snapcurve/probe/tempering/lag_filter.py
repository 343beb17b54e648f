"""A bank of Kalman filters for a probe that lags: the chocolate behind the reading.

State of each: chocolate temperature T, its rate r, the patch p that passes the tip (uneven
temperature), and the probe y. T' = r with r wandering at random, p decays towards nothing,
y' = (T + p - y) / lag, and y is measured with noise (Kalman 1960; any textbook). The lag is not
known, so there is one filter for each of LAGS_S, and each weighs as much as it has explained the
ways in (multiple-model estimation, Magill 1965).

Covariances, and with them the gains, do not depend on what is read but only on how long ago the
probe went in. So they are computed once, at the start, into tables; a reading costs an update of
the states alone, a few float operations and hardly any garbage. There are tables for each of the
things a bowl does, since its patches differ in size.
"""

import math
from array import array

from snapcurve.wire.const import const

PERIOD_S = const(0.25)  # between readings; the thermometer keeps to it
LAGS_S = (1.3, 2.5, 4.8, 9.2)
_PRIORS = (0.7, 1.0, 1.0, 0.4)  # common practice, no source: few probes are slow
# Measurement and process noise.
_NOISE_C = const(0.06)  # of one reading: converter, wiring, small eddies
_RATE_NOISE = const(0.003)  # °C/s per root second: how fast the rate itself changes
PATCHES_C = (0.18, 0.30, 0.36)  # their usual size, by phase as in immersion.py
_PATCH_S = const(12)  # how long one stays at the tip
# Uncertainty at immersion.
_UNKNOWN_C = const(15)  # of T
_UNKNOWN_RATE = const(0.03)  # °C/s, of r
# A probe is none of the bank's exactly. What that does to the model on the way in counts as noise
# of y: so large at the start, gone with the lag. Without it a wrong lag would stay as a rate.
_WRONG_C = const(3)
# A table has a row for each of the first _EACH steps, then for every _STEP-th, _ROWS in all.
_EACH = const(20)
_STEP = const(20)
_ROWS = const(32)
# Columns: the gains of T, r, p and y, and the variance of T.
_COLUMNS = const(5)
# How the bank learns the lag.
_LIKELY_LIMIT = const(3)  # variances; one odd reading must not decide
_DOUBT = const(-6)  # lowest log-weight: no lag is ever given up
# Once the way in is over a filter with hardly any weight rests until the next.
_REST_STEPS = const(60)
_REST_WEIGHT = const(0.04)


def _table(lag_s: float, patch_c: float):
    """The table of a filter, by Kalman's equations. Of the covariances each is named by two
    letters: t the chocolate, r its rate, p the patch, y the probe."""
    table = array("f", [0.0] * (_ROWS * _COLUMNS))
    dt = PERIOD_S
    a = 1.0 - math.exp(-dt / lag_s)
    b = 1.0 - a
    keep = math.exp(-dt / _PATCH_S)
    patch_2 = patch_c * patch_c
    noise_2 = _NOISE_C * _NOISE_C
    unrest = _RATE_NOISE * _RATE_NOISE * dt
    tt = float(_UNKNOWN_C * _UNKNOWN_C)
    rr = _UNKNOWN_RATE * _UNKNOWN_RATE
    pp = patch_2
    yy = noise_2
    tr = tp = ty = rp = ry = py = 0.0
    row = 0
    wrong = _WRONG_C * a
    for step in range(_EACH + (_ROWS - _EACH) * _STEP):
        # Predict: the probe from the chocolate of before.
        yt = a * (tt + tp) + b * ty
        yr = a * (tr + rp) + b * ry
        yp = a * (tp + pp) + b * py
        yy = a * (yt + yp) + b * (a * (ty + py) + b * yy)
        ty = yt + dt * yr
        ry = yr
        py = keep * yp
        tp = keep * (tp + dt * rp)
        rp = keep * rp
        tt += dt * (2.0 * tr + dt * rr)
        tr += dt * rr
        rr += unrest
        pp = keep * keep * (pp - patch_2) + patch_2
        yy += wrong * wrong
        wrong *= b
        # Correct with the one measurement.
        variance = yy + noise_2
        gt, gr, gp, gy = ty / variance, ry / variance, py / variance, yy / variance
        tt -= gt * ty
        tr -= gt * ry
        tp -= gt * py
        ty -= gt * yy
        rr -= gr * ry
        rp -= gr * py
        ry -= gr * yy
        pp -= gp * py
        py -= gp * yy
        yy -= gy * yy
        if step < _EACH or (step - _EACH) % _STEP == 0:
            at = row * _COLUMNS
            for value in (gt, gr, gp, gy, tt):
                table[at] = value
                at += 1
            row += 1
    return table


class LagBank:
    """Filters for readings PERIOD_S apart: ``start`` it when the probe goes in, then ``step`` it.

    ``value_c``       temperature of the chocolate, °C, of the time of the reading
    ``rate_c_per_s``  its rate
    ``variance``      of ``value_c``, °C²
    ``lag_s``         the probe's lag as far as it is known
    """

    def __init__(self):
        count = len(LAGS_S)
        self._tables = [[_table(lag_s, patch_c) for lag_s in LAGS_S] for patch_c in PATCHES_C]
        self._keep = math.exp(-PERIOD_S / _PATCH_S)
        self._follow = [1.0 - math.exp(-PERIOD_S / lag_s) for lag_s in LAGS_S]
        # Arrays, since the numbers of a list scatter over the heap.
        self._log_weights = array("d", [math.log(one) for one in _PRIORS])
        self._weights = array("d", [0.0] * count)
        self._t = array("d", [0.0] * count)
        self._r = array("d", [0.0] * count)
        self._p = array("d", [0.0] * count)
        self._y = array("d", [0.0] * count)
        self.start(0.0)

    def set_lag(self, lag_s: float) -> None:
        """The probe's lag has been measured: the nearest filters start far ahead."""
        for index in range(len(LAGS_S)):
            ratio = math.log(LAGS_S[index] / lag_s)
            self._log_weights[index] = -12.0 * ratio * ratio
        self._weigh()

    def start(self, indicated_c: float) -> None:
        """The probe has gone in; it is at ``indicated_c``."""
        self._steps = 0
        self._weigh()
        for index in range(len(LAGS_S)):
            self._t[index] = self._y[index] = indicated_c
            self._r[index] = self._p[index] = 0.0
        self.value_c = indicated_c
        self.rate_c_per_s = 0.0
        self.variance = float(_UNKNOWN_C * _UNKNOWN_C)

    def _rest(self) -> None:
        """The way in is over: what has hardly any weight has none."""
        weights = self._weights
        total = 0.0
        for index in range(len(LAGS_S)):
            if weights[index] < _REST_WEIGHT:
                weights[index] = 0.0
            total += weights[index]
        for index in range(len(LAGS_S)):
            weights[index] /= total

    def _weigh(self) -> None:
        logs, weights = self._log_weights, self._weights
        top = max(logs)
        total = lag_s = 0.0
        for index in range(len(LAGS_S)):
            logs[index] = max(logs[index] - top, float(_DOUBT))
            weights[index] = math.exp(logs[index])
            total += weights[index]
        for index in range(len(LAGS_S)):
            weights[index] /= total
            lag_s += weights[index] * LAGS_S[index]
        self.lag_s = lag_s

    def step(self, indicated_c: float, phase: int, learn: float) -> None:
        """Take a reading. ``phase``: what the bowl does (immersion.py); ``learn``: which part of
        its log-likelihood counts for the lags, 0 for none."""
        steps = self._steps
        late = min(_ROWS - 1, _EACH + (steps - _EACH) // _STEP)
        row = steps if steps < _EACH else late
        self._steps = steps + 1
        if steps == _REST_STEPS:
            self._rest()
        tables = self._tables[phase]
        at = row * _COLUMNS
        value_c = rate = 0.0
        ts, rs, ps, ys = self._t, self._r, self._p, self._y
        weights = self._weights
        for index in range(len(LAGS_S)):
            weight = weights[index]
            if weight == 0.0:
                continue
            table = tables[index]
            t, p, y = ts[index], ps[index], ys[index]
            r = rs[index]
            y += self._follow[index] * (t + p - y)
            off = indicated_c - y
            t += r * PERIOD_S + table[at] * off
            r += table[at + 1] * off
            ts[index] = t
            rs[index] = r
            ps[index] = p * self._keep + table[at + 2] * off
            ys[index] = y + table[at + 3] * off
            if learn:
                # Of the innovation: what its gain leaves of it is the noise.
                variance = _NOISE_C * _NOISE_C / (1.0 - table[at + 3])
                ratio = min(off * off / variance, float(_LIKELY_LIMIT))
                self._log_weights[index] -= 0.5 * learn * (ratio + math.log(variance))
            value_c += weight * t
            rate += weight * r
        if learn:
            self._weigh()
        variance = 0.0
        for index in range(len(LAGS_S)):
            weight = weights[index]
            if weight != 0.0:
                off = ts[index] - value_c
                variance += weight * (tables[index][at + 4] + off * off)
        self.value_c = value_c
        self.rate_c_per_s = rate
        self.variance = variance

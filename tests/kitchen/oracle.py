"""What could be known at best: a Kalman filter that is told what no board knows.

Told are the probe's lags as they change, its noise, when it is in, and how large the patches are
and how long they stay; not told are wall, hot air and when pieces go in. It plays the readings of
a finished batch with the simplest rules. Kalman 1960, in matrices.
"""

import math

import numpy as np

from snapcurve.simulation.bowl_simulator import STEP_S
from snapcurve.wire.window import BACK_MS, OUTSIDE_MS, high_limit_c, low_limit_c

from .batch import RoughBatch

RATE_NOISE = 0.003  # °C/s per root second
UNKNOWN_C, UNKNOWN_RATE = 15.0, 0.03
WILD_C = 6.0
CROSSED_STEPS = 5
SURE_C = 0.3  # a crossing counts up to this standard deviation
T, R, P, Y, Z = range(5)

Told = tuple[float, float, bool]  # value, standard deviation, known


class Oracle:
    """The filter; see ``course``."""

    def __init__(self, world: RoughBatch):
        self._own = world.own
        self._x = np.zeros(5)
        self._cov = np.zeros((5, 5))
        self._moves: dict[float, np.ndarray] = {}

    def enter(self, seen_c: float, patch_c: float) -> None:
        """The probe goes in."""
        self._x = np.array([seen_c, 0.0, 0.0, seen_c, seen_c])
        noise = self._own.noise_c**2
        self._cov = np.diag([UNKNOWN_C**2, UNKNOWN_RATE**2, patch_c**2, 1.0, noise])

    def _move(self, lag_s: float) -> np.ndarray:
        found = self._moves.get(lag_s)
        if found is not None:
            return found
        share = self._own.second_share
        sheath = 1.0 - math.exp(-STEP_S / (lag_s * (1.0 - share)))
        junction = 1.0 - math.exp(-STEP_S / (lag_s * share)) if share else 1.0
        move = np.eye(5)
        move[T, R] = STEP_S
        move[P, P] = math.exp(-STEP_S / self._own.patch_s)
        move[Y] = [sheath, 0.0, sheath, 1.0 - sheath, 0.0]
        move[Z] = junction * move[Y]
        move[Z, Z] += 1.0 - junction
        self._moves[lag_s] = move
        return move

    def step(self, seen_c: float, lag_s: float, patch_c: float) -> tuple[float, float]:
        """Take a reading; the chocolate and its standard deviation."""
        move = self._move(lag_s)
        x = move @ self._x
        cov = move @ self._cov @ move.T
        cov[R, R] += RATE_NOISE**2 * STEP_S
        cov[P, P] += patch_c**2 * (1.0 - move[P, P] ** 2)
        variance = cov[Z, Z] + self._own.noise_c**2
        gain = cov[:, Z] / variance
        self._x = x + gain * (seen_c - x[Z])
        self._cov = cov - np.outer(gain, cov[Z])
        return float(self._x[T]), math.sqrt(max(0.0, float(self._cov[T, T])))


def course(world: RoughBatch) -> list[Told]:
    """What the oracle says at each step of a finished batch."""
    oracle = Oracle(world)
    told: list[Told] = []
    inside = False
    before_c = world.seen[0][1]
    value_c = sd_c = 0.0
    for (_, seen_c, fault, _), (_, _, _, now_in), (lag_s, patch_c) in zip(
        world.seen, world.truth, world.felt, strict=True
    ):
        if not fault and abs(seen_c - before_c) <= WILD_C:
            before_c = seen_c
        if now_in and not inside:
            oracle.enter(before_c, patch_c)
        if now_in:
            value_c, sd_c = oracle.step(before_c, lag_s, patch_c)
        inside = now_in
        told.append((value_c, sd_c, now_in))
    return told


def alarms(world: RoughBatch) -> list[tuple[float, str, str]]:
    """What the oracle would have sounded: ``(seconds, alarm, phase)``."""
    couverture = world.couverture
    low_c, high_c = couverture.work_low_c, couverture.work_high_c
    heard = []
    phase, state, event, lasted = "melt", "", "", 0
    for index, (value_c, sd_c, known) in enumerate(course(world)):
        now = ""
        if known and state == "":
            reached = value_c >= couverture.melt_c if phase == "melt" else value_c <= high_c
            now = "reached" if reached and sd_c < SURE_C else ""
        elif known:
            if value_c > high_limit_c(low_c, high_c, state):
                now = "too_warm"
            elif value_c < low_limit_c(low_c, high_c, state):
                now = "too_cool"
            else:
                now = "inside"
        lasted = lasted + 1 if now == event else 1
        event = now
        seconds = index * STEP_S
        if now == "reached" and lasted >= CROSSED_STEPS:
            heard.append((seconds, "reached", phase))
            state = "inside" if phase == "work" else ""
            phase, event = "work", ""
        elif now not in ("", "reached", state):
            wait_ms = BACK_MS if now == "inside" else OUTSIDE_MS
            if lasted * STEP_S * 1000 >= wait_ms:
                heard.append((seconds, "back" if now == "inside" else now, "work"))
                state = now
    return heard

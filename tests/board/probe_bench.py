"""A probe that is put into chocolate and taken out, and what the estimate makes of it.

A probe of first order with a lag of 4 s in chocolate and 45 s in air, read four times a
second, quantised to 1/128 °C, with noise and, if wanted, with patches in the bowl.
"""

import math
import random
from collections import namedtuple

from ear import Ear

PERIOD_MS = 250
ROOM_C = 21.0
PATCH_S = 3.0  # how long a patch stays at the tip

Row = namedtuple("Row", "ms place chocolate_c rate trusted spread_c lag_s patch_c indicated_c")


class Bench:
    """A probe that is put in and taken out."""

    def __init__(
        self, seed=1, noise_c=0.03, lag_s=4.0, air_s=45.0, known_room=True, patch_c=0.0, told=None
    ):
        self.ear = Ear(ROOM_C if known_room else None)
        self.estimate = self.ear.estimate
        if told is not None:
            self.estimate.set_lag(told)
        self.random = random.Random(seed)
        self.noise_c, self.lag_s, self.air_s = noise_c, lag_s, air_s
        self.probe_c = ROOM_C
        self.now_ms = 0
        self.patch_c, self.patch_now_c = patch_c, 0.0
        self.places = []
        self.rows = []

    def hold(self, seconds, chocolate_c=None, rate=0.0, spike=None):
        """``chocolate_c`` None: in the air. ``spike``: (which reading, °C added)."""
        for index in range(int(seconds * 4)):
            self.now_ms += PERIOD_MS
            if chocolate_c is None:
                goal_c, lag_s = ROOM_C, self.air_s
            else:
                chocolate_c += rate / 4
                goal_c, lag_s = chocolate_c + self._patch(), self.lag_s
            self.probe_c += (goal_c - self.probe_c) * (1 - math.exp(-0.25 / lag_s))
            value = self.probe_c + self.random.gauss(0, self.noise_c)
            if spike is not None and index == spike[0]:
                value += spike[1]
            self.feed(round(value * 128) / 128)
        return chocolate_c

    def _patch(self):
        """What passes the tip: an Ornstein-Uhlenbeck process."""
        keep = math.exp(-PERIOD_MS / 1000 / PATCH_S)
        if self.patch_c:
            fresh = math.sqrt(1 - keep * keep) * self.random.gauss(0, self.patch_c)
            self.patch_now_c = keep * self.patch_now_c + fresh
        return self.patch_now_c

    def feed(self, value_c):
        estimate = self.estimate
        if not self.ear.hears(self.now_ms, value_c):
            return
        if not self.places or self.places[-1] != estimate.place:
            self.places.append(estimate.place)
        self.rows.append(
            Row(
                self.now_ms,
                estimate.place,
                estimate.chocolate_c,
                estimate.rate_c_per_s,
                estimate.trusted and not estimate.doubtful,
                estimate.spread_c,
                estimate.lag_s,
                estimate.patch_c,
                value_c,
            )
        )

    def since(self, ms):
        return [row for row in self.rows if row[0] > ms]

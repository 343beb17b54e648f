"""The rough bench: a bowl with a wall, and a probe that feels more than the chocolate."""

import math
import random

from snapcurve.simulation.bowl_simulator import OPEN_CIRCUIT, SHORT_FAULT_S, WILD_C, Bowl

from .conditions import Rough

HAND_C = 33.0  # skin
HAND_LAG_S = 8.0
WALL_S = 40.0  # the wall comes to the bowl's temperature
WANDER_S = 12.0  # how fast the tip wanders to and from the wall
JUNCTION_WARMS_S, JUNCTION_COOLS_S = 25.0, 120.0
GUN_W = 1.0  # more heat than this with the probe in is the hot-air gun
REST_UNEVEN_S = 90.0  # a bowl at rest gets uneven


class RoughProbe:
    """A probe in the bowl, in the air or in the hand.

    ``inside`` is moved by the person, ``in_hand`` counts only while it is out. ``junction_c`` is
    what the converter says of the room.
    """

    def __init__(self, own: Rough, chance: random.Random):
        self._own = own
        self._random = chance
        self.inside = False
        self.in_hand = False
        self.fault = 0
        self.over_bath = False
        self._sheath_c = self._tip_c = own.room_c
        self._patch_c = self._wander = self._fault_left_s = 0.0
        self._wall_c = 0.0  # above the bowl
        self._runs_c = 0.0
        self._gun = False

    @property
    def junction_c(self) -> float:
        """The cold junction, °C."""
        return self._own.room_c + self._own.junction_over_c + self._runs_c

    def step(self, bowl: Bowl, seconds: float) -> float:
        """Let ``seconds`` pass; what the converter would see at the end."""
        own, chance = self._own, self._random
        self._gun = gun = bowl.heat_w > GUN_W and self.inside and not self.over_bath
        self._surroundings(bowl, gun, seconds)
        tip_lag_s = own.lag_s * own.second_share
        if self.inside:
            goal_c = bowl.liquid_c + self._patch_c + max(0.0, self._wander) * self._wall_c
            goal_c += own.blown_c if gun else 0.0
            lag_s = own.lag_s * (1.0 if bowl.stirring else own.still_lag)
            lag_s, tip_lag_s = lag_s * (1 - own.second_share), lag_s * own.second_share
        elif self.in_hand:
            goal_c, lag_s = HAND_C, HAND_LAG_S
        else:
            goal_c, lag_s = bowl.room_c, own.air_lag_s
        self._sheath_c += (goal_c - self._sheath_c) * (1.0 - math.exp(-seconds / lag_s))
        part = 1.0 - math.exp(-seconds / tip_lag_s) if tip_lag_s > 0 else 1.0
        self._tip_c += (self._sheath_c - self._tip_c) * part
        self._fault_left_s -= seconds
        if chance.random() < own.short_faults_per_hour * seconds / 3600:
            self._fault_left_s = SHORT_FAULT_S
        self.fault = OPEN_CIRCUIT if self._fault_left_s > 0 else 0
        if chance.random() < own.wild_per_hour * seconds / 3600:
            return chance.uniform(*WILD_C)
        return self._tip_c + chance.gauss(0.0, own.noise_c)

    def patch_size_c(self, bowl: Bowl) -> float:
        """The usual size of a patch now, °C; hot air counts as one."""
        blown_c = self._own.blown_c if self._gun else 0.0
        return blown_c + self._even_patch_c(bowl)

    def _even_patch_c(self, bowl: Bowl) -> float:
        return self._own.patch_c * max(self._own.patch_always, min(1.0, bowl.uneven))

    def _surroundings(self, bowl: Bowl, gun: bool, seconds: float) -> None:
        own, chance = self._own, self._random
        if not bowl.stirring and not bowl.heat_w:
            bowl.uneven += (0.3 - bowl.uneven) * seconds / REST_UNEVEN_S
        keep = math.exp(-seconds / own.patch_s)
        fresh = self._even_patch_c(bowl) * math.sqrt(1.0 - keep * keep)
        self._patch_c = self._patch_c * keep + chance.gauss(0.0, 1.0) * fresh
        keep = math.exp(-seconds / WANDER_S)
        fresh = own.wall_share * math.sqrt(1.0 - keep * keep)
        self._wander = self._wander * keep + chance.gauss(0.0, 1.0) * fresh
        ahead_c = 0.0
        if bowl.heat_w > GUN_W:
            ahead_c = own.wall_c
        elif bowl.room_c < bowl.liquid_c:
            ahead_c = -0.25 * own.wall_c
        self._wall_c += (ahead_c - self._wall_c) * seconds / WALL_S
        warms_c = own.junction_runs_c if gun else 0.0
        span_s = JUNCTION_WARMS_S if warms_c > self._runs_c else JUNCTION_COOLS_S
        self._runs_c += (warms_c - self._runs_c) * seconds / span_s

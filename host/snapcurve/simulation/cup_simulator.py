"""The simulator of the cooling-curve test: a few grams in a small metal cup in ice water.

One temperature for all of it; heat goes to the ice water in proportion to the difference, and
crystallising gives heat back:

    C dT/dt = -UA (T - T_water) + m L s dx/dt
    dx/dt = k (T_melt - T) (x0 + x) (1 - x)   below T_melt

x is the part of the crystals that can form here which has formed, x0 those that tempering had
made beforehand: growth needs crystals to grow on and liquid to grow from (autocatalytic
kinetics, as usually fitted to seeded fats). Few crystals beforehand: it cools deep and then
warms itself; many: it crystallises early and goes on cooling. All figures are chosen here,
of the size one meets; none of them is used to judge a real cup.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass

from snapcurve.simulation.person import END_PRESS_S
from snapcurve.simulation.story import Story

LATENT_J_PER_G = 45.0
SPECIFIC_J_PER_G_K = 1.65
CRYSTALLISES_SHARE = 0.5  # of the latent heat, in so short a time
MELTS_C = 32.0
WATER_C = 0.5
STEP_S = 0.25


ROOM_C = 21.0
LAG_S, NOISE_C = 2.5, 0.03
FILLS_S, INTO_WATER_S = 3.0, 18.0
DONE_C, LONGEST_S = 12.0, 900.0
SPREAD = 0.15  # of the crystals beforehand, from one sample to the next


@dataclass(frozen=True)
class CupConditions:
    """Masses in g, temperatures in °C."""

    mass_g: float = 8.0
    cup_j_per_k: float = 5.0
    water_w_per_k: float = 0.075
    start_c: float = 31.0
    crystals_share: float = 0.05
    """x0: crystals made by tempering, as a part of those that can form in the cup."""
    growth_per_s_k: float = 0.004


# Crystals made by tempering, chosen so that the three differ clearly.
TEMPERS = {"under": 0.006, "well": 0.05, "over": 0.4}


class Cup:
    """``step`` lets time pass; ``temperature_c`` is what the probe in the middle is in."""

    def __init__(self, conditions: CupConditions):
        self._conditions = conditions
        self.temperature_c = conditions.start_c
        self.formed_share = 0.0

    @property
    def rate_c_per_s(self) -> float:
        """Rate of the temperature now."""
        own = self._conditions
        heat_w = -own.water_w_per_k * (self.temperature_c - WATER_C)
        heat_w += own.mass_g * LATENT_J_PER_G * CRYSTALLISES_SHARE * self._growth_per_s()
        return heat_w / (own.mass_g * SPECIFIC_J_PER_G_K + own.cup_j_per_k)

    def _growth_per_s(self) -> float:
        own = self._conditions
        below_k = max(0.0, MELTS_C - self.temperature_c)
        crystals = own.crystals_share + self.formed_share
        return own.growth_per_s_k * below_k * crystals * (1.0 - self.formed_share)

    def step(self, seconds: float) -> None:
        """Let ``seconds`` pass."""
        rate, growth = self.rate_c_per_s, self._growth_per_s()
        self.temperature_c += rate * seconds
        self.formed_share = min(1.0, self.formed_share + growth * seconds)


def temper_of(number: int) -> str:
    """What the sample of rehearsal ``number`` is: a word of TEMPERS."""
    return ("over", "well", "under")[number % 3]


class CupRehearsal(Story):
    """A sample of the temper that goes with ``number``; see Simulator."""

    def __init__(self, number: int):
        super().__init__()
        self._chance = random.Random(f"cup {number}")
        self.temper = temper_of(number)
        crystals = TEMPERS[self.temper] * self._chance.lognormvariate(0.0, SPREAD)
        self._cup = Cup(CupConditions(crystals_share=crystals))
        self._probe_c = ROOM_C
        self._now_s = 0.0
        self._button = False
        self._steps = self._plan()
        self._started = self._done = False

    def _plan(self) -> Iterator[float]:
        """What the probe is in, step by step."""
        while self._now_s < FILLS_S:
            yield ROOM_C
        self.say(self._now_s, "fills the cup with a few grams and hangs the probe in the middle")
        while self._now_s < INTO_WATER_S:
            yield self._cup.temperature_c
        self.say(self._now_s, "sets the cup into ice water and leaves it alone")
        while self._now_s < LONGEST_S and self._cup.temperature_c > DONE_C:
            self._cup.step(STEP_S)
            yield self._cup.temperature_c
        self.say(self._now_s, "has seen enough: holds the button to end the recording")
        yield from self._press()
        self.say(
            self._now_s,
            f"(this sample was made {self.temper}-tempered; the thermometer cannot know)",
        )

    def _press(self) -> Iterator[float]:
        end_s = self._now_s + END_PRESS_S
        while self._now_s < end_s + 1.0:
            self._button = self._now_s < end_s
            yield self._cup.temperature_c

    def end_early(self) -> None:
        """End the recording properly."""
        self._steps = self._press()
        self._done = False

    def rows(self, now_ms: int) -> list[str] | None:
        if self._done:
            return None
        rows = []
        for _ in range(round(1 / STEP_S) if self._started else 1):
            goal_c = next(self._steps, None)
            if goal_c is None:
                self._done = True
                break
            self._probe_c += (goal_c - self._probe_c) * STEP_S / LAG_S
            seen_c = self._probe_c + self._chance.gauss(0.0, NOISE_C)
            rows.append(f"{self._now_s:.2f},{seen_c:.4f},{ROOM_C},0,{int(self._button)}")
            self._now_s += STEP_S
        self._started = True
        return rows or None

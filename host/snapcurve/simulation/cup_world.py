"""The cooling-curve test on the rehearsal bench: a world with a cup instead of a bowl."""

import random
from collections.abc import Iterator

from snapcurve.simulation.cup_model import STEP_S, TEMPERS, Cup, CupConditions
from snapcurve.simulation.person import END_PRESS_S
from snapcurve.simulation.tape_run import Alarm, alarm_of

ROOM_C = 21.0
LAG_S, NOISE_C = 2.5, 0.03
FILLS_S, INTO_WATER_S = 3.0, 18.0
DONE_C, LONGEST_S = 12.0, 900.0
SPREAD = 0.15  # of the crystals beforehand, from one sample to the next


def temper_of(number: int) -> str:
    """What the sample of rehearsal ``number`` is: a word of TEMPERS."""
    return ("over", "well", "under")[number % 3]


class CupRehearsal:
    """A sample of the temper that goes with ``number``; see desk.World.

    ``story`` grows as it happens: ``(seconds, "you" or "board", text)``.
    """

    def __init__(self, number: int):
        self._chance = random.Random(f"cup {number}")
        self.temper = temper_of(number)
        crystals = TEMPERS[self.temper] * self._chance.lognormvariate(0.0, SPREAD)
        self._cup = Cup(CupConditions(crystals_share=crystals))
        self._probe_c = ROOM_C
        self._now_s = 0.0
        self._button = False
        self._steps = self._plan()
        self._started = self._done = False
        self.alarms: list[Alarm] = []
        self.story: list[tuple[float, str, str]] = []

    def _say(self, text: str) -> None:
        self.story.append((self._now_s, "you", text))

    def _plan(self) -> Iterator[float]:
        """What the probe is in, step by step."""
        while self._now_s < FILLS_S:
            yield ROOM_C
        self._say("fills the cup with a few grams and hangs the probe in the middle")
        while self._now_s < INTO_WATER_S:
            yield self._cup.temperature_c
        self._say("sets the cup into ice water and leaves it alone")
        while self._now_s < LONGEST_S and self._cup.temperature_c > DONE_C:
            self._cup.step(STEP_S)
            yield self._cup.temperature_c
        self._say("has seen enough: holds the button to end the recording")
        yield from self._press()
        self._say(f"(this sample was made {self.temper}-tempered; the thermometer is not told)")

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
        """See World."""
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

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See World."""
        alarm = alarm_of(now_ms, words)
        if alarm is not None:
            self.alarms.append(alarm)
            self.story.append((alarm.seconds, "board", alarm.alarm))

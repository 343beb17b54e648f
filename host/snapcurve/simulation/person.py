"""The person at the rehearsal bench: hands, ears, and a plan.

A plan is a generator that uses the hands and yields once for each step of time; it knows
of the chocolate only what the board's sounds and the person's own eyes tell.
"""

import random
from collections.abc import Callable, Iterator

from snapcurve.shown.quantities import PLAIN
from snapcurve.simulation.bench import HOT_AIR_W, MICROWAVE_SHARE, STEP_S, Bowl, Probe
from snapcurve.simulation.conditions import Conditions

END_PRESS_S = 3.0  # a press long enough to end a recording

Plan = Iterator[None]
Tell = Callable[[float, str], None]


class Person:
    """Hands and ears. ``tell`` is given the time in seconds and what the person does."""

    def __init__(self, bowl: Bowl, probe: Probe, conditions: Conditions, chance: random.Random):
        self.bowl = bowl
        self.probe = probe
        self.conditions = conditions
        self.random = chance
        self.now_s = 0.0
        self.button = False
        self.heard: list[str] = []
        self.tell: Tell = lambda seconds, text: None
        self.style = PLAIN  # how quantities are told

    def say(self, text: str) -> None:
        """Note what is being done."""
        self.tell(self.now_s, text)

    def wait(self, seconds: float) -> Plan:
        """Let time pass."""
        end_s = self.now_s + seconds
        while self.now_s < end_s - 1e-9:
            yield

    def wait_for(self, alarms: tuple[str, ...], seconds: float) -> Plan:
        """Listen until one of ``alarms`` sounds, at most ``seconds``."""
        end_s = self.now_s + seconds
        while self.now_s < end_s and not any(alarm in self.heard for alarm in alarms):
            yield
        yield from self.wait(self.conditions.reaction_s)

    def has_heard(self, alarm: str) -> bool:
        """Whether ``alarm`` has sounded since it was last taken note of; takes note."""
        if alarm in self.heard:
            self.heard.remove(alarm)
            return True
        return False

    def forget(self, alarm: str) -> None:
        """What was heard of ``alarm`` before does not count any more."""
        while alarm in self.heard:
            self.heard.remove(alarm)

    def probe_in(self) -> None:
        """Put the probe into the chocolate."""
        self.probe.inside = True

    def probe_out(self) -> None:
        """Take the probe out; always before the microwave."""
        self.probe.inside = False

    def press(self, seconds: float = 0.25) -> Plan:
        """Press the button."""
        self.button = True
        yield from self.wait(seconds)
        self.button = False
        yield from self.wait(0.25)

    def burst(self, seconds: float) -> Plan:
        """Probe out, bowl into the microwave, back, stir, probe in."""
        self.probe_out()
        yield from self.wait(4)
        self.bowl.stirring = False
        self.bowl.heat_w = self.conditions.microwave_w * MICROWAVE_SHARE
        yield from self.wait(seconds)
        self.bowl.heat_w = 0.0
        yield from self.wait(4)
        self.bowl.stirring = True
        self.probe_in()
        yield from self.wait(self.random.uniform(18, 30))

    def hot_air(self, seconds: float) -> Plan:
        """Warm the bowl with the hot-air gun while stirring."""
        self.bowl.heat_w = HOT_AIR_W
        yield from self.wait(seconds)
        self.bowl.heat_w = 0.0


class BenchWorld:
    """Runs bowl, probe and person in step with the board; see desk.World.

    ``truth`` holds for each step ``(seconds, liquid_c, unmelted_g, probe inside)``; the
    liquid is what the chocolate between the pieces is at, without patches. ``seen`` holds
    ``(seconds, probe_c, fault bits)``.
    """

    def __init__(self, person: Person, plan: Plan):
        self.person = person
        self._plan = plan
        self._step = 0
        self._done = False
        self.seen: list[tuple[float, float, int]] = []
        self.truth: list[tuple[float, float, float, bool]] = []

    def end_early(self) -> None:
        """Drop everything and end the recording properly."""
        self.person.bowl.heat_w = 0.0
        self._plan = self.person.press(END_PRESS_S)
        self._done = False

    def rows(self, now_ms: int) -> list[str] | None:
        """A second's worth of rows, or None when the plan is over."""
        if self._done:
            return None
        rows = []
        person = self.person
        for _ in range(1 if self._step == 0 else round(1 / STEP_S)):
            person.now_s = self._step * STEP_S
            try:
                next(self._plan)
            except StopIteration:
                self._done = True
            person.bowl.step(STEP_S)
            seen_c = person.probe.step(person.bowl, STEP_S)
            self.seen.append((person.now_s, seen_c, person.probe.fault))
            rows.append(
                f"{person.now_s:.2f},{seen_c:.4f},{person.bowl.room_c:.3f},"
                f"{person.probe.fault},{int(person.button)}"
            )
            self._step += 1
            bowl = person.bowl
            self.truth.append(
                (person.now_s, bowl.liquid_c, bowl.unmelted_g(), person.probe.inside)
            )
        return rows

    def heard(self, now_ms: int, words: list[str]) -> None:
        """The board's sounds reach the person's ears."""
        if words[0] == "alarm":
            self.person.heard.append(words[1])

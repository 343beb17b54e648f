"""A rehearsed batch from weighing to the closed record."""

import random
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

from snapcurve.board.client import CurveRow
from snapcurve.couvertures import Couverture
from snapcurve.couvertures.profile import compile_profile
from snapcurve.errors import LinkError
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.bowl_simulator import (
    STEP_S,
    USUAL,
    Bowl,
    Conditions,
    Probe,
    solid_bowl,
)
from snapcurve.simulation.cup_simulator import CupRehearsal
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.person import END_PRESS_S, HOLD_S, Person, plan_for
from snapcurve.simulation.plan_follower import melt_by, planned_for, seed_by
from snapcurve.simulation.story import Alarm, Story

STARTED_HOLDING_ABOVE_C = 0.3  # hold: how far below the top of the window it begins


@dataclass(frozen=True)
class Rehearsed:
    """What came of it: ``row`` and ``raw`` of the recorded curve, alarms in order."""

    alarms: list[Alarm]
    row: CurveRow
    raw: bytes
    board_name: str
    interpreter: str
    interrupted: bool


def _bowl(couverture: Couverture, method: str, conditions: Conditions) -> Bowl:
    percent = couverture.all_fat_percent
    fat = None if percent is None else percent / 100
    bowl = solid_bowl(couverture.kind, conditions, fat)
    if method == "hold":
        bowl.liquid_g, bowl.pieces_g = conditions.mass_g, 0.0
        bowl.liquid_c = couverture.work_high_c - STARTED_HOLDING_ABOVE_C
    return bowl


class Rehearsal(Story):
    """A person's batch of ``couverture`` by ``method``: bowl, probe and person in step with the
    board; see Simulator.

    ``by_plan``: the person has what `snapcurve plan` says, and follows it.
    ``truth`` holds for each step ``(seconds, liquid_c, unmelted_g, probe inside)``; the
    liquid is what the chocolate between the pieces is at, without patches. ``seen`` holds
    ``(seconds, probe_c, fault bits)``.
    """

    def __init__(
        self,
        couverture: Couverture,
        method: str,
        number: int,
        hold_s: float,
        conditions: Conditions = USUAL,
        style: Style = PLAIN,
        by_plan: bool = False,
    ):
        super().__init__()
        chance = random.Random(number)
        probe = Probe(conditions, chance)
        planned = None
        if by_plan and method != "hold":
            planned = planned_for(couverture, method, conditions)
        in_bowl = conditions
        if planned is not None:
            in_bowl = replace(conditions, mass_g=planned.melt_first_g)
        person = Person(_bowl(couverture, method, in_bowl), probe, conditions, chance)
        self.person = person
        person.style = style
        person.tell = self.say
        melted = seeded = None
        if planned is not None:
            melted = melt_by(person, planned)
            seeded = seed_by(person, planned, couverture.work_high_c)
        self._plan = plan_for(person, couverture, method, hold_s, melted, seeded)
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
        """A second's worth, or None when the plan is over."""
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
            person.reads_c = round(seen_c, 1)
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
        """The sounds reach the person's ears."""
        super().heard(now_ms, words)
        if words[0] == "alarm":
            self.person.heard.append(words[1])


def demonstration() -> Rehearsal:
    """A milk batch, for watching."""
    from snapcurve.couvertures import load, user_folder

    return Rehearsal(load("milk", user_folder()), "seeding", 1, HOLD_S, by_plan=True)


class Interrupts:
    """How often Ctrl-C was pressed so far."""

    count = 0


@contextmanager
def held_interrupts() -> Iterator[Interrupts]:
    """Ctrl-C is counted instead of breaking in, so that a record is always brought home.

    Only in the main thread; elsewhere nothing changes.
    """
    interrupts = Interrupts()
    if threading.current_thread() is not threading.main_thread():
        yield interrupts
        return

    def count(_signal: int, _frame: object) -> None:
        interrupts.count += 1

    before = signal.signal(signal.SIGINT, count)
    try:
        yield interrupts
    finally:
        signal.signal(signal.SIGINT, before)


def rehearse(
    couverture: Couverture,
    method: str,
    speed: str,
    number: int,
    hold_s: float,
    tick: Callable[[Story], None],
    interrupts: Interrupts,
    style: Style = PLAIN,
) -> Rehearsed:
    """Run a batch; ``tick`` is called now and then while it goes on.

    Once ``interrupts`` counts one the batch ends early: the board closes its record, which
    is collected like any other. LinkError if nothing was recorded.
    """
    story: Rehearsal | CupRehearsal
    if method == "cup":
        story = CupRehearsal(number)
    else:
        story = Rehearsal(couverture, method, number, hold_s, style=style, by_plan=True)
    with desk_run(story, compile_profile(couverture, method), speed) as running:
        ended = False

        def step() -> None:
            nonlocal ended
            tick(story)
            if interrupts.count and not ended:
                ended = True
                story.end_early()

        running.run(step)
        tick(story)
        collected = running.collect()
        greeting = running.board.hello()
        interpreter = running.desk.interpreter
    if not collected:
        raise LinkError(
            "Nothing was recorded, as the probe never left the room's temperature: rehearse again."
        )
    row, raw = collected[0]
    return Rehearsed(story.alarms, row, raw, greeting.board, interpreter, ended)

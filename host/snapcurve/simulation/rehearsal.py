"""A rehearsed batch from weighing to the closed record."""

import random
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from snapcurve.board.client import CurveRow
from snapcurve.couvertures import Couverture
from snapcurve.couvertures.profile import compile_profile
from snapcurve.errors import LinkError
from snapcurve.shown.quantities import PLAIN, Style
from snapcurve.simulation import bench
from snapcurve.simulation import person_plans as plans
from snapcurve.simulation.conditions import USUAL, Conditions
from snapcurve.simulation.cup_world import CupRehearsal
from snapcurve.simulation.desk_session import session
from snapcurve.simulation.person import BenchWorld, Person
from snapcurve.simulation.tape_run import Alarm, alarm_of

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


def _bowl(couverture: Couverture, method: str, conditions: Conditions) -> bench.Bowl:
    fat = None if couverture.fat_percent is None else couverture.fat_percent / 100
    bowl = bench.solid_bowl(couverture.kind, conditions, fat)
    if method == "hold":
        bowl.liquid_g, bowl.pieces_g = conditions.mass_g, 0.0
        bowl.liquid_c = couverture.work_high_c - STARTED_HOLDING_ABOVE_C
    return bowl


class Rehearsal(BenchWorld):
    """A person's batch of ``couverture`` by ``method`` on the bench; see person.BenchWorld.

    ``story`` grows as it happens: ``(seconds, "you" or "board", text)``.
    """

    def __init__(
        self,
        couverture: Couverture,
        method: str,
        number: int,
        hold_s: float,
        conditions: Conditions = USUAL,
        style: Style = PLAIN,
    ):
        chance = random.Random(number)
        probe = bench.Probe(conditions, chance)
        bowl = _bowl(couverture, method, conditions)
        person = Person(bowl, probe, conditions, chance)
        super().__init__(person, plans.plan_for(person, couverture, method, hold_s))
        person.style = style
        self.alarms: list[Alarm] = []
        self.story: list[tuple[float, str, str]] = []
        person.tell = lambda seconds, text: self.story.append((seconds, "you", text))

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See World."""
        super().heard(now_ms, words)
        alarm = alarm_of(now_ms, words)
        if alarm is not None:
            self.alarms.append(alarm)
            self.story.append((alarm.seconds, "board", alarm.alarm))


def demonstration() -> Rehearsal:
    """A milk batch, for watching."""
    from snapcurve.couvertures import load, user_folder

    return Rehearsal(load("milk", user_folder()), "seeding", 1, plans.HOLD_S)


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
    tick: Callable[[Rehearsal | CupRehearsal], None],
    interrupts: Interrupts,
    style: Style = PLAIN,
) -> Rehearsed:
    """Run a batch; ``tick`` is called now and then while it goes on.

    Once ``interrupts`` counts one the batch ends early: the board closes its record, which
    is collected like any other. LinkError if nothing was recorded.
    """
    world: Rehearsal | CupRehearsal
    if method == "cup":
        world = CupRehearsal(number)
    else:
        world = Rehearsal(couverture, method, number, hold_s, style=style)
    with session(world, compile_profile(couverture, method), speed) as running:
        ended = False

        def step() -> None:
            nonlocal ended
            tick(world)
            if interrupts.count and not ended:
                ended = True
                world.end_early()

        running.run(step)
        tick(world)
        collected = running.collect()
        greeting = running.board.hello()
        interpreter = running.desk.interpreter
    if not collected:
        raise LinkError("nothing was recorded: the probe never left the room's temperature")
    row, raw = collected[0]
    return Rehearsed(world.alarms, row, raw, greeting.board, interpreter, ended)

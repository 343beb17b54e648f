"""A course written by hand, in the place of a rough batch: what a probe says of it.

Each leg is ``(seconds, what, ...)``; chocolate and probe are where the leg before left them:

    ("in",)        the probe is in the chocolate; ("in", c): which is at c
    ("to", c)      in it while it goes straight to c
    ("out",)       in the air; ("out", c): the bowl meanwhile goes to c
    ("hand", c)    in something of c that takes it up within seconds: a hand, water, a wall
    ("reads", c)   the converter says c, whatever the probe has
    ("fault",)     there is no reading

With ``{"tip": c}`` behind it the tip feels so much more than the chocolate, with
``{"junction": c}`` the cold junction is so much higher than usual; ``{"press": True}`` holds the
button down.
"""

import math
import random
from dataclasses import dataclass, field, replace
from types import SimpleNamespace

from snapcurve.couvertures import Couverture, load, user_folder
from snapcurve.simulation.bowl_simulator import OPEN_CIRCUIT, STEP_S

from .in_process import Played

HAND_LAG_S = 3.0


def couverture(low_c: float = 30.0, high_c: float = 31.0) -> Couverture:
    """Milk, with this window."""
    return replace(load("milk", user_folder()), work_low_c=low_c, work_high_c=high_c)


@dataclass
class Kitchen:
    """Where it is played; °C and s."""

    room_c: float = 21.0
    over_c: float = 1.0
    lag_s: float = 3.0
    air_s: float = 60.0
    noise_c: float = 0.03
    patch_c: float = 0.0
    patch_s: float = 15.0
    low_c: float = 30.0
    high_c: float = 31.0
    method: str = "hold"
    seed: int = 1


class Script:
    """The world of in_process.Played; see Kitchen and the legs above."""

    def __init__(self, kitchen: Kitchen, legs: list[tuple]):
        self.kitchen = kitchen
        self.couverture = couverture(kitchen.low_c, kitchen.high_c)
        self.seen: list[tuple[float, float, int, float]] = []
        self.cook = SimpleNamespace(button=False)
        self.done = False
        self.alarms: list[tuple[float, str, str]] = []
        self._rows = self._course(legs)

    def _course(self, legs):
        """What the converter is given, a row a step."""
        own, chance = self.kitchen, random.Random(self.kitchen.seed)
        probe_c, bowl_c, patch_c = own.room_c, own.room_c, 0.0
        keep = math.exp(-STEP_S / own.patch_s)
        for seconds, what, *rest in legs:
            more = rest.pop() if rest and isinstance(rest[-1], dict) else {}
            value_c = rest[0] if rest else None
            steps = round(seconds / STEP_S)
            start_c = bowl_c
            if what == "in" and value_c is not None:
                bowl_c = value_c
            for step in range(1, steps + 1):
                if what in ("to", "out") and value_c is not None:
                    bowl_c = start_c + (value_c - start_c) * step / steps
                patch_c = keep * patch_c + own.patch_c * math.sqrt(1 - keep * keep) * chance.gauss(
                    0, 1
                )
                goal_c, lag_s = own.room_c, own.air_s
                if what in ("in", "to"):
                    goal_c, lag_s = bowl_c + patch_c + more.get("tip", 0.0), own.lag_s
                elif what == "hand":
                    goal_c, lag_s = value_c, HAND_LAG_S
                probe_c += (goal_c - probe_c) * (1 - math.exp(-STEP_S / lag_s))
                said_c = value_c if what == "reads" else probe_c + chance.gauss(0, own.noise_c)
                fault = OPEN_CIRCUIT if what == "fault" else 0
                junction_c = own.room_c + own.over_c + more.get("junction", 0.0)
                yield said_c, fault, junction_c, bool(more.get("press"))

    def advance(self) -> bool:
        """The next step."""
        try:
            said_c, fault, junction_c, self.cook.button = next(self._rows)
        except StopIteration:
            self.done = True
            said_c, fault, junction_c = self.seen[-1][1:]
        self.seen.append((len(self.seen) * STEP_S, said_c, fault, junction_c))
        return not self.done

    def heard(self, now_ms: int, words: list[str]) -> None:
        """Take an alarm."""
        self.alarms.append((now_ms / 1000, words[1], words[2]))


@dataclass
class Heard:
    """What was heard of a course: alarms ``(second, alarm, phase)``, what began to sound
    ``(second, name)``, the app as it was at the end, and what it said of the chocolate
    ``(second, celsius, spread)`` while that was judged."""

    alarms: list[tuple[float, str, str]]
    sounds: list[tuple[float, str]]
    app: object
    places: list[tuple[float, str]] = field(default_factory=list)
    recording_s: float = 0.0
    said: list[tuple[float, float, float]] = field(default_factory=list)

    def names(self, from_s: float = 0.0, to_s: float = math.inf) -> list[str]:
        """The alarms about the chocolate, in order."""
        quiet = ("probe_in", "probe_out")
        return [a for s, a, _ in self.alarms if from_s <= s <= to_s and a not in quiet]

    def when(self, alarm: str, from_s: float = 0.0) -> float:
        """When it first sounded; infinite if never."""
        return next((s for s, a, _ in self.alarms if a == alarm and s >= from_s), math.inf)

    def place(self, second: float) -> str:
        """Where the probe was taken to be."""
        return [place for at_s, place in self.places if at_s <= second][-1]


def play(kitchen: Kitchen, *legs: tuple) -> Heard:
    """Play the legs through the board's app."""
    world = Script(kitchen, list(legs))
    places, recording, said = [], [0.0], []

    def each(app, _world):
        second = world.seen[-1][0]
        estimate = app.batch.estimate
        place = estimate.place
        if not places or places[-1][1] != place:
            places.append((second, place))
        if estimate.trusted:
            said.append((second, estimate.chocolate_c, estimate.spread_c))
        if app.recorder.running:
            recording[0] = second

    played = Played(world, each=each, method=kitchen.method)
    return Heard(world.alarms, played.sounds, played.app, places, recording[0], said)

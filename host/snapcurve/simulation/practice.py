"""The practice bench: a bowl, a room, a probe and a button that somebody acts on.

It is the `Simulator` behind a desk board. Time is counted in steps of `STEP_MS` from the start;
an act is done between two steps, so the same acts at the same times give the same curve. What
the chocolate truly is goes into ``truth`` and is in no ``look``.
"""

import random
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from snapcurve.couvertures import Couverture
from snapcurve.errors import SnapcurveError
from snapcurve.simulation.blade import Blade
from snapcurve.simulation.bowl_simulator import HOT_AIR_W, MICROWAVE_SHARE, Conditions, Probe
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.simulation.matter import matter_of
from snapcurve.simulation.practice_bowl import PracticeBowl
from snapcurve.simulation.practice_words import MOSTLY_SOLID, bowl_words
from snapcurve.simulation.story import Alarm, alarm_of

STEP_MS = 250
STEP_S = STEP_MS / 1000
TRUTH_EACH = 4  # steps
HOLD_S = 3.0  # a press long enough to end a recording
LONGEST_S = 12 * 3600.0  # a board records no longer
LEAST_LEFT_G = 50.0
MOST_IN_BOWL_G = 20_000.0
HEARD_SHOWN, ACTS_SHOWN = 20, 50
ONCE_KEPT = 1000
PROBE_IN_MICROWAVE = (
    "The probe is in the bowl: take it out first. Metal in a microwave oven arcs, so it comes out "
    "before every burst."
)


@dataclass(frozen=True)
class ActKind:
    """What can be done: in words, in which unit its amount is (empty: it has none), from least
    to most, and what is usual."""

    what: str
    unit: str = ""
    least: float = 0.0
    most: float = 0.0
    usual: float | None = None


# fmt: off
ACTS: dict[str, ActKind] = {
    "heat": ActKind("put the bowl into the microwave oven", "s", 1, 120, 15),
    "hot_air": ActKind("blow hot air over the bowl", "s", 1, 60, 5),
    "stir": ActKind("stir"),
    "rest": ActKind("let it rest"),
    "seed": ActKind("stir in pieces in temper", "g", 1, 5000, 50),
    "crystals": ActKind("dust in powdered crystals", "g", 1, 500, 10),
    "melted": ActKind("pour in melted chocolate", "g", 1, 5000, 100),
    "lift_out": ActKind("sieve out what has not melted"),
    "cold": ActKind("set the bowl into the cold: stone, slab or cold water"),
    "back": ActKind("take the bowl out of the cold"),
    "probe_in": ActKind("put the probe into the chocolate"),
    "probe_out": ActKind("take the probe out"),
    "wipe": ActKind("wipe the probe"),
    "dip": ActKind("dip a test blade and lay it aside"),
    "touch": ActKind("look at the test blade and touch it"),
    "press": ActKind("press the board's button", "times", 1, 4, 1),
    "hold": ActKind("hold the board's button: the recording ends"),
    "cool_room": ActKind("open the window: the room cools"),
    "pour_off": ActKind("pour chocolate off", "g", 1, 5000, 100),
    "put_away": ActKind("stop here: this bowl is not used for moulding"),
}
# fmt: on
NEEDS_BOWL = (
    "hot_air",
    "stir",
    "rest",
    "seed",
    "crystals",
    "melted",
    "lift_out",
    "cold",
    "back",
    "probe_in",
    "dip",
    "pour_off",
)  # fmt: skip
COOLED_ROOM_C = 20.0
MELTED_C, LEAST_MELTED_C, MOST_MELTED_C = 40.0, 25.0, 60.0


@dataclass(frozen=True)
class BenchState:
    """How the bench is when it is set out. °C, g, W, s.

    ``melted``: the bowl is molten through at ``start_c``, with ``crystals`` of fine crystals
    and ``lumps`` as parts of all. ``probe_off_c`` is what the probe shows too much;
    ``wet_spatula_g`` the water that gets in with the first stirring; ``stirring`` and
    ``probe_in`` how things are at the start.
    """

    mass_g: float = 1000.0
    room_c: float = 21.0
    microwave_w: float = 800.0
    melted: bool = False
    start_c: float = 21.0
    crystals: float = 0.0
    lumps: float = 0.0
    scorched: float = 0.0
    probe_off_c: float = 0.0
    probe_lag_s: float = 4.0
    second_share: float = 0.0
    water_g: float = 0.0
    pieces_g: float = 500.0
    number: int = 1


@dataclass(frozen=True)
class Act:
    """One thing done or to be done, in ms of the bench's time. ``once`` names it: done once."""

    name: str
    amount: float | None = None
    at_c: float | None = None
    at_ms: int | None = None
    once: str | None = None


@dataclass(frozen=True)
class Done:
    """An act that was done, or was refused with ``said``."""

    seconds: float
    act: str
    amount: float | None
    said: str = ""
    refused: bool = False


@dataclass(frozen=True)
class Truth:
    """What the chocolate is at ``seconds``: °C, and parts of all; what the probe shows of it.
    ``scorched``: 0 not at all, 1 burnt."""

    seconds: float
    chocolate_c: float
    reads_c: float
    crystals_share: float
    lumps_share: float
    unmelted_share: float
    room_c: float
    inside: bool
    scorched: float
    seized: bool


def _bowl(couverture: Couverture, state: BenchState) -> PracticeBowl:
    percent = couverture.all_fat_percent
    matter = matter_of(couverture.kind, None if percent is None else percent / 100)
    usual = Conditions()
    bowl = PracticeBowl(
        matter,
        state.room_c,
        liquid_g=0.0,
        liquid_c=state.start_c,
        scorches_c=couverture.never_above_c,
        loss_w_per_k=usual.loss_w_per_k * (state.mass_g / usual.mass_g) ** (2 / 3),
        scorched=state.scorched,
        water_g=state.water_g,
    )
    if not state.melted:
        bowl.liquid_g = 0.02 * state.mass_g  # what melts first at the wall
        bowl.add_pieces(state.mass_g - bowl.liquid_g, state.room_c)
        return bowl
    bowl.grown_g = state.crystals * state.mass_g
    lumps_g = state.lumps * state.mass_g
    if lumps_g:
        bowl.add_pieces(lumps_g, min(state.start_c, state.room_c))
    bowl.liquid_g = state.mass_g - bowl.grown_g - lumps_g
    bowl.uneven = 0.0
    return bowl


@dataclass
class _Running:
    """What goes on for a while: until which step."""

    heat: int = 0
    hot_air: int = 0
    button: list[tuple[int, int]] = field(default_factory=list)


class Practice(Simulator):
    """The bench; safe to use from several threads. ``story`` is what is told of it at the start,
    ``truth`` what it was each second, ``done`` and ``alarms`` what was done and heard."""

    def __init__(self, couverture: Couverture, state: BenchState, story: str = ""):
        self.couverture = couverture
        self.state = state
        self.story = story
        self.truth: list[Truth] = []
        self.alarms: list[Alarm] = []
        self.done: list[Done] = []
        self.tone_hz = 0
        self._lock = threading.RLock()
        conditions = Conditions(
            room_c=state.room_c,
            mass_g=state.mass_g,
            lag_s=state.probe_lag_s,
            second_share=state.second_share,
            microwave_w=state.microwave_w,
        )
        self._bowl = _bowl(couverture, state)
        self._probe = Probe(conditions, random.Random(state.number))
        self._pieces_g = state.pieces_g
        self._put_away = False
        self._blade: Blade | None = None
        self._running = _Running()
        self._waiting: list[Act] = []
        self._seen_once: dict[str, None] = {}
        self._step = 0  # the next one

    # --- time -----------------------------------------------------------------------

    @property
    def now_ms(self) -> int:
        """When what is done now takes effect."""
        return self._step * STEP_MS

    @property
    def melts_c(self) -> float:
        """Where its crystals melt, °C."""
        return self._bowl.melts_c

    def rows(self, now_ms: int) -> list[str] | None:
        """One step; more only where the board was away."""
        with self._lock:
            rows = [self._stepped()]
            while self.now_ms <= now_ms:
                rows.append(self._stepped())
            return rows

    def _stepped(self) -> str:
        now_ms, step = self.now_ms, self._step
        while self._waiting and (self._waiting[0].at_ms or 0) <= now_ms:
            self._try(self._waiting.pop(0))
        bowl, probe, running = self._bowl, self._probe, self._running
        heating, blowing = step < running.heat, step < running.hot_air
        stirring = bowl.stirring
        if heating:
            bowl.heat_w, bowl.stirring = self.state.microwave_w * MICROWAVE_SHARE, False
        else:
            bowl.heat_w = HOT_AIR_W if blowing else 0.0
        bowl.step(STEP_S)
        bowl.stirring = stirring
        if self._blade is not None:
            self._blade.step(bowl.room_c, STEP_S)
        seen_c = probe.step(bowl, STEP_S) + self.state.probe_off_c
        running.button = [one for one in running.button if one[1] > step]
        down = any(begin <= step < end for begin, end in running.button)
        if step % TRUTH_EACH == 0:
            self.truth.append(self._truth(seen_c))
        self._step += 1
        return f"{now_ms / 1000:.2f},{seen_c:.4f},{bowl.room_c:.3f},{probe.fault},{int(down)}"

    def _truth(self, reads_c: float) -> Truth:
        bowl = self._bowl
        return Truth(
            self.now_ms / 1000,
            round(bowl.liquid_c, 3),
            round(reads_c, 3),
            round(bowl.crystals_share, 5),
            round(bowl.lumps_share, 5),
            round(bowl.unmelted_g / bowl.mass_g, 5),
            bowl.room_c,
            self._probe.inside,
            round(bowl.scorched, 4),
            bowl.seized,
        )

    def heard(self, now_ms: int, words: list[str]) -> None:
        with self._lock:
            if words[0] == "tone":
                self.tone_hz = int(words[1])
            alarm = alarm_of(now_ms, words)
            if alarm is not None:
                self.alarms.append(alarm)

    # --- acts -----------------------------------------------------------------------

    def act(self, act: Act) -> None:
        """Do it now, or note it for its time. SnapcurveError, the sentence to show, if it cannot
        be done; one that is to be done later and cannot then is in ``done`` as refused."""
        with self._lock:
            if act.once is not None and act.once in self._seen_once:
                return
            act = checked(act)
            if act.at_ms is not None and act.at_ms < self.now_ms:
                raise SnapcurveError(
                    f"It is {self.now_ms / 1000:g} s by the bench's time already: nothing can be "
                    f"done at {act.at_ms / 1000:g} s any more."
                )
            if act.at_ms is None:
                self._do(act)
            else:
                self._waiting.append(act)
                self._waiting.sort(key=lambda one: one.at_ms or 0)
            if act.once is not None:
                self._seen_once[act.once] = None
                while len(self._seen_once) > ONCE_KEPT:
                    del self._seen_once[next(iter(self._seen_once))]

    def _try(self, act: Act) -> None:
        try:
            self._do(act)
        except SnapcurveError as refusal:
            self.done.append(
                Done(self.now_ms / 1000, act.name, act.amount, str(refusal), refused=True)
            )

    def _do(self, act: Act) -> None:
        if refusal := self._refusal(act):
            if act.name == "heat" and refusal == PROBE_IN_MICROWAVE:
                # it belongs to the account, however it was asked
                self.done.append(
                    Done(self.now_ms / 1000, act.name, act.amount, refusal, refused=True)
                )
                if act.at_ms is not None:
                    return
            raise SnapcurveError(refusal)
        said = _HANDS[act.name](self, act) or ""
        self.done.append(Done(self.now_ms / 1000, act.name, act.amount, said))

    def _refusal(self, act: Act) -> str:
        """Why it cannot be done now; empty if it can."""
        running, bowl, name = self._running, self._bowl, act.name
        amount = act.amount or 0.0
        heating_s = max(0, running.heat - self._step) * STEP_S
        most_g = max(0.0, bowl.mass_g - LEAST_LEFT_G)
        grows = name in ("seed", "melted", "crystals")
        for so, sentence in (
            (
                self._put_away and name != "hold",  # the recording can still be ended
                "This bowl has been put aside: set out another one.",
            ),
            (
                heating_s and name in (*NEEDS_BOWL, "heat"),
                f"The bowl is in the microwave oven for {heating_s:.0f} s more.",
            ),
            (name == "heat" and self._probe.inside, PROBE_IN_MICROWAVE),
            (name == "heat" and bowl.cold, "The bowl stands in the cold: take it back first."),
            (
                name in ("press", "hold") and running.button,
                "Your finger is on the button: wait a moment.",
            ),
            (
                name == "seed" and amount > self._pieces_g + 1e-9,
                f"Only {self._pieces_g:.0f} g of pieces are left beside the bowl: take at most "
                "that.",
            ),
            (grows and bowl.mass_g + amount > MOST_IN_BOWL_G, "The bowl is full."),
            (
                name == "pour_off" and amount > most_g,
                f"So much is not in the bowl: pour off at most {most_g:.0f} g.",
            ),
            (
                name == "lift_out" and bowl.lumps_share > MOSTLY_SOLID,
                "Nearly all of it is pieces: melt it first.",
            ),
            (
                name == "touch" and self._blade is None,
                "There is no test blade: dip one first.",
            ),
            (
                name == "wipe" and self._probe.inside,
                "The probe is in the bowl: take it out to wipe it.",
            ),
        ):
            if so:
                return sentence
        return ""

    # each does one act, and says what is seen of it

    def _heat(self, act: Act) -> None:
        self._running.heat = self._step + round((act.amount or 0.0) / STEP_S)

    def _hot_air(self, act: Act) -> None:
        begin = max(self._step, self._running.hot_air)
        self._running.hot_air = begin + round((act.amount or 0.0) / STEP_S)

    def _stir(self, act: Act) -> None:
        self._bowl.stirring = act.name == "stir"

    def _seed(self, act: Act) -> None:
        self._pieces_g -= act.amount or 0.0
        self._bowl.add_pieces(act.amount or 0.0, self._bowl.room_c)

    def _crystals(self, act: Act) -> None:
        self._bowl.add_pieces(act.amount or 0.0, self._bowl.room_c, lumps=0.0)

    def _melted(self, act: Act) -> None:
        self._bowl.add_melted(act.amount or 0.0, MELTED_C if act.at_c is None else act.at_c)

    def _lift_out(self, _act: Act) -> str:
        return f"{self._bowl.lift_out_lumps():.0f} g are lifted out."

    def _cold(self, act: Act) -> None:
        self._bowl.cold = act.name == "cold"

    def _probe_in(self, act: Act) -> None:
        self._probe.inside = act.name == "probe_in"
        self._probe.coated = True

    def _wipe(self, _act: Act) -> None:
        self._probe.coated = False

    def _dip(self, _act: Act) -> None:
        bowl = self._bowl
        self._blade = Blade(
            self.now_ms / 1000,
            bowl.crystals_share,
            bowl.lumps_share,
            bowl.seized,
            bowl.melts_c,
            bowl.liquid_c,
        )

    def _touch(self, _act: Act) -> str:
        assert self._blade is not None  # _refusal has seen to it
        return " ".join(self._blade.seen())

    def _press(self, act: Act) -> None:
        step = self._step
        count = round(act.amount or 1)
        self._running.button = [(step + 2 * i, step + 2 * i + 1) for i in range(count)]

    def _hold(self, _act: Act) -> None:
        self._running.button = [(self._step, self._step + round(HOLD_S / STEP_S))]

    def _cool_room(self, _act: Act) -> None:
        self._bowl.room_c = min(self._bowl.room_c, COOLED_ROOM_C)

    def _pour_off(self, act: Act) -> None:
        self._bowl.pour_off(act.amount or 0.0)

    def _aside(self, _act: Act) -> None:
        self._put_away = True
        self._bowl.stirring = False

    # --- what is seen ---------------------------------------------------------------

    def look(self) -> dict[str, Any]:
        """What a person at the bench sees, hears and has done; see host/README.md."""
        with self._lock:
            bowl, now_s, blade = self._bowl, self.now_ms / 1000, self._blade
            busy = {
                name: (until - self._step) * STEP_S
                for name, until in (
                    ("heat", self._running.heat),
                    ("hot_air", self._running.hot_air),
                )
                if until > self._step
            }
            words = bowl_words(bowl)
            if "heat" in busy:
                words = ["The bowl is in the microwave oven."]
            touched = [one.said for one in self.done if one.act == "touch" and not one.refused]
            dips = [one.seconds for one in self.done if one.act == "dip" and not one.refused]
            fresh = touched and self._last("touch") >= self._last("dip")
            return {
                "now_s": now_s,
                "story": self.story,
                "bowl": words,
                "heard": [asdict(one) for one in self.alarms[-HEARD_SHOWN:]],
                "tone_hz": self.tone_hz,
                "probe": "in" if self._probe.inside else "out",
                "coated": self._probe.coated and not self._probe.inside,
                "stirring": bowl.stirring,
                "cold": bowl.cold,
                "busy": busy,
                "in_bowl_g": round(bowl.mass_g),
                "pieces_g": round(self._pieces_g),
                "room_c": bowl.room_c,
                "blade": None
                if blade is None
                else {
                    "dipped_s": dips[-1],
                    "age_s": now_s - dips[-1],
                    "seen": touched[-1] if fresh else None,
                },
                "put_away": self._put_away,
                "acts": [asdict(one) for one in self.done[-ACTS_SHOWN:]],
                "waiting": len(self._waiting),
                "can": [name for name in ACTS if not self._refusal(_usual(name))],
            }

    def _last(self, name: str) -> int:
        found = [at for at, one in enumerate(self.done) if one.act == name and not one.refused]
        return found[-1] if found else -1


def _usual(name: str) -> Act:
    return Act(name, ACTS[name].least or None)


def checked(act: Act) -> Act:
    """``act`` with the usual amount where it has none; SnapcurveError if there is no such act."""
    kind = ACTS.get(act.name)
    if kind is None:
        raise SnapcurveError(
            f"Nobody can {act.name[:40]!r} at the bench: choose one of {', '.join(ACTS)}."
        )
    words = act.name.replace("_", " ")
    if act.at_ms is not None and not 0 <= act.at_ms <= LONGEST_S * 1000:
        raise SnapcurveError(f"The time must be from 0 to {LONGEST_S:.0f} s of the bench's time.")
    melted_so = act.name == "melted" and LEAST_MELTED_C <= (act.at_c or 0.0) <= MOST_MELTED_C
    if act.at_c is not None and not melted_so:
        raise SnapcurveError("A temperature goes with melted chocolate only, and a usual one.")
    if not kind.unit:
        if act.amount is not None:
            raise SnapcurveError(f"'{words}' takes no amount: leave {act.amount:g} out.")
        return act
    amount = kind.usual if act.amount is None else act.amount
    assert amount is not None  # each with a unit has a usual one
    if not kind.least <= amount <= kind.most:
        raise SnapcurveError(
            f"'{words}' takes {kind.least:g} to {kind.most:g} {kind.unit}, not {amount:g}."
        )
    if kind.unit == "times" and amount != round(amount):
        raise SnapcurveError("Press a whole number of times, 1 to 4.")
    return replace(act, amount=float(amount))


_HANDS: dict[str, Callable[[Practice, Act], str | None]] = {
    "heat": Practice._heat,
    "hot_air": Practice._hot_air,
    "stir": Practice._stir,
    "rest": Practice._stir,
    "seed": Practice._seed,
    "crystals": Practice._crystals,
    "melted": Practice._melted,
    "lift_out": Practice._lift_out,
    "cold": Practice._cold,
    "back": Practice._cold,
    "probe_in": Practice._probe_in,
    "probe_out": Practice._probe_in,
    "wipe": Practice._wipe,
    "dip": Practice._dip,
    "touch": Practice._touch,
    "press": Practice._press,
    "hold": Practice._hold,
    "cool_room": Practice._cool_room,
    "pour_off": Practice._pour_off,
    "put_away": Practice._aside,
}

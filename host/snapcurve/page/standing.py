"""What is known of one board at one moment, and what follows from it: pure.

A `Standing` is replaced whole and never changed, so any number of readers may look at it.
Times of the chocolate are the board's own (ms since its start), so that they are right at any
speed of a practice bowl; only the age of a reading is counted on this computer.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from snapcurve.board.client import Reading
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError
from snapcurve.probe.sounds import URGENT

# A reading older than this is struck out: the board sends several a second, and a flash erase
# stops it for half a second at most.
OLD_S = 2.5
SILENCE_MS = 60_000  # an urgent sound repeats within this; then it was silenced or is over
IN_WORK = ("inside", "too_warm", "too_cool")  # the window was reached once
RESULT_MS = 15 * 60_000  # so long a dip waits for its result


@dataclass(frozen=True)
class Profile:
    """What the board was told of the couverture; temperatures in °C."""

    couverture: str
    method: str
    never_above_c: float
    test_early_s: int
    test_due_s: int
    test_late_s: int
    phases: tuple[Mapping[str, Any], ...]

    @property
    def work(self) -> tuple[float, float] | None:
        """The working window, None where the method has none."""
        for phase in self.phases:
            if phase["direction"] == "hold":
                return phase["low_centi_c"] / 100, phase["high_centi_c"] / 100
        return None

    def phase(self, kind: str) -> Mapping[str, Any] | None:
        """The phase called ``kind``."""
        return next((one for one in self.phases if one["kind"] == kind), None)


def profile_of(raw: bytes) -> Profile | None:
    """A profile as the board stores it; None if there is none, or it cannot be read."""
    try:
        head, phases = read_profile(raw)
    except RecordError:
        return None
    return Profile(
        couverture=str(head["couverture"]),
        method=str(head["method"]),
        never_above_c=head["never_above_centi_c"] / 100,
        test_early_s=head["test_early_s"],
        test_due_s=head["test_due_s"],
        test_late_s=head["test_late_s"],
        phases=tuple(phases),
    )


@dataclass(frozen=True)
class Heard:
    """A sound, and the board's uptime when it began; ``count`` tells two of one name apart."""

    name: str
    at_ms: int
    count: int


@dataclass(frozen=True)
class Dip:
    """A test blade, and how it came out: a word of catalogue.MARKS, "" as long as it is not
    known."""

    at_ms: int
    result: str = ""


@dataclass(frozen=True)
class Standing:
    """``link`` is "up", "seeking" (``why`` says why it is not there) or "lent" (``why`` says to
    what). ``measured_s`` is when the reading was measured, on this computer's clock that never
    goes back. ``turns`` counts for each action how often it was done."""

    port: str
    name: str = ""
    link: str = "seeking"
    why: str = ""
    reading: Reading | None = None
    measured_s: float = 0.0
    profile: Profile | None = None
    uncertainty_c: float | None = None
    remark: str = ""
    minutes: tuple[int, int] | None = None
    heard: Heard | None = None
    dip: Dip | None = None
    silenced_ms: int = -1
    over: bool = False  # a recording was seen to end, whether its sound was heard or not
    collected: bool = False  # what was recorded up to the end that was heard
    turns: Mapping[str, int] = field(default_factory=dict)
    first_turn: int = 0
    curve: str = ""

    def age_s(self, now_s: float) -> float:
        """How long ago the reading was measured."""
        return max(0.0, now_s - self.measured_s)

    def turn(self, word: str) -> int:
        """The number of the next time that ``word`` is done."""
        return self.turns.get(word, self.first_turn)

    def condition(self, now_s: float) -> str:
        """One word for how far the number can be believed: lost, lent, waiting, silent, fault,
        out, settling or good."""
        if self.link != "up":
            return "lent" if self.link == "lent" else "lost"
        reading = self.reading
        if reading is not None and self.age_s(now_s) > OLD_S:
            return "silent"
        if reading is None or reading.indicated_c is None:
            return "fault" if reading is not None and reading.faults else "waiting"
        if reading.place == "entering":
            return "settling"
        in_chocolate = reading.place == "chocolate" and reading.estimate_c is not None
        return "good" if in_chocolate else "out"

    @property
    def recording(self) -> bool:
        """Whether the board records."""
        return self.reading is not None and self.reading.curve != 0

    @property
    def shown_c(self) -> float | None:
        """The temperature for the large number: the chocolate's, or else the probe's."""
        if self.reading is None:
            return None
        if self.reading.place == "chocolate" and self.reading.estimate_c is not None:
            return self.reading.estimate_c
        return self.reading.indicated_c

    @property
    def dip_s(self) -> float | None:
        """Seconds since the dip whose result is not known yet."""
        if self.dip is None or self.dip.result or self.reading is None:
            return None
        since_ms = self.reading.uptime_ms - self.dip.at_ms
        return since_ms / 1000 if 0 <= since_ms <= RESULT_MS else None

    @property
    def urgent(self) -> bool:
        """Whether an urgent sound goes on that nobody has silenced."""
        if self.reading is None or self.heard is None or self.heard.name not in URGENT:
            return False
        if self.heard.at_ms <= self.silenced_ms:
            return False
        return 0 <= self.reading.uptime_ms - self.heard.at_ms < SILENCE_MS

    @property
    def ended(self) -> bool:
        """Whether a recording has ended, and none has begun since."""
        heard_end = self.heard is not None and self.heard.name == "stopped"
        return (heard_end or self.over) and self.link == "up" and not self.recording

    @property
    def to_collect(self) -> bool:
        """Whether one has ended that nobody has collected yet."""
        return self.ended and not self.collected

    def actions(self) -> tuple[str, ...]:
        """What can be pressed now, the likeliest first: words of ACTIONS."""
        if self.link != "up" or self.reading is None:
            return ()
        found = ["silence"] if self.urgent else []
        if not self.recording or self.profile is None:
            return tuple(found)
        since_s = self.dip_s
        if since_s is None:
            if self.reading.phase == "work" and self.reading.state in IN_WORK:
                found.append("dip_test")
        elif since_s < self.profile.test_early_s:
            found.append("set_early")
        else:
            found += ["passed", "failed"]
        return tuple(found)


# Word of catalogue.MARKS -> what its button says, and what is said when it is done.
ACTIONS = {
    "silence": ("Silence", "Quiet until something new happens."),
    "dip_test": ("Blade dipped", "Noted: a blade was dipped."),
    "passed": ("Set, no mark", "Noted: the blade set without a mark."),
    "failed": ("Takes a mark", "Noted: the blade takes a mark."),
    "set_early": ("Set already", "Noted: the blade set too soon."),
}

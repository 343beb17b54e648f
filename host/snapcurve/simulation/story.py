"""What happens in a rehearsal: noted as it happens, and printed step by step."""

from dataclasses import asdict, dataclass
from typing import Any

from snapcurve.probe import sounds
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.bowl_simulator import USUAL
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.wire.catalogue import CENTI_NONE

QUIET_SOUNDS = ("probe_out", "probe_in")


@dataclass(frozen=True)
class Alarm:
    """An alarm at ``seconds`` of the simulator's time; ``estimate_c`` None if the board had
    none."""

    seconds: float
    phase: str
    alarm: str
    estimate_c: float | None


def alarm_of(now_ms: int, words: list[str], first_s: float = 0.0) -> Alarm | None:
    """The alarm in a report of the desk board, None if it reports something else."""
    if words[0] != "alarm":
        return None
    centi = int(words[3])
    estimate_c = None if centi == CENTI_NONE else centi / 100
    return Alarm(first_s + now_ms / 1000, words[2], words[1], estimate_c)


def alarm_data(alarm: Alarm) -> dict[str, Any]:
    """The alarm as scripts read it."""
    return {**asdict(alarm), "seconds": round(alarm.seconds, 1)}


class Story(Simulator):
    """What was done and heard: ``steps`` are ``(seconds, "you" or "board", text)``."""

    def __init__(self) -> None:
        self.alarms: list[Alarm] = []
        self.steps: list[tuple[float, str, str]] = []

    def say(self, seconds: float, text: str) -> None:
        """Note what the person does."""
        self.steps.append((seconds, "you", text))

    def heard(self, now_ms: int, words: list[str]) -> None:
        alarm = alarm_of(now_ms, words)
        if alarm is not None:
            self.alarms.append(alarm)
            self.steps.append((alarm.seconds, "board", alarm.alarm))


class Teller:
    """Prints a story once; ``tell`` prints what is new."""

    def __init__(self, quiet: bool, style: Style = PLAIN):
        self._quiet = quiet
        self._style = style
        self._printed = 0

    def begin(self, couverture: str, method: str, speed: str) -> None:
        """Who, what, how fast."""
        pace = {"real": "in real time", "max": "as fast as it goes"}.get(
            speed, f"{speed} times faster than real"
        )
        mass = "a few grams in a cup" if method == "cup" else self._style.mass(USUAL.mass_g)
        self._print(f"Rehearsing {couverture} by {method}, {mass}, {pace}. No hardware is used.")
        self._print("Never leave a metal probe in a microwave: it comes out for every burst.\n")

    def tell(self, story: Story) -> None:
        """What happened since the last call."""
        new = story.steps[self._printed :]
        self._printed += len(new)
        for seconds, who, text in new:
            minutes, rest = divmod(int(seconds), 60)
            line = text
            if who == "board":
                shape = _rhythm(sounds.find(text)[1])
                mark = "·" if text in QUIET_SOUNDS else "♪"
                line = f"{mark} {shape:<16} {MEANINGS[text]}"
            self._print(f"  {minutes:3d}:{rest:02d}  {line}")

    def end(self, interpreter: str) -> None:
        """What ran the firmware."""
        note = "" if interpreter == "MicroPython" else " (no MicroPython for this computer)"
        self._print(f"\nThe firmware ran under {interpreter}{note}.")

    def _print(self, text: str) -> None:
        if not self._quiet:
            print(text, flush=True)


def _rhythm(rhythm: str) -> str:
    """The rhythm as dots and bars: a tick, short, middle and long pulse."""
    shapes = {"t": "'", "s": "▪", "m": "▬", "l": "▬▬", ".": "", "-": " "}
    return "".join(shapes[letter] for letter in rhythm)

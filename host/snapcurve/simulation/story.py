"""Tells a rehearsal step by step as it happens."""

from snapcurve.probe import sounds
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.shown.quantities import PLAIN, Style
from snapcurve.simulation.conditions import USUAL
from snapcurve.simulation.cup_world import CupRehearsal
from snapcurve.simulation.rehearsal import Rehearsal

QUIET_SOUNDS = ("probe_out", "probe_in")


class Teller:
    """Prints the story once; ``tell`` prints what is new."""

    def __init__(self, quiet: bool, style: Style = PLAIN):
        self._quiet = quiet
        self._style = style
        self._told = 0

    def begin(self, couverture: str, method: str, speed: str) -> None:
        """Who, what, how fast."""
        pace = {"real": "in real time", "max": "as fast as it goes"}.get(
            speed, f"{speed} times faster than real"
        )
        mass = "a few grams in a cup" if method == "cup" else self._style.mass(USUAL.mass_g)
        self._print(f"Rehearsing {couverture} by {method}, {mass}, {pace}. No hardware is used.")
        self._print("Never leave a metal probe in a microwave: it comes out for every burst.\n")

    def tell(self, rehearsal: Rehearsal | CupRehearsal) -> None:
        """What happened since the last call."""
        story = rehearsal.story[self._told :]
        self._told += len(story)
        for seconds, who, text in story:
            minutes, rest = divmod(int(seconds), 60)
            if who == "board":
                shape = _rhythm(sounds.find(text)[1])
                mark = "·" if text in QUIET_SOUNDS else "♪"
                self._print(f"  {minutes:3d}:{rest:02d}  {mark} {shape:<16} {MEANINGS[text]}")
            else:
                self._print(f"  {minutes:3d}:{rest:02d}  {text}")

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

"""Outside of the working window: what was recorded there, and what the board warned of.

The one place that measures and words it; verdict, signs, comparison and lessons read it here.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from snapcurve.recording.curve import Event
from snapcurve.recording.known_spans import Known
from snapcurve.shown.figures import (
    degrees_words,
    difference_words,
    seconds_words,
    uncertainty_words,
)

WARNINGS = {True: ("too_warm", "temper_lost"), False: ("too_cool",)}
SHOWN_C = 0.05  # a smaller difference would be shown as 0.0
_TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


@dataclass(frozen=True)
class Outside:
    """One side of the window, ``above`` or below it, whose edge is ``edge_c``.

    ``warnings`` says how often each alarm of WARNINGS sounded in the whole record. ``seconds``
    of settled readings lie beyond the edge, however little, from the first one in the window on;
    ``extreme_c`` is the reading farthest to this side since then, beyond the edge or not, and
    ``extreme_s`` its time. None: the chocolate was not seen in the window.
    """

    above: bool
    edge_c: float
    warnings: dict[str, int]
    seconds: float = 0.0
    extreme_c: float | None = None
    extreme_s: float | None = None

    @property
    def warned(self) -> int:
        """All warnings together."""
        return sum(self.warnings.values())

    @property
    def silent(self) -> bool:
        """Whether nothing sounded and nothing was recorded beyond the edge."""
        return not self.warned and not self.seconds

    @property
    def beyond_c(self) -> float:
        """How far the farthest reading lies beyond the edge; 0 or less: it does not."""
        if self.extreme_c is None:
            return 0.0
        return self.extreme_c - self.edge_c if self.above else self.edge_c - self.extreme_c


def outside(
    above: bool, edge_c: float, alarms: Sequence[Event], seen: Known, since_s: float | None
) -> Outside:
    """Measure one side, ``since_s`` the chocolate came into the window (None: it was not seen)."""
    names = [event.name for event in alarms]
    warnings = {name: names.count(name) for name in WARNINGS[above]}
    none = Outside(above, edge_c, warnings)
    if since_s is None:
        return none
    readings = [
        (value, at_s)
        for at_s, value in zip(seen.times_s, seen.recorded_c, strict=True)
        if at_s >= since_s
    ]
    if not readings:
        return none
    extreme_c, extreme_s = (max if above else min)(readings, key=lambda one: one[0])
    count = sum(value > edge_c if above else value < edge_c for value, _ in readings)
    return Outside(above, edge_c, warnings, count * seen.step_s, extreme_c, extreme_s)


def outside_words(one: Outside, uncertainty_c: float | None) -> str:
    """What sounded and what was recorded, as one sentence; empty if that is nothing.

    ``uncertainty_c`` is how far a reading may be off (k = 2), None if that is not known.
    """
    if one.silent:
        return ""
    edge = degrees_words(one.edge_c)
    warned = _warned(one, edge)
    side = "above" if one.above else "below"
    farthest = "highest" if one.above else "lowest"
    if not one.seconds:
        if one.extreme_c is None:
            return f"{warned}."
        return f"{warned}, in time: the {farthest} reading is {degrees_words(one.extreme_c)}."
    side += "" if edge in warned else f" {edge}"
    told = f"{seconds_words(one.seconds)} in all, "
    if one.beyond_c < SHOWN_C:
        told += f"less than {difference_words(2 * SHOWN_C)} {side}"
    else:
        told = f"{farthest} {degrees_words(one.extreme_c or one.edge_c)}, {told}"
        told += f"{difference_words(one.beyond_c)} {side}"
    if uncertainty_c is not None and one.beyond_c <= uncertainty_c:
        told += f": less than this probe can tell ({uncertainty_words(uncertainty_c)})"
    return f"{warned or 'It left the window without a warning'}; {told}."


def _warned(one: Outside, edge: str) -> str:
    said = []
    if left := one.warned - one.warnings.get("temper_lost", 0):
        said.append(f"{_times(left)} of {'rising above' if one.above else 'falling below'} {edge}")
    if lost := one.warnings.get("temper_lost", 0):
        said.append(f"{_times(lost)} that its crystals melt")
    return f"Warned {' and '.join(said)}" if said else ""


def _times(count: int) -> str:
    return _TIMES[count] if count < len(_TIMES) else f"{count} times"

"""What a recorded batch shows, in one plain sentence.

Only what the record proves: alarms the board raised, readings it kept, and what the person
said of the test blade. A right temperature is not yet temper, so without the result of a
dip test the verdict stays open.
"""

from snapcurve.curves import Curve
from wire.catalogue import ALARMS


def _first(curve: Curve, alarm: str, phase: str | None = None) -> float | None:
    assert alarm in ALARMS
    for event in curve.alarms:
        if event.name == alarm and phase in (None, event.phase):
            return event.offset_ms / 60000
    return None


def _count(curve: Curve, alarm: str) -> int:
    return sum(event.name == alarm for event in curve.alarms)


RESULTS = {
    "passed": "In temper: the blade set without a mark",
    "failed": "Not in temper: the blade took a mark when it was due",
    "set_early": "Not in temper: the blade set too soon, there are too many crystals",
}


def verdict(curve: Curve, method: str) -> str:
    """One sentence on the batch; ``method`` as in catalogue.METHODS."""
    parts = []
    if method != "hold":
        melted_min = _first(curve, "reached", "melt")
        if melted_min is None:
            return "Not in temper: the record never shows it melted through."
        parts.append(f"melted through at {melted_min:.0f} min")
    if _count(curve, "too_hot"):
        return f"Too hot: {', '.join([*parts, 'it went above what this couverture bears'])}."
    worked_min = _first(curve, "reached", "work")
    if worked_min is None:
        return f"Not in temper: {', '.join([*parts, 'it never stood in the working window'])}."
    parts.append(f"in the window at {worked_min:.0f} min")
    left = _count(curve, "too_cool") + _count(curve, "too_warm")
    parts.append(f"left it {left} times" if left != 1 else "left it once")
    if not left:
        parts[-1] = "never left it"
    return f"{_test_words(curve)}: {', '.join(parts)}."


def _test_words(curve: Curve) -> str:
    """What the dip tests say of the batch; the newest result counts."""
    marks = [event for event in curve.events if event.kind == "mark"]
    told = [event for event in marks if event.name in RESULTS]
    if told:
        after_ms = told[-1].offset_ms
        lost = any(a.name == "temper_lost" and a.offset_ms > after_ms for a in curve.alarms)
        after = ", but it was warmed out of its temper later" if lost else ""
        return f"{RESULTS[told[-1].name]}{after}"
    if not any(event.name == "dip_test" for event in marks):
        return "Temper not proved, no dip test was marked"
    if _first(curve, "test_due") is None:
        return "Temper not proved, the dip test was not waited for"
    return "Temperatures as the profile asks and a dip test made, its result not told"

"""Test blades: what was told of each, and which dip it was."""

import math
from dataclasses import dataclass

from snapcurve.recording.curve import Curve
from snapcurve.recording.dips import dip_numbers, dips_with_results
from snapcurve.recording.event_words import RESULT_WORDS
from snapcurve.recording.known_spans import Known


@dataclass(frozen=True)
class BladeResult:
    """What a test blade showed; ``at_s`` is when it was dipped, or when its result was told
    (offset in the curve); ``said`` the result in words, if there is more to it than passed.
    ``number`` is that of the dip, 0: of the last one before ``at_s``."""

    at_s: float
    passed: bool
    said: str = ""
    number: int = 0


@dataclass(frozen=True)
class DipTest:
    """A test that was marked: ``chocolate_c`` None if unknown; ``waited``: until it was due."""

    number: int
    at_s: float
    chocolate_c: float | None
    in_window: bool | None
    waited: bool
    result: BladeResult | None


def told(curve: Curve) -> list[BladeResult]:
    """What was told to the board of test blades, by the button or ``snapcurve mark``."""
    return [
        BladeResult(
            event.offset_ms / 1000,
            event.name == "passed",
            "" if event.name == "passed" else RESULT_WORDS[event.name],
            event.number,
        )
        for event in curve.events
        if event.kind == "mark" and event.name in RESULT_WORDS
    ]


def dip_tests(
    curve: Curve,
    seen: Known,
    window: tuple[float, float] | None,
    edge_c: float,
    blades: list[BladeResult],
) -> list[DipTest]:
    """Each dip of ``curve`` with the newest of the ``blades`` that are about it; up to ``edge_c``
    beyond the ``window`` counts as in it."""
    marks = [event for event in curve.events if event.kind == "mark" and event.name == "dip_test"]
    starts = [event.offset_ms / 1000 for event in marks]
    numbers = dip_numbers([event.number for event in marks])
    about = dips_with_results(
        list(zip(starts, numbers, strict=True)), [(blade.at_s, blade.number) for blade in blades]
    )
    ends = [*starts, math.inf][1:]
    tests = []
    for index, (event, at_s, until_s) in enumerate(zip(marks, starts, ends, strict=True)):
        chocolate_c = event.estimate_c
        if chocolate_c is None:
            chocolate_c = seen.at(at_s)
        inside = None
        if chocolate_c is not None and window is not None:
            inside = window[0] - edge_c <= chocolate_c <= window[1] + edge_c
        due = any(
            alarm.name == "test_due" and at_s < alarm.offset_ms / 1000 <= until_s
            for alarm in curve.alarms
        )
        result = blades[about[index][-1]] if about[index] else None
        tests.append(DipTest(numbers[index], at_s, chocolate_c, inside, due, result))
    return tests

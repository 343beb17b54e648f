"""Dip tests of a record: each dip, what sounded meanwhile, and what its blade showed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from snapcurve.recording.curve import Curve
from snapcurve.recording.dips import dip_numbers, dips_with_results
from snapcurve.recording.event_words import RESULT_WORDS

TEST_ALARMS = ("test_early", "test_due", "test_late")


@dataclass(frozen=True)
class BladeResult:
    """What a test blade showed; ``at_s`` is when it was dipped or when its result was noted
    (offset in the curve), ``detail`` more than that it passed. ``number`` is that of the dip,
    0: of the last one before ``at_s``."""

    at_s: float
    passed: bool
    detail: str = ""
    number: int = 0

    @property
    def words(self) -> str:
        """The result in words."""
        result = "passed" if self.passed else "failed"
        if not self.detail:
            return RESULT_WORDS[result]
        return self.detail if self.detail in RESULT_WORDS.values() else f"{result}, {self.detail}"


@dataclass(frozen=True)
class DipTest:
    """A dip that was marked, up to ``end_s``: its last sound, else its result, else when it
    should have been due. ``early_s`` and ``due_s`` are when the board said so; ``chocolate_c``
    is what it took the chocolate for. None: not known."""

    number: int
    at_s: float
    end_s: float
    early_s: float | None
    due_s: float | None
    chocolate_c: float | None = None
    result: BladeResult | None = None
    in_window: bool | None = None

    @property
    def waited(self) -> bool:
        """Whether the blade was left until the board said that it was due."""
        return self.due_s is not None


def results_on_board(curve: Curve) -> list[BladeResult]:
    """What was marked on the board, by its button or ``snapcurve mark``."""
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
    curve: Curve, due_after_s: float, end_s: float, filed: Sequence[BladeResult] = ()
) -> list[DipTest]:
    """Each dip of ``curve``, which lasts until ``end_s``, with the newest result about it.

    Results in ``filed`` were noted beside the record and count before those on the board.
    ``due_after_s`` is when the profile expects a blade to be set, 0 if that is not known.
    """
    results = [*results_on_board(curve), *filed]
    marks = [event for event in curve.events if event.kind == "mark" and event.name == "dip_test"]
    starts = [event.offset_ms / 1000 for event in marks]
    numbers = dip_numbers([event.number for event in marks])
    about = dips_with_results(
        list(zip(starts, numbers, strict=True)), [(one.at_s, one.number) for one in results]
    )
    sounds = [(event.offset_ms / 1000, event.name) for event in curve.alarms]
    tests = []
    for index, (at_s, next_s) in enumerate(zip(starts, [*starts, math.inf][1:], strict=True)):
        heard = {name: sound_s for sound_s, name in sounds if at_s < sound_s <= next_s}
        result = results[about[index][-1]] if about[index] else None
        due_s = heard.get("test_due")
        last_s = heard.get("test_late", due_s)
        if last_s is None:
            last_s = at_s + due_after_s if result is None else result.at_s
            last_s = min(next_s, end_s, last_s)
        tests.append(
            DipTest(
                numbers[index],
                at_s,
                last_s,
                heard.get("test_early"),
                due_s,
                marks[index].estimate_c,
                result,
            )
        )
    return tests

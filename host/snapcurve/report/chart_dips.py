"""Dip tests on a chart: how long each ran, what sounded meanwhile, what it showed."""

from dataclasses import dataclass, field

from snapcurve.recording.curve import Event
from snapcurve.recording.dips import dip_numbers, dips_with_results
from snapcurve.recording.event_words import RESULT_WORDS

TEST_ALARMS = ("test_early", "test_due", "test_late")


@dataclass(frozen=True)
class DipTest:
    """From the dip to ``end_s``; the sounds that came meanwhile, None where none did."""

    start_s: float
    end_s: float
    early_s: float | None
    due_s: float | None
    result: str | None = None
    """A word of RESULT_WORDS, if it was told."""
    number: int = field(default=0, compare=False)
    """Of the dip, from 1 on in each curve."""


def dip_tests(events: list[Event], due_after_s: float, end_s: float) -> list[DipTest]:
    """Each dip test up to its last sound or its result.

    Without either it lasts until it should have been due (``due_after_s``, 0: not
    known, then until it began), a new dip, or ``end_s``.
    """
    marks = [event for event in events if event.kind == "mark"]
    dipped = [event for event in marks if event.name == "dip_test"]
    marked = [event for event in marks if event.name in RESULT_WORDS]
    sounds = [(event.offset_ms / 1000, event.name) for event in events]
    starts = [event.offset_ms / 1000 for event in dipped]
    numbers = dip_numbers([event.number for event in dipped])
    about = dips_with_results(
        list(zip(starts, numbers, strict=True)),
        [(event.offset_ms / 1000, event.number) for event in marked],
    )
    tests = []
    for index, (start_s, until_s) in enumerate(zip(starts, [*starts, end_s][1:], strict=True)):
        heard = {
            name: at_s
            for at_s, name in sounds
            if name in TEST_ALARMS and start_s < at_s <= until_s
        }
        due_s = heard.get("test_due")
        last = marked[about[index][-1]] if about[index] else None
        last_s = heard.get("test_late", due_s)
        if last_s is None and last is not None:
            last_s = min(until_s, last.offset_ms / 1000)
        elif last_s is None:
            last_s = min(until_s, start_s + due_after_s)
        result = None if last is None else last.name
        tests.append(
            DipTest(start_s, last_s, heard.get("test_early"), due_s, result, numbers[index])
        )
    return tests

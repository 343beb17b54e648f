"""The strips above the plot: their blocks and the words that fit into them, in points."""

from dataclasses import dataclass

from snapcurve.recording.event_words import RESULT_WORDS
from snapcurve.recording.phases import PhaseSpan
from snapcurve.report.chart_content import Content
from snapcurve.report.chart_dips import DipTest
from snapcurve.report.chart_words import Measure

TEXT_PT = 11.0
INSET_PT = 4.0


@dataclass(frozen=True)
class RowWord:
    """``words`` with their left edge at ``x``; ``above``: over the strip, not in it."""

    words: str
    x: float
    width: float
    above: bool = False


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 60 else f"{seconds:.0f} s"


def phase_words(
    spans: list[PhaseSpan], end_s: float, width: float, measure: Measure
) -> list[RowWord]:
    """Name and length of each phase where the block is wide enough, else the name; over
    the strip where even that does not fit, side by side."""
    words: list[RowWord] = []
    above_until = 0.0
    for span in spans:
        left, right = span.start_s / end_s * width, span.end_s / end_s * width
        for text in (f"{span.kind}, {_minutes(span.end_s - span.start_s)}", span.kind):
            wide = measure(text, TEXT_PT)
            if wide + 2 * INSET_PT <= right - left:
                words.append(RowWord(text, (left + right - wide) / 2, wide))
                break
        else:
            wide = measure(span.kind, TEXT_PT)
            x = max((left + right - wide) / 2, above_until)
            above_until = x + wide + 2 * INSET_PT
            words.append(RowWord(span.kind, x, wide, above=True))
    return words


def dip_words(
    test: DipTest, next_s: float, end_s: float, width: float, measure: Measure
) -> list[RowWord]:
    """Words within the blocks of one dip test, and behind it up to ``next_s``."""
    scale = width / end_s
    words: list[RowWord] = []
    early_s = test.early_s if test.early_s is not None else test.end_s
    blocks = [(test.start_s, early_s, "too early")]
    if test.early_s is not None:
        blocks.append((early_s, test.due_s or test.end_s, "wait"))
    for start_s, until_s, text in blocks:
        wide = measure(text, TEXT_PT)
        if wide + 2 * INSET_PT <= (until_s - start_s) * scale:
            words.append(RowWord(text, (start_s + until_s) / 2 * scale - wide / 2, wide))
    text = "due" if test.result is None else RESULT_WORDS[test.result]
    if test.due_s is not None or test.result is not None:
        start_s = test.end_s if test.due_s is None else test.due_s
        wide = measure(text, TEXT_PT)
        x = start_s * scale + 8
        if x + wide + INSET_PT <= min(next_s * scale, width):
            words.append(RowWord(text, x, wide))
    return words


def dip_row_words(content: Content, width: float, measure: Measure) -> list[RowWord]:
    """The words of all dip tests."""
    starts = [test.start_s for test in content.dip_tests]
    words = []
    for test, next_s in zip(content.dip_tests, [*starts, content.end_s][1:], strict=True):
        words += dip_words(test, next_s, content.end_s, width, measure)
    return words

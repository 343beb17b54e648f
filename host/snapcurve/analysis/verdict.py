"""From the timeline to a verdict in one sentence, reasons, and answers to complaints."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from snapcurve.analysis.complaints import Cause, Complaint
from snapcurve.analysis.signs import (
    Signs,
    State,
    outside_words,
    signs_of,
)
from snapcurve.notebook.vocabulary import WHY_A_MISTAKE
from snapcurve.recording.clock import Clock, minutes
from snapcurve.recording.curve import Curve
from snapcurve.recording.dip_tests import BladeResult, DipTest
from snapcurve.recording.parts import Joined
from snapcurve.recording.timeline import Timeline, timeline_of
from snapcurve.shown.units import PLAIN, Style, seconds_words

WINDOW_SHARE = 0.5  # an uncertainty of so much of the window makes its edges questionable
ORDER = ("shown", "uncertain", "cannot say", "not shown")


class Answer(NamedTuple):
    """What the record says about one cause; "cannot say" where no curve could."""

    cause: Cause
    state: State | Literal["cannot say"]
    reason: str


@dataclass(frozen=True)
class Judgement:
    """``verdict`` is one sentence, one more for each side on which the window was left or a
    warning sounded, and one that names all records of a batch that is in parts. ``proved`` None
    while no blade has a result that holds.

    ``blades`` is a sentence for each test blade. ``reasons`` follow the batch from melting to
    the last of them, ``holes`` say when nothing was recorded, ``cautions`` what limits all of it.
    """

    verdict: str
    proved: bool | None
    blades: tuple[str, ...]
    reasons: tuple[str, ...]
    holes: tuple[str, ...]
    cautions: tuple[str, ...]
    timeline: Timeline
    signs: Signs

    @property
    def short(self) -> str:
        """The verdict in two or three words, such as "in temper"."""
        return re.split("[,:]", self.verdict, maxsplit=1)[0].lower()

    @property
    def records(self) -> tuple[str, ...]:
        """The codes of all records of the batch, in order, as far as they are known."""
        return tuple(code for code in self.timeline.joined.codes if code)

    def about(self, complaint: Complaint) -> list[Answer]:
        """What the record says about each cause of ``complaint``, what is shown first."""
        answers = []
        for cause in complaint.causes:
            if cause.sign is None:
                answers.append(Answer(cause, "cannot say", "The curve cannot say."))
            else:
                answers.append(Answer(cause, *getattr(self.signs, cause.sign)))
        return sorted(answers, key=lambda answer: ORDER.index(answer.state))


def judge(
    record: Curve | Joined,
    blades: Sequence[BladeResult] = (),
    clock: Clock | None = None,
    uncertainty_c: float | None = None,
    style: Style = PLAIN,
) -> Judgement:
    """Judge a decoded curve, or one that was put together, in words of ``style``.

    ``blades`` are results of test blades that were noted beside the record; ``uncertainty_c`` is
    the expanded uncertainty (k = 2) of the temperatures, None if it is not known.
    """
    timeline = timeline_of(record, blades, uncertainty_c, clock)
    joined, clock = timeline.joined, timeline.clock
    signs = signs_of(timeline, clock, style)
    proved = _proved(timeline, signs)
    tests = tuple(_test_words(test, clock, style) for test in timeline.dip_tests)
    return Judgement(
        verdict=" ".join([_verdict(timeline, signs, proved, style), *_other_records(joined)]),
        proved=proved,
        blades=tests,
        reasons=tuple(_reasons(timeline, signs, tests, style)),
        holes=tuple(_holes(joined, clock)),
        cautions=tuple(_cautions(timeline, style)),
        timeline=timeline,
        signs=signs,
    )


def _other_records(joined: Joined) -> list[str]:
    """Sentences that name the records of a batch that was cut, as far as they are known."""
    sentences = []
    if len(joined.codes) > 1:
        sentences.append(f"Its record is in {len(joined.codes)} parts: {', '.join(joined.codes)}.")
    if joined.continues:
        missing = ", which is not in the notebook" if joined.codes[0] else ""
        sentences.append(f"It goes on with curve {joined.continues} of this board{missing}.")
    elif joined.continues is not None:
        sentences.append("It goes on with a batch of which the board could keep no record.")
    return sentences


def _holes(joined: Joined, clock: Clock) -> list[str]:
    sentences = []
    if clock.from_later_part:
        sentences.append("When it began follows from a later part of its record.")
    for hole in joined.holes:
        length = f"for an unknown time, taken as {minutes(hole.length_s)}"
        if hole.known:
            length = f"for {seconds_words(hole.length_s)}"
        when = clock.at(hole.at_s)
        sentences.append(
            f"The board restarted {when} and recorded nothing {length}."
            if hole.restart
            else f"With the probe outside the recording ended {when}, and nothing was recorded "
            f"{length}."
        )
    return sentences


def _proved(timeline: Timeline, signs: Signs) -> bool | None:
    results = [test.result for test in timeline.dip_tests if test.result is not None]
    if not results:
        return None
    if not results[-1].passed:
        return False
    return True if signs.unproved.state == "not shown" else None


def _verdict(timeline: Timeline, signs: Signs, proved: bool | None, style: Style) -> str:
    if timeline.mistake:
        return f"Started by mistake: the record has {WHY_A_MISTAKE}."
    if timeline.method == "cup":
        return "A cooling-curve test: 'snapcurve show' gives its slope."
    if timeline.window_c is None:
        return "Nothing to judge by: this record has no profile with a working window."
    if not timeline.known.times_s and timeline.entered_s is None:
        return "Nothing to judge by: the record has no settled reading."
    sides = [side for side in (timeline.above, timeline.below) if side is not None]
    outside = [outside_words(side, timeline.uncertainty_c, style) for side in sides]
    outside = [sentence for sentence in outside if sentence]
    parts = []
    if timeline.melted_s is not None:
        parts.append(f"melted through at {timeline.melted_s / 60:.0f} min")
    if timeline.entered_s is not None:
        parts.append(f"in the window at {timeline.entered_s / 60:.0f} min")
        if not outside:
            parts.append(
                "not seen to leave it" if timeline.work_hidden_s > 60 else "never left it"
            )
    if signs.not_melted.state == "uncertain" and timeline.melt_c is not None:
        parts.append("whether it melted through is uncertain")
    if timeline.breaks_off and timeline.entered_s is None:
        parts.append("the record breaks off before it was seen in the working window")
    tested = "A coating, which needs no temper"
    if timeline.method != "coating":
        tested = _by_tests(timeline, proved)
    head, why = _failing(timeline, signs, proved, style) or (tested, "")
    if signs.not_melted.state == "shown" and head == "Not in temper":
        parts = []
    parts += [why] if why else []
    return " ".join([f"{head}: {', '.join(parts)}.", *outside])


def _failing(
    timeline: Timeline, signs: Signs, proved: bool | None, style: Style
) -> tuple[str, str] | None:
    """What no test blade could make good."""
    if signs.scorched.state == "shown":
        return "Too hot", "it went above what this couverture bears"
    if signs.not_melted.state == "shown":
        return "Not in temper", "the record does not show it melted through"
    if signs.not_in_window.state == "shown":
        return "Not in temper", "it was not seen in the working window"
    return _lost(timeline, proved, style)


def _lost(timeline: Timeline, proved: bool | None, style: Style) -> tuple[str, str] | None:
    gone, last_c = timeline.crystals_gone, timeline.crystals_last_to_c
    if gone is None or last_c is None or proved is not None:
        return None
    seeded = [one for one in timeline.curve.alarms if (one.name, one.phase) == ("reached", "work")]
    if any(one.offset_ms / 1000 > gone.at_s for one in seeded):
        return None  # it came into the window anew
    return "Temper lost", (
        f"its crystals melt above {style.degrees_words(last_c)} and it was there for "
        f"{minutes(gone.seconds)}; seed it again, then dip a new blade"
    )


def _by_tests(timeline: Timeline, proved: bool | None) -> str:
    if proved is not None:
        if proved:
            return "In temper, proved by the test blade"
        return "Not in temper, the test blade failed"
    if not timeline.dip_tests:
        part = " in this part of the batch" if timeline.starts_before else ""
        return f"Temper not proved, no dip test was marked{part}"
    if any(test.result for test in timeline.dip_tests):
        return (
            "Temper not proved any more, it went above the window after the test blade and needs "
            "a new one"
        )
    if not any(test.waited for test in timeline.dip_tests):
        return "Temper not proved, the dip test was not waited for"
    return "Temper not proved, a dip test was made but what it showed was not noted"


def _reasons(timeline: Timeline, signs: Signs, tests: Sequence[str], style: Style) -> list[str]:
    if timeline.mistake or timeline.window_c is None or timeline.method == "cup":
        return []
    reasons = []
    if timeline.melt_c is not None:
        text = signs.not_melted.reason
        if timeline.melted_s is not None:
            text += f" At or above {style.degrees_words(timeline.melt_c)} it was seen for "
            text += f"{minutes(timeline.above_melt_s)}; while melting the probe was out or "
            text += f"settling for {minutes(timeline.melt_hidden_s)}, and what the chocolate did "
            text += "then is not known."
        reasons.append(text)
    reasons.append(signs.scorched.reason)
    if timeline.descent_start_s is not None:
        reasons += [signs.fell_fast.reason, signs.undercut.reason]
    reasons.append(signs.not_in_window.reason)
    if timeline.entered_s is not None:
        reasons += [signs.worked_warm.reason, signs.worked_cool.reason, signs.held_long.reason]
        if timeline.work_hidden_s > 15:
            reasons.append(
                f"For {minutes(timeline.work_hidden_s)} of that the probe was out, settling or "
                "without a reading: uncertain, and counted neither in nor out."
            )
    if not tests or signs.unproved.state == "uncertain":  # else the blades have said it
        tests = [*tests, signs.unproved.reason]
    return [*reasons, *tests]


def _test_words(test: DipTest, clock: Clock, style: Style) -> str:
    where = "at an unknown temperature"
    if test.chocolate_c is not None:
        side = "in" if test.in_window else "outside"
        where = f"at {style.degrees_words(test.chocolate_c)}, {side} the window"
    waited = "waited for" if test.waited else "not waited for"
    showed = "what it showed was not noted"
    if test.result is not None:
        showed = "it passed" if test.result.passed else "it failed"
        showed += f": {test.result.detail}" if test.result.detail else ""
    return (
        f"Test blade {test.number} was dipped {clock.at(test.at_s)} {where}, and {waited}; "
        f"{showed}."
    )


def _cautions(timeline: Timeline, style: Style) -> list[str]:
    curve, cautions, uncertainty_c = timeline.curve, [], timeline.uncertainty_c
    if uncertainty_c is None:
        cautions.append("How far these temperatures can be trusted is not known.")
    elif timeline.window_c is not None:
        width_c = timeline.window_c[1] - timeline.window_c[0]
        if uncertainty_c > WINDOW_SHARE * width_c:
            cautions.append(
                f"The probe may be off by {style.uncertainty(uncertainty_c)}, and the window is "
                f"{style.difference_words(width_c)} wide: calibrate it before you trust "
                "what is said here about its edges."
            )
    lost_s = sum(
        end - start
        for start, end, why in timeline.known.hidden
        if why in ("no reading", "settling")
    )
    if lost_s > 30:
        cautions.append(f"For {minutes(lost_s)} there was no settled reading at all.")
    if curve.lost_blocks:
        cautions.append(f"{curve.lost_blocks} blocks of the record are lost.")
    if curve.end_reason is None:
        cautions.append("The record has no end: the board lost power, or it is cut off.")
    return cautions

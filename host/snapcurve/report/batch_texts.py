"""A batch for the terminal and for a script: its verdict, its cup, its column beside others.

Lines and columns are in the person's units; data for a script always in °C and s.
"""

import textwrap
from collections.abc import Callable
from typing import Any, NotRequired, TypedDict

from snapcurve.analysis.complaints import Complaint
from snapcurve.analysis.cup_reading import CupReading
from snapcurve.analysis.cup_temper import ONLY_COCOA_BUTTER, place_words
from snapcurve.analysis.verdict import Judgement
from snapcurve.notebook.allergens import of
from snapcurve.notebook.descriptions import allergen_words, value_words
from snapcurve.notebook.records import AmendedBatch
from snapcurve.recording.dip_tests import DipTest
from snapcurve.recording.event_words import ENDS
from snapcurve.recording.timeline import Numbers, Timeline, rounded
from snapcurve.report.batch_list import outcome_words
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style

WIDTH = 92
_SUMMARY: tuple[tuple[str, Callable[[Judgement], Any]], ...] = (
    ("verdict", lambda one: one.verdict),
    ("further records", lambda one: " ".join(one.records[1:])),
    ("melted through (s)", lambda one: rounded(one.timeline.melted_s)),
    ("in the window (s)", lambda one: rounded(one.timeline.entered_s)),
    ("ended (s)", lambda one: rounded(one.timeline.end_s)),
    ("stays above", lambda one: _stays(one.timeline)[0]),
    ("above the window (s)", lambda one: rounded(one.timeline.above_window_s)),
    ("highest above (°C)", lambda one: rounded(one.timeline.highest_outside_c)),
    ("warned above", lambda one: one.timeline.warned_above),
    ("stays below", lambda one: _stays(one.timeline)[1]),
    ("below the window (s)", lambda one: rounded(one.timeline.below_window_s)),
    ("lowest below (°C)", lambda one: rounded(one.timeline.lowest_outside_c)),
    ("warned below", lambda one: one.timeline.warned_below),
    ("dip tests", lambda one: "\n".join(map(_dip_words, one.timeline.dip_tests))),
)
PROVED = {True: "yes", False: "no, it failed", None: "no"}


class PhaseData(TypedDict):
    """A phase that ran; temperatures None without a settled reading."""

    phase: str
    start_s: float
    end_s: float
    lowest_c: float | None
    highest_c: float | None
    last_c: float | None


class ExcursionData(TypedDict):
    """A stay outside the window by the board's own rule (wire.window); ``side`` is above or
    below, ``seconds`` were recorded beyond the edge, ``sure`` if farther than the readings may
    be off."""

    start_s: float
    end_s: float
    seconds: float
    extreme_c: float
    side: str
    sure: bool | None


class UnknownData(TypedDict):
    """Nothing is known of the chocolate, and why."""

    start_s: float
    end_s: float
    why: str


class DipTestData(TypedDict):
    """A dip test; None: not known."""

    number: int
    at_s: float
    chocolate_c: float | None
    in_window: bool | None
    waited: bool
    passed: bool | None
    result: str | None


class SignData(TypedDict):
    """Whether a sign is shown, and why."""

    state: str
    reason: str


class AnswerData(SignData):
    """What the record says of a cause, and how to find out."""

    cause: str
    check: str
    source: str


class ComplaintData(TypedDict):
    """A complaint with an answer for each of its causes."""

    id: str
    answers: list[AnswerData]


class VerdictData(TypedDict):
    """A judgement; ``complaint`` if one was asked about."""

    records: list[str]
    verdict: str
    proved: bool | None
    reasons: list[str]
    cautions: list[str]
    facts: Numbers
    phases: list[PhaseData]
    ended_s: float
    ended: str
    unknown: list[UnknownData]
    excursions: list[ExcursionData]
    dip_tests: list[DipTestData]
    signs: dict[str, SignData]
    complaint: NotRequired[ComplaintData]


class CupData(TypedDict):
    """A cup; ``limits_c_per_min`` None while too few good cups are known."""

    cup: str
    batch: str | None
    slope_c_per_min: float
    slope_uncertainty_c_per_min: float
    uncertainty_c_per_min: float
    cools_per_min: float
    at_s: float
    temperature_c: float
    noise_c: float
    half_window_s: float
    temper: str | None
    limits_c_per_min: list[float] | None
    good_cups: list[str]
    sentence: str


def cup_lines(reading: CupReading, style: Style) -> list[str]:
    """Slope, temper, where the slope lies, and the batch it belongs to."""
    sentences = [reading.verdict.sentence, place_words(reading.inflection, style)]
    if reading.other:
        cups = "1 good cup" if reading.other == 1 else f"{reading.other} good cups"
        sentences.append(
            f"{cups} with another probe, cup, sample or water do not count: their slopes are not "
            "to be compared."
        )
    if reading.batch is not None:
        sentences.append(
            f"Taken to be of batch {reading.batch.code}, the newest of this couverture before it."
        )
    sentences.append(ONLY_COCOA_BUTTER)
    return [textwrap.fill(sentence, WIDTH) for sentence in sentences]


def cup_data(reading: CupReading) -> CupData:
    """The same for a script."""
    inflection, limits = reading.inflection, reading.verdict.limits
    return {
        "cup": reading.code,
        "batch": None if reading.batch is None else reading.batch.code,
        "slope_c_per_min": round(inflection.slope_c_per_min, 3),
        "slope_uncertainty_c_per_min": round(inflection.slope_uncertainty_c_per_min, 3),
        "uncertainty_c_per_min": round(reading.verdict.uncertainty_c_per_min, 3),
        "cools_per_min": round(inflection.cools_per_min, 4),
        "at_s": inflection.at_s,
        "temperature_c": round(inflection.temperature_c, 2),
        "noise_c": round(inflection.noise_c, 4),
        "half_window_s": inflection.half_window_s,
        "temper": reading.verdict.temper,
        "limits_c_per_min": None
        if limits is None
        else [round(limits.low_c_per_min, 3), round(limits.high_c_per_min, 3)],
        "good_cups": list(reading.good),
        "sentence": reading.verdict.sentence,
    }


def column(one: AmendedBatch, judgement: Judgement, style: Style) -> dict[str, str]:
    """What stands in each row, by the row's name."""
    timeline, now = judgement.timeline, one.now

    def degrees(value_c: float | None) -> str:
        return "unknown" if value_c is None else style.temperature(value_c)

    def minutes(seconds: float | None) -> str:
        return "unknown" if seconds is None else f"{style.number(seconds / 60, 1)} min"

    def seconds(length_s: float) -> str:
        """Also a few of them: a reading outside is not to be rounded away."""
        return f"{length_s:.0f} s" if length_s < 120 else minutes(length_s)

    rate = timeline.descent_rate_c_per_min
    return {
        "batch": now.code,
        "couverture": on_one_line(now.couverture),
        "method": now.method,
        "operator": value_words("operator", now.operator, style),
        "room": value_words("room_centi_c", now.room_centi_c, style),
        "mass": value_words("mass_mg", now.mass_mg, style),
        "lots": ", ".join(on_one_line(lot.lot) for lot in now.lots) or "not recorded",
        "allergens": allergen_words(of(one), reasons=False),
        "melted through at": minutes(timeline.melted_s),
        "hottest": degrees(timeline.peak_c),
        "fall into the window": "unknown" if rate is None else style.rate(-rate, 2),
        "lowest before it": degrees(timeline.lowest_before_c),
        "in the window at": minutes(timeline.entered_s),
        "time within": minutes(timeline.in_window_s),
        "time above": seconds(timeline.above_window_s),
        "time below": seconds(timeline.below_window_s),
        "stays above, below": ", ".join(map(str, _stays(timeline))),
        "warned above, below": f"{timeline.warned_above}, {timeline.warned_below}",
        "proved by a blade": PROVED[judgement.proved],
        "outcomes": outcome_words(one) or "not recorded",
    }


def _stays(timeline: Timeline) -> tuple[int, int]:
    above = sum(run.above for run in timeline.excursions)
    return above, len(timeline.excursions) - above


def summary(judgement: Judgement | None) -> dict[str, Any]:
    """What the record of a batch says, as columns of a table: °C and s; empty if it cannot be
    read."""
    return {name: None if judgement is None else value(judgement) for name, value in _SUMMARY}


def _dip_words(test: DipTest) -> str:
    showed = "not noted" if test.result is None else test.result.words
    return f"{test.number} at {test.at_s:g} s: {showed}"


def verdict_data(judgement: Judgement, complaint: Complaint | None = None) -> VerdictData:
    """Verdict, reasons, timeline and signs; with a complaint what the record says of its
    causes."""
    timeline = judgement.timeline
    data: VerdictData = {
        "records": list(judgement.records),
        "verdict": judgement.verdict,
        "proved": judgement.proved,
        "reasons": list(judgement.reasons),
        "cautions": [*judgement.holes, *judgement.cautions],
        "facts": judgement.timeline.numbers(),
        "phases": [
            {
                "phase": phase.kind,
                "start_s": phase.start_s,
                "end_s": phase.end_s,
                "lowest_c": rounded(phase.lowest_c),
                "highest_c": rounded(phase.highest_c),
                "last_c": rounded(phase.last_c),
            }
            for phase in timeline.phases
        ],
        "ended_s": timeline.end_s,
        "ended": ENDS.get(timeline.curve.end_reason, str(timeline.curve.end_reason)),
        "unknown": [
            {"start_s": one.start_s, "end_s": one.end_s, "why": one.why}
            for one in timeline.unknown
        ],
        "excursions": [
            {
                "start_s": run.start_s,
                "end_s": run.end_s,
                "seconds": round(run.seconds, 2),
                "extreme_c": round(run.extreme_c, 2),
                "side": "above" if run.above else "below",
                "sure": run.sure,
            }
            for run in judgement.timeline.excursions
        ],
        "dip_tests": [
            {
                "number": test.number,
                "at_s": test.at_s,
                "chocolate_c": rounded(test.chocolate_c),
                "in_window": test.in_window,
                "waited": test.waited,
                "passed": None if test.result is None else test.result.passed,
                "result": None if test.result is None else test.result.words,
            }
            for test in judgement.timeline.dip_tests
        ],
        "signs": {
            name: {"state": sign.state, "reason": sign.reason}
            for name, sign in judgement.signs._asdict().items()
        },
    }
    if complaint is not None:
        data["complaint"] = _complaint_data(judgement, complaint)
    return data


def _complaint_data(judgement: Judgement, complaint: Complaint) -> ComplaintData:
    return {
        "id": complaint.id,
        "answers": [
            {
                "cause": answer.cause.words,
                "state": answer.state,
                "reason": answer.reason,
                "check": answer.cause.check,
                "source": answer.cause.source,
            }
            for answer in judgement.about(complaint)
        ],
    }

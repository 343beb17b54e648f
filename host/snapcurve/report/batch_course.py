"""The course of a batch as a table: what happened when, at which temperature."""

from collections.abc import Iterator

from snapcurve.recording.clock import minutes
from snapcurve.recording.dip_tests import DipTest
from snapcurve.recording.event_words import ENDS
from snapcurve.recording.outside import Excursion
from snapcurve.recording.timeline import Timeline
from snapcurve.shown.plain_text import on_one_line
from snapcurve.shown.units import Style, seconds_words

HEAD = ("what", "into it", "time", "chocolate", "remark")
STAYS_MOST = 6  # on each side; the last line stands for all others

# when, what, temperature, remark
Moment = tuple[float, str, float | None, str]


def into(seconds: float) -> str:
    """Hours, minutes and seconds since the recording began."""
    whole, rest = divmod(round(seconds), 60)
    hours, whole = divmod(whole, 60)
    return f"{hours}:{whole:02d}:{rest:02d}"


def course_rows(timeline: Timeline, style: Style) -> list[tuple[str, ...]]:
    """A row of HEAD for each moment that counts, in order; empty for a record without samples."""
    if timeline.line is None:
        return []
    rows = sorted(_moments(timeline, style), key=lambda one: one[0])
    return [
        (
            what,
            into(at_s),
            timeline.clock.time_of_day(at_s),
            "—" if at_c is None else style.temperature(at_c),
            remark or "—",
        )
        for at_s, what, at_c, remark in rows
    ]


def _moments(timeline: Timeline, style: Style) -> Iterator[Moment]:
    if timeline.method != "cup":
        yield from _phases(timeline, style)
        for above in (True, False):
            yield from _stays(timeline, above, style)
    for test in timeline.dip_tests:
        yield test.at_s, f"dip test {test.number}", test.chocolate_c, _dip_remark(test)
    for hole in timeline.joined.holes:
        length = seconds_words(hole.length_s) if hole.known else "for an unknown time"
        what = "board off" if hole.restart else "not recorded"
        yield hole.at_s, what, None, f"nothing recorded, {length}"
    end = ENDS.get(timeline.curve.end_reason, on_one_line(str(timeline.curve.end_reason)))
    last_c = timeline.known.recorded_c[-1] if timeline.known.recorded_c else None
    yield timeline.end_s, "ended", last_c, end.removeprefix("ended ")


def _phases(timeline: Timeline, style: Style) -> Iterator[Moment]:
    if timeline.melted_s is not None:
        remark = "highest known"
        if timeline.above_melt_s:
            remark += f"; known at or above {style.degrees_words(timeline.melt_c or 0.0)} for "
            remark += minutes(timeline.above_melt_s)
        yield timeline.melted_s, "melted through", timeline.peak_c, remark
    elif timeline.melt_c is not None and timeline.peak_s is not None:
        remark = f"melting asks for {style.degrees_words(timeline.melt_c)}"
        yield timeline.peak_s, "warmest", timeline.peak_c, remark
    if timeline.too_hot_s is not None:
        limit = style.degrees_words(timeline.never_above_c or 0.0)
        yield timeline.too_hot_s, "too hot", timeline.hottest_c, f"above {limit}"
    for phase in timeline.phases:
        turned = phase.end_s < timeline.end_s and phase.end_s != timeline.entered_s
        if phase.kind in ("cool", "rewarm") and turned:
            done = "cooled" if phase.kind == "cool" else "rewarmed"
            yield phase.end_s, done, phase.last_c, f"in {minutes(phase.end_s - phase.start_s)}"
    if timeline.entered_s is not None:
        parts = []
        if (rate := timeline.descent_rate_c_per_min) is not None:
            parts.append(f"fell by {style.rate(-rate, 1).removeprefix('-')} on the whole")
        if timeline.lowest_before_c is not None:
            parts.append(f"lowest before {style.degrees_words(timeline.lowest_before_c)}")
        parts.append(f"in it for {minutes(timeline.in_window_s)} as far as is known")
        entered_c = timeline.entered_c
        yield timeline.entered_s, "came into the window", entered_c, "; ".join(parts)


def _stays(timeline: Timeline, above: bool, style: Style) -> Iterator[Moment]:
    runs = [run for run in timeline.excursions if run.above == above]
    side = "above" if above else "below"
    shown = runs if len(runs) <= STAYS_MOST else runs[: STAYS_MOST - 1]
    for run in shown:
        sure = "" if run.sure is not False else "; less than the probe can tell"
        remark = f"back after {seconds_words(run.end_s - run.start_s)}{sure}"
        yield run.start_s, f"left it, {side}", run.extreme_c, remark
    if rest := runs[len(shown) :]:
        extreme_c = _farthest(rest, above)
        yield rest[0].start_s, f"{len(rest)} more, {side}", extreme_c, "from here on"


def _farthest(runs: list[Excursion], above: bool) -> float:
    values = [run.extreme_c for run in runs]
    return max(values) if above else min(values)


def _dip_remark(test: DipTest) -> str:
    parts = []
    if test.in_window is not None:
        parts.append("in the window" if test.in_window else "outside the window")
    due = "did not sound" if test.due_s is None else f"sounded at {into(test.due_s)}"
    showed = "result not noted" if test.result is None else test.result.words
    return "; ".join([*parts, f"due {due}", on_one_line(showed)])

"""What the timeline of a batch says for or against each cause that a curve can show.

A sign is "shown", "not shown" or "uncertain": uncertain where the record has holes that
could hide it, or never asked. Each comes with its reason as a sentence with times.
"""

from typing import Literal, NamedTuple

from snapcurve.recording.clock import Clock, minutes
from snapcurve.recording.outside import Outside
from snapcurve.recording.timeline import NEAR_TARGET_C, Timeline
from snapcurve.shown.units import Style, seconds_words
from snapcurve.wire.window import OUTSIDE_C, OUTSIDE_MS

State = Literal["shown", "not shown", "uncertain"]

# Common practice, no source: nothing published gives limits for a bowl.
FAST_C_PER_MIN = 4.0
OUTSIDE_S = 60.0
UNDERCUT_C = 0.5
HELD_LONG_S = 60 * 60.0
MUCH_HIDDEN_S = 180.0  # so much unseen time while it was worked leaves room for doubt
SHOWN_C = 0.05  # a smaller difference would be shown as 0.0
_TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


class Sign(NamedTuple):
    """``reason`` is a sentence."""

    state: State
    reason: str


class Signs(NamedTuple):
    """One for each word that complaints.toml may name as a sign."""

    not_melted: Sign
    scorched: Sign
    fell_fast: Sign
    undercut: Sign
    not_in_window: Sign
    worked_warm: Sign
    worked_cool: Sign
    held_long: Sign
    unproved: Sign


def signs_of(timeline: Timeline, clock: Clock, style: Style) -> Signs:
    """Every sign, in words of ``style``."""

    def outside(side: Outside | None) -> Sign:
        return _outside(timeline, side, clock, style)

    return Signs(
        not_melted=_not_melted(timeline, clock, style),
        scorched=_scorched(timeline, clock, style),
        fell_fast=_fell_fast(timeline, style),
        undercut=_undercut(timeline, clock, style),
        not_in_window=_not_in_window(timeline, clock, style),
        worked_warm=outside(timeline.above),
        worked_cool=outside(timeline.below),
        held_long=_held_long(timeline),
        unproved=_unproved(timeline, clock, style),
    )


def _not_melted(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    if timeline.melt_c is None:
        return Sign(
            "uncertain",
            "This record does not begin with melting, so it cannot say whether it was.",
        )
    peak = style.degrees_words(timeline.melt_c if timeline.peak_c is None else timeline.peak_c)
    if timeline.melted_s is not None:
        return Sign(
            "not shown",
            f"It was melted through {clock.at(timeline.melted_s)}; the highest known temperature "
            f"is {peak}.",
        )
    if timeline.starts_before:
        return Sign("uncertain", "Whether it was melted through stands in an earlier record.")
    if timeline.peak_c is None:
        return Sign("uncertain", "The probe never settled in the chocolate.")
    doubt = ""
    if timeline.breaks_off and timeline.entered_s is None:
        doubt = ", and the record breaks off before it came down"
    elif timeline.melt_c - timeline.peak_c <= NEAR_TARGET_C or _fault_hides(timeline):
        doubt = ", and there is time without a reading before"
    return Sign(
        "uncertain" if doubt else "shown",
        f"The highest known temperature is {peak}, {clock.at(timeline.peak_s or 0)}; "
        f"melting asks for {style.degrees_words(timeline.melt_c)}{doubt}.",
    )


def _fault_hides(timeline: Timeline) -> bool:
    """Whether nothing could be read for long before it was worked; a probe out for a burst
    comes back to tell."""
    until_s = timeline.known.end_s if timeline.entered_s is None else timeline.entered_s
    return any(
        end - start > 60 and 0 < start < until_s
        for start, end, why in timeline.known.hidden
        if why == "no reading"
    )


def _scorched(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    if timeline.never_above_c is None:
        return Sign("uncertain", "Without a profile its highest permitted is not known.")
    limit = style.degrees_words(timeline.never_above_c)
    if timeline.too_hot_s is not None:
        top = (
            ""
            if timeline.hottest_c is None
            else f", up to {style.degrees_words(timeline.hottest_c)}"
        )
        return Sign(
            "shown",
            f"It went above {limit}, its highest permitted, {clock.at(timeline.too_hot_s)}{top}.",
        )
    if _fault_hides(timeline):
        return Sign(
            "uncertain", f"No reading above {limit}, but there is time without any reading."
        )
    return Sign(
        "not shown",
        f"No reading above {limit}. (During a burst the probe is out, and a bowl's edge may be "
        "hotter than its middle.)",
    )


def _not_in_window(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    if timeline.window_c is None:
        return Sign("uncertain", "The profile has no working window.")
    window = style.window(*timeline.window_c)
    if timeline.entered_s is None:
        part = timeline.starts_before or timeline.breaks_off
        rest = ", and this is not the whole record of it" if part else ""
        return Sign(
            "uncertain" if part else "shown",
            f"It was not seen in the working window ({window}){rest}.",
        )
    return Sign(
        "not shown",
        f"It came into the window ({window}) {clock.at(timeline.entered_s)} and is known to have "
        f"been in it for {minutes(timeline.in_window_s)}.",
    )


def gone_words(timeline: Timeline, style: Style) -> str:
    """Of a stay in which the crystals melted, as a sentence; there must be one."""
    gone, last_c = timeline.crystals_gone, timeline.crystals_last_to_c
    assert gone is not None
    assert last_c is not None
    return (
        f"For {minutes(gone.seconds)} it was above {style.degrees_words(last_c)}, up to "
        f"{style.degrees_words(gone.extreme_c)}, where the crystals of temper melt (how soon is "
        "an own assumption)."
    )


def outside_words(one: Outside, uncertainty_c: float | None, style: Style) -> str:
    """What sounded and what was recorded, as one sentence; empty if that is nothing.

    ``uncertainty_c`` is how far a reading may be off (k = 2), None if that is not known.
    """
    if one.silent:
        return ""
    edge = style.degrees_words(one.edge_c)
    warned = _warned(one, edge)
    farthest = "highest" if one.above else "lowest"
    extreme = style.degrees_words(one.edge_c if one.extreme_c is None else one.extreme_c)
    if not one.seconds:
        in_time = f", in time: the {farthest} reading is {extreme}"
        return f"{warned}{'' if one.extreme_c is None else in_time}."
    side = ("above" if one.above else "below") + ("" if edge in warned else f" {edge}")
    seconds = f"{seconds_words(one.seconds)} in all"
    if one.beyond_c < SHOWN_C:
        least = style.difference_words(2 * SHOWN_C)
        reading = f"{seconds}, less than {least} {side}"
    else:
        beyond = style.difference_words(one.beyond_c)
        reading = f"{farthest} {extreme}, {seconds}, {beyond} {side}"
    if uncertainty_c is not None and one.beyond_c <= uncertainty_c:
        reading += f": less than this probe can tell ({style.uncertainty(uncertainty_c)})"
    return f"{warned or 'It left the window without a warning'}; {reading}."


def _warned(one: Outside, edge: str) -> str:
    warnings = []
    lost = one.warnings.get("temper_lost", 0)
    if edges := one.warned - lost:
        way = "rising above" if one.above else "falling below"
        warnings.append(f"{_times(edges)} of {way} {edge}")
    if lost:
        warnings.append(f"{_times(lost)} that its crystals melt")
    if not warnings:
        return ""
    some = f", {_times(one.in_time)} in time" if 0 < one.in_time < one.warned else ""
    return f"Warned {' and '.join(warnings)}{some}"


def _times(count: int) -> str:
    return _TIMES[count] if count < len(_TIMES) else f"{count} times"


def _outside(timeline: Timeline, side: Outside | None, clock: Clock, style: Style) -> Sign:
    if side is None or timeline.entered_s is None:
        return Sign("uncertain", "It was not seen in the window, so it could not leave it.")
    word = "above" if side.above else "below"
    hidden = timeline.work_hidden_s > MUCH_HIDDEN_S
    unseen = f" {minutes(timeline.work_hidden_s)} of it are not known." if hidden else ""
    state: State = "uncertain" if hidden else "not shown"
    if side.silent:
        edge = style.degrees_words(side.edge_c)
        reason = f"After that no reading is {word} {edge}, and nothing warned of it."
        return Sign(state, reason + unseen)
    reason = outside_words(side, timeline.uncertainty_c, style)
    runs = [run for run in timeline.excursions if run.above == side.above]
    if sum(run.seconds for run in runs) < OUTSIDE_S:
        reason += (
            f" (Worked too {'warm' if side.above else 'cool'} means {minutes(OUTSIDE_S)} or more, "
            f"counting what is more than {style.difference(OUTSIDE_C, 2, sign=False)} {word} for "
            f"{minutes(OUTSIDE_MS / 1000)} at a time; this limit has no source.)"
        )
        return Sign(state, reason + unseen)
    if side.extreme_s is not None:
        reason += f" It was {'warmest' if side.above else 'coolest'} {clock.at(side.extreme_s)}."
    if side.above and timeline.crystals_gone is not None:
        reason += f" {gone_words(timeline, style)}"
    return Sign("shown", reason + unseen)


def _undercut(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    floor_c = timeline.cool_c
    if floor_c is None and timeline.window_c is not None:
        floor_c = timeline.window_c[0]
    if floor_c is None or timeline.lowest_before_c is None or timeline.lowest_before_s is None:
        return Sign("uncertain", "The record does not show how it came down.")
    what = "its low point" if timeline.cool_c is not None else "the window"
    floor = f"{what} ({style.degrees_words(floor_c)})"
    if timeline.lowest_before_c < floor_c - UNDERCUT_C:
        return Sign(
            "shown",
            f"On its way down it went below {floor}, to "
            f"{style.degrees_words(timeline.lowest_before_c)} "
            f"{clock.at(timeline.lowest_before_s)}.",
        )
    return Sign("not shown", f"On its way down it did not go below {floor}.")


def _fell_fast(timeline: Timeline, style: Style) -> Sign:
    mean = timeline.descent_rate_c_per_min
    if timeline.steepest_c_per_min is None and mean is None:
        return Sign("uncertain", "The record does not show how fast it came down.")
    # A very fast fall looks like a probe taken out; then only the mean tells of it.
    steepest = max(timeline.steepest_c_per_min or 0.0, mean or 0.0)
    reason = f"It fell by up to {style.difference_words(steepest)}/min"
    if mean is not None:
        reason += f", {style.number(style.interval(mean), 1)} on the whole way down to the window"
    fast = style.number(style.interval(FAST_C_PER_MIN), 1, trim=True)
    return Sign(
        "shown" if steepest > FAST_C_PER_MIN else "not shown",
        f"{reason}. (More than {fast} counts as fast; this limit has no source.)",
    )


def _held_long(timeline: Timeline) -> Sign:
    if timeline.entered_s is None or timeline.left_s is None:
        return Sign("uncertain", "The record does not show for how long it was worked.")
    held_s = timeline.left_s - timeline.entered_s
    reason = f"It was worked for {minutes(held_s)} after coming into the window"
    if held_s > HELD_LONG_S:
        return Sign("shown", f"{reason}; crystals grow meanwhile, and it thickens.")
    return Sign("not shown", f"{reason}.")


def _unproved(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    if timeline.method == "coating":
        return Sign("not shown", "A coating needs no temper, so there is none to prove.")
    return _not_proved(timeline, clock, style)


def _not_proved(timeline: Timeline, clock: Clock, style: Style) -> Sign:
    if not timeline.dip_tests and timeline.starts_before:
        return Sign("uncertain", "No dip test was marked in this part of the batch.")
    if not timeline.dip_tests:
        return Sign("shown", "No dip test was marked, and a temperature alone proves no temper.")
    with_result = [test for test in timeline.dip_tests if test.result is not None]
    last = with_result[-1] if with_result else timeline.dip_tests[-1]
    where = "" if last.chocolate_c is None else f" at {style.degrees_words(last.chocolate_c)}"
    if last.result is None:
        waited = "" if last.waited else " and not waited for"
        return Sign(
            "uncertain",
            f"A blade was dipped {clock.at(last.at_s)}{where}{waited}, but what it showed was not "
            "noted.",
        )
    blade = f"The blade dipped {clock.at(last.at_s)}{where}"
    if not last.result.passed:
        detail = f": {last.result.detail}" if last.result.detail else ""
        return Sign("shown", f"{blade} failed{detail}.")
    return _since_passed(timeline, last.at_s, blade, clock, style)


def _since_passed(timeline: Timeline, at_s: float, blade: str, clock: Clock, style: Style) -> Sign:
    gone = timeline.crystals_gone
    if gone is not None and gone.at_s > at_s:
        return Sign("shown", f"{blade} passed, before this: {gone_words(timeline, style)}")
    after = [run for run in timeline.excursions if run.above and run.start_s > at_s]
    if after:
        return Sign(
            "uncertain",
            f"{blade} passed, but later, {clock.at(after[0].start_s)}, it was above the window, "
            f"up to {style.degrees_words(max(run.extreme_c for run in after))}.",
        )
    return Sign("not shown", f"{blade} passed.")

"""What the facts of a batch say for or against each cause that a curve can show.

A sign is "shown", "not shown" or "uncertain": uncertain where the record has holes that
could hide it, or never asked. Each comes with its reason as a sentence with times.
"""

from typing import Literal, NamedTuple

from snapcurve.analysis.facts import EDGE_C, FORM_V_C, NEAR_TARGET_C, WORD_S, Facts, Outside
from snapcurve.recording.clock import Clock, minutes
from snapcurve.shown.units import Style, seconds_words

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


def signs_of(facts: Facts, clock: Clock, style: Style) -> Signs:
    """Every sign, in words of ``style``."""

    def outside(side: Outside | None) -> Sign:
        return _outside(facts, side, clock, style)

    return Signs(
        not_melted=_not_melted(facts, clock, style),
        scorched=_scorched(facts, clock, style),
        fell_fast=_fell_fast(facts, style),
        undercut=_undercut(facts, clock, style),
        not_in_window=_not_in_window(facts, clock, style),
        worked_warm=outside(facts.above),
        worked_cool=outside(facts.below),
        held_long=_held_long(facts),
        unproved=_unproved(facts, clock, style),
    )


def _not_melted(facts: Facts, clock: Clock, style: Style) -> Sign:
    if facts.melt_c is None:
        return Sign(
            "uncertain",
            "This record does not begin with melting, so it cannot say whether it was.",
        )
    peak = style.degrees_words(facts.melt_c if facts.peak_c is None else facts.peak_c)
    if facts.melted_s is not None:
        return Sign(
            "not shown",
            f"It was melted through {clock.at(facts.melted_s)}; the highest known temperature "
            f"is {peak}.",
        )
    if facts.starts_before:
        return Sign("uncertain", "Whether it was melted through stands in an earlier record.")
    if facts.peak_c is None:
        return Sign("uncertain", "The probe never settled in the chocolate.")
    doubt = ""
    if facts.breaks_off and facts.entered_s is None:
        doubt = ", and the record breaks off before it came down"
    elif facts.melt_c - facts.peak_c <= NEAR_TARGET_C or _fault_hides(facts):
        doubt = ", and there is time without a reading before"
    return Sign(
        "uncertain" if doubt else "shown",
        f"The highest known temperature is {peak}, {clock.at(facts.peak_s or 0)}; "
        f"melting asks for {style.degrees_words(facts.melt_c)}{doubt}.",
    )


def _fault_hides(facts: Facts) -> bool:
    """Whether nothing could be read for long before it was worked; a probe out for a burst
    comes back to tell."""
    until_s = facts.known.end_s if facts.entered_s is None else facts.entered_s
    return any(
        end - start > 60 and 0 < start < until_s
        for start, end, why in facts.known.hidden
        if why == "no reading"
    )


def _scorched(facts: Facts, clock: Clock, style: Style) -> Sign:
    if facts.never_above_c is None:
        return Sign("uncertain", "Without a profile its highest permitted is not known.")
    limit = style.degrees_words(facts.never_above_c)
    if facts.too_hot_s is not None:
        top = "" if facts.hottest_c is None else f", up to {style.degrees_words(facts.hottest_c)}"
        return Sign(
            "shown",
            f"It went above {limit}, its highest permitted, {clock.at(facts.too_hot_s)}{top}.",
        )
    if _fault_hides(facts):
        return Sign(
            "uncertain", f"No reading above {limit}, but there is time without any reading."
        )
    return Sign(
        "not shown",
        f"No reading above {limit}. (During a burst the probe is out, and a bowl's edge may be "
        "hotter than its middle.)",
    )


def _not_in_window(facts: Facts, clock: Clock, style: Style) -> Sign:
    if facts.window_c is None:
        return Sign("uncertain", "The profile has no working window.")
    window = style.window(*facts.window_c)
    if facts.entered_s is None:
        part = facts.starts_before or facts.breaks_off
        rest = ", and this is not the whole record of it" if part else ""
        return Sign(
            "uncertain" if part else "shown",
            f"It was not seen in the working window ({window}){rest}.",
        )
    return Sign(
        "not shown",
        f"It came into the window ({window}) {clock.at(facts.entered_s)} and is known to have "
        f"been in it for {minutes(facts.in_window_s)}.",
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
    return f"Warned {' and '.join(warnings)}" if warnings else ""


def _times(count: int) -> str:
    return _TIMES[count] if count < len(_TIMES) else f"{count} times"


def _outside(facts: Facts, side: Outside | None, clock: Clock, style: Style) -> Sign:
    if side is None or facts.entered_s is None:
        return Sign("uncertain", "It was not seen in the window, so it could not leave it.")
    word = "above" if side.above else "below"
    hidden = facts.work_hidden_s > MUCH_HIDDEN_S
    unseen = f" {minutes(facts.work_hidden_s)} of it are not known." if hidden else ""
    state: State = "uncertain" if hidden else "not shown"
    if side.silent:
        edge = style.degrees_words(side.edge_c)
        reason = f"After that no reading is {word} {edge}, and nothing warned of it."
        return Sign(state, reason + unseen)
    reason = outside_words(side, facts.uncertainty_c, style)
    runs = [run for run in facts.excursions if run.above == side.above]
    if sum(run.end_s - run.start_s for run in runs) < OUTSIDE_S:
        reason += (
            f" (Worked too {'warm' if side.above else 'cool'} means {minutes(OUTSIDE_S)} or more, "
            f"counting what is more than {style.difference_words(EDGE_C)} {word} for "
            f"{minutes(WORD_S)} at a time; this limit has no source.)"
        )
        return Sign(state, reason + unseen)
    if side.extreme_s is not None:
        reason += f" It was {'warmest' if side.above else 'coolest'} {clock.at(side.extreme_s)}."
    if side.above and max(run.extreme_c for run in runs) >= FORM_V_C:
        lower = style.number(style.interval(1.0), 1, trim=True)
        lower += f" to {style.difference(2.0, sign=False, trim=True)} lower"
        reason += (
            f" That is above {style.degrees_words(FORM_V_C)}, where the crystals of temper melt "
            f"(in milk and white already {lower})."
        )
    return Sign("shown", reason + unseen)


def _undercut(facts: Facts, clock: Clock, style: Style) -> Sign:
    floor_c = facts.cool_c
    if floor_c is None and facts.window_c is not None:
        floor_c = facts.window_c[0]
    if floor_c is None or facts.lowest_before_c is None or facts.lowest_before_s is None:
        return Sign("uncertain", "The record does not show how it came down.")
    what = "its low point" if facts.cool_c is not None else "the window"
    floor = f"{what} ({style.degrees_words(floor_c)})"
    if facts.lowest_before_c < floor_c - UNDERCUT_C:
        return Sign(
            "shown",
            f"On its way down it went below {floor}, to "
            f"{style.degrees_words(facts.lowest_before_c)} {clock.at(facts.lowest_before_s)}.",
        )
    return Sign("not shown", f"On its way down it did not go below {floor}.")


def _fell_fast(facts: Facts, style: Style) -> Sign:
    mean = facts.descent_rate_c_per_min
    if facts.steepest_c_per_min is None and mean is None:
        return Sign("uncertain", "The record does not show how fast it came down.")
    # A very fast fall looks like a probe taken out; then only the mean tells of it.
    steepest = max(facts.steepest_c_per_min or 0.0, mean or 0.0)
    reason = f"It fell by up to {style.difference_words(steepest)}/min"
    if mean is not None:
        reason += f", {style.number(style.interval(mean), 1)} on the whole way down to the window"
    fast = style.number(style.interval(FAST_C_PER_MIN), 1, trim=True)
    return Sign(
        "shown" if steepest > FAST_C_PER_MIN else "not shown",
        f"{reason}. (More than {fast} counts as fast; this limit has no source.)",
    )


def _held_long(facts: Facts) -> Sign:
    if facts.entered_s is None or facts.left_s is None:
        return Sign("uncertain", "The record does not show for how long it was worked.")
    held_s = facts.left_s - facts.entered_s
    reason = f"It was worked for {minutes(held_s)} after coming into the window"
    if held_s > HELD_LONG_S:
        return Sign("shown", f"{reason}; crystals grow meanwhile, and it thickens.")
    return Sign("not shown", f"{reason}.")


def _unproved(facts: Facts, clock: Clock, style: Style) -> Sign:
    if not facts.dip_tests and facts.starts_before:
        return Sign("uncertain", "No dip test was marked in this part of the batch.")
    if not facts.dip_tests:
        return Sign("shown", "No dip test was marked, and a temperature alone proves no temper.")
    with_result = [test for test in facts.dip_tests if test.result is not None]
    last = with_result[-1] if with_result else facts.dip_tests[-1]
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
    after = [run for run in facts.excursions if run.above and run.start_s > last.at_s]
    if after:
        return Sign(
            "uncertain",
            f"{blade} passed, but later, {clock.at(after[0].start_s)}, it was above the window, "
            f"up to {style.degrees_words(max(run.extreme_c for run in after))}.",
        )
    return Sign("not shown", f"{blade} passed.")

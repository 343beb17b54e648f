"""What the facts of a batch say for or against each cause that a curve can show.

A sign is "shown", "not shown" or "uncertain": uncertain where the record has holes that
could hide it, or never asked. Each comes with its reason as a sentence with times.
"""

from dataclasses import dataclass

from snapcurve.analysis.excursions import outside_words
from snapcurve.analysis.facts import EDGE_C, FORM_V_C, NEAR_TARGET_C, WORD_S, Facts
from snapcurve.recording.clock import Clock, minutes
from snapcurve.shown.figures import degrees_words, difference_words, range_words, spoken

# Our own choices: no source gives limits for a bowl.
FAST_C_PER_MIN = 4.0
WARM_S = 60.0
COOL_S = 60.0
UNDERCUT_C = 0.5
HELD_LONG_S = 60 * 60.0
MUCH_HIDDEN_S = 180.0  # so much unseen time while it was worked leaves room for doubt


@dataclass(frozen=True)
class Sign:
    """``state`` is shown, not shown or uncertain; ``reason`` a sentence."""

    state: str
    reason: str


def signs_of(facts: Facts, clock: Clock) -> dict[str, Sign]:
    """Every sign by name."""
    return {name: make(facts, clock) for name, make in SIGNS.items()}


def _c(value_c: float) -> str:
    return degrees_words(value_c)


def _not_melted(facts: Facts, clock: Clock) -> Sign:
    if facts.melt_c is None:
        return Sign(
            "uncertain",
            "This record does not begin with melting, so it cannot say whether it was.",
        )
    if facts.melted_s is not None:
        return Sign(
            "not shown",
            f"It was melted through {clock.at(facts.melted_s)}; the highest known temperature "
            f"is {_c(facts.peak_c or facts.melt_c)}.",
        )
    if facts.starts_before or facts.peak_c is None:
        return Sign(
            "uncertain",
            "Whether it was melted through stands in an earlier record."
            if facts.starts_before
            else "The probe never settled in the chocolate.",
        )
    short_c = facts.melt_c - facts.peak_c
    reason = (
        f"The highest known temperature is {_c(facts.peak_c)}, {clock.at(facts.peak_s or 0)}; "
        f"melting asks for {_c(facts.melt_c)}"
    )
    doubt = ""
    if facts.breaks_off and facts.entered_s is None:
        doubt = ", and the record breaks off before it came down"
    elif short_c <= NEAR_TARGET_C or _fault_hides(facts, 0.0, facts.entered_s):
        doubt = ", and there is time without a reading before"
    return Sign("uncertain" if doubt else "shown", f"{reason}{doubt}.")


def _fault_hides(facts: Facts, start_s: float, end_s: float | None) -> bool:
    """Whether nothing could be read for long; a probe out for a burst comes back to tell."""
    until_s = facts.known.end_s if end_s is None else end_s
    return any(
        end - start > 60 and start < until_s and end > start_s
        for start, end, why in facts.known.hidden
        if why == "no reading" and start > 0
    )


def _scorched(facts: Facts, clock: Clock) -> Sign:
    if facts.never_above_c is None:
        return Sign("uncertain", "Without a profile nobody knows what it may not pass.")
    limit = _c(facts.never_above_c)
    if facts.too_hot_s is not None:
        top = "" if facts.hottest_c is None else f", up to {_c(facts.hottest_c)}"
        return Sign(
            "shown",
            f"It went above {limit}, its highest permitted, {clock.at(facts.too_hot_s)}{top}.",
        )
    if _fault_hides(facts, 0.0, facts.entered_s):
        return Sign(
            "uncertain",
            f"No reading above {limit}, but there is time without any reading.",
        )
    return Sign(
        "not shown",
        f"No reading above {limit}. (During a burst the probe is out, and a bowl's edge may be "
        "hotter than its middle.)",
    )


def _not_in_window(facts: Facts, clock: Clock) -> Sign:
    if facts.window_c is None:
        return Sign("uncertain", "The profile has no working window.")
    window = range_words(*facts.window_c)
    if facts.entered_s is None:
        part = facts.starts_before or facts.breaks_off
        return Sign(
            "uncertain" if part else "shown",
            f"It was not seen in the working window ({window})"
            + (", and this is not the whole record of it." if part else "."),
        )
    return Sign(
        "not shown",
        f"It came into the window ({window}) {clock.at(facts.entered_s)} and is known to have "
        f"been in it for {minutes(facts.in_window_s)}.",
    )


def _outside(facts: Facts, clock: Clock, above: bool) -> Sign:
    side = facts.above if above else facts.below
    if side is None or facts.entered_s is None:
        return Sign("uncertain", "It was not seen in the window, so it could not leave it.")
    word, edge = "above" if above else "below", _c(side.edge_c)
    hidden = facts.work_hidden_s > MUCH_HIDDEN_S
    unseen = f" For {minutes(facts.work_hidden_s)} of it nobody knows." if hidden else ""
    if side.silent:
        reason = f"After that no reading is {word} {edge}, and nothing warned of it."
        return Sign("uncertain" if hidden else "not shown", reason + unseen)
    reason = outside_words(side, facts.uncertainty_c)
    runs = [run for run in facts.excursions if run.above == above]
    least_s = WARM_S if above else COOL_S
    if sum(run.end_s - run.start_s for run in runs) < least_s:
        reason += (
            f" (We call it worked too {'warm' if above else 'cool'} from {minutes(least_s)} on, "
            f"counting what is more than {difference_words(EDGE_C)} {word} for "
            f"{minutes(WORD_S)} at a time; our own choice.)"
        )
        return Sign("uncertain" if hidden else "not shown", reason + unseen)
    if side.extreme_s is not None:
        reason += f" It was {'warmest' if above else 'coolest'} {clock.at(side.extreme_s)}."
    if above and max(run.extreme_c for run in runs) >= FORM_V_C:
        reason += (
            f" That is above {degrees_words(FORM_V_C)}, where the wanted crystals melt"
            " (in milk and white already a degree or two lower)."
        )
    return Sign("shown", reason + unseen)


def _worked_warm(facts: Facts, clock: Clock) -> Sign:
    return _outside(facts, clock, above=True)


def _worked_cool(facts: Facts, clock: Clock) -> Sign:
    return _outside(facts, clock, above=False)


def _undercut(facts: Facts, clock: Clock) -> Sign:
    floor_c = facts.cool_c
    if floor_c is None and facts.window_c is not None:
        floor_c = facts.window_c[0]
    if floor_c is None or facts.lowest_before_c is None or facts.lowest_before_s is None:
        return Sign("uncertain", "The record does not show how it came down.")
    what = "its low point" if facts.cool_c is not None else "the window"
    if facts.lowest_before_c < floor_c - UNDERCUT_C:
        return Sign(
            "shown",
            f"On its way down it went below {what} ({_c(floor_c)}), to "
            f"{_c(facts.lowest_before_c)} {clock.at(facts.lowest_before_s)}.",
        )
    return Sign("not shown", f"On its way down it did not go below {what} ({_c(floor_c)}).")


def _fell_fast(facts: Facts, clock: Clock) -> Sign:
    if facts.steepest_c_per_min is None and facts.descent_rate_c_per_min is None:
        return Sign("uncertain", "The record does not show how fast it came down.")
    mean = facts.descent_rate_c_per_min
    # A very fast fall looks like a probe taken out; then only the mean tells of it.
    steepest = max(facts.steepest_c_per_min or 0.0, mean or 0.0)
    reason = f"It fell by up to {difference_words(steepest)}/min"
    reason += (
        f", {spoken().number(spoken().interval(mean), 1)} on the whole way down to the window."
        if mean is not None
        else "."
    )
    state = "shown" if steepest > FAST_C_PER_MIN else "not shown"
    fast = spoken().number(spoken().interval(FAST_C_PER_MIN), 1, trim=True)
    return Sign(state, f"{reason} (We call more than {fast} fast; our own choice.)")


def _held_long(facts: Facts, clock: Clock) -> Sign:
    if facts.entered_s is None or facts.left_s is None:
        return Sign("uncertain", "The record does not show for how long it was worked.")
    held_s = facts.left_s - facts.entered_s
    reason = f"It was worked for {minutes(held_s)} after coming into the window"
    if held_s > HELD_LONG_S:
        return Sign("shown", f"{reason}; crystals grow meanwhile, and it thickens.")
    return Sign("not shown", f"{reason}.")


def _unproved(facts: Facts, clock: Clock) -> Sign:
    if not facts.dip_tests and facts.starts_before:
        return Sign("uncertain", "No dip test was marked in this part of the batch.")
    if not facts.dip_tests:
        return Sign("shown", "No dip test was marked, and a temperature alone proves no temper.")
    with_result = [test for test in facts.dip_tests if test.result is not None]
    last = with_result[-1] if with_result else facts.dip_tests[-1]
    where = "" if last.chocolate_c is None else f" at {_c(last.chocolate_c)}"
    if last.result is None:
        waited = "" if last.waited else " and not waited for"
        return Sign(
            "uncertain",
            f"A blade was dipped {clock.at(last.at_s)}{where}{waited}, but nobody noted what it "
            "showed.",
        )
    if not last.result.passed:
        said = f": {last.result.said}" if last.result.said else ""
        return Sign("shown", f"The blade dipped {clock.at(last.at_s)}{where} failed{said}.")
    after = [run for run in facts.excursions if run.above and run.start_s > last.at_s]
    if after:
        return Sign(
            "uncertain",
            f"The blade dipped {clock.at(last.at_s)}{where} passed, but later, "
            f"{clock.at(after[0].start_s)}, it was above the window, up to "
            f"{_c(max(run.extreme_c for run in after))}.",
        )
    return Sign("not shown", f"The blade dipped {clock.at(last.at_s)}{where} passed.")


SIGNS = {
    "not_melted": _not_melted,
    "scorched": _scorched,
    "fell_fast": _fell_fast,
    "undercut": _undercut,
    "not_in_window": _not_in_window,
    "worked_warm": _worked_warm,
    "worked_cool": _worked_cool,
    "held_long": _held_long,
    "unproved": _unproved,
}

"""What one can do to a bowl with heat, cold and stirring, each with its numbers.

Every action is worked out on the same heat balance as the plan, with the bowl and the
loss to the room while it is done, and says what the probe should read afterwards.
"""

from functools import partial

from snapcurve.advice.course import Course, cannot_cool
from snapcurve.advice.situation import Action, Situation, span_words, stood
from snapcurve.errors import SnapcurveError
from snapcurve.heat.bowl import Batch
from snapcurve.heat.constants import (
    HOT_AIR_BURST_S,
    LEAST_WARMING_K,
    LONG_AIR_S,
    MELT_REST_MIN,
    MELTED_STIR_S,
    MOST_PIECES_SHARE,
    SHORTEST_AIR_S,
    SHORTEST_STIR_S,
    TEST_MIN,
    WORK_ON_MIN,
)
from snapcurve.heat.root_finding import find_rising

_LONGEST_HEAT_S = 3600.0


def air_s(situation: Situation, target_c: float, start: Course) -> float:
    """Whole seconds of hot air that bring `start` to `target_c`; 0 if a hand cannot give so
    little without passing the window. SnapcurveError if the gun cannot win against the room."""

    def reached_c(seconds: float) -> float:
        return warmed(situation, start, seconds).batch.temperature_c

    if start.batch.temperature_c >= target_c:
        return 0.0
    if reached_c(_LONGEST_HEAT_S) < target_c:
        style = situation.style
        raise SnapcurveError(
            f"{situation.hot_air_used_w:.0f} W of hot air cannot warm "
            f"{style.mass_words(situation.mass_g)} to {style.degrees_words(target_c)} against "
            "the loss to the room; use a water bath."
        )
    seconds = float(round(find_rising(reached_c, 0.0, _LONGEST_HEAT_S, target_c, 0.1)))
    if seconds >= SHORTEST_AIR_S:
        return seconds
    too_warm = reached_c(SHORTEST_AIR_S) > situation.temperatures.settled_c
    return 0.0 if too_warm else SHORTEST_AIR_S


def warmed(situation: Situation, start: Course, seconds: float) -> Course:
    """`start` after so much hot air."""
    trial = start.copy()
    trial.heat(situation.hot_air_used_w, seconds)
    return trial


def air_words(seconds: float) -> str:
    """How to give so much hot air."""
    if seconds > LONG_AIR_S:
        return (
            f"about {span_words(seconds)} of hot air, stirring; a hand-hot water bath, its "
            "steam kept off, is easier for so much"
        )
    blasts = " in blasts of 10 s at most" if seconds > HOT_AIR_BURST_S else ""
    return f"about {span_words(seconds)} of hot air{blasts}, stirring and reading between"


def warm_to(situation: Situation, target_c: float, course: Course | None = None) -> Action | None:
    """Warm to `target_c` with hot air while stirring; None if that is too little to do."""
    start, style = course or situation.course(), situation.style
    seconds = air_s(situation, target_c, start)
    if not seconds:
        return None
    end = warmed(situation, start, seconds).batch
    by_c = end.temperature_c - start.batch.temperature_c
    if by_c < LEAST_WARMING_K:
        return None
    return Action(
        "warm",
        f"Warm it by {style.difference_words(by_c)} to {style.degrees_words(end.temperature_c)}: "
        f"{air_words(seconds)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        warm_by_c=by_c,
        hot_air_s=seconds,
    )


def melted_to(situation: Situation, target_c: float, smallest_share: float = 0.0) -> Action:
    """Bring to `target_c` with fully melted chocolate.

    At the melting temperature if warmth is what is missing; if that is less than
    `smallest_share` of the mass, that share at a lower temperature, so that crystals are
    diluted without passing the target.
    """
    start, style = situation.course(), situation.style
    melt_c = situation.temperatures.melt_c
    largest_g, step_g = MOST_PIECES_SHARE * situation.mass_g, situation.scale_step_g

    def mixed(at_c: float, melted_g: float) -> Batch:
        trial = start.copy()
        if melted_g > 0:
            trial.batch.add(melted_g, at_c, 1.0)
        trial.stand(MELTED_STIR_S)
        return trial.batch

    def mixed_c(at_c: float, melted_g: float) -> float:
        return mixed(at_c, melted_g).temperature_c

    if mixed_c(melt_c, largest_g) < target_c:
        raise SnapcurveError(
            "Even half as much melted chocolate again cannot warm the bowl to "
            f"{style.degrees_words(target_c)}; melt it fully again."
        )
    at_c = melt_c
    needed_g = find_rising(partial(mixed_c, melt_c), 0.0, largest_g, target_c, 0.05)
    melted_g = step_g * round(needed_g / step_g)
    smallest_g = max(smallest_share * situation.mass_g, step_g)
    if melted_g < smallest_g:
        melted_g = situation.steps_g(smallest_g)
        at_c = find_rising(
            lambda trial_c: mixed_c(trial_c, melted_g), situation.room_c, melt_c, target_c
        )
        # A probe is read to half a degree in a bowl one carries over.
        at_c = max(situation.temperatures.work_low_c, 0.5 * round(2 * at_c))
    end = mixed(at_c, melted_g)
    cooled = "" if at_c == melt_c else f" and then cooled to {style.degrees_words(at_c)}"
    return Action(
        "melted",
        f"Stir in {style.mass_words(melted_g)} of chocolate melted fully at "
        f"{style.degrees_words(melt_c)}{cooled}. It should read "
        f"{style.degrees_words(end.temperature_c)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        melted_g=melted_g,
        melted_at_c=at_c,
    )


def stir_to(situation: Situation, target_c: float) -> Action:
    """Stir in the room until it reads `target_c`, half a minute at least."""
    start, style = situation.course(), situation.style
    seconds = situation.seconds_to_cool(start.batch, target_c)
    if seconds == float("inf"):
        raise cannot_cool(situation.room_c, target_c, style)
    seconds = 10.0 * round(max(SHORTEST_STIR_S, seconds) / 10)
    end = stood(start, seconds).batch
    return Action(
        "stir",
        f"Stir it in the room until it reads {style.degrees_words(end.temperature_c)}, about "
        f"{span_words(seconds)}.",
        end.temperature_c,
        end.mass_g,
        test_after_min=TEST_MIN,
        stir_min=seconds / 60.0,
    )


def work_on(situation: Situation) -> Action:
    """Stir on at this reading and test again: crystals multiply as they are worked."""
    temperatures, style = situation.temperatures, situation.style
    lowest_c = temperatures.work_low_c + temperatures.edge_k
    end_c = stood(situation.course(), 60.0 * WORK_ON_MIN).batch.temperature_c
    hold = ""
    if end_c < lowest_c:
        end_c = min(max(lowest_c, situation.temperature_c), temperatures.settled_c)
        hold = f", with a breath of hot air where it falls under {style.degrees_words(lowest_c)}"
    return Action(
        "stir",
        f"Stir it on for {WORK_ON_MIN:.0f} min{hold}: crystals multiply as they are worked.",
        end_c,
        situation.mass_g,
        test_after_min=TEST_MIN,
        stir_min=WORK_ON_MIN,
    )


def cool_outside(situation: Situation, target_c: float) -> Action:
    """Take heat out through the bowl's wall."""
    return Action(
        "cool",
        "Set the bowl on a cold stone or a cold wet cloth, some seconds at a time; stir, scrape "
        "its wall and read each time, until it reads "
        f"{situation.style.degrees_words(target_c)}. Dry its outside before you pour.",
        target_c,
        situation.mass_g,
        test_after_min=TEST_MIN,
    )


def melt_again(situation: Situation) -> Action:
    """Melt all crystals and begin the method anew."""
    melt_c, style = situation.temperatures.melt_c, situation.style
    sentence = f"Melt it fully again to {style.degrees_words(melt_c)} and temper it anew."
    if not situation.temperatures.tempering:
        sentence = f"Melt it fully again to {style.degrees_words(melt_c)}, and sieve it."
    elif situation.temperature_c >= melt_c:
        sentence = f"Let it rest {MELT_REST_MIN:g} min at this heat and temper it anew."
    return Action(
        "melt again",
        sentence,
        max(melt_c, situation.temperature_c),
        situation.mass_g,
        warm_by_c=max(0.0, melt_c - situation.temperature_c),
    )

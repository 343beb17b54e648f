"""What one can do to a bowl with solid pieces in temper: new crystals, and cold."""

from dataclasses import replace
from functools import partial
from math import ceil, floor

from snapcurve.advice.actions import air_s, air_words, warm_to, warmed
from snapcurve.advice.course import Course
from snapcurve.advice.situation import Action, Situation, span_words, stood
from snapcurve.errors import SnapcurveError
from snapcurve.heat.constants import (
    LEAST_TOUCH_SHARE,
    LEAST_WARMING_K,
    MOST_PIECES_SHARE,
    PIECES_STIR_S,
    SHORTEST_AIR_S,
    SHORTEST_STIR_S,
    TEST_MIN,
    TOUCH_SHARE,
    TOUCH_STIR_S,
)
from snapcurve.heat.root_finding import find_rising

_LONGEST_WAIT_S = 8 * 3600.0
_LONGEST_PATIENCE_S = 2 * 3600.0


def touch_of_seed(situation: Situation) -> Action:
    """Warm it a little within the window, then stir in one or two per cent of fine pieces so
    that it ends where it was, or at its aim; for a film that is slow though the bowl reads right.
    """
    temperatures, style = situation.temperatures, situation.style
    step_g, start = situation.scale_step_g, situation.course()
    reads_c = situation.temperature_c
    lowest_c = temperatures.work_low_c + temperatures.edge_k
    goal_c = reads_c if temperatures.contains(reads_c) else temperatures.target_c
    steps = max(1, floor(TOUCH_SHARE * situation.mass_g / step_g + 1e-9))
    fewest = max(1, ceil(LEAST_TOUCH_SHARE * situation.mass_g / step_g - 1e-9))

    def touched(course: Course, steps: int) -> Course:
        return _with_pieces(situation, course, 0.0, step_g * steps, TOUCH_STIR_S)

    top_s = air_s(situation, temperatures.settled_c, start)
    first_s = round(
        find_rising(
            lambda s: touched(warmed(situation, start, s), steps).batch.temperature_c,
            0.0,
            top_s,
            max(goal_c, lowest_c),
            0.1,
        )
    )
    begin, course, first_to_c = "Stir in", start, None
    if first_s:
        first_s = max(first_s, round(min(SHORTEST_AIR_S, top_s)))
    warm = warmed(situation, start, first_s)
    if warm.batch.temperature_c - reads_c >= LEAST_WARMING_K:
        course = warm
        first_to_c = course.batch.temperature_c
        begin = (
            f"Warm it a little first, by {style.difference_words(first_to_c - reads_c)} to "
            f"{style.degrees_words(first_to_c)}: {air_words(first_s)}. Then stir in"
        )
    while touched(course, steps).batch.temperature_c < lowest_c and steps > fewest:
        steps -= 1
    end, pieces_g = touched(course, steps), step_g * steps
    action = Action(
        "pieces",
        f"{begin} {_pieces_words(situation, pieces_g, 'fine')} for {span_words(TOUCH_STIR_S)} or "
        f"until none is felt; it should read {style.degrees_words(end.batch.temperature_c)}.",
        end.batch.temperature_c,
        end.batch.mass_g,
        test_after_min=TEST_MIN,
        pieces_g=pieces_g,
        warm_first_to_c=first_to_c,
        warm_first_s=0.0 if first_to_c is None else float(first_s),
    )
    return _back_into_window(situation, action, end, lowest_c)


def _pieces_words(situation: Situation, pieces_g: float, chopped: str) -> str:
    style = situation.style
    return (
        f"{style.mass_words(pieces_g)} of pieces in temper at "
        f"{style.degrees_words(situation.stock_used_c)}, chopped {chopped},"
    )


def _with_pieces(
    situation: Situation, start: Course, wait_s: float, pieces_g: float, stir_s: float
) -> Course:
    trial = start.copy()
    trial.batch.stand(wait_s, situation.room_c, situation.loss_used_w_per_k)
    if pieces_g > 0:
        trial.add_pieces(pieces_g, situation.stock_used_c)
    trial.stand(stir_s)
    return trial


def _back_into_window(
    situation: Situation, action: Action, end: Course, lowest_c: float
) -> Action:
    """`action`, with warming at its end where that came out too cool."""
    if action.predicted_c >= lowest_c:
        return action
    target_c = max(situation.temperatures.target_c, lowest_c)
    warm = warm_to(situation, target_c, end)
    if warm is None:
        return action
    return replace(
        action,
        sentence=f"{action.sentence} {warm.sentence}",
        predicted_c=warm.predicted_c,
        warm_by_c=warm.warm_by_c,
        hot_air_s=warm.hot_air_s,
    )


def pieces_to(situation: Situation, target_c: float, smallest_share: float = 0.0) -> Action:
    """Cool to `target_c` with solid pieces, at most half the mass, waiting first if needed.

    At least `smallest_share` of the mass goes in for its crystals; where that cools it under
    the window the action ends with warming back.
    """
    start, style = situation.course(), situation.style
    largest_g = MOST_PIECES_SHARE * situation.mass_g

    def cooling(stir_s: float, wait_s: float, pieces_g: float) -> float:
        end = _with_pieces(situation, start, wait_s, pieces_g, stir_s)
        return -end.batch.temperature_c

    wait_s, stir_s = 0.0, PIECES_STIR_S
    if -cooling(stir_s, 0.0, largest_g) > target_c:
        pieces_g = largest_g
        if -cooling(stir_s, _LONGEST_WAIT_S, largest_g) > target_c:
            raise SnapcurveError(
                f"Even {style.mass_words(largest_g)} of pieces and hours of stirring do not "
                f"bring this bowl to {style.degrees_words(target_c)}; spread it out or divide "
                "it, in a cooler room."
            )
        wait_s = find_rising(
            lambda s: cooling(stir_s, s, largest_g), 0.0, _LONGEST_WAIT_S, -target_c, 1.0
        )
        wait_s = wait_s if wait_s >= SHORTEST_STIR_S else 0.0
    else:
        pieces_g = find_rising(partial(cooling, stir_s, 0.0), 0.0, largest_g, -target_c, 0.05)
        if pieces_g < TOUCH_SHARE * situation.mass_g:
            stir_s = TOUCH_STIR_S
            pieces_g = find_rising(partial(cooling, stir_s, 0.0), 0.0, largest_g, -target_c, 0.05)
    pieces_g = situation.steps_g(max(pieces_g, smallest_share * situation.mass_g))
    end = _with_pieces(situation, start, wait_s, pieces_g, stir_s)
    reads_c = end.batch.temperature_c
    stir_on_to_c = max(situation.temperatures.settled_c, target_c)
    low = style.degrees_words(situation.temperatures.work_low_c)
    begin = "Stir in"
    if wait_s > 0:
        at_c = stood(start, wait_s).batch.temperature_c
        begin = (
            f"Let it stand, stirring now and then, until it reads {style.degrees_words(at_c)}, "
            f"about {span_words(wait_s)}; then stir in"
        )
    action = Action(
        "pieces",
        f"{begin} {_pieces_words(situation, pieces_g, 'small')} and stir until the reading holds "
        f"still, {span_words(stir_s)} or more; it should read {style.degrees_words(reads_c)}. "
        f"Where it still reads over {style.degrees_words(stir_on_to_c)}, stir on; lift out what "
        f"is not melted, and warm it where it reads under {low}.",
        reads_c,
        end.batch.mass_g,
        test_after_min=TEST_MIN,
        pieces_g=pieces_g,
        stir_min=wait_s / 60.0,
        stir_on_to_c=stir_on_to_c,
    )
    lowest_c = situation.temperatures.work_low_c + situation.temperatures.edge_k
    return _back_into_window(situation, action, end, lowest_c)


def cool_then_seed(situation: Situation, target_c: float) -> Action | None:
    """Let it cool by itself to just above the window and add little seed; None if that would
    take hours."""
    start, style = situation.course(), situation.style
    pieces_g = situation.steps_g(TOUCH_SHARE * situation.mass_g)

    def cooling(wait_s: float) -> float:
        end = _with_pieces(situation, start, wait_s, pieces_g, TOUCH_STIR_S)
        return -end.batch.temperature_c

    if -cooling(_LONGEST_PATIENCE_S) > target_c:
        return None
    wait_s = find_rising(cooling, 0.0, _LONGEST_PATIENCE_S, -target_c, 1.0)
    if wait_s < SHORTEST_STIR_S:
        return None
    at_c = stood(start, wait_s).batch.temperature_c
    return Action(
        "pieces",
        "Let it cool by itself, stirring now and then, until it reads "
        f"{style.degrees_words(at_c)}, about {span_words(wait_s)}; then stir in "
        f"{_pieces_words(situation, pieces_g, 'fine')} for {span_words(TOUCH_STIR_S)}. It "
        f"should read {style.degrees_words(target_c)}.",
        target_c,
        situation.mass_g + pieces_g,
        test_after_min=TEST_MIN,
        pieces_g=pieces_g,
        stir_min=wait_s / 60.0,
        stir_on_to_c=max(situation.temperatures.settled_c, target_c),
    )

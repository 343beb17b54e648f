"""A correction in sentences for the bench, and as plain data for a script."""

from dataclasses import asdict, replace
from typing import Any

from snapcurve.advice.correction import Correction, correct
from snapcurve.advice.doubts import Moved, Number, moved_most, moved_words
from snapcurve.advice.situation import Situation
from snapcurve.shown.table import listed, row, wrapped

# what a person types -> what the arithmetic calls it, and how it is said back
SHOWED = {
    "mark": ("finger mark", "after 5 min the blade still takes a finger mark"),
    "early": ("set early", "the blade was set before 3 min"),
    "grainy": ("grainy", "it is grainy"),
    "streaked": ("streaked", "the film is streaked"),
    "thick": ("thick", "it is thick"),
    "seized": ("seized", "water got in and it seized"),
    "too_warm": ("too warm", "it is too warm"),
    "too_cool": ("too cool", "it is too cool"),
}


def correction_lines(
    name: str,
    situation: Situation,
    answer: Correction,
    assumed: tuple[str, ...] | None,
) -> list[str]:
    """The advice as lines of text; `assumed` are the assumptions that came from defaults, all
    are listed unless it is None."""
    temperatures, style = situation.temperatures, situation.style
    seen = next(words for one, words in SHOWED.values() if one == answer.observation)
    heading = (
        f"{style.mass_words(situation.mass_g)} of {name} at "
        f"{style.degrees_words(situation.temperature_c)}, for "
        f"{style.window(temperatures.work_low_c, temperatures.work_high_c)}; {seen}."
    )
    second = "Then" if answer.recommended.kind == "taste" else "Or"
    rows = [("Do", answer.recommended.sentence), (second, answer.alternative.sentence)]
    minutes = max(answer.recommended.test_after_min, answer.alternative.test_after_min)
    if minutes:
        test = (
            "dip a fresh blade after it: not set before 3 min, set without a mark after "
            f"{minutes:.0f}."
        )
        rows.append(("Test", test))
    rows += [("Give up", answer.give_up), ("For", heading)]
    words = moved_words(number_of(answer), correction_moved(situation, answer), style)
    rows += [("Rests on", words)] if words else []
    lines = [row(word, text) for word, text in rows]
    lines += listed("Caution", answer.cautions)
    if assumed is not None:
        lines += listed("Assumed", assumed + answer.assumptions)
    return wrapped(lines)


def number_of(answer: Correction) -> Number | None:
    """What a correction comes down to; None where it is no quantity."""
    action = answer.recommended
    for of, value, unit in (
        ("the hot air", action.warm_first_s, "s"),
        ("the pieces", action.pieces_g, "g"),
        ("the melted chocolate", action.melted_g, "g"),
        ("the hot air", action.hot_air_s, "s"),
        ("the stirring", action.stir_min, "min"),
    ):
        if value:
            return Number(of, value, unit)
    return None


def correction_moved(situation: Situation, answer: Correction) -> tuple[Moved, ...]:
    """The assumptions that move the correction most."""
    return moved_most(situation, lambda asked: number_of(correct(asked, answer.observation)))


def correction_data(
    situation: Situation, answer: Correction, assumed: tuple[str, ...]
) -> dict[str, Any]:
    """The advice for a script: the fields of Correction, and what moves it most."""
    data = asdict(replace(answer, assumptions=assumed + answer.assumptions))
    return {**data, "moved_most": [asdict(one) for one in correction_moved(situation, answer)]}

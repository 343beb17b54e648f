"""A correction in sentences for the bench, and as plain data for a script."""

from dataclasses import asdict, replace
from typing import Any

from snapcurve.advice.correction import Correction
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
    assumed: tuple[str, ...],
) -> list[str]:
    """The advice as lines of text; `assumed` are the assumptions that came from defaults."""
    temperatures, style = situation.temperatures, situation.style
    seen = next(words for one, words in SHOWED.values() if one == answer.observation)
    heading = (
        f"{style.mass_words(situation.mass_g)} of {name} at "
        f"{style.degrees_words(situation.temperature_c)}, for "
        f"{style.window(temperatures.work_low_c, temperatures.work_high_c)}; {seen}."
    )
    lines = []
    second = "Then" if answer.recommended.kind == "taste" else "Or"
    for word, action in (("Do", answer.recommended), (second, answer.alternative)):
        lines += ["", row(word, action.sentence)]
    minutes = max(answer.recommended.test_after_min, answer.alternative.test_after_min)
    if minutes:
        test = (
            "dip a fresh blade after it: not set before 3 min, set without a mark after "
            f"{minutes:.0f}."
        )
        lines += ["", row("Test", test)]
    lines += ["", row("Give up", answer.give_up), *listed("Caution", answer.cautions)]
    lines += listed("Assumed", assumed + answer.assumptions)
    return wrapped([heading], under="") + wrapped(lines)


def correction_data(answer: Correction, assumed: tuple[str, ...]) -> dict[str, Any]:
    """The advice for a script: the fields of Correction."""
    return asdict(replace(answer, assumptions=assumed + answer.assumptions))

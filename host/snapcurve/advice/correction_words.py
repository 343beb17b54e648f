"""A correction in sentences for the bench, and as plain data for a script."""

from dataclasses import asdict
from typing import Any

from snapcurve.advice.actions import Action, Situation
from snapcurve.advice.correction import Correction
from snapcurve.shown.figures import degrees_words, mass_words, range_words, row, wrapped

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
    name: str, situation: Situation, answer: Correction, assumed: tuple[str, ...]
) -> list[str]:
    """The advice as lines of text; `assumed` are the assumptions that came from defaults."""
    temperatures = situation.temperatures
    said = next(words for one, words in SHOWED.values() if one == answer.observation)
    heading = (
        f"{mass_words(situation.mass_g)} of {name} at "
        f"{degrees_words(situation.temperature_c)}, for "
        f"{range_words(temperatures.work_low_c, temperatures.work_high_c)}; "
        f"{said}."
    )
    lines = [
        "",
        *_action("Do", answer.recommended),
        "",
        *_action("Or", answer.alternative),
        "",
        row("Give up", answer.give_up),
    ]
    for title, sentences in (
        ("Caution", answer.cautions),
        ("Assumed", assumed + answer.assumptions),
    ):
        lines += ["", f"{title}:", *(f"  - {sentence}" for sentence in sentences)]
    return wrapped([heading], under="") + wrapped(lines)


def _action(word: str, action: Action) -> list[str]:
    lines = [row(word, action.sentence)]
    if action.test_after_min:
        lines.append(
            row(
                "",
                "Then dip a fresh blade: not set before 3 min, set without a mark after "
                f"{action.test_after_min:.0f}.",
            )
        )
    return lines


def correction_data(answer: Correction, assumed: tuple[str, ...]) -> dict[str, Any]:
    """The advice for a script: names with units, figures as they were reckoned."""
    data = asdict(answer)
    data["assumptions"] = [*assumed, *answer.assumptions]
    return data

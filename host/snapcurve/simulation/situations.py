"""The lessons at the practice bench, from situations.toml."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import did_you_mean
from snapcurve.shown.units import PLAIN, Style, with_figures
from snapcurve.simulation.practice import BenchState


@dataclass(frozen=True)
class Situation:
    """A lesson. ``story`` is told at the start, with what is seen and heard; ``task`` is what the
    learner is to bring about; ``right`` what would have been right, and why."""

    name: str
    couverture: str
    method: str
    state: BenchState
    story: str
    task: str
    right: str


@cache
def situations(style: Style = PLAIN) -> dict[str, Situation]:
    """All lessons by their word, in the order of the file, with figures as ``style`` shows
    them."""
    text = (files(__package__) / "situations.toml").read_text(encoding="utf-8")
    return {
        word: Situation(state=BenchState(**one.pop("bowl")), **one)
        for word, one in tomllib.loads(with_figures(text, style)).items()
    }


def situation_named(word: str, style: Style = PLAIN) -> Situation:
    """The lesson called ``word``; SnapcurveError if there is none."""
    known = situations(style)
    if word not in known:
        raise SnapcurveError(
            f'There is no lesson "{word[:40]}"{did_you_mean(word, known)}; '
            f"there are {', '.join(known)}."
        )
    return known[word]

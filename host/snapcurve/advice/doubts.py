"""Which assumptions move an answer most, and by how much: it is worked out again with each."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from snapcurve.advice.inputs import Bench, PlanRequest
from snapcurve.advice.situation import Situation
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import Style

_NAMED = 2

# How far each may be off. Choices made here: the published latent heats of chocolate and 157 J/g
# times the fat differ by about as much; the others are as wide as benches were found to differ.
_LATENT_PART = 0.15
_MELTING_K = 1.0
_LOSS_PARTS = (0.6, 1.5)
_TOUCHING_SHARES = (0.5, 0.9)
_ROOM_K = 1.0
_HOT_AIR_PARTS = (0.6, 1.4)
_MICROWAVE_PARTS = (0.8, 1.2)


@dataclass(frozen=True)
class Number:
    """What an answer comes down to: `value` in `unit` "g", "s" or "min", and what it is of."""

    of: str
    value: float
    unit: str


@dataclass(frozen=True)
class Moved:
    """`assumption` in words, and by how much the number moves with it, in the number's unit."""

    assumption: str
    by: float
    unit: str


_Asked = TypeVar("_Asked", bound=Bench)


def moved_most(asked: _Asked, number_of: Callable[[_Asked], Number | None]) -> tuple[Moved, ...]:
    """The two assumptions that move `number_of(asked)` most, the first one first; fewer where
    fewer move it at all."""
    number = number_of(asked)
    if number is None:
        return ()
    found = []
    for words, changes in _doubts(asked):
        by = 0.0
        for change in changes:
            try:
                other = number_of(replace(asked, **change))
            except SnapcurveError:  # no such bowl, or no answer for it
                continue
            if other is not None and (other.of, other.unit) == (number.of, number.unit):
                by = max(by, abs(other.value - number.value))
        found.append(Moved(words, by, number.unit))
    found.sort(key=lambda one: -one.by)
    return tuple(one for one in found[:_NAMED] if one.by > 0)


def moved_words(number: Number | None, moved: tuple[Moved, ...], style: Style) -> str:
    """The same as a sentence; empty where nothing moves it."""
    if number is None or not moved:
        return ""
    first, *others = moved
    text = f"{first.assumption} most: it moves {number.of} by {_by(first, style)}"
    text += "".join(f"; {one.assumption} by {_by(one, style)}" for one in others)
    return f"{text}. All of them with --assumptions."


def _by(moved: Moved, style: Style) -> str:
    if moved.unit == "g":
        return style.mass_words(moved.by)
    return f"{max(1.0, moved.by):.0f} {moved.unit}"


def _doubts(asked: Bench) -> list[tuple[str, list[dict[str, Any]]]]:
    """Each assumption in words, and what to change for it to be off either way."""
    style, thermal, bowl = asked.style, asked.thermal, asked.bowl
    latent_j = thermal.latent_heat_j_per_g
    found: list[tuple[str, list[dict[str, Any]]]] = [
        (
            f"the latent heat (±{100 * _LATENT_PART:.0f} %)",
            [
                {"thermal": replace(thermal, latent_heat_j_per_g=latent_j * (1 + part))}
                for part in (-_LATENT_PART, _LATENT_PART)
            ],
        ),
        (
            f"where it melts (±{style.difference_words(_MELTING_K)})",
            [
                {"thermal": replace(thermal, melting=thermal.melting.shifted(by_k))}
                for by_k in (-_MELTING_K, _MELTING_K)
            ],
        ),
        (
            f"the room (±{style.difference_words(_ROOM_K)})",
            [{"room_c": asked.room_c + by_k} for by_k in (-_ROOM_K, _ROOM_K)],
        ),
    ]
    if bowl.mass_g > 0:
        low, high = _TOUCHING_SHARES
        found.append(
            (
                f"how much of the bowl warms with it ({100 * low:.0f} to {100 * high:.0f} %)",
                [{"bowl": replace(bowl, touching_share=share)} for share in _TOUCHING_SHARES],
            )
        )
    if asked.loss_w_per_k is None:
        usual = asked.loss_used_w_per_k
        found.append(_times("the loss to the room", "loss_w_per_k", usual, _LOSS_PARTS, style))
    if isinstance(asked, Situation) and asked.hot_air_w is None:
        usual = asked.hot_air_used_w
        found.append(_times("what hot air puts in", "hot_air_w", usual, _HOT_AIR_PARTS, style))
    if isinstance(asked, PlanRequest) and asked.microwave_w is not None:
        usual = asked.microwave_w
        found.append(
            _times("what the oven puts in", "microwave_w", usual, _MICROWAVE_PARTS, style)
        )
    return found


def _times(
    words: str, name: str, usual: float, parts: tuple[float, float], style: Style
) -> tuple[str, list[dict[str, Any]]]:
    low, high = (style.number(part, 1) for part in parts)
    return f"{words} ({low} to {high} times)", [{name: part * usual} for part in parts]

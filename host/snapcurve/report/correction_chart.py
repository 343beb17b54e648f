"""The chart of a correction: where the bowl is and where each action takes it."""

from pathlib import Path

from snapcurve.advice.actions import Action, Situation
from snapcurve.advice.correction import Correction
from snapcurve.shown.figures import (
    about_minutes_words,
    degrees_words,
    mass_words,
    range_words,
    seconds_words,
)
from snapcurve.shown.formats import ending_of


def action_words(action: Action) -> list[str]:
    """An action in a few short lines."""
    lines = []
    if action.kind in ("stir", "pieces") and action.stir_min:
        lines.append(f"stir {about_minutes_words(action.stir_min)}")
    if action.pieces_g:
        lines.append(f"{mass_words(action.pieces_g)} of pieces")
    if action.melted_g and action.melted_at_c is not None:
        lines.append(f"{mass_words(action.melted_g)} melted,")
        lines.append(f"at {degrees_words(action.melted_at_c)}")
    if action.hot_air_s:
        lines.append(f"hot air, {seconds_words(action.hot_air_s)}")
    return lines or [action.kind]


def correction_chart(answer: Correction, situation: Situation, name: str, path: Path) -> None:
    """Draw `answer` into `path`; SnapcurveError for an ending or file that cannot be written."""
    ending_of(path)
    from snapcurve.report.sketch import CHOCOLATE, INK, Sketch

    temperatures = situation.temperatures
    caption = [
        f"{mass_words(situation.mass_g)} in the bowl",
        f"room {degrees_words(situation.room_c)}",
        f"window {range_words(temperatures.work_low_c, temperatures.work_high_c)}",
        "reckoned, not measured: go by the reading and a fresh test blade",
    ]
    sketch = Sketch(f"Correction: {name}, {answer.observation}", caption)
    axes = sketch.axes
    now_c = situation.temperature_c
    actions = (("do", answer.recommended), ("or", answer.alternative))
    shown = [now_c, temperatures.work_low_c, temperatures.work_high_c]
    shown += [action.predicted_c for _, action in actions]
    margin_c = max(0.8, 0.15 * (max(shown) - min(shown)))
    low_c, high_c = min(shown) - margin_c, max(shown) + margin_c
    sketch.degrees(low_c, high_c)
    sketch.window(temperatures.work_low_c, temperatures.work_high_c)
    axes.set_xlim(0, 3)
    axes.set_xticks([])
    places = (0.45, 1.35, 2.35)
    raised_c = 0.03 * (high_c - low_c)
    axes.plot([places[0]], [now_c], marker="o", markersize=13, color=CHOCOLATE, zorder=3.5)
    rises = answer.recommended.predicted_c > now_c
    sketch.say(
        places[0],
        now_c - raised_c if rises else now_c + raised_c,
        f"now {degrees_words(now_c)}",
        ha="center",
        va="top" if rises else "bottom",
    )
    for place, (word, action) in zip(places[1:], actions, strict=True):
        arrow = {
            "arrowstyle": "-|>",
            "color": INK,
            "linewidth": 1.6 if word == "do" else 1.0,
            "linestyle": "solid" if word == "do" else "dashed",
            "shrinkA": 10,
            "shrinkB": 9,
        }
        axes.annotate(
            "", xy=(place, action.predicted_c), xytext=(places[0], now_c), arrowprops=arrow
        )
        axes.plot(
            [place],
            [action.predicted_c],
            marker="s" if word == "do" else "D",
            markersize=12,
            color=INK if word == "do" else "white",
            markeredgecolor=INK,
            zorder=3.5,
        )
        lines = [f"{word}: {degrees_words(action.predicted_c)}", *action_words(action)]
        sketch.say(place + 0.06, action.predicted_c, "\n".join(lines), ha="left", va="center")
    sketch.write(path)

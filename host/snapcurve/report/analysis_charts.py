"""Charts of what was analysed: a cup's cooling curve, batches over each other."""

from collections.abc import Sequence
from itertools import pairwise
from math import nan
from pathlib import Path

import numpy as np

from snapcurve.analysis.cooling_curve import Inflection, slopes_c_per_min
from snapcurve.analysis.cup_temper import CupVerdict, slope_words
from snapcurve.analysis.filed_outcomes import Learned
from snapcurve.analysis.lessons import Lesson
from snapcurve.errors import SnapcurveError
from snapcurve.recording.curve import Curve
from snapcurve.recording.timeline import Timeline
from snapcurve.report.chart_content import clean
from snapcurve.report.chart_page import (
    CHOCOLATE,
    INK,
    QUIET,
    WARNING,
    WINDOW,
    ChartPage,
    paper_mm,
)
from snapcurve.shown.units import Style

TANGENT_S = 70.0
BROKEN_S = 20.0
LABEL_LETTERS = 34
BEFORE_S, AFTER_S = 15 * 60.0, 60 * 60.0  # around coming into the window
ABOVE_C, BELOW_C = 5.0, 3.0  # of the window, so that its width can be seen
# colour, line and its width: told apart in grey
LOOKS = (
    (CHOCOLATE, "solid", 2.0),
    (WARNING, (0, (5, 2)), 1.8),
    (QUIET, "solid", 1.3),
    (INK, (0, (1, 1.5)), 1.8),
    (CHOCOLATE, (0, (6, 2, 1, 2)), 1.6),
    (QUIET, (0, (3, 3)), 1.6),
)


def _line(
    timeline: Timeline, zero_s: float, start_s: float, end_s: float
) -> tuple[list[float], ...]:
    """Minutes after ``zero_s`` and °C of what is known, broken where for long nothing is."""
    times, values = timeline.known.between(start_s, end_s)
    minutes, drawn_c = [], []
    for (at_s, value), (next_s, _) in pairwise([*zip(times, values, strict=True), (0.0, 0.0)]):
        minutes.append((at_s - zero_s) / 60)
        drawn_c.append(value)
        if next_s - at_s > BROKEN_S:
            minutes.append(minutes[-1])
            drawn_c.append(nan)
    return minutes, drawn_c


def compared_chart(
    batches: Sequence[tuple[str, Timeline]], path: Path, paper: str, style: Style
) -> Path:
    """Draw each of ``batches`` (name, timeline) over the others into ``path``.

    Each begins where it came into its window, if all of them did, else at its start. Drawn is
    what is known of the chocolate, not the probe in the air. SnapcurveError for a curve of
    which nothing is known, and if the file cannot be written.
    """
    at_window = all(timeline.entered_s is not None for _, timeline in batches)
    for name, timeline in batches:
        if not timeline.known.times_s:
            raise SnapcurveError(
                f"There is nothing to draw of {clean(name)}: it has no settled reading."
            )
    caption = (
        "Where the probe was out of the chocolate, settling or without a reading, nothing is "
        "drawn."
    )
    if not at_window:
        caption += " Not all of them came into the window, so each begins at 0."
    page = ChartPage("Batches over each other", [caption], paper_mm(paper), style)
    windows = {timeline.window_c for _, timeline in batches}
    if len(windows) == 1 and (window_c := windows.pop()) is not None:
        page.axes.axhspan(*window_c, color=WINDOW)
    ends_min, ends_c = [], []
    for (name, timeline), (colour, line, width) in zip(batches, LOOKS, strict=False):
        zero_s = timeline.entered_s or 0.0 if at_window else 0.0
        minutes, values = _line(timeline, zero_s, 0.0, timeline.known.end_s)
        ends_min += [minutes[0], minutes[-1]]
        ends_c += [min(timeline.known.values_c), max(timeline.known.values_c)]
        label = clean(name).replace("$", r"\$")
        if len(label) > LABEL_LETTERS:
            label = label[: LABEL_LETTERS - 1] + "…"
        page.axes.plot(minutes, values, color=colour, linestyle=line, linewidth=width, label=label)
    since = "coming into the working window" if at_window else "the record began"
    page.across(min(ends_min), max(*ends_min, min(ends_min) + 1), f"minutes after {since}")
    page.degrees(min(ends_c) - 1, max(ends_c) + 1)
    if at_window:
        page.axes.axvline(0.0, color=QUIET, linewidth=0.8)
    page.axes.legend(loc="upper right", fontsize=11, frameon=True, framealpha=0.9)
    return page.save(path)


def outcomes_chart(
    batches: Sequence[Learned],
    lesson: Lesson,
    window_c: tuple[float, float],
    path: Path,
    paper: str,
    style: Style,
) -> Path:
    """Draw all into ``path``, told apart by how they turned out, each from when it came into
    the window; what is not known of a batch is not drawn.

    SnapcurveError if none of them ever came into the window.
    """
    drawn = [
        (one.outcome.good, one.timeline)
        for one in batches
        if one.timeline is not None and one.timeline.entered_s is not None
    ]
    if not drawn:
        raise SnapcurveError(
            "There is nothing to draw: none of these batches came into its window."
        )
    caption = f"{lesson.good} batches released with gloss, {lesson.bad} did not. {lesson.why}"
    if len(drawn) < len(batches):
        caption += f" Not drawn, as never in the window: {len(batches) - len(drawn)}."
    title = f"{lesson.couverture}: batches by outcome"
    page = ChartPage(title, [f"{caption} {lesson.warning}"], paper_mm(paper), style, above_pt=24)
    page.across(-BEFORE_S / 60, AFTER_S / 60, "minutes after coming into the working window")
    page.degrees(window_c[0] - BELOW_C, window_c[1] + ABOVE_C)
    page.axes.axhspan(*window_c, color=WINDOW)
    for edge_c in lesson.window_c or ():
        page.axes.axhline(edge_c, color=QUIET, linewidth=1.4, linestyle=(0, (2, 2)))
    looks = {
        True: (CHOCOLATE, "solid", 1.8, "released with gloss"),
        False: (WARNING, (0, (4, 2)), 1.6, "did not"),
        None: (QUIET, (0, (1, 2)), 1.2, "not noted"),
    }
    named: set[bool | None] = set()
    # The good ones come first, in the legend too.
    for good, timeline in sorted(drawn, key=lambda batch: not batch[0]):
        colour, line, width, words = looks[good]
        entered_s = timeline.entered_s or 0.0
        since_s = max(entered_s - BEFORE_S, timeline.descent_start_s or 0.0)
        points = _line(timeline, entered_s, since_s, entered_s + AFTER_S)
        label = None if good in named else words
        named.add(good)
        page.axes.plot(*points, color=colour, linestyle=line, linewidth=width, label=label)
    page.axes.axvline(0.0, color=QUIET, linewidth=0.8)
    page.axes.legend(
        loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=3, fontsize=12, frameon=False
    )
    return page.save(path)


def cup_chart(
    curve: Curve,
    inflection: Inflection,
    verdict: CupVerdict,
    title: str,
    path: Path,
    paper: str,
    style: Style,
) -> Path:
    """Draw readings, inflection and tangent, and the slope below them, into ``path``."""
    page = ChartPage(title, [verdict.sentence], paper_mm(paper), style)
    axes = page.axes
    times = np.array(curve.times_s)
    values = np.array([np.nan if v is None else v for v in curve.temperatures_c], float)
    part = (times >= inflection.start_s) & (times <= inflection.end_s)
    since, values = times[part] - inflection.start_s, values[part]
    axes.plot(since, values, color=CHOCOLATE, linewidth=1.8)
    at, slope = inflection.at_s - inflection.start_s, inflection.slope_c_per_min
    reach = np.array([-TANGENT_S, TANGENT_S])
    tangent = inflection.temperature_c + slope / 60 * reach
    axes.plot(at + reach, tangent, color=WARNING, linewidth=1.6, linestyle=(0, (6, 3)))
    axes.plot([at], [inflection.temperature_c], "o", color=WARNING, markersize=9)
    axes.annotate(
        f"{slope_words(slope, verdict.uncertainty_c_per_min, style)}\n"
        f"at {style.temperature(inflection.temperature_c)}",
        (at, inflection.temperature_c),
        xytext=(18, 22 if slope < 0.3 else 56),
        textcoords="offset points",
        fontsize=13,
        color=INK,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 2.0, "alpha": 0.9},
    )
    low_c, high_c = float(np.nanmin(values)), float(np.nanmax(values))
    span_c = high_c - low_c
    page.across(0, float(since[-1]), "seconds since the fall began")
    # The slope has the lower third to itself, on its own scale.
    page.degrees(low_c - 0.75 * span_c, high_c + 0.08 * span_c, ticks_from_c=low_c - 1)
    below = axes.inset_axes((0.0, 0.0, 1.0, 0.34))
    below.patch.set_alpha(0.0)
    below.set_xlim(axes.get_xlim())
    below.set_xticks([])
    below.yaxis.tick_right()
    below.yaxis.set_label_position("right")
    below.set_ylabel(f"slope, {style.degree}/min", fontsize=12)
    page.numbers(below.yaxis)
    for side in ("top", "left"):
        below.spines[side].set_visible(False)
    step_s = float(np.median(np.diff(times)))
    slopes = slopes_c_per_min([float(v) for v in values], step_s, inflection.half_window_s)
    if verdict.limits is not None:
        limits = verdict.limits
        low, high = map(style.interval, (limits.low_c_per_min, limits.high_c_per_min))
        below.axhspan(low, high, color=WINDOW)
        right = float(since[-1]) * 0.99
        below.text(right, high, "good cups", ha="right", va="bottom", fontsize=11)
    below.axhline(0.0, color=QUIET, linewidth=0.8)
    below.plot(since, slopes * style.interval(1.0), color=QUIET, linewidth=1.6)
    below.plot([at], [style.interval(slope)], "o", color=WARNING, markersize=7)
    return page.save(path)

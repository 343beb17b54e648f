"""The chart of one batch: its line, phases, window, alarms and dip tests."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from snapcurve.analysis.practice_truth import Truly
from snapcurve.recording.timeline import Timeline
from snapcurve.report import truth_strips
from snapcurve.report.chart_content import Content, content_of
from snapcurve.report.chart_labels import (
    Plane,
    StripWord,
    crowded,
    dip_words,
    marker_half_pt,
    phase_words,
    place_labels,
)
from snapcurve.report.chart_page import (
    CHOCOLATE,
    INK,
    LEADING,
    LEFT_PT,
    OUT,
    PT_PER_MM,
    QUIET,
    RIGHT_PT,
    TEXT_PT,
    WINDOW,
    ChartPage,
    paper_mm,
)
from snapcurve.shown.units import PLAIN, Style

STRIP_PT, STRIP_GAP_PT = 20.0, 5.0
# shape and whether it is filled
MARKERS: dict[str, tuple[str, bool]] = {
    "near": ("o", False),
    "reached": ("o", True),
    "dwell_done": ("s", True),
    "too_hot": ("X", True),
    "too_warm": ("^", True),
    "too_cool": ("v", True),
    "back": ("D", False),
    "note": ("P", False),
}
OTHER_MARKER = ("s", False)
PHASE_FILL = ("#f7f1e7", "#e6dccb")


def batch_chart(
    timeline: Timeline,
    title: str,
    path: Path,
    *,
    uncertainty: str = "",
    paper: str = "A4",
    style: Style = PLAIN,
    truth: Sequence[Truly] = (),
) -> Path:
    """Draw a batch into ``path``, on a paper on its long side, and return that.

    ``uncertainty`` is said beside the calibration; ``truth`` is what a practice bowl truly was.
    SnapcurveError as in `ChartPage.save`, for
    another paper, and for a curve without samples.
    """
    content = content_of(timeline, uncertainty, style, truth)
    return draw_batch(content, title, paper_mm(paper), style).save(path)


def draw_batch(
    content: Content, title: str, size_mm: tuple[float, float], style: Style
) -> ChartPage:
    """The page of ``content``."""
    line = content.line
    width = size_mm[0] * PT_PER_MM - LEFT_PT - RIGHT_PT
    names = phase_words(content.phases, line.end_s, width)
    strips = [
        (name, draw, high_pt)
        for name, there, draw, high_pt in (
            ("phase", content.phases, _draw_phases, STRIP_PT),
            ("probe out", line.out, _draw_out, STRIP_PT),
            ("dip test", content.dip_tests, _draw_dips, STRIP_PT),
            ("melted", content.truth, truth_strips.draw_melted, truth_strips.HIGH_PT),
            ("crystals", content.truth, truth_strips.draw_crystals, truth_strips.HIGH_PT),
        )
        if there
    ]
    high = sum(high_pt + STRIP_GAP_PT for _, _, high_pt in strips)
    high += TEXT_PT * LEADING if any(word.above for word in names) else 0
    page = ChartPage(title, content.caption, size_mm, style, high)
    plane = Plane(page.width, page.height, line.end_s, *content.limits_c)
    page.across(0, line.end_s / 60, "minutes")
    page.degrees(*content.limits_c)
    bottom = page.bottom + page.height + sum(high_pt + STRIP_GAP_PT for _, _, high_pt in strips)
    for name, draw, high_pt in strips:
        bottom -= high_pt + STRIP_GAP_PT
        middle = bottom + STRIP_GAP_PT + high_pt / 2 - 4
        page.text(LEFT_PT - 8, middle, name, ha="right", color=QUIET)
        axes = page.area(bottom + STRIP_GAP_PT, high_pt)
        axes.set_xlim(0, plane.width_pt)
        axes.set_ylim(0, high_pt)
        axes.axis("off")
        draw(axes, content, plane)
    _draw_targets(page, content)
    _draw_lines(page.axes, content)
    _draw_markers(page.axes, content)
    _draw_labels(page, content, plane)
    return page


def _block(axes: Axes, plane: Plane, start_s: float, end_s: float, **how: Any) -> None:
    left, right = plane.x(start_s), plane.x(end_s)
    how = {"edgecolor": INK, "linewidth": 0.8, **how}
    axes.add_patch(Rectangle((left, 1), right - left, STRIP_PT - 2, **how))


def _write(axes: Axes, words: list[StripWord]) -> None:
    for word in words:
        y = STRIP_PT + 4 if word.above else 6
        axes.text(word.x, y, word.words, color=INK, parse_math=False, clip_on=False)


def _draw_phases(axes: Axes, content: Content, plane: Plane) -> None:
    for at, phase in enumerate(content.phases):
        _block(axes, plane, phase.start_s, phase.end_s, facecolor=PHASE_FILL[at % 2])
    _write(axes, phase_words(content.phases, plane.end_s, plane.width_pt))


def _draw_out(axes: Axes, content: Content, plane: Plane) -> None:
    for start_s, end_s in content.line.out:
        _block(axes, plane, start_s, end_s, facecolor="#c9c9c9")


def _draw_dips(axes: Axes, content: Content, plane: Plane) -> None:
    for test in content.dip_tests:
        early_s = test.end_s if test.early_s is None else test.early_s
        if early_s > test.at_s:
            _block(axes, plane, test.at_s, early_s, facecolor="white", linestyle="dashed")
        if test.early_s is not None:
            _block(axes, plane, early_s, test.due_s or test.end_s, facecolor="white")
        for at_s, shape, size, edge in (
            (test.at_s, "|", STRIP_PT - 4, 2),
            (test.due_s, "d", 9, 1),
        ):
            if at_s is not None:
                axes.add_line(
                    Line2D(
                        [plane.x(at_s)],
                        [STRIP_PT / 2],
                        marker=shape,
                        markersize=size,
                        markeredgewidth=edge,
                        color=INK,
                        clip_on=False,
                    )
                )
    _write(axes, dip_words(content.dip_tests, plane))


def _draw_targets(page: ChartPage, content: Content) -> None:
    axes = page.axes
    for start_s, end_s in content.line.out:
        axes.axvspan(start_s / 60, end_s / 60, facecolor=OUT, linewidth=0, zorder=0.5)
    for gap in content.line.gaps:
        look: Any = {"facecolor": "none", "edgecolor": "#a8a8a8", "hatch": "///", "linewidth": 0.6}
        axes.axvspan(gap.start_s / 60, gap.end_s / 60, zorder=1.0, **look)
    for band in content.bands:
        ends = (band.start_s / 60, band.end_s / 60)
        axes.fill_between(ends, band.low_c, band.high_c, color=WINDOW, linewidth=0, zorder=0.8)
        for edge_c in (band.low_c, band.high_c):
            axes.plot(ends, (edge_c, edge_c), color=INK, linewidth=0.9, zorder=1.6)
    for level in content.levels:
        page.level(level.kind, level.at_c, level.start_s / 60, level.end_s / 60)
    for phase in content.phases[1:]:
        axes.axvline(phase.start_s / 60, color=INK, linewidth=0.6, linestyle=(0, (2, 3)))


def _draw_lines(axes: Axes, content: Content) -> None:
    if content.room:
        times, values = zip(*content.room, strict=True)
        minutes = [*(at_s / 60 for at_s in times), content.line.end_s / 60]
        axes.plot(minutes, [*values, values[-1]], color=QUIET, linewidth=0.9, linestyle=":")
    if content.truth:
        minutes = [one.at_s / 60 for one in content.truth]
        look: Any = {"color": INK, "linewidth": 1.1, "linestyle": (0, (5, 2)), "zorder": 2.7}
        axes.plot(minutes, [one.chocolate_c for one in content.truth], **look)
    for piece in content.line.pieces:
        axes.plot(
            [at_s / 60 for at_s in piece.times_s],
            piece.values_c,
            color=QUIET if piece.in_air else CHOCOLATE,
            linewidth=0.9 if piece.in_air else 2.0,
            linestyle=(0, (3, 2)) if piece.in_air else "solid",
            marker="." if len(piece.times_s) == 1 else None,
            solid_capstyle="butt",
            zorder=2.5,
        )


def _draw_markers(axes: Axes, content: Content) -> None:
    often = crowded(content.markers)
    # All of a kind at once: a long batch has hundreds, and each call takes its time.
    minutes, stems_c = [], []
    for marker in content.markers:
        minutes += [marker.at_s / 60] * 3
        stems_c += [marker.line_c, marker.at_c, math.nan]
    axes.plot(minutes, stems_c, color=QUIET, linewidth=0.9, zorder=2.2)
    for name in dict.fromkeys(marker.name for marker in content.markers):
        alike = [marker for marker in content.markers if marker.name == name]
        half = marker_half_pt(often.get(name, 1))
        shape, filled = MARKERS.get(name, OTHER_MARKER)
        axes.plot(
            [marker.at_s / 60 for marker in alike],
            [marker.at_c for marker in alike],
            marker=shape,
            markersize=2 * half - (0 if filled else half / 2),
            markerfacecolor=INK if filled else "white",
            markeredgecolor="white" if filled else INK,
            markeredgewidth=0.8 if filled else 0.35 * half,
            linestyle="none",
            zorder=3.5,
            clip_on=False,
        )


def _draw_labels(page: ChartPage, content: Content, plane: Plane) -> None:
    for label in place_labels(content, plane):
        if label.leader:
            x0, y0, x1, y1 = label.leader
            page.axes.add_line(
                Line2D(
                    [x0 / plane.width_pt, x1 / plane.width_pt],
                    [y0 / plane.height_pt, y1 / plane.height_pt],
                    transform=page.axes.transAxes,
                    color=QUIET,
                    linewidth=0.7,
                    zorder=3.2,
                )
            )
        # The baseline, with the depth of letters such as g and p below it.
        y = label.box.bottom + 0.27 * (label.box.top - label.box.bottom)
        page.say(
            label.box.left / plane.width_pt,
            y / plane.height_pt,
            label.words,
            transform=page.axes.transAxes,
        )

"""Strips over a practised batch's chart: how much of it was melted, and its fine crystals."""

from collections.abc import Sequence
from math import ceil

from matplotlib.axes import Axes

from snapcurve.analysis.practice_facts import IN_TEMPER_SHARE, THICK_SHARE
from snapcurve.report.chart_content import Content
from snapcurve.report.chart_labels import Plane
from snapcurve.report.chart_page import CHOCOLATE, INK, WINDOW

HIGH_PT = 38.0
FILL = "#dfcbb6"
CRYSTALS_LEAST = 0.05  # the strip's upper end at least
ASIDE_PT = 6.0  # between strip and number


def draw_melted(axes: Axes, content: Content, plane: Plane) -> None:
    """The melted share, from nothing to all."""
    _draw(axes, content, plane, [one.melted_share for one in content.truth], 1.0)


def draw_crystals(axes: Axes, content: Content, plane: Plane) -> None:
    """The share of fine crystals, over the band of those shares with which chocolate is in
    temper and can still be poured."""
    shares = [one.crystals_share for one in content.truth]
    top = min(max(CRYSTALS_LEAST, *shares), 2 * THICK_SHARE)
    top = ceil(100 * top) / 100
    low_pt = IN_TEMPER_SHARE / top * HIGH_PT
    high_pt = min(THICK_SHARE / top, 1.0) * HIGH_PT
    axes.axhspan(low_pt, high_pt, color=WINDOW, linewidth=0, zorder=0.5)
    axes.axhline(low_pt, color=INK, linewidth=0.7, linestyle=(0, (1, 2)), zorder=2.4)
    if high_pt < HIGH_PT:
        axes.axhline(high_pt, color=INK, linewidth=0.7, linestyle=(0, (1, 2)), zorder=2.4)
    _draw(axes, content, plane, shares, top)
    middle_pt = (low_pt + high_pt) / 2 - 7
    axes.text(plane.width_pt + ASIDE_PT, middle_pt, "in temper", color=INK, clip_on=False)


def _draw(axes: Axes, content: Content, plane: Plane, shares: Sequence[float], top: float) -> None:
    x = [plane.x(one.at_s) for one in content.truth]
    y = [min(share / top, 1.0) * HIGH_PT for share in shares]
    axes.fill_between(x, 0, y, color=FILL, linewidth=0, zorder=1)
    axes.plot(x, y, color=CHOCOLATE, linewidth=1.3, zorder=2.5, clip_on=False)
    axes.axhline(0, color=INK, linewidth=0.8, clip_on=False)
    words = f"{100 * top:.0f} %"
    axes.text(plane.width_pt + ASIDE_PT, HIGH_PT - 8, words, color=INK, clip_on=False)

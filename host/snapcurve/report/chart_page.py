"""How a page is divided: all in points from its lower left corner."""

import math
from dataclasses import dataclass

from snapcurve.report.chart_content import Content
from snapcurve.report.chart_words import Measure, fill, shorten, wrap
from snapcurve.report.strips import RowWord, phase_words
from snapcurve.shown.quantities import celsius, fahrenheit

PT_PER_MM = 72 / 25.4
TITLE_PT, SUBTITLE_PT, CAPTION_PT, TEXT_PT = 17.0, 12.0, 11.0, 11.0
UNIT_PT = 14.0
LEADING = 1.3
EDGE_PT = 26.0
LEFT_PT, RIGHT_PT = 92.0, 76.0  # of the plot, from the edges of the page
BELOW_PLOT_PT = 46.0  # numbers and "minutes"
ROW_PT, ROW_GAP_PT = 20.0, 5.0
MINUTE_STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30, 60, 120)
MINUTE_TICKS_MAX = 16
DEGREE_STEPS = (0.5, 1, 2, 5, 10, 20, 50, 100)
DEGREE_TICKS_MAX = 10


@dataclass(frozen=True)
class Row:
    """A strip above the plot; ``name`` "phase", "probe out" or "dip test"."""

    name: str
    bottom: float


@dataclass(frozen=True)
class Page:
    """Where everything goes; texts are (line, baseline) pairs at x = EDGE_PT."""

    width: float
    height: float
    title: list[tuple[str, float]]
    subtitle: list[tuple[str, float]]
    caption: list[tuple[str, float]]
    rows: list[Row]
    phase_words: list[RowWord]
    plot_bottom: float
    plot_height: float

    @property
    def plot_width(self) -> float:
        """Points between the two axes."""
        return self.width - LEFT_PT - RIGHT_PT


def divide(
    content: Content, title: str, subtitle: str, size_mm: tuple[float, float], measure: Measure
) -> Page:
    """The page for ``content``: what the texts and rows leave goes to the plot."""
    width, height = size_mm[0] * PT_PER_MM, size_mm[1] * PT_PER_MM
    across = width - 2 * EDGE_PT
    # The title is bold, and bold is wider than what is measured.
    title_lines = wrap(title, across / 1.25, TITLE_PT, measure)
    subtitle_lines = wrap(subtitle, across, SUBTITLE_PT, measure)
    parts = [shorten(part, across, CAPTION_PT, measure) for part in content.caption]
    caption_lines = fill(parts, "  ·  ", across, CAPTION_PT, measure)
    top = height - EDGE_PT
    title_at = _down(title_lines, top, TITLE_PT)
    top -= len(title_lines) * TITLE_PT * LEADING
    subtitle_at = _down(subtitle_lines, top, SUBTITLE_PT)
    top -= len(subtitle_lines) * SUBTITLE_PT * LEADING + 8
    names = phase_words(content.phases, content.end_s, width - LEFT_PT - RIGHT_PT, measure)
    if any(word.above for word in names):
        top -= TEXT_PT * LEADING
    rows = []
    for name, there in (
        ("phase", content.phases),
        ("probe out", content.out),
        ("dip test", content.dip_tests),
    ):
        if there:
            top -= ROW_PT
            rows.append(Row(name, top))
            top -= ROW_GAP_PT
    caption_top = EDGE_PT - 4 + len(caption_lines) * CAPTION_PT * LEADING
    bottom = caption_top + BELOW_PLOT_PT
    return Page(
        width=width,
        height=height,
        title=title_at,
        subtitle=subtitle_at,
        caption=_down(caption_lines, caption_top, CAPTION_PT),
        rows=rows,
        phase_words=names,
        plot_bottom=bottom,
        plot_height=top - bottom,
    )


def ticks_c(low_c: float, high_c: float, in_fahrenheit: bool) -> tuple[list[float], list[float]]:
    """Round temperatures of one unit from ``low_c`` to ``high_c``: where they lie in °C, and
    their numbers in the unit."""
    low, high = (fahrenheit(end) if in_fahrenheit else end for end in (low_c, high_c))
    step = step_for(high - low, DEGREE_STEPS, DEGREE_TICKS_MAX)
    numbers = [step * at for at in range(math.ceil(low / step), math.floor(high / step) + 1)]
    return [celsius(number) if in_fahrenheit else number for number in numbers], numbers


def _down(lines: list[str], top: float, size: float) -> list[tuple[str, float]]:
    return [(line, top - size - index * size * LEADING) for index, line in enumerate(lines)]


def step_for(span: float, steps: tuple[float, ...], most: int) -> float:
    """The smallest of ``steps`` that needs no more than ``most`` ticks over ``span``."""
    for step in steps:
        if span / step <= most:
            return step
    return steps[-1] * max(1, -(-span // (steps[-1] * most)))

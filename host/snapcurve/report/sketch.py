"""A page with one plot for what is reckoned rather than recorded: same look, simpler layout.

Beside drawing.py the only module that imports matplotlib.
"""

import io
import warnings
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter, MultipleLocator

from snapcurve.report import chart_page as pages
from snapcurve.report.chart_words import clean, fill, wrap
from snapcurve.report.drawing import (
    CHOCOLATE,
    GRID,
    INK,
    LEVEL_STYLES,
    PNG_DPI,
    QUIET,
    SERIF,
    SETTINGS,
    WARNING,
    WINDOW,
    measure,
    metadata,
)
from snapcurve.shown.formats import PAPERS_MM, ending_of
from snapcurve.shown.quantities import celsius, fahrenheit
from snapcurve.shown.whole_files import write_whole

__all__ = ["CHOCOLATE", "INK", "QUIET", "WARNING", "WINDOW", "Sketch"]

HALO = [withStroke(linewidth=2.5, foreground="white")]


class Sketch:
    """One page: title above, `axes` in the middle, `caption` parts below."""

    def __init__(self, title: str, caption: list[str]) -> None:
        width_mm, height_mm = PAPERS_MM["a4"]
        self.width, self.height = width_mm * pages.PT_PER_MM, height_mm * pages.PT_PER_MM
        self._title = clean(title)
        across = self.width - 2 * pages.EDGE_PT
        with mpl.rc_context(SETTINGS):
            self.figure = Figure(figsize=(self.width / 72, self.height / 72), facecolor="white")
            FigureCanvasAgg(self.figure)
            top = self.height - pages.EDGE_PT
            for line in wrap(self._title, across / 1.25, pages.TITLE_PT, measure):
                top -= pages.TITLE_PT * pages.LEADING
                how = {"fontfamily": SERIF, "fontweight": "bold"}
                self._words(pages.EDGE_PT, top, line, pages.TITLE_PT, **how)
            lines = fill(
                [clean(part) for part in caption], "  ·  ", across, pages.CAPTION_PT, measure
            )
            bottom = pages.EDGE_PT - 4.0
            for line in reversed(lines):
                self._words(pages.EDGE_PT, bottom, line, pages.CAPTION_PT)
                bottom += pages.CAPTION_PT * pages.LEADING
            self._bottom = bottom + pages.BELOW_PLOT_PT
            self._top = top - 22.0
            self.axes: Axes = self.figure.add_axes(
                (
                    pages.LEFT_PT / self.width,
                    self._bottom / self.height,
                    (self.width - pages.LEFT_PT - pages.RIGHT_PT) / self.width,
                    (self._top - self._bottom) / self.height,
                )
            )
        self.axes.spines["top"].set_visible(False)
        self.axes.tick_params(colors=INK)
        self.axes.set_axisbelow(True)

    def _words(self, x: float, y: float, words: str, size: float, **how: Any) -> None:
        text = Text(x / self.width, y / self.height, words, parse_math=False, **how)
        text.set_fontsize(size)
        text.set_color(how.get("color", INK))
        self.figure.add_artist(text)

    def degrees(self, low_c: float, high_c: float) -> None:
        """The vertical axis in °C, with °F on the right."""
        axes, span_c = self.axes, high_c - low_c
        axes.set_ylim(low_c, high_c)
        step = pages.step_for(span_c, pages.DEGREE_STEPS, pages.DEGREE_TICKS_MAX)
        axes.yaxis.set_major_locator(MultipleLocator(step))
        functions: Any = (fahrenheit, celsius)
        right = axes.secondary_yaxis("right", functions=functions)
        step = pages.step_for(span_c * 9 / 5, pages.DEGREE_STEPS, pages.DEGREE_TICKS_MAX)
        right.yaxis.set_major_locator(MultipleLocator(step))
        right.tick_params(colors=INK)
        for axis in (axes.yaxis, right.yaxis):
            axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        middle = 0.5 * (self._bottom + self._top)
        self._words(pages.EDGE_PT, middle, "°C", pages.UNIT_PT)
        self._words(self.width - pages.EDGE_PT, middle, "°F", pages.UNIT_PT, ha="right")
        axes.grid(True, axis="y", color=GRID, linewidth=0.6)

    def minutes(self, end: float) -> None:
        """The horizontal axis in minutes from 0."""
        self.axes.set_xlim(0, end)
        step = pages.step_for(end, pages.MINUTE_STEPS, pages.MINUTE_TICKS_MAX)
        self.axes.xaxis.set_major_locator(MultipleLocator(step))
        self.axes.set_xlabel("minutes", size=12)

    def window(self, low_c: float, high_c: float) -> None:
        """The working window as a band with both its edges."""
        self.axes.axhspan(low_c, high_c, facecolor=WINDOW, edgecolor="none", zorder=0.8)
        for edge_c in (low_c, high_c):
            self.axes.axhline(edge_c, color=INK, linewidth=0.9, zorder=1.6)

    def level(self, at_c: float, kind: str) -> None:
        """A line right across: `kind` "melt", "cool" or "never"."""
        never = kind == "never"
        self.axes.axhline(
            at_c,
            color=WARNING if never else INK,
            linewidth=2.2 if never else 1.3,
            linestyle=LEVEL_STYLES.get(kind, "dashed"),
            zorder=1.6,
        )

    def say(self, x: float, y: float, words: str, **how: Any) -> None:
        """Words at a place of the plot, legible over lines."""
        placed = {"size": pages.TEXT_PT, "parse_math": False, "clip_on": False, **how}
        for color, effects, layer in (("white", HALO, 4.0), (how.get("color", INK), None, 4.1)):
            self.axes.text(
                x, y, words, **{**placed, "color": color}, path_effects=effects, zorder=layer
            )

    def write(self, path: Path) -> None:
        """Into `path`, by its ending."""
        ending = ending_of(path)
        target = io.BytesIO()
        with mpl.rc_context(SETTINGS), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph")
            self.figure.savefig(
                target, format=ending, dpi=PNG_DPI, metadata=metadata(ending, self._title)
            )
        write_whole(path, target.getvalue())

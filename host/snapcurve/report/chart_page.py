"""A page with one chart: title above, caption below, axes in the person's units.

All charts are drawn on it, with matplotlib's figure and canvas; pyplot would start slower and
keep global state. Temperatures are drawn in °C; what stands beside an axis is in the style's unit.
"""

import io
import warnings
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patheffects import withStroke
from matplotlib.textpath import text_to_path
from matplotlib.ticker import FixedFormatter, FixedLocator, FuncFormatter, MaxNLocator

from snapcurve.errors import SnapcurveError
from snapcurve.report.chart_content import clean
from snapcurve.shown.formats import PAPERS_MM, ending_of
from snapcurve.shown.units import Style, celsius, fahrenheit
from snapcurve.shown.whole_files import write_whole
from snapcurve.wire.version import __version__

PNG_DPI = 150
PT_PER_MM = 72 / 25.4
# Both families come with matplotlib, so the chart looks the same everywhere.
SANS, SERIF = "DejaVu Sans", "DejaVu Serif"
TITLE_PT, TEXT_PT, UNIT_PT = 17.0, 11.0, 14.0
LEADING = 1.3
EDGE_PT = 26.0
LEFT_PT, RIGHT_PT = 92.0, 76.0  # of the plot, from the edges of the page
BELOW_PLOT_PT = 40.0  # numbers and what they count
JOINT = "  ·  "
CAPTION_LINES = 8
# Colour only helps: each thing also has its own line, hatch, shape or words.
INK, CHOCOLATE, QUIET = "#221a15", "#4a2512", "#6f6a66"
WINDOW, OUT, GRID, WARNING = "#f0dfc0", "#ededed", "#e2e2e2", "#8a1410"
LEVEL_STYLES: dict[str, Any] = {
    "melt": (0, (9, 4)),
    "cool": (0, (5, 2, 1, 2)),
    "rewarm": (0, (4, 3)),
    "never": "solid",
}
mpl.rcParams.update(
    {
        "font.family": SANS,
        "font.size": TEXT_PT,
        "pdf.fonttype": 42,  # fonts within the file
        "ps.fonttype": 42,  # matplotlib 3.11 looks here how many letters one font in a PDF holds
        "svg.fonttype": "none",  # text stays text
        "svg.hashsalt": "snapcurve",  # the same chart is the same file
        "hatch.linewidth": 0.6,
    }
)


# A letter the typeface lacks is drawn as a box; no need to tell the terminal.
warnings.filterwarnings("ignore", message="Glyph")


@lru_cache(maxsize=4096)
def measure(words: str, size_pt: float = TEXT_PT) -> float:
    """Width of ``words`` in points in the chart's plain typeface."""
    font = FontProperties(family=SANS, size=size_pt)
    return float(text_to_path.get_text_width_height_descent(words, font, ismath=False)[0])


def shorten(text: str, width: float, size_pt: float = TEXT_PT) -> str:
    """``text`` cut to ``width`` points, with an ellipsis where something is left out."""
    if measure(text, size_pt) <= width:
        return text
    while text and measure(text + "…", size_pt) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def fill(parts: list[str], joint: str, width: float, size_pt: float = TEXT_PT) -> list[str]:
    """``parts`` joined into lines of at most ``width`` points; only a part that is too long for
    one line is broken, and a word that is too long is shortened."""
    lines: list[str] = []
    for part in parts:
        longer = lines[-1] + joint + part if lines else part
        if measure(longer, size_pt) <= width:
            lines[-1:] = [longer]
        elif measure(part, size_pt) <= width or " " not in part:
            lines.append(shorten(part, width, size_pt))
        else:
            lines += fill(part.split(), " ", width, size_pt)
    return lines


def paper_mm(paper: str) -> tuple[float, float]:
    """Width and height of a paper on its long side; SnapcurveError for one there is not."""
    if paper.lower() not in PAPERS_MM:
        raise SnapcurveError(
            f"There is no paper {paper!r} here: choose one of {', '.join(PAPERS_MM)}."
        )
    return PAPERS_MM[paper.lower()]


class ChartPage:
    """``axes`` is the plot, ``left``, ``bottom``, ``width`` and ``height`` its place in points
    from the page's lower left corner. ``above_pt`` are left free over it."""

    def __init__(
        self,
        title: str,
        caption: list[str],
        size_mm: tuple[float, float],
        style: Style,
        above_pt: float = 0.0,
    ) -> None:
        self.style = style
        self.page_width, page_height = (length * PT_PER_MM for length in size_mm)
        self._title = clean(title)
        self.figure = Figure(figsize=(self.page_width / 72, page_height / 72), facecolor="white")
        FigureCanvasAgg(self.figure)
        across = self.page_width - 2 * EDGE_PT
        top = page_height - EDGE_PT
        # The title is bold, and bold is wider than what is measured.
        first, *rest = fill(self._title.split(), " ", across / 1.25, TITLE_PT) or [""]
        for line in (first, shorten(" ".join(rest), across / 1.25, TITLE_PT)):
            if line:
                font = {"fontfamily": SERIF, "fontweight": "bold"}
                self.text(EDGE_PT, top - TITLE_PT, line, TITLE_PT, **font)
                top -= TITLE_PT * LEADING
        lines = fill([clean(part) for part in caption], JOINT, across)[:CAPTION_LINES]
        below = EDGE_PT + 2 + (len(lines) - 1) * TEXT_PT * LEADING
        for number, line in enumerate(lines):
            self.text(EDGE_PT, below - number * TEXT_PT * LEADING, line)
        self.left, self.bottom = LEFT_PT, below + TEXT_PT * LEADING + BELOW_PLOT_PT
        self.width = self.page_width - LEFT_PT - RIGHT_PT
        self.height = top - 8 - above_pt - self.bottom
        self.axes = self.area(self.bottom, self.height)
        self.axes.spines[["top", "right"]].set_visible(False)
        self.axes.set_axisbelow(True)
        self.axes.grid(True, axis="y", color=GRID, linewidth=0.6)

    def area(self, bottom: float, height: float) -> Axes:
        """Axes as wide as the plot."""
        size = (self.page_width, self.figure.get_figheight() * 72)
        axes = self.figure.add_axes(
            (self.left_share, bottom / size[1], self.width / size[0], height / size[1])
        )
        axes.tick_params(colors=INK)
        return axes

    @property
    def left_share(self) -> float:
        """Where the plot begins, as a part of the page's width."""
        return LEFT_PT / self.page_width

    def text(self, x: float, y: float, words: str, size: float = TEXT_PT, **how: Any) -> None:
        """``words`` with their baseline at (x, y) points of the page, taken literally."""
        x, y = x / self.page_width, y / 72 / self.figure.get_figheight()
        how = {"color": INK, "fontsize": size, **how}
        self.figure.text(x, y, words, parse_math=False, **how)

    def say(self, x: float, y: float, words: str, **how: Any) -> None:
        """``words`` at a place of the plot, legible over lines."""
        halo = [withStroke(linewidth=2.5, foreground="white")]
        how = {"parse_math": False, "clip_on": False, **how}
        # A halo is drawn as outlines, so the words themselves come once more, as text.
        self.axes.text(x, y, words, color="white", path_effects=halo, zorder=4.0, **how)
        self.axes.text(x, y, words, color=INK, zorder=4.1, **how)

    def degrees(self, low_c: float, high_c: float, ticks_from_c: float | None = None) -> None:
        """The vertical axis from ``low_c`` to ``high_c``; beside °C stands °F on the right, unless
        the ticks begin higher up, where the right is another scale's."""
        self.axes.set_ylim(low_c, high_c)
        middle = self.bottom + self.height / 2
        shared = ticks_from_c is not None
        low_c = low_c if ticks_from_c is None else ticks_from_c
        scale_degrees(self.axes.yaxis, low_c, high_c, self.style)
        self.text(EDGE_PT, middle, self.style.degree, UNIT_PT)
        if not self.style.fahrenheit and not shared:
            other = replace(self.style, fahrenheit=True)
            right = self.axes.secondary_yaxis("right")
            scale_degrees(right.yaxis, low_c, high_c, other)
            self.text(self.page_width - EDGE_PT, middle, other.degree, UNIT_PT, ha="right")

    def across(self, start: float, end: float, words: str) -> None:
        """The horizontal axis, in numbers of what ``words`` say."""
        self.axes.set_xlim(start, end)
        # Halves, thirds and sixths of an hour rather than of a hundred minutes.
        self.axes.xaxis.set_major_locator(MaxNLocator(16, steps=[1, 2, 3, 6, 10]))
        self.numbers(self.axes.xaxis)
        self.axes.set_xlabel(words, size=12, labelpad=4)

    def numbers(self, axis: Axis) -> None:
        """The numbers of ``axis`` with the person's decimal sign."""
        axis.set_major_formatter(
            FuncFormatter(lambda value, _: self.style.number(value, 6, trim=True))
        )

    def window(self, low_c: float, high_c: float) -> None:
        """The working window as a band with both its edges."""
        self.axes.axhspan(low_c, high_c, facecolor=WINDOW, edgecolor="none", zorder=0.8)
        for edge_c in (low_c, high_c):
            self.axes.axhline(edge_c, color=INK, linewidth=0.9, zorder=1.6)

    def level(self, kind: str, at_c: float, start: float, end: float) -> None:
        """A temperature of a key of LEVEL_STYLES or another kind of phase."""
        never = kind == "never"
        self.axes.plot(
            (start, end),
            (at_c, at_c),
            color=WARNING if never else INK,
            linewidth=2.2 if never else 1.3,
            linestyle=LEVEL_STYLES.get(kind, "dashed"),
            zorder=1.6,
        )

    def picture(self, kind: str) -> bytes:
        """The file; ``kind`` is "png", "svg" or "pdf". The same chart is the same file."""
        maker = "Software" if kind == "png" else "Creator"
        about: dict[str, Any] = {"Title": self._title, maker: f"snapcurve {__version__}"}
        if kind != "png":
            about["Date" if kind == "svg" else "CreationDate"] = None
        target = io.BytesIO()
        self.figure.savefig(target, format=kind, dpi=PNG_DPI, metadata=about)
        return target.getvalue()

    def save(self, path: Path) -> Path:
        """Write the page, in the format that the ending of ``path`` names, and return that.

        SnapcurveError for another ending, and for a file that cannot be written; an older file
        of that name then stays as it was.
        """
        write_whole(path, self.picture(ending_of(path)))
        return path


def scale_degrees(axis: Axis, low_c: float, high_c: float, style: Style) -> None:
    """Ticks at round temperatures of the style's unit, on an axis in °C."""
    low, high = (fahrenheit(end) if style.fahrenheit else end for end in (low_c, high_c))
    ticks = MaxNLocator(10, steps=[1, 2, 5, 10]).tick_values(low, high)
    ticks = [float(tick) for tick in ticks if low <= tick <= high]
    axis.set_major_locator(
        FixedLocator([celsius(tick) if style.fahrenheit else tick for tick in ticks])
    )
    axis.set_major_formatter(FixedFormatter([style.number(tick, 6, trim=True) for tick in ticks]))

"""Draws the content of a chart with matplotlib: beside sketch.py the only module that imports it.

Figure and canvas are used directly; pyplot would start slower and keep global state.
"""

import io
import math
import warnings
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.ticker import FixedFormatter, FixedLocator, FuncFormatter, MultipleLocator

from snapcurve.report import chart_page as pages
from snapcurve.report.chart_content import Content
from snapcurve.report.chart_page import Page, divide, step_for
from snapcurve.report.labels import Labels, crowded, marker_half_pt, place_labels
from snapcurve.report.placement import Plane
from snapcurve.report.strips import RowWord, dip_row_words
from snapcurve.shown.quantities import MINUS, PLAIN, Style
from snapcurve.wire.version import __version__

PNG_DPI = 150
# Both families come with matplotlib, so the chart looks the same everywhere.
SANS, SERIF = "DejaVu Sans", "DejaVu Serif"
# Colour only helps: each thing also has its own line, hatch, shape or words.
INK, CHOCOLATE, QUIET = "#221a15", "#4a2512", "#6f6a66"
WINDOW, OUT, GRID, WARNING = "#f0dfc0", "#ededed", "#e2e2e2", "#8a1410"
LEVEL_STYLES: dict[str, Any] = {
    "melt": (0, (9, 4)),
    "cool": (0, (5, 2, 1, 2)),
    "rewarm": (0, (4, 3)),
    "never": "solid",
}
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
SETTINGS: Any = {
    "font.family": SANS,
    "font.size": pages.TEXT_PT,
    "pdf.fonttype": 42,  # fonts within the file
    "ps.fonttype": 42,  # matplotlib 3.11 looks here how many letters one font in a PDF holds
    "svg.fonttype": "none",  # text stays text
    "svg.hashsalt": "snapcurve",  # the same chart is the same file
    "hatch.linewidth": 0.6,
    "axes.unicode_minus": True,
}


def measure(words: str, size_pt: float) -> float:
    """Width of ``words`` in points in the chart's plain typeface."""
    font = FontProperties(family=SANS, size=size_pt)
    return float(text_to_path.get_text_width_height_descent(words, font, ismath=False)[0])


def picture(
    content: Content,
    title: str,
    subtitle: str,
    size_mm: tuple[float, float],
    kind: str,
    style: Style = PLAIN,
) -> bytes:
    """The file for ``content``; ``kind`` is "png", "svg" or "pdf"."""
    # A letter the typeface lacks is drawn as a box; no need to tell the terminal.
    with mpl.rc_context(SETTINGS), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")
        page = divide(content, title, subtitle, size_mm, measure)
        figure = Figure(figsize=(page.width / 72, page.height / 72), facecolor="white")
        FigureCanvasAgg(figure)
        draw_chart(figure, content, page, style)
        target = io.BytesIO()
        figure.savefig(target, format=kind, dpi=PNG_DPI, metadata=metadata(kind, title))
    return target.getvalue()


def metadata(kind: str, title: str) -> dict[str, Any]:
    """What the file says of itself."""
    maker = f"snapcurve {__version__}"
    if kind == "png":
        return {"Title": title, "Software": maker}
    if kind == "svg":
        return {"Title": title, "Creator": maker, "Date": None}
    return {"Title": title, "Creator": maker, "CreationDate": None}


def draw_chart(figure: Figure, content: Content, page: Page, style: Style = PLAIN) -> None:
    """Draw ``content`` as ``page`` divides it. SETTINGS have to be in force."""
    plane = Plane(page.plot_width, page.plot_height, content.end_s, *content.limits_c)
    labels = place_labels(content, plane, measure)
    _Chart(figure, content, page, plane, labels, style)


class _Chart:
    def __init__(
        self,
        figure: Figure,
        content: Content,
        page: Page,
        plane: Plane,
        labels: Labels,
        style: Style,
    ):
        self.figure = figure
        self._content = content
        self._page = page
        self._plane = plane
        self._style = style
        self._areas: list[Axes] = []
        self._axes = self._area(page.plot_bottom, page.plot_height)
        self._texts()
        self._scales()
        self._rows()
        self._backdrop()
        self._lines()
        self._markers()
        self._labels(labels)

    def _area(self, bottom: float, height: float) -> Axes:
        left, low = self._place(pages.LEFT_PT, bottom)
        right, high = self._place(pages.LEFT_PT + self._page.plot_width, bottom + height)
        axes = self.figure.add_axes((left, low, right - left, high - low))
        self._areas.append(axes)
        return axes

    def _place(self, x: float, y: float) -> tuple[float, float]:
        """A point of the chart's page as a part of the figure's width and height."""
        return x / 72 / self.figure.get_figwidth(), y / 72 / self.figure.get_figheight()

    def _text(self, x: float, y: float, words: str, size: float, **how: Any) -> None:
        """``words`` with their baseline at (x, y) points of the page, taken literally."""
        text = Text(*self._place(x, y), words, parse_math=False, **how)
        text.set_fontsize(size)
        text.set_color(how.get("color", INK))
        self.figure.add_artist(text)

    def _texts(self) -> None:
        page = self._page
        for words, y in page.title:
            font = {"fontfamily": SERIF, "fontweight": "bold"}
            self._text(pages.EDGE_PT, y, words, pages.TITLE_PT, **font)
        for words, y in page.subtitle:
            self._text(pages.EDGE_PT, y, words, pages.SUBTITLE_PT)
        for words, y in page.caption:
            self._text(pages.EDGE_PT, y, words, pages.CAPTION_PT)

    def _scales(self) -> None:
        axes, plane = self._axes, self._plane
        axes.set_xlim(0, plane.end_s / 60)
        axes.set_ylim(plane.low_c, plane.high_c)
        minutes = plane.end_s / 60
        step = step_for(minutes, pages.MINUTE_STEPS, pages.MINUTE_TICKS_MAX)
        axes.xaxis.set_major_locator(MultipleLocator(step))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: self._tick(value)))
        right = axes.secondary_yaxis("right")
        units = (True, False) if self._style.fahrenheit else (False, True)
        for axis, in_fahrenheit in zip((axes.yaxis, right.yaxis), units, strict=True):
            places, numbers = pages.ticks_c(plane.low_c, plane.high_c, in_fahrenheit)
            axis.set_major_locator(FixedLocator(places))
            axis.set_major_formatter(FixedFormatter([self._tick(number) for number in numbers]))
        right.tick_params(colors=INK)
        axes.set_xlabel("minutes", size=12, labelpad=4)
        middle = self._page.plot_bottom + self._page.plot_height / 2
        first, second = ("°F" if unit else "°C" for unit in units)
        self._text(pages.EDGE_PT, middle, first, pages.UNIT_PT)
        self._text(self._page.width - pages.EDGE_PT, middle, second, pages.UNIT_PT, ha="right")
        axes.grid(True, axis="y", color=GRID, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.tick_params(colors=INK)
        axes.spines["top"].set_visible(False)

    def _tick(self, value: float) -> str:
        return self._style.number(value, 6, trim=True).replace("-", MINUS)

    def _rows(self) -> None:
        for row in self._page.rows:
            axes = self._area(row.bottom, pages.ROW_PT)
            axes.set_xlim(0, self._plane.width_pt)
            axes.set_ylim(0, pages.ROW_PT)
            axes.axis("off")
            self._text(
                pages.LEFT_PT - 8, row.bottom + 6, row.name, pages.TEXT_PT, ha="right", color=QUIET
            )
            if row.name == "phase":
                self._phase_row(axes)
            elif row.name == "probe out":
                for start_s, end_s in self._content.out:
                    self._block(axes, start_s, end_s, facecolor="#c9c9c9")
            else:
                self._dip_row(axes)

    def _block(self, axes: Axes, start_s: float, end_s: float, **how: Any) -> None:
        left, right = self._plane.x(start_s), self._plane.x(end_s)
        how = {"edgecolor": INK, "linewidth": 0.8, **how}
        axes.add_patch(Rectangle((left, 1), right - left, pages.ROW_PT - 2, **how))

    def _row_words(self, axes: Axes, words: list[RowWord]) -> None:
        for word in words:
            y = pages.ROW_PT + 4 if word.above else 6
            axes.text(word.x, y, word.words, color=INK, parse_math=False, clip_on=False)

    def _phase_row(self, axes: Axes) -> None:
        for at, span in enumerate(self._content.phases):
            self._block(axes, span.start_s, span.end_s, facecolor=PHASE_FILL[at % 2])
        self._row_words(axes, self._page.phase_words)

    def _dip_row(self, axes: Axes) -> None:
        for test in self._content.dip_tests:
            early_s = test.early_s if test.early_s is not None else test.end_s
            if early_s > test.start_s:
                self._block(axes, test.start_s, early_s, facecolor="white", linestyle="dashed")
            if test.early_s is not None:
                self._block(axes, early_s, test.due_s or test.end_s, facecolor="white")
            for at_s, shape in ((test.start_s, "|"), (test.due_s, "d")):
                if at_s is not None:
                    line = Line2D(
                        [self._plane.x(at_s)],
                        [pages.ROW_PT / 2],
                        marker=shape,
                        markersize=pages.ROW_PT - 4 if shape == "|" else 9,
                        markeredgewidth=2 if shape == "|" else 1,
                        color=INK,
                        clip_on=False,
                    )
                    axes.add_line(line)
        words = dip_row_words(self._content, self._plane.width_pt, measure)
        self._row_words(axes, words)

    def _backdrop(self) -> None:
        axes, content = self._axes, self._content
        for start_s, end_s in content.out:
            axes.axvspan(start_s / 60, end_s / 60, facecolor=OUT, linewidth=0, zorder=0.5)
        for gap in content.gaps:
            axes.axvspan(
                gap.start_s / 60,
                gap.end_s / 60,
                facecolor="none",
                edgecolor="#a8a8a8",
                hatch="///",
                linewidth=0.6,
                zorder=1.0,
            )
        for band in content.bands:
            corner = (band.start_s / 60, band.low_c)
            width, height = (band.end_s - band.start_s) / 60, band.high_c - band.low_c
            patch = Rectangle(
                corner, width, height, facecolor=WINDOW, edgecolor="none", zorder=0.8
            )
            axes.add_patch(patch)
            for edge_c in (band.low_c, band.high_c):
                ends = (band.start_s / 60, band.end_s / 60)
                axes.plot(ends, (edge_c, edge_c), color=INK, linewidth=0.9, zorder=1.6)
        for level in content.levels:
            never = level.kind == "never"
            axes.plot(
                (level.start_s / 60, level.end_s / 60),
                (level.at_c, level.at_c),
                color=WARNING if never else INK,
                linewidth=2.2 if never else 1.3,
                linestyle=LEVEL_STYLES.get(level.kind, "dashed"),
                zorder=1.6,
            )
        for span in content.phases[1:]:
            axes.axvline(span.start_s / 60, color=INK, linewidth=0.6, linestyle=(0, (2, 3)))

    def _lines(self) -> None:
        axes, content = self._axes, self._content
        if content.room:
            times, values = zip(*content.room, strict=True)
            minutes = [*(at_s / 60 for at_s in times), content.end_s / 60]
            axes.plot(minutes, [*values, values[-1]], color=QUIET, linewidth=0.9, linestyle=":")
        for piece in content.pieces:
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

    def _markers(self) -> None:
        markers = self._content.markers
        often = crowded(markers)
        # All of a kind at once: a long batch has hundreds, and each call takes its time.
        minutes, stems_c = [], []
        for marker in markers:
            minutes += [marker.at_s / 60] * 3
            stems_c += [marker.line_c, marker.at_c, math.nan]
        self._axes.plot(minutes, stems_c, color=QUIET, linewidth=0.9, zorder=2.2)
        for name in dict.fromkeys(marker.name for marker in markers):
            alike = [marker for marker in markers if marker.name == name]
            half = marker_half_pt(often.get(name, 1))
            shape, filled = MARKERS.get(name, OTHER_MARKER)
            self._axes.plot(
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

    def _labels(self, labels: Labels) -> None:
        plane = self._plane
        axes = self._axes
        halo = [withStroke(linewidth=2.5, foreground="white")]
        where = axes.transAxes
        for label in labels.placed:
            if label.leader:
                x0, y0, x1, y1 = label.leader
                line = Line2D(
                    [x0 / plane.width_pt, x1 / plane.width_pt],
                    [y0 / plane.height_pt, y1 / plane.height_pt],
                    transform=where,
                    color=QUIET,
                    linewidth=0.7,
                    zorder=3.2,
                )
                axes.add_line(line)
            # A halo is drawn as outlines, so the words themselves come once more, as text.
            for color, effects, layer in (("white", halo, 4.0), (INK, None, 4.1)):
                axes.text(
                    label.x / plane.width_pt,
                    # The baseline, with the depth of letters such as g and p below it.
                    (label.y + 0.27 * label.height) / plane.height_pt,
                    label.words,
                    transform=where,
                    color=color,
                    parse_math=False,
                    path_effects=effects,
                    zorder=layer,
                )

"""Draws the pages of a batch sheet with matplotlib, all text as text."""

import functools
import io
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from snapcurve import __version__
from snapcurve.charts import page as chart_pages
from snapcurve.charts.content import Content
from snapcurve.charts.drawing import INK, QUIET, SANS, SERIF, SETTINGS, draw_chart
from snapcurve.charts.drawing import measure as chart_measure
from snapcurve.quantities import Style
from snapcurve.sheet.layout import ChartBox, Font, Rule, Sheet, Words

CHART_SCALE = 0.7  # of the sizes a chart has on a page of its own
# Beyond this plane the PDF would hold a drawing of the letter instead of the letter.
LAST_PLANE_CODE = 0xFFFF


@functools.cache
def _properties(font: Font) -> FontProperties:
    if font.kind == "title":
        return FontProperties(family=SERIF, weight="bold", size=font.size_pt)
    return FontProperties(family=SANS, size=font.size_pt)


@functools.lru_cache(maxsize=4096)
def measure(words: str, font: Font) -> float:
    """Width of ``words`` in points."""
    if not words:
        return 0.0
    found = text_to_path.get_text_width_height_descent(words, _properties(font), ismath=False)
    return float(found[0])


@functools.cache
def _letters(kind: str) -> frozenset[int]:
    return frozenset(get_font(findfont(_properties(Font(kind, 10)))).get_charmap())


def has_letter(letter: str, font: Font) -> bool:
    """Whether ``font`` can show ``letter``, and a reader can find it in the PDF again."""
    return ord(letter) <= LAST_PLANE_CODE and ord(letter) in _letters(font.kind)


def pdf(sheet: Sheet, content: Content | None, title: str, style: Style) -> bytes:
    """The file; ``content`` is what the chart shows. The same sheet is the same file."""
    target = io.BytesIO()
    maker = f"snapcurve {__version__}"
    metadata: dict[str, Any] = {
        "Title": title,
        "Creator": maker,
        "Producer": f"matplotlib {mpl.__version__}",
        "CreationDate": None,
    }
    with mpl.rc_context(SETTINGS), PdfPages(target, metadata=metadata) as pages:
        for figure in figures(sheet, content, style):
            pages.savefig(figure)
    return target.getvalue()


def figures(sheet: Sheet, content: Content | None, style: Style) -> list[Figure]:
    """One figure a page; SETTINGS have to be in force."""
    drawn = []
    for page in sheet.pages:
        figure = Figure(figsize=(sheet.width / 72, sheet.height / 72), facecolor="white")
        for item in page.items:
            match item:
                case Words():
                    _words(figure, sheet, item)
                case Rule():
                    ends = (item.x / sheet.width, (item.x + item.length) / sheet.width)
                    level = [item.y / sheet.height] * 2
                    line = Line2D(ends, level, color=INK, linewidth=item.width)
                    figure.add_artist(line)
                case ChartBox() if content is not None:
                    _chart(figure, item, content, style)
        drawn.append(figure)
    return drawn


def _words(figure: Figure, sheet: Sheet, item: Words) -> None:
    text = Text(
        item.x / sheet.width,
        item.y / sheet.height,
        item.text,
        parse_math=False,
        fontproperties=_properties(item.font),
        color=QUIET if item.quiet else INK,
    )
    text.set_fontfeatures(["-liga"])  # a letter is a letter, for whoever copies the text
    figure.add_artist(text)


def _chart(figure: Figure, box: ChartBox, content: Content, style: Style) -> None:
    # The chart's own margins may lie outside the box: nothing is drawn in them.
    edge = chart_pages.EDGE_PT * CHART_SCALE
    size_mm = tuple(
        (length + 2 * edge) / CHART_SCALE / chart_pages.PT_PER_MM
        for length in (box.width, box.height)
    )
    page = chart_pages.divide(content, "", "", (size_mm[0], size_mm[1]), chart_measure)
    draw_chart(figure, content, page, style, (box.x - edge, box.y - edge), CHART_SCALE)

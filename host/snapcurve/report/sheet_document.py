"""The pages of a batch sheet as a PDF: sections set by fpdf2, the curve as a vector drawing."""

import io
import os
import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, cast

import matplotlib as mpl
from fpdf import FPDF, FPDF_VERSION, FontFace
from fpdf.enums import MethodReturnValue, TableBordersLayout, WrapMode, XPos, YPos
from fpdf.fonts import TTFFont

from snapcurve.report import sheet_sections as s
from snapcurve.report.chart_page import EDGE_PT, PT_PER_MM
from snapcurve.report.chart_words import clean
from snapcurve.report.letters import shown
from snapcurve.wire.version import __version__

# The left margin leaves room for filing holes, 12 mm from the edge (ISO 838).
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 22.0, 14.0, 14.0, 18.0
TITLE_PT, HEAD_PT, TEXT_PT, SMALL_PT = 16.0, 10.0, 8.5, 7.5
LINE_MM = 4.0
GUTTER_MM = 2.0  # between the columns of a table
FOOT_MM = 11.0  # from the lower edge to the line with code and page number
LABEL_SHARE, VALUE_SHARE = 22, 63  # widths of a fact's label and value
CHART_MM, CHART_SCALE = 105.0, 0.7  # its height, and its size beside a chart on its own page
CHART_EDGE_MM = EDGE_PT / PT_PER_MM  # a chart's own margin, which lies in the page's
SIGN_MM = 12.0  # of free space above a line to sign on
INK, QUIET = (0x22, 0x1A, 0x15), (0x6F, 0x6A, 0x66)
SANS, SERIF = "DejaVu Sans", "DejaVu Serif"
# Both families come with matplotlib, so a sheet looks the same on every computer.
FONT_FILES = {
    (SANS, ""): "DejaVuSans.ttf",
    (SANS, "B"): "DejaVuSans-Bold.ttf",
    (SERIF, "B"): "DejaVuSerif-Bold.ttf",
}
# One day for all files: the same sheet is the same file, byte for byte.
MADE = datetime(2000, 1, 1, tzinfo=UTC)
# matplotlib writes the sizes of letters in px and means points; fpdf2 takes a px for 3/4 pt.
ABOUT_SVG = re.compile(r"<title/>|<(title|metadata)>.*?</\1>", re.DOTALL)
FONT_PX = re.compile(r"font-size: (\d+(?:\.\d+)?)px")


class Document(FPDF):
    """A sheet in the making; ``about`` stands at the foot of each page."""

    def __init__(self, size_mm: tuple[float, float], about: str):
        super().__init__(unit="mm", format=size_mm)
        self.set_margins(LEFT_MM, TOP_MM, RIGHT_MM)
        self.c_margin = 0
        self.set_auto_page_break(True, BOTTOM_MM)
        folder = os.path.join(mpl.get_data_path(), "fonts", "ttf")
        for (family, style), name in FONT_FILES.items():
            self.add_font(family, style, os.path.join(folder, name))
        # A letter is a letter, for a reader who copies the text: no ligatures.
        self.set_text_shaping(True, features={"liga": False})
        self.set_creation_date(MADE)
        self.set_creator(f"snapcurve {__version__}")
        self.set_producer(f"fpdf2 {FPDF_VERSION}")
        self.plain()
        self._about = self.legible(about)

    def plain(self, size_pt: float = TEXT_PT, quiet: bool = False) -> None:
        """Go on in the plain typeface."""
        self.set_font(SANS, "", size_pt)
        self.set_text_color(*(QUIET if quiet else INK))

    def legible(self, text: str) -> str:
        """``text`` with codes for what neither typeface nor reader can show."""
        letters = cast(TTFFont, self.fonts[SANS.lower()]).cmap
        return shown(text, lambda letter: ord(letter) in letters)

    def footer(self) -> None:
        """Code, couverture and number of the page."""
        self.set_y(-FOOT_MM)
        self._rule(0.15)
        self.plain(SMALL_PT)
        number = f"page {self.page_no()} of {{nb}}"
        room_mm = self.epw - self.get_string_width("page 888 of 888") - 4
        self.cell(room_mm, LINE_MM, _cut(self._about, room_mm, self.get_string_width))
        self.cell(0, LINE_MM, number, align="R")

    def _rule(self, width_mm: float) -> None:
        self.set_draw_color(*INK)
        self.set_line_width(width_mm)
        self.line(self.l_margin, self.y, self.w - self.r_margin, self.y)

    def headline(self, text: str) -> None:
        """The batch's code in large letters; like a name it may be of any length."""
        self.set_font(SERIF, "B", TITLE_PT)
        self.set_text_color(*INK)
        self._lines(self.legible(text), 7.5)
        self._rule(0.35)
        self.ln(2)

    def _lines(self, text: str, high_mm: float = LINE_MM, wide_mm: float = 0, **rest: Any) -> None:
        self.multi_cell(
            wide_mm, high_mm, text, new_x=XPos.LMARGIN, new_y=YPos.NEXT, align="L", **rest
        )

    def section(self, section: s.Section, chart_svg: str) -> None:
        """A section under its title; ``chart_svg`` is the curve's drawing, if there is one."""
        empty = section.block == s.Sentences((s.NOTHING,))
        # A title never stands alone at the foot of a page.
        self.plain()
        if self.will_page_break(self._beginning_mm(section.block)):
            self.add_page()
        self.ln(1.5)
        if section.title:
            self.set_font(SERIF, "B", HEAD_PT)
            self.set_text_color(*INK)
            self.cell(self.epw / 2, 5, section.title)
            if empty:
                self.plain(quiet=True)
                self.cell(0, 5, s.NOTHING, align="R")
            self.ln(5)
            self._rule(0.15)
            self.ln(1)
        if empty and section.title:
            return
        self.plain()
        match section.block:
            case s.Facts():
                self._facts(section.block)
            case s.Table():
                self._table(section.block)
            case s.Sentences():
                for text in section.block.texts:
                    self.plain(quiet=text == s.NOTHING)
                    self._lines(self.legible(text))
            case s.Chart():
                edge_mm = CHART_EDGE_MM * CHART_SCALE
                drawing = io.BytesIO(for_fpdf2(chart_svg).encode())
                top_mm, high_mm = self.y, CHART_MM - 2 * edge_mm
                with self.rect_clip(0, top_mm, self.w, high_mm):  # without its white edges
                    left_mm, wide_mm = self.l_margin - edge_mm, self.epw + 2 * edge_mm
                    self.image(drawing, left_mm, top_mm - edge_mm, wide_mm)
                self.set_y(top_mm + high_mm)
            case s.Signature():
                self._signature(section.block)

    def _beginning_mm(self, block: object) -> float:
        """Room for a title and what must stand below it: of a table head and first row."""
        if isinstance(block, s.Chart):
            return 100
        if not isinstance(block, s.Table):
            return 18
        share_mm = self.epw / sum(block.parts)
        high_mm = max(
            cast(
                float,
                self.multi_cell(
                    part * share_mm - GUTTER_MM,
                    LINE_MM,
                    self.legible(text),
                    align="L",
                    dry_run=True,
                    output=MethodReturnValue.HEIGHT,
                ),
            )
            for part, text in zip(block.parts, block.rows[0], strict=True)
        )
        return min(14 + high_mm, 100)

    def _facts(self, block: s.Facts) -> None:
        widths = (LABEL_SHARE, VALUE_SHARE) * 2
        label = FontFace(size_pt=SMALL_PT, color=QUIET)
        with self._open_table(widths, first_row_as_headings=False) as table:
            for at in range(0, len(block.pairs), 2):
                row = table.row()
                for name, value in block.pairs[at : at + 2]:
                    row.cell(name, style=label)
                    row.cell(self.legible(value), style=_quiet_if(value == s.NOTHING))

    def _table(self, block: s.Table) -> None:
        aligns = ["RIGHT" if at in block.right else "LEFT" for at in range(len(block.parts))]
        heads = FontFace(size_pt=SMALL_PT, color=QUIET, emphasis="")
        with self._open_table(block.parts, text_align=aligns, headings_style=heads) as table:
            table.row(block.head)
            for cells in block.rows:
                row = table.row()
                for text in cells:
                    row.cell(self.legible(text), style=_quiet_if(text == s.NOTHING))

    def _open_table(self, widths: tuple[float, ...], **rest: Any) -> Any:
        return self.table(
            borders_layout=TableBordersLayout.NONE,
            align="LEFT",
            col_widths=widths,
            line_height=LINE_MM,
            padding=(0.2, GUTTER_MM, 0.4, 0),
            v_align="T",
            wrapmode=WrapMode.WORD,
            **{"text_align": "LEFT", **rest},
        )

    def _signature(self, block: s.Signature) -> None:
        name = ", ".join(part for part in (block.signer, block.signed_at) if part)
        column_mm = self.epw / 3 - 4
        with self.unbreakable() as page:
            page.ln(SIGN_MM - LINE_MM)
            page.set_x(page.l_margin + column_mm + 6)
            page._lines(self.legible(name), wide_mm=column_mm)
            page.set_draw_color(*INK)
            page.set_line_width(0.25)
            for at in range(3):
                x = page.l_margin + at * (column_mm + 6)
                page.line(x, page.y, x + column_mm, page.y)
            page.plain(SMALL_PT, quiet=True)
            for label in ("signature", "name and bench", "date"):
                page.cell(column_mm + 6, LINE_MM, label)
            page.ln(LINE_MM + 1)


def _quiet_if(quiet: bool) -> FontFace | None:
    return FontFace(color=QUIET) if quiet else None


def _cut(text: str, most_mm: float, width: Callable[[str], float]) -> str:
    """``text`` on one line of at most ``most_mm``, with an ellipsis if it was longer."""
    text = " ".join(text.split())
    if width(text) <= most_mm:
        return text
    low, high = 0, len(text)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if width(text[:middle] + "…") <= most_mm else (low, middle)
    return text[:low].rstrip() + "…"


def pdf_of(
    code: str,
    couverture: str,
    sections: list[s.Section],
    chart_svg: str,
    size_mm: tuple[float, float],
) -> bytes:
    """The file; the same sheet is the same file. ``chart_svg`` is "" where there is no curve."""
    document = Document(size_mm, f"Batch {code}" + (f" · {couverture}" if couverture else ""))
    document.set_title(clean(f"Batch {code}: {couverture}"))
    document.add_page()
    document.headline(f"Batch {code}")
    for section in sections:
        document.section(section, chart_svg)
    return bytes(document.output())


def chart_size_mm(paper_mm: tuple[float, float]) -> tuple[float, float]:
    """The size on which to draw the curve for a sheet of ``paper_mm``, before it is scaled."""
    across_mm = paper_mm[0] - LEFT_MM - RIGHT_MM
    return across_mm / CHART_SCALE + 2 * CHART_EDGE_MM, CHART_MM / CHART_SCALE


def for_fpdf2(svg: str) -> str:
    """``svg`` of matplotlib without what fpdf2 would complain of, its letters of their size."""
    return FONT_PX.sub(r"font-size: \1pt", ABOUT_SVG.sub("", svg))

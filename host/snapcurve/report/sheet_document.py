"""A batch sheet on paper, as a PDF.

fpdf2 sets the sections; the curve goes in as the SVG that matplotlib draws, so its words can be
searched. What the typeface lacks is shown as a code.
"""

import io
import os
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import matplotlib as mpl
import segno
from fpdf import FPDF, FPDF_VERSION, FontFace
from fpdf.enums import MethodReturnValue, TableBordersLayout, WrapMode, XPos, YPos
from fpdf.fonts import TTFFont

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import witnesses
from snapcurve.report import sheet_pictures
from snapcurve.report import sheet_sections as s
from snapcurve.report.batch_chart import draw_batch
from snapcurve.report.chart_content import Content, clean
from snapcurve.report.chart_page import EDGE_PT, PT_PER_MM, SANS, SERIF
from snapcurve.report.sheet_pictures import IN_A_ROW, Small
from snapcurve.shown.units import Style
from snapcurve.shown.whole_files import write_whole
from snapcurve.wire.version import __version__

# Upright, width and height in millimetres: ISO 216, and letter by ANSI/ASME Y14.1.
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# The left margin leaves room for filing holes, 12 mm from the edge (ISO 838).
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 22.0, 14.0, 14.0, 18.0
TITLE_PT, HEAD_PT, TEXT_PT, SMALL_PT = 16.0, 10.0, 8.5, 7.5
LINE_MM = 4.0
GUTTER_MM = 2.5  # between the columns of a table
FOOT_MM = 11.0  # from the lower edge to the line with code and page number
LABEL_SHARE, VALUE_SHARE = 22, 63  # widths of a fact's label and value
CHART_MM, CHART_SCALE, TRUTH_MM = (
    105.0,
    0.7,
    24.0,
)  # height, size beside a chart on its own page, and what strips of a practised batch take
PICTURE_MM, WORDS_MM = 75.0, 3.2  # the height of a picture at most, and of a line below it
WORDS_LINES = 8  # below a picture; longer words follow in full below the row
INDENT_MM, INDENTS = 5.0, 12  # of a tree, and how many at most
SIGN_MM = 12.0  # of free space above a line to sign on
INK, QUIET = (0x22, 0x1A, 0x15), (0x6F, 0x6A, 0x66)
QR_MM = 18.0  # of 41 modules: 0.44 mm each, which a telephone reads
ACROSS_PT = 84.0  # a word that lies across the page
FONT_FILES = {
    (SANS, ""): "DejaVuSans.ttf",
    (SANS, "B"): "DejaVuSans-Bold.ttf",
    (SERIF, "B"): "DejaVuSerif-Bold.ttf",
}
# One day for all files: the same sheet is the same file, byte for byte.
MADE = datetime(2000, 1, 1, tzinfo=UTC)
# matplotlib writes the sizes of letters in px and means points; fpdf2 takes a px for 3/4 pt.
UNKNOWN_SVG = re.compile(r"<title/>|<(title|metadata|pattern)\b.*?</\1>", re.DOTALL)
FONT_PX = re.compile(r"font-size: (\d+(?:\.\d+)?)px")
# Kinds of characters that show nothing and can turn a text around or hide a part of it.
HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn")


class Document(FPDF):
    """A sheet in the making; ``about`` stands at each foot, ``across`` lies over each page."""

    def __init__(self, size_mm: tuple[float, float], about: str, style: Style, across: str = ""):
        super().__init__(unit="mm", format=size_mm)
        self.set_margins(LEFT_MM, TOP_MM, RIGHT_MM)
        self.c_margin = 0
        self.set_auto_page_break(True, BOTTOM_MM)
        folder = os.path.join(mpl.get_data_path(), "fonts", "ttf")
        for (family, weight), name in FONT_FILES.items():
            self.add_font(family, weight, os.path.join(folder, name))
        # A letter is a letter, for a reader who copies the text: no ligatures.
        self.set_text_shaping(True, features={"liga": False})
        self.set_creation_date(MADE)
        self.set_creator(f"snapcurve {__version__}")
        self.set_producer(f"fpdf2 {FPDF_VERSION}")
        self.plain()
        self._style = style
        self._about = self.legible(about)
        self._across = across

    def plain(self, size_pt: float = TEXT_PT, quiet: bool = False) -> None:
        """Go on in the plain typeface."""
        self.set_font(SANS, "", size_pt)
        self.set_text_color(*(QUIET if quiet else INK))

    def legible(self, text: str) -> str:
        """``text`` with codes for what neither typeface nor reader can show."""
        letters = cast(TTFFont, self.fonts[SANS.lower()]).cmap
        return with_codes(text, lambda letter: ord(letter) in letters)

    def footer(self) -> None:
        """Code, couverture and number of the page."""
        if self._across:
            self._lay_across()
        self.set_y(-FOOT_MM)
        self._rule(0.15)
        self.plain(SMALL_PT)
        number = f"page {self.page_no()} of {{nb}}"
        room_mm = self.epw - self.get_string_width("page 888 of 888") - 4
        self.cell(room_mm, LINE_MM, _cut(self._about, room_mm, self.get_string_width))
        self.cell(0, LINE_MM, number, align="R")

    def _lay_across(self) -> None:
        """Over all that stands on the page, so that no chart hides it."""
        self.set_font(SERIF, "B", ACROSS_PT)
        self.set_text_color(*INK)
        x, y = self.w / 2, self.h / 2
        wide_mm = self.get_string_width(self._across)
        with self.local_context(fill_opacity=0.09), self.rotation(50, x, y):
            self.text(x - wide_mm / 2, y, self._across)

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

    def section(self, section: s.Section) -> None:
        """A section under its title."""
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
                self._sentences(section.block)
            case s.Tree():
                self._tree(section.block)
            case Content():
                self._chart(section.block)
            case s.Pictures():
                self._pictures(section.block)
            case s.Signature():
                self._signature(section.block)
            case s.Witnessed():
                self._witnessed(section.block)

    def _sentences(self, block: s.Sentences) -> None:
        for text in block.texts:
            self.plain(quiet=text == s.NOTHING)
            self._lines(self.legible(text))

    def _tree(self, block: s.Tree) -> None:
        for depth, text, heading in block.lines:
            indent_mm = min(depth, INDENTS) * INDENT_MM
            self.set_x(self.l_margin + indent_mm)
            self.set_font(SANS, "B" if heading else "", TEXT_PT)
            self._lines(self.legible(text), wide_mm=self.epw - indent_mm)
        self.plain()

    def _chart(self, content: Content) -> None:
        edge_mm = EDGE_PT / PT_PER_MM * CHART_SCALE  # a chart's own margin lies in the page's
        wide_mm = self.epw + 2 * edge_mm
        high_mm = CHART_MM + (TRUTH_MM if content.truth else 0.0)
        size_mm = (wide_mm / CHART_SCALE, high_mm / CHART_SCALE)
        # What the caption says of the batch stands on the sheet already.
        content = replace(content, caption=content.notes)
        svg = draw_batch(content, "", size_mm, self._style).picture("svg").decode()
        drawing = io.BytesIO(for_fpdf2(svg).encode())
        top_mm = self.y
        with self.rect_clip(0, top_mm, self.w, high_mm - 2 * edge_mm):  # without its white edges
            self.image(drawing, self.l_margin - edge_mm, top_mm - edge_mm, wide_mm)
        self.set_y(top_mm + high_mm - 2 * edge_mm)

    def _rows(self, block: s.Pictures) -> tuple[tuple[Small, ...], ...]:
        return sheet_pictures.rows(block, self._picture_mm(), PICTURE_MM)

    def _picture_mm(self) -> float:
        return (self.epw - (IN_A_ROW - 1) * GUTTER_MM) / IN_A_ROW

    def _words_below(self, words: str) -> list[str]:
        """The lines of what stands below a picture; too many end with an ellipsis."""
        self.plain(SMALL_PT)
        lines = self.multi_cell(
            self._picture_mm(),
            WORDS_MM,
            self.legible(words),
            align="L",
            dry_run=True,
            output=MethodReturnValue.LINES,
        )
        whole = cast(list[str], lines)
        return whole if len(whole) <= WORDS_LINES else [*whole[: WORDS_LINES - 1], "…"]

    def _row_mm(self, row: Sequence[Small]) -> float:
        lines = max(len(self._words_below(one.words)) for one in row)
        return max(one.high_mm for one in row) + lines * WORDS_MM + 2

    def _pictures(self, block: s.Pictures) -> None:
        """Three in a row, each with its words below; none is cut by the end of a page."""
        for row in self._rows(block):
            if self.will_page_break(self._row_mm(row)):
                self.add_page()
            top_mm, below_mm = self.y, self.y + max(one.high_mm for one in row) + 1
            for at, one in enumerate(row):
                x = self.l_margin + at * (self._picture_mm() + GUTTER_MM)
                self.image(io.BytesIO(one.jpeg), x, top_mm, one.wide_mm, one.high_mm)
                self.set_xy(x, below_mm)
                for line in self._words_below(one.words):
                    self.cell(self._picture_mm(), WORDS_MM, line, new_x=XPos.LEFT, new_y=YPos.NEXT)
            self.set_xy(self.l_margin, top_mm + self._row_mm(row))
            for one in row:
                if self._words_below(one.words)[-1] == "…":
                    self._lines(self.legible(one.words), WORDS_MM)

    def _beginning_mm(self, block: object) -> float:
        """Room for a title and what must stand below it: of a table head and first row."""
        if isinstance(block, Content):
            return 100
        if isinstance(block, s.Pictures):
            return 14 + self._row_mm(self._rows(block)[0])
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

    def _witnessed(self, block: s.Witnessed) -> None:
        """The sentence, and the code at its right: black on white, with a quiet edge."""
        rows = [list(row) for row in segno.make_qr(block.content, error="m").matrix]
        module_mm = QR_MM / len(rows)
        with self.unbreakable() as page:
            x, y = page.w - page.r_margin - QR_MM, page.y + 1
            page._lines(block.text, wide_mm=page.epw - QR_MM - 6)
            page.set_fill_color(0)
            for down, row in enumerate(rows):
                for right, dark in enumerate(row):
                    if dark:
                        at = (x + right * module_mm, y + down * module_mm)
                        page.rect(*at, module_mm, module_mm, style="F")
            page.set_y(y + QR_MM + 1)

    def _signature(self, block: s.Signature) -> None:
        name = ", ".join(part for part in (block.signer, block.bench) if part)
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


def batch_sheet(sheet: s.Sheet, path: Path, paper: str, style: Style) -> Path:
    """Write ``sheet`` into ``path``, a PDF, and return that; SnapcurveError as in `written`."""
    title = f"Batch {sheet.code}"
    about = title + (f" · {sheet.couverture}" if sheet.couverture else "")
    about = ("NOT AS FILED · " if sheet.altered else "") + about
    across = "NOT AS FILED" if sheet.altered else "REHEARSAL" if sheet.rehearsal else ""
    return written(title, about, sheet.sections, path, paper, style, across, sheet.chain)


def written(
    title: str,
    about: str,
    sections: Sequence[s.Section],
    path: Path,
    paper: str,
    style: Style,
    across: str = "",
    chain: str = "",
) -> Path:
    """Set ``sections`` under ``title`` into ``path``, a PDF, and return that; ``about`` stands at
    each foot, ``across`` over each page; in the file stands ``chain`` too, where the notebook's
    chain of seals ends. The same sections are the same file.

    SnapcurveError for another ending than .pdf, for a paper that is none of PAPERS_MM, and
    for a file that cannot be written; an older file of that name then stays as it was.
    """
    if path.suffix.lower() != ".pdf":
        raise SnapcurveError(f"{path} cannot be the name of a sheet: let it end in .pdf.")
    if paper.lower() not in PAPERS_MM:
        raise SnapcurveError(f"There is no paper {paper!r} for sheets: choose A4 or Letter.")
    document = Document(PAPERS_MM[paper.lower()], about, style, across)
    document.set_title(clean(about.replace(" · ", ": ")))
    document.set_keywords(witnesses.marked(chain) if chain else "")
    document.add_page()
    document.headline(title)
    for section in sections:
        document.section(section)
    write_whole(path, bytes(document.output()), "sheet")
    return path


def with_codes(text: str, has_letter: Callable[[str], bool]) -> str:
    """``text`` in letters the typeface has, line breaks kept, in composed form (NFC); what it
    lacks and what shows nothing as its code, such as ⟨U+6F22⟩, so that nothing is dropped.

    Right-to-left text stays in reading order; fpdf2 turns it.
    """
    text = text.replace("\r\n", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    return "".join(
        letter
        if letter == "\n" or (unicodedata.category(letter) not in HIDDEN and has_letter(letter))
        else f"⟨U+{ord(letter):04X}⟩"
        for letter in unicodedata.normalize("NFC", text).replace("\t", " ")
    )


def for_fpdf2(svg: str) -> str:
    """``svg`` of matplotlib without what fpdf2 would complain of, its letters of their size."""
    return FONT_PX.sub(r"font-size: \1pt", UNKNOWN_SVG.sub("", svg))

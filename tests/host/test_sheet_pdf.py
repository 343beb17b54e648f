"""Batch sheets as files: what a reader gets out of them, what may not leave the page."""

import io
import re
import shutil
import subprocess
import sys

import matplotlib as mpl
import pypdf
import pytest
from chart_samples import plain
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from sheet_samples import ARABIC, HEBREW, NAMES, four_hours, normal, worst
from test_sheet_layout import EMPTY, MATTERS, sheet_of, texts_in, words_of

from snapcurve.charts import drawing as charts
from snapcurve.charts.content import content_of
from snapcurve.errors import SnapcurveError
from snapcurve.quantities import PLAIN, Style
from snapcurve.sheet import batch_sheet
from snapcurve.sheet.drawing import figures, has_letter
from snapcurve.sheet.layout import PLAIN_FONT
from snapcurve.sheet.letters import shown

MARKS = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069\\s]")  # what readers put in


def bare(text):
    return MARKS.sub("", text)


def by_pypdf(data):
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def by_pdftotext(data):
    """Of poppler: a second reader beside pypdf."""
    done = subprocess.run(
        ["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True
    )
    return done.stdout.decode().split("\f")[:-1]


needs_poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="poppler is not installed"
)
READERS = [by_pypdf, pytest.param(by_pdftotext, marks=needs_poppler)]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    wanted = (("normal", "A4"), ("normal", "Letter"), ("worst", "A4"), ("empty", "A4"))
    return {
        (name, paper): batch_sheet(
            MATTERS[name], folder / f"{name}-{paper}.pdf", paper=paper
        ).read_bytes()
        for name, paper in wanted
    }


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_text_holds_every_field(sheets, reader, paper):
    text = bare("".join(reader(sheets["normal", paper])))
    matter = normal()
    fields = list(texts_in(matter))
    assert len(fields) > 50
    for field in fields:
        for word in field.split():
            assert bare(word) in text, field
    for words in (
        *("1280g", "±0.4°Cat32°C(k=2)", "2026-09-01", "-1.21°Cat0.00°C", "20.4to21.3°C"),
        *("2026-11-2409:05(UTC+01:00)", "0:24:11", "31to32°C", "0:21:50", "signature"),
        *("workingwindow31–32°C", "tooearly", "reached", "never above 55 °C".replace(" ", "")),
    ):
        assert words in text, words


@pytest.mark.parametrize("reader", READERS)
def test_the_text_of_the_worst_sheet_holds_every_line(sheets, reader):
    """That its lines hold every field is tested in test_sheet_layout.py."""
    sheet = sheet_of(worst())
    texts = reader(sheets["worst", "A4"])
    assert len(texts) == len(sheet.pages)
    for page, text in zip(sheet.pages, texts, strict=True):
        held = bare(text)
        for item in words_of(page):
            # Readers put right-to-left words into an order of their own.
            for word in item.text.split():
                if all(ord(letter) < 0x590 or ord(letter) > 0x1FFF for letter in word):
                    assert bare(word) in held, item.text


@needs_poppler
def test_right_to_left_names_read_as_they_were_written(sheets):
    held = "".join(by_pdftotext(sheets["worst", "A4"]))
    for word in HEBREW.split():
        assert word in MARKS.sub(" ", held)
    assert set(ARABIC) <= set(held)


def test_right_to_left_letters_are_all_there(sheets):
    held = "".join(by_pypdf(sheets["worst", "A4"]))
    assert set(HEBREW + ARABIC) <= set(held)


@pytest.mark.parametrize("reader", READERS)
def test_code_and_page_number_on_every_page(sheets, reader):
    for name in MATTERS:
        texts = reader(sheets[name, "A4"])
        for number, text in enumerate(texts, 1):
            assert f"page {number} of {len(texts)}" in text
            assert f"Batch {MATTERS[name].code}" in text


@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_pages_have_the_size_of_the_paper(sheets, paper, size_mm):
    """ISO 216; letter after ANSI/ASME Y14.1 (8.5 in by 11 in)."""
    for page in pypdf.PdfReader(io.BytesIO(sheets["normal", paper])).pages:
        size = (page.mediabox.width, page.mediabox.height)
        assert [float(length) * 25.4 / 72 for length in size] == pytest.approx(size_mm, abs=0.1)


def test_fonts_are_embedded_as_outlines_and_nothing_tells_the_day(sheets):
    reader = pypdf.PdfReader(io.BytesIO(sheets["worst", "A4"]))
    fonts = {
        font.get_object()["/BaseFont"]: font.get_object()
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert fonts
    for font in fonts.values():
        descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
        assert "/FontFile2" in descriptor  # TrueType
        assert "/ToUnicode" in font
    assert set(reader.metadata) == {"/Title", "/Creator", "/Producer"}


def test_the_same_sheet_is_the_same_file(sheets, tmp_path):
    again = batch_sheet(normal(), tmp_path / "again.pdf")
    assert again.read_bytes() == sheets["normal", "A4"]


@pytest.mark.parametrize(
    ("paper", "matter"),
    [("letter", normal()), ("a4", normal(curve=four_hours())), ("letter", worst())],
)
def test_no_text_leaves_the_page_as_drawn(paper, matter):
    """By the extents of what matplotlib draws, the chart's words and ticks too."""
    style = Style(fahrenheit=True, decimal_comma=True)
    with mpl.rc_context(charts.SETTINGS):
        for figure in figures(sheet_of(matter, paper, style), content_of(matter.curve), style):
            canvas = FigureCanvasAgg(figure)
            canvas.draw()
            width, height = figure.bbox.width, figure.bbox.height
            texts = [text for text in figure.findobj(Text) if text.get_text()]
            assert len(texts) > 3
            for text in texts:
                box = text.get_window_extent(canvas.get_renderer())
                if box.bounds == (0, 0, 1, 1):
                    continue  # a tick that is switched off
                assert box.x0 > 20, text
                assert box.x1 < width - 20, text
                assert box.y0 > 20, text
                assert box.y1 < height - 20, text


def test_grey_is_enough():
    """Lines and marks differ by more than colour, and letters stand out from the paper."""
    shapes = {name: charts.MARKERS[name] for name in charts.MARKERS}
    assert len(set(shapes.values())) == len(shapes)
    styles = [charts.LEVEL_STYLES[kind] for kind in charts.LEVEL_STYLES]
    assert len({str(style) for style in styles}) == len(styles)

    def luminance(colour):
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for ink in (charts.INK, charts.QUIET):
        # Contrast of text by WCAG 2.2, success criterion 1.4.3: at least 4.5.
        assert 1.05 / (luminance(ink) + 0.05) >= 4.5
    assert luminance(charts.WINDOW) - luminance(charts.CHOCOLATE) > 0.5


@pytest.mark.parametrize("values", [[31.0], [None] * 30, [31.0, None, 85.0] * 9])
def test_scanty_curves_make_a_sheet(values, tmp_path):
    path = batch_sheet(normal(curve=plain(values)), tmp_path / "scanty.pdf")
    assert "Halde milk 36" in by_pypdf(path.read_bytes())[0]


def test_an_empty_matter_makes_one_page(sheets):
    (text,) = by_pypdf(sheets["empty", "A4"])
    assert text.count("not recorded") == 23
    assert EMPTY.code in text


def test_names_of_five_languages_are_intact(sheets):
    held = bare("".join(by_pypdf(sheets["normal", "A4"])))
    for name in NAMES:
        assert shown(name, lambda letter: has_letter(letter, PLAIN_FONT)) == name
        for word in name.split():
            assert word in held


@pytest.mark.parametrize(
    ("name", "paper", "words"),
    [
        ("sheet.png", "A4", "let it end in .pdf"),
        ("sheet", "A4", "let it end in .pdf"),
        ("sheet.pdf", "A3", "no paper 'A3' for sheets: choose A4 or Letter"),
        ("nowhere/sheet.pdf", "A4", "cannot write the sheet .*: there is no such"),
    ],
)
def test_what_cannot_be_written_is_a_sentence(name, paper, words, tmp_path):
    with pytest.raises(SnapcurveError, match=words) as caught:
        batch_sheet(EMPTY, tmp_path / name, paper=paper)
    assert "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_importing_sheets_does_not_load_matplotlib():
    code = "import snapcurve.sheet.from_batch, sys; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
    assert PLAIN.degree == "°C"

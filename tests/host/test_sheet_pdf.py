"""Batch sheets as files: what a reader gets out of them, what may not leave the page."""

import io
import itertools
import re

import numpy as np
import pypdf
import pypdfium2
import pytest
from chart_samples import plain
from notebook_samples import picture
from PIL import Image
from sheet_samples import (
    ARABIC,
    EMPTY,
    FOUR_HOURS,
    HEBREW,
    HOSTILE,
    NAMES,
    four_hours,
    normal,
    pictured,
    texts_in,
    worst,
)

from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import Lot
from snapcurve.recording.curve import Curve
from snapcurve.report import chart_page as charts
from snapcurve.report import sheet_document
from snapcurve.report.batch_chart import MARKERS
from snapcurve.report.sheet_document import LEFT_MM, PAPERS_MM, RIGHT_MM, TOP_MM, Document
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import PLAIN

SHEETS = {"normal": normal(), "worst": worst(), "empty": EMPTY}
MARKS = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069\\s]")  # what readers put in
PT_PER_MM = 72 / 25.4


def batch_sheet(sheet, path, paper="A4", style=PLAIN):
    return sheet_document.batch_sheet(sheet, path, paper, style)


def bare(text):
    return MARKS.sub("", text)


def by_pypdf(data):
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def by_pdfium(data):
    """A second reader beside pypdf, made by other people."""
    with pypdfium2.PdfDocument(data) as document:
        return [page.get_textpage().get_text_bounded() for page in document]


def letters_of(data):
    """For each page its size, and (letter, left, bottom, right, top) of all letters, in points."""
    with pypdfium2.PdfDocument(data) as document:
        for page in document:
            text = page.get_textpage()
            yield (
                page.get_size(),
                [
                    (text.get_text_range(at, 1), *text.get_charbox(at))
                    for at in range(text.count_chars())
                ],
            )


READERS = [by_pypdf, by_pdfium]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    wanted = (("normal", "A4"), ("normal", "Letter"), ("worst", "A4"), ("empty", "A4"))
    return {
        (name, paper): batch_sheet(
            SHEETS[name], folder / f"{name}-{paper}.pdf", paper=paper
        ).read_bytes()
        for name, paper in wanted
    }


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_text_holds_every_field(sheets, reader, paper):
    text = bare("".join(reader(sheets["normal", paper])))
    fields = list(texts_in(normal()))
    assert len(fields) > 50
    for field in fields:
        for word in field.split():
            assert bare(word) in text, field
    for words in (
        *("1280g", "±0.4°Cat32°C(k=2)", "2026-09-01", "-1.21°Cat0.00°C", "20.4°C"),
        *("2026-11-2409:05(UTC+01:00)", "0:24:25", "31to32°C", "0:17:39", "signature"),
        *("workingwindow31to32°C", "tooearly", "reached", "never above 55 °C".replace(" ", "")),
    ):
        assert words in text, words


def legible(text):
    return Document(PAPERS_MM["a4"], "", PLAIN).legible(text)


@pytest.mark.parametrize("name", SHEETS)
def test_every_word_is_on_the_sheet(sheets, name):
    """Letters that the typeface lacks as codes; lines may break within a word."""
    document = Document(PAPERS_MM["a4"], "", PLAIN)
    held = bare("".join(by_pdfium(sheets[name, "A4"])))
    texts = list(texts_in(SHEETS[name]))
    assert len(texts) > (10 if name == "empty" else 50)
    for text in texts:
        for word in document.legible(text).split():
            # Readers put right-to-left words into an order of their own.
            if all(ord(letter) < 0x590 or ord(letter) > 0x1FFF for letter in word):
                assert word in held or _in_columns(word, held), text


def _in_columns(word, held):
    """A long word in a narrow column comes line by line, between those of its neighbours."""
    return all(word[at : at + 4] in held for at in range(0, len(word) - 4, 4))


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", SHEETS)
def test_all_letters_stand_within_the_margins(name, paper, tmp_path):
    data = batch_sheet(SHEETS[name], tmp_path / "sheet.pdf", paper=paper).read_bytes()
    for (width, height), letters in letters_of(data):
        assert len(letters) > 30
        for letter, left, bottom, right, top in letters:
            if letter.isspace() or not letter.isprintable():
                continue
            assert left >= LEFT_MM * PT_PER_MM - 1.5, letter
            # The foot lies between the lower margin and the edge.
            assert bottom >= 5 * PT_PER_MM, letter
            assert right <= width - RIGHT_MM * PT_PER_MM + 1.5, letter
            assert top <= height - TOP_MM * PT_PER_MM + 1.5, letter


@pytest.mark.parametrize("name", SHEETS)
def test_no_line_runs_into_the_next_cell(sheets, name):
    """Letters on one level follow one another; where two overlap, one text stands on another."""
    for _, letters in letters_of(sheets[name, "A4"]):
        # Beside and below the chart only: its words may stand over lines, not over each other,
        # which test_charts_placement.py holds.
        plain_letters = [
            one for one in letters if one[0].isalnum() and ord(one[0]) < 0x590 and one[3] > one[1]
        ]
        lines = {}
        for one in plain_letters:
            lines.setdefault(round(one[2]), []).append(one)
        for line in lines.values():
            line.sort(key=lambda one: one[1])
            for before, after in itertools.pairwise(line):
                assert after[1] - before[3] > -2.5, (before, after)


def test_a_table_over_two_pages_begins_again_with_its_head(tmp_path):
    lots = tuple(Lot(f"Halde {number}", f"lot {number}", allergens=()) for number in range(90))
    data = batch_sheet(normal(filed={"lots": lots}), tmp_path / "lots.pdf").read_bytes()
    with_rows = [text for text in by_pdfium(data) if "lot 5" in text or "lot 80" in text]
    assert len(with_rows) >= 2
    assert all("ingredient" in text for text in with_rows)


def test_a_title_never_stands_alone_at_the_foot_of_a_page(tmp_path):
    titles = {"Phases", "Dip tests", "Lots and allergens", "Calibration of the probe", "Outcomes"}
    for count in range(0, 60, 7):
        notes = tuple(f"line {number}" for number in range(count))
        sheet = normal(curve=Curve(), cleaning=notes)
        data = batch_sheet(sheet, tmp_path / "t.pdf").read_bytes()
        for text in by_pdfium(data):
            lines = [line.strip() for line in text.splitlines() if line.strip()]
            foot = next(
                at for at, line in enumerate(lines) if line.startswith("Batch 2026") and at
            )
            assert lines[foot - 1] not in titles


def test_hebrew_reads_as_it_was_written(sheets):
    held = "".join(by_pdfium(sheets["worst", "A4"]))
    for word in HEBREW.split():
        assert word in MARKS.sub(" ", held) or word[::-1] in MARKS.sub(" ", held)


def test_right_to_left_letters_are_all_there(sheets):
    held = "".join(by_pypdf(sheets["worst", "A4"]))
    assert set(HEBREW + ARABIC) <= set(held)


@pytest.mark.parametrize("reader", READERS)
def test_code_and_page_number_on_every_page(sheets, reader):
    for name, sheet in SHEETS.items():
        texts = reader(sheets[name, "A4"])
        for number, text in enumerate(texts, 1):
            assert f"page {number} of {len(texts)}" in text
            assert f"Batch {sheet.code}" in text


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
        descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert "/FontFile2" in descriptor  # TrueType
        assert "/ToUnicode" in font
    assert set(reader.metadata) == {"/Title", "/Creator", "/Producer", "/CreationDate"}
    assert reader.metadata["/CreationDate"].startswith("D:20000101")


def test_the_same_sheet_is_the_same_file(sheets, tmp_path):
    again = batch_sheet(normal(), tmp_path / "again.pdf")
    assert again.read_bytes() == sheets["normal", "A4"]


def test_a_long_batch_in_other_units_stays_on_its_page(tmp_path):
    settings = Settings(temperature="F", decimal="comma")
    sheet = normal(curve=four_hours(), settings=settings)
    data = batch_sheet(sheet, tmp_path / "long.pdf", style=settings.style).read_bytes()
    text = "".join(by_pdfium(data))
    assert "working window 86 to 89,6 °F" in text
    for (width, _), letters in letters_of(data):
        assert all(one[1] > 20 and one[3] < width - 20 for one in letters if one[0].isprintable())


def test_grey_is_enough():
    """Lines and marks differ by more than colour, and letters stand out from the paper."""
    assert len(set(MARKERS.values())) == len(MARKERS)
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


def test_hostile_texts_and_samples_are_what_they_claim():
    assert any(len(text) == 300 for text in texts_in(worst()))
    assert {"=", '"', "\n"} <= set("".join(HOSTILE))
    assert FOUR_HOURS.exists()


def test_an_empty_sheet_makes_one_page(sheets):
    (text,) = by_pypdf(sheets["empty", "A4"])
    assert text.count("not recorded") == 7  # 6 fields, and "end not recorded"
    assert EMPTY.code in text


def test_names_of_five_languages_are_intact(sheets):
    held = bare("".join(by_pypdf(sheets["normal", "A4"])))
    for name in NAMES:
        assert legible(name) == name
        for word in name.split():
            assert word in held


@pytest.mark.parametrize(
    ("name", "paper", "words"),
    [
        ("sheet.png", "A4", "let it end in .pdf"),
        ("sheet", "A4", "let it end in .pdf"),
        ("sheet.pdf", "A3", "no paper 'A3' for sheets: choose A4 or Letter"),
        ("nowhere/sheet.pdf", "A4", "Cannot write the sheet .*: there is no such"),
    ],
)
def test_what_cannot_be_written_is_a_sentence(name, paper, words, tmp_path):
    with pytest.raises(SnapcurveError, match=words) as caught:
        batch_sheet(EMPTY, tmp_path / name, paper=paper)
    assert "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


# --- pictures ----------------------------------------------------------------------------


def images_of(data):
    """For each page the (left, bottom, right, top) of its pictures, in points."""
    with pypdfium2.PdfDocument(data) as document:
        return [
            [
                one.get_bounds()
                for one in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])
            ]
            for page in document
        ]


def with_pictures(count, size=(400, 300), **held):
    shown = [
        pictured(f"tray-{number}.jpg", raw=picture(number, size), **held)
        for number in range(1, count + 1)
    ]
    return normal(entries=tuple(shown))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("size", [(400, 300), (300, 400), (2000, 50), (50, 2000)])
def test_pictures_stand_three_in_a_row_with_their_words_below(tmp_path, paper, size):
    sheet = with_pictures(4, size, text="seen after a day")
    data = batch_sheet(sheet, tmp_path / "sheet.pdf", paper).read_bytes()
    wide_mm = PAPERS_MM[paper.lower()][0] - LEFT_MM - RIGHT_MM
    pages = images_of(data)
    found = [one for page in pages for one in page]
    assert len(found) == 4
    assert [len(page) for page in pages if page] in ([4], [3, 1])
    for at, (left, bottom, right, top) in enumerate(found):
        assert left == pytest.approx(found[at % 3][0])
        assert (right - left) / PT_PER_MM <= wide_mm / 3
        assert (right - left) / (top - bottom) == pytest.approx(size[0] / size[1], rel=0.06)
    assert found[0][3] == found[1][3] == found[2][3]
    assert found[0][3] > found[3][3] or len(pages[-1]) == 1
    assert found[0][2] < found[1][0]
    assert found[1][2] < found[2][0]
    page = "".join(by_pdfium(data))
    for number in range(1, 5):
        assert f"{number}. " in page
        assert f"tray-{number}.jpg" in page


@pytest.mark.parametrize("count", [1, 9, 30])
def test_no_picture_is_cut_by_the_end_of_a_page(tmp_path, count):
    sheet = with_pictures(count, (300, 400), text="seen after a day " * 3)
    data = batch_sheet(sheet, tmp_path / "sheet.pdf").read_bytes()
    pages = images_of(data)
    assert sum(map(len, pages)) == count
    for page in pages:
        for left, bottom, right, top in page:
            assert bottom >= 18 * PT_PER_MM
            assert top <= (297 - TOP_MM) * PT_PER_MM + 0.1
            assert left >= LEFT_MM * PT_PER_MM - 0.1
            assert right <= (210 - RIGHT_MM) * PT_PER_MM + 0.1


def test_long_words_of_a_picture_follow_whole(tmp_path):
    sheet = with_pictures(2, text="x" + " Kuvertüre" * 300 + " end")
    data = batch_sheet(sheet, tmp_path / "sheet.pdf").read_bytes()
    text = bare("".join(by_pypdf(data)))
    assert text.count("end") >= 2
    assert text.count("Kuvertüre") >= 600


def test_pictures_of_every_kind_are_set(tmp_path):
    """With transparency, a palette, 16 bits of grey, four inks: in the right lightness."""
    flat = Image.new("RGB", (90, 60), (204, 204, 204))  # one of the palette's
    clear = Image.new("RGBA", (90, 60), (0, 0, 0, 0))
    deep = Image.fromarray(np.full((60, 90), 204 * 257, np.uint16))
    wanted = [
        (flat.convert("P"), "PNG", 204),
        (clear, "PNG", 255),
        (clear, "WEBP", 255),
        (deep, "PNG", 204),
        (flat.convert("L"), "JPEG", 204),
        (flat.convert("CMYK"), "JPEG", 204),
        (flat.convert("1", dither=Image.Dither.NONE), "PNG", 255),
        (flat.convert("LA"), "PNG", 204),
    ]
    shown = []
    for number, (image, kind, _) in enumerate(wanted):
        target = io.BytesIO()
        image.resize((90, 60 + number)).save(target, kind)  # none is another's equal
        shown.append(pictured("a", raw=target.getvalue()))
    data = batch_sheet(normal(entries=tuple(shown)), tmp_path / "sheet.pdf").read_bytes()
    found = [
        np.asarray(image.image.convert("L"))
        for page in pypdf.PdfReader(io.BytesIO(data)).pages
        for image in page.images
    ]
    assert len(found) == len(wanted)
    for grey, (_, _, lightness) in zip(found, wanted, strict=True):
        assert abs(grey.astype(int) - lightness).max() <= 2

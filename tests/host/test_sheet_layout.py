"""Where things stand on a batch sheet: nothing lost, nothing beyond its column or page."""

import dataclasses
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheet_samples import FOUR_HOURS, HOSTILE, MORNING, NAMES, normal, worst

from snapcurve.quantities import PLAIN, Style
from snapcurve.sheet import PAPERS_MM
from snapcurve.sheet import matter as m
from snapcurve.sheet.drawing import has_letter, measure
from snapcurve.sheet.layout import (
    BOTTOM_PT,
    LEFT_PT,
    PLAIN_FONT,
    RIGHT_PT,
    TEXT_PT,
    TOP_PT,
    ChartBox,
    Font,
    Words,
    lay_out,
)
from snapcurve.sheet.letters import pieces, shown
from snapcurve.sheet.paragraphs import cut, lines_of
from snapcurve.sheet.sections import NOTHING, clock, sections_of

US = Style(fahrenheit=True, decimal_comma=False, ounces=True, dates="en-us")
EMPTY = m.SheetMatter("2026-11-24-02")
MATTERS = {"normal": normal(), "worst": worst(), "empty": EMPTY}


def bare(text):
    return "".join(text.split())


def sheet_of(matter, paper="a4", style=PLAIN):
    return lay_out(matter, style, PAPERS_MM[paper], measure, has_letter)


def words_of(page):
    return [item for item in page.items if isinstance(item, Words)]


def texts_in(value):
    """Every text anywhere in a dataclass, tuples included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts_in(one)
    elif dataclasses.is_dataclass(value) and type(value).__module__.endswith("sheet.matter"):
        for field in dataclasses.fields(value):
            yield from texts_in(getattr(value, field.name))


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", MATTERS)
def test_all_stands_within_the_margins(name, paper):
    sheet = sheet_of(MATTERS[name], paper)
    right, top = sheet.width - RIGHT_PT, sheet.height - TOP_PT
    for page in sheet.pages:
        for item in page.items:
            if isinstance(item, Words):
                wide, high = measure(item.text, item.font), item.font.size_pt
            elif isinstance(item, ChartBox):
                wide, high = item.width, item.height
            else:
                wide, high = item.length, 0
            assert item.x >= LEFT_PT - 0.01
            assert item.x + wide <= right + 0.01, item
            assert item.y >= BOTTOM_PT - 0.01
            assert item.y + high <= top + 0.01, item


@pytest.mark.parametrize("name", MATTERS)
def test_no_words_stand_on_others(name):
    for page in sheet_of(MATTERS[name]).pages:
        for one, other in itertools.combinations(words_of(page), 2):
            if abs(one.y - other.y) < TEXT_PT:
                left, right = sorted((one, other), key=lambda item: item.x)
                assert left.x + measure(left.text, left.font) <= right.x, (left, right)


@pytest.mark.parametrize("name", MATTERS)
def test_every_text_is_on_the_sheet(name):
    """Letter by letter, in the order of its column, whatever the line breaks."""
    matter = MATTERS[name]
    columns: dict[float, str] = {}
    for page in sheet_of(matter).pages:
        for item in words_of(page):
            columns[round(item.x, 2)] = columns.get(round(item.x, 2), "") + item.text
    held = [bare(text) for text in columns.values()]
    texts = list(texts_in(matter))
    assert len(texts) > (10 if name == "empty" else 50)
    for text in texts:
        wanted = bare(shown(text, lambda letter: has_letter(letter, PLAIN_FONT)))
        assert any(wanted in column for column in held), text


def test_each_page_has_code_and_number():
    for matter, least, most in ((normal(), 1, 2), (worst(), 3, 30), (EMPTY, 1, 1)):
        sheet = sheet_of(matter)
        count = len(sheet.pages)
        assert least <= count <= most
        for number, page in enumerate(sheet.pages, 1):
            foot = [item.text for item in words_of(page) if item.y == BOTTOM_PT]
            assert foot[0].startswith(f"Batch {matter.code}")
            assert foot[1] == f"page {number} of {count}"


def test_what_was_not_recorded_is_said_so():
    words = [item.text for item in words_of(sheet_of(EMPTY).pages[0])]
    titles = [section.title for section in sections_of(EMPTY, PLAIN) if section.title]
    assert len(titles) == 12
    for title in titles:
        assert title in words
    assert words.count(NOTHING) == 10 + len(titles) - 1 + 2  # facts, sections, calibration
    assert "time unknown" in words
    assert "signature" in words


def test_figures_are_in_the_units_of_choice():
    words = {item.text for page in sheet_of(normal(), style=US).pages for item in words_of(page)}
    assert {"45.15 oz", "118.4 °F", "87.8 to 89.6 °F", "68.7 to 70.3 °F"} <= words
    assert {"±0.6 °F at 89 °F (k = 2)", "11/24/2026 09:05 (UTC+01:00)", "0:24:11"} <= words
    assert not [text for text in words if "°C" in text or text.endswith(" g")]
    plain = {item.text for page in sheet_of(normal()).pages for item in words_of(page)}
    assert {"1280 g", "48 °C", "31 to 32 °C", "20.4 to 21.3 °C", "0.4 °C"[2:]} & plain
    assert "±0.4 °C at 32 °C (k = 2)" in plain


def test_clock():
    assert [clock(at_s) for at_s in (0, 59.6, 3599.4, 14259)] == [
        "0:00:00",
        "0:01:00",
        "0:59:59",
        "3:57:39",
    ]


def test_a_table_over_two_pages_begins_again_with_its_head():
    lots = tuple(m.Lot(f"Halde {number}", f"lot {number}") for number in range(90))
    pages = sheet_of(normal(lots=lots)).pages
    with_rows = [page for page in pages if any("lot " in w.text[:4] for w in words_of(page))]
    assert len(with_rows) >= 2
    for page in with_rows:
        assert "allergens" in [item.text for item in words_of(page)]


def test_a_chart_has_its_place_only_where_there_is_a_curve():
    boxes = [item for page in sheet_of(normal()).pages for item in page.items]
    assert sum(isinstance(item, ChartBox) for item in boxes) == 1
    assert not [item for item in sheet_of(EMPTY).pages[0].items if isinstance(item, ChartBox)]


# --- letters ------------------------------------------------------------------------------


def test_letters_of_five_languages_are_shown_as_they_are():
    for name in (*NAMES, "äöüßÄÖÜẞ", "àâæçéèêëîïôœùûüÿ", "áéíñóúü¿¡", "ąćęłńóśźż", "άέήίϊΐόύϋΰώς"):
        assert shown(name, lambda letter: has_letter(letter, PLAIN_FONT)) == name


def test_what_cannot_be_shown_is_shown_as_its_code():
    plain = PLAIN_FONT

    def on_paper(text):
        return shown(text, lambda letter: has_letter(letter, plain))

    assert on_paper("漢字") == "⟨U+6F22⟩⟨U+5B57⟩"
    assert on_paper("\U0001f36b") == "⟨U+1F36B⟩"
    assert on_paper("a\u202eb\x07\x00\ud800") == "a⟨U+202E⟩b⟨U+0007⟩⟨U+0000⟩⟨U+D800⟩"
    assert on_paper("e\u0301\tx\r\ny\u2028z") == "é x\ny\nz"
    assert shown("שלום", lambda letter: has_letter(letter, Font("title", 10))).startswith("⟨U+05")


@given(st.text(max_size=60))
def test_no_letter_is_dropped(text):
    import unicodedata

    on_paper = shown(text, lambda letter: letter.isascii())
    rest = on_paper
    for letter in unicodedata.normalize("NFC", text.replace("\r\n", "\n")):
        wanted = {"\t": " ", "\u2028": "\n", "\u2029": "\n"}.get(letter, letter)
        if not rest.startswith(wanted) or (letter.isascii() and not letter.isprintable()):
            wanted = wanted if wanted in ("\n", " ") else f"⟨U+{ord(letter):04X}⟩"
        assert rest.startswith(wanted)
        rest = rest[len(wanted) :]
    assert rest == ""


# --- lines --------------------------------------------------------------------------------


def wide(text):
    return float(len(text))


def test_lines_break_between_words_and_only_then_within():
    assert lines_of("one two three", 7, wide) == ["one two", "three"]
    assert lines_of("one extraordinary", 6, wide) == ["one", "extrao", "rdinar", "y"]
    assert lines_of("a\n\nb", 6, wide) == ["a", "", "b"]
    assert lines_of("", 6, wide) == [""]
    assert lines_of("xx⟨U+6F22⟩", 9, wide) == ["xx", "⟨U+6F22⟩"]  # a code is not torn
    assert pieces("e\u0323a") == ["e\u0323", "a"]


@given(st.text(st.sampled_from("ab \n⟨U+6F⟩éx"), max_size=200), st.integers(9, 40))
def test_lines_hold_all_and_are_not_too_long(text, most):
    lines = lines_of(text, most, wide)
    assert all(len(line) <= most for line in lines)
    assert bare("".join(lines)) == bare(text)


def test_cut():
    assert cut("short", 10, wide) == "short"
    assert cut("much too long", 8, wide) == "much to…"


def test_the_samples_are_what_they_claim():
    assert any(len(text) == 300 for text in texts_in(worst()))
    assert {"=", '"', "\n"} <= set("".join(HOSTILE))
    assert MORNING.utcoffset() is not None
    assert FOUR_HOURS.exists()

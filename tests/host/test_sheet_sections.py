"""The words of a batch sheet, and the letters a typeface can show."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st
from sheet_samples import EMPTY, normal

from snapcurve.report.batch_course import into
from snapcurve.report.sheet_document import with_codes as shown
from snapcurve.report.sheet_sections import NOTHING, Facts, Sentences, Table
from snapcurve.shown.settings_file import Settings

US = Settings(temperature="F", mass="oz", dates="en-us")


def words_of(sheet):
    words = []
    for section in sheet.sections:
        match section.block:
            case Facts():
                words += [value for pair in section.block.pairs for value in pair]
            case Table():
                words += [text for row in section.block.rows for text in row]
            case Sentences():
                words += section.block.texts
    return words


def test_what_was_not_recorded_is_said_so():
    titles = [section.title for section in EMPTY.sections if section.title]
    words = words_of(EMPTY)
    assert titles == ["Verdict", "Remarks", "Batch", "Calibration of the probe"]
    # of facts all but allergens, board and recording; and the uncertainty
    assert words.count(NOTHING) == 8 - 3 + 1
    assert any("time unknown" in text for text in words)
    (missing,) = [text for text in words if text.startswith("Not recorded: course, curve, lots ")]
    assert missing.endswith("corrections, outcomes, made of it, amendments, notes, pictures.")


def test_figures_are_in_the_units_of_choice():
    words = set(words_of(normal(settings=US)))
    assert {"45.15 oz", "68.7 °F"} <= words
    assert {"±0.6 °F at 89 °F (k = 2)", "0:24:25"} <= words
    assert "Halde milk 36 by three-step, begun 11/24/2026 09:05 (UTC+01:00)" in words
    assert not [text for text in words if "°C" in text or text.endswith(" g")]
    plain = set(words_of(normal()))
    assert {"1280 g", "20.4 °C"} <= plain
    assert "±0.4 °C at 32 °C (k = 2)" in plain


def test_time_into_a_batch():
    assert [into(at_s) for at_s in (0, 59.6, 3599.4, 14259)] == [
        "0:00:00",
        "0:01:00",
        "0:59:59",
        "3:57:39",
    ]


def test_what_a_typeface_lacks_is_shown_as_its_code():
    ascii_only = str.isascii
    assert shown("Häßler", ascii_only) == "H⟨U+00E4⟩⟨U+00DF⟩ler"
    assert shown("a\tb\r\nc", ascii_only) == "a b\nc"
    assert shown("\u202eturned", lambda letter: True) == "⟨U+202E⟩turned"


@given(st.text(max_size=60))
def test_no_letter_is_dropped(text):
    on_paper = shown(text, lambda letter: letter.isascii())
    rest = on_paper
    for letter in unicodedata.normalize("NFC", text.replace("\r\n", "\n")):
        wanted = {"\t": " ", "\u2028": "\n", "\u2029": "\n"}.get(letter, letter)
        if not rest.startswith(wanted) or (letter.isascii() and not letter.isprintable()):
            wanted = wanted if wanted in ("\n", " ") else f"⟨U+{ord(letter):04X}⟩"
        assert rest.startswith(wanted)
        rest = rest[len(wanted) :]
    assert rest == ""

"""What a person reads and types against what is kept, there and back."""

import math
import subprocess
import sys
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import (
    DATES,
    GRAMS_PER_OUNCE,
    PLAIN,
    Style,
    celsius,
    fahrenheit,
    seconds_words,
)

STYLES = st.builds(Style, st.booleans(), st.booleans(), st.booleans())
US = Style(fahrenheit=True, ounces=True)
GERMAN = Style(decimal_comma=True, dates="de")


def test_fahrenheit_by_nist():
    """NIST SP 811 (2008), B.8: t/°C = (t/°F - 32)/1.8; B.9: 1 oz (avoirdupois) = 28.349 52 g."""
    assert fahrenheit(0) == 32
    assert fahrenheit(100) == 212
    assert celsius(-40) == pytest.approx(-40)
    assert fahrenheit(37.0) == pytest.approx(98.6)
    assert pytest.approx(28.34952, abs=5e-6) == GRAMS_PER_OUNCE
    # International pound of 1959: 0.453 592 37 kg exactly, 16 oz.
    assert math.isclose(GRAMS_PER_OUNCE * 16, 453.59237, rel_tol=1e-15)


def test_words():
    assert PLAIN.temperature(31.25, 2) == "31.25 °C"
    assert US.temperature(31.0) == "87.8 °F"
    assert US.window(30, 32) == "86 to 89.6 °F"
    assert GERMAN.temperature(31.25, 2) == "31,25 °C"
    assert US.mass(500) == "17.64 oz"
    assert GERMAN.mass(1280.4) == "1280 g"
    assert PLAIN.temperature(-0.04) == "0.0 °C"
    assert PLAIN.number(-0.001, 2, sign=True) == "+0.00"
    assert PLAIN.degrees(30.0, trim=True) == "30"
    assert PLAIN.degrees(1200.0, 0, trim=True) == "1200"
    assert PLAIN.number(1234567.25, 1) == "1234567.2"  # no sign between thousands
    assert GERMAN.number(-1234.5, 1) == "-1234,5"
    assert PLAIN.quantity(0.051, "W") == "0.051 W"
    assert GERMAN.quantity(1570.5, "J") == "1570,5 J"
    assert US.quantity(31.0, "°C") == "87.8 °F"
    assert US.heat_per_mass(1.6, 2, "K") == "45.36 J/(oz K)"


def test_words_of_a_sentence():
    assert PLAIN.degrees_words(31.46) == "31.5 °C"
    assert PLAIN.window(30.0, 32.5) == "30 to 32.5 °C"
    assert PLAIN.difference_words(1.0) == "1.0 °C"
    assert US.difference_words(1.0) == "1.8 °F"
    assert PLAIN.mass_words(1170.0) == "1170 g"
    assert GERMAN.mass_words(12_340.0) == "12,34 kg"
    assert US.mass_words(283.49523125) == "10.00 oz"
    assert PLAIN.about_minutes_words(0.4) == "under a minute"
    assert PLAIN.about_minutes_words(41.6) == "about 42 min"
    assert GERMAN.about_minutes_words(150.0) == "about 2,5 hours"
    assert seconds_words(119.6) == "120 s"
    assert seconds_words(277.0) == "4 min 37 s"


def test_a_difference_has_no_offset():
    assert US.difference(1.0) == "+1.8 °F"
    assert US.rate(-0.5) == "-0.9 °F/min"
    assert US.uncertainty(0.31) == "±0.6 °F"  # 0.558, rounded up
    assert PLAIN.uncertainty(0.31) == "±0.4 °C"
    assert PLAIN.uncertainty(0.3) == "±0.3 °C"
    assert US.parse_difference("1.8") == pytest.approx(1.0)
    assert US.parse_difference("1 °C") == 1.0
    assert PLAIN.significant(0.05) == "0.05 °C"
    assert PLAIN.significant(131.6) == "132 °C"
    assert PLAIN.significant(0.0) == "0 °C"


@given(STYLES, st.floats(-100, 2000), st.integers(0, 4))
def test_temperatures_there_and_back(style, value_c, decimals):
    shown = style.temperature(value_c, decimals)
    step_k = 10.0**-decimals / (1.8 if style.fahrenheit else 1.0)
    assert abs(style.parse_temperature(shown) - value_c) <= step_k / 2 + 1e-9
    # What was read once reads the same again.
    assert style.temperature(style.parse_temperature(shown), decimals) == shown


@given(STYLES, st.floats(-500, 500), st.integers(0, 4))
def test_differences_there_and_back(style, value_k, decimals):
    shown = style.difference(value_k, decimals)
    step_k = 10.0**-decimals / (1.8 if style.fahrenheit else 1.0)
    assert abs(style.parse_difference(shown) - value_k) <= step_k / 2 + 1e-9
    assert style.difference(style.parse_difference(shown), decimals) == shown


@given(STYLES, st.floats(1, 1e6))
def test_masses_there_and_back(style, value_g):
    shown = style.mass(value_g)
    step_g = 0.01 * GRAMS_PER_OUNCE if style.ounces else 1.0
    assert abs(style.parse_mass(shown) - value_g) <= step_g / 2 + 1e-9
    assert style.mass(style.parse_mass(shown)) == shown


@given(STYLES, st.floats(-1e9, 1e9), st.integers(0, 9))
def test_numbers_there_and_back(style, value, decimals):
    # Three decimals with the sign of choice are never taken for thousands.
    shown = style.number(value, decimals)
    assert abs(style.parse_number(shown) - value) <= 10.0**-decimals / 2 + 1e-6


@pytest.mark.parametrize(
    ("style", "text", "value_c"),
    [
        (PLAIN, "31.5", 31.5),
        (PLAIN, " 31,5 °C ", 31.5),
        (PLAIN, "86F", 30.0),
        (PLAIN, "86 °f", 30.0),
        (US, "86", 30.0),
        (US, "30 C", 30.0),
        (GERMAN, "31.5", 31.5),
        (GERMAN, "−4,5", -4.5),
        (PLAIN, "+4", 4.0),
    ],
)
def test_temperatures_as_people_type_them(style, text, value_c):
    assert style.parse_temperature(text) == pytest.approx(value_c)


@pytest.mark.parametrize(
    ("text", "value_g"),
    [("250", 250), ("0.25 kg", 250), ("1 lb", 453.59237), ("2 oz", 56.69904625), ("2 OZ", 56.699)],
)
def test_masses_as_people_type_them(text, value_g):
    assert PLAIN.parse_mass(text) == pytest.approx(value_g, rel=1e-5)


@pytest.mark.parametrize(
    ("style", "text", "words"),
    [
        (PLAIN, "warm", "not a number"),
        (PLAIN, "", "not a number"),
        (PLAIN, "1.2.3", "not a number"),
        (PLAIN, "nan", "not a number"),
        (PLAIN, "1e5", "unit"),
        (PLAIN, "300 K", "neither °C nor °F"),
        (PLAIN, "-300", "absolute zero"),
        (US, "-460", "absolute zero"),
        (PLAIN, "1,234", "may mean 1234 or 1.234"),
        (GERMAN, "1.234", "may mean 1234 or 1,234"),
        (PLAIN, "9" * 400, "digits"),
        (PLAIN, "١٢", "not a number"),
        (PLAIN, "warm", "^The room 'warm' is not a number: write it like 31.0 °C.$"),
    ],
)
def test_what_makes_no_sense_is_a_sentence(style, text, words):
    with pytest.raises(SnapcurveError, match=words) as caught:
        style.parse_temperature(text, what="The room")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 160


def test_masses_that_make_no_sense():
    for text, words in (
        ("5 cups", "none of g, kg, oz, lb"),
        ("-1 g", "not above zero"),
        ("0 g", "not above zero"),
        ("1001 kg", "more than a tonne"),
        ("1.2", "without a unit would be grams: write it like 850 g or 1.2 kg"),
        ("1.200g", "may mean 1200 g or 1.2 g"),
        ("1,200 KG", "may mean 1200 KG or 1.2 KG"),
    ):
        with pytest.raises(SnapcurveError, match=words):
            PLAIN.parse_mass(text)
    with pytest.raises(SnapcurveError, match=r"would be ounces: write it like 30 oz or 1.2 lb"):
        US.parse_mass("1.200")
    assert PLAIN.parse_mass("1.200", "kg") == 1200
    assert PLAIN.parse_mass("0.250g") == 0.25
    assert GERMAN.parse_mass("1234.567 g") == pytest.approx(1234.567)
    with pytest.raises(SnapcurveError, match="unit where none belongs"):
        PLAIN.parse_number("5 g")


@pytest.mark.parametrize(
    ("style", "text", "share"),
    [(PLAIN, "8%", 0.08), (PLAIN, "8,5 %", 0.085), (GERMAN, "0.1", 0.1), (PLAIN, "0.085", 0.085)],
)
def test_shares_as_people_type_them(style, text, share):
    assert style.parse_share(text) == pytest.approx(share)


def test_what_is_no_share():
    for text in ("8", "-1%", "120%", "8 g", "-0.1"):
        with pytest.raises(SnapcurveError, match="not a share: write it like 8%"):
            PLAIN.parse_share(text)
    with pytest.raises(SnapcurveError, match=r"may mean 8500 % or 8.5 %"):
        PLAIN.parse_share("8,500%")


def test_a_number_alone_may_be_in_another_unit_than_the_one_that_is_set():
    assert US.parse_temperature("31", "C") == 31
    assert US.parse_temperature("88F", "C") == pytest.approx(31.111, abs=0.001)
    assert US.parse_difference("0.3", "C") == 0.3


@given(STYLES, st.text(max_size=30))
def test_any_text_is_a_number_or_a_sentence(style, text):
    for parse in (
        style.parse_temperature, style.parse_mass, style.parse_difference, style.parse_share
    ):  # fmt: skip
        try:
            found, sentence = parse(text), ""
        except SnapcurveError as error:
            found, sentence = 0.0, str(error)
        assert math.isfinite(found)
        assert "\n" not in sentence


# 4 February 2026 as each language writes it (Unicode CLDR, skeleton yMd), with its zeros.
DAYS = {
    "iso": "2026-02-04", "de": "04.02.2026", "el": "04/02/2026", "en-gb": "04/02/2026",
    "en-us": "02/04/2026", "es": "04/02/2026", "fr": "04/02/2026", "it": "04/02/2026",
    "nl": "04-02-2026", "pl": "04.02.2026", "pt": "04/02/2026",
}  # fmt: skip


@pytest.mark.parametrize("dates", DATES)
def test_days_are_written_and_read_as_the_language_has_them(dates):
    style, day = Style(dates=dates), date(2026, 2, 4)
    assert style.day(day) == DAYS[dates]
    assert style.parse_day(DAYS[dates]) == style.parse_day("2026-02-04") == day


def test_only_days_of_a_language_need_its_data():
    """Babel takes longer to import than most commands take to run."""
    script = (
        "import sys; from datetime import date; from snapcurve.shown.units import Style\n"
        "style = Style(decimal_comma=True); style.parse_mass('1,2kg'); style.temperature(31.5)\n"
        "style.day(date(2026, 2, 4)); assert 'babel' not in sys.modules\n"
        "Style(dates='de').day(date(2026, 2, 4)); assert 'babel' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


@pytest.mark.parametrize("text", ["31.04.2026", "04/02/2026", "4 Feb", "", "2026-02-04 12:00"])
def test_what_is_no_day(text):
    with pytest.raises(
        SnapcurveError, match=r"^The day '.*' is not a day: write it like 2026-11-24.$"
    ):
        GERMAN.parse_day(text)


def test_iso_days_and_minutes():
    zone = timezone(timedelta(hours=-3, minutes=-30))
    moment = datetime(2026, 2, 3, 4, 5, tzinfo=zone)
    assert PLAIN.day(moment) == moment.date().isoformat()
    assert PLAIN.minute(moment) == "2026-02-03 04:05 (UTC-03:30)"
    assert GERMAN.minute(moment) == "03.02.2026 04:05 (UTC-03:30)"

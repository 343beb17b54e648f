"""Figures that a person types and reads."""

import pytest

from snapcurve.errors import SnapcurveError
from snapcurve.shown import figures
from snapcurve.shown.quantities import Style


@pytest.mark.parametrize(
    ("text", "grams"),
    [("1.2kg", 1200.0), ("1,2 kg", 1200.0), ("850 g", 850.0), ("850", 850.0), ("2KG", 2000.0),
     ("7.5g", 7.5), ("+1kg", 1000.0)],
)  # fmt: skip
def test_a_mass_may_be_written_in_several_ways(text: str, grams: float) -> None:
    assert figures.mass_g(text, "A mass of") == pytest.approx(grams)


@pytest.mark.parametrize("text", ["", "kg", "1.2.3kg", "1e3", "12 st", "-1kg", "0", "1.2", "nan"])
def test_what_is_no_mass_gets_one_sentence(text: str) -> None:
    with pytest.raises(SnapcurveError) as refused:
        figures.mass_g(text, "A mass of")
    assert str(refused.value).startswith("A mass of '")
    assert "kg" in str(refused.value)


def test_shares() -> None:
    assert figures.share("8%", "A waste of") == pytest.approx(0.08)
    assert figures.share("8,5 %", "A waste of") == pytest.approx(0.085)
    assert figures.share("0.1", "A waste of") == pytest.approx(0.1)
    for text in ("8", "-1%", "120%", "lots", "nan"):
        with pytest.raises(SnapcurveError, match=r"A waste of .* write it like 8%"):
            figures.share(text, "A waste of")


def test_words() -> None:
    assert figures.degrees_words(31.0) == "31 °C"
    assert figures.degrees_words(31.46) == "31.5 °C"
    assert figures.range_words(30.0, 32.5) == "30 to 32.5 °C"
    assert figures.difference_words(1.0) == "1.0 °C"
    assert figures.mass_words(1170.0) == "1170 g"
    assert figures.mass_words(12_340.0) == "12.34 kg"
    assert figures.about_minutes_words(0.4) == "under a minute"
    assert figures.about_minutes_words(41.6) == "about 42 min"
    assert figures.about_minutes_words(150.0) == "about 2.5 hours"
    assert figures.seconds_words(119.6) == "120 s"
    assert figures.seconds_words(277.0) == "4 min 37 s"


def test_no_unit_stands_on_a_line_of_its_own() -> None:
    for count in range(40):
        lines = figures.wrapped(
            [figures.row("Do", "x" * count + " stir in 50 g at 31.5 °C, " * 6)]
        )
        assert all(len(line) <= 92 for line in lines)
        assert not any(line.strip().startswith(("°C", "g ")) for line in lines)
        assert all(line.startswith(figures.INDENT) for line in lines[1:])


@pytest.fixture
def american():
    """°F, ounces and a decimal point for one test."""
    figures.speak(Style(fahrenheit=True, ounces=True))
    yield
    figures.speak(Style())


def test_figures_follow_the_chosen_units(american):
    # NIST SP 811 (2008), B.8: t/°F = 1.8 t/°C + 32; 1 oz = 28.349 523 125 g
    assert figures.degrees_words(30.0) == "86 °F"
    assert figures.range_words(30.0, 32.0) == "86 to 89.6 °F"
    assert figures.difference_words(1.0) == "1.8 °F"
    assert figures.mass_words(283.49523125) == "10.00 oz"
    assert figures.mass_g("10", "A mass of") == pytest.approx(283.49523125)
    assert figures.mass_g("2 lb", "A mass of") == pytest.approx(907.18474)
    assert figures.mass_g("850g", "A mass of") == 850
    assert figures.temperature_c("70", "The room") == pytest.approx(21.111, abs=0.001)
    assert figures.temperature_c("21 C", "The room") == 21
    with pytest.raises(SnapcurveError, match="without a unit would be ounces"):
        figures.mass_g("1", "A mass of")


def test_temperatures_that_are_none_are_refused():
    with pytest.raises(SnapcurveError, match="The room 'warm' is no number"):
        figures.temperature_c("warm", "The room")

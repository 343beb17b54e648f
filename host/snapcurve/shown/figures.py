"""Figures a person types and reads: masses, temperatures, times. Formatting in one place.

Units and signs are those of the `Style` that the command has chosen with `speak`; without
that they are °C, g and a decimal point. All that is passed in and out is in °C, K, g and s.
"""

from contextvars import ContextVar

from snapcurve.shown import units
from snapcurve.shown.table import INDENT, row, wrapped
from snapcurve.shown.units import PLAIN, Style

_spoken = ContextVar("_spoken", default=PLAIN)

__all__ = ["INDENT", "row", "wrapped"]


def speak(style: Style) -> None:
    """From now on in this command, figures are shown and read in this style."""
    _spoken.set(style)


def spoken() -> Style:
    """The style that was chosen."""
    return _spoken.get()


def temperature_c(text: str, what: str) -> float:
    """°C of a temperature; `what` begins the refusal. See `Style.parse_temperature`."""
    return spoken().parse_temperature(text, what=what)


def mass_g(text: str, what: str, bare: str = "") -> float:
    """Grams of a mass; `what` begins the refusal. See `Style.parse_mass`."""
    return spoken().parse_mass(text, bare, what)


def share(text: str, what: str) -> float:
    """A share, 0 to 1; `what` begins the refusal. See `Style.parse_share`."""
    return spoken().parse_share(text, what)


def number(text: str, what: str) -> float:
    """A number without a unit; `what` begins the refusal. See `Style.parse_number`."""
    return spoken().parse_number(text, what)


def mass_words(grams: float) -> str:
    """Grams up to 10 kg, as a scale shows them, or ounces."""
    return spoken().mass_words(grams)


def degrees_words(value_c: float) -> str:
    """A temperature to a tenth, without a useless ".0"."""
    return spoken().temperature(value_c, trim=True)


def range_words(low_c: float, high_c: float) -> str:
    """Two temperatures with one unit."""
    return spoken().window(low_c, high_c)


def difference_words(value_k: float) -> str:
    """A difference of two temperatures, to a tenth."""
    return spoken().difference(value_k, sign=False)


def uncertainty_words(value_k: float) -> str:
    """What a temperature may be off by to either side, rounded up to a tenth as everywhere."""
    return spoken().uncertainty(value_k)


def about_minutes_words(minutes: float) -> str:
    """Minutes to the whole one, "under a minute" below that, hours from two on."""
    return spoken().about_minutes_words(minutes)


def seconds_words(seconds: float) -> str:
    """See units."""
    return units.seconds_words(seconds)

"""Figures a person types and reads: masses, temperatures, times. Formatting in one place.

Units and signs are those of the `Style` that the command has chosen with `speak`; without
that they are °C, g and a decimal point. All that is passed in and out is in °C, K, g and s.
"""

import re
import textwrap
from contextvars import ContextVar

from snapcurve.errors import SnapcurveError
from snapcurve.quantities import GRAMS_PER_OUNCE, OUNCES_PER_POUND, PLAIN, Style

_spoken = ContextVar("_spoken", default=PLAIN)
_MASS = re.compile(r"\s*([-+]?[0-9]+(?:[.,][0-9]+)?)\s*(kg|g|oz|lb)?\s*", re.IGNORECASE)
_GRAMS = {"g": 1.0, "kg": 1000.0, "oz": GRAMS_PER_OUNCE}
_UNITS = {"g": "grams", "oz": "ounces"}
_GRAMS["lb"] = OUNCES_PER_POUND * GRAMS_PER_OUNCE

INDENT = " " * 10
_WIDTH = 92
_FIGURE = re.compile(r"(\d) (°C|°F|K|g|kg|oz|s|min|W|%)")
# A bare number under this is more likely kilograms than grams.
_BARE_LEAST_G = 50.0


def speak(style: Style) -> None:
    """From now on in this command, figures are shown and read in this style."""
    _spoken.set(style)


def spoken() -> Style:
    """The style that was chosen."""
    return _spoken.get()


def temperature_c(text: str, what: str) -> float:
    """°C from "21", "21.5 C" or "70F"; `what` begins the refusal.

    A number alone is in the chosen unit. SnapcurveError for anything else.
    """
    try:
        return spoken().parse_temperature(text)
    except SnapcurveError as error:
        raise SnapcurveError(f"{what} {error}") from error


def mass_g(text: str, what: str) -> float:
    """Grams from "1.2kg", "1,2 kg", "850 g", "30oz" or "850"; `what` is said in the refusal.

    A number alone is in the chosen unit.

    SnapcurveError for anything else, and for nothing or less than nothing.
    """
    found = _MASS.fullmatch(text)
    if not found:
        raise SnapcurveError(f'{what} "{text}" is no weight; write it like 1.2kg or 850g.')
    value = float(found[1].replace(",", "."))
    unit = spoken().mass_unit
    value *= _GRAMS[(found[2] or unit).lower()]
    if value <= 0:
        raise SnapcurveError(f"{what} {text.strip()} is not above zero; give it like 1.2kg.")
    if found[2] is None and value < _BARE_LEAST_G:
        raise SnapcurveError(
            f"{what} {text.strip()} without a unit would be {_UNITS[unit]}; "
            "write it like 1.2kg or 850g."
        )
    return value


def share(text: str, what: str) -> float:
    """A share 0 to 1 from "8%", "8 %" or "0.08"; SnapcurveError for anything else."""
    number = text.strip().removesuffix("%").strip().replace(",", ".")
    try:
        value = float(number) / (100.0 if text.strip().endswith("%") else 1.0)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1.0:
        raise SnapcurveError(f"{what} {text} is no share; write it like 8% (0% to 100%).")
    return value


def mass_words(grams: float) -> str:
    """Grams up to 10 kg, as a scale shows them, or ounces."""
    if grams < 10_000 or spoken().ounces:
        return spoken().mass(grams)
    return spoken().number(grams / 1000, 2, trim=True) + " kg"


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
    if minutes < 0.75:
        return "under a minute"
    if minutes >= 120:
        return f"about {minutes / 60:.1f} hours"
    return f"about {minutes:.0f} min"


def seconds_words(seconds: float) -> str:
    """Whole seconds up to two minutes, then minutes and seconds."""
    whole = round(seconds)
    if whole <= 120:
        return f"{whole} s"
    return f"{whole // 60} min {whole % 60:02d} s"


def row(word: str, text: str) -> str:
    """A line with its word in front; without one it goes on with the line before."""
    return f"{word:<{len(INDENT)}}{text}"


def wrapped(lines: list[str], under: str = INDENT) -> list[str]:
    """Long lines broken; what follows is set in by `under`, or under the text of an item."""
    broken = []
    for line in lines:
        hang = "    " if line.startswith("  - ") else under
        tied = _FIGURE.sub("\\1\u00a0\\2", line)  # no unit on a line of its own
        parts = textwrap.wrap(tied, _WIDTH, subsequent_indent=hang) if line else [""]
        broken += [part.replace("\u00a0", " ") for part in parts]
    return broken

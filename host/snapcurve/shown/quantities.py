"""Temperatures, rates, masses, numbers and dates as a person reads and types them.

Pure. Everything is kept in °C, K, g and s; a unit of choice exists only in what is shown and
in what is typed. Conversions after NIST SP 811 (2008), appendix B: t/°C = (t/°F - 32)/1.8, an
interval of 1 °F is 1/1.8 K, and the avoirdupois ounce is 1/16 of 0.453 592 37 kg.
"""

import math
import re
from dataclasses import dataclass
from datetime import datetime

from snapcurve.errors import SnapcurveError, hidden

FAHRENHEIT_PER_KELVIN = 1.8
FAHRENHEIT_AT_0_C = 32.0
GRAMS_PER_OUNCE = 28.349523125  # exact, by definition
OUNCES_PER_POUND = 16
MINUS = "\N{MINUS SIGN}"

# A day in figures as each language writes it (Unicode CLDR, skeleton yMd), zeros kept.
DAY_PATTERNS = {
    "iso": "%Y-%m-%d",  # ISO 8601
    "de": "%d.%m.%Y",
    "el": "%d/%m/%Y",
    "en-gb": "%d/%m/%Y",
    "en-us": "%m/%d/%Y",
    "es": "%d/%m/%Y",
    "fr": "%d/%m/%Y",
    "it": "%d/%m/%Y",
    "nl": "%d-%m-%Y",
    "pl": "%d.%m.%Y",
    "pt": "%d/%m/%Y",
}

_NUMBER = re.compile(r"\s*([+\-−]?)\s*([0-9]+)(?:([.,])([0-9]+))?\s*([^\s0-9.,+\-−].*?)?\s*")
_GRAMS = {
    "g": 1.0,
    "kg": 1000.0,
    "oz": GRAMS_PER_OUNCE,
    "lb": GRAMS_PER_OUNCE * OUNCES_PER_POUND,
}
_UNIT_WORDS = {"g": "grams", "oz": "ounces"}
# A number under this without a unit is more likely kilograms or pounds.
_BARE_LEAST_G = 50.0
_LARGEST_G = 1e6


def fahrenheit(value_c: float) -> float:
    """°F from °C (NIST SP 811, B.8)."""
    return value_c * FAHRENHEIT_PER_KELVIN + FAHRENHEIT_AT_0_C


def celsius(value_f: float) -> float:
    """°C from °F (NIST SP 811, B.8)."""
    return (value_f - FAHRENHEIT_AT_0_C) / FAHRENHEIT_PER_KELVIN


@dataclass(frozen=True)
class Style:
    """How this person reads and types quantities; ``dates`` is a key of DAY_PATTERNS."""

    fahrenheit: bool = False
    decimal_comma: bool = False
    ounces: bool = False
    dates: str = "iso"

    # --- showing --------------------------------------------------------------------

    def number(
        self, value: float, decimals: int, *, sign: bool = False, trim: bool = False
    ) -> str:
        """``value`` with so many decimals; ``trim`` leaves out zeros at the end of them.

        Zero never has a minus; ``sign`` puts a plus before what is not negative.
        """
        text = f"{value:{'+' if sign else ''}.{decimals}f}"
        if trim and "." in text:
            text = text.rstrip("0").removesuffix(".")
        if text.startswith("-") and not text.strip("-0."):
            text = ("+" if sign else "") + text[1:]
        return text.replace(".", ",") if self.decimal_comma else text

    @property
    def degree(self) -> str:
        """The unit of temperatures, "°C" or "°F"."""
        return "°F" if self.fahrenheit else "°C"

    def degrees(self, value_c: float, decimals: int = 1, *, trim: bool = False) -> str:
        """A temperature without its unit."""
        value = fahrenheit(value_c) if self.fahrenheit else value_c
        return self.number(value, decimals, trim=trim)

    def temperature(self, value_c: float, decimals: int = 1, *, trim: bool = False) -> str:
        """A temperature with its unit."""
        return f"{self.degrees(value_c, decimals, trim=trim)} {self.degree}"

    def window(self, low_c: float, high_c: float) -> str:
        """Two temperatures with one unit between which something stays."""
        return f"{self.degrees(low_c, trim=True)} to {self.temperature(high_c, trim=True)}"

    def interval(self, value_k: float) -> float:
        """A difference of temperatures in the person's degrees: no offset."""
        return value_k * FAHRENHEIT_PER_KELVIN if self.fahrenheit else value_k

    def difference(
        self, value_k: float, decimals: int = 1, *, sign: bool = True, trim: bool = False
    ) -> str:
        """A difference of temperatures, with its unit."""
        number = self.number(self.interval(value_k), decimals, sign=sign, trim=trim)
        return f"{number} {self.degree}"

    def significant(self, value_k: float) -> str:
        """A difference that is not negative with two significant digits, and its unit."""
        value = self.interval(value_k)
        decimals = max(0, 1 - math.floor(math.log10(value))) if value > 0 else 0
        return self.difference(value_k, min(decimals, 9), sign=False, trim=True)

    def uncertainty(self, value_k: float) -> str:
        """An uncertainty with its unit, rounded up to a tenth of a degree."""
        tenths = math.ceil(self.interval(value_k) * 10 - 1e-9)
        return f"±{self.number(tenths / 10, 1)} {self.degree}"

    def rate(self, value_k_per_min: float, decimals: int = 1) -> str:
        """How fast a temperature changes, with its sign and unit."""
        return f"{self.difference(value_k_per_min, decimals)}/min"

    @property
    def mass_unit(self) -> str:
        """The unit of masses, "g" or "oz"."""
        return "oz" if self.ounces else "g"

    def mass(self, value_g: float, decimals: int | None = None) -> str:
        """A mass with its unit: whole grams, or hundredths of an ounce."""
        if self.ounces:
            decimals = 2 if decimals is None else decimals
            return f"{self.number(value_g / GRAMS_PER_OUNCE, decimals)} oz"
        return f"{self.number(value_g, decimals or 0)} g"

    def day(self, moment: datetime) -> str:
        """The day of ``moment`` in figures."""
        return moment.strftime(DAY_PATTERNS[self.dates])

    def minute(self, moment: datetime) -> str:
        """Day, time of day and, where ``moment`` knows it, the distance from UTC."""
        zone = moment.strftime("%z")
        text = f"{self.day(moment)} {moment:%H:%M}"
        return f"{text} (UTC{zone[:3]}:{zone[3:5]})" if zone else text

    # --- reading --------------------------------------------------------------------

    def parse_number(self, text: str) -> float:
        """The number in ``text``, which may have a decimal point or comma.

        SnapcurveError if it is none, has a unit, or if three digits behind the sign that is
        not the chosen one leave it open whether thousands are meant; it names both readings.
        """
        value, unit = self._parse(text, "31.5")
        if unit:
            raise SnapcurveError(f"{_shown(text)} has a unit where none belongs: leave it out")
        return value

    def parse_share(self, text: str) -> float:
        """A share, 0 to 1, from "8%" or "0.08"; SnapcurveError as in parse_number and beyond."""
        value, unit = self._parse(text, "8%")
        if unit not in ("", "%") or not 0 <= value <= (100 if unit else 1):
            raise SnapcurveError(
                f"{_shown(text)} is no share: write it like 8%, between 0% and 100%"
            )
        return value / 100 if unit else value

    def parse_temperature(self, text: str, bare: str = "") -> float:
        """°C of a temperature in the unit that ``text`` names.

        A number alone is in the unit ``bare``, "C" or "F", or in the person's.

        SnapcurveError as in parse_number, for another unit and below absolute zero.
        """
        value, unit = self._parse(text, self.temperature(31))
        value_c = celsius(value) if self._is_fahrenheit(unit or bare, text) else value
        if value_c < -273.15:
            raise SnapcurveError(f"{_shown(text)} lies below absolute zero: check the number")
        return value_c

    def parse_difference(self, text: str, bare: str = "") -> float:
        """K of a difference of temperatures; see parse_temperature."""
        value, unit = self._parse(text, self.difference(0.5, sign=False))
        fahrenheit = self._is_fahrenheit(unit or bare, text)
        return value / FAHRENHEIT_PER_KELVIN if fahrenheit else value

    def parse_mass(self, text: str, bare: str = "") -> float:
        """Grams of a mass, from "1.2kg", "850 g", "40 oz", "2 lb" or "850".

        A number alone is in the unit ``bare``; without that in the person's, and then it is
        refused where it would be less than 50 g: who types "1.2" means kilograms.

        SnapcurveError as in parse_number, for another unit than g, kg, oz or lb, for nothing
        and less, and above a tonne. "1.200 g" is refused whichever sign is chosen: nobody
        weighs milligrams here, so it may as well be 1200 g.
        """
        example = self._mass_example()
        value, named = self._parse(text, example, bare or self.mass_unit, whole_unit="g")
        unit = (named or bare or self.mass_unit).lower()
        if unit not in _GRAMS:
            raise SnapcurveError(
                f"{_shown(text)} has a unit that is none of {', '.join(_GRAMS)}: use one of these"
            )
        grams = value * _GRAMS[unit]
        if grams <= 0:
            raise SnapcurveError(f"{_shown(text)} is not above zero: write it like {example}")
        if grams > _LARGEST_G:
            raise SnapcurveError(f"{_shown(text)} is more than a tonne: check number and unit")
        if not named and not bare and grams < _BARE_LEAST_G:
            raise SnapcurveError(
                f"{_shown(text)} without a unit would be {_UNIT_WORDS[unit]}: "
                f"write it like {example}"
            )
        return grams

    def _mass_example(self) -> str:
        large = "lb" if self.ounces else "kg"
        return f"{self.mass(850, 0)} or {self.number(1.2, 1)} {large}"

    def _is_fahrenheit(self, unit: str, text: str) -> bool:
        letter = unit.removeprefix("°").strip().upper()
        if unit and letter not in ("C", "F"):
            raise SnapcurveError(f"{_shown(text)} has a unit that is neither °C nor °F: use one")
        return letter == "F" if unit else self.fahrenheit

    def _parse(
        self, text: str, example: str, bare: str = "", whole_unit: str = ""
    ) -> tuple[float, str]:
        """The number and the unit that ``text`` names, "" for none.

        A number alone is in ``bare``. Of ``whole_unit`` nobody writes thousandths, so there
        the chosen sign does not tell.
        """
        found = _NUMBER.fullmatch(text)
        if not found:
            raise SnapcurveError(f"{_shown(text)} is no number: write it like {example}")
        sign, whole, point, decimals, unit = found.groups()
        unit = unit or ""
        meant = unit or bare
        chosen = "," if self.decimal_comma else "."
        told = point == chosen and not (whole_unit and meant.lower() == whole_unit)
        if point and not told and len(decimals) == 3 and len(whole) <= 3 and int(whole):
            small = f"{whole}{chosen}{decimals}".rstrip("0").removesuffix(chosen)
            readings = [f"{number} {meant}".rstrip() for number in (whole + decimals, small)]
            raise SnapcurveError(
                f"{_shown(text)} may mean {readings[0]} or {readings[1]}: "
                "write the one that is meant"
            )
        value = float(f"{whole}.{decimals or 0}")
        if not math.isfinite(value):
            raise SnapcurveError("a number of so many digits cannot be meant: check it")
        return -value if sign in ("-", MINUS) else value, unit


PLAIN = Style()


def _shown(text: str) -> str:
    cut = text if len(text) <= 40 else hidden(text)[:39] + "…"
    return repr(cut)

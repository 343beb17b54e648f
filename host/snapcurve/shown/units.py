"""Numbers, units and days as a person reads and types them; kept are °C, K, g, s and ms.

A `Style` made from the settings is passed to whatever makes words. How a language writes a day
Babel knows (Unicode CLDR); it is imported for those who chose a language. Numbers need it not:
the decimal sign is a setting of its own, for which Babel would load 0.4 MB of language data
(60 to 150 ms) in every command, and it reads "1.200" as 1200 or as 1.2 by the sign that is set,
where it is refused here, since a thousandfold slip spoils a batch.

Conversions after NIST SP 811 (2008), appendix B: t/°C = (t/°F - 32)/1.8, an interval of 1 °F is
1/1.8 K, and the avoirdupois ounce is 1/16 of 0.453 592 37 kg.
"""

import math
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from functools import cache

from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import short

FAHRENHEIT_PER_KELVIN = 1.8
FAHRENHEIT_AT_0_C = 32.0
GRAMS_PER_OUNCE = 28.349523125  # exact, by definition
OUNCES_PER_POUND = 16
MINUS = "\N{MINUS SIGN}"

# How days may be written: as ISO 8601 has it, or in figures as in one of these languages.
DATES = ("iso", "de", "el", "en-gb", "en-us", "es", "fr", "it", "nl", "pl", "pt")

_KEPT_FIGURE = re.compile(r"(\d+(?:\.\d+)?) (°C|K)\b")
_NUMBER = re.compile(r"\s*([+\-−]?)\s*([0-9]+)(?:([.,])([0-9]+))?\s*([^\s0-9.,+\-−].*?)?\s*")
_GRAMS = {
    "g": 1.0,
    "kg": 1000.0,
    "oz": GRAMS_PER_OUNCE,
    "lb": GRAMS_PER_OUNCE * OUNCES_PER_POUND,
}
_UNIT_WORDS = {"g": "grams", "oz": "ounces"}
_Refusal = Callable[[str], SnapcurveError]
# A number under this without a unit is more likely kilograms or pounds.
_BARE_LEAST_G = 50.0
ROOM_C = (-10.0, 45.0)  # in which somebody may work chocolate
BATCH_MAX_G = 100_000.0
_LARGEST_G = 1e6


def fahrenheit(value_c: float) -> float:
    """°F from °C (NIST SP 811, B.8)."""
    return value_c * FAHRENHEIT_PER_KELVIN + FAHRENHEIT_AT_0_C


def celsius(value_f: float) -> float:
    """°C from °F (NIST SP 811, B.8)."""
    return (value_f - FAHRENHEIT_AT_0_C) / FAHRENHEIT_PER_KELVIN


@dataclass(frozen=True)
class Style:
    """How this person reads and types quantities; ``dates`` is one of DATES.

    Each parse_... raises SnapcurveError, one sentence that ``what`` begins ("The room").
    """

    fahrenheit: bool = False
    decimal_comma: bool = False
    ounces: bool = False
    dates: str = "iso"

    @property
    def _decimal(self) -> str:
        return "," if self.decimal_comma else "."

    # --- showing --------------------------------------------------------------------

    def number(
        self, value: float, decimals: int, *, sign: bool = False, trim: bool = False
    ) -> str:
        """``value`` with so many decimals; ``trim`` leaves out zeros at the end of them.

        Zero never has a minus; ``sign`` puts a plus before what is not negative.
        """
        text = f"{round(value, decimals) + 0.0:{'+' if sign else ''}.{decimals}f}"
        if trim and decimals:
            text = text.rstrip("0").removesuffix(".")
        return text.replace(".", self._decimal)

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

    def degrees_words(self, value_c: float) -> str:
        """A temperature to a tenth, without a useless ".0"."""
        return self.temperature(value_c, trim=True)

    def window(self, low_c: float, high_c: float) -> str:
        """Two temperatures with one unit between which something stays."""
        return f"{self.degrees(low_c, trim=True)} to {self.degrees_words(high_c)}"

    def interval(self, value_k: float) -> float:
        """A difference of temperatures in the person's degrees: no offset."""
        return value_k * FAHRENHEIT_PER_KELVIN if self.fahrenheit else value_k

    def difference(
        self, value_k: float, decimals: int = 1, *, sign: bool = True, trim: bool = False
    ) -> str:
        """A difference of temperatures, with its unit."""
        number = self.number(self.interval(value_k), decimals, sign=sign, trim=trim)
        return f"{number} {self.degree}"

    def difference_words(self, value_k: float) -> str:
        """A difference of two temperatures to a tenth, without a sign."""
        return self.difference(value_k, sign=False)

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

    def mass(self, value_g: float) -> str:
        """A mass with its unit: whole grams, or hundredths of an ounce."""
        if self.ounces:
            return f"{self.number(value_g / GRAMS_PER_OUNCE, 2)} oz"
        return f"{self.number(value_g, 0)} g"

    def mass_words(self, grams: float) -> str:
        """Grams up to 10 kg, as a scale shows them, or ounces."""
        if grams < 10_000 or self.ounces:
            return self.mass(grams)
        return self.number(grams / 1000, 2, trim=True) + " kg"

    def heat_per_mass(self, j_per_g: float, decimals: int, per: str = "") -> str:
        """A heat for each unit of mass, and of ``per`` ("K") if there is one."""
        value = j_per_g * (GRAMS_PER_OUNCE if self.ounces else 1.0)
        unit = f"({self.mass_unit} {per})" if per else self.mass_unit
        return f"{self.number(value, decimals, trim=True)} J/{unit}"

    def quantity(self, value: float, unit: str = "") -> str:
        """Six digits of ``value``, kept in ``unit``: °C, K and g in the person's units."""
        if unit == "°C":
            value, unit = fahrenheit(value) if self.fahrenheit else value, self.degree
        elif unit == "K":
            value, unit = self.interval(value), self.degree
        elif unit == "g" and self.ounces:
            value, unit = round(value / GRAMS_PER_OUNCE, 2), self.mass_unit
        return f"{f'{value:g}'.replace('.', self._decimal)} {unit}".rstrip()

    def about_minutes_words(self, minutes: float) -> str:
        """Minutes to the whole one, "under a minute" below that, hours from two on."""
        if minutes < 0.75:
            return "under a minute"
        if minutes >= 120:
            return f"about {self.number(minutes / 60, 1)} hours"
        return f"about {minutes:.0f} min"

    def day(self, moment: date) -> str:
        """The day of ``moment`` in figures."""
        return moment.strftime(_day_pattern(self.dates))

    def minute(self, moment: datetime) -> str:
        """Day, time of day and, where ``moment`` knows it, the distance from UTC."""
        zone = moment.strftime("%z")
        text = f"{self.day(moment)} {moment:%H:%M}"
        return f"{text} (UTC{zone[:3]}:{zone[3:5]})" if zone else text

    # --- reading --------------------------------------------------------------------

    def parse_number(self, text: str, what: str = "The number") -> float:
        """The number in ``text``, which may have a decimal point or comma.

        Refused if it is none, has a unit, or if three digits behind the sign that is not the
        chosen one leave it open whether thousands are meant; both readings are named.
        """
        refusal = _refusal(text, what)
        value, unit = self._parse(text, refusal, "31.5")
        if unit:
            raise refusal("has a unit where none belongs: leave it out")
        return value

    def parse_share(self, text: str, what: str = "The share") -> float:
        """A share, 0 to 1, from "8%" or "0.08"; refused as in parse_number and beyond."""
        refusal = _refusal(text, what)
        value, unit = self._parse(text, refusal, "8%")
        if unit not in ("", "%") or not 0 <= value <= (100 if unit else 1):
            raise refusal("is not a share: write it like 8%, between 0% and 100%")
        return value / 100 if unit else value

    def parse_temperature(self, text: str, bare: str = "", what: str = "The temperature") -> float:
        """°C of a temperature in the unit that ``text`` names.

        A number alone is in the unit ``bare``, "C" or "F", or in the person's. Refused as in
        parse_number, for another unit and below absolute zero.
        """
        refusal = _refusal(text, what)
        value, unit = self._parse(text, refusal, self.temperature(31))
        value_c = celsius(value) if self._is_fahrenheit(unit or bare, refusal) else value
        if value_c < -273.15:
            raise refusal("lies below absolute zero: check the number")
        return value_c

    def parse_room(self, text: str) -> float:
        """°C of a room in which somebody works; refused as in parse_temperature, and outside
        ROOM_C."""
        value_c = self.parse_temperature(text, what="The room")
        low_c, high_c = ROOM_C
        if not low_c <= value_c <= high_c:
            raise _refusal(text, "The room")(
                f"cannot be meant, as rooms have {self.window(low_c, high_c)}: check number and "
                "unit"
            )
        return value_c

    def parse_difference(self, text: str, bare: str = "", what: str = "The difference") -> float:
        """K of a difference of temperatures; see parse_temperature."""
        refusal = _refusal(text, what)
        value, unit = self._parse(text, refusal, self.difference(0.5, sign=False))
        is_fahrenheit = self._is_fahrenheit(unit or bare, refusal)
        return value / FAHRENHEIT_PER_KELVIN if is_fahrenheit else value

    def parse_mass(self, text: str, bare: str = "", what: str = "The mass") -> float:
        """Grams of a mass, from "1.2kg", "850 g", "40 oz", "2 lb" or "850".

        A number alone is in the unit ``bare``; without that in the person's, and then it is
        refused where it would be less than 50 g: who types "1.2" means kilograms.

        Refused as in parse_number, for another unit than g, kg, oz or lb, for nothing and
        less, and above a tonne. "1.200 g" is refused whichever sign is chosen: a bench weighs
        no milligrams, so it may as well be 1200 g.
        """
        refusal = _refusal(text, what)
        small, large = ("30 oz", "lb") if self.ounces else ("850 g", "kg")
        example = f"{small} or {self.number(1.2, 1)} {large}"
        value, named = self._parse(text, refusal, example, bare or self.mass_unit, whole_unit="g")
        unit = (named or bare or self.mass_unit).lower()
        if unit not in _GRAMS:
            raise refusal(f"has a unit that is none of {', '.join(_GRAMS)}: use one of these")
        grams = value * _GRAMS[unit]
        if grams <= 0:
            raise refusal(f"is not above zero: write it like {example}")
        if grams > _LARGEST_G:
            raise refusal("is more than a tonne: check number and unit")
        if not named and not bare and grams < _BARE_LEAST_G:
            raise refusal(f"without a unit would be {_UNIT_WORDS[unit]}: write it like {example}")
        return grams

    def parse_batch_mass(self, text: str) -> float:
        """Grams of a whole batch; refused as in parse_mass, and above BATCH_MAX_G."""
        grams = self.parse_mass(text)
        if grams > BATCH_MAX_G:
            raise _refusal(text, "The mass")(
                f"is more than the {self.mass(BATCH_MAX_G)} of the largest batch: check number "
                "and unit"
            )
        return grams

    def parse_day(self, text: str, what: str = "The day") -> date:
        """A day written as 2026-11-24, as the settings write it, "today" or "yesterday"."""
        word = text.strip().lower()
        if word in ("today", "yesterday"):
            return date.today() - timedelta(days=word == "yesterday")
        for pattern in dict.fromkeys(("%Y-%m-%d", _day_pattern(self.dates))):
            try:
                return datetime.strptime(word, pattern).date()
            except ValueError:
                continue
        raise _refusal(text, what)("is not a day: write it like 2026-11-24")

    def _is_fahrenheit(self, unit: str, refusal: _Refusal) -> bool:
        letter = unit.removeprefix("°").strip().upper()
        if unit and letter not in ("C", "F"):
            raise refusal("has a unit that is neither °C nor °F: use one")
        return letter == "F" if unit else self.fahrenheit

    def _parse(
        self, text: str, refusal: _Refusal, example: str, bare: str = "", whole_unit: str = ""
    ) -> tuple[float, str]:
        """The number and the unit that ``text`` names, "" for none.

        A number alone is in ``bare``. No scale shows thousandths of ``whole_unit``, so there
        the chosen sign does not decide.
        """
        found = _NUMBER.fullmatch(text)
        if not found:
            raise refusal(f"is not a number: write it like {example}")
        sign, whole, point, decimals, unit = found.groups()
        unit = unit or ""
        meant = unit or bare
        decided = point == self._decimal and not (whole_unit and meant.lower() == whole_unit)
        if point and not decided and len(decimals) == 3 and len(whole) <= 3 and int(whole):
            small = f"{whole}{self._decimal}{decimals}".rstrip("0").removesuffix(self._decimal)
            readings = [f"{number} {meant}".rstrip() for number in (whole + decimals, small)]
            raise refusal(f"may mean {readings[0]} or {readings[1]}: write the one that is meant")
        value = float(f"{whole}.{decimals or 0}")
        if not math.isfinite(value):
            raise refusal("has more digits than any quantity here: check it")
        return -value if sign in ("-", MINUS) else value, unit


PLAIN = Style()


def with_figures(text: str, style: Style) -> str:
    """``text`` with its temperatures (31.5 °C) and differences of them (1.5 K) as ``style`` shows
    them; for texts that are kept in files."""

    def figure(found: re.Match[str]) -> str:
        value = float(found[1])
        if found[2] == "K":
            return style.difference(value, sign=False, trim=True)
        return style.temperature(value, trim=True)

    return _KEPT_FIGURE.sub(figure, text)


def _refusal(text: str, what: str) -> _Refusal:
    """Makes what is wrong with a typed ``text`` an error; ``what`` is the word it goes by."""
    return lambda fault: SnapcurveError(f"{what} {short(text)!r} {fault}.")


@cache
def _day_pattern(dates: str) -> str:
    """How strftime writes a day in figures, in the order and with the signs that Unicode CLDR
    gives for the language ``dates`` (skeleton yMd); its zeros are kept."""
    if dates == "iso":
        return "%Y-%m-%d"  # ISO 8601
    from babel import Locale

    pattern = Locale.parse(dates, sep="-").datetime_skeletons["yMd"].pattern
    return re.sub(r"y+|M+|d+", lambda part: {"y": "%Y", "M": "%m", "d": "%d"}[part[0][0]], pattern)


def seconds_words(seconds: float) -> str:
    """Whole seconds up to two minutes, then minutes and seconds."""
    whole = round(seconds)
    return f"{whole} s" if whole <= 120 else f"{whole // 60} min {whole % 60:02d} s"


def day_start_ms(day: date) -> int:
    """When `day` begins by the local clock, in ms since 1970 UTC; SnapcurveError for a day
    that no clock of this computer knows."""
    try:
        return int(time.mktime(day.timetuple())) * 1000
    except (OverflowError, ValueError) as error:
        raise SnapcurveError(f"{day} is too far away: choose a nearer day.") from error


def day_after(day: date) -> date:
    """The next day, the last one for ever."""
    return day if day == date.max else day + timedelta(days=1)


def local(unix_ms: int, utc_offset_min: int) -> datetime:
    """The moment with its zone."""
    return datetime.fromtimestamp(unix_ms / 1000, timezone(timedelta(minutes=utc_offset_min)))


def iso(unix_ms: int, utc_offset_min: int) -> str:
    """ISO 8601 with seconds and the offset from UTC."""
    return local(unix_ms, utc_offset_min).isoformat(timespec="seconds")

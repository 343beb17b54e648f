"""From the text of a couverture file to a checked Couverture; touches no file."""

import math
import re
import tomllib
from typing import NoReturn

from snapcurve.couvertures.model import KINDS, Couverture
from snapcurve.errors import SnapcurveError
from snapcurve.shown.file_lines import (
    TOML_ERRORS,
    did_you_mean,
    line_of,
    one_line,
    shown,
    syntax_fault,
)
from snapcurve.wire.catalogue import PROFILE_HEAD

NAME_BYTES_MAX = next(
    int(field[1].rstrip("s")) for field in PROFILE_HEAD if field[0] == "couverture"
)
LOWEST_C = 10.0
HIGHEST_C = 110.0

# Each field with what a right line looks like, in the order a file has them.
_REQUIRED = {
    "name": 'name = "Milk couverture"',
    "kind": 'kind = "milk"',
    "melt_c": "melt_c = 45.0",
    "work_c": "work_c = [30.0, 32.0]",
    "never_above_c": "never_above_c = 50.0",
}
_OPTIONAL = {
    "cool_c": "cool_c = 27.5",
    "aim_c": "aim_c = 30.5",
    "cocoa_percent": "cocoa_percent = 36.0",
    "fat_percent": "fat_percent = 37.0",
    "source": 'source = "Data sheet of the maker."',
}
FIELDS = _REQUIRED | _OPTIONAL


def parse(text: str, file: str, couverture_id: str, origin: str) -> Couverture:
    """The couverture that `text` describes; `file` is what a message calls it.

    Raises SnapcurveError whose one sentence names file, line and field (where there are
    such), what is wrong and what would be right.
    """
    return _Sheet(text, file).couverture(couverture_id, origin)


class _Sheet:
    """A file being checked: its fields, and the way to complain about one."""

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file
        try:
            self.fields = tomllib.loads(text)
        except TOML_ERRORS as error:
            self._refuse_syntax(error)

    def couverture(self, couverture_id: str, origin: str) -> Couverture:
        self._check_field_names()
        name = self._name()
        kind = self._kind()
        melt_c = self._temperature("melt_c")
        work_low_c, work_high_c = self._window()
        never_above_c = self._temperature("never_above_c")
        cool_c = self._temperature("cool_c") if "cool_c" in self.fields else None
        aim_c = self._temperature("aim_c") if "aim_c" in self.fields else None
        if work_high_c >= melt_c:
            self.refuse(
                "work_c",
                f"the window ends at {work_high_c:g} °C, not below the melting temperature; "
                f"it has to end below melt_c = {melt_c:g}",
            )
        if never_above_c <= melt_c:
            self.refuse(
                "never_above_c",
                f"{never_above_c:g} °C is not above the melting temperature; "
                f"it has to be above melt_c = {melt_c:g}",
            )
        if cool_c is not None and cool_c > work_low_c:
            self.refuse(
                "cool_c",
                f"{cool_c:g} °C is above the low end of the window; "
                f"it has to be at most {work_low_c:g}",
            )
        if aim_c is not None and not work_low_c <= aim_c <= work_high_c:
            self.refuse(
                "aim_c",
                f"{aim_c:g} °C lies outside the window; "
                f"it has to be from {work_low_c:g} to {work_high_c:g}, the two ends of work_c",
            )
        return Couverture(
            id=couverture_id,
            name=name,
            kind=kind,
            melt_c=melt_c,
            cool_c=cool_c,
            work_low_c=work_low_c,
            work_high_c=work_high_c,
            aim_c=aim_c,
            never_above_c=never_above_c,
            cocoa_percent=self._percent("cocoa_percent"),
            fat_percent=self._percent("fat_percent"),
            source=self._source(),
            origin=origin,
            toml_text=self.text,
        )

    def refuse(self, field: str, what: str) -> NoReturn:
        """Raise the error about `field`; `what` says what is wrong and what would be right."""
        line = line_of(self.text, field)
        place = f"{self.file}, line {line}" if line else self.file
        raise SnapcurveError(f"{place}, {one_line(field)}: {what}.")

    def _refuse_syntax(self, error: BaseException) -> NoReturn:
        number, reason = syntax_fault(error, self.text)
        line = self.text.split("\n")[number - 1]
        place = f"{self.file}, line {number}"
        right = f"write it like this: {FIELDS['melt_c']}"
        if key := re.match(r"\s*([A-Za-z_-]+)\s*=", line):
            place += f", {one_line(key[1])}"
            right = f"write it like this: {FIELDS.get(key[1], FIELDS['melt_c'])}"
        if comma := re.search(r"=\s*(\d+),(\d+)\s*(#.*)?$", line):
            right = f"write the decimals after a point, {one_line(f'{comma[1]}.{comma[2]}')}"
        raise SnapcurveError(
            f"{place}: this is not TOML ({one_line(reason)}); {right}."
        ) from error

    def _check_field_names(self) -> None:
        for field in self.fields:
            if field not in FIELDS:
                meant = did_you_mean(field, FIELDS)
                self.refuse(field, f"there is no such field{meant}; known are {', '.join(FIELDS)}")
        for field, example in _REQUIRED.items():
            if field not in self.fields:
                self.refuse(field, f"this field is missing; add a line such as {example}")

    def _text(self, field: str) -> str:
        """A text on one line, blanks at its ends removed."""
        value = self.fields[field]
        if not isinstance(value, str):
            self.refuse(
                field, f"{shown(value)} is not a text in quotation marks; write {FIELDS[field]}"
            )
        text = value.strip()
        if not text:
            self.refuse(field, f"the text is empty; write {FIELDS[field]}")
        return text

    def _printable(self, field: str, text: str) -> str:
        for character in text:
            if not character.isprintable():
                self.refuse(
                    field,
                    f"it holds the character U+{ord(character):04X}, which cannot be printed; "
                    "remove it",
                )
        return text

    def _name(self) -> str:
        name = self._printable("name", self._text("name"))
        size = len(name.encode("utf-8"))
        if size > NAME_BYTES_MAX:
            self.refuse(
                "name",
                f"the name takes {size} bytes and the board has room for {NAME_BYTES_MAX}; "
                f"shorten it to at most {NAME_BYTES_MAX} letters, fewer with accents",
            )
        return name

    def _kind(self) -> str:
        kind = self._text("kind")
        if kind not in KINDS:
            self.refuse("kind", f'"{one_line(kind)}" is none of the kinds; write {_one_of(KINDS)}')
        return kind

    def _source(self) -> str | None:
        if "source" not in self.fields:
            return None
        return self._printable("source", " ".join(self._text("source").split()))

    def _number(self, field: str, value: object) -> float:
        """`value` as a float, infinite for an integer that no float can hold."""
        example = FIELDS[field]
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(field, f"{shown(value)} is not a number; write {example}")
        if isinstance(value, float) and not math.isfinite(value):
            self.refuse(field, f"{shown(value)} is not a finite number; write {example}")
        try:
            return float(value)
        except OverflowError:
            return math.inf if value > 0 else -math.inf

    def _in_range_c(self, field: str, value: object) -> float:
        celsius = self._number(field, value)
        if not LOWEST_C <= celsius <= HIGHEST_C:
            what = (
                f"{shown(value)} °C is out of range; "
                f"it has to be from {LOWEST_C:g} to {HIGHEST_C:g} °C"
            )
            from_fahrenheit_c = (celsius - 32.0) / 1.8
            if celsius > HIGHEST_C and from_fahrenheit_c <= HIGHEST_C:
                what += f" (if {celsius:g} was meant in °F, write {from_fahrenheit_c:.1f})"
            self.refuse(field, what)
        return celsius

    def _temperature(self, field: str) -> float:
        return self._in_range_c(field, self.fields[field])

    def _window(self) -> tuple[float, float]:
        value = self.fields["work_c"]
        if not isinstance(value, list) or len(value) != 2:
            self.refuse(
                "work_c",
                f"{shown(value)} is not a window; write its low and its high end, "
                f"{FIELDS['work_c']}",
            )
        low_c, high_c = (self._in_range_c("work_c", end) for end in value)
        if low_c > high_c:
            self.refuse(
                "work_c",
                f"the window is reversed, {low_c:g} to {high_c:g} °C; "
                f"write the low end first, [{high_c:g}, {low_c:g}]",
            )
        if low_c == high_c:
            self.refuse(
                "work_c",
                f"both ends are {low_c:g} °C; the high end has to be above the low one",
            )
        return low_c, high_c

    def _percent(self, field: str) -> float | None:
        if field not in self.fields:
            return None
        value = self.fields[field]
        percent = self._number(field, value)
        if not 0.0 <= percent <= 100.0:
            self.refuse(field, f"{shown(value)} % is out of range; it has to be from 0 to 100")
        return percent


def _one_of(words: tuple[str, ...]) -> str:
    quoted = [f'"{word}"' for word in words]
    return ", ".join(quoted[:-1]) + " or " + quoted[-1]

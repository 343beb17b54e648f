"""The user's settings: units, signs, dates, paper, and whose bench this is.

One small TOML file in the user's configuration folder; SNAPCURVE_SETTINGS names another.
What is not set there is as in ``Settings()``.
"""

import os
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.errors import SnapcurveError
from snapcurve.shown.folders import made, named_path
from snapcurve.shown.input_files import KIB, NoSuchFile, read_bytes, text_of
from snapcurve.shown.plain_text import short
from snapcurve.shown.units import DATES, Style

if TYPE_CHECKING:
    from voluptuous import Schema

VARIABLE = "SNAPCURVE_SETTINGS"
FILE_BYTES_MAX = 16 * KIB
TEXT_MAX = 200

# key -> what may be chosen (none: any text on one line) and what it is for
KEYS: dict[str, tuple[tuple[str, ...], str]] = {
    "temperature": (("C", "F"), "temperatures in °C or °F"),
    "decimal": (("point", "comma"), "the decimal sign"),
    "mass": (("g", "oz"), "masses in grams or avoirdupois ounces"),
    "dates": (DATES, "days in figures as in this language; words stay English"),
    "paper": (("A4", "Letter"), "paper of charts and sheets"),
    "allergens": (("EU", "US"), "whose law's list of allergen groups is offered"),
    "operator": ((), "who works here, for the batch sheet"),
    "bench": ((), "what this bench is called, for the batch sheet"),
}


@dataclass(frozen=True)
class Settings:
    """One value for each of KEYS, checked; texts are empty where nothing was set."""

    temperature: str = "C"
    decimal: str = "point"
    mass: str = "g"
    dates: str = "iso"
    paper: str = "A4"
    allergens: str = "EU"
    operator: str = ""
    bench: str = ""

    @property
    def style(self) -> Style:
        """How quantities are shown and read."""
        return Style(
            fahrenheit=self.temperature == "F",
            decimal_comma=self.decimal == "comma",
            ounces=self.mass == "oz",
            dates=self.dates,
        )


_EXAMPLES = {
    key: f'{key} = "{choices[0] if choices else "Ilka Brandner"}"'
    for key, (choices, _) in KEYS.items()
}


def settings_path() -> Path:
    """Where the settings are, which need not exist.

    SnapcurveError if SNAPCURVE_SETTINGS names the home of nobody.
    """
    if chosen := os.environ.get(VARIABLE):
        return named_path(VARIABLE, chosen)
    import platformdirs

    return platformdirs.user_config_path("snapcurve", appauthor=False) / "settings.toml"


def load(path: Path | None = None) -> Settings:
    """The settings in ``path`` (None: the user's), the defaults where there is no file.

    SnapcurveError naming file and key if it cannot be read or holds what makes no sense.
    """
    path = settings_path() if path is None else path
    try:
        return _parsed(text_of(_read(path), path), path)
    except NoSuchFile:
        return Settings()


def change(key: str, text: str, path: Path | None = None) -> tuple[Settings, str]:
    """Set ``key`` in ``path`` (None: the user's): the settings as they are then, and a sentence
    on what was wrong with the file before, "" where nothing was.

    Comments and the order of lines stay. Of a file that makes no sense a copy is kept beside it,
    and what does make sense in it is taken over. SnapcurveError if ``key`` cannot be that, and
    as in read_bytes and write_whole; the file then is as it was.
    """
    import tomlkit

    from snapcurve.shown.whole_files import write_whole

    path = settings_path() if path is None else path
    value = _checked({key: text})[key]
    try:
        was = _read(path)
    except NoSuchFile:
        was = b""
    document, fault = tomlkit.document(), ""
    try:
        document = tomlkit.parse(text_of(was, path))
    except (SnapcurveError, ValueError, RecursionError) as error:  # tomlkit's are ValueErrors
        fault = _fault(was, path) or f"{path} cannot be edited ({short(str(error))})."
    document[key] = value
    if not fault and _fault(document.as_string().encode(), path):
        fault = _fault(was, path)
        for name, found in document.unwrap().items():
            if not _makes_sense(name, found):
                del document[name]
    after = _parsed(document.as_string(), path)
    made(path.parent)
    if fault:
        copy = _free_name(path)
        write_whole(copy, was, "copy of the settings file")
        fault += f" The file as it was is now {copy}; what made sense in it is kept."
    write_whole(path, document.as_string().encode(), "settings file")
    return after, fault


def _fault(raw: bytes, path: Path) -> str:
    try:
        _parsed(text_of(raw, path), path)
    except SnapcurveError as error:
        return str(error)
    return ""


def _makes_sense(key: str, value: object) -> bool:
    try:
        _checked({key: value})
    except SnapcurveError:
        return False
    return True


def _free_name(path: Path) -> Path:
    number = 1
    while os.path.lexists(copy := path.with_name(f"{path.name}.broken-{number}")):
        number += 1
    return copy


def _read(path: Path) -> bytes:
    return read_bytes(path, "settings file", FILE_BYTES_MAX)


def _parsed(text: str, path: Path) -> Settings:
    from snapcurve.shown.validation import checked_toml

    return Settings(**checked_toml(_schema(), text, str(path), _EXAMPLES))


def _checked(values: dict[str, Any]) -> dict[str, str]:
    from snapcurve.shown.validation import checked

    found: dict[str, str] = checked(_schema(), values, _EXAMPLES, "The settings")
    return found


def _schema() -> "Schema":
    from voluptuous import Schema

    from snapcurve.shown.validation import Fault, one_of, text_value

    def words(value: object) -> str:
        text = text_value(value)
        if len(text) > TEXT_MAX:
            raise Fault(f"the text has more than {TEXT_MAX} letters", "shorten it")
        return text

    return Schema(
        {key: one_of(choices) if choices else words for key, (choices, _) in KEYS.items()}
    )


assert list(KEYS) == [field.name for field in fields(Settings)]

"""The user's settings: units, signs, dates, paper, and whose bench this is.

One small TOML file in the user's configuration folder; SNAPCURVE_SETTINGS names another.
What is not set there is as in ``Settings()``.
"""

import json
import os
import re
import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path

from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.file_lines import TOML_ERRORS, did_you_mean, one_line, shown, syntax_fault
from snapcurve.shown.input_files import KIB, NoSuchFile, read_text
from snapcurve.shown.units import DATES, Style

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

    def with_value(self, key: str, text: str) -> "Settings":
        """These settings with ``key`` changed; SnapcurveError if it cannot be that."""
        if key not in KEYS:
            raise SnapcurveError(
                f"there is no setting {one_line(key)!r}{did_you_mean(key, KEYS)}; "
                f"known are {', '.join(KEYS)}"
            )
        return replace(self, **{key: _checked(key, text)})


def _checked(key: str, text: str) -> str:
    choices, _ = KEYS[key]
    text = text.strip()
    if choices:
        wanted = text.lower().removeprefix("°")
        for choice in choices:
            if wanted == choice.lower():
                return choice
        raise SnapcurveError(
            f"{key} cannot be {one_line(text)!r}: choose one of {', '.join(choices)}"
        )
    if len(text) > TEXT_MAX or not text.isprintable():
        raise SnapcurveError(
            f"{key} has to be a text on one line of at most {TEXT_MAX} letters: shorten it"
        )
    return text


def settings_path() -> Path:
    """Where the settings are, which need not exist.

    SnapcurveError if SNAPCURVE_SETTINGS names the home of nobody.
    """
    if chosen := os.environ.get(VARIABLE):
        try:
            return Path(chosen).expanduser()
        except RuntimeError as error:
            raise SnapcurveError(
                f"{VARIABLE} names the home of nobody, {one_line(chosen)}; "
                "write the path of the file in full"
            ) from error
    import platformdirs

    return platformdirs.user_config_path("snapcurve", appauthor=False) / "settings.toml"


def load(path: Path | None = None) -> Settings:
    """The settings in ``path`` (None: the user's), the defaults where there is no file.

    SnapcurveError naming file and key if it cannot be read or holds what makes no sense.
    """
    path = settings_path() if path is None else path
    return _parsed(_read(path), path)


def change(key: str, text: str, path: Path | None = None) -> Settings:
    """Set ``key`` in ``path`` (None: the user's) and return the settings as they are then.

    Other lines of the file, comments too, stay as they are. SnapcurveError as in load and
    with_value, and if the file cannot be written; it then is as it was.
    """
    from snapcurve.shown.whole_files import write_whole

    path = settings_path() if path is None else path
    before = _read(path)
    after = _parsed(before, path).with_value(key, text)
    # Every printable text is the same in JSON's quotation marks and in TOML's.
    line = f"{key} = {json.dumps(getattr(after, key), ensure_ascii=False)}"
    old = re.compile(rf"^[ \t]*([\"']?){key}\1[ \t]*=.*$", re.MULTILINE)
    changed, found = old.subn(lambda _: line, before, count=1)
    if not found:
        changed = f"{before.rstrip()}\n{line}\n".lstrip()
    if _parsed(changed, path) != after:
        raise SnapcurveError(
            f"{path} sets {key} in a way that cannot be changed from here: edit the file"
        )
    with file_errors(f"make the folder {path.parent} for the settings"):
        path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, changed.encode("utf-8"), "settings file")
    return after


def _read(path: Path) -> str:
    try:
        return read_text(path, "settings file", FILE_BYTES_MAX).replace("\r\n", "\n")
    except NoSuchFile:
        return ""


def _parsed(text: str, path: Path) -> Settings:
    try:
        values = tomllib.loads(text)
    except TOML_ERRORS as error:
        number, reason = syntax_fault(error, text)
        raise SnapcurveError(
            f"{path}, line {number}: this is not TOML ({one_line(reason)}); "
            'write it like this: temperature = "F"'
        ) from error
    found = Settings()
    for key, value in values.items():
        if key in KEYS and not isinstance(value, str):
            raise SnapcurveError(
                f"{path}, {key}: {shown(value)} is not a text in quotation marks; "
                f'write {key} = "{getattr(Settings(), key)}"'
            )
        try:
            found = found.with_value(key, str(value))
        except SnapcurveError as error:
            raise SnapcurveError(f"{path}: {error}") from error
    return found


assert list(KEYS) == [field.name for field in fields(Settings)]

"""Where couvertures are kept: built in, in the user's folder, or in a file anywhere."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.couvertures.checking_file import parse
from snapcurve.couvertures.model import ORIGIN_BUILT_IN, Couverture
from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.shown.folders import data_path, named_path
from snapcurve.shown.input_files import KIB, NoSuchFile, read_text
from snapcurve.shown.plain_text import did_you_mean, short, visible

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

FOLDER_VARIABLE = "SNAPCURVE_COUVERTURES"
FILE_BYTES_MAX = 16 * KIB  # a couverture takes less than one kilobyte

_SUFFIX = ".toml"


def user_folder() -> Path:
    """The folder of the user's own couvertures, which need not exist.

    SNAPCURVE_COUVERTURES names it; without that variable it lies in the user's data folder.
    Raises SnapcurveError if the variable names the home of nobody.
    """
    if chosen := os.environ.get(FOLDER_VARIABLE):
        return named_path(FOLDER_VARIABLE, chosen)
    return data_path() / "couvertures"


def load(text: str, folder: Path) -> Couverture:
    """The couverture that a person asked for by `text`.

    `text` is an id, looked for in `folder` first and then among the built in, or a path that
    ends in .toml. Raises SnapcurveError if there is none, or its file cannot be read or is
    wrong.
    """
    if text.lower().endswith(_SUFFIX):
        return _from_path(Path(text), folder)
    own = _own_files(folder)
    if text in own:
        return _from_path(own[text], folder)
    built_in = _built_in_files()
    if text in built_in:
        return _from_package(text, built_in[text])
    raise SnapcurveError(
        f'There is no couverture "{short(text)}"{_what_there_is(text, {*own, *built_in})}.'
    )


def available(folder: Path) -> list[Couverture]:
    """Every couverture that has an id, by id; one in `folder` hides a built-in of its id.

    Raises SnapcurveError at the first file in `folder` that is wrong: left out of the list,
    it would look as if it were not there.
    """
    own = _own_files(folder)
    built_in = _built_in_files()
    return [
        _from_path(own[name], folder) if name in own else _from_package(name, built_in[name])
        for name in sorted({*own, *built_in})
    ]


def _what_there_is(text: str, known: set[str]) -> str:
    listed = ", ".join(short(name) for name in sorted(known))
    return f"{did_you_mean(text, known)}; known are {listed}, and any path ending in {_SUFFIX}"


def _own_files(folder: Path) -> dict[str, Path]:
    """The files in `folder` by id; hidden ones, as editors leave behind, do not count."""
    named_by = f" ({FOLDER_VARIABLE})" if os.environ.get(FOLDER_VARIABLE) else ""
    with file_errors(f"read the folder of couvertures {_named(folder)}{named_by}"):
        try:
            entries = sorted(folder.iterdir())
        except FileNotFoundError:
            return {}
    return {
        path.stem: path
        for path in entries
        if path.suffix.lower() == _SUFFIX and not path.name.startswith(".")
    }


def _built_in_files() -> "dict[str, Traversable]":
    from importlib.resources import files

    data = files(__package__) / "data"
    return {
        entry.name.removesuffix(_SUFFIX): entry
        for entry in data.iterdir()
        if entry.name.endswith(_SUFFIX)
    }


def _from_package(name: str, entry: "Traversable") -> Couverture:
    text = entry.read_text(encoding="utf-8")
    return parse(text, f"{name}{_SUFFIX} ({ORIGIN_BUILT_IN})", name, ORIGIN_BUILT_IN)


def _from_path(path: Path, folder: Path) -> Couverture:
    text = _read(path, folder)
    return parse(text, _named(path), path.stem, str(path))


def _read(path: Path, folder: Path) -> str:
    try:
        return read_text(path, "couverture", FILE_BYTES_MAX)
    except NoSuchFile as error:
        known = {*_own_files(folder), *_built_in_files()}
        raise SnapcurveError(
            f"There is no file {_named(path)}{_what_there_is(path.stem, known)}."
        ) from error


def _named(path: Path) -> str:
    """The path in full: a person has to find the file again."""
    return visible(str(path))

"""Where the notebook is: option, environment variable, address file, or the data folder.

The address file is ``notebook-address`` in the user's configuration folder: one line, a
path or a URL. It may hold a password, so it must belong to the user alone (chmod 600).

A mistyped address must not become a file: batches filed there would be erased on the board.
``is_address`` says which texts are addresses.
"""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from urllib.parse import quote, unquote

from snapcurve.errors import RecordError, SnapcurveError, cannot
from snapcurve.shown.folders import data_path

VARIABLE = "SNAPCURVE_NOTEBOOK"
_SQLITE = "sqlite:///"
# Files that SQLite keeps beside a notebook while it writes, or after it was killed.
COMPANIONS = ("-journal", "-wal", "-shm")
_HERE = ("./", "../", "~/", ".\\", "..\\", "~\\")
# A scheme with its colon (one letter is a drive), or with its slashes and no colon; a quotation
# mark or a space may have slipped in before it.
_SCHEME = re.compile(r"[^\w./\\]*[^\W\d_]([\w+.\-]+:|[\w+.\-]*//)")


def is_address(given: str) -> bool:
    """Whether `given` is meant as an address, be it right or not, and not as a path.

    It is, if it holds an ``@`` or ``://`` or begins with a word and a colon. What begins with
    ``./``, ``../`` or ``~/`` is a path whatever it holds, and so is a whole path from the root
    or a drive on, if its folder exists and is not the root itself.
    """
    if given.startswith(_HERE):
        return False
    if not ("@" in given or "://" in given or _SCHEME.match(given)):
        return False
    path = Path(given)
    try:
        placed = path.is_absolute() and path.parent.is_dir()
    except (OSError, ValueError):
        return True
    return not placed or path.parent == Path(path.anchor)


def default_url() -> str:
    """The place used when none is given: SNAPCURVE_NOTEBOOK (a path or a URL as it stands),
    else what stands in the address file, else the URL of the file in the user's data folder.

    Raises SnapcurveError for an address file that others can read.
    """
    given = os.environ.get(VARIABLE) or _address_in(_address_file())
    return given or _SQLITE + quote(_default_path().as_posix(), safe="/:")


def _address_in(file: Path) -> str:
    """The line in the address file, "" where there is none."""
    try:
        with file.open(encoding="utf-8") as opened:
            found = os.fstat(opened.fileno())
            mine = os.name != "posix" or found.st_uid in (os.geteuid(), 0)
            if os.name == "posix" and (found.st_mode & 0o077 or not mine):
                raise SnapcurveError(
                    f"{file} may hold a password but is open to others; make it your own with"
                    f" 'chmod 600 {file}'."
                )
            lines = [line for line in opened.read().splitlines() if line.strip()]
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise cannot(f"read the notebook's address in {file}", error) from error
    except UnicodeDecodeError as error:
        raise SnapcurveError(f"{file} is not text; write the notebook's address there.") from error
    if len(lines) > 1:
        raise SnapcurveError(
            f"{file} holds more than one line; leave only the notebook's address."
        )
    return lines[0].strip() if lines else ""


def _address_file() -> Path:
    import platformdirs

    return platformdirs.user_config_path("snapcurve", appauthor=False) / "notebook-address"


def place_of(where: str | None) -> Path | str:
    """The file of an SQLite notebook, or the URL of any other database.

    Creates the user's data folder when that is where the notebook belongs; no other folder.
    Raises SnapcurveError when `where` cannot be a notebook's name; RecordError when something
    else is there, or the computer refuses.
    """
    given = default_url() if where is None else where
    if is_address(given) and not given.startswith("sqlite:"):
        return given
    path = _path_in_url(given) if is_address(given) else Path(given)
    if not given.strip() or "\0" in str(path):
        raise SnapcurveError(
            f"{given!r} cannot be the notebook's file; give a name such as notebook.db."
        )
    try:
        path = path.expanduser()
        if path == _default_path():
            path.parent.mkdir(parents=True, exist_ok=True)
        mode = path.stat().st_mode if path.exists() else stat.S_IFREG
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "no ordinary file"
            raise RecordError(f"{path} is {what}; give the notebook's file another name.")
        if not path.parent.is_dir():
            raise SnapcurveError(
                f"The folder {path.parent} for the notebook does not exist; create it first."
            )
    except OSError as error:
        raise cannot(f"use the notebook {given}", error) from error
    except RuntimeError as error:  # of expanduser
        raise SnapcurveError(f"There is no home folder for {given!r}; write it out.") from error
    return path


def _default_path() -> Path:
    return data_path() / "notebook.db"


def _path_in_url(url: str) -> Path:
    name = url.removeprefix(_SQLITE)
    if name in (url, "", ":memory:") or "?" in name or is_address(name):
        raise SnapcurveError(
            "The notebook address names no file; write it as sqlite:///folder/name.db, with %40"
            " for an @."
        )
    return Path(unquote(name))

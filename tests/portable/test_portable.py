"""Runs every script of this folder under both interpreters."""

import atexit
import os
import re
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

import pytest

from snapcurve.board.firmware_files import import_roots, link_into
from tests.patience import LONGEST_S

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SCRIPTS = sorted(path.name for path in HERE.glob("*_portable.py") if path != Path(__file__))
INTERPRETERS = ("cpython", "micropython")


def interpreter_of(kind: str) -> str:
    """The program to run; next to this Python first, since it is installed with it."""
    if kind == "cpython":
        return sys.executable
    beside = Path(sys.executable).with_name("micropython")
    found = str(beside) if beside.exists() else shutil.which("micropython")
    assert found, "micropython is not installed: install the project with its dev extra"
    return found


@cache
def _firmware() -> str:
    """A folder with the firmware's package; it goes when the tests end."""
    folder = tempfile.TemporaryDirectory()
    atexit.register(folder.cleanup)
    link_into(Path(folder.name))
    return folder.name


def run(kind: str, script: Path) -> tuple[int, str]:
    """Run ``script``; its exit code and all it printed."""
    environment = os.environ | {
        "MICROPYPATH": os.pathsep.join([_firmware(), str(ROOT / "tests" / "wire")]),
        "PYTHONPATH": os.pathsep.join([*import_roots(), str(ROOT / "tests" / "wire")]),
        "PYTHONIOENCODING": "utf-8",
    }
    done = subprocess.run(
        [interpreter_of(kind), str(script)],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        timeout=LONGEST_S,
        check=False,
    )
    return done.returncode, done.stdout.decode("utf-8", "replace")


def verdict(code: int, printed: str) -> str:
    """What is wrong with a run; empty if nothing is."""
    if code != 0:
        return f"exit code {code}:\n{printed}"
    count = re.search(r"^(\d+) checks$", printed, re.MULTILINE)
    if count is None:
        return f"printed no count of its checks:\n{printed}"
    return "" if int(count[1]) > 0 else "checked nothing"


def test_that_there_are_scripts():
    assert {"wire_portable.py", "curve_portable.py"} <= set(SCRIPTS)


@pytest.mark.parametrize("kind", INTERPRETERS)
@pytest.mark.parametrize("name", SCRIPTS)
def test_script(name, kind):
    assert verdict(*run(kind, HERE / name)) == ""


@pytest.mark.parametrize("kind", INTERPRETERS)
@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("assert 1 == 2\nprint('1 checks')", "exit code 1"),
        ("print('3 checks')\nraise SystemExit(3)", "exit code 3"),
        ("import nowhere_to_be_found", "exit code 1"),
        ("print('all fine')", "no count"),
        ("print('0 checks')", "checked nothing"),
    ],
)
def test_that_a_bad_script_is_noticed(tmp_path, kind, text, complaint):
    script = tmp_path / "bad.py"
    script.write_text(text, encoding="utf-8")
    assert complaint in verdict(*run(kind, script))


@pytest.mark.parametrize("kind", INTERPRETERS)
def test_that_the_interpreter_is_the_one_it_should_be(tmp_path, kind):
    script = tmp_path / "which.py"
    script.write_text("import sys\nprint(sys.implementation.name)", encoding="utf-8")
    assert run(kind, script) == (0, kind + "\n")

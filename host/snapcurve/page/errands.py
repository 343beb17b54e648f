"""The commands, run for the page: each in a process of its own, with an end to time and memory."""

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from json import JSONDecodeError, loads
from pathlib import Path
from typing import Any, Protocol

from snapcurve.errors import SnapcurveError
from snapcurve.page.pressed import on_page
from snapcurve.shown.plain_text import visible

LONGEST_S = 120.0
WORD_MAX = 4000  # no form has a longer text, but for a couverture's file, which is no word
TOO_LONG = 124  # exit code, as timeout(1) has it


@dataclass(frozen=True)
class Came:
    """What came of a command: exit code, and what it said."""

    code: int
    out: str
    err: str

    @property
    def ok(self) -> bool:
        """Whether it did what it was asked."""
        return self.code == 0

    @property
    def lines(self) -> list[str]:
        """What it said, in lines, with what to press in place of what to type; a refusal without
        the word it begins with."""
        said = [_BY_WHOM.sub("", line).rstrip() for line in self.err.splitlines()]
        return [on_page(line) for line in (*self.out.splitlines(), *filter(None, said))]

    @property
    def refusal(self) -> str:
        """Why it did not do it, in one sentence."""
        return next((line for line in reversed(self.lines) if line), "It did not work.")

    def json(self) -> Any:
        """The JSON it printed; SnapcurveError with its refusal if it refused."""
        if not self.ok:
            raise SnapcurveError(self.refusal)
        try:
            return loads(self.out)
        except JSONDecodeError as error:
            raise SnapcurveError("The answer makes no sense: try again.") from error


_BY_WHOM = re.compile(r"snapcurve(?: [a-z]+: error)?: ")


class Errand(Protocol):
    """Runs a command by the words a person would type."""

    def __call__(self, words: Sequence[str]) -> Came:
        """Run it to its end."""


def checked(words: Sequence[str]) -> list[str]:
    """``words`` if each may be one of a command line; SnapcurveError for one that hides control
    characters or is endless."""
    for word in words:
        if len(word) > WORD_MAX:
            raise SnapcurveError(f"A text has more than {WORD_MAX} letters: shorten it.")
        if word != visible(word):
            raise SnapcurveError("A text holds characters that cannot be seen: type it anew.")
    return list(words)


def environment() -> dict[str, str]:
    """The surroundings of a command: a terminal's width, and arithmetic in one thread, since each
    further one reserves memory that the limit counts."""
    ours = {"COLUMNS": "92", "PYTHONIOENCODING": "utf-8", "OPENBLAS_NUM_THREADS": "1"}
    return {**os.environ, **ours}


def run(words: Sequence[str]) -> Came:
    """Run ``snapcurve`` with ``words``."""
    command = [sys.executable, "-m", "snapcurve.page.limited", *checked(words)]
    try:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            encoding="utf-8",
            errors="replace",
            timeout=LONGEST_S,
            env=environment(),
            check=False,
        )
    except subprocess.TimeoutExpired:
        return Came(TOO_LONG, "", "It took too long and was ended: try again.")
    return Came(done.returncode, done.stdout, done.stderr)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder for what a command writes, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="snapcurve-page-") as name:
        yield Path(name)

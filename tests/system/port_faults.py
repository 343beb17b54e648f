"""What pyserial asks of the system, with the N-th call of a kind failing once.

Only pyserial's own module sees it: its ``os``, ``fcntl``, ``termios`` and ``select`` are replaced
by ones that count and fail as wished. All else is real: port, board and command.
"""

import os
import termios
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from typing import Any

from serial import serialposix

from snapcurve.cli import main

WATCHED = {
    "os": ("open", "read", "write", "close", "pipe"),
    "fcntl": ("ioctl", "flock", "fcntl"),
    "termios": ("tcgetattr", "tcsetattr", "tcflush", "tcdrain"),
    "select": ("select",),
}
KINDS = tuple(name for names in WATCHED.values() for name in names)

Fault = tuple[str, int, int]  # kind, which call of it, error number


class _Watched:
    """A module of which some functions count and may fail."""

    def __init__(self, module: Any, names: tuple[str, ...], faults: "Faults"):
        self._module = module
        self._names = names
        self._faults = faults

    def __getattr__(self, name: str) -> Any:
        real = getattr(self._module, name)
        if name not in self._names:
            return real

        def call(*words: Any) -> Any:
            number = self._faults.due(name)
            if number is None:
                return real(*words)
            if name == "close":
                real(*words)  # Linux gives the descriptor back even when it reports an error
            kind = termios.error if self._module is termios else OSError
            raise kind(number, os.strerror(number))

        return call


class Faults:
    """Counts the calls; ``wanted`` are those that fail, ``failed`` those that did."""

    def __init__(self, wanted: tuple[Fault, ...] = ()):
        self.calls: Counter[str] = Counter()
        self._wanted = {(kind, turn): number for kind, turn, number in wanted}
        self.failed: list[tuple[str, int]] = []

    def from_now(self, kind: str, turn: int, number: int) -> None:
        """Have the ``turn``-th call of ``kind`` from now on fail."""
        self._wanted[(kind, self.calls[kind] + turn)] = number

    def due(self, kind: str) -> int | None:
        """The error number with which this call of ``kind`` is to fail, or None."""
        self.calls[kind] += 1
        turn = (kind, self.calls[kind])
        if turn not in self._wanted:
            return None
        self.failed.append(turn)
        return self._wanted[turn]


@contextmanager
def faulty(*wanted: Fault) -> Iterator[Faults]:
    """Have these calls fail meanwhile."""
    faults = Faults(wanted)
    real = {name: getattr(serialposix, name) for name in WATCHED}
    for name, module in real.items():
        setattr(serialposix, name, _Watched(module, WATCHED[name], faults))
    try:
        yield faults
    finally:
        for name, module in real.items():
            setattr(serialposix, name, module)


@dataclass
class Outcome:
    """How a command ended. ``sentences`` are its complaints, without the notes while it waited."""

    code: int
    out: str
    sentences: list[str]
    notes: list[str]


def run(*words: str) -> Outcome:
    """The real command, in this process; what it raises is raised."""
    out, err = StringIO(), StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(words)
        except SystemExit as stop:
            code = int(stop.code or 0)
    lines = [line for line in err.getvalue().splitlines() if line]
    notes = [line for line in lines if "trying again" in line]
    return Outcome(code, out.getvalue(), [line for line in lines if line not in notes], notes)

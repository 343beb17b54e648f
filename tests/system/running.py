"""Running the command as a person would: its own process, its own folders.

A command that runs to its end is a fork of a process that has all modules loaded; one that a
test interrupts, or that needs something done before it starts, is a program started anew.
"""

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from odd_computer import Odd, OddComputer

from tests.patience import LONGEST_S

DATA = Path(__file__).parent / "data"
READING = re.compile(r" *\d+:\d\d  probe +-?\d+\.\d+ °C")  # a line of ``watch``


def _heed_interrupts() -> None:
    """A shell that starts the tests in the background has Ctrl-C ignored; here it counts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@cache
def computer() -> OddComputer:
    """The one for all tests of this process."""
    return OddComputer()


@dataclass
class Bench:
    """A person's computer: ``folder`` holds all that snapcurve keeps."""

    folder: Path

    @property
    def environment(self) -> dict[str, str]:
        """Environment in which snapcurve keeps everything below ``folder``."""
        return {
            **os.environ,
            "SNAPCURVE_FOLDER": str(self.folder),
            "SNAPCURVE_NOTEBOOK": str(self.folder / "notebook.db"),
            "SNAPCURVE_COUVERTURES": str(self.folder / "couvertures"),
            "SNAPCURVE_SETTINGS": str(self.folder / "settings.toml"),
            "COLUMNS": "100",
        }

    def command(self, *words: str) -> list[str]:
        """The command line for ``words``."""
        return [sys.executable, "-m", "snapcurve.cli", *words]

    def start(self, *words: str) -> "subprocess.Popen[str]":
        """Start a command that a test will interrupt, its output on pipes."""
        return subprocess.Popen(
            self.command(*words),
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=_heed_interrupts,  # noqa: PLW1509 (no threads here yet)
        )

    def run(
        self,
        *words: str,
        before: Callable[[], None] | None = None,
        **environment: str,
    ) -> "subprocess.CompletedProcess[str]":
        """Run a command to its end; ``before`` runs in the new process."""
        environment = {**self.environment, **environment}
        if before is None:
            done = computer().run(self.folder, environment, words, Odd(longest_s=LONGEST_S))
            return subprocess.CompletedProcess(
                self.command(*words), done.code, done.stdout, done.stderr
            )
        return subprocess.run(
            self.command(*words),
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
            env=environment,
            cwd=self.folder,
            preexec_fn=before,
            check=False,
        )

    def watch(self, *words: str, until: Callable[[str], bool]) -> list[str]:
        """What ``watch`` prints up to the first line of which ``until`` is true; Ctrl-C ends it
        there, however long a busy machine took to come so far.
        """
        process = self.start("watch", *words)
        assert process.stdout is not None
        seen = []
        for line in process.stdout:
            seen.append(line.rstrip("\n"))
            if until(seen[-1]):
                break
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=LONGEST_S)
        assert process.returncode == 0, said
        assert until(seen[-1]), seen
        return seen

    def ok(self, *words: str, **environment: str) -> str:
        """What a command prints that must succeed."""
        done = self.run(*words, **environment)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def ok_json(self, *words: str, **environment: str) -> Any:
        """The JSON a command prints that must succeed."""
        return json.loads(self.ok(*words, "--json", **environment))

    def refused(self, *words: str, before: Callable[[], None] | None = None) -> str:
        """The one sentence with which a command must refuse, exit code other than 0."""
        done = self.run(*words, before=before)
        assert done.returncode not in (0, 1), (done.returncode, done.stdout, done.stderr)
        lines = [line for line in done.stderr.splitlines() if line]
        assert len(lines) == 1, done.stderr
        assert lines[0].startswith("snapcurve: ")
        assert "Traceback" not in done.stderr
        return lines[0]

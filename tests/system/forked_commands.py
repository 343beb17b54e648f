"""Runs commands in forks of one process that has everything loaded, and kills them.

So that many kills take little time; the command and the signal are the real ones. Started
as a script: reads lines of JSON ``[when, word, ...]``, answers with ``[exit code or -9,
seconds]``. ``when`` is null for never, a number of seconds, or one of DEATHS: just before
or after the second curve is filed or erased.
"""

import json
import os
import signal
import sys
import time

import construct  # noqa: F401
import serial  # noqa: F401

import snapcurve.collecting.collection
import snapcurve.notebook.migrations
import snapcurve.notebook.store  # noqa: F401
from snapcurve.board.client import Board
from snapcurve.cli import main
from snapcurve.notebook.store import Notebook

DEATHS = {
    "before filing": (Notebook, "file_batch", 0),
    "after filing": (Notebook, "file_batch", 1),
    "before erasing": (Board, "erase", 0),
    "after erasing": (Board, "erase", 1),
}


def die_at(when: str) -> None:
    """Have the second call end this process at once, as a kill from outside would."""
    owner, name, after = DEATHS[when]
    real = getattr(owner, name)
    calls = []

    def deadly(*values, **named):
        calls.append(name)
        if len(calls) == 2 and not after:
            os.kill(os.getpid(), signal.SIGKILL)
        result = real(*values, **named)
        if len(calls) == 2:
            os.kill(os.getpid(), signal.SIGKILL)
        return result

    setattr(owner, name, deadly)


def child(when: float | str | None, words: list[str]) -> None:
    """In the fork: the command, and out."""
    code = 70
    try:
        if isinstance(when, str):
            die_at(when)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        code = main(words)
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else 71
    finally:
        os._exit(code)


for line in sys.stdin:
    when, *words = json.loads(line)
    begun_s = time.monotonic()
    pid = os.fork()
    if pid == 0:
        child(when, words)
    if isinstance(when, float):
        time.sleep(when)
        os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    code = os.waitstatus_to_exitcode(status)
    print(json.dumps([code, time.monotonic() - begun_s]), flush=True)

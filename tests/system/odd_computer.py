"""Runs commands on a computer with something wrong with it: a disk, a clock, little memory.

Started as a script it has everything loaded and runs each command in a fork, so that hundreds
of runs take little time: it reads lines of JSON (the fields of ``Odd``, ``words``,
``environment`` and ``folder``) and answers with those of ``Done``. ``OddComputer`` is its user.
"""

import json
import os
import resource
import selectors
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

LONGEST_S = 120
# What changes or reads files below ``folder``: position of the path among the event's values.
FILE_EVENTS = {
    "open": 0,
    "os.mkdir": 0,
    "os.rename": 0,
    "os.remove": 0,
    "os.rmdir": 0,
    "os.link": 0,
    "os.listdir": 0,
    "os.scandir": 0,
    "os.truncate": 0,
    "tempfile.mkdtemp": 0,
    "tempfile.mkstemp": 0,
}


@dataclass(frozen=True)
class Odd:
    """What is wrong.

    ``fault`` is the number of a file operation below the folder (from 0) and the errno with
    which it fails; ``file_bytes`` the longest file, ``memory_bytes`` the memory there is;
    ``unix_s`` what the clock says; ``waits`` a factor for the waiting times of the link;
    ``stdout`` a file that takes the output. After ``longest_s`` an alarm ends the command.
    """

    fault: tuple[int, int] | None = None
    file_bytes: int | None = None
    memory_bytes: int | None = None
    unix_s: float | None = None
    waits: float | None = None
    stdout: str | None = None
    longest_s: int = LONGEST_S


@dataclass(frozen=True)
class Done:
    """How it ended: ``code`` is negative for a signal; ``operations`` on files there were."""

    code: int
    stdout: str
    stderr: str
    operations: list[str]
    peak_bytes: int
    seconds: float

    def sentence(self) -> str:
        """The one sentence of a refusal."""
        assert self.code not in (0, 1), (self.code, self.stdout, self.stderr)
        lines = [line for line in self.stderr.splitlines() if line]
        assert len(lines) == 1, self.stderr
        assert lines[0].startswith("snapcurve: "), lines
        assert lines[0].isprintable()
        return lines[0]


class OddComputer:
    """Starts the script and talks to it."""

    def __init__(self) -> None:
        self._program = subprocess.Popen(
            [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def run(
        self,
        folder: Path,
        environment: dict[str, str],
        words: Sequence[str],
        odd: Odd = Odd(),
    ) -> Done:
        """Run a command in ``folder``."""
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        job = {"words": list(words), "folder": str(folder), "environment": environment}
        self._program.stdin.write(json.dumps({**job, **asdict(odd)}) + "\n")
        self._program.stdin.flush()
        return Done(**json.loads(self._program.stdout.readline()))

    def close(self) -> None:
        """End it."""
        assert self._program.stdin is not None
        self._program.stdin.close()
        assert self._program.wait(timeout=30) == 0
        assert self._program.stdout is not None
        self._program.stdout.close()


# --- in the script ------------------------------------------------------------------------


def _watch_files(folder: str, fault: Sequence[int] | None, note: int) -> None:
    """Write each file operation below ``folder`` to ``note``; one of them fails."""
    count = 0

    def hook(event: str, values: tuple[Any, ...]) -> None:
        nonlocal count
        place = FILE_EVENTS.get(event)
        if place is None or not isinstance(values[place], str | bytes):
            return
        if event in ("os.remove", "os.rmdir") and values[1] != -1:
            return  # within a folder that is taken away as a whole: the board's, elsewhere
        path = os.path.join(os.getcwd(), os.fsdecode(values[place]))
        if not path.startswith(folder):
            return
        os.write(note, f"{event} {path}\n".encode(errors="replace"))
        count += 1
        if fault is not None and count == fault[0] + 1:
            raise OSError(fault[1], os.strerror(fault[1]), os.fsdecode(values[place]))

    sys.addaudithook(hook)


def _shorten_waits(factor: float) -> None:
    from snapcurve.board import client as board
    from snapcurve.board import connection, download
    from snapcurve.commands import live

    for module, names in (
        (board, ("ANSWER_WAIT_S",)),
        (download, ("ANSWER_WAIT_S", "GIVE_UP_S", "SILENT_S")),
        (connection, ("RETURN_WAIT_S", "LOOK_EACH_S")),
        (live, ("SILENT_S", "NO_READING_S")),
    ):
        for name in names:
            setattr(module, name, getattr(module, name) * factor)


def _child(job: dict[str, Any], out: int, err: int, note: int) -> None:
    """In the fork: the command, and out."""
    code = 70
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        signal.alarm(job["longest_s"])
        os.environ.clear()
        os.environ.update(job["environment"])
        time.tzset()
        os.chdir(job["folder"])
        if job["stdout"]:
            out = os.open(job["stdout"], os.O_WRONLY)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(err, 2)
        if job["unix_s"] is not None:
            time.time = lambda: job["unix_s"]
            time.time_ns = lambda: int(job["unix_s"] * 1_000_000_000)
        if job["waits"]:
            _shorten_waits(job["waits"])
        if job["memory_bytes"]:
            resource.setrlimit(resource.RLIMIT_AS, (job["memory_bytes"],) * 2)
        if job["file_bytes"] is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (job["file_bytes"],) * 2)
        _watch_files(job["folder"], job["fault"], note)
        from snapcurve.cli import main

        try:
            code = main(job["words"])
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else 71
        except BaseException:  # as the interpreter would
            import traceback

            traceback.print_exc()
            code = 1
        sys.stdout.flush()
    finally:
        os._exit(code)


def _serve(job: dict[str, Any]) -> dict[str, Any]:
    begun_s = time.monotonic()
    pipes = {name: os.pipe() for name in ("stdout", "stderr", "operations")}
    pid = os.fork()
    if pid == 0:
        for ours, _ in pipes.values():
            os.close(ours)
        _child(job, *(theirs for _, theirs in pipes.values()))
    said = dict.fromkeys(pipes, b"")
    with selectors.DefaultSelector() as waiting:
        for name, (ours, theirs) in pipes.items():
            os.close(theirs)
            waiting.register(ours, selectors.EVENT_READ, name)
        while waiting.get_map():
            for key, _ in waiting.select():
                part = os.read(key.fd, 1 << 16)
                said[key.data] += part
                if not part:
                    waiting.unregister(key.fd)
                    os.close(key.fd)
    _, status, used = os.wait4(pid, 0)
    texts = {name: raw.decode(errors="surrogateescape") for name, raw in said.items()}
    return {
        "code": os.waitstatus_to_exitcode(status),
        **texts,
        "operations": texts["operations"].splitlines(),
        "peak_bytes": used.ru_maxrss * 1024,
        "seconds": time.monotonic() - begun_s,
    }


if __name__ == "__main__":
    import gc
    import importlib
    import pkgutil
    from contextlib import suppress

    import snapcurve
    from snapcurve.board.firmware_files import NoCompilerError
    from snapcurve.board.release import build

    # Everything but what runs on a board only.
    for module in pkgutil.walk_packages(snapcurve.__path__, "snapcurve."):
        if not module.name.startswith(("snapcurve.boards", "snapcurve.notebook.migrations.")):
            importlib.import_module(module.name)

    # The firmware of the board on the desk, compiled once instead of in each fork.
    with suppress(NoCompilerError):
        build("desk")

    # What is loaded is never looked through again: a fork then shares its pages.
    gc.collect()
    gc.freeze()
    for line in sys.stdin:
        print(json.dumps(_serve(json.loads(line))), flush=True)

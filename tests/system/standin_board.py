"""A board that can be installed onto, without hardware.

The interpreter, its prompt, its raw mode and littlefs are MicroPython's own (unix port on a
pseudo-terminal); this supervisor supplies what a board's chip does: it starts the
interpreter again after a reset, and it can lose power or its cable at any byte.
"""

import os
import pty
import select
import socket
import subprocess
import threading
import time
import tty
from pathlib import Path
from typing import Any

from snapcurve.simulation.desk_board import HEAP_KIB, find_micropython
from snapcurve.simulation.desk_wiring import DeskWiring

BOOT = Path(__file__).with_name("standin_boot.py")
BLOCK = 4096
RAW = b"raw REPL; CTRL-B to exit\r\n>"


class Tape:
    """What the probe feels."""

    def __init__(self, rows: list[str]):
        self._rows = rows

    def rows(self, now_ms: int) -> list[str] | None:
        """All at once."""
        return self._rows if now_ms <= 0 else None

    def heard(self, now_ms: int, words: list[str]) -> None:
        """Nobody listens."""


class StandIn:
    """Use with ``with``; ``port`` is what to open. ``blocks`` of 4 KiB are its flash."""

    def __init__(self, folder: Path, blocks: int = 224, version: str = ""):
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self._image = folder / "flash"
        if not self._image.exists():
            self._image.write_bytes(b"\xff" * BLOCK * blocks)
        self.tape = ["0,21,21", "1000,21,21"]  # from the next start on
        self._version = version
        self._lock = threading.RLock()
        self._process: subprocess.Popen[bytes] | None = None
        self._inner = -1
        self._control: socket.socket | None = None
        self._outer, self._host_end = -1, -1
        self._awaited = b""  # swallow the interpreter's output up to this
        self.carried = 0  # bytes over the cable since it was put in, both ways
        self.limit: int | None = None  # so many, then ``at_limit`` is called
        self.at_limit = self.unplug
        self.starts = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)

    # --- cable and power --------------------------------------------------------------

    def plug(self) -> None:
        """Cable in, power on."""
        with self._lock:
            self._outer, self._host_end = pty.openpty()
            tty.setraw(self._outer)
            tty.setraw(self._host_end)
            self.port = os.ttyname(self._host_end)
            self.carried, self.limit = 0, None
            self._start("main")

    def unplug(self) -> None:
        """Cable out: no power, no port."""
        with self._lock:
            self._kill()
            for end in (self._outer, self._host_end):
                if end >= 0:
                    os.close(end)
            self._outer = self._host_end = -1

    def _kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None
            os.close(self._inner)
            assert self._control is not None
            self._control.close()

    def _start(self, mode: str) -> None:
        self._kill()
        ours, theirs = socket.socketpair()
        bench, bus = self._connected(DeskWiring(Tape(self.tape)))
        self._inner, board_end = pty.openpty()
        tty.setraw(board_end)
        micropython = find_micropython()
        assert micropython is not None
        lines = [f"{theirs.fileno()}", f"{bench.fileno()}", f"{bus.fileno()}"]
        words = [str(self._image), *lines, mode, self._version]
        self._process = subprocess.Popen(
            [micropython, "-X", f"heapsize={HEAP_KIB}k", "-i", str(BOOT), *words],
            stdin=board_end,
            stdout=board_end,
            stderr=board_end,
            pass_fds=[theirs.fileno(), bench.fileno(), bus.fileno()],
        )
        for end in (theirs, bench, bus):
            end.close()
        self._board_end = board_end
        self._control = ours
        self.starts += 1

    @staticmethod
    def _connected(around: DeskWiring) -> list[socket.socket]:
        """The board's ends of bench and bus; the others are served until it goes."""
        ends = []
        for serve in (around.serve_bench, around.serve_bus):
            ours, theirs = socket.socketpair()
            file: Any = ours.makefile("rwb")
            ours.close()  # the file has it
            threading.Thread(target=serve, args=[file], daemon=True).start()
            ends.append(theirs)
        return ends

    # --- what the chip does -----------------------------------------------------------

    def _serve(self) -> None:
        while not self._stop.is_set():
            with self._lock:
                if self._process is None:
                    time.sleep(0)
                else:
                    self._turn()
            time.sleep(0)  # whoever waits for the lock gets it

    def _turn(self) -> None:
        assert self._process is not None
        assert self._control is not None
        ready = select.select([self._inner, self._outer, self._control], [], [], 0.002)[0]
        if self._inner in ready:
            self._to_host(os.read(self._inner, 4096))
        if self._process is not None and self._control in ready:
            self._obey(self._control.recv(1))
        if self._process is not None and self._outer in ready and not self._awaited:
            data = os.read(self._outer, 256)
            if self._carry(len(data)):
                os.write(self._inner, data)
        if self._process is not None and self._process.poll() is not None:
            self._soft_reset()

    def _to_host(self, data: bytes) -> None:
        if self._awaited:
            self._seen += data
            if self._awaited not in self._seen:
                return
            data, self._seen, done = b"", b"", self._awaited
            self._awaited = b""
            if done == b">>> ":
                os.write(self._inner, b"\x01")
        if data and self._carry(len(data)):
            os.write(self._outer, data)

    def _carry(self, count: int) -> bool:
        """Whether the cable is still there after ``count`` bytes more."""
        self.carried += count
        if self.limit is not None and self.carried >= self.limit:
            self.limit = None
            self.at_limit()
        return self._outer >= 0 and self._process is not None

    def _obey(self, word: bytes) -> None:
        if word == b"r":
            self._start("main")
            return
        if word in (b"n", b"b"):
            os.set_blocking(self._board_end, word == b"b")
            assert self._control is not None
            self._control.send(b".")

    def _soft_reset(self) -> None:
        """Ctrl-D at the raw prompt has ended the interpreter; it comes back at that prompt."""
        os.write(self._outer, b"MPY: soft reboot\r\n")
        self._start("prompt")
        self._seen, self._awaited = b"", b">>> "

    def __enter__(self) -> "StandIn":
        self.plug()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self.unplug()

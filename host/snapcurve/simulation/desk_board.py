"""Starts and stops the desk board.

The firmware runs under MicroPython with its wire on a pseudo-terminal. Where there is no
MicroPython for this computer the very same files run under CPython with a small shim and
the wire on a local socket; ``interpreter`` says which.
"""

import os
import re
import shutil
import socket
import subprocess
import sys
import sysconfig
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from snapcurve.board.client import Board
from snapcurve.board.connection import shaking_hands
from snapcurve.board.firmware_files import (
    START,
    NoCompilerError,
    compiled,
    import_roots,
    link_into,
    main_file,
    write_into,
)
from snapcurve.board.release import build
from snapcurve.errors import LinkError, RecordError, cannot
from snapcurve.simulation.desk_wiring import DeskWiring, Simulator

# Stands for a Pico's, and is stricter. That has 245,888 bytes of heap and objects of 32 bits, and
# about 166,000 of them are free after the start: 71 KiB are in use (``python -m tests.benchmarks
# heap``) and 7 KB for littlefs and pins. Here objects have 64 bits. What fills the free heap are
# numbers that come and go, each twice as large as there; twice as much would be 324 KiB, and 280
# are free: in use after the start are 170 KiB, the desk's own clock, lines and flash among them.
HEAP_KIB = 450
FORCE = "SNAPCURVE_DESK"  # "cpython": take the substitute even where MicroPython is there
# Shortly before the tick counter wraps, so that every rehearsal passes that point.
FIRST_TICK = (1 << 30) - 30_000
UP_WAIT_S = 120.0  # a program that starts on a busy computer; then something hangs
RESTART = 3  # exit code of a board that its watchdog or a failure restarts
# The last line of a failure, under MicroPython and under CPython.
_OS_ERROR = re.compile(r"^OSError: (?:\[Errno )?(\d+)")
OFF_MS = 1000  # how long a restart takes a board, from the reset to its first measurement


def _write_firmware(folder: Path, before: Path | None) -> bool:
    """What ``snapcurve install`` would put on a board, and the module ``before``, into
    ``folder``; False where there is no compiler."""
    try:
        release = build("desk")
        if before is not None:
            write_into(folder, compiled({before.stem: before}))
    except NoCompilerError:
        return False
    write_into(folder, {file.path.removesuffix(".mpy"): file.data for file in release.files})
    return True


def find_micropython() -> str | None:
    """MicroPython for this computer, or None."""
    if os.environ.get(FORCE) == "cpython" or os.name != "posix":
        return None
    name = "micropython"
    beside = Path(sysconfig.get_path("scripts")) / name
    return str(beside) if beside.is_file() else shutil.which(name)


def _free_port() -> int:
    with socket.socket() as probe_socket:
        probe_socket.bind(("127.0.0.1", 0))
        return int(probe_socket.getsockname()[1])


class DeskBoard:
    """A running desk board; use it with ``with``.

    ``port`` is the name to open as a serial port. ``simulator`` is asked for rows from a
    thread of its own, so that the board goes on while the host is busy. The firmware runs
    compiled, as on a board, where there is a compiler. ``before`` is a module that runs first
    and then imports START. ``keep``: it outlives each connection, also where that is a socket.
    """

    def __init__(
        self,
        flash: Path,
        simulator: Simulator,
        speed: str = "max",
        first_tick: int = FIRST_TICK,
        board: str = "1",
        converter: str = "MAX31856",
        kind: str = "K",
        before: Path | None = None,
        keep: bool = False,
        **more: str,
    ):
        self._wiring = DeskWiring(simulator, converter, kind)
        self._lines: list[socket.socket] = []  # our ends of bench and bus
        self._files: list[int] = []
        self._firmware = tempfile.TemporaryDirectory(prefix="snapcurve-desk-")
        self._before = before
        self._link = "serve" if keep else "listen"
        self._flash = flash
        self._closing = False
        self._off: bool | None = None  # taken off and put back; True: by a reset
        self.failure = ""
        self.restarts_s: list[float] = []  # when it started again, in seconds of the simulator
        options = [f"flash={flash}", f"speed={speed}", f"ticks={first_tick}", f"id={board}"]
        options += [f"{name}={value}" for name, value in more.items()]
        micropython = find_micropython()
        self._again: Callable[[bool], None] = lambda _reset: None
        if micropython is None:
            self.interpreter = "CPython"
            self._start_cpython(options)
        else:
            self.interpreter = "MicroPython"
            self._start_micropython(micropython, options)
        self._bench = threading.Thread(target=self._serve, daemon=True)
        self._bench.start()

    def _start_micropython(self, micropython: str, options: list[str]) -> None:
        import pty
        import tty

        board_end, host_end = pty.openpty()
        self._files = [board_end, host_end]  # the host end stays open: no hang-up between users
        tty.setraw(board_end)
        tty.setraw(host_end)
        os.set_blocking(board_end, False)
        self.port = os.ttyname(host_end)
        folder = Path(self._firmware.name)
        # Compiled files are for the interpreter that was installed along with the compiler.
        beside = Path(micropython).parent == Path(sysconfig.get_path("scripts"))
        if not (beside and _write_firmware(folder, self._before)):
            link_into(folder)
            if self._before:
                (folder / self._before.name).symlink_to(self._before)
        self._again = lambda restarted: self._launch(
            micropython, [*options, f"restarted={int(restarted)}"]
        )
        self._launch(micropython, options)

    def _launch(self, micropython: str, options: list[str]) -> None:
        board_end = self._files[0]
        bench, bench_end = socket.socketpair()
        bus, bus_end = socket.socketpair()
        with bench_end, bus_end:
            self._process = subprocess.Popen(
                [
                    micropython,
                    *("-X", f"heapsize={HEAP_KIB}k"),
                    *("-m", self._before.stem if self._before else START),
                    "link=stdio",
                    f"bench=fd:{bench_end.fileno()}",
                    f"bus=fd:{bus_end.fileno()}",
                    *options,
                ],
                stdin=board_end,
                stdout=board_end,
                stderr=subprocess.PIPE,
                pass_fds=[bench_end.fileno(), bus_end.fileno()],
                env={**os.environ, "MICROPYPATH": self._firmware.name},
            )
        self._connect(bench, bus)

    def _connect(self, bench: socket.socket, bus: socket.socket) -> None:
        """The board's lines are there: serve the bus; the bench is served in turn."""
        self._lines = [bench, bus]
        self._feed: Any = bench.makefile("rwb")
        file: Any = bus.makefile("rwb")
        threading.Thread(target=self._wiring.serve_bus, args=[file], daemon=True).start()

    def _start_cpython(self, options: list[str]) -> None:
        with socket.create_server(("127.0.0.1", 0)) as listener:
            listener.settimeout(UP_WAIT_S)
            port = _free_port()
            self.port = f"socket://127.0.0.1:{port}"
            self._process = subprocess.Popen(
                [
                    sys.executable,
                    str(Path(__file__).with_name("cpython_board.py")),
                    str(main_file()),
                    f"link={self._link}:{port}",
                    f"bench=tcp:{listener.getsockname()[1]}",
                    f"bus=tcp:{listener.getsockname()[1]}",
                    *options,
                ],
                stdin=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(import_roots())},
            )
            try:
                bench, _ = listener.accept()  # in the order in which boards/desk opens them
                bus, _ = listener.accept()
            except TimeoutError as error:
                self._process.kill()
                raise self._last_words() from error
        self._connect(bench, bus)
        deadline_s = time.monotonic() + UP_WAIT_S
        while not _listening(port) and time.monotonic() < deadline_s:
            time.sleep(0.02)

    def restart(self, reset: bool) -> None:
        """Kill the board and start it again on the same flash and port, OFF_MS later in the
        simulator: by a ``reset``, or by taking its power and giving it back."""
        self._off = reset
        self._process.kill()

    def started_s(self) -> float:
        """When the board started last, in seconds of the simulator."""
        return self._wiring.started_ms / 1000

    def _back(self) -> bool:
        """After the board went: whether it has been started again."""
        code = self._process.wait()
        if self._files == [] or (self._off is None and code != RESTART):
            return False  # under CPython a board is started once
        reset, self._off = self._off is not False, None
        self._wiring.started_ms = self._wiring.now_ms + OFF_MS
        self.restarts_s.append(self.started_s())
        self._hang_up()
        self._again(reset)
        return True

    def _hang_up(self) -> None:
        for part in (self._process.stderr, *self._lines):
            if part is not None:
                part.close()

    def _serve(self) -> None:
        """Answer the board's reports until it goes and does not come back."""
        self._serve_once()
        while not self.failure and not self._closing and self._back():
            self._serve_once()

    def _serve_once(self) -> None:
        try:
            self._wiring.serve_bench(self._feed)
        except Exception as error:
            self.failure = f"{type(error).__name__}: {error}"

    def _last_words(self) -> LinkError | RecordError:
        """Why the board is no longer there, as it said itself; what it said in full is a note
        on the error."""
        assert self._process.stderr is not None
        raw = self._process.stderr.read()
        if self._files:
            # MicroPython reports what went wrong before the app ran on its standard output.
            os.set_blocking(self._files[1], False)
            with suppress(OSError):
                raw += os.read(self._files[1], 4096)
        words = raw.decode(errors="replace").strip()
        last = words.splitlines()[-1] if words else "it said nothing"
        error: LinkError | RecordError
        if found := _OS_ERROR.search(last):
            refused = OSError(int(found[1]), os.strerror(int(found[1])))
            error = cannot(f"keep the desk board's memory in {self._flash}", refused)
        else:
            error = LinkError(f"The desk board stopped ({last}): run the command again.")
        error.add_note(words)
        return error

    def wait_until_up(self) -> None:
        """Until the firmware's loop goes round, or the board has died (``check`` says so): how
        long it takes to start says how busy this computer is, and nothing of a board."""
        if self.interpreter == "CPython":
            return  # listens already, and does nothing else until somebody is connected
        deadline_s = time.monotonic() + UP_WAIT_S
        while not self._wiring.asked.wait(0.05) and time.monotonic() < deadline_s:
            if self.failure or self._process.poll() is not None:
                return

    @contextmanager
    def answering(self) -> Iterator[Board]:
        """The board as a host has it, once it has answered."""
        try:
            self.wait_until_up()
            with shaking_hands(self.port) as board:
                yield board
        except LinkError:
            self.check()  # a board that died says more than a silent line
            raise

    def check(self) -> None:
        """LinkError if the board has died, or the bench in this process."""
        if self.failure:
            raise LinkError(f"The simulator failed ({self.failure}): report this line.")
        code = self._process.poll()
        if self._off is None and code is not None and code != RESTART:
            raise self._last_words()

    def close(self) -> None:
        """Pull the plug: what the flash holds by then stays, as on any board."""
        self._closing = True
        if self._process.poll() is None:
            self._process.kill()
        self._process.wait()
        self._hang_up()
        for number in self._files:
            os.close(number)
        self._files = []
        self._firmware.cleanup()

    def __enter__(self) -> "DeskBoard":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _listening(port: int) -> bool:
    """Whether the board has opened its socket, without connecting to it."""
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 0)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            return True
    return False

"""The interpreter's prompt on a board: the running firmware asked to leave for it, whatever
release it is; the prompt reached, asked, and its files moved.

The request ``maintenance`` is understood in any protocol version, so that a release can replace
one that speaks another. mpremote's transport does the talking; its interface may still change,
so everything that is used of it is used here.
"""

import contextlib
import errno
import io
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from struct import error as struct_error
from typing import Any

from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport

from snapcurve.board import structs
from snapcurve.board.client import HELLO, Board, CurveRow, Hello, Port
from snapcurve.board.ports import SERIAL_ERRORS, link_errors
from snapcurve.errors import LineFailed, LinkError, Refused, SnapcurveError, WrongVersion
from snapcurve.wire import catalogue
from snapcurve.wire.frame import FrameReader, FrameWriter

READ_WAIT_S = 2.0
WRITE_WAIT_S = 5.0
PROMPT_WAIT_S = 5.0
ASK_WAIT_S = 1.0
ASKS = 3
PROMPTS = (b"\r\n>>> ", b"CTRL-B to exit\r\n>")
MAINTENANCE = catalogue.message_number("maintenance")
CHUNK = 1024
_FULL = "The board's flash is full: collect its curves ('snapcurve collect'), then install again."

_FACTS = (
    "(sys.implementation.name, tuple(sys.implementation.version), "
    "getattr(sys.implementation, '_machine', ''), "
    "getattr(sys.implementation, '_mpy', 0), os.statvfs('/'))"
)
# Defined once on the board: one question a file instead of six.
_HELPERS = """
import hashlib, os, sys
def _sha256(path):
    try:
        file = open(path, 'rb')
    except OSError:
        return b''
    digest = hashlib.sha256()
    buffer = bytearray(256)
    while True:
        count = file.readinto(buffer)
        if not count:
            break
        digest.update(memoryview(buffer)[:count])
    file.close()
    return digest.digest()
def _remove(path):
    try:
        rows = list(os.ilistdir(path))
    except OSError:
        return
    for row in rows:
        if row[1] & 0x4000:
            _remove(path + '/' + row[0])
        else:
            os.remove(path + '/' + row[0])
    os.rmdir(path)
"""


@dataclass(frozen=True)
class Facts:
    """The interpreter, the board it was built for, and its file system."""

    interpreter: str
    version: tuple[int, ...]
    machine: str
    mpy: int  # version of the compiled files it takes
    block: int  # bytes
    free: int  # bytes


class Prompt:
    """A board at its prompt. Every method may raise LinkError, one sentence."""

    def __init__(self, transport: Any, port: str):
        self._transport = transport
        self._port = port
        with self._sentences():
            transport.exec(_HELPERS)

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        failed = (
            f"The line to {self._port} failed while installing: check the cable and install "
            "again, nothing is lost."
        )
        try:
            with link_errors(self._port, failed):
                yield
        except TransportExecError as error:
            last = (error.error_output.strip().splitlines() or ["no reason given"])[-1]
            if "ENOSPC" in last or last.endswith("OSError: 28"):
                raise NoSpace(_FULL) from error
            raise LinkError(f"The board refused while installing ({last}): try again.") from error
        except LineFailed as error:
            if error.code == errno.ENOSPC:  # mpremote tells it as the system's own
                raise NoSpace(_FULL) from error
            raise
        except (TransportError, struct_error) as error:
            raise LinkError(failed) from error

    def facts(self) -> Facts:
        """Which interpreter this is."""
        with self._sentences():
            name, version, machine, mpy, disk = self._transport.eval(_FACTS)
        numbers = tuple(part for part in version if isinstance(part, int))
        return Facts(name, numbers, machine, mpy & 0xFF, disk[0], disk[0] * disk[3])

    def read(self, path: str) -> bytes | None:
        """The bytes of a file, None if there is none."""
        with self._sentences():
            if not self._transport.fs_exists(path):
                return None
            return bytes(self._transport.fs_readfile(path, chunk_size=CHUNK))

    def sha256(self, path: str) -> str:
        """The digest of a file; empty if there is none."""
        with self._sentences():
            digest: bytes = self._transport.eval(f"_sha256({path!r})")
        return digest.hex()

    def names(self, path: str) -> list[str]:
        """What is in a folder."""
        with self._sentences():
            return [row.name for row in self._transport.fs_listdir(path)]

    def make_folder(self, path: str) -> None:
        """Make a folder unless it is there."""
        with self._sentences():
            if not self._transport.fs_exists(path):
                self._transport.fs_mkdir(path)

    def write(self, path: str, data: bytes) -> None:
        """A file that is not in use yet, by its own bytes only: no step replaces another."""
        with self._sentences():
            self._transport.fs_writefile(path, data, chunk_size=CHUNK)

    def rename(self, old: str, new: str) -> None:
        """In one step on littlefs; where the file system cannot, the old one goes first."""
        with self._sentences():
            self._transport.exec(
                f"try:\n os.rename({old!r}, {new!r})\n"
                f"except OSError:\n os.remove({new!r})\n os.rename({old!r}, {new!r})\n"
            )

    def remove_folder(self, path: str) -> None:
        """A folder and all that is in it."""
        with self._sentences():
            self._transport.exec(f"_remove({path!r})")

    def restart(self) -> None:
        """As if the board had been plugged in again."""
        with suppress(LinkError), self._sentences():
            self._transport.exec_raw_no_follow("import machine\nmachine.reset()\n")

    def leave(self) -> None:
        """Back to the friendly prompt."""
        with suppress(LinkError), self._sentences():
            self._transport.exit_raw_repl()


class NoSpace(LinkError):
    """The board's file system is full."""


@contextmanager
def _bounded(line: Any) -> Iterator[None]:
    """mpremote waits for ever on a line that never falls silent: here it does not."""
    read, deadline_s = line.read, time.monotonic() + 2 * PROMPT_WAIT_S

    def read_in_time(count: int = 1) -> bytes:
        if time.monotonic() > deadline_s:
            raise TransportError("it talks, but not as a prompt")
        data: bytes = read(count)
        return data

    line.read = read_in_time
    try:
        yield
    finally:
        line.read = read


@contextmanager
def prompt_at(port: str) -> Iterator[Prompt]:
    """The prompt of the board on ``port``, freshly reset and without its main.py running.
    LinkError if there is no MicroPython."""
    transport = None
    silent = (
        f"What is on {port} is no MicroPython board, or it is busy: put MicroPython on it "
        "first (hardware/README.md says how), or unplug it, plug it in and try again."
    )
    try:
        # it prints what it did not expect
        with link_errors(port, silent), contextlib.redirect_stdout(io.StringIO()):
            transport = SerialTransport(port, timeout=READ_WAIT_S)
            transport.serial.write_timeout = WRITE_WAIT_S
            with _bounded(transport.serial):
                transport.enter_raw_repl(timeout_overall=PROMPT_WAIT_S)
    except (TransportError, LinkError) as error:
        if transport is not None:
            with suppress(*SERIAL_ERRORS):
                transport.close()
        raise LinkError(silent) from error
    try:
        yield Prompt(transport, port)
    finally:
        with suppress(*SERIAL_ERRORS):
            transport.close()


# --- from the firmware to the prompt ----------------------------------------------------


@dataclass
class Running:
    """What a firmware said of itself before it left; ``hello`` None: another protocol."""

    hello: Hello | None = None
    profile: bytes = b""
    calibration: bytes = b""
    curves: list[CurveRow] = field(default_factory=list)


class _Line:
    """Frames of any protocol version: ``(version, number, payload)``."""

    def __init__(self, port: Port):
        self._port = port
        self._reader = FrameReader(self._on_frame)
        self._writer = FrameWriter()
        self._frames: list[tuple[int, int, bytes]] = []

    def _on_frame(
        self, version: int, number: int, sequence: int, buffer: Any, start: int, end: int
    ) -> None:
        if number >= catalogue.ANSWER:
            self._frames.append((version, number, bytes(buffer[start:end])))

    def ask(self, number: int) -> tuple[int, int, bytes] | None:
        """The first answer or error to a request without payload; None if none comes, or
        if what comes is the interpreter's prompt."""
        heard = b""
        for sequence in range(1, ASKS + 1):
            length = self._writer.finish(number, sequence, FrameWriter.PAYLOAD_AT)
            self._port.write(bytes(self._writer.line[:length]))
            deadline_s = time.monotonic() + ASK_WAIT_S
            while time.monotonic() < deadline_s:
                data = self._port.read()
                if data:
                    self._reader.feed(data)
                    heard += data
                    if heard.endswith(PROMPTS):
                        return None
                for frame in self._frames:
                    if frame[1] in (number | catalogue.ANSWER, catalogue.ERROR):
                        self._frames.clear()
                        return frame
        return None


def running_on(port: Port) -> Running | None:
    """What runs there; None if nothing that speaks frames does."""
    with suppress(LinkError):
        frame = _Line(port).ask(HELLO)
        if frame is None:
            return None
        board = Board(port)
        found = Running()
        with suppress(WrongVersion, Refused):
            found.hello = board.hello()
            found.profile = board.profile()
            found.calibration = board.calibration()
            found.curves = board.curves()
        return found
    return None


def leave_for_prompt(port: Port) -> None:
    """End the firmware. LinkError if it will not, with what to do."""
    frame = _Line(port).ask(MAINTENANCE)
    if frame is None or frame[1] != catalogue.ERROR:
        return  # gone, or its answer was lost: the prompt will tell
    code = structs.parse(catalogue.message_record(catalogue.ERROR), frame[2])["code"]
    if code == "still_recording":
        raise SnapcurveError(
            "The board is recording a batch: end it with a long press on the button, then install."
        )
    raise LinkError(
        f"The firmware on the board does not step aside ({code}): plug the board in with its "
        "button held, let go when the light comes on, press once more, then install again."
    )

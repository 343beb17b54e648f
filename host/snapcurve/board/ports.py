"""Serial ports and what stands for one: opening them, and saying what is wrong.

``text`` of a port is a serial device (``/dev/ttyACM0``, ``COM3``), any address pyserial
knows (``socket://host:port``), or ``rehearsal`` for the built-in desk board.
"""

import errno
import os
import socket
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

import serial

from snapcurve.errors import LineFailed, LinkError

try:
    import termios
except ImportError:  # Windows
    _TERMIOS_ERROR: type[Exception] = OSError
else:
    _TERMIOS_ERROR = termios.error

READ_WAIT_S = 0.02  # one short look at the line; the caller keeps its own deadline
WRITE_WAIT_S = 2.0
# Many Linux desktops have a service that looks for a modem on each new port, and holds it
# meanwhile; and a port gets its access rights a moment after it appears.
SERVICE_WAIT_S = 15.0
# A program that was started at the very moment of closing still holds the lock until it runs.
LOCK_WAIT_S = 0.75
LOOK_EACH_S = 0.25

# Whatever pyserial lets out. termios.error is no OSError; ValueError comes of addresses, and
# TypeError and AttributeError of a port that is half closed.
SERIAL_ERRORS = (
    serial.SerialException,
    OSError,
    _TERMIOS_ERROR,
    ValueError,
    TypeError,
    AttributeError,
)
_BUSY = "Another program has {name} open: close it there first."
_FORBIDDEN = (
    "This user may not open {name}: install the udev rule as README.md says, or ask for access "
    "to serial ports (group dialout)."
)
_GONE = (
    "The board on {name} went away, or another program reads from it too: plug it in again, "
    "close the other program and try again."
)
_NO_LISTENER = "Nothing listens at {name}: start the board there first."
_NO_PORT = "{name} is no serial port: list what is there with 'probes'."
_SENTENCES = {
    errno.ENOENT: "There is no port {name}: plug the board in, or list what is there with "
    "'probes'.",
    **dict.fromkeys((errno.EACCES, errno.EPERM), _FORBIDDEN),
    **dict.fromkeys((errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK), _BUSY),
    **dict.fromkeys((errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF), _GONE),
    **dict.fromkeys((errno.EPIPE, errno.ECONNRESET), _GONE),
    **dict.fromkeys((errno.ECONNREFUSED, errno.EHOSTUNREACH, errno.ENETUNREACH), _NO_LISTENER),
    errno.ETIMEDOUT: _NO_LISTENER,
    **dict.fromkeys((errno.ENOTTY, errno.EISDIR), _NO_PORT),
}


@contextmanager
def link_errors(name: str, sentence: str | None = None) -> Iterator[None]:
    """Whatever the serial stack raises becomes LineFailed: ``sentence``, or one about port
    ``name``."""
    try:
        yield
    except SERIAL_ERRORS as error:
        code, shown = _code(error), name if name.isprintable() else ascii(name)
        raise LineFailed(sentence or _sentence(shown, error, code), code) from error


def _code(error: BaseException) -> int | None:
    """The system's number for ``error``, or for what it came from; None if there is none."""
    text = str(error)
    found: BaseException | None = error
    while found is not None and not isinstance(found, LinkError):  # an earlier one, dealt with
        if isinstance(found, TimeoutError | socket.gaierror):
            return errno.ETIMEDOUT
        if isinstance(found, _TERMIOS_ERROR) and found.args:
            return int(found.args[0])
        if isinstance(found, OSError) and found.errno is not None:
            return found.errno
        found = found.__cause__ or found.__context__
    if "could not open port" in text:  # Windows says why in words only
        if "FileNotFoundError" in text:
            return errno.ENOENT
        return errno.EBUSY if "PermissionError" in text else None
    # ready to be read, and nothing there: it was pulled out
    return errno.EIO if "disconnected" in text or "PermissionError" in text else None


def _sentence(name: str, error: BaseException, code: int | None) -> str:
    if isinstance(error, serial.SerialTimeoutException):
        return f"The board on {name} takes no more bytes: unplug it, plug it in and try again."
    if code in _SENTENCES:
        return _SENTENCES[code].format(name=name)
    if code is not None:
        return f"The line to {name} failed ({os.strerror(code)}): check the cable and try again."
    if "://" in name:
        return f"{name} is no address: use a serial port, socket://HOST:PORT or rehearsal."
    if isinstance(error, ValueError):
        return _NO_PORT.format(name=name)
    return f"The line to {name} failed: check the cable and try again."


def _to_stderr(note: str) -> None:
    print(f"snapcurve: {note}", file=sys.stderr, flush=True)


@dataclass(frozen=True)
class Waiting:
    """How a port is waited for that is not free yet: at most ``longest_s``, by ``clock`` and
    ``sleep`` (seconds); ``tell`` hears of a long wait, once. ``wall`` is the time of day."""

    longest_s: float = SERVICE_WAIT_S
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep
    tell: Callable[[str], None] = _to_stderr
    wall: Callable[[], float] = time.time


WAITING = Waiting()
AT_ONCE = Waiting(longest_s=0.0)


def passing_s(error: LinkError, name: str, wall: Callable[[], float] = time.time) -> float:
    """For how long the reason why port ``name`` could not be opened may pass by itself."""
    code = error.code if isinstance(error, LineFailed) else None
    if code == errno.EBUSY or (code == errno.EACCES and _is_new(name, wall)):
        return SERVICE_WAIT_S
    return LOCK_WAIT_S if code in (errno.EAGAIN, errno.EWOULDBLOCK) else 0.0


def _is_new(name: str, wall: Callable[[], float]) -> bool:
    """Whether a port appeared, or got other access rights, just now."""
    with suppress(OSError, ValueError):
        return wall() - os.stat(name).st_ctime < SERVICE_WAIT_S
    return False


def _when_free(name: str, waiting: Waiting) -> Any:
    """The port, opened and ours alone, as soon as whatever holds it has let go."""
    start_s, noted = waiting.clock(), False
    while True:
        try:
            with link_errors(name):
                return _opened(name)
        except LineFailed as error:
            longest_s = min(waiting.longest_s, passing_s(error, name, waiting.wall))
            if waiting.clock() - start_s >= longest_s:
                raise
        if longest_s > LOCK_WAIT_S and not noted:
            noted = True
            waiting.tell(f"{name} is not free yet: trying again for {longest_s:.0f} s.")
        waiting.sleep(LOOK_EACH_S)


def _opened(name: str) -> Any:
    if "://" in name:
        return serial.serial_for_url(name, timeout=READ_WAIT_S, write_timeout=WRITE_WAIT_S)
    # DTR stays on: a board with its own USB takes it as "the host is there".
    return serial.Serial(
        name, 115200, timeout=READ_WAIT_S, write_timeout=WRITE_WAIT_S, exclusive=True
    )


class SerialPort:
    """A pyserial port whose errors are sentences: LineFailed, a LinkError."""

    def __init__(self, name: str, waiting: Waiting = WAITING):
        self.name = name
        self._serial = _when_free(name, waiting)

    def read(self) -> bytes:
        """Bytes that are there now; waits at most READ_WAIT_S for the first."""
        with link_errors(self.name):
            first = self._serial.read(1)
            if not first:
                return b""
            waiting = self._serial.in_waiting
            # A socket only says whether anything waits, not how much.
            return bytes(first + self._serial.read(waiting)) if waiting else bytes(first)

    def write(self, data: bytes) -> None:
        """Send ``data``."""
        with link_errors(self.name):
            self._serial.write(data)

    def close(self) -> None:
        """Give the port back."""
        with link_errors(self.name):
            try:
                self._serial.close()
            except OSError:
                # Closed all the same. pyserial would close the number again when it is thrown
                # away, and by then it may be another file's: the notebook's, say.
                self._serial.fd = None
                raise


class AttachedPort(NamedTuple):
    """A serial port of this computer; texts are empty where it says nothing."""

    port: str
    description: str
    serial_number: str


def attached() -> list[AttachedPort]:
    """Serial ports of this computer that may be a board. LinkError if they cannot be listed, as
    may happen while one vanishes."""
    from serial.tools import list_ports

    with link_errors("", "The serial ports cannot be listed: try again, or name one with --port."):
        return [
            AttachedPort(info.device, info.description or "", info.serial_number or "")
            for info in sorted(list_ports.comports())
            if info.vid is not None
        ]

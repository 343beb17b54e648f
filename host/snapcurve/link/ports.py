"""Serial ports and what stands for one: opening them, and saying what is wrong.

``text`` of a port is a serial device (``/dev/ttyACM0``, ``COM3``), any address pyserial
knows (``socket://host:port``), or ``rehearsal`` for the built-in board on the desk.
"""

import errno
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import serial

from snapcurve.errors import LinkError

READ_WAIT_S = 0.02  # one short look at the line; the caller keeps its own deadline
WRITE_WAIT_S = 2.0
LOCK_WAITS_S = (0.05, 0.1, 0.2, 0.4)
STOCK_USB_ID = (0x2E8A, 0x0005)  # MicroPython on the Raspberry Pi boards (from memory)


@contextmanager
def link_errors(name: str) -> Iterator[None]:
    """Whatever the serial stack raises becomes one sentence about port ``name``."""
    try:
        yield
    except serial.SerialTimeoutException as error:
        raise LinkError(
            f"the board on {name} takes no more bytes: unplug it, plug it in and try again"
        ) from error
    except (serial.SerialException, OSError, ValueError) as error:
        raise LinkError(_sentence(name, error)) from error


def _sentence(name: str, error: BaseException) -> str:
    code = getattr(error, "errno", None)
    text = str(error)
    if code == errno.ENOENT or "No such file" in text or "FileNotFoundError" in text:
        return f"there is no port {name}: plug the board in, or list what is there with 'probes'"
    if code == errno.EACCES or "Permission denied" in text or "PermissionError" in text:
        return f"this user may not open {name}: ask for access to serial ports (group dialout)"
    if code in (errno.EAGAIN, errno.EWOULDBLOCK, errno.EBUSY) or "lock" in text.lower():
        return f"another program has {name} open: close it there first"
    if "refused" in text.lower():
        return f"nothing listens at {name}: start the board there first"
    if "invalid URL" in text or "protocol" in text:
        return f"{name} is no address: use a serial port, socket://HOST:PORT or rehearsal"
    return f"the line to {name} failed ({text}): check the cable and try again"


def _locked(name: str) -> Any:
    """The port, ours alone. A lock that is just being let go of is waited for: a program that
    was started at that very moment still holds it until it runs."""
    for wait_s in LOCK_WAITS_S:
        try:
            return _opened(name)
        except serial.SerialException as error:
            if error.errno not in (errno.EAGAIN, errno.EWOULDBLOCK) and "lock" not in str(error):
                raise
            time.sleep(wait_s)
    return _opened(name)


def _opened(name: str) -> Any:
    return serial.Serial(
        name, 115200, timeout=READ_WAIT_S, write_timeout=WRITE_WAIT_S, exclusive=True
    )


class SerialPort:
    """A pyserial port whose errors are sentences."""

    def __init__(self, name: str):
        self.name = name
        with link_errors(name):
            if "://" in name:
                self._serial: Any = serial.serial_for_url(
                    name, timeout=READ_WAIT_S, write_timeout=WRITE_WAIT_S
                )
            else:
                # DTR stays on: a board with its own USB takes it as "the host is there".
                self._serial = _locked(name)

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
            self._serial.close()


def attached() -> list[dict[str, str]]:
    """Serial ports of this computer that may be a board: port, description, serial number."""
    from serial.tools import list_ports

    return [
        {
            "port": info.device,
            "description": info.description or "",
            "serial_number": info.serial_number or "",
        }
        for info in sorted(list_ports.comports())
        if info.vid is not None
    ]

"""A pseudo-terminal as a serial port, and the shape that every complaint about one has."""

import fcntl
import termios
from dataclasses import dataclass


@dataclass
class Line:
    """A pseudo-terminal: ``name`` is the port, ``board`` the other end."""

    board: int
    port: int
    name: str

    def take(self, yes: bool) -> None:
        """Have another program hold it, as a service does that looks for modems; or let go."""
        fcntl.ioctl(self.port, termios.TIOCEXCL if yes else termios.TIOCNXCL)


def assert_one_sentence(error: BaseException) -> None:
    text = str(error)
    assert text
    assert "\n" not in text
    assert "Errno" not in text
    assert text.isprintable()

"""Finding a board, shaking hands with it, and finding it again after its port has failed."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from snapcurve.board.client import Board
from snapcurve.board.ports import AT_ONCE, LOOK_EACH_S, SerialPort, attached, passing_s
from snapcurve.errors import LinkError

REHEARSAL = "rehearsal"
RETURN_WAIT_S = 5.0  # a board that was pulled out and put in again is there by then


def is_rehearsal(port: str | None) -> bool:
    """Whether ``port`` names the built-in board."""
    return port is not None and port.split(":")[0] == REHEARSAL


def only_port() -> str:
    """The one port that may be a board; LinkError if there is none, or several."""
    found = [entry.port for entry in attached()]
    if not found:
        raise LinkError(
            "No board is attached: plug one in, name its --port, or use --port rehearsal."
        )
    if len(found) > 1:
        raise LinkError(f"Several ports are there ({', '.join(found)}): choose one with --port.")
    return found[0]


def reconnect(
    board: Board,
    port: str | None,
    wait_s: float = RETURN_WAIT_S,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> bool:
    """Find ``board`` again after its port has failed, and shake hands; whether it is back.

    A port that was named is tried again; if none was, any port on which a board of the
    same number answers is taken, since a port often returns under another name. One that is
    there and not free yet is waited for longer than ``wait_s`` (seconds).
    """
    board_id, was = board.greeting.board_id, board.port.name
    start_s = clock()
    with suppress(LinkError):
        board.port.close()
    while True:
        names = [was]
        if port is None:
            with suppress(LinkError):
                names += [entry.port for entry in attached() if entry.port != was]
        for name in names:
            try:
                board.use(SerialPort(name, AT_ONCE))
                if board.hello().board_id == board_id:
                    return True
            except LinkError as error:
                wait_s = max(wait_s, passing_s(error, name))
            with suppress(LinkError):  # else it would be our own lock that we meet next time
                board.port.close()
        if clock() - start_s > wait_s:
            return False
        sleep(LOOK_EACH_S)


@contextmanager
def shaking_hands(port: str) -> Iterator[Board]:
    """The board at ``port``, which has answered; its port is closed afterwards."""
    board = Board(SerialPort(port))
    try:
        board.hello()
        yield board
    finally:
        with suppress(LinkError):  # a port that has vanished cannot be closed, nor need it
            board.port.close()

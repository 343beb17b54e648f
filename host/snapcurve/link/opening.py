"""Which board a command talks to."""

from collections.abc import Iterator
from contextlib import contextmanager

from snapcurve.errors import LinkError
from snapcurve.link.board import Board
from snapcurve.link.ports import SerialPort, attached

REHEARSAL = "rehearsal"


@contextmanager
def open_board(port: str | None, scene: str = "rest") -> Iterator[Board]:
    """A board that has answered: the one at ``port``, or the only one attached.

    ``scene`` is what the rehearsal board's probe feels meanwhile: "rest" or "batch" (see
    rehearsal.standing). LinkError if there is no board, or more than one to choose from.
    """
    if port is not None and port.split(":")[0] == REHEARSAL:
        from snapcurve.rehearsal.standing import standing_desk

        with standing_desk(port, scene) as desk, _shaking_hands(desk.port) as board:
            yield board
        return
    if port is None:
        found = [entry["port"] for entry in attached()]
        if not found:
            raise LinkError(
                "no board is attached: plug one in, name its --port, or use --port rehearsal"
            )
        if len(found) > 1:
            raise LinkError(
                f"several ports are there ({', '.join(found)}): choose one with --port"
            )
        port = found[0]
    with _shaking_hands(port) as board:
        yield board


@contextmanager
def _shaking_hands(port: str) -> Iterator[Board]:
    line = SerialPort(port)
    try:
        board = Board(line)
        board.hello()
        yield board
    finally:
        line.close()

"""Which board a command talks to: one that is attached, or the built-in one."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress

from snapcurve.board.client import Board
from snapcurve.board.connection import REHEARSAL, is_rehearsal, only_port, shaking_hands
from snapcurve.errors import LinkError


@contextmanager
def open_board(port: str | None, scene: str = "rest") -> Iterator[Board]:
    """A board that has answered: the one at ``port``, or the only one attached.

    ``scene`` is what the rehearsal board's probe feels meanwhile: "rest", "batch" or one of
    bath_simulator.BATHS_C; while a practice bowl is set out, what that feels. LinkError if there
    is no board, or more than one to choose from.
    """
    if port == REHEARSAL and scene in ("rest", "batch"):
        from snapcurve.simulation.practice_port import bench

        if (found := bench()) is not None:
            with shaking_hands(found.port) as board:
                yield board
            with suppress(LinkError):  # it may have been put away meanwhile
                found.keep()
            return
    if port is not None and is_rehearsal(port):
        from snapcurve.simulation.rehearsal_port import rehearsal_board

        with rehearsal_board(port, scene) as (desk, dip), desk.answering() as board:
            board.on_bath = dip
            yield board
        return
    with shaking_hands(port or only_port()) as board:
        yield board

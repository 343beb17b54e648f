"""Which port a bench means by the name that the person gave it."""

from snapcurve.board.connection import REHEARSAL
from snapcurve.board.ports import attached
from snapcurve.simulation.practice_port import bench


def port_of(named: str | None) -> str | None:
    """``named``; without a name and without a board that is attached, the practice bowl's board
    while one is set out; None for the one that is attached. LinkError if the ports cannot be
    listed."""
    if named is not None or attached():
        return named
    return REHEARSAL if bench() is not None else None

"""How far the temperatures of a board that answers can be trusted at this moment."""

import time
from collections.abc import Collection

from snapcurve.board.client import Board
from snapcurve.calibration.stored import in_use
from snapcurve.calibration.trust import WORKING_C, Trust, trust


def trust_now(board: Board, troubles: Collection[str]) -> Trust:
    """How far the board's temperatures can be trusted where chocolate is worked; ``troubles`` are
    what it reports."""
    hello, calibration = board.greeting, in_use(board.calibration(), troubles)
    room_c, now_s = board.reading().room_c, time.time()
    return trust(hello.converter, hello.tc_type, calibration, WORKING_C, now_s, room_c=room_c)

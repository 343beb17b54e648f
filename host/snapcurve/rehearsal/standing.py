"""The rehearsal board as one that stays: its flash is kept between commands.

``--port rehearsal`` starts it, and the end of the command pulls its plug, so whatever
was on its flash is there the next time, exactly as on a board of hardware.
``rehearsal:unplugged`` is the same board with its probe pulled off.
"""

import os
import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from snapcurve.errors import LinkError, SnapcurveError
from snapcurve.rehearsal.desk import Desk, World

BOARD_NAME = "standing"
ROOM_C = 21.0
OPEN_CIRCUIT = 1  # the converter's fault bit
ROWS_S = 2
NOISE_C = 0.03


class Resting:
    """A probe lying on the bench, or pulled off its converter."""

    def __init__(self, unplugged: bool):
        self._fault = OPEN_CIRCUIT if unplugged else 0
        self._chance = random.Random(1)

    def rows(self, now_ms: int) -> list[str] | None:
        """See World."""
        start_s = now_ms // 1000
        return [
            f"{start_s + ahead},{self._chance.gauss(ROOM_C, NOISE_C):.3f},{ROOM_C},{self._fault},0"
            for ahead in range(1 if start_s == 0 else 0, ROWS_S + 1)
        ]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See World."""


def _world(port: str, scene: str) -> World:
    _, _, state = port.partition(":")
    if state not in ("", "unplugged"):
        raise SnapcurveError(
            f"there is no {port!r}: the built-in board is 'rehearsal' or 'rehearsal:unplugged'"
        )
    if scene == "batch" and not state:
        from snapcurve.rehearsal.rehearse import demonstration

        return demonstration()
    return Resting(state == "unplugged")


def _lock(path: Path) -> IO[bytes]:
    file = path.open("a+b")
    try:
        if os.name == "posix":
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        else:
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    except OSError as error:
        file.close()
        raise LinkError(
            "another program uses the rehearsal board: wait until it has finished"
        ) from error
    return file


@contextmanager
def standing_desk(port: str, scene: str) -> Iterator[Desk]:
    """The rehearsal board, running in real time."""
    from snapcurve.commands.options import data_folder

    folder = data_folder() / "rehearsal"
    folder.mkdir(exist_ok=True)
    with (
        _lock(folder / "lock"),
        Desk(folder / "flash", _world(port, scene), "real", board=BOARD_NAME) as desk,
    ):
        yield desk

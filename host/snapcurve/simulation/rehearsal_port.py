"""The desk board behind ``--port rehearsal``: its flash stays between commands.

The start of a command starts it, and the end of the command pulls its plug, so whatever
was on its flash is there the next time, exactly as on a board of hardware.
Words behind a colon, joined by ``+``, change it: ``rehearsal:unplugged`` has its probe
pulled off, ``swapped`` has the leads swapped, ``slush`` has a poor ice bath, ``max31855``
the other converter; ``type-t``, ``type-j`` or ``type-n`` is the thermocouple that is
fitted in place of type K. SNAPCURVE_REHEARSAL_SPEED lets its time run so many times faster.
While a practice bowl is set out, `practice_port` has this board, and `rehearsal` alone is that.
"""

import os
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from snapcurve.errors import LinkError, SnapcurveError, file_errors
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.desk_wiring import Simulator

BOARD_NAME = "rehearsal"
SPEED = "SNAPCURVE_REHEARSAL_SPEED"
STATES = ("unplugged", "swapped", "slush", "max31855", "type-t", "type-j", "type-n")
ROOM_C = 21.0
OPEN_CIRCUIT = 1  # the converter's fault bit
ROWS_S = 2
NOISE_C = 0.03


class Resting(Simulator):
    """A probe lying on the bench, or pulled off its converter."""

    def __init__(self, unplugged: bool):
        self._fault = OPEN_CIRCUIT if unplugged else 0
        self._chance = random.Random(1)

    def rows(self, now_ms: int) -> list[str] | None:
        start_s = now_ms // 1000
        return [
            f"{start_s + ahead},{self._chance.gauss(ROOM_C, NOISE_C):.3f},{ROOM_C},{self._fault},0"
            for ahead in range(1 if start_s == 0 else 0, ROWS_S + 1)
        ]


def _states(port: str) -> list[str]:
    """The words behind the colon; SnapcurveError for one that is not known."""
    _, _, text = port.partition(":")
    states = text.split("+") if text else []
    if set(states) - set(STATES):
        raise SnapcurveError(
            f"There is no port {port!r}: the built-in board is 'rehearsal', or 'rehearsal:' with "
            f"{', '.join(STATES)} (joined by +)."
        )
    return states


def _speed() -> str:
    text = os.environ.get(SPEED, "real")
    try:
        if text == "real" or 0.1 <= float(text) <= 1000:
            return text
    except ValueError:
        pass
    raise SnapcurveError(f"{SPEED} is {text!r}: set it to real, or to a number from 0.1 to 1000.")


def _simulator(states: list[str], scene: str) -> tuple[Simulator, Callable[[], None]]:
    """What the probe feels, and the word to put it into the bath."""
    if "unplugged" in states:
        return Resting(True), _nothing
    if scene == "batch":
        from snapcurve.simulation.rehearsal import demonstration

        return demonstration(), _nothing
    if scene == "rest":
        return Resting(False), _nothing
    from snapcurve.simulation.bath_simulator import bath

    found = bath(scene, "slush" in states, "swapped" in states)
    return found, found.dip


def _nothing() -> None:
    """There is no bath."""


def lock(path: Path) -> IO[bytes]:
    """The file at ``path``, held against every other program until it is closed; LinkError if
    one holds it."""
    with file_errors(f"open {path}"):
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
            "Another program uses the rehearsal board: wait until it has finished, or put the "
            "practice bowl away with 'snapcurve practise end'."
        ) from error
    return file


@contextmanager
def rehearsal_board(port: str, scene: str) -> Iterator[tuple[DeskBoard, Callable[[], None]]]:
    """The desk board, and the word on which its probe goes into the bath; ``scene`` is
    rest, batch, or one of bath_simulator.BATHS_C."""
    from snapcurve.shown.folders import data_folder, made

    folder = made(data_folder() / "rehearsal")
    states, speed = _states(port), _speed()
    converter = "MAX31855" if "max31855" in states else "MAX31856"
    kinds = [state[-1].upper() for state in states if state.startswith("type-")]
    simulator, dip = _simulator(states, scene)
    with (
        lock(folder / "lock"),
        DeskBoard(
            folder / "flash",
            simulator,
            speed,
            board=BOARD_NAME,
            converter=converter,
            kind=(kinds or ["K"])[0],
        ) as desk,
    ):
        yield desk, dip

"""Bringing curves home: downloaded, filed, and only then erased on the board.

Each step may be repeated: a program that is killed at any instant leaves the curve on the
board, or in the notebook, or in both, and the next run carries on from there.
"""

import time
from collections.abc import Callable

from snapcurve.board.client import Board, CurveRow
from snapcurve.board.connection import is_rehearsal, reconnect
from snapcurve.board.download import Download
from snapcurve.collecting.filing import new_batch
from snapcurve.errors import LinkError, RecordError, Refused, WrongVersion
from snapcurve.notebook.records import NewBatch
from snapcurve.notebook.store import Notebook
from snapcurve.recording.curve import Curve, decode
from snapcurve.recording.dating import Starts

RETURNS = 3  # so often a port may vanish and come back during one collection


class Collection:
    """All curves of ``board`` into ``notebook``; ``filed`` is called with each batch filed.

    ``port`` is what the user named, None for the one board attached; ``complete`` adds to a
    batch what the board cannot know, before it is filed; not to what was started by mistake.
    Afterwards ``recording`` and ``unreadable`` hold the numbers of curves that stay on the board,
    and ``damaged`` a sentence for each that stays because a part of it was lost on the flash.
    """

    def __init__(
        self,
        board: Board,
        notebook: Notebook,
        port: str | None,
        filed: Callable[[CurveRow, str], None],
        progress: Callable[[int, int], None] | None = None,
        complete: Callable[[NewBatch], NewBatch] | None = None,
    ):
        self._board = board
        self._notebook = notebook
        self._port = port
        self._filed = filed
        self._progress = progress
        self._complete = complete
        self._returns = 0
        self.recording: list[int] = []
        self.unreadable: list[int] = []
        self.damaged: list[str] = []

    def run(self, keep: bool = False, erase_damaged: bool = False) -> None:
        """Collect; with ``keep`` nothing is erased, and without ``erase_damaged`` no curve of
        which a part was lost: the board's copy is the only other one."""
        board = self._board
        starts = Starts(board.greeting.board_id)
        before_s = time.time()
        hello = board.hello()
        starts.seen(hello.boot, hello.uptime_ms, int((before_s + time.time()) * 500))
        undated: list[tuple[CurveRow, Curve, bytes]] = []
        for row in board.curves():
            if row.state != "closed":
                self.recording.append(row.curve)
                continue
            if not self._notebook.has_curve(hello.board_id, row.generation, row.curve, row.crc):
                raw = self._download(row)
                try:
                    decoded = decode(raw)
                except RecordError:
                    self.unreadable.append(row.curve)
                    continue
                starts.learn(decoded)
                if not starts.date(decoded):
                    undated.append((row, decoded, raw))
                    continue
                self._file(row, decoded, raw)
            else:
                filed = self._notebook.filed_raw(hello.board_id, row.generation, row.curve)
                decoded = decode(filed, samples=False)
            if self._may_go(row, decoded, erase_damaged) and not keep:
                self._erase(row)
        for row, decoded, raw in undated:
            starts.date(decoded)  # by a later curve of the same start
            self._file(row, decoded, raw)
            if self._may_go(row, decoded, erase_damaged) and not keep:
                self._erase(row)

    def _may_go(self, row: CurveRow, decoded: Curve, erase_damaged: bool) -> bool:
        """Whether the board may erase it; what was lost of it on the flash is said."""
        lost = []
        if decoded.lost_blocks:
            lost.append("1 block" if decoded.lost_blocks == 1 else f"{decoded.lost_blocks} blocks")
        if decoded.trailing_bytes:
            lost.append(f"the last {decoded.trailing_bytes} bytes")
        if not lost:
            return True
        stays = "stays on the board: 'snapcurve collect --erase-damaged' lets it go"
        what = "was then erased" if erase_damaged else stays
        self.damaged.append(
            f"Of curve {row.curve} the board's flash has lost {' and '.join(lost)}; it was filed"
            f" without, and {what}."
        )
        return erase_damaged

    def complain(self) -> None:
        """RecordError if curves could not be read: they stay on the board."""
        if self.unreadable:
            names = ", ".join(map(str, self.unreadable))
            raise RecordError(
                f"Curve {names} on the board has no readable beginning and was not filed; it stays"
                " there, and 'snapcurve collect' tries it again."
            )

    def _file(self, row: CurveRow, decoded: Curve, raw: bytes) -> None:
        hello = self._board.greeting
        known = [self._board.calibration(), self._board.calibration("previous")]
        known += [one.raw for one in reversed(self._notebook.calibrations(hello.board_id))]
        new = new_batch(
            decoded,
            raw,
            row,
            hello.board,
            rehearsal=is_rehearsal(self._port),
            converter=hello.converter,
            tc_type=hello.tc_type,
            raw_calibrations=known,
        )
        if self._complete is not None and not new.mistake:
            new = self._complete(new)
        self._filed(row, self._notebook.file_batch(new).code)

    def _download(self, row: CurveRow) -> bytes:
        download = Download(row, self._progress)
        while True:
            try:
                return download.run(self._board)
            except (Refused, WrongVersion):
                raise
            except LinkError as error:
                self._return(error)

    def _erase(self, row: CurveRow) -> None:
        try:
            self._board.erase(row)
        except (Refused, WrongVersion):
            raise
        except LinkError as error:
            self._return(error)
            self._board.erase(row)

    def _return(self, error: LinkError) -> None:
        """Wait for the board to come back; ``error`` if it does not."""
        self._returns += 1
        if self._returns > RETURNS or not reconnect(self._board, self._port):
            raise error

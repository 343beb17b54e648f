"""Downloading a curve: host-driven, several requests in flight, resumed where it stopped.

An answer says itself of which curve, from where and how much it is, and its frame has a
CRC. So it does not matter to which of several equal requests it belongs, how late it is
or how often it comes: whatever is still missing is taken from it.
"""

import zlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from snapcurve.board.client import ANSWER_WAIT_S, Board, CurveRow
from snapcurve.errors import LinkError, NoAnswer
from snapcurve.wire.catalogue import CURVE_CHUNK_MAX

IN_FLIGHT = 3  # enough that the line never idles for an answer; small for a board's input buffer
# On a line that spoils every hundredth byte no long frame arrives whole: parts get shorter
# until they do, and longer again when they do.
CHUNK_MIN = 32
GROW_AFTER = 6  # answers in a row
# Given up when not one missing byte has come for so long.
GIVE_UP_S = 30.0
SILENT_S = 5 * ANSWER_WAIT_S  # sooner, when nothing at all comes any more
# And when it would take for ever: the worst line that still brings whole parts is faster.
SLOWEST_BYTES_PER_S = 20.0


@dataclass
class _Asked:
    """One part of the curve that is on its way."""

    offset: int
    length: int
    deadline_s: float


class Download:
    """One curve on its way; ``have`` are its first bytes, also after a failure.

    ``run`` may be called again with another Board that leads to the same board: it asks
    only for what is missing.
    """

    def __init__(self, row: CurveRow, progress: Callable[[int, int], None] | None = None):
        self.row = row
        self._progress = progress
        self._bytes = bytearray(row.size)
        self._missing = [(0, row.size)] if row.size else []  # (from, to), in order
        self._asked: dict[int, _Asked] = {}  # by sequence number
        self._late: dict[int, _Asked] = {}  # those that are no longer waited for
        self._chunk = CURVE_CHUNK_MAX
        self._in_a_row = 0

    def missing(self) -> int:
        """Bytes that have not come yet."""
        return sum(end - start for start, end in self._missing)

    def run(self, board: Board) -> bytes:
        """The whole curve; see ``download``."""
        self._asked.clear()
        self._late.clear()
        moved_s = heard_s = begun_s = board.clock()
        longest_s = GIVE_UP_S + self.missing() / SLOWEST_BYTES_PER_S
        heard = board.heard
        while self._missing:
            self._ask(board)
            board.pump()
            now_s = board.clock()
            if board.heard != heard:
                heard, heard_s = board.heard, now_s
                if self._take_answers(board):
                    moved_s = now_s
            self._give_up_late(now_s)
            silent = now_s - moved_s > GIVE_UP_S or now_s - heard_s > SILENT_S
            if self._missing and (silent or now_s - begun_s > longest_s):
                raise NoAnswer(
                    f"The board on {board.port.name} stopped answering after "
                    f"{self.row.size - self.missing()} of {self.row.size} bytes: connect it "
                    "again and collect once more."
                )
        whole = bytes(self._bytes)
        if zlib.crc32(whole) != self.row.crc:
            raise LinkError(
                "The curve arrived damaged though every part looked whole: collect again."
            )
        return whole

    def _ask(self, board: Board) -> None:
        while len(self._asked) < IN_FLIGHT:
            part = self._next_part()
            if part is None:
                return
            offset, length = part
            sequence = board.send(
                "curve_read", curve=self.row.curve, offset=offset, longest=length
            )
            self._late.pop(sequence, None)
            self._asked[sequence] = _Asked(offset, length, board.clock() + ANSWER_WAIT_S)

    def _next_part(self) -> tuple[int, int] | None:
        """The first missing part that is not on its way."""
        waited_for = sorted((entry.offset, entry.length) for entry in self._asked.values())
        for start, end in self._missing:
            at = start
            for offset, length in waited_for:
                if at < end and offset <= at < offset + length:
                    at = offset + length
            if at >= end:
                continue
            limit = min([end, at + self._chunk, *(o for o, _ in waited_for if o > at)])
            return at, limit - at
        return None

    def _take_answers(self, board: Board) -> bool:
        """Whether anything that was missing has come."""
        moved = False
        for sequence in [*self._asked, *self._late]:
            answer = board.take(sequence, "curve_read")
            if answer is None:
                continue
            in_time = sequence in self._asked
            entry = self._asked.pop(sequence, None) or self._late.pop(sequence)
            if in_time:
                self._in_a_row += 1
                if self._in_a_row >= GROW_AFTER:
                    self._in_a_row = 0
                    self._chunk = min(CURVE_CHUNK_MAX, self._chunk * 2)
            moved = self._take(answer, entry) or moved
        return moved

    def _take(self, answer: dict[str, Any], entry: _Asked) -> bool:
        row = self.row
        start = answer["offset"]
        if answer["curve"] != row.curve or start > row.size:
            return False  # of somebody who had the port before
        if (answer["generation"], answer["total"]) != (row.generation, row.size):
            raise LinkError("The board's curve changed while it was read: collect again.")
        end = min(start + len(answer["data"]), row.size)
        least = entry.length if start == entry.offset else 1
        if end - start < min(least, row.size - start):
            raise LinkError("The board gave fewer bytes than its curve has: collect again.")
        still = []
        for first, last in self._missing:
            overlap = max(first, start), min(last, end)
            if overlap[0] >= overlap[1]:
                still.append((first, last))
                continue
            data = answer["data"][overlap[0] - start : overlap[1] - start]
            self._bytes[overlap[0] : overlap[1]] = data
            still += [
                part for part in ((first, overlap[0]), (overlap[1], last)) if part[0] < part[1]
            ]
        moved = still != self._missing
        self._missing = still
        if moved and self._progress is not None:
            self._progress(row.size - self.missing(), row.size)
        return moved

    def _give_up_late(self, now_s: float) -> None:
        """Ask anew for what did not come in time, in shorter parts; it may still come."""
        for sequence, entry in list(self._asked.items()):
            if now_s > entry.deadline_s:
                del self._asked[sequence]
                self._late[sequence] = entry
                self._in_a_row = 0
                if entry.length >= self._chunk:
                    self._chunk = max(CHUNK_MIN, self._chunk // 2)


def download(
    board: Board, row: CurveRow, progress: Callable[[int, int], None] | None = None
) -> bytes:
    """The bytes of curve ``row``.

    ``progress`` is called with bytes got and bytes in all. Raises NoAnswer if nothing comes
    for SILENT_S or nothing useful for GIVE_UP_S, and LinkError if the curve changed
    meanwhile or its CRC is wrong; the result always has exactly the size and CRC the board
    stated.
    """
    return Download(row, progress).run(board)

"""Downloading a curve: host-driven, several requests in flight, resumed where it stopped."""

import zlib
from collections.abc import Callable

from snapcurve.errors import LinkError, NoAnswer
from snapcurve.link.board import ANSWER_WAIT_S, TRIES, Board, CurveRow
from wire.catalogue import CURVE_CHUNK_MAX

IN_FLIGHT = 3  # enough that the line never idles for an answer; small for a board's input buffer


class _Asked:
    """One part of the curve that is on its way."""

    def __init__(self, sequence: int, offset: int, deadline_s: float, tries: int):
        self.sequence = sequence
        self.offset = offset
        self.deadline_s = deadline_s
        self.tries = tries


def download(
    board: Board,
    row: CurveRow,
    have: bytes = b"",
    progress: Callable[[int, int], None] | None = None,
) -> bytes:
    """The bytes of curve ``row``; ``have`` is what an earlier attempt already got.

    ``progress`` is called with bytes got and bytes in all. Raises NoAnswer if the board
    falls silent and LinkError if the curve changed meanwhile or its CRC is wrong; the
    result always has exactly the size and CRC the board stated.
    """
    parts: dict[int, bytes] = {}
    next_offset = len(have)
    asked: list[_Asked] = []
    got = len(have)
    while got < row.size:
        while len(asked) < IN_FLIGHT and next_offset < row.size:
            asked.append(_ask(board, row, next_offset, 1))
            next_offset += CURVE_CHUNK_MAX
        board.pump()
        for entry in list(asked):
            answer = board.take(entry.sequence, "curve_read")
            if answer is not None:
                if (answer["curve"], answer["generation"]) != (row.curve, row.generation):
                    raise LinkError("the board's curve changed while it was read: collect again")
                if answer["offset"] != entry.offset:
                    continue
                asked.remove(entry)
                data = answer["data"][: row.size - entry.offset]
                parts[entry.offset] = data
                got += len(data)
                expected = min(CURVE_CHUNK_MAX, row.size - entry.offset)
                if len(data) < expected:
                    raise LinkError("the board gave fewer bytes than its curve has: collect again")
                if progress is not None:
                    progress(got, row.size)
            elif board.clock() > entry.deadline_s:
                if entry.tries >= TRIES:
                    raise NoAnswer(
                        f"the board on {board.port.name} stopped answering after {got} of "
                        f"{row.size} bytes: connect it again and collect once more"
                    )
                asked.remove(entry)
                asked.append(_ask(board, row, entry.offset, entry.tries + 1))
    whole = have + b"".join(parts[offset] for offset in sorted(parts))
    if len(whole) != row.size or zlib.crc32(whole) != row.crc:
        raise LinkError("the curve arrived damaged though every part looked whole: collect again")
    return whole


def _ask(board: Board, row: CurveRow, offset: int, tries: int) -> _Asked:
    longest = min(CURVE_CHUNK_MAX, row.size - offset)
    sequence = board.send("curve_read", curve=row.curve, offset=offset, longest=longest)
    return _Asked(sequence, offset, board.clock() + ANSWER_WAIT_S, tries)

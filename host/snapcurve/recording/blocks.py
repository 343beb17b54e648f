"""Blocks of a curve at the speed a host can have.

The same as wire.curve.parse_block and, but for the samples, wire.curve_data.parse_data, which say
what the bytes mean and which a test compares with this.
"""

from functools import cache
from struct import Struct
from typing import Any, NamedTuple
from zlib import crc32

from snapcurve.wire import catalogue
from snapcurve.wire.curve import K_MAX
from snapcurve.wire.errors import WireError


def _struct(record: Any) -> Struct:
    return Struct("<" + "".join(row[1] for row in record))


_HEAD = _struct(catalogue.BLOCK_HEAD)
_CRC = Struct("<I")
_BODY = _HEAD.size + _CRC.size
_DATA_HEAD = _struct(catalogue.DATA_HEAD)
_EVENT = _struct(catalogue.EVENT)
_KINDS = catalogue.BLOCK_KINDS
_PHASES = catalogue.PHASE_KINDS


class Block(NamedTuple):
    """A block whose CRC fits; its body is ``data[start:end]``."""

    kind: str
    curve: int
    number: int
    start: int
    end: int


class Event(NamedTuple):
    """Something that happened at ``offset_ms`` of the curve.

    ``kind`` is "alarm", "mark", "fault" or "resumed"; ``name`` the alarm, the mark, or the
    faults joined by a comma (empty: the fault went away). "resumed": this curve continues
    the batch of curve ``number``, after a restart or a long absence. ``estimate_c`` is what the
    board took the chocolate for, None if it did not know.
    """

    offset_ms: int
    kind: str
    name: str
    phase: str
    estimate_c: float | None
    number: int


class Coded(NamedTuple):
    """Samples of a block: ``samples`` of them in ``bits``, from ``start_ms`` on every
    ``period_ms``; ``k`` and ``first`` as in the block's head."""

    bits: bytes
    samples: int
    k: int
    first: int
    start_ms: int
    period_ms: int


def block_at(data: bytes, at: int) -> Block:
    """The block at ``data[at:]``; WireError if there is none, or its CRC is wrong."""
    if at + _BODY > len(data):
        raise WireError("bad_length")
    sync, kind, length, curve, number = _HEAD.unpack_from(data, at)
    if sync != catalogue.BLOCK_SYNC or kind >= len(_KINDS):
        raise WireError("bad_value")
    if not _BODY <= length <= catalogue.BLOCK_MAX:
        raise WireError("bad_value")
    start, end = at + _BODY, at + length
    if end > len(data):
        raise WireError("bad_length")
    crc = crc32(data[start:end], crc32(data[at : at + _HEAD.size]))
    if _CRC.unpack_from(data, at + _HEAD.size)[0] != crc:
        raise WireError("bad_value")
    return Block(_KINDS[kind], curve, number, start, end)


def data_of(data: bytes, block: Block) -> tuple[Coded, float | None, list[Event]]:
    """Of a data block the samples, the temperature of the board in °C (None: not known), and the
    events; WireError if its body does not fit together."""
    at = block.start + _DATA_HEAD.size
    if at > block.end:
        raise WireError("bad_length")
    head = _DATA_HEAD.unpack_from(data, block.start)
    start_ms, period_ms, count, event_count, k, first, room_centi_c, length = head
    if k > K_MAX:
        raise WireError("bad_value", 4)
    behind = at + length
    if behind + event_count * _EVENT.size != block.end:
        raise WireError("bad_length")
    coded = Coded(data[at:behind], count, k, first, start_ms, period_ms)
    if not event_count:
        return coded, _c(room_centi_c), []
    events = []
    for row in _EVENT.iter_unpack(data[behind : block.end]):
        offset_ms, kind, code, phase, centi_c, number = row
        if phase >= len(_PHASES):
            raise WireError("bad_choice", 3)
        word, name = _names(kind, code)
        events.append(Event(offset_ms, word, name, _PHASES[phase], _c(centi_c), number))
    return coded, _c(room_centi_c), events


@cache
def _names(kind: int, code: int) -> tuple[str, str]:
    """An event's kind and name; of the 262,144 there can be, few ever are."""
    if kind >= len(catalogue.EVENT_KINDS):
        raise WireError("bad_choice", 1)
    word = catalogue.EVENT_KINDS[kind]
    if word == "fault":
        return word, ",".join(catalogue.fault_names(code))
    if word == "resumed":
        return word, "resumed"
    words = catalogue.ALARMS if word == "alarm" else catalogue.MARKS
    return word, words[code] if code < len(words) else f"unknown {code}"


def _c(centi_c: int) -> float | None:
    return None if centi_c == catalogue.CENTI_NONE else centi_c / 100

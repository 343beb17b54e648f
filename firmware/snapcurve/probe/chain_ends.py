"""What notebooks told this board of the end of their chains: a witness outside any computer.

Loaded only when it is told or asked.
"""

import binascii
import struct

from snapcurve.wire import codec
from snapcurve.wire.catalogue import CHAIN_END, CHAIN_ENDS_MAX
from snapcurve.wire.const import const

NAME = "chains"
_ROW = const(40)  # bytes of a CHAIN_END
_CRC = const(4)  # bytes of the CRC-32 before the rows


def kept(store):
    """The rows that are kept, newest first, packed; none if what is stored cannot be read."""
    raw = store.load(NAME)
    if len(raw) < _CRC or binascii.crc32(raw[_CRC:]) != struct.unpack("<I", raw[:_CRC])[0]:
        return []
    return [raw[at : at + _ROW] for at in range(_CRC, len(raw), _ROW)]


def keep(store, end) -> None:
    """Keep ``end``, values of CHAIN_END, in the place of an earlier one of its notebook. OSError
    if the flash fails."""
    new = codec.pack(CHAIN_END, end)
    others = [row for row in kept(store) if row[:4] != new[:4]]
    rows = b"".join(([new] + others)[:CHAIN_ENDS_MAX])
    if rows != b"".join(kept(store)):
        store.save(NAME, struct.pack("<I", binascii.crc32(rows)) + rows)

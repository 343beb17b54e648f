"""How often the collector runs while the board works.

It never moves anything. Collecting early and often keeps what stays together at the bottom
of the heap, so that littlefs always finds a piece for an open file.
"""

from snapcurve.wire.const import const

_LEAST_BYTES = const(4096)
_PART = const(3)


def collect_each_bytes(free_bytes: int) -> int:
    """After how many bytes to collect, if so many are free once everything is there."""
    return max(_LEAST_BYTES, free_bytes // _PART)

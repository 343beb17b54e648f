"""Samples of many curve blocks at once, at the speed a host can have.

The same as wire.curve_data.decode_samples, which says what the bits mean and which a test
compares with this. All blocks are read in step, the first sample of each and then the second, so
that numpy has thousands to do with every word.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from snapcurve.recording.blocks import Coded
from snapcurve.wire.curve import ESCAPE, GAP, RAW_BITS

_HIGHEST = 0x7FFF
_LONGEST = ESCAPE + RAW_BITS  # bits of a code word
_WINDOW_BYTES = 5  # hold a code word, at whichever bit it begins
# How many ones are at the top of ESCAPE bits.
_ONES = np.array(
    [ESCAPE - (word ^ ((1 << ESCAPE) - 1)).bit_length() for word in range(1 << ESCAPE)]
)

Integers = NDArray[np.int64]


class Decoded(NamedTuple):
    """Samples of all blocks one behind the other, in s and °C, nan where nothing was read; and
    which blocks are good: of the others the numbers mean nothing."""

    times_s: NDArray[np.float64]
    values_c: NDArray[np.float64]
    good: NDArray[np.bool_]


def decoded(blocks: Sequence[Coded]) -> Decoded:
    """The samples of these blocks. One is not good whose bits end too early, or in which a value
    does not fit 16 bits."""
    counts, ks, firsts, starts_ms, periods_ms = (
        np.array([block[1:] for block in blocks], np.int64).reshape(-1, 5).T
    )
    # The longest block first, so that those which go on are always the first so many.
    order = np.argsort(-counts, kind="stable")
    words, whole = _words(blocks, order, counts[order], ks[order])
    back = np.argsort(order)
    words, whole = words[:, back], whole[back]
    missing = words == 0
    differences = np.where(words & 1, (words - 1) >> 1, -(words >> 1))
    values = firsts + np.cumsum(differences, axis=0)
    index = np.arange(len(words))[:, None]
    there = index < counts
    strange = there & ~missing & ((values <= GAP) | (values > _HIGHEST))
    times_s = (starts_ms + index * periods_ms) / 1000
    values_c = np.where(missing, np.nan, values / 128)
    return Decoded(
        times_s.T[there.T], values_c.T[there.T], np.asarray(whole & ~strange.any(axis=0))
    )


def _words(
    blocks: Sequence[Coded], order: Integers, counts: Integers, ks: Integers
) -> tuple[Integers, NDArray[np.bool_]]:
    """What the code words say, a column for each block in ``order``, and which blocks hold all
    of theirs."""
    ordered = [blocks[one].bits for one in order.tolist()]
    lengths = np.array([len(bits) for bits in ordered], np.int64)
    ends = np.cumsum(lengths) * 8
    at = ends - lengths * 8
    windows = _windows(b"".join(ordered))
    steps = int(counts.max(initial=0))
    words = np.zeros((steps, len(blocks)), np.int64)
    going_on = np.searchsorted(-counts, -np.arange(steps), side="left")
    for step, still in enumerate(going_on.tolist()):
        its, k = at[:still], ks[:still]
        # Behind the end of its bits a block reads those of another: then its end tells.
        word = windows.take(its >> 3, mode="clip") >> (8 * _WINDOW_BYTES - _LONGEST - (its & 7))
        word &= (1 << _LONGEST) - 1
        ones = _ONES.take(word >> RAW_BITS)
        escaped = ones == ESCAPE
        low = (word >> (_LONGEST - 1 - ones - k)) & ((1 << k) - 1)
        words[step, :still] = np.where(escaped, word & ((1 << RAW_BITS) - 1), ones << k | low)
        its += np.where(escaped, _LONGEST, ones + 1 + k)
    return words, at <= ends


def _windows(bits: bytes) -> Integers:
    """The bits that follow from each byte on."""
    raw = np.frombuffer(bits + bytes(_WINDOW_BYTES), np.uint8).astype(np.int64)
    found = np.zeros(len(bits) + 1, np.int64)
    for place in range(_WINDOW_BYTES):
        found <<= 8
        found |= raw[place : place + len(found)]
    return found

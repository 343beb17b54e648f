"""Samples of a curve block at the speed a host can have.

The same as wire.curve_data.decode_samples, which says what the bits mean and which a test
compares with this. The bits become text, a regular expression cuts it into code words, and
each word is looked up: of the few hundred that occur hardly any is new.
"""

import re
from functools import lru_cache

from snapcurve.wire.curve import ESCAPE, GAP, K_MAX, RAW_BITS
from snapcurve.wire.errors import WireError

_WORDS = [
    re.compile(f"1{{0,{ESCAPE - 1}}}0.{{{k}}}|1{{{ESCAPE}}}.{{{RAW_BITS}}}")
    for k in range(K_MAX + 1)
]
_HIGHEST = 0x7FFF


@lru_cache(maxsize=1 << 14)
def _difference(word: str, k: int) -> int | None:
    """What a code word adds to the value before; None for a missing sample."""
    ones = len(word) - len(word.lstrip("1"))
    # The zero that ends the ones changes nothing as the highest bit.
    u = int(word[ESCAPE:], 2) if ones >= ESCAPE else ones << k | int(word[ones:], 2)
    if u == 0:
        return None
    return (u - 1) >> 1 if u & 1 else -(u >> 1)


def decode_samples(data: bytes, start: int, end: int, count: int, k: int, first: int) -> list[int]:
    """``count`` samples of 1/128 °C, or GAP, from the bit stream ``data[start:end]``.

    Raises WireError("bad_length") if the bits end too early, WireError("bad_value") if a
    value does not fit 16 bits.
    """
    bits = (end - start) * 8
    text = f"{int.from_bytes(data[start:end], 'big'):0{bits}b}" if bits else ""
    words = _WORDS[k].findall(text)[:count]
    # A word that is cut off can only be the last; the search would go on behind its start.
    if len(words) < count or not text.startswith("".join(words)):
        raise WireError("bad_length")
    values = []
    value = first
    meaning = {word: _difference(word, k) for word in set(words)}
    for word in words:
        difference = meaning[word]
        if difference is None:
            values.append(GAP)
            continue
        value += difference
        if not GAP < value <= _HIGHEST:
            raise WireError("bad_value")
        values.append(value)
    return values

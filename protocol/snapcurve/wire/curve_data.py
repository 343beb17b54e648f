"""What data blocks hold, read back (the bits: see curve.py). A board does not load this."""

from . import catalogue, codec
from .curve import ESCAPE, GAP, K_MAX, RAW_BITS
from .errors import WireError


def parse_data(data, start: int, end: int, decode=None):
    """The body of a data block: ``(head, values, events)``.

    ``head`` is the list of catalogue.DATA_HEAD, ``values`` a list of 1/128 °C integers with
    GAP where nothing was read, ``events`` a list of lists in the order of catalogue.EVENT.
    Raises WireError if the body does not fit together. ``decode`` may take the place of
    decode_samples.
    """
    at = start + codec.fixed_size(catalogue.DATA_HEAD)
    if at > end:
        raise WireError("bad_length")
    head = codec.unpack(catalogue.DATA_HEAD, data, start, at)
    _, _, samples, event_count, k, first, _, bits_length = head
    if k > K_MAX:
        raise WireError("bad_value", 4)
    if at + bits_length + event_count * codec.fixed_size(catalogue.EVENT) != end:
        raise WireError("bad_length")
    decode = decode_samples if decode is None else decode
    values = decode(data, at, at + bits_length, samples, k, first)
    events = codec.unpack_rows(catalogue.EVENT, data[at + bits_length : end])
    return head, values, events


def decode_samples(data, start: int, end: int, count: int, k: int, first: int):
    """``count`` samples from the bit stream ``data[start:end]``; see the module's head."""
    values = []
    value = first
    pending = 0
    pending_bits = 0
    at = start
    for _ in range(count):
        # Never more than ESCAPE + RAW_BITS bits are needed for one sample.
        while pending_bits < ESCAPE + RAW_BITS and at < end:
            pending = (pending << 8) | data[at]
            pending_bits += 8
            at += 1
        quotient = 0
        while quotient < ESCAPE:
            if pending_bits == 0:
                raise WireError("bad_length")
            pending_bits -= 1
            if not (pending >> pending_bits) & 1:
                break
            quotient += 1
        width = RAW_BITS if quotient == ESCAPE else k
        if pending_bits < width:
            raise WireError("bad_length")
        pending_bits -= width
        u = (pending >> pending_bits) & ((1 << width) - 1)
        if quotient < ESCAPE:
            u |= quotient << k
        pending &= (1 << pending_bits) - 1
        if u == 0:
            values.append(GAP)
            continue
        value += (u - 1) >> 1 if u & 1 else -(u >> 1)
        if not -0x8000 < value <= 0x7FFF:
            raise WireError("bad_value")
        values.append(value)
    return values

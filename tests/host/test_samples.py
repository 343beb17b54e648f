"""The host's fast reading of samples against the plain one of the wire."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from snapcurve.recording.blocks import Coded
from snapcurve.recording.samples import decoded
from snapcurve.wire import catalogue, curve, curve_data
from snapcurve.wire.errors import WireError

BESIDE = (Coded(b"\xff" * 40, 9, 0, 0, 0, 1000), Coded(bytes(9), 60, 0, 5, 0, 1000))


def fast(data, count, k, first):
    """What is made of it between two others; None if it is refused."""
    blocks = [BESIDE[0], Coded(data, count, k, first, 0, 1000), BESIDE[1]]
    found = decoded(blocks)
    if not found.good[1]:
        return None
    its = found.values_c[BESIDE[0].samples :][:count].tolist()
    return [curve.GAP if math.isnan(value) else round(value * 128) for value in its]


def both(data, count, k, first):
    """What both make of it; a refusal, for whatever reason first seen, is None."""
    try:
        plain = curve_data.decode_samples(data, 0, len(data), count, k, first)
    except WireError:
        plain = None
    return plain, fast(data, count, k, first)


@settings(max_examples=400)
@given(
    st.binary(max_size=60),
    st.integers(0, catalogue.BLOCK_SAMPLES),
    st.integers(0, curve.K_MAX),
    st.integers(-0x8000, 0x7FFF),
)
def test_any_bits(data, count, k, first):
    slow, quick = both(data, count, k, first)
    assert slow == quick


@settings(max_examples=200)
@given(
    st.lists(
        st.one_of(st.integers(4000, 4040), st.integers(-0x7FFF, 0x7FFF), st.just(curve.GAP)),
        min_size=1,
        max_size=catalogue.BLOCK_SAMPLES,
    ),
    st.data(),
)
def test_written_samples_and_cut_ones(samples, data):
    writer = curve.BlockWriter()
    for second, value in enumerate(samples):
        writer.sample(second * 1000, value)
    length = writer.finish_data(1, 1, 1000, 2100)
    raw = bytes(writer.buffer[:length])
    _, _, _, start, end = curve.parse_block(raw)
    head, _, _ = curve_data.parse_data(raw, start, end)
    bits = raw[end - head[7] :]
    assert fast(bits, len(samples), head[4], head[5]) == samples
    cut = data.draw(st.integers(0, len(bits)))
    slow, quick = both(bits[:cut], len(samples), head[4], head[5])
    assert slow == quick


@pytest.mark.parametrize("k", range(curve.K_MAX + 1))
@pytest.mark.parametrize("byte", [0x00, 0xFF, 0xAA, 0x0F])
def test_plain_patterns(k, byte):
    for length in range(30):
        for count in (0, 1, 2, 7, 60):
            slow, quick = both(bytes([byte]) * length, count, k, 0)
            assert slow == quick

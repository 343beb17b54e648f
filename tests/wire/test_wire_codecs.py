"""Board codec and construct compared on whatever hypothesis thinks of."""

import random

import pytest
import three_codecs as three
from hypothesis import given, settings
from hypothesis import strategies as st
from vector_files import record_of

from snapcurve.wire import catalogue, codec
from snapcurve.wire.errors import WireError

NAMES = [name for _, name, _ in catalogue.MESSAGES] + [
    "PROFILE_HEAD", "PHASE", "CALIBRATION_HEAD", "CALIBRATION_POINT", "CURVE_ROW",
    "BLOCK_HEAD", "CURVE_HEAD", "DATA_HEAD", "EVENT", "CLOCK_BLOCK", "END_BLOCK",
]  # fmt: skip
BITS = {"b": 8, "B": 8, "h": 16, "H": 16, "i": 32, "I": 32}


def good_value(field):
    """A strategy for values of ``field`` that the catalogue allows."""
    code = field[1]
    if code == "*":
        return st.binary(max_size=field[2])
    if code[-1] == "s":
        text = st.text(st.characters(exclude_characters="\0", codec="utf-8"))
        return text.filter(lambda value: len(value.encode()) <= int(code[:-1]))
    if len(field) == 3:
        return st.sampled_from(list(field[2]))
    bits = BITS[code]
    low = -(1 << bits - 1) if code.islower() else 0
    return st.integers(low, low + (1 << bits) - 1)


def any_value(field):
    """Good ones, and ones just and far outside of what is allowed."""
    strange = st.one_of(
        st.none(),
        st.integers(-(2**33), 2**33),
        st.sampled_from([-1, 256, 32768, -32769, 65536, 2**32]),
        st.floats(allow_nan=True),
        st.text(max_size=40),
        st.text(st.characters(categories=["Cs", "Ll"]), max_size=4),
        st.binary(max_size=40),
    )
    return st.one_of(good_value(field), strange)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=20)
@given(data=st.data())
def test_good_values_go_both_ways(name, data):
    values = [data.draw(good_value(field)) for field in record_of(name)]
    payload = three.board_pack(name, values)
    assert payload is not None
    assert three.host_pack(name, values) == payload
    assert three.board_parse(name, payload) == values
    assert three.host_parse(name, payload) == values


@pytest.mark.parametrize("name", [name for name in NAMES if record_of(name)])
@settings(max_examples=30)
@given(data=st.data())
def test_any_values_are_taken_or_refused_by_both(name, data):
    values = [data.draw(any_value(field)) for field in record_of(name)]
    assert three.board_pack(name, values) == three.host_pack(name, values)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=30)
@given(data=st.data())
def test_any_bytes_are_taken_or_refused_by_both(name, data):
    size = codec.fixed_size(record_of(name))
    payload = data.draw(
        st.one_of(
            st.binary(min_size=size, max_size=size),
            st.binary(max_size=size + 3),
            # Small numbers, so that choices are often right and texts often end.
            st.lists(st.integers(0, 9), min_size=size, max_size=size + 2).map(bytes),
        )
    )
    values = three.board_parse(name, payload)
    assert values == three.host_parse(name, payload)
    if values is not None:
        assert three.board_pack(name, values) == payload


def test_micropython_agrees_on_random_bytes():
    """The same payloads and the same refusals, code and field included, 150 a message."""
    chance = random.Random(20250101)
    lines, wanted = [], []
    for name in NAMES:
        record = record_of(name)
        size = codec.fixed_size(record)
        for _ in range(150):
            length = max(0, size + chance.choice((0, 0, 0, 0, -1, 1, 5)))
            top = chance.choice((3, 9, 255))
            payload = bytes(chance.randint(0, top) for _ in range(length))
            lines.append(three.line_of("parse", name, payload))
            try:
                wanted.append(codec.unpack(record, payload))
            except WireError as error:
                wanted.append((error.code, error.field))
    got = three.under_micropython(lines)
    refused = sum(isinstance(answer, tuple) for answer in got)
    assert 0.1 < refused / len(got) < 0.9, "too few of one kind to mean much"
    assert got == wanted
    packs = [
        three.line_of("pack", line_name, answer)
        for line_name, answer in zip([n for n in NAMES for _ in range(150)], got, strict=True)
        if isinstance(answer, list)
    ]
    payloads = [
        bytes.fromhex(line.rsplit('"', 2)[1])
        for line, answer in zip(lines, got, strict=True)
        if isinstance(answer, list)
    ]
    assert three.under_micropython(packs) == payloads

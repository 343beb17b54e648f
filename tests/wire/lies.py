"""What hypothesis makes a board say: records with any numbers, and curves of such blocks."""

import sys
from pathlib import Path

from hypothesis import strategies as st

from snapcurve.wire import catalogue

sys.path.append(str(Path(__file__).parent))
from lying_bytes import (
    WORST,
    block,
    calibration_of,
    curve_of,
    data_body,
    packed,
    profile_of,
)

RECORDS = {
    "clock": catalogue.CLOCK_BLOCK,
    "end": catalogue.END_BLOCK,
    "probe": catalogue.PROBE,
}
_SIZES = {"b": 1, "B": 1, "h": 2, "H": 2, "i": 4, "I": 4}
TEXTS = st.one_of(
    st.just(WORST), st.just(""), st.text(max_size=12), st.binary(max_size=34), st.just("pico")
)


def numbers(code: str):
    """What a number of the catalogue can be: mostly its ends, none, and small ones."""
    bits = 8 * _SIZES[code]
    signed = code.islower()
    low, high = (-(1 << bits - 1), (1 << bits - 1) - 1) if signed else (0, (1 << bits) - 1)
    ends = [low, high, 0, 1, 2, 100, 255]
    return st.one_of(
        st.sampled_from([n for n in ends if low <= n <= high]), st.integers(low, high)
    )


def field(row):
    """Any value of a field of the catalogue, words that are none included."""
    code = row[1]
    if code == "*":
        return st.binary(max_size=min(row[2], 200))
    if code.endswith("s"):
        return TEXTS
    if len(row) == 3:
        return st.one_of(st.sampled_from(list(row[2])), st.integers(0, 255))
    return numbers(code)


def records(record):
    """Some fields of ``record`` with any values."""
    rows = {row[0]: row for row in record}
    return st.fixed_dictionaries({}, optional={name: field(row) for name, row in rows.items()})


def sane(name: str):
    """Any value that a board of this protocol may have for a word."""
    return st.sampled_from(list(getattr(catalogue, name)))


CENTI_C = st.one_of(
    st.integers(1000, 6000), st.sampled_from([-32768, -32767, 32767, 0, 3000, 3200, 4500])
)
PHASES = st.lists(
    st.fixed_dictionaries(
        {
            "kind": sane("PHASE_KINDS"),
            "direction": sane("DIRECTIONS"),
            "target_centi_c": CENTI_C,
            "low_centi_c": CENTI_C,
            "high_centi_c": CENTI_C,
        }
    ),
    min_size=1,
    max_size=9,
)
PROFILES = st.one_of(
    st.builds(profile_of, couverture=TEXTS),
    st.builds(profile_of, couverture=TEXTS, method=st.sampled_from(["cup", "hold"])),
    st.builds(profile_of, couverture=TEXTS, method=sane("METHODS")),
    st.builds(profile_of, couverture=TEXTS, phases=PHASES, method=sane("METHODS")),
    st.builds(
        lambda head, phases: (
            packed(catalogue.PROFILE_HEAD, head)
            + b"".join(packed(catalogue.PHASE, one) for one in phases)
        ),
        records(catalogue.PROFILE_HEAD),
        st.lists(records(catalogue.PHASE), max_size=9),
    ),
    st.binary(max_size=256),
).map(lambda raw: raw[: catalogue.PROFILE_MAX])
POINTS = st.lists(
    st.fixed_dictionaries(
        {
            "indicated_centi_c": st.integers(-5000, 25000),
            "correction_centi_c": st.integers(-1000, 1000),
            "step": sane("CALIBRATION_STEPS"),
            "unix_s": numbers("I"),
            "reference_limit_milli_c": numbers("H"),
            "spread_milli_c": numbers("H"),
            "readings": numbers("H"),
            "cold_junction_centi_c": numbers("h"),
        }
    ),
    max_size=6,
)
CALIBRATIONS = st.one_of(
    st.just(b""),
    st.builds(
        calibration_of,
        points=POINTS,
        set_unix_s=numbers("I"),
        tolerance_class=st.sampled_from([0, 1, 2, 3, 4, 255]),
        lag_unix_s=numbers("I"),
        lag_ms=numbers("H"),
        second_lag_ms=numbers("H"),
    ),
    st.binary(max_size=128),
).map(lambda raw: raw[: catalogue.CALIBRATION_MAX])

SAMPLES = st.one_of(
    st.lists(st.integers(-32767, 32767), max_size=20),
    st.integers(-32767, 32767).map(lambda value: [value] * 60),
    st.integers(1500, 6000).map(lambda value: [max(1000, value - 10 * at) for at in range(120)]),
)
EVENTS = st.lists(
    st.one_of(
        st.fixed_dictionaries(
            {
                "offset_ms": st.integers(0, 400_000),
                "kind": sane("EVENT_KINDS"),
                "code": st.one_of(st.integers(0, 20), numbers("H")),
                "phase": sane("PHASE_KINDS"),
                "estimate_centi_c": CENTI_C,
                "number": numbers("H"),
            }
        ),
        records(catalogue.EVENT),
    ),
    max_size=6,
)


@st.composite
def data_bodies(draw, start_ms: int):
    """The body of a data block that is mostly one."""
    said = {"start_ms": start_ms}
    said |= draw(
        st.one_of(
            st.just({}),
            st.just({}),
            st.fixed_dictionaries({"period_ms": st.sampled_from([250, 500, 1000, 60_000])}),
            records(catalogue.DATA_HEAD),
        )
    )
    return data_body(draw(SAMPLES), draw(EVENTS), **said)


@st.composite
def curves(draw):
    """A curve of blocks with right CRCs, or junk."""
    if draw(st.integers(0, 9)) == 0:
        return draw(st.binary(max_size=300))
    head = {"board_id": 7, "boot": 3, "unix_s": 1_795_600_000, "profile": draw(PROFILES)}
    head |= draw(st.one_of(st.just({}), st.just({}), records(catalogue.CURVE_HEAD)))
    if draw(st.booleans()):
        whole = {name: value for name, value in head.items() if name != "profile"}
        return curve_of(head["profile"], **whole)
    parts = [block("head", 1, 0, packed(catalogue.CURVE_HEAD, head))]
    for number in range(1, draw(st.integers(1, 6))):
        kind = draw(st.sampled_from(["data", "data", "data", "clock", "end", "probe", "junk"]))
        if kind == "data":
            body = draw(data_bodies(number * 60_000))
        elif kind == "junk":
            kind, body = draw(st.sampled_from(["data", "head"])), draw(st.binary(max_size=80))
        else:
            record = RECORDS[kind]
            body = packed(record, draw(records(record)))
        parts.append(block(kind, 1, number, body))
    return b"".join(parts)

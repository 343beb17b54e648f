"""The catalogue holds together, and does not change without a new protocol version."""

import hashlib
import re
from pathlib import Path

import pytest
from vector_files import record_of

from snapcurve.wire import catalogue, codec, curve, frame

RECORDS = [
    name
    for name, value in vars(catalogue).items()
    if name.isupper() and isinstance(value, tuple) and isinstance(value[0], tuple)
    if name != "MESSAGES" and not name.startswith("_")
]
VERSIONS = Path(__file__).parents[2] / "protocol" / "vectors" / "versions.txt"


def digest():
    """SHA-256 of everything the bytes on the line and in a curve depend on."""
    said = {
        name: value
        for name, value in vars(catalogue).items()
        if name.isupper() and not name.startswith("_") and name != "PROTOCOL_VERSION"
    }
    said["FAULT_BITS"] = tuple((1 << at, name) for at, name in enumerate(said.pop("FAULTS")))
    said |= {name: getattr(curve, name) for name in ("GAP", "ESCAPE", "RAW_BITS", "K_MAX")}
    return hashlib.sha256(repr(sorted(said.items())).encode()).hexdigest()


def stored():
    """Version to digest, as versions.txt has it."""
    lines = VERSIONS.read_text(encoding="utf-8").splitlines()
    rows = [line.split() for line in lines if line and not line.startswith("#")]
    assert len({row[0] for row in rows}) == len(rows), "a version stands twice"
    return {int(version): value for version, value in rows}


def test_that_a_changed_catalogue_has_a_new_version():
    assert stored().get(catalogue.PROTOCOL_VERSION) == digest(), (
        "the catalogue changed: raise PROTOCOL_VERSION and add a line to "
        f"{VERSIONS.name} with the new version and {digest()}"
    )


def test_that_versions_differ_and_the_last_is_in_use():
    rows = stored()
    assert len(set(rows.values())) == len(rows)
    assert max(rows) == catalogue.PROTOCOL_VERSION
    assert sorted(rows) == [1, 2, *range(6, max(rows) + 1)], "3 to 5 are commands to the prompt"


@pytest.mark.parametrize("name", [name for _, name, _ in catalogue.MESSAGES])
def test_that_the_digest_notices_any_row(monkeypatch, name):
    before = digest()
    changed = tuple(
        (*row[:2], (("more", "B"), *row[2])) if row[1] == name else row
        for row in catalogue.MESSAGES
    )
    monkeypatch.setattr(catalogue, "MESSAGES", changed)
    assert digest() != before


def test_that_the_digest_notices_a_record(monkeypatch):
    before = digest()
    monkeypatch.setattr(catalogue, "EVENT", (*catalogue.EVENT, ("more", "B")))
    assert digest() != before


@pytest.mark.parametrize("name", ["ALARMS", "MARKS", "FAULTS"])
def test_that_the_digest_notices_words_and_records(monkeypatch, name):
    before = digest()
    monkeypatch.setattr(catalogue, name, tuple(reversed(getattr(catalogue, name))))
    assert digest() != before


def all_fields():
    for _, name, record in catalogue.MESSAGES:
        yield name, record
    for name in RECORDS:
        yield name, getattr(catalogue, name)


@pytest.mark.parametrize(("name", "fields"), list(all_fields()))
def test_fields(name, fields):
    assert len({field[0] for field in fields}) == len(fields), "a field stands twice"
    for index, field in enumerate(fields):
        code = field[1]
        if code == "*":
            assert index == len(fields) - 1
            assert field[2] > 0
        elif len(field) == 3:
            assert code == "B"
            assert 0 < len(field[2]) <= 256
            assert len(set(field[2])) == len(field[2])
        else:
            assert len(field) == 2
            assert code in "bBhHiI" or code == "32s"


def test_numbers_and_names():
    numbers = [number for number, _, _ in catalogue.MESSAGES]
    names = [name for _, name, _ in catalogue.MESSAGES]
    assert len(set(numbers)) == len(numbers)
    assert len(set(names)) == len(names)
    for number, name, _ in catalogue.MESSAGES:
        assert catalogue.message_name(number) == name
        assert catalogue.message_number(name) == number
    for missing in (0x00, 0x7F, 0x80, 0xFE, 0x100):
        with pytest.raises(KeyError):
            catalogue.message_name(missing)
        with pytest.raises(KeyError):
            catalogue.message_record(missing)
    with pytest.raises(KeyError):
        catalogue.message_number("goodbye")


def test_that_every_request_has_its_answer():
    for number, name, _ in catalogue.MESSAGES:
        if number < catalogue.LIVE:
            assert catalogue.message_name(number | catalogue.ANSWER) == name + "_answer"
        elif number not in (catalogue.LIVE, catalogue.ERROR):
            asked = catalogue.message_name(number & ~catalogue.ANSWER)
            assert name == asked + "_answer"


def test_that_every_payload_fits():
    for _, name, record in catalogue.MESSAGES:
        longest = codec.fixed_size(record)
        if record and record[-1][1] == "*":
            longest += record[-1][2]
        assert longest <= catalogue.PAYLOAD_MAX, name
    row = codec.fixed_size(catalogue.CURVE_ROW)
    rows = record_of("curves_list_answer")[-1]
    assert rows[2] == catalogue.CURVE_ROWS_MAX * row
    profile = codec.fixed_size(catalogue.PROFILE_HEAD)
    profile += catalogue.PHASES_MAX * codec.fixed_size(catalogue.PHASE)
    assert profile <= catalogue.PROFILE_MAX
    calibration = codec.fixed_size(catalogue.CALIBRATION_HEAD)
    calibration += catalogue.CALIBRATION_POINTS_MAX * codec.fixed_size(catalogue.CALIBRATION_POINT)
    put = record_of("calibration_get_answer")[-1]
    assert calibration <= put[2]


def test_sizes_of_frames_and_blocks():
    assert catalogue.BODY_MAX == 1047
    assert frame.FRAME_MAX == 1054
    head = codec.fixed_size(catalogue.BLOCK_HEAD) + 4
    bits = catalogue.BLOCK_SAMPLES * (curve.ESCAPE + curve.RAW_BITS)
    worst = head + codec.fixed_size(catalogue.DATA_HEAD) + (bits + 7) // 8
    worst += catalogue.BLOCK_EVENTS_MAX * codec.fixed_size(catalogue.EVENT)
    assert worst <= catalogue.BLOCK_MAX
    longest_head = head + codec.fixed_size(catalogue.CURVE_HEAD) + catalogue.PROFILE_MAX
    assert longest_head <= catalogue.BLOCK_MAX


def test_faults():
    assert catalogue.fault_names(0) == []
    assert catalogue.fault_names(0x0401) == ["open", "frozen"]
    assert catalogue.fault_names(0xFFFF) == list(catalogue.FAULTS)
    for place, name in enumerate(catalogue.FAULTS):
        assert catalogue.fault_bit(name) == 1 << place
    with pytest.raises(ValueError, match="not in tuple"):
        catalogue.fault_bit("tired")


WORDS = [
    name
    for name, value in vars(catalogue).items()
    if name.isupper() and isinstance(value, tuple) and isinstance(value[0], str)
]


@pytest.mark.parametrize("name", WORDS)
def test_words_are_words_and_none_stands_twice(name):
    words = getattr(catalogue, name)
    assert len(set(words)) == len(words)
    assert all(re.fullmatch(r"\w[\w-]*", word) for word in words)

"""Three codecs and one set of hand-written vectors.

The board's codec under both interpreters and construct on the host must make and read
every row of messages.txt and refuse every row of rejected.txt.
"""

import pytest
import three_codecs as three
import vector_files
from vector_files import unhex, values_of

from snapcurve.wire import catalogue

GOOD = vector_files.rows("messages.txt")
BAD = vector_files.rows("rejected.txt")
RECORDS = {
    "PROFILE_HEAD", "PHASE", "PROBE", "CALIBRATION_HEAD", "CALIBRATION_POINT", "CURVE_ROW",
    "BLOCK_HEAD", "CURVE_HEAD", "DATA_HEAD", "EVENT", "CLOCK_BLOCK", "END_BLOCK", "CHAIN_END",
}  # fmt: skip


def test_that_every_message_and_record_has_a_good_row():
    names = {row[0] for row in GOOD}
    assert names == {name for _, name, _ in catalogue.MESSAGES} | RECORDS


def test_that_every_message_that_can_be_wrong_has_a_bad_row():
    # Any bytes up to its limit are a profile or a calibration, so only longer ones are bad.
    assert {row[0] for row in BAD} == {name for _, name, _ in catalogue.MESSAGES} | RECORDS


def test_that_no_row_stands_twice():
    assert len({tuple(row) for row in GOOD}) == len(GOOD)
    assert len({tuple(row[:3]) for row in BAD}) == len(BAD)


@pytest.mark.parametrize("row", GOOD, ids=lambda row: " ".join(row)[:60])
def test_good_row(row):
    name, values, payload = row[0], values_of(row[0], row[1]), unhex(row[2])
    assert three.board_pack(name, values) == payload
    assert three.host_pack(name, values) == payload
    assert three.board_parse(name, payload) == values
    assert three.host_parse(name, payload) == values


@pytest.mark.parametrize("row", BAD, ids=lambda row: f"{row[0]} {row[1]}: {row[4]}")
def test_bad_row(row):
    name, how, given = row[:3]
    if how == "parse":
        assert three.board_parse(name, unhex(given)) is None
        assert three.host_parse(name, unhex(given)) is None
    else:
        assert three.board_pack(name, values_of(name, given)) is None
        assert three.host_pack(name, values_of(name, given)) is None


def test_all_rows_under_micropython():
    lines, wanted = [], []
    for name, text, payload in GOOD:
        values = values_of(name, text)
        lines.append(three.line_of("pack", name, values))
        wanted.append(unhex(payload))
        lines.append(three.line_of("parse", name, unhex(payload)))
        wanted.append(values)
    for name, how, given, refusal, _ in BAD:
        parsed = unhex(given) if how == "parse" else values_of(name, given)
        lines.append(three.line_of(how, name, parsed))
        wanted.append(vector_files.refusal_of(refusal))
    assert three.under_micropython(lines) == wanted

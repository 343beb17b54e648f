"""The board's catalogue: the same rows without names."""

import pytest

from snapcurve.building.sources import firmware_files
from snapcurve.building.terse import CATALOGUE, NAMELESS, terse
from wire import catalogue

TEXT = firmware_files()[CATALOGUE].read_text(encoding="utf-8")
TERSE: dict = {"__name__": "terse catalogue"}
exec(terse(TEXT), TERSE)
RECORDS = ("PROFILE_HEAD", "PHASE", "CALIBRATION_HEAD", "CALIBRATION_POINT", "CURVE_ROW",
           "MOMENT", "READING", "BLOCK_HEAD", "CURVE_HEAD", "DATA_HEAD", "EVENT", "CLOCK_BLOCK",
           "END_BLOCK")  # fmt: skip


def nameless(fields):
    """What the board works with: code, and longest or words."""
    return [
        (code, *[one if isinstance(one, int) else [one[at] for at in range(len(one))]
                 for one in more])
        for _, code, *more in fields
    ]  # fmt: skip


@pytest.mark.parametrize("name", RECORDS)
def test_each_record_is_the_same_but_for_names(name):
    ours = TERSE["fields"](TERSE[name])
    assert nameless(ours) == nameless(catalogue.fields(getattr(catalogue, name)))
    assert {field[0] for field in ours} == {NAMELESS}


def test_each_message_is_the_same_but_for_names():
    theirs = list(catalogue.messages())
    ours = list(TERSE["messages"]())
    assert [row[:2] for row in ours] == [row[:2] for row in theirs]
    for (_, _, terse_record), (_, _, record) in zip(ours, theirs, strict=True):
        assert nameless(TERSE["fields"](terse_record)) == nameless(catalogue.fields(record))


def test_the_lists_are_the_same_and_can_be_gone_through():
    for name, words in vars(catalogue).items():
        if isinstance(words, catalogue.Words):
            assert list(TERSE[name]) == list(words)
            assert "__iter__" not in vars(type(TERSE[name]))


def test_lines_stay_where_they_are():
    before, after = TEXT.splitlines(), terse(TEXT).splitlines()
    assert len(before) == len(after)
    for old, new in zip(before, after, strict=True):
        if old.startswith(("def ", "    def _", "class ")) and new != "    pass":
            assert old == new

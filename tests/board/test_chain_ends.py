"""The board as a witness of notebooks: what it was told stays, the newest of each, also without
power."""

import pytest
from test_board_requests import Rig

from snapcurve.probe import chain_ends
from snapcurve.wire import catalogue, codec

HASH = "0123456789abcdef" * 2


def told(rig):
    (raw,) = map(bytes, rig.ask("chain_ends_get"))
    rows = [raw[at : at + 40] for at in range(0, len(raw), 40)]
    return [tuple(codec.unpack(catalogue.CHAIN_END, row)) for row in rows]


@pytest.fixture
def rig(tmp_path):
    return Rig(tmp_path)


def test_the_newest_end_of_each_notebook_is_kept_over_a_restart(rig, tmp_path):
    assert told(rig) == []
    for notebook, number in ((1, 10), (2, 5), (1, 11)):
        assert rig.ask("chain_end_put", notebook, number, HASH) == []
    assert told(rig) == [(1, 11, HASH), (2, 5, HASH)]
    assert told(Rig(tmp_path)) == [(1, 11, HASH), (2, 5, HASH)]


def test_the_oldest_goes_when_there_are_too_many(rig):
    for notebook in range(6):
        rig.ask("chain_end_put", notebook, 1, HASH)
    assert [row[0] for row in told(rig)] == [5, 4, 3, 2]
    assert len(told(rig)) == catalogue.CHAIN_ENDS_MAX


def test_the_same_again_is_not_written_again(rig, monkeypatch):
    rig.ask("chain_end_put", 1, 10, HASH)
    monkeypatch.setattr(type(rig.app.store), "save", lambda *_: pytest.fail("written"))
    assert rig.ask("chain_end_put", 1, 10, HASH) == []


@pytest.mark.parametrize("raw", [b"", b"\1\2", b"\0" * 44, b"\xff" * 44])
def test_what_cannot_be_read_is_as_nothing(rig, raw):
    rig.app.store.save(chain_ends.NAME, raw)
    assert told(rig) == []
    rig.ask("chain_end_put", 1, 10, HASH)
    assert told(rig) == [(1, 10, HASH)]

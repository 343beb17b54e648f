"""The store on a plain folder: rows, power cuts, full and failing disks."""

import binascii
import builtins
import errno
import io
import os
import struct
from pathlib import Path

import pytest
from board_fakes import blocks_of, write_curve

from snapcurve.probe.store import ROOM_FOR_BATCH, Store
from snapcurve.recording.curve import decode


def opened(folder):
    store = Store(str(folder))
    store.start()
    return store


def facts(row):
    return (row.curve, row.boot, row.size, row.crc, row.generation, row.blocks)


def test_an_empty_store(tmp_path):
    store = opened(tmp_path)
    assert (store.boot, store.rows) == (1, [])
    assert store.load("profile") == b""
    assert store.calibration() == b""


def test_rows_are_the_same_after_a_restart(tmp_path):
    store = opened(tmp_path)
    rows = [facts(write_curve(store, blocks)) for blocks in (1, 5, 3)]
    again = opened(tmp_path)
    assert [facts(row) for row in again.rows] == rows
    assert again.boot == 2
    for row in again.rows:
        raw = (tmp_path / f"c{row.curve:05d}").read_bytes()
        assert row.crc == binascii.crc32(raw)
        assert row.size == len(raw)
        assert not row.open


def test_generations_differ(tmp_path):
    store = opened(tmp_path)
    generations = {write_curve(store).generation for _ in range(5)}
    assert len(generations) == 5


def test_a_curve_number_is_never_used_twice(tmp_path):
    store = opened(tmp_path)
    for _ in range(3):
        write_curve(store)
    for row in list(store.rows):
        store.erase(row)
    assert write_curve(opened(tmp_path)).curve == 4


def test_counters_survive(tmp_path):
    for boot in range(1, 6):
        assert opened(tmp_path).boot == boot


@pytest.mark.parametrize("raw", [b"", b"short", b"\xff" * 12, bytes(12), b"x" * 13])
def test_damaged_counters_do_not_bring_back_an_old_number(tmp_path, raw):
    store = opened(tmp_path)
    for _ in range(3):
        write_curve(store)
    (tmp_path / "counters").write_bytes(raw)
    again = opened(tmp_path)
    assert len(again.rows) == 3
    assert write_curve(again).curve == 4


def test_counters_are_two_numbers_and_their_crc(tmp_path):
    store = opened(tmp_path)
    write_curve(store)
    raw = (tmp_path / "counters").read_bytes()
    assert struct.unpack("<II", raw[:8]) == (1, 2)
    assert struct.unpack("<I", raw[8:])[0] == binascii.crc32(raw[:8])


# --- power cuts -----------------------------------------------------------------------


def test_a_torn_tail_is_no_part_of_the_curve(tmp_path):
    """Cut at every length: what counts is the last whole block before the cut."""
    store = opened(tmp_path)
    row = write_curve(store, 3)
    path = tmp_path / "c00001"
    raw = path.read_bytes()
    ends, at = [0], 0
    for _ in range(row.blocks):
        at += struct.unpack_from("<H", raw, at + 2)[0]
        ends.append(at)
    for cut in range(len(raw)):
        path.write_bytes(raw[:cut])
        again = opened(tmp_path)
        whole = max(end for end in ends if end <= cut)
        if whole == 0:
            assert again.rows == []
            continue
        assert again.rows[0].size == whole
        assert again.rows[0].crc == binascii.crc32(raw[:whole])


@pytest.mark.parametrize("tail", [b"\xff" * 600, bytes(600), b"\xc5" * 600])
def test_rubbish_behind_the_last_block_is_no_part_either(tmp_path, tail):
    store = opened(tmp_path)
    row = write_curve(store, 2)
    with (tmp_path / "c00001").open("ab") as file:
        file.write(tail)
    assert facts(opened(tmp_path).rows[0]) == facts(row)


def test_a_flipped_bit_costs_its_block_only(tmp_path):
    """The blocks behind it stay with the curve; the host counts what is missing."""
    store = opened(tmp_path)
    write_curve(store, 3)
    path = tmp_path / "c00001"
    raw = bytearray(path.read_bytes())
    first = struct.unpack_from("<H", raw, 2)[0]
    second = first + struct.unpack_from("<H", raw, first + 2)[0]
    raw[second + 20] ^= 0x10
    path.write_bytes(raw)
    (row,) = opened(tmp_path).rows
    assert (row.size, row.crc) == (len(raw), binascii.crc32(raw))
    assert decode(bytes(raw)).lost_blocks == 1


def test_a_head_that_went_bad_hides_no_curve(tmp_path):
    store = opened(tmp_path)
    write_curve(store, 3)
    path = tmp_path / "c00001"
    raw = bytearray(path.read_bytes())
    raw[20] ^= 0x10
    path.write_bytes(raw)
    (row,) = opened(tmp_path).rows
    assert (row.size, row.crc) == (len(raw), binascii.crc32(raw))


def test_what_a_power_cut_left_unfinished_is_removed(tmp_path):
    store = opened(tmp_path)
    keep = facts(write_curve(store, 2))
    for name, content in (
        ("c00007", b""),
        ("c00008", (tmp_path / "c00001").read_bytes()[:30]),
        ("c00009", b"\xff" * 5000),
        ("profile.new", b"half"),
    ):
        (tmp_path / name).write_bytes(content)
    (tmp_path / "notes.txt").write_text("somebody's")
    again = opened(tmp_path)
    assert [facts(row) for row in again.rows] == [keep]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["c00001", "counters", "notes.txt"]
    assert write_curve(again).curve == 10  # their numbers are not given again


def test_a_block_of_another_curve_is_no_part(tmp_path):
    store = opened(tmp_path)
    write_curve(store, 1)
    row = write_curve(store, 1)
    with (tmp_path / "c00001").open("ab") as file:
        file.write((tmp_path / "c00002").read_bytes())
    again = opened(tmp_path)
    assert [one.size for one in again.rows] == [row.size, row.size]


def block_at(raw, index):
    """Where block ``index`` of a curve begins and ends."""
    start = end = 0
    for _ in range(index + 1):
        start = end
        end += struct.unpack_from("<H", raw, start + 2)[0]
    return raw[start:end]


@pytest.mark.parametrize(("curve", "index"), [(1, 1), (1, 0), (2, 2)])
def test_a_good_block_in_the_wrong_place_is_no_part(tmp_path, curve, index):
    """The last block once more, the first once more, the next block of another curve."""
    store = opened(tmp_path)
    row = facts(write_curve(store, 1))
    write_curve(store, 2)
    extra = block_at((tmp_path / f"c{curve:05d}").read_bytes(), index)
    with (tmp_path / "c00001").open("ab") as file:
        file.write(extra)
    assert facts(opened(tmp_path).rows[0]) == row


def test_a_curve_that_was_open_at_the_cut_is_found_closed(tmp_path):
    store = opened(tmp_path)
    row = write_curve(store, 2, end=False)
    assert row.open
    again = opened(tmp_path)
    assert facts(again.rows[0]) == facts(row)
    assert not again.rows[0].open
    assert write_curve(again).curve == 2


def test_an_empty_file_is_a_normal_state(tmp_path):
    store = opened(tmp_path)
    store.begin()
    again = opened(tmp_path)
    assert again.rows == []
    assert write_curve(again).curve == 2


def test_settings_are_replaced_in_one_step(tmp_path, monkeypatch):
    """Power lost at any point leaves the old or the new profile, never none."""
    store = opened(tmp_path)
    store.save("profile", b"old")

    def no_power(*_):
        raise OSError(errno.EIO)

    monkeypatch.setattr(os, "replace", no_power)
    with pytest.raises(OSError, match="5"):
        store.save("profile", b"new")
    monkeypatch.undo()
    assert opened(tmp_path).load("profile") == b"old"
    store.save("profile", b"new")
    assert opened(tmp_path).load("profile") == b"new"


# --- reading and erasing --------------------------------------------------------------


def test_reading_in_pieces(tmp_path):
    store = opened(tmp_path)
    row = write_curve(store, 4, end=False)
    for piece in (1, 7, 100, 1024):
        raw, buffer = b"", bytearray(1024)
        while len(raw) < row.size:
            got = store.read_into(row, len(raw), buffer, 0, piece)
            raw += bytes(buffer[:got])
        assert binascii.crc32(raw) == row.crc
        assert store.read_into(row, row.size, buffer, 0, piece) == 0
        assert store.read_into(row, row.size + 5, buffer, 0, piece) == 0


def test_an_open_curve_can_be_read_while_it_grows(tmp_path):
    store = opened(tmp_path)
    row = write_curve(store, 2, end=False)
    buffer = bytearray(2000)
    got = store.read_into(row, 0, buffer, 0, 2000)
    assert [kind for kind, *_ in blocks_of(bytes(buffer[:got]))] == ["head", "data", "data"]


def test_erased_is_gone_for_good(tmp_path):
    store = opened(tmp_path)
    write_curve(store)
    keep = facts(write_curve(store))
    store.erase(store.row(1))
    assert store.row(1) is None
    assert [facts(row) for row in opened(tmp_path).rows] == [keep]


# --- full and failing -----------------------------------------------------------------


def test_room_is_asked_for_a_whole_batch(tmp_path, monkeypatch):
    store = opened(tmp_path)
    assert store.has_room()
    for free, room in ((ROOM_FOR_BATCH // 4096, True), (ROOM_FOR_BATCH // 4096 - 1, False)):
        monkeypatch.setattr(os, "statvfs", lambda _path, free=free: (4096, 4096, 999, free))
        assert store.has_room() is room


def test_so_many_curves_and_no_more(tmp_path):
    """Two batches a day for a month without a computer; and a list that a board has memory for."""
    store = opened(tmp_path)
    while store.has_room() and len(store.rows) < 200:
        write_curve(store, 0)
    assert 60 <= len(store.rows) <= 100
    store.erase(store.rows[0])
    assert store.has_room()


def curve_files(monkeypatch, number, file):
    """From now on the curve of this number is opened as ``file(path)``."""
    real_open = open

    def opened_as(path, mode):
        return file(path) if path.endswith(f"c{number:05d}") else real_open(path, mode)

    monkeypatch.setattr(builtins, "open", opened_as)


class FullFile:
    """A file whose flash is full from some byte on."""

    def __init__(self, path, room):
        self._file = Path(path).open("wb", buffering=0)  # noqa: SIM115
        self._room = room

    def write(self, data):
        data = bytes(data)
        self._file.write(data[: self._room])
        short = len(data) > self._room
        self._room -= min(len(data), self._room)
        if short:
            raise OSError(errno.ENOSPC)
        return len(data)

    def flush(self):
        pass

    def close(self):
        self._file.close()
        raise OSError(errno.ENOSPC)


@pytest.mark.parametrize("spare", [0, 1, 20, 50])
def test_full_in_the_middle_of_a_block(tmp_path, monkeypatch, spare):
    """The row says what is whole, and a restart finds the same."""
    store = opened(tmp_path)
    room = write_curve(store, 2).size + spare
    curve_files(monkeypatch, 2, lambda path: FullFile(path, room))
    with pytest.raises(OSError, match="28"):
        write_curve(store, 5)
    with pytest.raises(OSError, match="28"):
        store.end()
    row = store.row(2)
    assert (row.open, row.blocks, row.size) == (False, 3, room - spare)
    monkeypatch.undo()
    found = opened(tmp_path).row(2)
    assert (found.size, found.crc) == (row.size, row.crc)
    assert write_curve(opened(tmp_path)).curve == 3


class ShortFile(io.BytesIO):
    """A file that takes a byte less than it is given."""

    def write(self, data):
        return super().write(data) - 1


def test_a_short_write_is_an_error(tmp_path, monkeypatch):
    store = opened(tmp_path)
    curve_files(monkeypatch, 1, lambda _path: ShortFile())
    store.begin()
    with pytest.raises(OSError, match="28"):
        store.append(bytearray(100), 100)
    store.end()
    assert store.rows == []


def test_a_store_that_could_not_look_opens_nothing(tmp_path, monkeypatch):
    """Its next number might belong to a curve that is there: that one would be lost."""
    before = facts(write_curve(opened(tmp_path)))

    def fails(_path):
        raise OSError(errno.EIO)

    (tmp_path / "counters").unlink()
    monkeypatch.setattr(os, "listdir", fails)
    store = Store(str(tmp_path))
    with pytest.raises(OSError, match="5"):
        store.start()
    with pytest.raises(OSError, match="5"):
        store.begin()
    monkeypatch.undo()
    assert facts(opened(tmp_path).rows[0]) == before


def test_ending_twice_is_harmless(tmp_path):
    store = opened(tmp_path)
    write_curve(store)
    store.end()
    assert len(store.rows) == 1

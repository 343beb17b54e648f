"""Downloads over lines that damage, drop, double and delay: a whole curve or a sentence.

Board and host are the real ones; time is virtual, so all of it is repeatable.
"""

import zlib
from collections import Counter

import pytest
from curve_maker import record
from damaging_wire import FIFO, Wire

from snapcurve.board.client import ANSWER_WAIT_S, TRIES, Board
from snapcurve.board.download import GIVE_UP_S, SILENT_S, Download, download
from snapcurve.errors import LinkError, NoAnswer
from tests.how_many import cases

GROUPS = 10
DOWNLOADS = cases(600, 2000)
CONVERSATIONS = 150
SPOILT = 0.01
LONGEST_DELAY_MS = 2000
DELAYED = (0.02, 0.3, 1.0)  # share of the pieces of an answer
BAUD = 115_200
LATENCY_MS = 5.0


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """A folder with one curve of 20 minutes; the folder and the curve's bytes."""
    folder = tmp_path_factory.mktemp("board")
    record(folder, 1200)
    return folder, (folder / "c00001").read_bytes()


def bad_wire(folder, seed, rate=SPOILT):
    return Wire(folder, seed, rate, DELAYED[seed % len(DELAYED)], LONGEST_DELAY_MS)


@pytest.mark.parametrize("group", range(GROUPS))
def test_seeded_downloads(recorded, group):
    """Each ends with the very bytes, or with a sentence in the stated time."""
    folder, raw = recorded
    ends: Counter[str] = Counter()
    spoilt = 0
    for seed in range(group, DOWNLOADS, GROUPS):
        wire = bad_wire(folder, seed, rate=0.0)
        board = Board(wire, wire.clock)
        board.hello()
        (row,) = board.curves()
        wire.damage.rate = SPOILT
        last_s = [wire.clock(), 0.0]  # of progress, and the longest time without

        def progress(_got, _total, last_s=last_s, wire=wire):
            last_s[:] = [wire.clock(), max(last_s[1], wire.clock() - last_s[0])]

        try:
            assert download(board, row, progress) == raw
            ends["exact"] += 1
        except NoAnswer as error:
            ends["sentence"] += "collect once more" in str(error)
        longest_s = max(last_s[1], wire.clock() - last_s[0])
        assert longest_s <= GIVE_UP_S + ANSWER_WAIT_S
        spoilt += wire.damage.spoilt
    assert ends.total() == DOWNLOADS // GROUPS
    assert ends["exact"] >= 0.97 * ends.total(), ends
    assert spoilt > ends.total() * 15  # of more than a thousand bytes each, and the requests


def test_whole_conversations(recorded):
    """Greeting, list and erasing over such a line: done, or a sentence; never half."""
    folder, raw = recorded
    done = told = 0
    longest_s = 0.0
    for seed in range(CONVERSATIONS):
        wire = bad_wire(folder, seed)
        wire.store.erase = wire.store.rows.remove  # the file stays for the next one
        board = Board(wire, wire.clock)
        begun_s = wire.clock()
        try:
            board.hello()
            (row,) = board.curves()
            assert (row.size, row.crc) == (len(raw), zlib.crc32(raw))
            begun_s = None
            got = download(board, row)
            assert got == raw
            begun_s = wire.clock()
            board.erase(row)
            assert wire.store.rows == []
            done += 1
        except LinkError as error:
            told += bool(str(error))
            if begun_s is not None:
                longest_s = max(longest_s, wire.clock() - begun_s)
    assert done + told == CONVERSATIONS
    assert done >= 0.6 * CONVERSATIONS
    assert longest_s <= 3 * TRIES * ANSWER_WAIT_S


def test_what_has_come_is_not_asked_for_again(recorded):
    """The port fails in mid-download; the rest comes over another one."""
    folder, raw = recorded
    wire = Wire(folder, baud=9600)
    board = Board(wire, wire.clock)
    board.hello()
    (row,) = board.curves()
    running = Download(row)
    running._chunk = 128

    class Unplugged(Exception):
        pass

    read = wire.read

    def unplugged():
        if running.missing() < row.size // 2:
            raise Unplugged
        return read()

    wire.read = unplugged
    with pytest.raises(Unplugged):
        running.run(board)
    left = running.missing()
    assert 0 < left < row.size // 2
    again = Wire(folder)
    board = Board(again, again.clock)
    board.hello()
    before = again.up.sent
    assert running.run(board) == raw
    assert again.up.sent - before < left * 1.5


def test_a_silent_board_is_given_up_in_the_stated_time(recorded):
    folder, _ = recorded
    wire = Wire(folder)
    board = Board(wire, wire.clock)
    board.hello()
    (row,) = board.curves()
    wire.link.step = lambda now_ms: setattr(wire.link, "_due_ms", now_ms + 50)
    begun_s = wire.clock()
    with pytest.raises(NoAnswer, match=f"0 of {row.size} bytes"):
        download(board, row)
    assert SILENT_S <= wire.clock() - begun_s <= SILENT_S + 1


def test_another_curve_of_the_same_number_is_noticed(recorded):
    folder, _ = recorded
    wire = Wire(folder)
    board = Board(wire, wire.clock)
    board.hello()
    (row,) = board.curves()
    wire.store.rows[0].generation += 1
    with pytest.raises(LinkError, match="changed while it was read"):
        download(board, row)


def test_a_board_that_lies_about_its_crc_is_noticed(recorded):
    folder, _ = recorded
    wire = Wire(folder)
    wire.store.rows[0].crc ^= 1
    board = Board(wire, wire.clock)
    (row,) = board.curves()
    with pytest.raises(LinkError, match="damaged"):
        download(board, row)


# --- how much of the line a download uses ----------------------------------------------


def test_little_more_than_the_curve_is_on_the_wire(tmp_path):
    """Both directions, requests included, over a four-hour curve: at most 1.08; and with
    5 ms each way at 115,200 baud at least 90 % of the line's bytes are the curve's."""
    record(tmp_path, 4 * 3600)
    wire = Wire(tmp_path, baud=BAUD, latency_ms=LATENCY_MS)
    board = Board(wire, wire.clock)
    board.hello()
    (row,) = board.curves()
    up, down, begun_s = wire.up.sent, wire.down.sent, wire.clock()
    download(board, row)
    on_the_wire = wire.up.sent - up + wire.down.sent - down
    assert on_the_wire <= 1.08 * row.size
    assert row.size / (wire.clock() - begun_s) >= 0.9 * BAUD / 10


def download_s(wire, live):
    board = Board(wire, wire.clock)
    board.hello()
    (row,) = board.curves()
    board.live(live)
    begun_s = wire.clock()
    download(board, row)
    lasted_s = wire.clock() - begun_s
    came = []
    while (reading := board.next_live()) is not None:
        came.append(reading)
    return lasted_s, came


def test_live_readings_and_downloads_do_not_delay_each_other(tmp_path):
    record(tmp_path, 4 * 3600)
    alone_s, none = download_s(Wire(tmp_path, baud=BAUD, latency_ms=LATENCY_MS), 0)
    both_s, came = download_s(Wire(tmp_path, baud=BAUD, latency_ms=LATENCY_MS), 200)
    assert none == []
    # A reading waits for the frame that is going out, a tenth of a second, and no longer.
    assert len(came) >= both_s / 0.3 - 1
    assert both_s <= 1.05 * alone_s


def test_the_line_is_never_asked_to_take_more_than_it_has_room_for(recorded):
    folder, _ = recorded
    wire = Wire(folder, baud=9600)
    board = Board(wire, wire.clock)
    (row,) = board.curves()
    seen = []
    put = wire.up.put

    def noted(now_ms, data, delay_ms=0.0):
        put(now_ms, data, delay_ms)
        seen.append(wire.up.backlog(now_ms))

    wire.up.put = noted
    download(board, row)
    assert max(seen) <= FIFO + 1

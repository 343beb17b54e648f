"""A board for the page's tests: answers like one, and shows and notes what a test wants."""

import queue
import sys
from contextlib import contextmanager
from pathlib import Path

from snapcurve.board import structs
from snapcurve.board.client import Board, Reading
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.page.standing import Standing, profile_of
from snapcurve.wire import catalogue
from snapcurve.wire.frame import FrameReader

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from lying_bytes import frame, packed

PLACE = {"chocolate": 1, "air": 2, "entering": 3}


def milk_profile() -> bytes:
    """Milk by seeding, as the board stores it."""
    return compile_profile(load("milk", user_folder()), "seeding")


def reading(**values) -> Reading:
    """A reading in the chocolate of a running batch; ``values`` replace fields."""
    usual = {
        "uptime_ms": 600_000,
        "age_ms": 100,
        "indicated_c": 31.2,
        "uncorrected_c": 31.2,
        "estimate_c": 31.1,
        "rate_c_per_min": 0.0,
        "room_c": 21.0,
        "faults": [],
        "place": "chocolate",
        "phase": "work",
        "state": "inside",
        "curve": 1,
        "sounding": "none",
    }
    return Reading(**{**usual, **values})


def standing(now_s=100.0, **values) -> Standing:
    """A bench that stands well at ``now_s``; ``values`` replace fields."""
    usual = {
        "port": "/dev/bench",
        "link": "up",
        "reading": reading(),
        "measured_s": now_s,
        "profile": profile_of(milk_profile()),
        "uncertainty_c": 1.93,
    }
    return Standing(**{**usual, **values})


class PageBoard:
    """The port of a board that answers every request. ``fields`` are those of its readings, in
    the wire's own units; ``marks`` what was noted, each token once; ``deaf`` counts marks whose
    answer gets lost."""

    name = "/dev/bench"

    def __init__(self):
        self.fields = {
            "uptime_s": 600,
            "age_ms": 100,
            "indicated_centi_c": 3120,
            "estimate_centi_c": 3110,
            "uncorrected_128ths": 3994,
            "room_centi_c": 2100,
            "place": PLACE["chocolate"],
            "phase": 4,
            "state": 4,
            "curve": 1,
            "window_left_s": catalogue.NO_SECONDS,
        }
        self.profile = milk_profile()
        self.rows: list[dict] = []  # its list of curves
        self.boot = 0
        self.total = 0  # how many curves it claims, if others than it lists
        self.marks: list[str] = []
        self.tokens: set[int] = set()
        self.deaf = 0
        self.opened = 0
        self.closed = 0
        self._out: queue.Queue[bytes] = queue.Queue()
        self._reader = FrameReader(self._on_frame)

    def _on_frame(self, _version, number, sequence, buffer, start, end):
        name = catalogue.message_name(number)
        record = catalogue.message_record(number + catalogue.ANSWER)
        values = {}
        if name == "mark":
            asked = structs.parse(catalogue.message_record(number), bytes(buffer[start:end]))
            token = asked["token"]
            if token not in self.tokens:
                self.tokens.add(token)
                self.marks.append(asked["mark"])
            if self.deaf:
                self.deaf -= 1
                return
            values = {"token": token, "uptime_s": self.fields["uptime_s"]}
        elif name == "profile_get":
            values = {"profile": self.profile}
        elif name == "reading_get":
            values = self.fields
        elif name == "hello":
            values = {"board_id": 7, "boot": self.boot}
        elif name == "curves_list":
            rows = b"".join(packed(catalogue.CURVE_ROW, one) for one in self.rows)
            values = {"total": self.total or len(self.rows), "rows": rows}
        self._out.put(frame(number + catalogue.ANSWER, sequence, packed(record, values)))

    def show(self, **fields):
        """Send a live reading with these fields changed."""
        self.fields.update(fields)
        self._out.put(frame(catalogue.LIVE, 0, packed(catalogue.READING, self.fields)))

    def write(self, data):
        self._reader.feed(data)

    def read(self):
        try:
            return self._out.get(timeout=0.02)
        except queue.Empty:
            return b""

    def close(self):
        self.closed += 1

    @contextmanager
    def connect(self):
        """In place of opening a port."""
        self.opened += 1
        board = Board(self)
        board.hello()
        try:
            yield board
        finally:
            self.close()

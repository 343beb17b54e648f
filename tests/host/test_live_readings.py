"""Following a board whose own clock is wrong: it ends, in bounded time of ours."""

import itertools
import json
import math
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from lying_bytes import frame, packed

from snapcurve.analysis.window_left import WindowLeft
from snapcurve.board.client import Board, Reading
from snapcurve.calibration.bath_readings import live_readings, record_response, wait_for_plateau
from snapcurve.calibration.plateau import PlateauDetector, plateau_rules
from snapcurve.commands import live
from snapcurve.errors import LinkError, ProbeError
from snapcurve.shown.units import PLAIN
from snapcurve.wire import catalogue
from snapcurve.wire.frame import FrameReader

EACH_S = 0.25
LONGEST_S = 300.0


class Port:
    """Answers every request and sends a reading each quarter of a second of ``now_s``, with
    the board's uptime as ``uptime_ms`` makes it of the time."""

    name = "/dev/odd"

    def __init__(self, uptime_ms, faults=0, value_128ths=lambda now_s: 2560):
        self.now_s = 0.0
        self._uptime_ms, self._faults, self._value = uptime_ms, faults, value_128ths
        self._answers = b""
        self._reader = FrameReader(self._on_frame)

    def clock(self):
        return self.now_s

    def _on_frame(self, _version, number, sequence, _buffer, _start, _end):
        record = catalogue.message_record(number + catalogue.ANSWER)
        answer = frame(number + catalogue.ANSWER, sequence, packed(record, {}))
        self._answers += answer

    def write(self, data):
        self._reader.feed(data)

    def read(self):
        self.now_s += EACH_S
        assert self.now_s < 2400, "it goes on for ever"
        uptime_ms = self._uptime_ms(self.now_s)
        values = {
            "uptime_s": uptime_ms // 1000,
            "uptime_ms": uptime_ms % 1000,
            "uncorrected_128ths": self._value(self.now_s),
            "room_centi_c": 2100,
            "faults": self._faults,
        }
        said, self._answers = self._answers, b""
        return said + frame(catalogue.LIVE, 0, packed(catalogue.READING, values))

    def close(self):
        pass


def plateau(port):
    detector = PlateauDetector(plateau_rules("ice", 1 / 128))
    readings = live_readings(Board(port, port.clock))
    never = lambda _taken: "not to be believed"  # noqa: E731
    return wait_for_plateau(readings, detector, never, LONGEST_S, lambda *_: None)


SWINGS = {"value_128ths": lambda now_s: 2560 + int(now_s) % 900}


@pytest.mark.parametrize(
    "uptime_ms",
    [
        lambda now_s: 5000,  # stands still
        lambda now_s: int(now_s * 10),  # a hundred times too slow
        lambda now_s: int(1e6 - now_s * 1000) % 10**6,  # runs backwards
        lambda now_s: int(now_s * 1000) % 1000,  # begins anew each second
    ],
    ids=["still", "slow", "backwards", "anew"],
)
@pytest.mark.parametrize("faults", [0, 1])
def test_a_board_whose_clock_does_not_run_is_told(uptime_ms, faults):
    port = Port(uptime_ms, faults, **SWINGS)
    with pytest.raises(LinkError, match="clock"):
        plateau(port)
    assert port.now_s < 60
    port = Port(uptime_ms, faults, **SWINGS)
    with pytest.raises(LinkError, match="clock"):
        record_response(live_readings(Board(port, port.clock)), lambda *_: None)
    assert port.now_s < 60


@pytest.mark.parametrize("speed", [0.2, 1, 5])
def test_a_board_that_is_rehearsed_slower_or_faster_is_waited_for(speed):
    """Its own time counts: five minutes of it."""
    port = Port(lambda now_s: int(now_s * 1000 * speed), **SWINGS)
    with pytest.raises(ProbeError, match="5 minutes"):
        plateau(port)
    assert port.now_s * speed == pytest.approx(LONGEST_S, rel=0.05)


def test_readings_go_on_for_a_board_that_is_right():
    port = Port(lambda now_s: int(now_s * 1000))
    found = list(itertools.islice(live_readings(Board(port, port.clock)), 4000))
    assert len(found) == 4000


class Lost:
    """A board that sends nothing, or whose port is gone."""

    port = Port(lambda now_s: 0)

    def __init__(self, error=None):
        self._error = error

    def next_live(self):
        if self._error:
            raise self._error


@pytest.mark.parametrize(("silent_s", "says"), [(1.0, ""), (2.0, "no reading for 2 s")])
def test_on_a_screen_no_number_outlives_its_reading(monkeypatch, capsys, silent_s, says):
    monkeypatch.setattr(live.time, "monotonic", lambda: 10.0)
    assert live._next(Lost(), 10.0 - silent_s, True) is None
    assert capsys.readouterr().out.endswith(says)


@pytest.mark.parametrize("error", [None, LinkError("gone")])
def test_when_the_line_is_lost_the_number_is_wiped(monkeypatch, capsys, error):
    monkeypatch.setattr(live.time, "monotonic", lambda: 10.0)
    with pytest.raises(LinkError):
        live._next(Lost(error), 3.0, True)
    assert capsys.readouterr().out.startswith("\r\x1b[K")
    with pytest.raises(LinkError):
        live._next(Lost(error), 3.0, False)
    assert capsys.readouterr().out == ""


def test_a_script_gets_a_range_of_what_is_left_and_no_single_number(capsys):
    """A bowl that cools by 0.3 °C a minute from 31 °C, watched for five; low edge 29 °C."""
    readings = (
        Reading(
            second * 1000,
            0,
            31 - 0.005 * second,
            None,
            31 - 0.005 * second,
            -0.3,
            21.0,
            [],
            "chocolate",
            "work",
            "inside",
            1,
            "none",
            400,
        )
        for second in range(300)
    )
    board = Lost()
    board.next_live = lambda: next(readings)
    live._show(
        board, PLAIN, math.inf, True, lambda one: one.uptime_ms == 299_000, WindowLeft(29, 31.5)
    )
    told = [json.loads(line)["window_left_s"] for line in capsys.readouterr().out.splitlines()]
    assert told[0] is None  # the drift is not known yet
    soonest_s, latest_s = told[-1]
    assert soonest_s < (31 - 0.005 * 299 - 29) / 0.005 < latest_s

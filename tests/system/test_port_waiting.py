"""Ports that are not free yet: how long each is waited for, and what is said meanwhile."""

import fcntl
import os
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace

import pytest
from pty_line import Line, assert_one_sentence

from snapcurve.board import connection
from snapcurve.board.client import Board, Hello
from snapcurve.board.ports import SERVICE_WAIT_S, SerialPort, Waiting
from snapcurve.errors import LinkError, NoAnswer

OTHER_PROGRAM = "Another program"


@dataclass
class Clock:
    """Time that passes by sleeping only; ``at`` are things that happen meanwhile."""

    at: dict[float, Callable[[], object]] = field(default_factory=dict)
    now_s: float = 0.0
    notes: list[str] = field(default_factory=list)

    def sleep(self, length_s: float) -> None:
        """Let it pass."""
        self.now_s += length_s
        for moment in [moment for moment in self.at if moment <= self.now_s]:
            self.at.pop(moment)()

    @property
    def waiting(self) -> Waiting:
        """Waiting by this clock."""
        return Waiting(clock=lambda: self.now_s, sleep=self.sleep, tell=self.notes.append)


@pytest.mark.usefixtures("ordinary_user")
def test_a_port_that_a_service_holds_is_waited_for(line: Line) -> None:
    line.take(True)
    clock = Clock({9.0: lambda: line.take(False)})
    SerialPort(line.name, clock.waiting).close()
    assert 9 <= clock.now_s < 10
    assert clock.notes == [f"{line.name} is not free yet: trying again for 15 s."]


@pytest.mark.usefixtures("ordinary_user")
def test_a_port_that_another_program_keeps_is_given_up(line: Line) -> None:
    line.take(True)
    clock = Clock()
    with pytest.raises(LinkError, match=OTHER_PROGRAM) as caught:
        SerialPort(line.name, clock.waiting)
    assert_one_sentence(caught.value)
    assert SERVICE_WAIT_S <= clock.now_s < SERVICE_WAIT_S + 1
    assert len(clock.notes) == 1


def test_a_new_port_gets_its_rights_a_moment_later(line: Line, request) -> None:
    request.getfixturevalue("ordinary_user")
    before = os.geteuid()

    def rights(mode: int) -> None:
        with suppress(PermissionError):
            os.seteuid(0)
        os.chmod(line.name, mode)
        os.seteuid(before)

    rights(0o000)
    clock = Clock({2.0: lambda: rights(0o666)})
    SerialPort(line.name, clock.waiting).close()
    assert 2 <= clock.now_s < 3
    assert len(clock.notes) == 1


def test_a_port_that_was_always_forbidden_is_refused_at_once(line: Line, request) -> None:
    os.chmod(line.name, 0o000)
    before = os.geteuid()
    if before == 0:
        os.seteuid(65534)
    try:
        clock = Clock()
        later = replace(clock.waiting, wall=lambda: time.time() + 2 * SERVICE_WAIT_S)
        with pytest.raises(LinkError, match=r"udev rule.*dialout") as caught:
            SerialPort(line.name, later)
    finally:
        os.seteuid(before)
    assert_one_sentence(caught.value)
    assert (clock.now_s, clock.notes) == (0, [])


def test_a_lock_of_another_snapcurve_is_waited_for_a_moment_only(line: Line) -> None:
    with open(line.name, "rb+", buffering=0) as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        clock = Clock()
        with pytest.raises(LinkError, match=OTHER_PROGRAM):
            SerialPort(line.name, clock.waiting)
        assert 0 < clock.now_s <= 1
        clock = Clock({0.5: lambda: fcntl.flock(other, fcntl.LOCK_UN)})
        SerialPort(line.name, clock.waiting).close()
    assert clock.notes == []


class Answering(Board):
    """Shakes hands as often as told: True greets, False is silence."""

    def __init__(self, port: SerialPort, answers: list[bool]):
        super().__init__(port)
        self.greeting = Hello("", 7, "", 0, 0)
        self._next = iter(answers)

    def hello(self) -> Hello:
        """See Board."""
        if not next(self._next):
            raise NoAnswer("nothing answers")
        return self.greeting


def test_a_board_that_is_silent_at_first_is_not_locked_out_by_ourselves(line: Line) -> None:
    board = Answering(SerialPort(line.name), [False, False, True])
    clock = Clock()
    assert connection.reconnect(board, line.name, 5, lambda: clock.now_s, clock.sleep)
    assert clock.now_s < 1
    board.port.close()


@pytest.mark.usefixtures("ordinary_user")
def test_a_board_that_is_back_and_held_by_a_service_is_waited_for(line: Line) -> None:
    board = Answering(SerialPort(line.name), [True])
    board.port.close()
    line.take(True)
    clock = Clock({12.0: lambda: line.take(False)})
    assert connection.reconnect(board, line.name, 5, lambda: clock.now_s, clock.sleep)
    assert 12 <= clock.now_s < 13
    board.port.close()


def test_a_board_that_stays_away_is_waited_for_five_seconds(line: Line) -> None:
    board = Answering(SerialPort(line.name), [])
    board.port.close()
    board.port.name = "/dev/ttyNOPE"
    clock = Clock()
    assert not connection.reconnect(board, "/dev/ttyNOPE", 5, lambda: clock.now_s, clock.sleep)
    assert 5 <= clock.now_s < 6

"""Before time begins to run the desk board has its profile, however long the host takes."""

from pathlib import Path

import pytest
from boards_with_curves import ShortBatch

from snapcurve.board.client import ANSWER_WAIT_S, TRIES
from snapcurve.simulation import desk_board
from snapcurve.simulation.desk_run import Gate, desk_run


def test_no_time_has_passed_before_it_is_let_run(tmp_path: Path) -> None:
    """The batch hands over half a minute at once, and its probe is in the bowl by then: with
    time running a curve would have begun, and a profile that came later would begin another.
    """
    with desk_run(ShortBatch(1), None, "max", tmp_path / "flash") as running:
        assert [running.board.reading().uptime_ms for _ in range(5)] == [0] * 5
        assert running.board.curves() == []
        running.run()
        assert len(running.collect()) == 1


def test_a_board_that_starts_slowly_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Longer than a board is given to answer: this one is a program on a computer that is busy."""
    slow_s = ANSWER_WAIT_S * TRIES + 1
    slow = tmp_path / "micropython"
    slow.write_text(f'#!/bin/sh\nsleep {slow_s}\nexec {desk_board.find_micropython()} "$@"\n')
    slow.chmod(0o755)
    monkeypatch.setattr(desk_board, "find_micropython", lambda: str(slow))
    with desk_run(ShortBatch(1), None, "max", tmp_path / "flash") as running:
        assert running.board.reading().uptime_ms == 0


def test_the_gate_hands_on_every_row_once() -> None:
    gate = Gate(ShortBatch(1))
    first = gate.rows(0)
    assert first is not None
    assert len(first) == 1
    gate.open()
    rest = gate.rows(0)
    assert rest is not None
    assert [*first, *rest] == ShortBatch(1).rows(0)
    assert gate.rows(29_000) == ShortBatch(1).rows(29_000)
    assert not gate.finished.is_set()
    assert gate.rows(250_000) is None
    assert gate.finished.is_set()

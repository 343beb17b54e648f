"""The acceptance rig: on a desk board of its own, and on a port with a board on it."""

import tempfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from installing_bench import conversation, put
from standin_board import StandIn

from snapcurve.board import release
from tests.rig import __main__ as rig
from tests.rig import acceptance, benches
from tests.rig.lines import FAILED, NEEDS_A_PERSON, NEEDS_A_TAPE, NOT_ON_A_DESK, OK, Line, table


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shorter looks than a person's bench takes."""
    monkeypatch.setattr(acceptance, "WATCH_S", 2.0)


def verdicts(lines: list[Line]) -> dict[str, str]:
    return {line.name: line.verdict for line in lines}


def test_the_desk_board_passes_and_says_what_it_cannot_show(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert rig.main(["--port", "desk"]) == 0
    text = capsys.readouterr().out
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert sum("| ok" in row for row in rows) >= 24
    for name in ("whole batch", "melt reached", "curve against tape", "starts counted"):
        assert any(row.startswith(f"| {name} ") and "| ok" in row for row in rows), name
    for name in ("median answer", "restart", "sounds heard"):
        assert any(row.startswith(f"| {name} ") and NOT_ON_A_DESK in row for row in rows), name
    assert NEEDS_A_TAPE not in text


def test_a_board_on_a_port_is_restarted_through_its_prompt(tmp_path: Path) -> None:
    with StandIn(tmp_path / "board") as board:
        put(board, release.build("desk"))
        with conversation(board) as talk:
            boot = talk.greeting.boot
        found = verdicts(rig.run(board.port, True))
        with conversation(board) as talk:
            assert talk.greeting.boot == boot + 1
            assert talk.profile() != b""
    assert FAILED not in found.values(), found
    assert found["starts counted"] == found["profile over the restart"] == OK
    assert found["whole batch"] == NEEDS_A_TAPE
    assert found["curve, CRC-32"] == NEEDS_A_PERSON


def test_a_desk_board_of_somebody_else_is_not_restarted(tmp_path: Path) -> None:
    from boards_with_curves import record, standing

    record(tmp_path / "flash", 1)
    with standing(tmp_path / "flash") as desk:
        found = verdicts(rig.run(desk.port, None))
    assert found["restart"] == NOT_ON_A_DESK
    assert "starts counted" not in found
    assert found["curve, CRC-32"] == OK


def test_a_board_that_fails_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def unplugged(_: object, now_ms: int) -> list[str]:
        second = now_ms // 1000
        return [f"{second + ahead},21,21,1,0" for ahead in range(second > 0, 3)]

    monkeypatch.setattr(benches.Resting, "rows", unplugged)
    monkeypatch.setattr(
        acceptance, "CHECKS", [row for row in acceptance.CHECKS if row[0] == "live readings"]
    )
    assert rig.main(["--port", "desk"]) == 1
    assert "FAILED" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("desk", "verdicts"), [(False, [OK, FAILED]), (True, [NOT_ON_A_DESK, NOT_ON_A_DESK])]
)
def test_this_computer_s_clock_judges_hardware_only(desk: bool, verdicts: list[str]) -> None:
    """A desk board is as quick as the computer that it shares with whatever else runs there."""
    bench: Any = SimpleNamespace(desk=desk)
    lines = [acceptance.timed(bench, "restart", "<= 10 s", "-", good) for good in (True, False)]
    assert [line.verdict for line in lines] == verdicts


def test_nothing_there(capsys: pytest.CaptureFixture[str]) -> None:
    missing = Path(tempfile.gettempdir()) / "no-such-port"
    assert rig.main(["--port", str(missing)]) == 3
    assert "no port" in capsys.readouterr().err


def test_the_table_counts() -> None:
    lines = [Line("a", "1", "1", OK), Line("b", "1", "2", FAILED), Line("c", "", "", NEEDS_A_TAPE)]
    assert "1 of 2 lines ok, 1 not shown here\n- needs a tape: c" in table(lines)

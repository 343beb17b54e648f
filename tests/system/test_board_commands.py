"""probe, load, watch, temper, collect, batches, show: against the rehearsal board."""

import json
import os
import signal

import pytest
from running import DATA, READING, Bench

from snapcurve.board.client import Board
from snapcurve.board.ports import SerialPort
from snapcurve.simulation.desk_run import Gate, desk_run
from snapcurve.simulation.desk_wiring import Simulator
from snapcurve.simulation.rehearsal_port import BOARD_NAME
from snapcurve.simulation.tape import TapeSimulator, read_tape
from tests.patience import LONGEST_S


def test_a_profile_is_kept_by_the_board(bench: Bench) -> None:
    out = bench.ok("load", "dark", "--port", "rehearsal")
    assert "keep between 31 and 32 °C" in out
    (found,) = bench.ok_json("probe", "--port", "rehearsal")["boards"]
    assert found["profile"] == "Dark couverture by seeding"
    assert found["boot"] == 2


def test_watch_shows_the_reading(bench: Bench) -> None:
    bench.watch("--port", "rehearsal", until=lambda line: bool(READING.match(line)))
    *_, line = bench.watch(
        "--port", "rehearsal", "--json", until=lambda line: '"indicated_c": 2' in line
    )
    reading = json.loads(line)
    assert reading["indicated_c"] == pytest.approx(21.0, abs=0.5)
    assert reading["room_c"] == pytest.approx(21.0, abs=0.02)  # its last bit moves
    assert reading["age_ms"] <= 500


def test_one_command_does_the_whole_batch(bench: Bench) -> None:
    out = bench.ok("temper", "milk", "--port", "rehearsal", SNAPCURVE_REHEARSAL_SPEED="200")
    assert "Milk couverture by seeding is on the board" in out
    assert "melt: " in out
    assert "work: inside" in out
    (batch,) = bench.ok_json("batches", "--rehearsals")
    assert f"Curve 1: batch {batch['batch']}" in out
    assert f"{batch['batch']}: In temper, proved by the test blade" in out
    (found,) = bench.ok_json("probe", "--port", "rehearsal")["boards"]
    assert found["curves"] == 0


def test_a_batch_left_to_the_board_is_not_lost(bench: Bench) -> None:
    process = bench.start("temper", "milk", "--port", "rehearsal")
    assert process.stdout is not None
    for line in process.stdout:
        if READING.match(line):
            break
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=LONGEST_S)
    assert process.returncode == 0, err
    assert "'snapcurve collect' files the batch later." in out


def test_every_frame_and_file_can_be_logged(bench: Bench) -> None:
    done = bench.run("-v", "load", "milk", "--port", "rehearsal")
    assert done.returncode == 0
    assert "sent profile_put" in done.stderr
    assert "received profile_put_answer" in done.stderr
    assert "ms snapcurve.shown.whole_files: wrote " in done.stderr
    assert bench.run("load", "milk", "--port", "rehearsal").stderr == ""


def test_watch_ends_by_itself(bench: Bench) -> None:
    bench.ok("watch", "--port", "rehearsal", "--seconds", "0.5")


def test_the_list_of_boards_without_a_board(bench: Bench) -> None:
    assert "rehearsal" in bench.ok("probe")


class Ice:
    """A probe that somebody puts into ice water and forgets to ask the host about."""

    def rows(self, now_ms: int) -> list[str] | None:
        """See Simulator."""
        second = now_ms // 1000
        if second >= 100:
            return None
        rows = range(second + (second > 0), second + 10)
        return [f"{at},{0.5 if at > 4 else 21.0},21.0,0,{int(90 <= at < 94)}" for at in rows]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


def _record_on_the_standing_board(bench: Bench, world: Simulator | None = None) -> None:
    """Put a curve onto the flash that ``--port rehearsal`` uses."""
    folder = bench.folder / "rehearsal"
    folder.mkdir(exist_ok=True)
    world = world or TapeSimulator(read_tape(DATA / "water_cooling_fan.csv"))
    with desk_run(world, None, "max", folder / "flash", BOARD_NAME) as running:
        assert isinstance(running.gate, Gate)
        running.run()
        assert [row.state for row in running.board.curves()] == ["closed"]


def test_collecting_files_once_and_empties_the_board(bench: Bench) -> None:
    _record_on_the_standing_board(bench)
    (kept,) = bench.ok_json("collect", "--port", "rehearsal", "--keep")
    # A second collection finds it filed, and now lets the board erase it.
    assert bench.ok_json("collect", "--port", "rehearsal") == []
    (found,) = bench.ok_json("probe", "--port", "rehearsal")["boards"]
    assert found["curves"] == 0
    (batch,) = bench.ok_json("batches", "--rehearsals")
    assert batch["batch"] == kept["batch"]
    assert batch["now"]["couverture"] == "no profile"
    chart = bench.folder / "fan.svg"
    assert str(chart) in bench.ok("show", kept["batch"], "--chart", str(chart))
    assert "<svg" in chart.read_text()


def test_what_was_started_by_mistake_is_kept_and_is_no_batch(bench: Bench) -> None:
    bench.ok("load", "milk", "--port", "rehearsal")
    bench.ok("lot", "today", "milk couverture", "MC-104")
    _record_on_the_standing_board(bench, Ice())
    out = bench.ok("collect", "--port", "rehearsal")
    assert "Started by mistake: the record has no settled reading in chocolate." in out
    assert "Not in temper" not in out
    assert "note CODE --amend mistake no" in out
    assert bench.ok_json("batches", "--rehearsals") == []
    (one,) = bench.ok_json("batches", "--rehearsals", "--mistakes")
    assert one["mistake"] is True
    assert bench.ok_json("show", one["batch"])["now"]["lots"] == []
    assert bench.ok_json("trace", "MC-104", "--mistakes")["forward"] == []
    assert bench.refused("show", "last").endswith("collect or rehearse one first.")


def test_two_programs_on_one_port(bench: Bench) -> None:
    world = TapeSimulator(read_tape(DATA / "water_cooling_fan.csv"))
    with desk_run(world, None, "max") as running:
        if "://" in running.desk.port:
            return  # a socket takes one connection only, there is nothing to share
        assert "Another program" in bench.refused("probe", "--port", running.desk.port)


def test_the_rehearsal_board_is_one_board(bench: Bench) -> None:
    first = bench.start("watch", "--port", "rehearsal")
    assert first.stdout is not None
    first.stdout.readline()
    assert "Another program" in bench.refused("probe", "--port", "rehearsal")
    first.send_signal(signal.SIGINT)
    first.communicate(timeout=LONGEST_S)
    assert first.returncode == 0


def test_a_socket_address_serves_as_a_port(bench: Bench) -> None:
    world = TapeSimulator(read_tape(DATA / "water_cooling_fan.csv"))
    os.environ["SNAPCURVE_DESK"] = "cpython"
    try:
        with desk_run(world, None, "max") as running:
            address = running.desk.port
            running.board.port.close()
            assert address.startswith("socket://")
            # The desk board takes one connection; it is gone now, as after a pulled plug.
            assert "socket" in bench.refused("probe", "--port", address)
    finally:
        del os.environ["SNAPCURVE_DESK"]


def test_sounds_are_listed_and_played(bench: Bench) -> None:
    assert "reached" in bench.ok("sounds")
    assert "plays" in bench.ok("sounds", "reached", "--port", "rehearsal")
    assert "choose from" in bench.refused("sounds", "trumpet")
    assert "for 8 h" in bench.ok(
        "sounds", "--volume", "quiet", "--hours", "8", "--port", "rehearsal"
    )
    assert "--volume" in bench.refused("sounds", "--hours", "8")
    assert "1 to 24" in bench.refused("sounds", "--volume", "quiet", "--hours", "25")


def test_sounds_are_written(bench: Bench) -> None:
    out = bench.ok("sounds", "near", "--wav", str(bench.folder / "heard"))
    assert "nearly there" in out
    assert [path.name for path in (bench.folder / "heard").iterdir()] == ["near.wav"]
    (bench.folder / "taken").write_text("a file")
    assert "taken" in bench.refused("sounds", "--wav", str(bench.folder / "taken"))


def test_marks_need_a_recording(bench: Bench) -> None:
    assert "not recording" in bench.refused("mark", "passed", "--port", "rehearsal")
    assert "--number" in bench.refused("mark", "note", "--number", "-1", "--port", "rehearsal")
    assert "quiet" in bench.ok("mark", "silence", "--port", "rehearsal")


def test_the_notebook_can_be_checked_copied_and_brought_back(bench: Bench) -> None:
    bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "1")
    assert "1 record," in bench.ok("notebook", "check")
    bench.ok("notebook", "backup", "copy.db")
    bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "1", "--number", "5")
    bench.ok("notebook", "restore", "copy.db")
    assert len(bench.ok_json("batches", "--rehearsals")) == 1


def test_a_board_object_speaks_for_itself(bench: Bench) -> None:
    world = TapeSimulator(read_tape(DATA / "water_cooling_fan.csv"))
    with desk_run(world, None, "max") as running:
        board: Board = running.board
        assert isinstance(board.port, SerialPort)
        assert board.greeting.board == "desk"
        assert board.mark("note", 7) == board.hello().uptime_ms
        assert board.profile() == b""

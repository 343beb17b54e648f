"""The main job, end to end, as a user starts it."""

import os
import platform
import signal
import sys
import time
import zlib
from pathlib import Path

import pytest
from boards_with_curves import ShortBatch
from running import Bench

from snapcurve.board.firmware_files import NoCompilerError
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode
from snapcurve.simulation import desk_board as desk
from snapcurve.simulation.desk_board import find_micropython
from snapcurve.simulation.desk_run import desk_run
from tests.patience import LONGEST_S

# Only where no wheel of it exists: where pyproject.toml installs it, a missing MicroPython
# must fail these tests, not skip them.
needs_micropython = pytest.mark.skipif(
    (sys.platform, platform.machine()) not in {("linux", "x86_64"), ("darwin", "arm64")},
    reason="there is no MicroPython wheel for this computer",
)


def _order(alarms, *wanted):
    """The seconds of the first alarm for each (alarm, phase), in the order asked."""
    found = []
    for name, phase in wanted:
        seconds = [
            alarm["seconds"]
            for alarm in alarms
            if alarm["alarm"] == name and phase in (None, alarm["phase"])
        ]
        assert seconds, f"no {name} in {alarms}"
        found.append(seconds[0])
    return found


@needs_micropython
def test_a_milk_batch_by_seeding(bench: Bench) -> None:
    result = bench.ok_json("rehearse", "milk", "--speed", "max")
    times = _order(
        result["alarms"], ("reached", "melt"), ("reached", "work"), ("test_due", "work")
    )
    assert times == sorted(times)
    assert not [alarm for alarm in result["alarms"] if alarm["alarm"] == "probe_fault"]
    assert result["interpreter"] == "MicroPython"
    assert result["curve"]["crc_board"] == result["curve"]["crc_host"]
    assert Path(result["chart"]).stat().st_size > 10_000
    assert "in the window" in result["verdict"]
    # Filed as it was downloaded, and every alarm that was heard is in the record.
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        batch = notebook.batch(result["batch"])
        raw = notebook.curve_raw(batch.id)
    assert f"{zlib.crc32(raw):08x}" == result["curve"]["crc_board"]
    recorded = [event.name for event in decode(raw).alarms]
    assert recorded == [alarm["alarm"] for alarm in result["alarms"]]
    assert batch.rehearsal
    assert len(batch.alarms) == len(recorded)
    # It took half an hour by its own clock and ended when it was filed.
    assert batch.started_unix_ms is not None
    ended_ms = batch.started_unix_ms + decode(raw).times_s[-1] * 1000
    assert abs(ended_ms - batch.created_unix_ms) < 10_000


@needs_micropython
def test_a_dark_batch_in_three_steps_runs_all_four_phases(bench: Bench) -> None:
    result = bench.ok_json("rehearse", "dark", "--method", "three-step", "--speed", "max")
    times = _order(
        result["alarms"],
        ("reached", "melt"),
        ("reached", "cool"),
        ("dwell_done", "cool"),
        ("reached", "rewarm"),
        ("reached", "work"),
    )
    assert times == sorted(times)


@needs_micropython
@pytest.mark.parametrize(
    ("couverture", "method", "phases"),
    [
        ("gianduja", "cold-bath", ["melt", "cool", "rewarm", "work"]),
        ("ruby-coloured", "crystal-seed", ["melt", "cool", "work"]),
        ("plant-milk", "slab", ["melt", "cool", "rewarm", "work"]),
    ],
)
def test_other_couvertures_and_methods_end_in_temper(
    bench: Bench, couverture: str, method: str, phases: list[str]
) -> None:
    words = ("rehearse", couverture, "--method", method, "--speed", "max", "--work-minutes", "6")
    result = bench.ok_json(*words)
    reached = [one["phase"] for one in result["alarms"] if one["alarm"] == "reached"]
    assert reached == phases
    assert result["verdict"].startswith("In temper, proved by the test blade")
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        assert notebook.batch(result["batch"]).method == method


@needs_micropython
def test_a_coating_needs_no_temper(bench: Bench) -> None:
    result = bench.ok_json("rehearse", "coating", "--speed", "max", "--work-minutes", "6")
    heard = {one["alarm"] for one in result["alarms"]}
    assert "temper_lost" not in heard
    assert "test_due" not in heard
    assert result["verdict"].startswith("A coating, which needs no temper: melted through")
    said = bench.ok("show", result["batch"])
    assert "there is none to prove" in said
    assert "dip test" not in said


@needs_micropython
def test_holding_starts_in_the_working_phase(bench: Bench) -> None:
    result = bench.ok_json("rehearse", "white", "--method", "hold", "--speed", "max")
    assert {alarm["phase"] for alarm in result["alarms"]} == {"work"}
    assert result["alarms"][0]["alarm"] == "reached"


@needs_micropython
def test_the_same_number_gives_the_same_batch(bench: Bench) -> None:
    first = bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "1")
    second = bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "1")
    other = bench.ok_json(
        "rehearse", "milk", "--speed", "max", "--work-minutes", "1", "--number", "2"
    )
    assert first["alarms"] == second["alarms"]
    assert first["alarms"] != other["alarms"]


def test_under_cpython_the_same_firmware_gives_the_same_alarms(bench: Bench) -> None:
    words = ("rehearse", "milk", "--speed", "max", "--work-minutes", "6")
    under_cpython = bench.ok_json(*words, SNAPCURVE_DESK="cpython")
    assert under_cpython["interpreter"] == "CPython"
    if find_micropython() is not None:
        assert bench.ok_json(*words)["alarms"] == under_cpython["alarms"]


@needs_micropython
def test_four_hours_in_the_memory_of_the_desk_board(bench: Bench) -> None:
    # A MemoryError would end it.
    result = bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "230")
    assert result["curve"]["samples"] > 4 * 3600 - 300
    assert result["interpreter"] == "MicroPython"


@pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent as a signal here")
def test_ctrl_c_keeps_what_was_recorded(bench: Bench) -> None:
    process = bench.start("rehearse", "milk", "--speed", "100")
    assert process.stdout is not None
    for line in process.stdout:
        if "burst 4" in line:
            break
    time.sleep(0.2)
    process.send_signal(signal.SIGINT)
    time.sleep(0.05)
    process.send_signal(signal.SIGINT)  # an impatient second one
    out, err = process.communicate(timeout=LONGEST_S)
    assert process.returncode == 130, err
    assert "Chart" in out
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        curve = decode(notebook.curve_raw(notebook.batch("last").id))
    assert curve.end_reason == "button"
    assert curve.recorded > 30


@needs_micropython
def test_with_an_interpreter_from_elsewhere_the_sources_run(tmp_path, monkeypatch) -> None:
    """It may read other compiled files than our compiler's; a batch fits all the same."""
    real = find_micropython()
    other = tmp_path / "micropython"
    other.write_text(f'#!/bin/sh\necho "$@" >>{tmp_path / "words"}\nexec {real} "$@"\n')
    other.chmod(0o755)
    monkeypatch.setattr(desk, "find_micropython", lambda: str(other))
    with desk_run(ShortBatch(1), None, "max", tmp_path / "flash", "1") as running:
        running.run()
        assert [row.curve for row, _ in running.collect()] == [1]
    assert f"{desk.HEAP_KIB}k -m {desk.START}" in (tmp_path / "words").read_text()


@needs_micropython
def test_without_a_compiler_the_sources_run(tmp_path, monkeypatch) -> None:
    def no_compiler(board: str) -> None:
        raise NoCompilerError("there is none")

    monkeypatch.setattr(desk, "build", no_compiler)
    with desk_run(ShortBatch(1), None, "max", tmp_path / "flash", "1") as running:
        running.run()
        assert [row.curve for row, _ in running.collect()] == [1]

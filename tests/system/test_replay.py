"""Measured series through the real firmware."""

from pathlib import Path

import pytest
from running import DATA, Bench

WATER = """\
name = "Water trial"
kind = "milk"
melt_c = 90
work_c = [50, 60]
never_above_c = 99
"""


@pytest.fixture
def water(bench: Bench) -> Path:
    """A couverture file whose window suits the cooling water."""
    path = bench.folder / "water.toml"
    path.write_text(WATER)
    return path


def _replay(bench: Bench, water: Path, tape: Path):
    return bench.ok_json("replay", str(tape), "--couverture", str(water), "--method", "hold")


def test_still_water_enters_and_leaves_the_band_when_it_was_measured_to(
    bench: Bench, water: Path
) -> None:
    # 60 °C at 669 s and 50 °C at 1202 s are the measurement's own figures. From 1202 s on it
    # hovers at 50.0 to 50.4 °C; the last reading of 50 is that of 1248 s, and only 3 s before
    # comes the first below.
    result = _replay(bench, water, DATA / "water_cooling_still.csv")
    assert result["samples"] == 2000
    assert abs(result["recorded"] - 2138) <= 15
    assert result["stored_bytes"] < 1.6 * result["recorded"]
    alarms = {alarm["alarm"]: alarm for alarm in result["alarms"]}
    assert alarms["reached"]["seconds"] == pytest.approx(669, abs=15)
    assert 1202 - 15 <= alarms["too_cool"]["seconds"] <= 1248 + 15
    # By then the readings are at 49.5 to 49.7 °C.
    assert alarms["too_cool"]["estimate_c"] == pytest.approx(49.6, abs=0.3)
    assert alarms["reached"]["estimate_c"] == pytest.approx(60, abs=0.3)


@pytest.mark.parametrize("tape", ["water_cooling_fan.csv", "cup_a.csv", "cup_b.csv"])
def test_other_measured_series_cross_the_band_once(bench: Bench, water: Path, tape: str) -> None:
    names = [alarm["alarm"] for alarm in _replay(bench, water, DATA / tape)["alarms"]]
    assert names.count("reached") == 1
    assert names.count("too_cool") == 1
    assert "back" not in names
    assert "probe_fault" not in names


def test_a_fault_on_the_tape_is_heard_recorded_and_over(bench: Bench, water: Path) -> None:
    tape = bench.folder / "fault.csv"
    rows = ["seconds,probe_c,ambient_c,fault"]
    for second in range(0, 300, 5):
        fault = "open" if 100 <= second < 120 else ""
        rows.append(f"{second},55,21,{fault}")
    tape.write_text("\n".join(rows))
    result = _replay(bench, water, tape)
    alarms = {alarm["alarm"]: alarm["seconds"] for alarm in result["alarms"]}
    # A fault is named within 2 s; the reading must be good for a second to end it.
    assert 100 <= alarms["probe_fault"] <= 102.5
    assert 120 <= alarms["probe_ok"] <= 122.5
    assert result["recorded"] < 305 - 18


def test_blanks_and_any_interval_are_allowed(bench: Bench, water: Path) -> None:
    tape = bench.folder / "minutes.csv"
    tape.write_text("seconds,probe_c\n0,70\n60,65\n120,\n180,58.2\n300,55\n600,52.5\n")
    result = _replay(bench, water, tape)
    assert result["samples"] == 5
    assert [alarm["alarm"] for alarm in result["alarms"]][-1] == "reached"
    assert result["recorded"] == pytest.approx(600, abs=10)


def test_a_tape_that_is_all_fault_records_nothing(bench: Bench, water: Path) -> None:
    tape = bench.folder / "dead.csv"
    tape.write_text(
        "seconds,probe_c,ambient_c,fault\n0,30,21,open\n30,30,21,open\n60,30,21,open\n"
    )
    result = _replay(bench, water, tape)
    assert [alarm["alarm"] for alarm in result["alarms"]] == ["probe_fault"]
    assert result["recorded"] == 0

"""Bare ``snapcurve``: how things stand, and the right next thing to do."""

import pytest
from running import Bench

from snapcurve.commands.status import Standing, lines_of
from snapcurve.simulation.desk_board import DeskBoard
from snapcurve.simulation.rehearsal import demonstration


def test_without_a_board_it_says_how_to_get_one(bench: Bench) -> None:
    out = bench.ok()
    assert "No board is attached." in out
    assert "Now: plug one in." in out
    assert "snapcurve rehearse milk" in out


def test_with_a_new_board_it_loads_a_profile(bench: Bench) -> None:
    out = " ".join(bench.ok("--port", "rehearsal").split())
    assert "Profile none" in out
    assert "not recording; 0 curves wait" in out
    assert "has not been calibrated" in out
    assert "Now: 'snapcurve temper COUVERTURE --port rehearsal'" in out


def test_with_a_board_that_records_it_goes_on(bench: Bench, tmp_path) -> None:
    with DeskBoard(tmp_path / "flash", demonstration(), "60") as desk:
        desk.wait_until_up()
        port = desk.port
        bench.ok("load", "milk", "--port", port)
        bench.watch("--port", port, until=lambda line: "recording" in line)
        out = " ".join(bench.ok("--port", port).split())
    assert "Profile Milk couverture by seeding" in out
    assert "Record recording" in out
    assert "Now: go on;" in out


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"waiting": 1}, "'snapcurve collect' files"),
        ({"profile": "none"}, "'snapcurve temper COUVERTURE' loads"),
        ({"fitted": "type T, MAX31856, mains 50 Hz (assumed)"}, "say which thermocouple"),
        ({"fitted": "type K (assumed)", "port": "rehearsal"}, "put the probe into the chocolate"),
        ({"remark": "the calibration is old"}, "calibrate the probe ('snapcurve calibrate ice')"),
        ({"recording": True, "waiting": 2, "remark": "old"}, "go on"),
        ({}, "put the probe into the chocolate"),
    ],
)
def test_the_next_step_follows_from_how_things_stand(changed: dict, says: str) -> None:
    rest = {
        "port": "/dev/ttyACM0",
        "board": "pico, firmware 0.1.0",
        "profile": "Milk couverture by seeding",
        "reading": "0:01  probe   21.0 °C",
        "recording": False,
        "waiting": 0,
        "fitted": "type T, MAX31856, mains 50 Hz",
        "trusted": "±0.5 °C at 31 °C (k = 2)",
        "remark": "",
        "troubles": (),
    }
    *_, now = lines_of(Standing(**{**rest, **changed}))
    assert now.startswith("Now: ")
    assert says in now

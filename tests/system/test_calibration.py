"""snapcurve calibrate and probe, against the rehearsal board with a probe that is off.

The probe shows 1.2 °C too much in ice and 0.4 % more with each degree.
"""

import pytest
from running import Bench

from snapcurve.simulation.bath_simulator import ROOM_C, shown_c
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.rehearsal_port import BOARD_NAME

FAST = {"SNAPCURVE_REHEARSAL_SPEED": "40"}
TRUE_C = (25.0, 31.0, 40.0, 50.0)
EACH_S = 40


class Steps:
    """The same probe in one stirred bath after the other."""

    def rows(self, now_ms: int) -> list[str] | None:
        """See Simulator."""
        start_s = now_ms // 1000
        if start_s >= EACH_S * len(TRUE_C):
            return None
        first = 0 if start_s == 0 else 1
        baths = [
            (second, TRUE_C[min(second // EACH_S, 3)])
            for second in range(start_s + first, start_s + 3)
        ]
        return [f"{second},{shown_c(true_c)},{ROOM_C},0,0" for second, true_c in baths]

    def heard(self, now_ms: int, words: list[str]) -> None:
        """See Simulator."""


@pytest.fixture
def fast(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the rehearsal board's time run faster."""
    monkeypatch.setenv("SNAPCURVE_REHEARSAL_SPEED", FAST["SNAPCURVE_REHEARSAL_SPEED"])


def test_ice_and_boiling_water_make_it_right_between_25_and_50(bench: Bench, fast: None) -> None:
    out = bench.ok("calibrate", "ice", "--port", "rehearsal", "--yes")
    assert "correction -1.2" in out
    out = bench.ok("calibrate", "boil", "--altitude-m", "650", "--port", "rehearsal", "--yes")
    assert "97.81 °C" in out
    assert "scald" in out
    shown = bench.ok_json("calibrate", "show", "--port", "rehearsal")
    assert shown["expanded_after_c"]["gallium"] < shown["expanded_c"]
    page = bench.folder / "calibration.pdf"
    assert str(page) in bench.ok(
        "calibrate", "certificate", "--port", "rehearsal", "-o", str(page)
    )
    assert page.read_bytes().startswith(b"%PDF")
    checked = bench.ok("notebook", "check", "--sheet", str(page))
    assert "calibration.pdf vouches for all up to seal 2; nothing was sealed since" in checked
    assert [point["step"] for point in shown["current"]["points"]] == ["ice", "boil"]
    assert [point["step"] for point in shown["previous"]["points"]] == ["ice"]
    assert [one["step"] for one in shown["history"]] == ["ice", "boil"]
    assert bench.ok_json("collect", "--port", "rehearsal") == []
    flash = bench.folder / "rehearsal" / "flash"
    readings: dict[float, list[float]] = {true_c: [] for true_c in TRUE_C}
    with desk_run(Steps(), None, "40", flash, BOARD_NAME) as running:
        running.board.live(250)

        def look() -> None:
            for reading in (running.board.next_live() for _ in range(20)):
                if reading is None:
                    return
                at_s = (reading.uptime_ms - reading.age_ms) / 1000
                if 5 < at_s % EACH_S < 35 and reading.indicated_c is not None:
                    readings[TRUE_C[min(int(at_s) // EACH_S, 3)]].append(reading.indicated_c)

        running.run(look)
    for true_c, found in readings.items():
        assert len(found) > 10
        assert sum(found) / len(found) == pytest.approx(true_c, abs=0.05)


@pytest.mark.parametrize(
    "words",
    [("ice",), ("boil", "--pressure-hpa", "1013"), ("point", "--reference-c", "31"), ("gallium",),
     ("response",)],
)  # fmt: skip
def test_nothing_is_recorded_meanwhile(bench: Bench, fast: None, words: tuple[str, ...]) -> None:
    """Nor with a profile on the board, whose curve would be a batch that never was."""
    bench.ok("load", "milk", "--port", "rehearsal")
    bench.ok("lot", "today", "milk couverture", "MC-104")
    bench.ok("calibrate", *words, "--port", "rehearsal", "--yes")
    assert "Nothing new" in bench.ok("collect", "--port", "rehearsal")
    assert bench.ok_json("batches") == []
    assert bench.ok_json("trace", "MC-104")["forward"] == []


def test_response_is_measured_and_kept(bench: Bench, fast: None) -> None:
    out = bench.ok("calibrate", "response", "--port", "rehearsal", "--yes")
    assert "The probe trails by 4." in out
    shown = bench.ok_json("calibrate", "show", "--port", "rehearsal")
    assert sum(shown["current"]["time_constants_s"]) == pytest.approx(4.5, rel=0.1)
    assert bench.ok_json("collect", "--port", "rehearsal") == []


@pytest.mark.parametrize(
    ("port", "meaning"),
    [("rehearsal:slush", "too little ice"), ("rehearsal:swapped", "leads swapped")],
)
def test_what_cannot_be_is_refused_with_what_it_means(
    bench: Bench, fast: None, port: str, meaning: str
) -> None:
    assert meaning in bench.refused("calibrate", "ice", "--port", port, "--yes")
    assert bench.ok_json("calibrate", "show", "--port", "rehearsal")["history"] == []


def test_nobody_to_ask_writes_nothing(bench: Bench, fast: None) -> None:
    said = bench.run("calibrate", "gallium", "--port", "rehearsal")
    assert said.returncode == 2
    assert "add --yes" in said.stderr
    shown = bench.ok_json("calibrate", "show", "--port", "rehearsal")
    assert shown["current"]["points"] == []
    assert bench.ok_json("collect", "--port", "rehearsal") == []


@pytest.mark.parametrize(
    ("words", "meaning"),
    [
        (("boil",), "--pressure-hpa"),
        (("boil", "--pressure-hpa", "1013", "--altitude-m", "1500"), "sea level"),
        (("point", "--yes"), "--reference-c"),
        (("point", "--reference-c", "400"), "reference"),
        (("ice", "--wait-minutes", "0"), "--wait-minutes"),
    ],
)
def test_what_is_missing_is_said_first(bench: Bench, words: tuple[str, ...], meaning: str) -> None:
    assert meaning in bench.refused("calibrate", *words, "--port", "rehearsal")


def test_the_other_converter(bench: Bench, fast: None) -> None:
    bench.ok("calibrate", "ice", "--port", "rehearsal:max31855", "--yes")
    shown = bench.ok_json("calibrate", "show", "--port", "rehearsal:max31855")
    # Its steps are 0.25 °C, so half a step is the least one may ask.
    (point,) = shown["current"]["points"]
    assert point["correction_c"] == pytest.approx(-1.2, abs=0.15)
    found = bench.ok_json("probe", "--port", "rehearsal:max31855")["probe"]
    assert (found["converter"], found["type"]) == ("MAX31855", "K")


def test_the_figure_is_the_same_everywhere(bench: Bench) -> None:
    """probe, watch, and the batch's chart; and what is missing is said once."""
    found = bench.ok_json("probe", "--port", "rehearsal")["probe"]
    assert "not been calibrated" in found["remark"]
    table = bench.ok("probe", "--port", "rehearsal", "--depth-diameters", "3")
    assert "IEC 60584-1" in table
    assert "put it deeper" in table
    figure = bench.ok("probe", "--port", "rehearsal").splitlines()[-2].split()[1]
    watched = bench.ok("watch", "--port", "rehearsal", "--seconds", "1")
    assert watched.count(figure) == watched.count("not been calibrated") == 1
    done = bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "1")
    chart = bench.folder / "batch.svg"
    bench.ok("show", done["batch"], "--chart", str(chart))
    assert chart.exists()

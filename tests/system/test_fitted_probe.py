"""Thermocouple, mains and converter: chosen at the installation or later, and then shown
everywhere."""

import pytest
from installing_bench import conversation
from running import Bench
from standin_board import StandIn

from snapcurve.board.troubles import SENTENCES
from snapcurve.commands import fitted

FAST = {"SNAPCURVE_REHEARSAL_SPEED": "40"}


def test_chosen_once_it_is_in_overview_and_table(bench: Bench) -> None:
    assert "type K, MAX31856, mains 50 Hz (assumed)" in bench.ok("probe", "--port", "rehearsal")
    out = bench.ok("probe", "--port", "rehearsal", "--type", "k", "--mains", "60")
    assert out.startswith(
        "The board reads its probe as type K, MAX31856, mains 60 Hz from now on."
    )
    (found,) = bench.ok_json("probe", "--port", "rehearsal")["boards"]
    assert found["fitted"] == {
        "fitted": {"tc_type": "K", "mains_hz": 60, "converter": "MAX31856"},
        "chosen": True,
        "recognised": True,
    }
    overview = " ".join(bench.ok("--port", "rehearsal").split())
    assert "Probe type K, MAX31856, mains 60 Hz; ±" in overview
    assert "21." in overview.split("Reading")[1].split("°C")[0]
    assert "MAX31856, type K, at 31 °C" in bench.ok("probe", "--port", "rehearsal")


def test_another_thermocouple_and_converter(bench: Bench) -> None:
    port = "rehearsal:type-n+max31855"
    out = bench.ok("probe", "--port", port, "--type", "N", "--converter", "MAX31856")
    assert "It has recognised its converter itself: MAX31855, not MAX31856." in out
    assert "MAX31855, type N, at 31 °C" in out
    watched = bench.ok("watch", "--port", port, "--seconds", "3").splitlines()[-1]
    assert float(watched.split("probe")[1].split("°C")[0]) == pytest.approx(21, abs=0.5)


def test_a_calibration_of_another_type_is_not_used_and_that_is_said(bench: Bench) -> None:
    bench.ok("calibrate", "ice", "--port", "rehearsal", "--yes", **FAST)
    calibrated = bench.ok_json("probe", "--port", "rehearsal")["probe"]
    out = bench.ok("probe", "--port", "rehearsal", "--type", "T")
    assert SENTENCES["other_type"] in out
    assert "MAX31856, type T" in out
    found = bench.ok_json("probe", "--port", "rehearsal")
    assert found["boards"][0]["troubles"] == ["other_type"]
    assert "not been calibrated" in found["probe"]["remark"]
    assert found["probe"]["expanded_c"] > calibrated["expanded_c"]
    assert SENTENCES["other_type"][:60] in " ".join(bench.ok("--port", "rehearsal").split())
    shown = bench.ok("calibrate", "show", "--port", "rehearsal")
    assert SENTENCES["other_type"] in shown
    assert "Its calibration is for that type." in bench.ok(
        "probe", "--port", "rehearsal", "--type", "K"
    )
    again = bench.ok_json("probe", "--port", "rehearsal")["probe"]
    assert again.keys() == calibrated.keys()
    assert [one["name"] for one in again["components"]] == [
        one["name"] for one in calibrated["components"]
    ]
    # The calibration is some seconds older, and its drift with it.
    assert again["expanded_c"] == pytest.approx(calibrated["expanded_c"], rel=1e-6)


def test_a_point_of_the_new_type_begins_a_new_calibration(bench: Bench) -> None:
    bench.ok("calibrate", "ice", "--port", "rehearsal", "--yes", **FAST)
    bench.ok("probe", "--port", "rehearsal:type-t", "--type", "T")
    port = ("--port", "rehearsal:type-t")
    out = bench.ok("calibrate", "boil", "--altitude-m", "650", *port, "--yes", **FAST)
    assert SENTENCES["other_type"] in out
    shown = bench.ok_json("calibrate", "show", *port)
    assert [point["step"] for point in shown["current"]["points"]] == ["boil"]
    assert [point["step"] for point in shown["previous"]["points"]] == ["ice"]
    assert bench.ok_json("probe", *port)["boards"][0]["troubles"] == []


def test_the_installation_says_it_and_what_it_knew_stays(bench: Bench, tmp_path) -> None:
    with StandIn(tmp_path / "board") as board:
        port = ("--port", board.port)
        out = bench.ok("install", *port)
        assert "Probe: type K, MAX31856, mains 50 Hz (assumed)." in out
        assert "snapcurve probe --type" in out
        out = bench.ok("install", *port, "--type", "J", "--mains", "60")
        assert "The board reads its probe as type J, MAX31856, mains 60 Hz from now on." in out
        assert "Probe: type J, MAX31856, mains 60 Hz." in bench.ok("install", *port)
        with conversation(board) as talk:
            assert talk.greeting.tc_type == "J"


@pytest.mark.parametrize("words", [("--type", "X"), ("--mains", "55"), ("--converter", "A")])
def test_what_there_is_not_is_refused(bench: Bench, words) -> None:
    assert words[0] in bench.run("probe", "--port", "rehearsal", *words).stderr


def test_the_question_names_the_colours_and_takes_what_is_meant(monkeypatch, capsys) -> None:
    answers = iter(["q", "n", "", "max31855"])
    asked = []
    monkeypatch.setattr("builtins.input", lambda text: asked.append(text) or next(answers))
    found = fitted._asked(fitted.Fitted("T", 60, "MAX31856"), False)
    assert found == {"tc_type": "N", "mains_hz": 60, "converter": "MAX31855"}
    assert [text.split(" (")[0] for text in asked] == [
        "Type", "Type", "Mains here, in Hz", "Converter",
    ]  # fmt: skip
    assert "K: green, in North America yellow" in capsys.readouterr().out

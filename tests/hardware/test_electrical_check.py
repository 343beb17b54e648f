"""The electrical rules: silent on the stored wiring, and each seeded mistake is found."""

import csv
import dataclasses
import io

import pytest

from hardware import electrical_check, netlist
from snapcurve.probe import sounds


@pytest.fixture
def good() -> netlist.Tables:
    return netlist.load()


def rewire(tables, *, drop=(), add=(), boards=None):
    """The tables with some wires dropped ((part, pin), (part, pin)) and others added."""
    gone = {frozenset(pair) for pair in drop}
    wires = [w for w in tables.wires if frozenset((w.a, w.b)) not in gone]
    assert len(wires) == len(tables.wires) - len(gone), "the wire to drop is not there"
    for net, a, b in add:
        old = next((w for w in tables.wires if w.a == a and w.board_pins), None)
        wires.append(netlist.Wire(net, a, b, old.board_pins if old else {}, "seeded"))
    for role, changes in (boards or {}).items():
        wires = [
            dataclasses.replace(w, board_pins={**w.board_pins, **changes})
            if w.a == ("A1", role)
            else w
            for w in wires
        ]
    return dataclasses.replace(tables, wires=wires)


def with_data(tables, ref, **data):
    """The tables with some numbers of a part changed."""
    part = dataclasses.replace(tables.parts[ref], data={**tables.parts[ref].data, **data})
    return dataclasses.replace(tables, parts={**tables.parts, ref: part})


def pin(text):
    part, _, name = text.partition(".")
    return part, name


def pair(text):
    a, b = text.split()
    return pin(a), pin(b)


def test_that_the_stored_wiring_has_no_errors(good):
    assert len(good.wires) > 30
    assert len(good.pins) > 45
    assert electrical_check.check(good) == []


REWIRED = {
    "converter fed with 5 V": (
        ["A1.3V3 U1.VIN", "C3.+ B1.+"],
        [("5V", "C3.+ U1.VIN"), ("5V", "C3.+ B1.+")],
        "U1.VIN would see 5.0 V but stands 3.6 V",
    ),
    "MISO and MOSI swapped": (
        ["A1.MOSI U1.SDI", "A1.MISO U1.SDO"],
        [("MOSI", "A1.MOSI U1.SDO"), ("MISO", "A1.MISO U1.SDI")],
        "Net MOSI has two drivers: A1.MOSI, U1.SDO",
    ),
    "CS pull-up tied to 5 V": (
        ["U1.VIN R1.1"],
        [("5V", "C3.+ R1.1")],
        "A1.CS would see 5.0 V but stands 3.6 V",
    ),
    "CS pull-up tied to ground": (
        ["U1.VIN R1.1"],
        [("GND", "U1.GND R1.1")],
        "U1.CS has no pull-up resistor",
    ),
    "decoupling capacitor on the wrong net": (
        ["U1.VIN C1.1"],
        [("CS", "U1.CS C1.1")],
        "U1.VIN has 0 nF to ground but needs 100 nF",
    ),
    "filter capacitor to ground instead of across": (
        ["U1.T- C2.2"],
        [("GND", "U1.GND C2.2")],
        "needs 1 to 100 nF across T+ and T- (10 nF); it has 0 nF",
    ),
    "probe the wrong way round": (
        ["J1.+ U1.T+", "J1.- U1.T-"],
        [("TC+", "J1.- U1.T+"), ("TC-", "J1.+ U1.T-")],
        "not joined plus to T+ and minus to T-",
    ),
    "T- tied to ground": (
        ["U1.GND C1.2"],
        [("TC-", "U1.T- U1.GND"), ("TC-", "U1.GND C1.2")],
        "U1.GND: the junction must float",
    ),
    "flyback diode reversed": (
        ["B1.+ D1.K", "B1.- D1.A"],
        [("5VF", "B1.+ D1.A"), ("COIL", "B1.- D1.K")],
        "Flyback diode D1 must lie across the beeper",
    ),
    "beeper straight on the pin": (
        ["A1.BEEPER R4.1", "Q1.C B1.-"],
        [("BEEPER", "A1.BEEPER B1.-"), ("BEEPER", "B1.- R4.1")],
        "A1.BEEPER would see 5.0 V but stands 3.6 V",
    ),
    "base without resistor": (
        ["A1.BEEPER R4.1", "R4.2 Q1.B"],
        [("BASE", "A1.BEEPER Q1.B"), ("BASE", "Q1.B R4.2")],
        "A1.BEEPER would source inf mA",
    ),
    "base pull-down forgotten": (
        ["Q1.B R5.1"],
        [],
        "R5.1 is not connected",
    ),
    "light straight on the pin": (
        ["A1.LIGHT R6.1"],
        [("LED", "A1.LIGHT D2.A")],
        "A1.LIGHT would source inf mA",
    ),
    "light reversed": (
        ["R6.2 D2.A", "Q1.E D2.K"],
        [("LED", "R6.2 D2.K"), ("GND", "Q1.E D2.A")],
        "The light D2 must have its flat side (K) at ground",
    ),
    "MISO wire forgotten": (
        ["A1.MISO U1.SDO"],
        [],
        "A1.MISO is not connected",
    ),
    "a pin in two nets": (
        [],
        [("SCK", "U1.SCK U1.SDO")],
        "U1.SDO is in more than one net: MISO, SCK",
    ),
    "a net in two pieces": (
        ["C3.+ B1.+"],
        [],
        "Net 5VF is in pieces",
    ),
    "beeper before the fuse": (
        ["C3.+ B1.+"],
        [("5V", "F1.1 B1.+")],
        "Everything on 5 V must be behind the fuse F1",
    ),
    "fuse bridged": (
        [],
        [("5V", "A1.5V C3.+")],
        "Everything on 5 V must be behind the fuse F1",
    ),
    "ground of the beeper left out": (
        ["A1.GND2 Q1.E"],
        [],
        "A1.GND2 is not connected",
    ),
    "button closing to 3.3 V": (
        ["Q1.E S1.2"],
        [("3V3", "U1.VIN S1.2")],
        "The button S1 must close BUTTON to ground",
    ),
    "a wire to a pin that does not exist": (
        [],
        [("SCK", "U1.SCK U1.CLK")],
        "Net SCK uses U1.CLK, which pins.csv does not know",
    ),
    "3.3 V joined to 5 V": (
        ["A1.5V F1.1"],
        [("3V3", "A1.5V U1.VIN"), ("3V3", "U1.VIN F1.1")],
        "Net 3V3 joins supplies: A1.3V3, A1.5V",
    ),
    "supply shorted to ground": (
        ["U1.GND C1.2"],
        [("3V3", "U1.VIN U1.GND"), ("3V3", "U1.VIN C1.2")],
        "Net 3V3 shorts a supply to ground",
    ),
}


@pytest.mark.parametrize("name", REWIRED)
def test_that_a_seeded_wiring_mistake_is_found(good, name):
    drop, add, sentence = REWIRED[name]
    bad = rewire(good, drop=map(pair, drop), add=[(net, *pair(ends)) for net, ends in add])
    errors = electrical_check.check(bad)
    assert any(sentence in error for error in errors), errors


def test_that_leaving_out_any_one_wire_is_found(good):
    for wire in good.wires:
        assert electrical_check.check(rewire(good, drop=[(wire.a, wire.b)])), wire


def test_that_a_stray_wire_between_any_two_nets_is_found(good):
    nets = good.nets()
    names = sorted(nets)
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    assert len(pairs) > 100
    for a, b in pairs:
        stray = (a, min(nets[a]), min(nets[b]))
        assert electrical_check.check(rewire(good, add=[stray])), stray


def test_that_a_part_missing_from_the_list_is_found(good):
    for ref in sorted({part for part, _ in good.pins}):
        parts = {k: v for k, v in good.parts.items() if k != ref}
        errors = electrical_check.check(dataclasses.replace(good, parts=parts))
        assert f"{ref} is wired but is not in parts.csv." in errors


BOARD_PINS = {
    "strapping pin": ("BEEPER", {"esp32s3": "GPIO0"}, "GPIO0 must not be used for BEEPER"),
    "USB pin": ("LIGHT", {"esp32s3": "GPIO20"}, "USB data pin"),
    "flash pin": ("LIGHT", {"esp32s3": "GPIO30"}, "flash and PSRAM"),
    "no such pin": ("LIGHT", {"pico": "GP31"}, "pico: there is no pin GP31"),
    "not brought out": ("LIGHT", {"pico": "GP25"}, "not brought out"),
    "two roles on a pin": ("LIGHT", {"pico2": "GP15"}, "pico2: GP15 serves both BEEPER and LIGHT"),
    "not an SPI clock": ("SCK", {"pico": "GP21"}, "pico: GP21 is SPI0 CS, not SCK"),
    "two SPI units": ("SCK", {"pico": "GP10"}, "SCK, MOSI and MISO must be on one SPI unit"),
    "supply from the wrong pin": ("3V3", {"pico": "VBUS"}, "VBUS cannot be 3V3"),
}


@pytest.mark.parametrize("name", BOARD_PINS)
def test_that_an_unsuitable_board_pin_is_found(good, name):
    role, change, sentence = BOARD_PINS[name]
    errors = electrical_check.check(rewire(good, boards={role: change}))
    assert any(sentence in error for error in errors), errors


VALUES = {
    "base resistor too small": ("R4", {"resistance_ohm": 220.0}, "but is rated 4.0 mA"),
    "base resistor too large": ("R4", {"resistance_ohm": 10e3}, "too little for the coil"),
    "beeper coil too low": ("B1", {"coil_ohm": 16.0}, "D1 carries less than the coil"),
    "transistor too small": ("Q1", {"collector_max_ma": 100.0}, "Q1 carries less"),
    "light resistor too small": ("R6", {"resistance_ohm": 100.0}, "A1.LIGHT would source 13.0 mA"),
    "pull-up too weak": ("R1", {"resistance_ohm": 1e6}, "R1 of U1.CS is not 1 to 100 kilohm"),
    "filter too large": ("C2", {"capacitance_nf": 1000.0}, "it has 1000 nF"),
    "buffer too small": ("C3", {"capacitance_nf": 100.0}, "B1.+ has 100 nF"),
    "buffer as it was": ("C3", {"capacitance_nf": 10e3}, "droops by 4.9 V"),
    "fuse too small": ("F1", {"hold_ma": 100.0}, "F1 holds 100 mA, less than the coil's 147 mA"),
    "fuse too large": ("F1", {"trip_ma": 500.0}, "F1 trips at 500 mA, and A1.5V gives only 450"),
}


@pytest.mark.parametrize("name", VALUES)
def test_that_a_wrong_part_value_is_found(good, name):
    ref, data, sentence = VALUES[name]
    errors = electrical_check.check(with_data(good, ref, **data))
    assert any(sentence in error for error in errors), errors


def test_the_currents_by_hand(good):
    """Ohm's law on paper: (3.3 - 0.7) V / 680 ohm and (3.3 - 2.0) V / 470 ohm."""
    loads = electrical_check.pin_loads_ma(good)
    assert loads[("A1", "BEEPER")] == pytest.approx(3.8235, abs=1e-4)
    assert loads[("A1", "LIGHT")] == pytest.approx(2.7660, abs=1e-4)


def test_the_droop_of_a_pulse_by_hand(good, monkeypatch):
    """Q = I t: 5.25 V / (42 ohm x 0.85) is 147 mA, for half a period of 1.5 kHz 49 uC; on
    100 uF that is 0.49 V, on 98 uF half a volt."""
    monkeypatch.setattr(electrical_check, "DROOP_MAX_V", 0.48)
    (error,) = electrical_check.check(good)
    assert "droops by 0.5 V" in error


def test_that_no_sound_is_lower_than_the_lowest_tone_of_the_check_nor_far_from_the_resonance(good):
    pitches = {row[2] for row in sounds.TABLE}
    assert min(pitches) >= electrical_check.LOWEST_TONE_HZ
    resonance_hz = good.parts["B1"].data["resonance_hz"]
    assert max(abs(hz - resonance_hz) for hz in pitches) <= resonance_hz / 4


def test_that_rp2_pins_follow_the_function_table_of_the_chip(good):
    """RP2040 datasheet, table of GPIO functions: SPI repeats every four pins, unit every eight."""
    roles = ("MISO", "CS", "SCK", "MOSI")
    for board in ("pico", "pico2"):
        gpios = [p for p in good.boards[board].values() if p.gpio is not None]
        assert len(gpios) == 30
        for facts in gpios:
            assert facts.spi == f"SPI{facts.gpio // 8 % 2} {roles[facts.gpio % 4]}"


def test_the_pin_map_that_the_firmware_is_held_to(good):
    pico = netlist.gpio_by_role(good, "pico")
    assert sorted(pico) == [
        "beeper", "button", "cs", "light", "miso", "mosi", "sck",
    ]  # fmt: skip
    assert netlist.gpio_by_role(good, "pico2") == pico
    assert sorted(netlist.gpio_by_role(good, "esp32s3")) == sorted(pico)
    # PWM outputs of the RP2040 repeat every 16 pins; the beeper shares its tone with no other.
    slices = {role: (gpio >> 1) & 7 for role, gpio in pico.items()}
    assert slices["beeper"] != slices["light"]


def test_that_an_unknown_board_is_refused(good):
    with pytest.raises(KeyError, match="no board 'nano'"):
        netlist.gpio_by_role(good, "nano")


HEAD = "net,from_part,from_pin,to_part,to_pin,pico,pico2,esp32s3,purpose"


@pytest.mark.parametrize(
    "row",
    ["SCK,A1,,U1,SCK,GP18,GP18,GPIO12,x", "SCK,A1,SCK,U1,SCK,GP18,,GPIO12,x",
     "SCK,U1,SCK,A1,SCK,GP18,GP18,GPIO12,x", "CS,U1,CS,R1,2,GP17,,,x", "CS,U1,CS,R1,2,,,,a,b"],
)  # fmt: skip
def test_that_a_broken_row_is_refused_with_its_line(row):
    with pytest.raises(netlist.WiringFileError, match=r"wiring\.csv, line 2"):
        netlist.parse_wires([HEAD, row])


def test_that_repeated_and_unreadable_entries_are_refused():
    pins = "part,pin,kind,supply_v,min_v,max_v,max_ma,pull_up,decouple_nf,source"
    with pytest.raises(netlist.WiringFileError, match=r"line 3: U1\.CS is there twice"):
        netlist.parse_pins([pins, "U1,CS,input,,,,,,,", "U1,CS,input,,,,,,,"])
    with pytest.raises(netlist.WiringFileError, match="'lots' is not a number"):
        netlist.parse_pins([pins, "U1,CS,input,lots,,,,,,"])
    parts = "ref,kind,quantity,part,data,role,alternatives,avoid,price_band_eur"
    with pytest.raises(netlist.WiringFileError, match="'resistance_ohm' has no value"):
        netlist.parse_parts([parts, "R1,circuit,1,resistor,resistance_ohm,x,,,"])


def test_that_the_command_reports_and_fails(monkeypatch, capsys, good):
    assert electrical_check.main() == 0
    assert "no errors" in capsys.readouterr().out
    bad = rewire(good, drop=[pair("A1.MISO U1.SDO")])
    monkeypatch.setattr(electrical_check, "load", lambda: bad)
    assert electrical_check.main() == 1
    assert "A1.MISO is not connected: add its wire." in capsys.readouterr().out


def test_that_the_tables_are_plain_csv_without_stray_columns():
    for name in ("wiring", "pins", "parts", "boards"):
        text = (netlist.HERE / f"{name}.csv").read_text(encoding="utf-8")
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) > 20
        assert {len(row) for row in rows} == {len(rows[0])}, name

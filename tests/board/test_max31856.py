"""MAX31856 driver against two chips: bytes on a bus, and the desk board's register model.

Number formats and bits: the maker's data sheet. Faults others met with such drivers:
johnrbnsn/Adafruit_Python_MAX31856#1 and #2 (sign, low byte), adafruit/Adafruit_MAX31856#11
(mains filter), esphome/issues#1676 (one clock off), enjoyneering/MAX31855#6 (stuck bus).
"""

import pytest
from board_fakes import RUBBISH, Clock, FakeBus
from hypothesis import given
from hypothesis import strategies as st

from snapcurve.boards.desk.chip import ChipModel
from snapcurve.probe.thermometer.max31856 import (
    AVERAGES,
    NO_READING,
    TYPES,
    Max31856,
    decode_cold,
    decode_hot,
)
from snapcurve.wire import catalogue

HOT = [
    # data sheet's format, first five with faults seen in other drivers
    ("FFFFE0", -0.0078125),  # unsigned: 4095.992
    ("FFEC00", -1.25),
    ("F06000", -250.0),
    ("064FE0", 100.9921875),
    ("01F4E0", 31.3046875),  # low byte not shifted: 33.0
    ("01F400", 31.25),
    ("640000", 1600.0),
    ("3E8000", 1000.0),
    ("064F00", 100.9375),
    ("019000", 25.0),
    ("000100", 0.0625),
    ("000000", 0.0),
    ("FFFF00", -0.0625),
    ("FFF000", -1.0),
    # worked out from the format
    ("01B800", 27.5),
    ("01F000", 31.0),
    ("01F020", 31.0078125),
    ("020000", 32.0),
    ("02D000", 45.0),
    ("032000", 50.0),
    ("FF6000", -10.0),
    ("063FA0", 99.9765625),
    # the five low bits are spare
    ("01F900", 31.5625),
    ("01F91F", 31.5625),
    # two's complement, not sign and magnitude
    ("0572C0", 87.171875),
    ("8572C0", -1960.828125),
]
COLD = [  # data sheet's table, as a driver's own test copies it
    ("7FFC", 127.984375),
    ("7F00", 127.0),
    ("7D00", 125.0),
    ("4000", 64.0),
    ("1900", 25.0),
    ("0080", 0.5),
    ("0004", 0.015625),
    ("0000", 0.0),
    ("FF80", -0.5),
    ("E700", -25.0),
    ("C900", -55.0),
    ("1903", 25.0),  # two spare bits
]


@pytest.mark.parametrize(("raw", "celsius"), HOT)
def test_hot_junction_format(raw, celsius):
    assert decode_hot(*bytes.fromhex(raw)) == celsius * 128


@pytest.mark.parametrize(("raw", "celsius"), COLD)
def test_cold_junction_format(raw, celsius):
    assert decode_cold(*bytes.fromhex(raw)) == celsius * 64


@given(st.integers(-(1 << 18), (1 << 18) - 1), st.integers(0, 31))
def test_every_hot_value_is_twos_complement(value, spare):
    raw = ((value << 5) & 0xFFFFFF) | spare
    assert decode_hot(*raw.to_bytes(3, "big")) == value


@given(st.integers(-(1 << 13), (1 << 13) - 1), st.integers(0, 3))
def test_every_cold_value_is_twos_complement(value, spare):
    raw = ((value << 2) & 0xFFFF) | spare
    assert decode_cold(*raw.to_bytes(2, "big")) == value


def started(bus, **options):
    chip = Max31856(bus, bus.cs, **options)
    chip.configure()
    return chip


@pytest.mark.parametrize(("raw", "celsius"), HOT)
@pytest.mark.parametrize(("raw_cold", "cold"), [("1900", 25.0), ("E700", -25.0)])
def test_both_junctions_from_one_transfer(raw, celsius, raw_cold, cold):
    bus = FakeBus(bytes.fromhex(raw), bytes.fromhex(raw_cold))
    chip = started(bus)
    chip.read()
    assert bus.reads == 1
    assert not bus.selected
    assert (chip.hot_128ths, chip.cold_64ths, chip.faults) == (celsius * 128, cold * 64, 0)


# --- settings -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mains_hz", "words"), [(50, ["8003", "8123", "8091"]), (60, ["8002", "8123", "8090"])]
)
def test_order_of_settings(mains_hz, words):
    """Off with the filter chosen (and faults cleared), then type and averaging, then on."""
    bus = FakeBus()
    started(bus, mains_hz=mains_hz)
    assert bus.writes == [bytes.fromhex(word) for word in words]


@pytest.mark.parametrize("before", [50, 60])
@pytest.mark.parametrize("after", [50, 60])
@pytest.mark.parametrize("averages", [1, 4, 16])
def test_settings_never_change_under_a_running_conversion(before, after, averages):
    bus = FakeBus(bytes.fromhex("01F400"), bytes.fromhex("1900"))
    started(bus, mains_hz=before)
    chip = started(bus, mains_hz=after, averages=averages)
    chip.read()
    assert not bus.spoilt
    assert chip.hot_128ths == 31.25 * 128


def test_the_fake_chip_notices_a_filter_that_flips_while_running():
    bus = FakeBus(bytes.fromhex("01F400"))
    started(bus, mains_hz=60)
    bus.cs(0)
    bus.write(b"\x80\x91")
    bus.cs(1)
    chip = Max31856(bus, bus.cs)
    chip.read()
    assert chip.hot_128ths == decode_hot(*RUBBISH)


def test_the_desk_chip_notices_it_too():
    clock, bus = Clock(), FakeBus()
    chip = ChipModel(clock.now, _Still(31.25), shake=False)
    driver = started_on(chip, clock, mains_hz=60)
    chip.write(b"\x80\x91")
    clock.ms += 1000
    driver = Max31856(chip, bus.cs)
    driver.read()
    assert driver.hot_128ths < -200 * 128


@pytest.mark.parametrize("tc_type", TYPES)
@pytest.mark.parametrize("averages", AVERAGES)
def test_type_and_averaging_codes(tc_type, averages):
    """B 0 ... T 7 in the low bits, 1/2/4/8/16 as 0...4 in the high ones."""
    bus = FakeBus()
    started(bus, tc_type=tc_type, averages=averages)
    code = "BEJKNRST".index(tc_type)
    assert bus.registers[1] == (averages.bit_length() - 1) << 4 | code


def test_open_circuit_detection_is_on():
    """It is off after power-up, and an unplugged probe then shows a plausible number."""
    bus = FakeBus()
    started(bus)
    assert bus.registers[0] & 0x30 == 0x10


# --- what can be wrong ----------------------------------------------------------------


@pytest.mark.parametrize("damage", ["low", "high", "late", "early"])
@pytest.mark.parametrize("hot", ["000000", "01F400", "01C000", "FFFFE0"])
def test_a_bus_that_lies_is_a_bus_fault(damage, hot):
    bus = FakeBus(bytes.fromhex(hot), bytes.fromhex("1900"))
    chip = started(bus)
    bus.damage = damage
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["bus"]
    assert (chip.hot_128ths, chip.cold_64ths) == (NO_READING, NO_READING)
    bus.damage = ""
    chip.read()
    assert chip.hot_128ths == decode_hot(*bytes.fromhex(hot))


@pytest.mark.parametrize("register", [2, 3, 4])
def test_power_up_identity(register):
    """MASK, CJHF and CJLF (FF 7F C0) say that this is the chip."""
    bus = FakeBus()
    chip = started(bus)
    chip.read()
    assert chip.faults == 0
    bus.registers[register] ^= 0x04
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["bus"]


def test_lost_settings_are_seen_with_the_next_read_and_repaired():
    bus = FakeBus(bytes.fromhex("01F400"), bytes.fromhex("1900"))
    chip = started(bus)
    bus.lose_settings()
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["config"]
    assert chip.hot_128ths == NO_READING
    chip.configure()
    chip.read()
    assert (chip.faults, chip.hot_128ths) == (0, 31.25 * 128)


@pytest.mark.parametrize(("register", "flip"), [(0, 0x01), (0, 0x10), (0, 0x80), (1, 4), (1, 16)])
def test_one_wrong_setting_is_enough(register, flip):
    bus = FakeBus(bytes.fromhex("01F400"))
    chip = started(bus)
    bus.registers[register] ^= flip
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["config"]


def test_a_chip_that_takes_no_settings_never_gives_a_reading():
    bus = FakeBus(bytes.fromhex("01F400"))
    bus.deaf = True
    chip = started(bus)
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["config"]
    assert chip.hot_128ths == NO_READING


@pytest.mark.parametrize("register", range(5, 10))
def test_limits_and_offset_are_verified_with_each_sample_and_put_right(register):
    """LTHFTH to LTLFTL (7F FF 80 00) and CJTO (00), as the data sheet has them at power-up."""
    bus = FakeBus(bytes.fromhex("01F400"), bytes.fromhex("1900"))
    chip = started(bus)
    chip.read()
    assert chip.faults == 0
    bus.registers[register] ^= 0x10
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["config"]
    assert chip.hot_128ths == NO_READING
    # with an offset the room is not known either
    assert (chip.cold_64ths == NO_READING) == (register == 9)
    chip.configure()
    chip.read()
    assert (chip.faults, chip.hot_128ths, chip.cold_64ths) == (0, 31.25 * 128, 25 * 64)
    assert bytes(bus.registers[5:10]) == bytes.fromhex("7FFF800000")
    assert not bus.spoilt


class Sparking(FakeBus):
    """A line that goes high from byte ``high_from`` on, in the next ``times`` transfers."""

    def __init__(self, *given):
        super().__init__(*given)
        self.high_from, self.times = 1, 0

    def write_readinto(self, out, into):
        super().write_readinto(out, into)
        if self.times:
            self.times -= 1
            into[self.high_from :] = b"\xff" * (len(into) - self.high_from)


@pytest.mark.parametrize("high_from", range(1, 17))
def test_a_lasting_all_ones_answer_is_a_bus_fault_and_a_spark_is_none(high_from):
    """Wherever in the transfer it begins; never the eight faults of its last byte."""
    bus = Sparking(bytes.fromhex("01F400"), bytes.fromhex("1900"))
    chip = started(bus)
    bus.high_from, bus.times = high_from, 1
    chip.read()
    assert (chip.faults, chip.hot_128ths) == (0, 31.25 * 128)
    bus.times = 2
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["bus"]
    assert (chip.hot_128ths, chip.cold_64ths) == (NO_READING, NO_READING)
    assert bus.reads == 4


STATUS = ["open", "voltage", "tc_low", "tc_high", "cj_low", "cj_high", "tc_range", "cj_range"]


@pytest.mark.parametrize(("bit", "name"), list(enumerate(STATUS)))
def test_fault_status_bits_are_named(bit, name):
    """Data sheet, register 0Fh from D0 to D7."""
    bus = FakeBus(bytes.fromhex("01F400"), bytes.fromhex("1900"), 1 << bit)
    chip = started(bus)
    chip.read()
    assert catalogue.fault_names(chip.faults) == [name]
    assert chip.hot_128ths == NO_READING
    assert chip.cold_64ths == 25 * 64  # the room is still known


def test_two_faults_at_once_are_both_named():
    bus = FakeBus(status=0x41)
    chip = started(bus)
    chip.read()
    assert catalogue.fault_names(chip.faults) == ["open", "tc_range"]


# --- the desk board's chip ------------------------------------------------------------


class _Still:
    def __init__(self, probe_c, cold_c=25.0, faults=0):
        self.row = (probe_c, cold_c, faults)

    def at(self, _ms):
        return self.row


def started_on(chip, clock, **options):
    driver = Max31856(chip, chip.cs, **options)
    driver.configure()
    clock.ms += 3000
    return driver


@pytest.mark.parametrize(("raw", "celsius"), HOT[:-4] + HOT[-2:-1])
@pytest.mark.parametrize(("raw_cold", "cold"), COLD[:-1])
def test_the_desk_chip_shows_the_same_bytes(raw, celsius, raw_cold, cold):
    clock = Clock()
    chip = ChipModel(clock.now, _Still(celsius, cold), shake=False)
    driver = started_on(chip, clock)
    driver.read()
    registers = bytearray(7)
    chip.write_readinto(bytes([0x0A] + [0] * 6), registers)
    assert registers[1:3].hex().upper() == raw_cold
    assert registers[3:6].hex().upper() == raw
    assert (driver.hot_128ths, driver.cold_64ths, driver.faults) == (celsius * 128, cold * 64, 0)


def test_the_desk_chip_powers_up_as_the_real_one():
    chip = ChipModel(Clock().now, _Still(25.0))
    registers = bytearray(17)
    chip.write_readinto(bytes(17), registers)
    assert registers[1:10].hex() == "0003ff7fc07fff8000"


@pytest.mark.parametrize(("hz", "first", "later"), [(50, 305, 218), (60, 254, 181)])
def test_the_desk_chip_takes_its_time(hz, first, later):
    """First conversion, then the next, with four readings averaged (data sheet; from memory)."""
    clock = Clock()
    chip = ChipModel(clock.now, _Still(31.25), shake=False)
    driver = Max31856(chip, chip.cs, mains_hz=hz)
    driver.configure()
    assert (chip.first_ms(), chip.conversion_ms()) == (first, later)
    clock.ms = first - 1
    driver.read()
    assert driver.hot_128ths == 0
    clock.ms = first
    driver.read()
    assert driver.hot_128ths == 31.25 * 128


def test_without_open_detection_the_desk_chip_hides_an_open_probe():
    clock = Clock()
    chip = ChipModel(clock.now, _Still(25.0, 25.0, 1))
    driver = started_on(chip, clock)
    driver.read()
    assert catalogue.fault_names(driver.faults) == ["open"]
    chip = ChipModel(clock.now, _Still(25.0, 25.0, 1))
    chip.write(b"\x80\x80")
    clock.ms += 3000
    registers = bytearray(17)
    chip.write_readinto(bytes(17), registers)
    assert registers[16] == 0

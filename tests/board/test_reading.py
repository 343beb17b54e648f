"""Readings with their age and their fault."""

from itertools import groupby

import pytest
from board_fakes import Clock, FakeBus, World

from snapcurve.boards.desk.chip import ChipModel
from snapcurve.probe.thermometer.max31856 import NO_READING, Max31856
from snapcurve.probe.thermometer.reading import Thermometer
from snapcurve.wire import catalogue

PERIOD_MS = 250  # four readings a second
FIRST_MS = 500  # after new settings a conversion takes longer; this one is surely a whole one
RANGE_128THS = 0x7FFF  # what a curve can hold: +-255.99 °C
WARM = bytes.fromhex("01F400")  # 31.25 °C
ROOM = bytes.fromhex("1500")  # 21 °C


def rig(hot=WARM, cold=ROOM, status=0):
    bus = FakeBus(hot, cold, status)
    return bus, Thermometer(Max31856(bus, bus.cs))


def run(thermometer, start_ms, end_ms, each=None):
    """Step each millisecond; the times of good readings."""
    times = []
    for now_ms in range(start_ms, end_ms):
        if each is not None:
            each(now_ms)
        if thermometer.step(now_ms):
            times.append(now_ms)
    return times


def test_four_readings_a_second_on_an_even_grid():
    _, thermometer = rig()
    times = run(thermometer, 0, 3000)
    # Each waits for its successor, the first one for two.
    assert times == list(range(FIRST_MS + 2 * PERIOD_MS, 3000, PERIOD_MS))
    assert thermometer.value_128ths == 31.25 * 128
    assert thermometer.room_centi_c == 2100
    assert thermometer.value_ms == 2500
    assert thermometer.age_ms(3000) == 500


def test_it_says_when_it_wants_to_be_called():
    bus, thermometer = rig()
    now_ms = 0
    for _ in range(20):
        assert thermometer.step(now_ms) == (now_ms >= FIRST_MS + 2 * PERIOD_MS)
        reads = bus.reads
        assert not thermometer.step(thermometer.due_ms() - 1)
        assert bus.reads == reads
        now_ms = thermometer.due_ms()


def test_the_grid_is_not_caught_up_after_a_long_stop():
    bus, thermometer = rig()
    run(thermometer, 0, 1001)
    reads = bus.reads
    run(thermometer, 9000, 9250)
    assert bus.reads == reads + 1


@pytest.mark.parametrize("status", [0x01, 0x02, 0x40])
@pytest.mark.parametrize("at_ms", [1250, 2000])
def test_one_spurious_fault_is_a_missing_reading_and_nothing_else(status, at_ms):
    bus, thermometer = rig()
    seen = set()

    def spoil(now_ms):
        bus.status = status if at_ms <= now_ms < at_ms + PERIOD_MS else 0
        seen.add(thermometer.faults)

    times = run(thermometer, 0, 6000, spoil)
    assert seen == {0}
    first_ms = FIRST_MS + 2 * PERIOD_MS
    assert times == [ms for ms in range(first_ms, 6000, PERIOD_MS) if ms != at_ms]


def test_many_spurious_faults_with_good_readings_between_are_none_either():
    bus, thermometer = rig()
    seen = set()

    def spoil(now_ms):
        bus.status = 0x01 if now_ms % 1000 < PERIOD_MS else 0
        bus.cold = bytes([0x15, now_ms // PERIOD_MS % 2 * 4])  # a chip that is alive
        seen.add(thermometer.faults)

    times = run(thermometer, 0, 30_000, spoil)
    assert seen == {0}
    assert len(times) == 87


@pytest.mark.parametrize(
    ("spoil", "name"),
    [
        (lambda bus: setattr(bus, "status", 0x01), "open"),
        (lambda bus: setattr(bus, "status", 0x02), "voltage"),
        (lambda bus: setattr(bus, "damage", "low"), "bus"),
        (lambda bus: setattr(bus, "damage", "high"), "bus"),
        (lambda bus: setattr(bus, "damage", "late"), "bus"),
    ],
)
def test_a_fault_that_stays_is_named_within_two_seconds(spoil, name):
    bus, thermometer = rig()
    run(thermometer, 0, 3100)
    spoil(bus)
    run(thermometer, 3100, 3100 + 2000)
    assert catalogue.fault_names(thermometer.faults) == [name]
    run(thermometer, 5100, 5500)
    assert thermometer.value_128ths == NO_READING


@pytest.mark.parametrize("offset_ms", range(0, PERIOD_MS, 25))
def test_the_two_seconds_hold_for_every_moment_of_the_fault(offset_ms):
    bus, thermometer = rig()
    run(thermometer, 0, 3000 + offset_ms)
    bus.status = 0x01
    run(thermometer, 3000 + offset_ms, 5000 + offset_ms)
    assert thermometer.faults == 1


def test_no_chip_from_the_start_is_named_within_two_and_a_half_seconds():
    bus, thermometer = rig()
    bus.damage = "low"
    run(thermometer, 0, 2500)
    assert catalogue.fault_names(thermometer.faults) == ["bus"]
    assert thermometer.value_128ths == NO_READING
    assert thermometer.room_centi_c == catalogue.CENTI_NONE


def test_a_chip_that_takes_no_settings_is_named():
    bus, thermometer = rig()
    bus.deaf = True
    assert run(thermometer, 0, 3000) == []
    assert catalogue.fault_names(thermometer.faults) == ["config"]


def test_a_fault_ends_by_itself():
    bus, thermometer = rig()
    run(thermometer, 0, 1000)
    bus.status = 0x01
    run(thermometer, 1000, 4000)
    assert thermometer.faults
    bus.status = 0
    run(thermometer, 4000, 4100)
    assert thermometer.faults  # one good reading is no proof
    run(thermometer, 4100, 5001)
    assert thermometer.faults == 0


def test_a_loose_contact_does_not_end_a_fault():
    bus, thermometer = rig()
    run(thermometer, 0, 1000)
    bus.status = 0x01
    run(thermometer, 1000, 4000)

    def flutter(now_ms):
        bus.status = 0x01 if now_ms // PERIOD_MS % 3 == 0 else 0

    run(thermometer, 4000, 9000, flutter)
    assert thermometer.faults == 1


def test_an_old_value_is_never_a_new_one():
    bus, thermometer = rig()
    run(thermometer, 0, 1100)
    bus.status = 0x01
    for now_ms in range(1100, 8000):
        assert not thermometer.step(now_ms)
        if thermometer.value_128ths != NO_READING:
            assert thermometer.value_ms == 750
            assert thermometer.age_ms(now_ms) <= 2000 + PERIOD_MS
    assert thermometer.value_128ths == NO_READING


def test_the_room_of_a_dead_bus_is_not_kept_either():
    bus, thermometer = rig()
    run(thermometer, 0, 1100)
    bus.damage = "high"
    run(thermometer, 1100, 4000)
    assert thermometer.room_centi_c == catalogue.CENTI_NONE
    bus.damage = ""
    run(thermometer, 4000, 4300)
    assert thermometer.room_centi_c == 2100


def test_an_open_probe_leaves_the_room_known():
    bus, thermometer = rig()
    run(thermometer, 0, 1100)
    bus.status = 0x01
    bus.cold = bytes.fromhex("1680")
    run(thermometer, 1100, 5000)
    assert thermometer.room_centi_c == 2250


def test_lost_settings_are_repaired_and_cost_less_than_a_second():
    bus, thermometer = rig()
    run(thermometer, 0, 3100)
    bus.lose_settings()
    bus.hot = bytes(3)
    times = run(thermometer, 3100, 3500)
    assert times == []
    bus.hot = WARM
    times = run(thermometer, 3500, 6000)
    assert times[0] == 4000
    assert thermometer.faults == 0
    assert bus.registers[0] == 0x91


@pytest.mark.parametrize("late_ms", range(0, PERIOD_MS, 10))
def test_the_first_reading_after_settings_is_one_of_a_whole_conversion(late_ms):
    """However late the step that writes the settings comes, and on the chip that takes its
    time: what it held before (zero, after a dip of the supply) is never taken.
    """
    clock = Clock()
    socket = Socket(clock)
    thermometer = Thermometer(Max31856(socket, socket.cs))
    good = 0
    for clock.ms in range(1001):
        thermometer.step(clock.ms)
    socket.dip_of_the_supply()
    for clock.ms in [1250, *range(1500 + late_ms, 4000)]:
        if thermometer.step(clock.ms):
            good += 1
            assert thermometer.value_128ths == 31.25 * 128
    assert good >= 6


class Socket:
    """The desk board's chip, which can lose its supply for a moment."""

    def __init__(self, clock):
        self._clock = clock
        self.dip_of_the_supply()

    def dip_of_the_supply(self):
        self._chip = ChipModel(self._clock.now, World([(0, 31.25)]), shake=False)

    def cs(self, level):
        self._chip.cs(level)

    def write(self, data):
        self._chip.write(data)

    def write_readinto(self, out, into):
        self._chip.write_readinto(out, into)


def test_a_reading_beyond_what_a_curve_can_hold_is_no_reading():
    _, thermometer = rig(hot=((RANGE_128THS + 1) << 5).to_bytes(3, "big"))
    assert run(thermometer, 0, 3000) == []
    assert catalogue.fault_names(thermometer.faults) == ["tc_range"]
    _, thermometer = rig(hot=(RANGE_128THS << 5).to_bytes(3, "big"))
    assert run(thermometer, 0, 1500) == [1000, 1250]


def test_the_correction_is_applied_once():
    bus = FakeBus(WARM, ROOM)
    thermometer = Thermometer(Max31856(bus, bus.cs), lambda raw: raw + 64)
    run(thermometer, 0, 2000)
    assert thermometer.value_128ths == 31.75 * 128


def test_a_correction_never_leaves_what_a_curve_can_hold():
    bus = FakeBus((RANGE_128THS << 5).to_bytes(3, "big"), ROOM)
    thermometer = Thermometer(Max31856(bus, bus.cs), lambda raw: raw + 64)
    run(thermometer, 0, 2000)
    assert (thermometer.value_128ths, thermometer.uncorrected_128ths) == (RANGE_128THS,) * 2


def hot_bytes(celsius):
    return (round(celsius * 128) << 5 & 0xFFFFFF).to_bytes(3, "big")


@pytest.mark.parametrize("wild_c", [-250.0, 0.0, 31.0, 60.0, 255.0])
@pytest.mark.parametrize("at_ms", range(500, 3000, PERIOD_MS))
def test_a_single_wild_reading_moves_nothing(wild_c, at_ms):
    """A spike of one conversion, as motors and relays nearby make (Marlin#18025)."""
    bus, thermometer = rig()
    shown = set()

    def spoil(now_ms):
        bus.hot = hot_bytes(wild_c) if at_ms <= now_ms < at_ms + PERIOD_MS else WARM
        shown.add(thermometer.value_128ths)

    run(thermometer, 0, 4000, spoil)
    assert shown <= {NO_READING, 31.25 * 128}


def test_a_wild_reading_before_a_fault_is_never_shown():
    """Readings jump while a probe is being unplugged, before the chip says so."""
    bus, thermometer = rig()
    run(thermometer, 0, 2500)
    bus.hot = hot_bytes(80.0)
    run(thermometer, 2500, 2750)
    bus.status = 0x01
    run(thermometer, 2750, 4000)
    assert (thermometer.value_ms, thermometer.value_128ths) == (2250, 31.25 * 128)
    bus.status, bus.hot = 0, WARM
    run(thermometer, 4000, 6000)
    assert thermometer.value_128ths == 31.25 * 128


def test_a_rise_and_a_step_come_through_unchanged_one_reading_late():
    bus, thermometer = rig()
    courses = [20.0, 20.0, 20.5, 21.0, 21.5, 22.0, 40.0, 40.0, 40.0, 39.5, 39.0]
    shown = []
    for index, celsius in enumerate(courses):
        bus.hot = hot_bytes(celsius)
        start_ms = index * PERIOD_MS + (FIRST_MS if index else 0)
        if run(thermometer, start_ms, FIRST_MS + (index + 1) * PERIOD_MS):
            shown.append(thermometer.value_128ths / 128)
    assert shown == courses[1:-1]


def bad_readings(bus, pattern, start_ms):
    """Have the chip report an open circuit in the readings marked B of the pattern."""

    def spoil(now_ms):
        index = max(0, now_ms - start_ms) // PERIOD_MS
        bad = now_ms >= start_ms and pattern[index % len(pattern)] == "B"
        bus.status = 0x01 if bad else 0
        bus.cold = bytes([0x15, now_ms // PERIOD_MS % 2 * 4])

    return spoil


@pytest.mark.parametrize("pattern", ["B", "BBBG", "BBGB", "BGBB", "GBBB"])
@pytest.mark.parametrize("late_ms", [1, 125, 250])
def test_a_fault_in_three_of_four_readings_is_named_within_two_seconds(pattern, late_ms):
    bus, thermometer = rig()
    start_ms = 3000 + late_ms
    spoil = bad_readings(bus, pattern, start_ms)
    run(thermometer, 0, start_ms + 2001, spoil)
    assert catalogue.fault_names(thermometer.faults) == ["open"]
    # It stays while the contact is loose, and goes when that is mended.
    run(thermometer, start_ms + 2001, start_ms + 20_000, spoil)
    assert catalogue.fault_names(thermometer.faults) == ["open"]
    bus.status = 0
    run(thermometer, start_ms + 20_000, start_ms + 21_500)
    assert thermometer.faults == 0


def test_a_chip_that_stands_still_is_named_and_recovers():
    """Over- or undervoltage stops the conversions; the last result stays and looks steady."""
    clock = Clock()
    world = World([(0, 31.25)], faults=[(20_000, 40_000, catalogue.fault_bit("frozen"))])
    chip = ChipModel(clock.now, world)
    thermometer = Thermometer(Max31856(chip, chip.cs))
    named = {}
    for clock.ms in range(60_000):
        thermometer.step(clock.ms)
        named.setdefault(tuple(catalogue.fault_names(thermometer.faults)), clock.ms)
    assert set(named) == {(), ("frozen",)}
    assert 30_000 < named["frozen",] <= 20_000 + 10_000 + 2_000
    assert thermometer.faults == 0
    assert thermometer.value_128ths == pytest.approx(31.25 * 128, abs=1)


def test_the_desk_chip_is_never_taken_for_one_that_stands_still():
    clock = Clock()
    chip = ChipModel(clock.now, World([(0, 31.25)]))
    driver = Max31856(chip, chip.cs)
    driver.configure()
    values = []
    for clock.ms in range(500, 4 * 3600 * 1000, PERIOD_MS):
        driver.read()
        values.append((driver.hot_128ths, driver.cold_64ths))
        assert driver.faults == 0
    same = [len(list(run)) for _, run in groupby(values)]
    assert max(same) < 16
    assert len(same) > len(values) / 2

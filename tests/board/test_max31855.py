"""MAX31855 driver, at the level of the bytes on the bus.

Words and numbers: the maker's data sheet (p. 8 and p. 10), or computed from the package
thermocouple-its90 where said; faults others met with such drivers.
"""

import pytest
import thermocouple_its90

from snapcurve.probe.thermometer import max31855
from snapcurve.probe.thermometer.max31855 import Max31855
from snapcurve.probe.thermometer.max31856 import NO_READING
from snapcurve.wire.catalogue import fault_bit


class FakeBus:
    """SPI bus and select line in one; hands out the words it was given, one per select."""

    def __init__(self, *words: int):
        self.words = list(words)
        self.selected = 0
        self.transfers = 0

    def select(self, level: int) -> None:
        self.selected = level == 0

    def write_readinto(self, out, into) -> None:
        assert self.selected
        assert len(out) == len(into) == 4
        self.transfers += 1
        # the last one comes again and again
        word = self.words.pop(0) if len(self.words) > 1 else self.words[0]
        into[:] = word.to_bytes(4, "big")


def read(word: int, tc_type: str = "K") -> Max31855:
    bus = FakeBus(word)
    chip = Max31855(bus, bus.select, tc_type)
    chip.configure()
    chip.read()
    assert bus.transfers == (
        2 if chip.fault == "bus" else 1
    )  # a spark is asked for again  # both junctions from one and the same word
    assert not bus.selected
    return chip


def word_of(hot_quarters: int, cold_16ths: int) -> int:
    return (hot_quarters & 0x3FFF) << 18 | (cold_16ths & 0xFFF) << 4


# --- decoding -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bits", "celsius"),
    [  # data sheet p. 10, D31 to D18
        ("01100100000000", 1600.0),
        ("00111110100000", 1000.0),
        ("00000110010011", 100.75),
        ("00000001100100", 25.0),
        ("00000000000000", 0.0),
        ("11111111111111", -0.25),
        ("11111111111100", -1.0),
        ("11110000011000", -250.0),
    ],
)
def test_tip_field_of_the_data_sheet(bits, celsius):
    assert max31855.hot_quarters_c(int(bits, 2) << 18) / 4 == celsius


@pytest.mark.parametrize(
    ("bits", "celsius"),
    [  # data sheet p. 10, D15 to D4
        ("011111110000", 127.0),
        ("011001001001", 100.5625),
        ("000110010000", 25.0),
        ("000000000000", 0.0),
        ("111111111111", -0.0625),
        ("111111110000", -1.0),
        ("111011000000", -20.0),
        ("110010010000", -55.0),
    ],
)
def test_cold_field_of_the_data_sheet(bits, celsius):
    assert max31855.cold_16ths_c(int(bits, 2) << 4) / 16 == celsius


@pytest.mark.parametrize(
    ("word", "hot_c", "cold_c"),
    [
        (0xFFFC1600, -0.25, 22.0),  # no sign extension: 4095.75
        (0x064CFFF0, 100.75, -0.0625),  # cold junction unsigned: 255.9375
        (0x01F01900, 31.0, 25.0),
        (0x02D01900, 45.0, 25.0),
        (0x02CC1900, 44.75, 25.0),
        (0x064C6490, 100.75, 100.5625),
        (0xFFFCFFF0, -0.25, -0.0625),
        (0xF060C900, -250.0, -55.0),
        (0x01C01A00, 28.0, 26.0),
        (0x03803400, 56.0, 52.0),  # the word before, sampled one clock late: both doubled
    ],
)
def test_whole_words(word, hot_c, cold_c):
    assert max31855.fault_of(word) is None
    assert max31855.hot_quarters_c(word) / 4 == hot_c
    assert max31855.cold_16ths_c(word) / 16 == cold_c
    chip = read(word)
    assert chip.cold_64ths == cold_c * 64
    if hot_c > -200:
        assert chip.faults == 0
        assert chip.hot_128ths == round(max31855.relinearised_c(hot_c, cold_c) * 128)


# --- faults ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "fault"),
    [
        (0x00000000, "bus"),  # stuck low
        (0xFFFFFFFF, "bus"),  # stuck high
        (0x01F21900, "bus"),  # D17 set
        (0x01F01908, "bus"),  # D3 set
        (0x00011900, "bus"),  # a fault without a cause
        (0x00010001, "open"),
        (0x00011901, "open"),
        (0x00011902, "short_to_ground"),
        (0x00011904, "short_to_supply"),
        (0x01F01901, None),  # D2 to D0 count only together with D16
        (0x01F01907, None),
        (0x00000010, None),  # cold junction at 1/16 °C: near zero is not stuck
    ],
)
def test_faults_are_named(word, fault):
    assert max31855.fault_of(word) == fault
    chip = read(word)
    assert chip.fault == fault
    assert chip.faults == (fault_bit(fault) if fault else 0)
    assert (chip.hot_128ths == NO_READING) == (fault is not None)
    assert (chip.cold_64ths == NO_READING) == (fault == "bus")


def test_an_open_probe_still_tells_the_cold_junction():
    assert read(0x00011901).cold_64ths == 25 * 64


@pytest.mark.parametrize("hot_quarters", [1600 * 4, -250 * 4])
def test_a_voltage_no_thermocouple_gives_is_a_fault_not_a_crash(hot_quarters):
    chip = read(word_of(hot_quarters, 25 * 16))
    assert (chip.fault, chip.hot_128ths) == ("tc_range", NO_READING)
    assert chip.cold_64ths == 25 * 64


def test_a_fault_leaves_no_old_value_and_clears_by_itself():
    bus = FakeBus(0x01F01900, 0x00011901, 0x01F01900)
    chip = Max31855(bus, bus.select)
    chip.read()
    first = chip.hot_128ths
    chip.read()
    assert (chip.hot_128ths, chip.fault) == (NO_READING, "open")
    chip.read()
    assert (chip.hot_128ths, chip.fault, chip.faults) == (first, None, 0)


def test_a_spark_on_the_line_is_no_fault():
    bus = FakeBus(0xFFFFFFFF, 0x01F01900, 0xFFFFFFFF, 0xFFFFFFFF)
    chip = Max31855(bus, bus.select)
    chip.read()
    assert chip.fault is None
    chip.read()
    assert (chip.fault, chip.hot_128ths) == ("bus", NO_READING)


def test_types_without_a_known_gain_are_refused_at_once():
    bus = FakeBus()
    with pytest.raises(ValueError, match="no MAX31855 for type 'R'"):
        Max31855(bus, bus.select, "R")


@pytest.mark.parametrize("kind", max31855.GAIN_MV_PER_C)
def test_the_gain_is_the_mean_slope_of_the_type(kind):
    """That of K, which the data sheet states, is; so are the others."""
    top_c = 400 if kind == "T" else 1000
    slope = thermocouple_its90.get(kind).emf(top_c) / top_c
    assert max31855.GAIN_MV_PER_C[kind] == pytest.approx(slope, abs=6e-7)


# --- the straight line undone ---------------------------------------------------------


def indicated_c(true_c: float, cold_c: float, tc_type: str = "K") -> float:
    """What the chip's equation makes of a perfect probe (data sheet p. 8)."""
    emf = thermocouple_its90.get(tc_type).emf
    return cold_c + (emf(true_c) - emf(cold_c)) / max31855.GAIN_MV_PER_C[tc_type]


@pytest.mark.parametrize(
    ("true_c", "cold_c", "shows_c", "to_c"),
    [  # computed from ITS-90 and 41.276 µV/°C; the last column is the rounding of shows_c
        (31, 25, 30.9052, 1e-4),
        (31, 35, 31.0470, 1e-4),
        (45, 25, 44.7908, 1e-4),
        (45, 35, 44.9326, 1e-4),
        (0, 25, 0.7670, 1e-4),
        (0, 35, 0.9088, 1e-4),
        (28, 25, 27.9488, 1e-4),
        (32, 25, 31.8923, 1e-4),
        (50, 25, 49.7804, 1e-4),
        (99.9743, 25, 99.9812, 1e-4),
        (100, 25, 100.0070, 1e-4),
        (100, 35, 100.1488, 1e-4),
        (31.5, 25, 31.40, 0.006),
        (150, 25, 149.48, 0.006),
        (200, 25, 197.94, 0.006),
        (300, 25, 296.55, 0.006),
        (-20, 25, -18.07, 0.006),
    ],
)
def test_the_line_shows_this_and_undoing_it_gives_the_truth(true_c, cold_c, shows_c, to_c):
    shown_c = indicated_c(true_c, cold_c)
    assert shown_c == pytest.approx(shows_c, abs=to_c)
    assert max31855.relinearised_c(shown_c, cold_c) == pytest.approx(true_c, abs=1e-4)


@pytest.mark.parametrize(
    ("rounded_c", "cold_c", "tip_c", "to_c"),
    [
        (31.00, 25, 31.0961, 1e-4),
        (31.00, 35, 30.9524, 1e-4),
        (44.75, 25, 44.9590, 1e-4),
        (45.00, 35, 45.0676, 1e-4),
        (31.25, 25, 31.35, 0.006),
        (300.0, 25, 303.44, 0.006),
    ],
)
def test_tip_from_the_chips_own_steps(rounded_c, cold_c, tip_c, to_c):
    chip = read(word_of(int(rounded_c * 4), int(cold_c * 16)))
    assert max31855.relinearised_c(rounded_c, cold_c) == pytest.approx(tip_c, abs=to_c)
    assert chip.hot_128ths / 128 == pytest.approx(tip_c, abs=to_c + 1 / 256)


@pytest.mark.parametrize("cold_c", [25, 35])
@pytest.mark.parametrize("true_c", [0, 31, 45, 100])
def test_perfect_probe_reads_true_within_the_chips_steps(true_c, cold_c):
    # The chip rounds to 0.25 °C: half a step is 0.125 °C, whatever comes after.
    quarters = round(indicated_c(true_c, cold_c) * 4)
    assert read(word_of(quarters, cold_c * 16)).hot_128ths / 128 == pytest.approx(true_c, abs=0.15)


def test_type_t_is_undone_with_its_own_line():
    # By this line 31 °C would read 29.71 and ice 5.99 (cold junction 25 °C).
    assert indicated_c(31, 25, "T") == pytest.approx(29.71, abs=0.006)
    assert indicated_c(0, 25, "T") == pytest.approx(5.99, abs=0.006)
    for true_c in (0, 31, 45, 100):
        quarters = round(indicated_c(true_c, 25, "T") * 4)
        got_c = read(word_of(quarters, 25 * 16), "T").hot_128ths / 128
        assert got_c == pytest.approx(true_c, abs=0.125 * 52.18 / 38.7 + 1 / 256)


@pytest.mark.parametrize("cold_c", [-5.0, 0.0, 0.0625, 22.0, 25.0, 35.0])
def test_no_jump_where_tip_and_cold_junction_are_equally_warm(cold_c):
    # Choosing the inverse by the measured voltage instead of the sum jumps here.
    last_c = None
    for step in range(-8, 9):
        quarters = round(cold_c * 4) + step
        tip_c = max31855.relinearised_c(quarters / 4, cold_c)
        if last_c is not None:
            assert 0 < tip_c - last_c < 0.3
        last_c = tip_c


def test_the_whole_range_of_the_cold_junction_is_read_without_a_crash():
    for cold_16ths in range(-55 * 16, 127 * 16, 7):
        for hot_c in (-200, -20, 0, 31, 100, 400):
            chip = read(word_of(hot_c * 4, cold_16ths))
            assert chip.fault in (None, "tc_range")

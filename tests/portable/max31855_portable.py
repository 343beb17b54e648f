"""MAX31855 driver and correction curve under any interpreter.

Plain asserts, no libraries; test_portable.py runs it under both interpreters.
"""

from snapcurve.probe.thermometer.calibration import CorrectionCurve
from snapcurve.probe.thermometer.max31855 import Max31855
from snapcurve.probe.thermometer.max31856 import NO_READING
from snapcurve.wire.catalogue import fault_bit

checks = 0


def check(condition, what):
    """One counted check."""
    global checks
    checks += 1
    assert condition, what


class FakeBus:
    """SPI bus and select line in one, with one word to give."""

    def __init__(self, word):
        self.word = word
        self.selected = False

    def select(self, level):
        self.selected = level == 0

    def write_readinto(self, out, into):
        assert self.selected and len(out) == len(into) == 4  # noqa: PT018
        into[0] = self.word >> 24
        into[1] = self.word >> 16 & 0xFF
        into[2] = self.word >> 8 & 0xFF
        into[3] = self.word & 0xFF


# Word, tip °C after the straight line is undone (by the package thermocouple-its90), cold
# junction °C.
WORDS = (
    (0x01F01900, 31.0961, 25.0),
    (0x02CC1900, 44.9590, 25.0),
    (0x000C1900, -0.0178, 25.0),
    (0xFFFC1600, -1.0028, 22.0),  # -0.25 °C by the line: negative numbers keep their sign
)
FAULTS = (
    (0x00000000, "bus"),
    (0xFFFFFFFF, "bus"),
    (0x01F21900, "bus"),
    (0x01F01908, "bus"),
    (0x00010001, "open"),
    (0x00011902, "short_to_ground"),
    (0x00011904, "short_to_supply"),
    (0x64001900, "tc_range"),
)


def read(word):
    bus = FakeBus(word)
    chip = Max31855(bus, bus.select)
    chip.configure()
    chip.read()
    return chip


for word, tip_c, cold_c in WORDS:
    chip = read(word)
    check(chip.faults == 0, "%08x is no fault" % word)
    check(
        abs(chip.hot_128ths / 128 - tip_c) <= 0.0045, "tip of %08x: %d" % (word, chip.hot_128ths)
    )
    check(chip.cold_64ths == cold_c * 64, "cold junction of %08x" % word)
for word, fault in FAULTS:
    chip = read(word)
    check(chip.fault == fault and chip.faults == fault_bit(fault), "fault of %08x" % word)
    check(chip.hot_128ths == NO_READING, "no reading with %08x" % word)

curve = CorrectionCurve([(9800, 100), (0, -100)])
for raw_128ths, corrected_128ths in (
    (0, -128),
    (49 * 128, 49 * 128),
    (98 * 128, 99 * 128),
    (-30 * 128, -31 * 128),
    (200 * 128, 201 * 128),
    (24 * 128 + 64, 24 * 128),
):
    check(curve.corrected_128ths(raw_128ths) == corrected_128ths, "corrected %d" % raw_128ths)
for points in ([], [(0, 0), (10, 0)], [(0, 2000)], [(3100, -100), (3200, 100)]):
    try:
        CorrectionCurve(points)
    except ValueError:
        checks += 1
    else:
        raise AssertionError("accepted %r" % (points,))

print("%d checks" % checks)

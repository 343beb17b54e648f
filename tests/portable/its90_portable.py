"""ITS-90 functions under any interpreter, in its own floats and rounded to 32 bits.

Plain asserts, no libraries; test_portable.py runs it under both interpreters.
"""

import math
from array import array

from snapcurve.probe.thermometer import its90

checks = 0


def near(got, wanted, allowed, what):
    """One counted check."""
    global checks
    checks += 1
    assert abs(got - wanted) <= allowed, "%s: got %r, wanted %r" % (what, got, wanted)


class Single:
    """A number that rounds itself and every result to 32 bits, as most boards do."""

    def __init__(self, value):
        self.value = array("f", [value])[0]

    def __add__(self, other):
        return Single(self.value + _single(other))

    def __radd__(self, other):
        return Single(_single(other) + self.value)

    def __sub__(self, other):
        return Single(self.value - _single(other))

    def __rsub__(self, other):
        return Single(_single(other) - self.value)

    def __mul__(self, other):
        return Single(self.value * _single(other))

    def __rmul__(self, other):
        return Single(_single(other) * self.value)

    def __truediv__(self, other):
        return Single(self.value / _single(other))

    def __lt__(self, other):
        return self.value < _single(other)

    def __le__(self, other):
        return self.value <= _single(other)

    def __gt__(self, other):
        return self.value > _single(other)

    def __ge__(self, other):
        return self.value >= _single(other)


def _single(number):
    return number.value if isinstance(number, Single) else Single(number).value


def single_exp(exponent):
    """exp, rounded when the argument is a Single."""
    if isinstance(exponent, Single):
        return Single(math.exp(exponent.value))
    return math.exp(exponent)


# NIST SRD 60 table files: °C, then mV of types K, T, J, N, E, rounded to 0.001 mV.
TABLE = (
    (-10, -0.392, -0.383, -0.501, -0.260, -0.582),
    (-5, -0.197, -0.193, -0.251, -0.131, -0.292),
    (0, 0.000, 0.000, 0.000, 0.000, 0.000),
    (10, 0.397, 0.391, 0.507, 0.261, 0.591),
    (20, 0.798, 0.790, 1.019, 0.525, 1.192),
    (25, 1.000, 0.992, 1.277, 0.659, 1.495),
    (27, 1.081, 1.074, 1.381, 0.712, 1.617),
    (28, 1.122, 1.114, 1.433, 0.739, 1.678),
    (30, 1.203, 1.196, 1.537, 0.793, 1.801),
    (31, 1.244, 1.238, 1.589, 0.820, 1.862),
    (32, 1.285, 1.279, 1.641, 0.847, 1.924),
    (33, 1.326, 1.320, 1.693, 0.874, 1.986),
    (34, 1.366, 1.362, 1.745, 0.901, 2.047),
    (35, 1.407, 1.403, 1.797, 0.928, 2.109),
    (40, 1.612, 1.612, 2.059, 1.065, 2.420),
    (45, 1.817, 1.823, 2.322, 1.202, 2.733),
    (50, 2.023, 2.036, 2.585, 1.340, 3.048),
    (60, 2.436, 2.468, 3.116, 1.619, 3.685),
    (80, 3.267, 3.358, 4.187, 2.189, 4.985),
    (100, 4.096, 4.279, 5.269, 2.774, 6.319),
    (120, 4.920, 5.228, 6.360, 3.374, 7.685),
    (150, 6.138, 6.704, 8.010, 4.302, 9.789),
)

# Printed by the package thermocouple-its90 1.0.2: type, °C, mV.
EXACT = (
    ("K", 25, 1.0002423545675625),
    ("K", 27.5, 1.1016490147341103),
    ("K", 31, 1.2439844292325728),
    ("K", 33.8, 1.3581458872184224),
    ("K", 45, 1.8171284610672127),
    ("K", 100, 4.096230218723254),
    ("K", 150, 6.13834392715088),
    ("K", -10, -0.391854151785056),
    ("T", 25, 0.9919772678200114),
    ("T", 31, 1.237595346846364),
    ("T", 45, 1.822686707701796),
    ("T", 100, 4.2785186158002695),
    ("T", 150, 6.704086547699409),
    ("T", -10, -0.3830504695758631),
    ("J", 31, 1.5886690424489114),
    ("N", 31, 0.8199985417508123),
    ("E", 31, 1.8624811226807292),
)

# The same package: type, °C, slope in µV/°C.
SLOPES = (
    ("K", 0, 39.450128),
    ("K", 31, 40.726344),
    ("K", 45, 41.131361),
    ("K", 100, 41.368573),
    ("T", 0, 38.748106),
    ("T", 31, 41.191653),
    ("T", 45, 42.393270),
    ("T", 100, 46.784961),
)

# The same package: type, tip °C, cold junction °C, measured mV. A cold tip or a warm board
# gives a negative voltage.
COLD_JUNCTION = (
    ("K", 0, 25, -1.000242),
    ("K", 31, 20, 0.445865),
    ("K", 31, 25, 0.243742),
    ("K", 31, 35, -0.163164),
    ("K", 45, 25, 0.816886),
    ("K", 45, 35, 0.409980),
    ("K", 100, 25, 3.095988),
    ("T", 31, 25, 0.245618),
    ("T", 31, 35, -0.165452),
    ("T", 45, 25, 0.830709),
    ("T", 45, 35, 0.419640),
    ("T", 100, 25, 3.286541),
    ("K", 49.90792803, 23, 1.1),
    ("K", 124.30994799, 25, 4.096),
    ("K", 500, 25, 19.644044),
)

for row in TABLE:
    for position, kind in enumerate(its90.TYPES):
        near(its90.emf_mv(kind, row[0]), row[1 + position], 0.0005001, "E of type " + kind)

# In 32-bit floats these are good to 2e-6 mV, in 64-bit floats to the last digit or so.
bits_64 = 1.0 + 2.0**-40 != 1.0
for kind, celsius, millivolt in EXACT:
    near(its90.emf_mv(kind, celsius), millivolt, 1e-9 if bits_64 else 2e-6, "E of type " + kind)
for kind, celsius, slope in SLOPES:
    near(its90.seebeck_mv_per_c(kind, celsius) * 1000, slope, 2e-5, "slope of type " + kind)
for kind, tip, cold, measured in COLD_JUNCTION:
    total = its90.emf_mv(kind, cold) + measured
    near(its90.temperature_c(kind, total), tip, 1e-4, "tip of type " + kind)

# Round trip over the temperatures a bench meets, and beyond.
worst_single = 0.0
for kind in its90.TYPES:
    for tenths in range(-1000, 4001, 25):
        celsius = tenths / 10
        back = its90.temperature_c(kind, its90.emf_mv(kind, celsius))
        near(back, celsius, 0.001 if bits_64 else 0.01, "round trip of type " + kind)

its90.exp = single_exp
for kind in its90.TYPES:
    for tenths in range(-1000, 4001, 25):
        single = Single(tenths / 10)
        back = its90.temperature_c(kind, its90.emf_mv(kind, single))
        assert isinstance(back, Single)
        off = back.value - single.value
        near(off, 0, 0.02, "round trip of type %s in 32-bit floats" % kind)
        worst_single = max(worst_single, abs(off))

for bad in (
    lambda: its90.emf_mv("Z", 20),
    lambda: its90.emf_mv("T", 401),
    lambda: its90.emf_mv("K", float("nan")),
    lambda: its90.temperature_c("K", 60.0),
    lambda: its90.temperature_c("K", -6.0),
    lambda: its90.temperature_c("", 0.0),
):
    try:
        bad()
    except ValueError:
        checks += 1
    else:
        raise AssertionError("accepted what it cannot compute")

print("round trip in 32-bit floats: %.6f °C at worst" % worst_single)
print("%d checks" % checks)

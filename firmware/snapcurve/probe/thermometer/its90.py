"""Thermocouple voltage and temperature after the ITS-90 reference functions.

Temperatures in °C, voltages in mV against a reference junction at 0 °C, types K, T, J, N
and E. Coefficients: NIST SRD 60 table files (Monograph 175), written highest power first,
the order in which Horner's scheme takes them.

The inverse is NIST's approximate polynomial (0.06 °C at worst) and one Newton step on the
forward function, which leaves less than 0.0001 °C. Both keep their accuracy in 32-bit
floats, the kind most boards have.
"""

from math import exp

from snapcurve.wire.const import const

TYPES = "KTJNE"

# Range in which forward and inverse are both defined.
RANGE_C = {
    "K": (-200.0, 1372.0),
    "T": (-200.0, 400.0),
    "J": (-210.0, 760.0),
    "N": (-200.0, 1300.0),
    "E": (-200.0, 1000.0),
}

# The same range as voltage, with room for a rounding error at either end.
_RANGE_MV = {
    "K": (-5.8924, 54.8874),
    "T": (-5.6034, 20.8730),
    "J": (-8.0964, 42.9200),
    "N": (-3.9914, 47.5139),
    "E": (-8.8256, 76.3739),
}

# The tables stay in rows, to be compared with the source.
# fmt: off

# (below 0 °C, from 0 °C up)
_FORWARD = {
    "K": (
        (-0.163226974860e-22, -0.198892668780e-19, -0.104516093650e-16, -0.310888728940e-14,
         -0.574103274280e-12, -0.675090591730e-10, -0.499048287770e-08, -0.328589067840e-06,
         0.236223735980e-04, 0.394501280250e-01, 0.0),
        (-0.121047212750e-25, 0.971511471520e-22, -0.320207200030e-18, 0.560750590590e-15,
         -0.560728448890e-12, 0.318409457190e-09, -0.994575928740e-07, 0.185587700320e-04,
         0.389212049750e-01, -0.176004136860e-01),
    ),
    "T": (
        (0.797951539270e-30, 0.139450270620e-26, 0.107955392700e-23, 0.487686622860e-21,
         0.142515947790e-18, 0.282135219250e-16, 0.384939398830e-14, 0.360711542050e-12,
         0.226511565930e-10, 0.901380195590e-09, 0.200329735540e-07, 0.118443231050e-06,
         0.441944343470e-04, 0.387481063640e-01, 0.0),
        (-0.275129016730e-19, 0.454791352900e-16, -0.308157587720e-13, 0.109968809280e-10,
         -0.218822568460e-08, 0.206182434040e-06, 0.332922278800e-04, 0.387481063640e-01, 0.0),
    ),
    "J": (
        (0.156317256970e-22, -0.125383953360e-18, 0.209480906970e-15, -0.170529583370e-12,
         0.132281952950e-09, -0.856810657200e-07, 0.304758369300e-04, 0.503811878150e-01, 0.0),
    ) * 2,
    "N": (
        (-0.934196678350e-19, -0.760893007910e-16, -0.226534380030e-13, -0.263033577160e-11,
         -0.464120397590e-10, -0.938411115540e-07, 0.109574842280e-04, 0.261591059620e-01, 0.0),
        (-0.306821961510e-28, 0.208492293390e-24, -0.608632456070e-21, 0.997453389920e-18,
         -0.100634715190e-14, 0.643118193390e-12, -0.252611697940e-09, 0.438256272370e-07,
         0.157101418800e-04, 0.259293946010e-01, 0.0),
    ),
    "E": (
        (-0.346578420130e-28, -0.558273287210e-25, -0.396736195160e-22, -0.164147763550e-19,
         -0.439794973910e-17, -0.803701236210e-15, -0.102876055340e-12, -0.932140586670e-11,
         -0.594525830570e-09, -0.258001608430e-07, -0.779980486860e-06, 0.454109771240e-04,
         0.586655087080e-01, 0.0),
        (0.359608994810e-27, -0.143880417820e-23, 0.214892175690e-20, -0.125366004970e-17,
         -0.191974955040e-15, 0.650244032700e-12, -0.330568966520e-09, 0.289084072120e-07,
         0.450322755820e-04, 0.586655087100e-01, 0.0),
    ),
}

# Type K above 0 °C carries the extra term a0 exp(a1 (t - a2)^2).
_K_A0 = const(0.1185976)
_K_A1 = const(-0.1183432e-03)
_K_A2 = const(126.9686)

# Per type: (upper voltage of this stretch in mV, polynomial), from the lowest stretch up.
_INVERSE = {
    "K": (
        (0.0, (-5.1920577e-04, -1.0450598e-02, -8.6632643e-02, -3.7342377e-01, -8.9773540e-01,
          -1.0833638, -1.1662878, 25.173462, 0.0)),
        (20.644, (-1.052755e-08, 1.057734e-06, -4.413030e-05, 9.804036e-04, -1.228034e-02,
          8.315270e-02, -2.503131e-01, 7.860106e-02, 25.08355, 0.0)),
        (99.0, (-3.110810e-08, 8.802193e-06, -9.650715e-04, 5.464731e-02, -1.646031, 48.30222,
          -131.8058)),
    ),
    "T": (
        (0.0, (1.2668171e-03, 2.0241446e-02, 1.3304473e-01, 4.2527777e-01, 7.9018692e-01,
          -2.1316967e-01, 25.949192, 0.0)),
        (99.0, (-7.293422e-07, 6.048144e-05, -2.165394e-03, 4.637791e-02, -7.602961e-01, 25.92800,
          0.0)),
    ),
    "J": (
        (0.0, (-8.3823321e-05, -2.3963370e-03, -2.8131513e-02, -1.7256713e-01, -5.9086933e-01,
          -1.0752178, -1.2286185, 19.528268, 0.0)),
        (99.0, (5.099890e-10, -5.344285e-08, 3.585153e-06, -2.549687e-04, 1.036969e-02,
          -2.001204e-01, 19.78425, 0.0)),
    ),
    "N": (
        (0.0, (7.3138868e-03, 1.1582665e-01, 7.7075166e-01, 2.7754916, 5.8488586, 7.2060525,
          5.2229312, 1.1010485, 38.436847, 0.0)),
        (20.613, (-7.98156e-08, 5.39280e-06, -1.17272e-04, -2.12169e-06, 4.70205e-02, -1.08267,
          38.6896, 0.0)),
        (99.0, (7.767022e-07, -1.274371e-04, 9.855391e-03, -3.915159e-01, 33.00943, 19.72485)),
    ),
    "E": (
        (0.0, (-1.1564890e-05, -3.4034030e-04, -4.1360199e-03, -2.6084314e-02, -9.2502871e-02,
          -1.5859697e-01, -4.3514970e-01, 16.977288, 0.0)),
        (99.0, (-3.2447087e-14, 1.0629823e-11, -1.3735879e-09, 8.4036165e-08, -1.7896001e-06,
          -7.3562749e-05, 6.5435585e-03, -2.3301759e-01, 17.057035, 0.0)),
    ),
}
# fmt: on


def emf_mv(kind: str, temperature_c: float) -> float:
    """Voltage (mV) of a thermocouple whose other junction is at 0 °C.

    `kind` is one letter of TYPES, `temperature_c` lies within its RANGE_C; anything else
    raises ValueError.
    """
    _within(kind, temperature_c)
    return _voltage_and_slope(kind, temperature_c)[0]


def seebeck_mv_per_c(kind: str, temperature_c: float) -> float:
    """Slope dE/dt (mV/°C) of `emf_mv` at a temperature; same arguments, same errors."""
    _within(kind, temperature_c)
    return _voltage_and_slope(kind, temperature_c)[1]


def temperature_c(kind: str, total_mv: float) -> float:
    """Temperature (°C) of a junction whose voltage against 0 °C is `total_mv` (mV).

    `total_mv` is the sum of the measured voltage and the cold junction's own, which chooses the
    stretch of the inverse: by the measured part alone the result would jump where tip and cold
    junction are about equally warm.
    Raises ValueError for an unknown type or a voltage outside the type's range.
    """
    _known(kind)
    lowest_mv, highest_mv = _RANGE_MV[kind]
    if not (total_mv >= lowest_mv and total_mv <= highest_mv):
        raise ValueError(
            "%.3f mV is outside type %s's range of %.3f to %.3f mV: check the thermocouple type"
            % (total_mv, kind, lowest_mv, highest_mv)
        )
    stretch = 0
    while total_mv >= _INVERSE[kind][stretch][0]:
        stretch += 1
    guess_c = 0.0
    for coefficient in _INVERSE[kind][stretch][1]:
        guess_c = guess_c * total_mv + coefficient
    voltage_mv, slope = _voltage_and_slope(kind, guess_c)
    return guess_c - (voltage_mv - total_mv) / slope


def _voltage_and_slope(kind, t):
    """Forward function and its derivative in one pass of Horner's scheme, range unchecked."""
    total = 0.0
    slope = 0.0
    for coefficient in _FORWARD[kind][0 if t < 0 else 1]:
        slope = slope * t + total
        total = total * t + coefficient
    if kind == "K" and t >= 0:
        away = t - _K_A2
        bump = _K_A0 * exp(_K_A1 * away * away)
        total = total + bump
        slope = slope + 2 * _K_A1 * away * bump
    return total, slope


def _known(kind):
    if kind not in RANGE_C:
        raise ValueError("thermocouple type %r is not one of K, T, J, N, E" % (kind,))


def _within(kind, temperature):
    _known(kind)
    lowest_c, highest_c = RANGE_C[kind]
    if not (temperature >= lowest_c and temperature <= highest_c):
        raise ValueError(
            "%.1f °C is outside type %s's range of %d to %d °C"
            % (temperature, kind, lowest_c, highest_c)
        )

"""Which converter is on the bus, and its driver."""

from snapcurve.wire.const import const

from .max31856 import FAULT_BUS, Max31856

_LOOKS = const(4)
# 1/64 °C: where a MAX31855 measures its own temperature (data sheet), -40 to 125 °C.
_COLDEST, _WARMEST = -40 * 64, 125 * 64


def driver(name: str, spi, cs, tc_type: str, mains_hz: int):
    """The driver of the converter called ``name`` (wire.catalogue.CONVERTERS)."""
    if name == "MAX31855":
        from .max31855 import Max31855  # loaded only where it is fitted

        return Max31855(spi, cs, tc_type)
    return Max31856(spi, cs, tc_type, mains_hz)


def recognised(spi, cs) -> str:
    """The name of the converter that answers, "" if none does.

    A MAX31856 shows registers that nothing else can show. A MAX31855 shows no name: words that
    its data sheet allows, time after time, and a cold junction within its range.
    """
    fine = driver("MAX31856", spi, cs, "K", 50)
    fine.read()
    if not fine.faults & FAULT_BUS:
        return "MAX31856"
    coarse = driver("MAX31855", spi, cs, "K", 50)
    for _ in range(_LOOKS):
        coarse.read()
        if not _COLDEST <= coarse.cold_64ths <= _WARMEST:  # also where there is no reading
            return ""
    return "MAX31855"

"""What hears in the board: thermometer and estimate, fed with what a probe says."""

from snapcurve.probe.tempering.estimate import Estimate
from snapcurve.probe.tempering.immersion import HOLD
from snapcurve.probe.thermometer.max31856 import NO_READING
from snapcurve.probe.thermometer.reading import Thermometer
from snapcurve.wire.catalogue import CENTI_NONE


class _Converter:
    """Hands the thermometer what it is given."""

    hot_128ths = cold_64ths = NO_READING
    faults = 0

    def configure(self) -> None:
        """Nothing to set."""

    def read(self) -> None:
        """The values are there already."""


class Ear:
    """The board's thermometer and estimate, fed with what the probe says. ``phase`` is what the
    bowl does in it (tempering/immersion.py)."""

    def __init__(self, room_c: float | None) -> None:
        self._converter = _Converter()
        self.room_is(room_c)
        self._thermometer = Thermometer(self._converter)
        self.estimate = Estimate()
        self.phase = HOLD

    def room_is(self, room_c: float | None) -> None:
        """What the cold junction says; None for a converter that does not know."""
        self._converter.cold_64ths = NO_READING if room_c is None else round(room_c * 64)

    def hears(self, now_ms: int, probe_c: float, fault: int = 0) -> bool:
        """Take one conversion; whether the estimate has taken a reading."""
        self._converter.hot_128ths = round(probe_c * 128)
        self._converter.faults = fault
        thermometer = self._thermometer
        if not thermometer.step(now_ms):
            return False
        room = thermometer.room_centi_c
        junction = None if room == CENTI_NONE else room * 128 // 100
        self.estimate.update(now_ms, thermometer.value_128ths, junction, self.phase)
        return True

"""What the board has stored for itself: the probe that is fitted, its calibration, profile and
volume.

A setting that is there and cannot be read is sounded and reported: without its profile a
board would guide a batch in silence, and silence means that all is well.
"""

from snapcurve.wire import codec
from snapcurve.wire.catalogue import CONVERTERS, MAINS_HZ, PROBE, TROUBLES, VOLUMES
from snapcurve.wire.errors import WireError

from .store import CALIBRATION, PROFILE
from .tempering import profile as profiles
from .thermometer import fitted

VOLUME = "volume"
_PROBE = "probe"
_BAD_PROFILE = 1 << TROUBLES.index("profile")
_BAD_CALIBRATION = 1 << TROUBLES.index("calibration")
_OTHER_TYPE = 1 << TROUBLES.index("other_type")
_BAD_PROBE = 1 << TROUBLES.index("probe")


def check_probe(values):
    """``values`` of catalogue.PROBE as a tuple; WireError for a frequency that no mains has."""
    if values[1] not in MAINS_HZ:
        raise WireError("bad_value", 1)
    return tuple(values)


class Settings:
    """``probe`` is what is fitted, the values of catalogue.PROBE, ``chosen`` whether somebody
    has said so, ``recognised`` the converter that answers ("": none). ``profile`` is the checked
    Profile or None, ``calibrated_unix_s`` when the calibration in use was made (0: none),
    ``volume`` a place in catalogue.VOLUMES. ``unreadable`` and ``unused`` are bits of
    catalogue.TROUBLES; what is unused is no reason to sound.

    ``thermometer`` reads the converter on ``bus`` (an SPI bus and its select line). The
    calibration corrects it, and tells ``estimate`` the probe's lag; not so one that was made
    with another type of probe. ``tc_type`` is that of a board where nothing was chosen, and of
    calibrations from before one could choose.
    """

    def __init__(self, store, thermometer, estimate, bus, tc_type):
        self._store = store
        self._thermometer = thermometer
        self._estimate = estimate
        self._bus = bus
        self._built_for = tc_type
        self.probe = (tc_type, MAINS_HZ[0], CONVERTERS[0])
        self.chosen = False
        self.recognised = ""
        self.profile = None
        self.calibrated_unix_s = 0
        self.volume = len(VOLUMES) - 1
        self.unreadable = self.unused = 0

    def start(self) -> None:
        """Read everything from the store."""
        store = self._store
        try:
            raw = store.load(_PROBE)
            if raw or store.size(_PROBE) >= 0:
                self.probe = check_probe(codec.unpack(PROBE, raw))
                self.chosen = True
        except WireError:
            self.unreadable |= _BAD_PROBE
        self.recognised = fitted.recognised(*self._bus)
        self._fit()
        raw = store.load(VOLUME)
        if raw:
            self.volume = min(raw[0], self.volume)
        raw = store.load(PROFILE)
        try:
            # A file without a byte was lost: a profile is never empty.
            if raw or store.size(PROFILE) >= 0:
                self.profile = profiles.parse(raw)
        except WireError:
            self.unreadable |= _BAD_PROFILE
        raw = store.calibration()
        try:
            if not raw and store.size(CALIBRATION) > 0:
                raise WireError("bad_length")
            self._correct(raw)
        except WireError:
            self.unreadable |= _BAD_CALIBRATION

    def use_probe(self, probe) -> None:
        """Store what is fitted, checked values of catalogue.PROBE, and read it so."""
        self._store.save(_PROBE, codec.pack(PROBE, probe))
        self.probe = probe
        self.chosen = True
        self.unreadable &= ~(_BAD_PROBE | _BAD_CALIBRATION)
        self._fit()
        try:
            self._correct(self._store.calibration())
        except WireError:
            self.unreadable |= _BAD_CALIBRATION

    def _fit(self) -> None:
        tc_type, mains_hz, converter = self.probe
        if self.recognised:
            converter = self.recognised
        self.probe = (tc_type, mains_hz, converter)
        spi, cs = self._bus
        self._thermometer.fit(fitted.driver(converter, spi, cs, tc_type, mains_hz))

    def use_profile(self, profile) -> bool:
        """Store ``profile`` and use it from the next batch on; whether it is another one."""
        if self.profile is not None and self.profile.raw == profile.raw:
            return False
        self._store.save(PROFILE, profile.raw)
        self.profile = profile
        self.unreadable &= ~_BAD_PROFILE
        return True

    def use_calibration(self, raw: bytes) -> None:
        """Store ``raw`` as the calibration and correct by it. WireError if it is bad."""
        self._store.save_calibration(raw)
        self._correct(raw)
        self.unreadable &= ~_BAD_CALIBRATION

    def _correct(self, raw: bytes) -> None:
        """Correct by ``raw``, by nothing if it is empty or bad."""
        self._thermometer.corrected = None
        self.calibrated_unix_s = 0
        self.unused = 0
        if not raw:
            return
        from .thermometer import calibration as calibrations  # few boards have one

        calibration = calibrations.parse(raw)
        if (calibration.tc_type or self._built_for) != self.probe[0]:
            self.unused = _OTHER_TYPE
            return
        curve = calibration.curve
        self._thermometer.corrected = None if curve is None else curve.corrected_128ths
        if calibration.lag_s:
            self._estimate.set_lag(calibration.lag_s)
        self.calibrated_unix_s = calibration.set_unix_s

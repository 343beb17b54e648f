"""What the board has stored for itself: profile, calibration and volume.

A setting that is there and cannot be read is sounded and reported: without its profile a
board would guide a batch in silence, and silence means that all is well.
"""

from snapcurve.wire.catalogue import TROUBLES, VOLUMES
from snapcurve.wire.errors import WireError

from .store import CALIBRATION, PROFILE
from .tempering import profile as profiles

VOLUME = "volume"
_BAD_PROFILE = 1 << TROUBLES.index("profile")
_BAD_CALIBRATION = 1 << TROUBLES.index("calibration")


class Settings:
    """``profile`` is the checked Profile or None, ``calibrated_unix_s`` when the calibration
    was made (0: none), ``volume`` a place in catalogue.VOLUMES, ``unreadable`` bits of
    catalogue.TROUBLES. The calibration corrects ``thermometer`` and tells ``estimate`` the
    probe's lag.
    """

    def __init__(self, store, thermometer, estimate):
        self._store = store
        self._thermometer = thermometer
        self._estimate = estimate
        self.profile = None
        self.calibrated_unix_s = 0
        self.volume = len(VOLUMES) - 1
        self.unreadable = 0

    def start(self) -> None:
        """Read everything from the store."""
        store = self._store
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
        if not raw:
            return
        from .thermometer import calibration as calibrations  # few boards have one

        calibration = calibrations.parse(raw)
        curve = calibration.curve
        self._thermometer.corrected = None if curve is None else curve.corrected_128ths
        if calibration.lag_s:
            self._estimate.set_lag(calibration.lag_s)
        self.calibrated_unix_s = calibration.set_unix_s

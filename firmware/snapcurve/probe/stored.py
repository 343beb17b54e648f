"""What the board has stored for itself, taken up at the start: profile and calibration.

What is there and cannot be read is said, never passed over: without its profile a board would
guide a batch in silence, and silence means that all is well.
"""

from snapcurve.wire.catalogue import TROUBLES
from snapcurve.wire.errors import WireError

from .store import CALIBRATION, PROFILE
from .tempering import profile as profiles

BAD_PROFILE = 1 << TROUBLES.index("profile")
BAD_CALIBRATION = 1 << TROUBLES.index("calibration")


def profile_of(store):
    """``(profile, trouble)``: the checked profile, None if there is none or it is bad."""
    raw = store.profile()
    if not raw:
        # A file without a byte is one that was lost: a profile is never empty.
        return None, BAD_PROFILE if store.size(PROFILE) >= 0 else 0
    try:
        return profiles.parse(raw), 0
    except WireError:
        return None, BAD_PROFILE


def calibrate(store, thermometer, estimate):
    """Correct by the stored calibration: ``(when it was made, trouble)``."""
    raw = store.calibration()
    try:
        if not raw and store.size(CALIBRATION) > 0:
            raise WireError("bad_length")
        return correct(raw, thermometer, estimate), 0
    except WireError:
        return 0, BAD_CALIBRATION


def correct(raw: bytes, thermometer, estimate) -> int:
    """Correct readings by the calibration ``raw``, by none if it is empty; when it was made,
    in seconds as in its head. WireError if it is bad: then nothing is corrected."""
    thermometer.corrected = None
    if not raw:
        return 0
    from .thermometer import calibration as calibrations  # most boards do without

    calibration = calibrations.parse(raw)
    curve = calibration.curve
    thermometer.corrected = None if curve is None else curve.corrected_128ths
    if calibration.lag_s:
        estimate.set_lag(calibration.lag_s)
    return calibration.set_unix_s

"""From a downloaded curve to a batch in the notebook."""

import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime

from snapcurve.board.client import CurveRow
from snapcurve.calibration.stored import parse
from snapcurve.calibration.trust import WORKING_C, Trust, trust
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError, UnusableValueError
from snapcurve.notebook.records import Alarm, Mark, NewBatch, NewCurve
from snapcurve.recording.curve import Curve
from snapcurve.recording.mistakes import started_by_mistake


def utc_offset_min(unix_s: float) -> int:
    """What local clocks were ahead of UTC at ``unix_s``."""
    offset = datetime.fromtimestamp(unix_s).astimezone().utcoffset()
    return 0 if offset is None else round(offset.total_seconds() / 60)


def _centi(value_c: float | None) -> int | None:
    return None if value_c is None else round(value_c * 100)


def new_batch(
    decoded: Curve,
    raw: bytes,
    row: CurveRow,
    board_name: str,
    rehearsal: bool = False,
    trusted: Trust | None = None,
    raw_calibrations: Sequence[bytes] = (),
) -> NewBatch:
    """A batch to file, of the curve ``raw`` (``decoded``) that the board listed as ``row``.

    ``trusted`` is how far its temperatures can be trusted, None if that is not known. The one
    of ``raw_calibrations`` that it was recorded with is copied.
    """
    couverture, method = "no profile", "none"
    if decoded.profile:
        try:
            head, _ = read_profile(decoded.profile)
            couverture, method = head["couverture"], head["method"]
        except RecordError:  # of another firmware; the curve is worth keeping all the same
            couverture = "unreadable profile"
    now_s = time.time()
    started = decoded.started_unix_ms
    return NewBatch(
        couverture=couverture,
        method=method,
        profile=decoded.profile,
        curve=NewCurve(
            board_id=decoded.board_id,
            board_name=board_name,
            boot=row.boot,
            curve=row.curve,
            generation=row.generation,
            crc=row.crc,
            raw=raw,
            collected_unix_ms=int(now_s * 1000),
        ),
        started_unix_ms=started,
        utc_offset_min=utc_offset_min(now_s if started is None else started / 1000),
        marks=tuple(
            Mark(event.offset_ms, event.name, event.number, event.phase, _centi(event.estimate_c))
            for event in decoded.events
            if event.kind == "mark"
        ),
        alarms=tuple(
            Alarm(event.offset_ms, event.name, event.phase, _centi(event.estimate_c))
            for event in decoded.alarms
        ),
        rehearsal=rehearsal,
        uncertainty_centi_c=None if trusted is None else round(trusted.expanded_c * 100),
        uncertainty_at_centi_c=None if trusted is None else round(trusted.at_c * 100),
        calibration=calibration_of(decoded, raw_calibrations),
        mistake=started_by_mistake(decoded),
    )


def calibration_of(decoded: Curve, raw_calibrations: Sequence[bytes]) -> bytes | None:
    """The one of these calibrations that a curve was recorded with; empty if it was recorded
    with none, None if it is not among them."""
    if not decoded.calibrated_unix_s:
        return b""
    for raw in raw_calibrations:
        with suppress(RecordError):  # one that cannot be read is no reason to keep a curve back
            if raw and parse(raw).set_unix_s == decoded.calibrated_unix_s:
                return raw
    return None


def trust_of(
    decoded: Curve,
    converter: str,
    tc_type: str,
    raw_calibrations: Sequence[bytes],
) -> Trust | None:
    """How far a curve's temperatures can be trusted, in the middle of its window.

    ``raw_calibrations`` are those that are known of the board; the curve's head says which
    one it was recorded with. None if that is not among them.
    """
    raw = calibration_of(decoded, raw_calibrations)
    if raw is None:
        return None
    calibration = parse(raw)
    started = decoded.started_unix_ms
    now_s = time.time() if started is None else started / 1000
    try:
        return trust(converter, tc_type, calibration, working_c(decoded.profile), now_s)
    except UnusableValueError:  # so odd a calibration that nothing follows from it
        return None


def working_c(profile: bytes) -> float:
    """Middle of the working window of a profile, WORKING_C without one that can be read."""
    try:
        phases = read_profile(profile)[1] if profile else []
    except RecordError:
        phases = []
    for phase in phases:
        if phase["kind"] == "work":
            return float(phase["low_centi_c"] + phase["high_centi_c"]) / 200
    return WORKING_C

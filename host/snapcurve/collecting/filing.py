"""From a downloaded curve to a batch in the notebook."""

import time
from collections.abc import Sequence
from contextlib import suppress
from statistics import median
from typing import Any

from snapcurve.board.client import CurveRow
from snapcurve.calibration.stored import parse
from snapcurve.calibration.trust import WORKING_C, Trust, trust
from snapcurve.couvertures.profile import read_profile
from snapcurve.errors import RecordError, UnusableValueError
from snapcurve.notebook.codes import utc_offset_min
from snapcurve.notebook.records import Alarm, Mark, NewBatch, NewCurve
from snapcurve.recording.curve import Curve
from snapcurve.recording.mistakes import started_by_mistake


def new_batch(
    decoded: Curve,
    raw: bytes,
    row: CurveRow,
    board_name: str,
    rehearsal: bool = False,
    converter: str | None = None,
    tc_type: str = "K",
    raw_calibrations: Sequence[bytes] = (),
) -> NewBatch:
    """A batch to file, of the curve ``raw`` (``decoded``) that the board listed as ``row``. A
    ``rehearsal`` ends now at the latest.

    Of ``raw_calibrations``, those that are known of the board, the one that it was recorded with
    is copied. How far its temperatures can be trusted follows from that, ``converter`` (None: not
    known) and ``tc_type``, unless the curve itself says what it was measured with.
    """
    couverture, method, middle_c = _profile(decoded.profile)
    now_s = time.time()
    started = decoded.started_unix_ms
    if rehearsal and started is not None:
        # Played faster than clocks go, it would end in the future: it ends now instead.
        started = min(started, int(now_s * 1000) - _length_ms(decoded))
    began_s = now_s if started is None else started / 1000
    calibration = _calibration(decoded, raw_calibrations)
    trusted = None
    if decoded.fitted is not None:
        converter, tc_type = decoded.fitted.converter, decoded.fitted.tc_type
    if converter is not None and calibration is not None:
        room_c = median(value_c for _, value_c in decoded.room_c) if decoded.room_c else None
        trusted = _trust(converter, tc_type, calibration, middle_c, began_s, room_c)
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
        utc_offset_min=utc_offset_min(began_s),
        marks=marks_of(decoded),
        alarms=alarms_of(decoded),
        rehearsal=rehearsal,
        uncertainty_centi_c=None if trusted is None else _centi(trusted.expanded_c),
        uncertainty_at_centi_c=None if trusted is None else _centi(trusted.at_c),
        calibration=calibration,
        mistake=started_by_mistake(decoded),
    )


def marks_of(curve: Curve) -> tuple[Mark, ...]:
    """What was marked, and "resumed" with the number of the curve whose batch this one goes on
    with: by that the notebook knows the parts of a batch."""
    return tuple(
        Mark(event.offset_ms, event.name, event.number, event.phase, _centi(event.estimate_c))
        for event in curve.events
        if event.kind == "mark" or (event.kind == "resumed" and not curve.turned_out_new)
    )


def alarms_of(curve: Curve) -> tuple[Alarm, ...]:
    """What sounded."""
    return tuple(
        Alarm(event.offset_ms, event.name, event.phase, _centi(event.estimate_c))
        for event in curve.alarms
    )


def _length_ms(curve: Curve) -> int:
    """From the first sample to the last, or to what happened after it."""
    last_s = curve.times_s[-1] if curve.times_s else 0
    return max([round(last_s * 1000), *(event.offset_ms for event in curve.events)])


def _profile(raw: bytes) -> tuple[str, str, float]:
    """Couverture and method of a profile, and the middle of its working window."""
    if not raw:
        return "no profile", "none", WORKING_C
    try:
        head, phases = read_profile(raw)
    except RecordError:  # of another firmware; the curve is worth keeping all the same
        return "unreadable profile", "none", WORKING_C
    work: list[dict[str, Any]] = [phase for phase in phases if phase["kind"] == "work"]
    middles_c = [(phase["low_centi_c"] + phase["high_centi_c"]) / 200 for phase in work]
    return head["couverture"], head["method"], (middles_c or [WORKING_C])[0]


def _calibration(decoded: Curve, raw_calibrations: Sequence[bytes]) -> bytes | None:
    """The one of these calibrations that a curve was recorded with; empty if it was recorded
    with none, None if it is not among them."""
    if not decoded.calibrated_unix_s:
        return b""
    for raw in raw_calibrations:
        with suppress(RecordError):  # one that cannot be read is no reason to keep a curve back
            if raw and parse(raw).set_unix_s == decoded.calibrated_unix_s:
                return raw
    return None


def _trust(
    converter: str,
    tc_type: str,
    calibration: bytes,
    at_c: float,
    unix_s: float,
    room_c: float | None,
) -> Trust | None:
    try:
        return trust(converter, tc_type, parse(calibration), at_c, unix_s, room_c=room_c)
    except UnusableValueError:  # so odd a calibration that nothing follows from it
        return None


def _centi(value_c: float | None) -> int | None:
    return None if value_c is None else round(value_c * 100)

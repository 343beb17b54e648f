"""From a downloaded curve to a batch in the notebook."""

import time
from datetime import datetime

from snapcurve.curves import Curve
from snapcurve.link.board import CurveRow
from snapcurve.notebook import Alarm, Mark, NewBatch, NewCurve
from snapcurve.profiles import read_profile


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
) -> NewBatch:
    """A batch to file, of the curve ``raw`` (``decoded``) that the board listed as ``row``."""
    couverture, method = "no profile", "none"
    if decoded.profile:
        head, _ = read_profile(decoded.profile)
        couverture, method = head["couverture"], head["method"]
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
    )

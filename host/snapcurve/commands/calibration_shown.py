"""A calibration on the terminal, and as a script reads it."""

from typing import Any

from snapcurve.calibration.stored import Calibration, day, parse
from snapcurve.errors import RecordError
from snapcurve.shown.table import table
from snapcurve.shown.units import Style


def readable(raw: bytes) -> Calibration | None:
    """A calibration that is only shown: None if it cannot be read."""
    try:
        return parse(raw)
    except RecordError:
        return None


def print_calibration(title: str, calibration: Calibration | None, style: Style) -> None:
    if calibration is None:
        print(f"{title:<12}cannot be read")
        return
    if not calibration.points and not calibration.lag_s:
        print(f"{title:<12}none")
        return
    rows = [
        (
            day(point.unix_s),
            point.step,
            f"at {style.temperature(point.true_c, 2)}",
            style.difference(point.correction_centi_c / 100, 2),
        )
        for point in calibration.points
    ]
    if calibration.lag_s:
        constants = " + ".join(style.number(part, 1) for part in calibration.time_constants_s)
        rows.append((day(calibration.lag_unix_s), "response", "lag", f"{constants} s"))
    print(title)
    print(table(rows, inset="  "))


def calibration_data(calibration: Calibration | None) -> dict[str, Any] | None:
    """What scripts read; None if it cannot be read."""
    if calibration is None:
        return None
    return {
        "set_unix_s": calibration.set_unix_s,
        "class": calibration.tolerance_class,
        "lag_unix_s": calibration.lag_unix_s,
        "time_constants_s": list(calibration.time_constants_s),
        "points": [
            {
                "step": point.step,
                "unix_s": point.unix_s,
                "indicated_c": point.indicated_centi_c / 100,
                "correction_c": point.correction_centi_c / 100,
                "reference_limit_c": point.reference_limit_c,
            }
            for point in calibration.points
        ],
    }

"""A probe's calibration as the host sees it, and as the bytes the board stores.

It carries its own uncertainty: each point has its reference's limit, its plateau's spread and
the cold junction's temperature, so any computer can work out the budget.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import construct

from snapcurve.board import structs
from snapcurve.errors import RecordError, UnusableValueError
from snapcurve.probe.thermometer import calibration as board_calibration
from snapcurve.wire import catalogue
from snapcurve.wire.errors import WireError

UNREADABLE = (
    "The calibration on the board cannot be read: clear it with 'snapcurve calibrate clear' and "
    "measure again."
)
CLASSES = (1, 2, 3)
# A new point replaces an older one this near: the same bath, done again.
SAME_BATH_C = 3.0


@dataclass(frozen=True)
class Point:
    """One comparison, named as in catalogue.CALIBRATION_POINT."""

    indicated_centi_c: int
    correction_centi_c: int
    step: str
    unix_s: int
    reference_limit_milli_c: int
    spread_milli_c: int
    readings: int
    cold_junction_centi_c: int

    @property
    def true_c(self) -> float:
        """Temperature of the reference."""
        return (self.indicated_centi_c + self.correction_centi_c) / 100

    @property
    def reference_limit_c(self) -> float:
        """Half-width of the reference's temperature."""
        return self.reference_limit_milli_c / 1000

    @property
    def spread_c(self) -> float:
        """Standard deviation of the reading on the plateau."""
        return self.spread_milli_c / 1000


def calibration_point(indicated_c: float, true_c: float) -> tuple[int, int]:
    """Indicated temperature and correction in 0.01 °C, as the board stores them."""
    indicated_centi_c = round(indicated_c * 100)
    return indicated_centi_c, round(true_c * 100) - indicated_centi_c


@dataclass(frozen=True)
class Calibration:
    """What is known of a probe; without points and lag it is none at all.

    ``time_constants_s`` are those of the probe in stirred water, the longer first; ``tc_type``
    is the thermocouple it was made with, "" if that is not known (before protocol version 6).
    """

    points: tuple[Point, ...] = ()
    tolerance_class: int = 1
    lag_unix_s: int = 0
    time_constants_s: tuple[float, ...] = ()
    tc_type: str = ""

    @property
    def set_unix_s(self) -> int:
        """When the newest point was taken, 0 without points."""
        return max((point.unix_s for point in self.points), default=0)

    @property
    def lag_s(self) -> float:
        """How far the reading trails a steady ramp, 0 if not measured."""
        return sum(self.time_constants_s)

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Indicated temperature and correction in 0.01 °C, as the board takes them."""
        return [(point.indicated_centi_c, point.correction_centi_c) for point in self.points]

    def with_point(self, new: Point) -> "Calibration":
        """This calibration with one point more, which replaces any within SAME_BATH_C of it.

        UnusableValueError if the points make no correction curve together.
        """
        others = [
            point
            for point in self.points
            if abs(point.indicated_centi_c - new.indicated_centi_c) > round(SAME_BATH_C * 100)
        ]
        points = sorted([*others, new], key=lambda point: point.indicated_centi_c)
        after = replace(self, points=tuple(points))
        try:
            board_calibration.check_points(after.pairs)
        except ValueError as error:
            raise UnusableValueError(
                f"The new point does not fit the earlier ones: {error}. Clear the calibration "
                "and begin again if the probe was changed."
            ) from error
        return after

    def corrected_c(self, indicated_c: float) -> float:
        """What the board makes of an indicated temperature."""
        if not self.points:
            return indicated_c
        curve = board_calibration.CorrectionCurve(self.pairs)
        return float(curve.corrected_128ths(round(indicated_c * 128))) / 128

    @property
    def cold_junction_c(self) -> float:
        """Mean temperature of the cold junction when the points were taken."""
        return sum(point.cold_junction_centi_c for point in self.points) / 100 / len(self.points)


def build(calibration: Calibration) -> bytes:
    """The bytes of a calibration; none for one that holds nothing."""
    if not calibration.points and not calibration.time_constants_s:
        return b""
    lags_ms = [round(constant * 1000) for constant in calibration.time_constants_s] + [0, 0]
    head = {
        "set_unix_s": calibration.set_unix_s,
        "tolerance_class": calibration.tolerance_class,
        "lag_unix_s": calibration.lag_unix_s,
        "lag_ms": lags_ms[0],
        "second_lag_ms": lags_ms[1],
        "tc_type": calibration.tc_type,
    }
    fields = catalogue.CALIBRATION_HEAD[: None if calibration.tc_type else -1]
    return structs.build(fields, head) + b"".join(
        structs.build(catalogue.CALIBRATION_POINT, vars(point)) for point in calibration.points
    )


def parse(raw: bytes) -> Calibration:
    """The calibration in ``raw``; RecordError if the bytes make none by the board's own rules,
    or speak of a class that IEC 60584-1 does not have."""
    if not raw:
        return Calibration()
    try:
        board_calibration.parse(raw)
        values, rest = board_calibration.split(raw)
        names = [field[0] for field in catalogue.CALIBRATION_HEAD]
        head = dict(zip(names, values, strict=True))
        rows = structs.parse_rows(catalogue.CALIBRATION_POINT, rest)
        points = tuple(Point(**row) for row in rows)
    except (WireError, construct.ConstructError) as error:
        raise RecordError(UNREADABLE) from error
    if head["tolerance_class"] not in CLASSES:
        raise RecordError(UNREADABLE)
    lags_ms = (head["lag_ms"], head["second_lag_ms"])
    return Calibration(
        points=points,
        tolerance_class=head["tolerance_class"],
        lag_unix_s=head["lag_unix_s"],
        time_constants_s=tuple(lag_ms / 1000 for lag_ms in lags_ms if lag_ms),
        tc_type=head["tc_type"],
    )


def in_use(raw: bytes, troubles: Collection[str]) -> Calibration:
    """The calibration by which a board corrects that has ``raw`` stored and reports these
    troubles: none if it was made with another type of probe. Raises as `parse`."""
    return Calibration() if "other_type" in troubles else parse(raw)


def day(unix_s: int) -> str:
    """The local day of a moment, "unknown day" for 0."""
    if not unix_s:
        return "unknown day"
    return datetime.fromtimestamp(unix_s, UTC).astimezone().date().isoformat()

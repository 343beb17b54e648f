"""The correction curve of a calibrated probe.

Where the probe shows ``indicated``, ``correction`` has to be added. Between points the
correction is a straight line. Outside them it stays at the end point's value: one or two
points say nothing about the slope beyond, and an extrapolated line would multiply their
errors with the distance.

Points are in hundredths of a degree; the corrected value is computed in 1/128 °C, the
converter's step, with whole numbers only. Each point carries its reference's limit, its
plateau's spread and the cold junction's temperature (catalogue.CALIBRATION_POINT), from which
any computer can compute the uncertainty.
"""

from snapcurve.wire import codec
from snapcurve.wire.catalogue import (
    CALIBRATION_HEAD,
    CALIBRATION_POINT,
    CALIBRATION_POINTS_MAX,
)
from snapcurve.wire.const import const
from snapcurve.wire.errors import WireError

_HEAD_SIZE = codec.fixed_size(CALIBRATION_HEAD)
_POINT_SIZE = codec.fixed_size(CALIBRATION_POINT)

_INDICATED_LOWEST_CENTI_C = const(-5000)
_INDICATED_HIGHEST_CENTI_C = const(25000)
_CORRECTION_LARGEST_CENTI_C = const(1000)
_APART_CENTI_C = const(50)  # closer points show noise, not the probe
_SLOPE_LARGEST = const(0.5)  # of the correction: no thermocouple has a larger one


def check_points(points_centi_c) -> None:
    """Raise ValueError with the reason if the points make no correction curve.

    ``points_centi_c``: pairs (indicated, correction) of whole numbers in 0.01 °C, in any
    order; one to CALIBRATION_POINTS_MAX of them, within the limits above.
    """
    if not 1 <= len(points_centi_c) <= CALIBRATION_POINTS_MAX:
        raise ValueError(
            "a calibration has 1 to %d points, not %d"
            % (CALIBRATION_POINTS_MAX, len(points_centi_c))
        )
    for indicated, correction in points_centi_c:
        if not (isinstance(indicated, int) and isinstance(correction, int)):
            raise ValueError("calibration points are whole numbers of 0.01 °C")
        if not _INDICATED_LOWEST_CENTI_C <= indicated <= _INDICATED_HIGHEST_CENTI_C:
            raise ValueError(
                "calibration point at %.2f °C: points lie between %d and %d °C"
                % (
                    indicated / 100,
                    _INDICATED_LOWEST_CENTI_C // 100,
                    _INDICATED_HIGHEST_CENTI_C // 100,
                )
            )
        if abs(correction) > _CORRECTION_LARGEST_CENTI_C:
            raise ValueError(
                "a correction of %+.2f °C at %.2f °C is no calibration but a fault of the probe"
                % (correction / 100, indicated / 100)
            )
    ordered = sorted(points_centi_c)
    for lower, upper in zip(ordered, ordered[1:]):
        distance = upper[0] - lower[0]
        if distance < _APART_CENTI_C:
            raise ValueError(
                "calibration points at %.2f and %.2f °C are too close: keep one of them"
                % (lower[0] / 100, upper[0] / 100)
            )
        if abs(upper[1] - lower[1]) > _SLOPE_LARGEST * distance:
            raise ValueError(
                "the corrections at %.2f and %.2f °C differ too much to belong to one probe"
                % (lower[0] / 100, upper[0] / 100)
            )


class CorrectionCurve:
    """Maps indicated to corrected temperature; ValueError for points that make no curve."""

    def __init__(self, points_centi_c):
        check_points(points_centi_c)
        self._indicated = []
        self._correction = []
        for indicated, correction in sorted(points_centi_c):
            self._indicated.append(_to_128ths(indicated))
            self._correction.append(_to_128ths(correction))

    def correction_128ths(self, raw_128ths: int) -> int:
        """What has to be added to an indicated value; both in 1/128 °C."""
        indicated = self._indicated
        correction = self._correction
        if raw_128ths <= indicated[0]:
            return correction[0]
        for upper in range(1, len(indicated)):
            if raw_128ths < indicated[upper]:
                lower = upper - 1
                span = indicated[upper] - indicated[lower]
                rise = correction[upper] - correction[lower]
                # Rounded; the product stays below 2^30, a small integer on a board.
                return correction[lower] + (
                    (2 * (raw_128ths - indicated[lower]) * rise + span) // (2 * span)
                )
        return correction[-1]

    def corrected_128ths(self, raw_128ths: int) -> int:
        """The true temperature for an indicated one; both in 1/128 °C."""
        return raw_128ths + self.correction_128ths(raw_128ths)


def _to_128ths(centi_c):
    return (centi_c * 256 + 100) // 200


class Calibration:
    """A probe's calibration.

    ``curve``       the CorrectionCurve, None without points
    ``set_unix_s``  when its newest point was taken, 0 without points
    ``lag_s``       how far the probe trails in stirred water, 0.0 if not measured
    ``tc_type``     of the probe it was made with, "" if it does not say
    """

    def __init__(self, curve, set_unix_s: int, lag_s: float, tc_type: str):
        self.curve = curve
        self.set_unix_s = set_unix_s
        self.lag_s = lag_s
        self.tc_type = tc_type


def split(raw):
    """Head and points of the bytes ``raw``: ``(values, bytes)``. WireError if they hold none.

    The head is that of CALIBRATION_HEAD; of a calibration from before protocol version 6 the
    type is "".
    """
    older = (len(raw) - _HEAD_SIZE) % _POINT_SIZE == _POINT_SIZE - 1
    size = _HEAD_SIZE - older
    if len(raw) < size:
        raise WireError("bad_length", 0)
    if older:
        head = codec.unpack(CALIBRATION_HEAD[:-1], raw, 0, size)
        head.append("")
        return head, raw[size:]
    return codec.unpack(CALIBRATION_HEAD, raw, 0, size), raw[size:]


def parse(raw) -> Calibration:
    """The calibration with the bytes ``raw``; no bytes: none. WireError if they make none."""
    if not raw:
        return Calibration(None, 0, 0.0, "")
    head, rest = split(raw)
    rows = codec.unpack_rows(CALIBRATION_POINT, rest)
    points = [(row[0], row[1]) for row in rows]
    curve = None
    if points:
        try:
            curve = CorrectionCurve(points)
        except ValueError:
            raise WireError("bad_value", 0)
    return Calibration(curve, head[0] if points else 0, (head[3] + head[4]) / 1000, head[5])

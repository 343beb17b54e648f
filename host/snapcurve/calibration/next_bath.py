"""What a further bath would earn: how far the probe could be trusted after it."""

from collections.abc import Callable

from snapcurve.calibration.baths import FIXED_POINTS, Reference, boiling_water, compared
from snapcurve.calibration.stored import Calibration, Point, calibration_point
from snapcurve.calibration.trust import Trust
from snapcurve.errors import UnusableValueError
from snapcurve.shown.units import PLAIN, Style

REFERENCE_LIMIT_C = 0.3  # of a reference thermometer whose sheet nobody has looked at
# Of the reading on a plateau; common practice, no source.
_SPREAD_MILLI_C, _READINGS = 20, 200

# The baths with what a person calls them; boiling water by a barometer in a low place.
BATHS: dict[str, tuple[str, Reference]] = {
    "ice": ("ice", FIXED_POINTS["ice"]),
    "boil": ("boiling water", boiling_water(1000.0, None, None)),
    "point": ("beside a reference near {at}", compared(31.0, REFERENCE_LIMIT_C)),
    "gallium": ("a gallium cell", FIXED_POINTS["gallium"]),
}


def with_bath(
    calibration: Calibration, reference: Reference, now_unix_s: float, board_c: float
) -> Calibration:
    """``calibration`` after a bath whose reading is just what it expects, the board being at
    ``board_c`` °C. UnusableValueError if it has no place for one more point."""
    off_c = calibration.corrected_c(reference.true_c) - reference.true_c
    indicated, correction = calibration_point(reference.true_c - off_c, reference.true_c)
    return calibration.with_point(
        Point(
            indicated,
            correction,
            "point",
            int(now_unix_s),
            round(reference.limit_c * 1000),
            _SPREAD_MILLI_C,
            _READINGS,
            round(board_c * 100),
        )
    )


def earnings(
    calibration: Calibration,
    now_unix_s: float,
    board_c: float,
    judged: Callable[[Calibration], Trust],
    known: tuple[str, Reference] | None = None,
) -> dict[str, float]:
    """Expanded uncertainty (°C, k = 2) after each of BATHS, by its name; ``judged`` says how far
    a calibration can be trusted, ``known`` is the bath at hand with its own reference."""
    found = {}
    for step, (_, usual) in BATHS.items():
        reference = known[1] if known is not None and known[0] == step else usual
        try:
            after = with_bath(calibration, reference, now_unix_s, board_c)
        except UnusableValueError:
            continue
        found[step] = judged(after).expanded_c
    return found


def earnings_lines(now: Trust, earned: dict[str, float], style: Style = PLAIN) -> list[str]:
    """Both, the best bath first; in hundredths, so that baths can be told apart."""
    at = style.temperature(now.at_c, 0)

    def within(value_c: float) -> str:
        return f"±{style.difference(value_c, 2, sign=False)}"

    return [
        f"Now {within(now.expanded_c)} at {at} (k = 2). After one bath more, or once again:",
        *(
            f"  {within(value_c)}  {BATHS[step][0].format(at=at)}"
            for step, value_c in sorted(earned.items(), key=lambda one: one[1])
        ),
    ]

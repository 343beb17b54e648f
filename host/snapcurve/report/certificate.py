"""The page that says how a probe was calibrated, by what, how far it can be trusted, and when it
is due again: in words. `sheet_document` sets it on paper."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from snapcurve.calibration.baths import FIXED_POINTS
from snapcurve.calibration.stored import Calibration, Point
from snapcurve.calibration.trust import WORKING_C, Trust, interval_days
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.records import ChainEnd
from snapcurve.report import budget_table
from snapcurve.report import sheet_sections as s
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import Style

# Where the temperature of a bath comes from.
TRACED = {
    "ice": "Melting ice in water, open to the air: the ice point, {at}. Its limit is common "
    "practice for a bath made with care; nothing else vouches for it.",
    "boil": "Boiling water: its temperature by IAPWS-IF97 from the air pressure that was typed. "
    "Which barometer or weather report gave that is not recorded.",
    "gallium": "Melting gallium, {at}: a fixed point of the ITS-90. The purity of the cell "
    "and its own certificate are not recorded.",
}
_NOT_NAMED = "Which one, and its certificate, were not named."
ITSELF = (
    "Made at the bench itself with the means above. It is no certificate of an accredited "
    "laboratory, and traceable no further than stated.",
    "The figures hold for this probe on this board. A new probe, plug, cable or board needs a new "
    "calibration.",
)
POINTS = (
    "day", "bath", "true", "known to", "shown", "correction", "scatter", "readings", "board",
)  # fmt: skip
NAMES = {
    "ice": "ice",
    "boil": "boiling water",
    "point": "reference thermometer",
    "gallium": "gallium cell",
}


@dataclass(frozen=True)
class Calibrated:
    """A board with its probe; ``judged`` says how far it can be trusted at a temperature (°C).

    ``reference`` names the reference thermometer, empty if nobody did.
    """

    board: str
    board_id: int
    firmware: str
    converter: str
    tc_type: str
    calibration: Calibration
    judged: Callable[[float], Trust]
    reference: str = ""


def certificate_of(
    what: Calibrated, settings: Settings, made: datetime, chain: ChainEnd | None = None
) -> tuple[s.Section, ...]:
    """What stands on the page, made at ``made``; ``chain`` is where the notebook's chain of seals
    ends, in which the calibration is filed.

    SnapcurveError for a probe that was never calibrated.
    """
    calibration, style = what.calibration, settings.style
    if not calibration.points:
        raise SnapcurveError(
            "This probe has no calibration to certify: 'snapcurve calibrate ice' is the first."
        )
    oldest = min(point.unix_s for point in calibration.points)
    due = _local(oldest) + timedelta(days=interval_days())
    at_working = what.judged(WORKING_C)
    facts = (
        ("board", f"{what.board} {what.board_id:08x}, firmware {what.firmware}"),
        ("probe", f"type {what.tc_type}, class {calibration.tolerance_class} (IEC 60584-1)"),
        ("converter", what.converter),
        ("bench", settings.bench or s.NOTHING),
        ("calibrated", _days(calibration, style)),
        ("next due", f"{style.day(due)}{' (overdue)' if due < made else ''}"),
        ("printed", style.day(made)),
        ("trails", _lag(calibration, style)),
    )
    budget = budget_table.budget_rows(at_working.budget, style)
    return (
        s.Section("", s.Sentences((_result(at_working, style),))),
        s.Section("Board and probe", s.Facts(facts)),
        s.Section("Points", _points(calibration, style)),
        s.Section("References", s.Sentences(_references(what, style))),
        s.Section("What it corrects", _corrections(what, style)),
        s.Section(
            f"Uncertainty at {style.temperature(WORKING_C, 0)} ({style.degree}, after JCGM 100)",
            s.Table(budget_table.HEAD, tuple(budget), (40, 9, 12, 9, 8, 9, 8), budget_table.RIGHT),
        ),
        s.Section("", s.Sentences(ITSELF)),
        s.Section("Signature", s.Signature(settings.operator, settings.bench)),
        *s.chain_section(chain, "certificate"),
    )


def _local(unix_s: int) -> datetime:
    return datetime.fromtimestamp(unix_s, UTC).astimezone()


def _result(found: Trust, style: Style) -> str:
    note = f" Note: {found.remark}." if found.remark else ""
    return (
        f"A corrected reading of this probe at {style.temperature(found.at_c, 0)} lies within "
        f"{found.figure(style)} of the true temperature (expanded uncertainty, "
        f"k\u00a0=\u00a02, about 95 %), in a stirred bowl, 10 sheath diameters deep.{note}"
    )


def _days(calibration: Calibration, style: Style) -> str:
    days = sorted({_local(point.unix_s).date() for point in calibration.points})
    return ", ".join(style.day(day) for day in days)


def _lag(calibration: Calibration, style: Style) -> str:
    if not calibration.lag_s:
        return "not measured"
    return f"{style.number(calibration.lag_s, 1)} s in stirred water"


def _points(calibration: Calibration, style: Style) -> s.Table:
    rows = tuple(_point_row(point, style) for point in calibration.points)
    return s.Table(POINTS, rows, (12, 19, 11, 10, 11, 12, 10, 9, 10), (2, 3, 4, 5, 6, 7, 8))


def _point_row(point: Point, style: Style) -> tuple[str, ...]:
    return (
        style.day(_local(point.unix_s)),
        NAMES[point.step],
        style.temperature(point.true_c, 2),
        f"±{style.significant(point.reference_limit_c)}",
        style.temperature(point.indicated_centi_c / 100, 2),
        style.difference(point.correction_centi_c / 100, 2),
        style.significant(point.spread_c),
        str(point.readings),
        style.temperature(point.cold_junction_centi_c / 100, 1),
    )


def _references(what: Calibrated, style: Style) -> tuple[str, ...]:
    texts = []
    for step in dict.fromkeys(point.step for point in what.calibration.points):
        if step == "point":
            named = what.reference or _NOT_NAMED
            own = [one for one in what.calibration.points if one.step == step]
            limits = sorted({one.reference_limit_c for one in own})
            within = ", ".join(f"±{style.significant(limit)}" for limit in limits)
            texts.append(f"Beside a thermometer taken to be right within {within}: {named}")
        else:
            reference = FIXED_POINTS.get(step)
            at = reference and style.temperature(reference.true_c, reference.decimals)
            texts.append(TRACED[step].format(at=at))
    return tuple(texts)


def _corrections(what: Calibrated, style: Style) -> s.Table:
    rows = []
    for shown_c in (20.0, 27.0, WORKING_C, 45.0, 50.0):
        corrected_c = what.calibration.corrected_c(shown_c)
        rows.append(
            (
                style.temperature(shown_c, 1),
                style.difference(corrected_c - shown_c, 2),
                style.temperature(corrected_c, 2),
                f"±{style.difference(what.judged(corrected_c).expanded_c, 2, sign=False)}",
            )
        )
    head = ("the probe shows", "correction", "it is", "within (k = 2)")
    return s.Table(head, tuple(rows), (20, 20, 20, 20), (0, 1, 2, 3))

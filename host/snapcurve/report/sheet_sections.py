"""The words of a batch sheet: from its matter to sections of facts, tables and sentences."""

from collections.abc import Sequence
from dataclasses import dataclass

from snapcurve.notebook.descriptions import group_words
from snapcurve.report import sheet_matter as m
from snapcurve.shown.quantities import Style

NOTHING = "not recorded"
CAUTION = (
    "Allergens are as they were entered: the labels of the ingredients come first. A right "
    "temperature is not yet temper; the dip test shows it."
)


@dataclass(frozen=True)
class Facts:
    """Labels with their values, set in two columns."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """``parts`` are the columns' shares of the width; ``right`` those with numbers."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    parts: tuple[float, ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Sentences:
    """One after the other, each on a line of its own."""

    texts: tuple[str, ...]


@dataclass(frozen=True)
class Chart:
    """The place of the curve."""


@dataclass(frozen=True)
class Signature:
    """The line to sign on, with the name and the bench if they are known."""

    signer: str
    signed_at: str


@dataclass(frozen=True)
class Section:
    """``title`` is empty where the block needs none."""

    title: str
    block: Facts | Table | Sentences | Chart | Signature


def sections_of(matter: m.SheetMatter, style: Style) -> list[Section]:
    """All sections in the order in which a person looks for them."""
    return [
        Section("", _what(matter, style)),
        Section("Curve", Chart() if matter.curve else Sentences((NOTHING,))),
        Section("Verdict", _sentences(matter.reasons)),
        Section("Phases", _phases(matter.phases, style)),
        Section("Dip tests", _dip_tests(matter.dip_tests)),
        Section("Lots and allergens", _lots(matter.lots, style)),
        Section("Cleaning before this batch", _sentences(matter.cleaning.split("\n"))),
        Section("Calibration of the probe", _calibration(matter.calibration, style)),
        Section("Corrections", _corrections(matter.corrections, style)),
        Section("Outcomes", _outcomes(matter.outcomes, style)),
        Section("Amendments", _amendments(matter.amendments, style)),
        Section("Notes", _sentences(matter.notes)),
        Section("Pictures", _sentences(matter.pictures)),
        Section("", Signature(matter.signer, matter.signed_at)),
        Section("", Sentences((CAUTION,))),
    ]


def clock(seconds: float) -> str:
    """Hours, minutes and seconds since the curve began."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}"


def _or_nothing(text: str) -> str:
    return text if text.strip() else NOTHING


def _sentences(texts: Sequence[str]) -> Sentences:
    told = tuple(text for text in texts if text.strip())
    return Sentences(told or (NOTHING,))


def _table(
    head: tuple[str, ...],
    rows: Sequence[tuple[str, ...]],
    parts: tuple[float, ...],
    right: tuple[int, ...] = (),
) -> Table | Sentences:
    if not rows:
        return Sentences((NOTHING,))
    return Table(head, tuple(tuple(map(_or_nothing, row)) for row in rows), parts, right)


def _what(matter: m.SheetMatter, style: Style) -> Facts:
    room = ""
    if matter.room_c:
        low_c, high_c = matter.room_c
        same = style.degrees(low_c) == style.degrees(high_c)
        room = style.temperature(low_c) if same else style.window(low_c, high_c)
    recording = matter.recording
    if matter.rehearsal:
        recording = f"rehearsal, no real chocolate{'; ' if recording else ''}{recording}"
    pairs = (
        ("Couverture", matter.couverture),
        ("Method", matter.method),
        ("Started", style.minute(matter.started) if matter.started else "time unknown"),
        ("Duration", "" if matter.duration_s is None else clock(matter.duration_s)),
        ("Operator", matter.operator),
        *((("Bench", matter.bench),) if matter.bench else ()),
        ("Place", matter.place),
        ("Room", room),
        ("Mass", "" if matter.mass_g is None else style.mass(matter.mass_g)),
        ("Allergens", matter.allergens),
        ("Board", matter.board),
        ("Firmware", matter.firmware),
        ("Recording", recording),
    )
    return Facts(tuple((label, _or_nothing(value)) for label, value in pairs))


def _degrees(value_c: float | None, style: Style) -> str:
    return "—" if value_c is None else style.temperature(value_c)


def _phases(phases: Sequence[m.Phase], style: Style) -> Table | Sentences:
    def target(phase: m.Phase) -> str:
        if phase.target_high_c is None:
            return "—"
        if phase.target_low_c is None:
            return style.temperature(phase.target_high_c, trim=True)
        return style.window(phase.target_low_c, phase.target_high_c)

    rows = [
        (
            phase.kind,
            target(phase),
            clock(phase.start_s),
            clock(phase.end_s - phase.start_s),
            _degrees(phase.lowest_c, style),
            _degrees(phase.highest_c, style),
            _degrees(phase.last_c, style),
        )
        for phase in phases
    ]
    head = ("phase", "target", "begins", "lasts", "lowest", "highest", "at its end")
    return _table(head, rows, (1.1, 1.6, 1, 1, 1, 1, 1), (2, 3, 4, 5, 6))


def _dip_tests(tests: Sequence[m.DipTest]) -> Table | Sentences:
    rows = [
        (
            str(test.number or number),
            clock(test.at_s),
            "did not sound" if test.due_sounded_s is None else clock(test.due_sounded_s),
            "" if test.looked_s is None else clock(test.looked_s),
            test.result,
        )
        for number, test in enumerate(tests, 1)
    ]
    head = ("no.", "dipped at", "due sounded", "looked at", "result")
    return _table(head, rows, (0.3, 0.9, 1.2, 0.9, 4), (0,))


def _lots(lots: Sequence[m.Lot], style: Style) -> Table | Sentences:
    rows = [
        (
            lot.ingredient,
            lot.lot,
            lot.maker,
            lot.use or "—",
            "" if lot.mass_g is None else style.mass(lot.mass_g),
            group_words(lot.allergens),
        )
        for lot in lots
    ]
    head = ("ingredient", "lot", "maker", "use", "mass", "allergens")
    return _table(head, rows, (2, 1.3, 1.5, 0.8, 0.9, 1.6), (4,))


def _calibration(calibration: m.Calibration, style: Style) -> Facts:
    day = style.day(calibration.day) if calibration.day else ""
    if calibration.none:
        day = "none: this probe was not calibrated"
    figure = ""
    if calibration.uncertainty_c is not None:
        figure = style.uncertainty(calibration.uncertainty_c)
        if calibration.at_c is not None:
            figure += f" at {style.temperature(calibration.at_c, 0)}"
        figure += " (k = 2)"
    pairs = [("Date", _or_nothing(day)), ("Uncertainty", _or_nothing(figure))]
    if calibration.points:
        pairs.append(("Points", "\n".join(_point(one, style) for one in calibration.points)))
    if calibration.remark:
        pairs.append(("Remark", calibration.remark))
    return Facts(tuple(pairs))


def _point(point: m.CalibrationPoint, style: Style) -> str:
    by, at = style.difference(point.correction_c, 2), style.temperature(point.at_c, 2)
    return f"{point.bath}, {style.day(point.day)}: {by} at {at}"


def _corrections(corrections: Sequence[m.Correction], style: Style) -> Table | Sentences:
    rows = [
        (
            "" if one.at_s is None else clock(one.at_s),
            one.words,
            "—" if one.mass_g is None else style.mass(one.mass_g),
        )
        for one in corrections
    ]
    return _table(("at", "what was done", "mass"), rows, (0.8, 6, 0.9), (0, 2))


def _outcomes(outcomes: Sequence[m.Outcome], style: Style) -> Table | Sentences:
    rows = [
        (
            style.minute(one.moment) if one.moment else "",
            one.after or "—",
            one.what,
            one.finding,
            one.who,
        )
        for one in outcomes
    ]
    return _table(("when", "after", "what", "finding", "who"), rows, (1.9, 0.8, 0.9, 3, 1.4))


def _amendments(amendments: Sequence[m.Amendment], style: Style) -> Table | Sentences:
    rows = [
        (style.minute(one.moment) if one.moment else "", one.who, one.why, one.what)
        for one in amendments
    ]
    return _table(("when", "who", "why", "what"), rows, (1.9, 1.4, 2, 3))

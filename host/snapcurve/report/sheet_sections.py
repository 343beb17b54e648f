"""The words of a batch sheet: from the notebook to sections of facts, tables and sentences.

A sheet is made in two steps: here what the notebook and the curve know is put into words, and
`sheet_document` sets them on paper. What the notebook does not hold is "not recorded".
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from snapcurve.analysis.deviations import Handled, deviations_of
from snapcurve.analysis.practice_truth import Truly
from snapcurve.analysis.verdict import Judgement
from snapcurve.calibration.stored import Calibration, parse
from snapcurve.couvertures.checking_file import parse as parse_couverture
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import allergens
from snapcurve.notebook.descriptions import (
    allergen_words,
    day_words,
    days_words,
    entry_line,
    entry_words,
    group_words,
    login_words,
    made_words,
)
from snapcurve.notebook.entries import made_of
from snapcurve.notebook.records import AmendedBatch, Batch, ChainEnd, Entry, Picture
from snapcurve.notebook.records import Calibration as FiledCalibration
from snapcurve.notebook.witnesses import written
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.recording.timeline import Timeline
from snapcurve.report.batch_course import HEAD as COURSE
from snapcurve.report.batch_course import course_rows, into
from snapcurve.report.chart_content import (
    Content,
    batch_uncertainty,
    content_of,
    recording_parts,
)
from snapcurve.shown.plain_text import for_paper
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import Style, local, seconds_words
from snapcurve.wire.window import OUTSIDE_C, OUTSIDE_MS

NOTHING = "not recorded"
UNSEEN_S = 15.0  # so little unseen time is no remark
MAY_BE_NONE = ("Remarks", "Limits", "Deviations")  # nothing there is nothing left out
CAUTION = (
    "This is a record, not a certified system: your own food-safety plan says which limits are "
    "critical and what a deviation means for the product. Allergens are as they were entered: "
    "the labels of the ingredients come first. A right temperature is not yet temper; the dip "
    "test shows it."
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
class Tree:
    """Lines, each with how far it is indented and whether it is the heading of those below."""

    lines: tuple[tuple[int, str, bool], ...]


@dataclass(frozen=True)
class Pictures:
    """What stands below each picture, and what reads it."""

    items: tuple[tuple[str, Callable[[], Picture]], ...]


@dataclass(frozen=True)
class Signature:
    """The line to sign on, with the name and the bench if they are known."""

    signer: str
    bench: str


@dataclass(frozen=True)
class Witnessed:
    """A sentence, and beside it a QR code of ``content`` (ISO/IEC 18004)."""

    text: str
    content: str


@dataclass(frozen=True)
class Section:
    """``title`` is empty where the block needs none. A block of Content is the curve's chart."""

    title: str
    block: Facts | Table | Sentences | Tree | Content | Pictures | Signature | Witnessed


@dataclass(frozen=True)
class Sheet:
    """All sections in the order in which a person looks for them. ``altered``: the batch is not
    as it was filed; ``chain`` is where the notebook's chain ended, "" if that is not known."""

    code: str
    couverture: str
    rehearsal: bool
    sections: tuple[Section, ...]
    altered: bool = False
    chain: str = ""


def sheet_of(
    found: AmendedBatch,
    judgement: Judgement,
    settings: Settings,
    calibrations: Sequence[FiledCalibration] = (),
    cleaning: Sequence[str] = (),
    chain: ChainEnd | None = None,
    truth: Sequence[Truly] = (),
) -> Sheet:
    """Everything the notebook knows of a batch.

    ``calibrations`` is the history of its board; ``cleaning`` says what is known of the bench
    before it; ``settings`` give units, and who signs and where; ``chain`` is where the notebook's
    chain of seals ends now; ``truth`` is what a practice bowl truly was.
    """
    batch, style = found.now, settings.style
    timeline, curve = judgement.timeline, judgement.timeline.curve
    content = content_of(timeline, "", style, truth) if curve.times_s else None
    course = course_rows(timeline, style)
    sections = (
        Section("", Sentences((_begun(batch, timeline.clock, style),))),
        Section("Verdict", sentences([judgement.verdict])),
        Section("Course", table_of(COURSE, course, (1.6, 0.8, 0.7, 0.9, 4.4), (1, 2, 3))),
        Section("Curve", content or Sentences((NOTHING,))),
        Section("Remarks", sentences(_remarks(judgement, style))),
        Section("Batch", _what(found, curve, style)),
        Section("Lots and allergens", _lots(found, style)),
        Section(
            "Cleaning before this batch", sentences(for_paper("\n".join(cleaning)).split("\n"))
        ),
        Section("Calibration of the probe", _calibration(batch, curve, calibrations, style)),
        Section("Limits", sentences([limits_words(batch.couverture_toml, timeline, style)])),
        Section("Deviations", _deviations(found, judgement, style)),
        Section("Corrections", _corrections(found)),
        Section("Outcomes", _outcomes(found, style)),
        Section("Made of it", _made(found, style)),
        Section("Amendments", _amendments(found, style)),
        Section(
            "Notes", sentences([batch.notes or "", *_lines(found, style, "note", "cleaning")])
        ),
        Section("Pictures", _pictures(found, style)),
    )
    empty = [one.title for one in sections if one.title and one.block == Sentences((NOTHING,))]
    named = ", ".join(title for title in empty if title not in MAY_BE_NONE).lower()
    missing = f"Not recorded: {named}." if named else ""
    return Sheet(
        batch.code,
        batch.couverture,
        batch.rehearsal,
        (
            *(one for one in sections if one.title not in empty or not one.title),
            *([Section("", Sentences((missing,)))] if missing else []),
            Section("", Signature(batch.operator or "", batch.place or settings.bench)),
            Section("", Sentences((CAUTION,))),
            *chain_section(chain, "sheet"),
        ),
        bool(found.not_as_filed),
        "" if chain is None else written(chain, len(chain.hash)),
    )


def chain_section(end: ChainEnd | None, paper: str) -> tuple[Section, ...]:
    """A ``paper`` ("sheet", "trace") as a witness of the notebook, whose chain of seals ends
    there; nothing if that is not known."""
    if end is None:
        return ()
    content = written(end, len(end.hash))
    said = Witnessed(
        f"The notebook's chain of seals ended with {content} when this {paper} was written. Kept"
        " with the file, it shows later whether anything filed until then was changed or left out"
        " (snapcurve notebook check --sheet).",
        content,
    )
    return (Section("", said),)


def _begun(batch: Batch, clock: Clock, style: Style) -> str:
    began = "time unknown"
    if clock.started_unix_ms is not None:
        began = f"begun {style.minute(local(clock.started_unix_ms, clock.utc_offset_min))}"
    return for_paper(f"{batch.couverture} by {batch.method}, {began}")


def _remarks(judgement: Judgement, style: Style) -> list[str]:
    """What neither the verdict nor the course says."""
    timeline, signs = judgement.timeline, judgement.signs
    remarks = [
        sign.reason
        for sign in (signs.fell_fast, signs.undercut, signs.held_long)
        if sign.state == "shown"
    ]
    if timeline.excursions:
        remarks.append(
            f"Left means more than {style.difference(OUTSIDE_C, 2, sign=False)} beyond the edge "
            f"for {seconds_words(OUTSIDE_MS / 1000)}, as the board counts it; the seconds are all "
            "that were recorded beyond the edge."
        )
    if timeline.work_hidden_s > UNSEEN_S:
        remarks.append(
            f"For {seconds_words(timeline.work_hidden_s)} after it came into the window the "
            "chocolate is not known: the probe was out, settling or without a reading."
        )
    return [*remarks, *judgement.cautions]


def or_nothing(text: str) -> str:
    return text if text.strip() else NOTHING


def sentences(texts: Sequence[str]) -> Sentences:
    return Sentences(tuple(text for text in texts if text.strip()) or (NOTHING,))


def table_of(
    head: tuple[str, ...],
    rows: Sequence[tuple[str, ...]],
    parts: tuple[float, ...],
    right: tuple[int, ...] = (),
) -> Table | Sentences:
    if not rows:
        return Sentences((NOTHING,))
    return Table(head, tuple(tuple(map(or_nothing, row)) for row in rows), parts, right)


def _lines(found: AmendedBatch, style: Style, *kinds: str) -> list[str]:
    return [for_paper(entry_line(one, style)) for one in found.entries if one.kind in kinds]


def _pictures(found: AmendedBatch, style: Style) -> Pictures | Sentences:
    items = tuple(
        (for_paper(entry_line(entry, style)), entry.picture)
        for entry in found.entries
        if entry.picture is not None
    )
    return Pictures(items) if items else Sentences((NOTHING,))


def _what(found: AmendedBatch, curve: Curve, style: Style) -> Facts:
    batch, filed = found.now, found.now.curve
    recorded, *missing = recording_parts(curve)
    recording = [recorded, f"{filed.size} bytes, CRC-32 {filed.crc:08x}", *missing]
    pairs = [
        ("Operator", batch.operator or ""),
        ("Place", batch.place or ""),
        ("Room", _room(batch, curve, style)),
        ("Mass", "" if batch.mass_mg is None else style.mass(batch.mass_mg / 1000)),
        ("Allergens", for_paper(allergen_words(allergens.of(found)))),
        ("Board", f"{filed.board_name} {filed.board_id:08x}"),
        ("Firmware", curve.firmware),
        (
            "Recording",
            ("rehearsal, no real chocolate; " if batch.rehearsal else "") + ", ".join(recording),
        ),
    ]
    if found.filed_by is not None:
        pairs.append(("Filed by", for_paper(login_words(found.filed_by))))
    return Facts(tuple((label, or_nothing(value)) for label, value in pairs))


def _room(batch: Batch, curve: Curve, style: Style) -> str:
    """As a person wrote it down, else as the board's own sensor had it."""
    values_c = [value_c for _, value_c in curve.room_c]
    if batch.room_centi_c is not None:
        values_c = [batch.room_centi_c / 100]
    if not values_c:
        return ""
    low_c, high_c = min(values_c), max(values_c)
    same = style.degrees(low_c) == style.degrees(high_c)
    return style.temperature(low_c) if same else style.window(low_c, high_c)


def _lots(found: AmendedBatch, style: Style) -> Table | Sentences:
    """The couverture's own allergens in a row of their own if they are known, then every lot."""
    rows = []
    if found.filed.allergens is not None:
        own = group_words(found.filed.allergens)
        rows.append((found.now.couverture, "", "", "", "—", own))
    for lot in found.now.lots:
        mass = "" if lot.mass_mg is None else style.mass(lot.mass_mg / 1000)
        day = "—" if lot.best_before is None else day_words(lot.best_before, style)
        groups = group_words(lot.allergens)
        rows.append((lot.ingredient, lot.lot, lot.supplier, mass, day, groups))
    head = ("ingredient", "lot", "maker", "mass", "best before", "allergens")
    return table_of(head, rows, (2.0, 1.4, 1.5, 1.2, 1.1, 1.5), (3,))


def _calibration(
    batch: Batch, curve: Curve, calibrations: Sequence[FiledCalibration], style: Style
) -> Facts:
    zone = timezone(timedelta(minutes=batch.utc_offset_min))
    day = "none: this probe was not calibrated"
    if curve.calibrated_unix_s:
        day = style.day(datetime.fromtimestamp(curve.calibrated_unix_s, zone))
    pairs = [("Date", day), ("Uncertainty", or_nothing(batch_uncertainty(batch, style)))]
    if curve.fitted is not None:
        pairs.insert(0, ("Probe", curve.fitted.words))
    known = _calibration_of(batch, curve, calibrations)
    if known is not None:
        points = [
            f"{point.step}, {style.day(datetime.fromtimestamp(point.unix_s, zone))}: "
            f"{style.difference(point.correction_centi_c / 100, 2)} at "
            f"{style.temperature(point.true_c, 2)}"
            for point in known.points
        ]
        pairs.append(("Points", "\n".join(points)))
    return Facts(tuple(pairs))


def _calibration_of(
    batch: Batch, curve: Curve, calibrations: Sequence[FiledCalibration]
) -> Calibration | None:
    """The calibration that the curve was recorded with, if the notebook has it."""
    # The batch's own copy comes first; batches of older versions have none.
    for raw in (batch.calibration or b"", *(filed.raw for filed in calibrations)):
        try:
            known = parse(raw)
        except RecordError:
            continue
        if curve.calibrated_unix_s and known.set_unix_s == curve.calibrated_unix_s:
            return known
    return None


def _deviations(found: AmendedBatch, judgement: Judgement, style: Style) -> Table | Sentences:
    """Each with what was done, what became of the chocolate, and the review, in a row."""

    def step(one: Handled, name: str) -> str:
        entry: Entry | None = getattr(one, name)
        if entry is None:
            return "open"
        when = style.minute(local(entry.at_unix_ms, entry.utc_offset_min))
        return for_paper(f"{one.words(name)} ({entry.who}, {when})")

    rows = [
        (
            for_paper(one.deviation.words),
            step(one, "action"),
            step(one, "disposition"),
            step(one, "review"),
        )
        for one in deviations_of(found, judgement, style)
    ]
    head = ("deviation", "what was done", "what became of it", "review by a second person")
    return table_of(head, rows, (2.6, 2, 1.7, 1.8))


def limits_words(toml_text: str | None, timeline: Timeline, style: Style) -> str:
    """The limits that the batch was judged by, who set them and since when."""
    if timeline.window_c is None:
        return ""
    said = [f"Window {style.window(*timeline.window_c)}"]
    if timeline.never_above_c is not None:
        said.append(f"never above {style.degrees_words(timeline.never_above_c)}")
    who, since = "not noted who set them", ""
    if toml_text is not None:
        with suppress(SnapcurveError):  # of another version
            couverture = parse_couverture(toml_text, "its couverture", "", "")
            who = f"set by {couverture.set_by}" if couverture.set_by else who
            if couverture.set_on is not None:
                since = f", since {style.day(couverture.set_on)}"
    return for_paper(f"{', '.join(said)}; {who}{since}.")


def _corrections(found: AmendedBatch) -> Table | Sentences:
    """With the time into the curve if they were noted while it ran."""
    started_ms, rows = found.filed.started_unix_ms, []
    last_ms = max((alarm.offset_ms for alarm in found.filed.alarms), default=0)
    for entry in found.entries:
        if entry.kind == "correction":
            at_ms = -1 if started_ms is None else entry.at_unix_ms - started_ms
            at = into(at_ms / 1000) if 0 <= at_ms <= last_ms else ""
            rows.append((at, f"{entry.payload['text']} ({entry.who})"))
    return table_of(("at", "what was done"), rows, (1.1, 6.6), (0,))


def _outcomes(found: AmendedBatch, style: Style) -> Table | Sentences:
    """Every finding, a later one too where it stands against an earlier."""
    rows = [
        (
            style.minute(local(entry.at_unix_ms, entry.utc_offset_min)),
            days_words(days) if (days := entry.payload.get("after_days")) else "—",
            entry.payload["what"],
            entry.payload["value"],
            entry.who,
        )
        for entry in found.entries
        if entry.kind == "outcome"
    ]
    return table_of(("when", "after", "what", "finding", "who"), rows, (1.9, 0.8, 0.9, 3, 1.4))


def _made(found: AmendedBatch, style: Style) -> Table | Sentences:
    return sentences([for_paper(made_words(one, style)) for one in made_of(found.entries)])


def _amendments(found: AmendedBatch, style: Style) -> Table | Sentences:
    """Amended fields and lots that were noted after filing."""
    rows = [
        (
            style.minute(local(entry.at_unix_ms, entry.utc_offset_min)),
            entry.who,
            entry.why or "noted later",
            ("lot: " if entry.kind == "lot" else "") + for_paper(entry_words(entry, style)),
        )
        for entry in found.entries
        if entry.kind in ("amendment", "lot")
    ]
    return table_of(("when", "who", "why", "what"), rows, (1.9, 1.4, 2, 3))

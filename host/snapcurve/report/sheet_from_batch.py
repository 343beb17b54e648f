"""From a batch of the notebook to the matter of its sheet.

What the notebook does not keep stays empty here, and the sheet says "not recorded".
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone

from snapcurve.analysis.verdict import Judgement
from snapcurve.calibration.stored import parse
from snapcurve.errors import RecordError
from snapcurve.notebook import allergens
from snapcurve.notebook.descriptions import allergen_words, blade_result_words
from snapcurve.notebook.entries import blades_with_offsets
from snapcurve.notebook.records import AmendedBatch, Batch, Entry
from snapcurve.notebook.records import Calibration as FiledCalibration
from snapcurve.recording.curve import Curve
from snapcurve.recording.event_words import ENDS, RESULT_WORDS
from snapcurve.recording.known_spans import LEAVING_S, out_spans
from snapcurve.report import sheet_from_entries as from_entries
from snapcurve.report import sheet_matter as m
from snapcurve.report.chart_content import Content, content_of
from snapcurve.shown.dates import local
from snapcurve.shown.plain_text import for_paper
from snapcurve.shown.settings_file import Settings


def matter_of(
    found: AmendedBatch,
    curve: Curve,
    judgement: Judgement,
    settings: Settings,
    calibrations: Sequence[FiledCalibration] = (),
    cleaning: Sequence[str] = (),
) -> m.SheetMatter:
    """Everything the notebook knows of a batch, whose curve is ``curve``.

    ``calibrations`` is the history of its board; ``cleaning`` says what is known of the bench
    before it; ``settings`` give the signer's name and the units of what is told in words.
    """
    batch, style = found.now, settings.style
    zone = timezone(timedelta(minutes=batch.utc_offset_min))
    started = None
    if batch.started_unix_ms is not None:
        started = local(batch.started_unix_ms, batch.utc_offset_min)
    content = content_of(curve) if curve.times_s else None
    blades = blades_with_offsets(batch, found.entries)
    return m.SheetMatter(
        code=batch.code,
        couverture=batch.couverture,
        method=batch.method,
        rehearsal=batch.rehearsal,
        started=started,
        duration_s=content.end_s if content else None,
        operator=batch.operator or "",
        place=batch.place or "",
        room_c=_room_c(batch, curve),
        mass_g=None if batch.mass_mg is None else batch.mass_mg / 1000,
        allergens=for_paper(allergen_words(allergens.of(found))),
        board=f"{batch.curve.board_name} {batch.curve.board_id:08x}",
        firmware=curve.firmware,
        recording=_recording(batch, curve),
        curve=curve if content else None,
        reasons=(judgement.verdict, *judgement.reasons, *judgement.cautions),
        phases=_phases(curve, content) if content else (),
        lots=from_entries.lots(found),
        cleaning=for_paper("\n".join(cleaning)),
        calibration=_calibration(batch, curve, calibrations, zone),
        dip_tests=_dip_tests(content, blades) if content else (),
        corrections=from_entries.corrections(found),
        outcomes=from_entries.outcomes(found.entries),
        amendments=from_entries.amendments(found.entries, style),
        notes=from_entries.notes(found, style),
        pictures=from_entries.pictures(found.entries, style),
        signer=settings.operator,
        signed_at=settings.bench,
    )


def _room_c(batch: Batch, curve: Curve) -> tuple[float, float] | None:
    """As a person wrote it down, else as the board's own sensor had it."""
    if batch.room_centi_c is not None:
        return batch.room_centi_c / 100, batch.room_centi_c / 100
    values_c = [value_c for _, value_c in curve.room_c]
    return (min(values_c), max(values_c)) if values_c else None


def _recording(batch: Batch, curve: Curve) -> str:
    parts = [
        f"{curve.recorded} samples",
        f"{batch.curve.size} bytes, CRC-32 {batch.curve.crc:08x}",
    ]
    missing = len(curve.temperatures_c) - curve.recorded
    if missing:
        parts.append(f"{missing} without a reading")
    if curve.lost_blocks:
        parts.append(f"{curve.lost_blocks} blocks lost")
    parts.append(ENDS.get(curve.end_reason, f"ended: {curve.end_reason}"))
    return ", ".join(parts)


def _phases(curve: Curve, content: Content) -> tuple[m.Phase, ...]:
    # On its way out the probe no longer tells the chocolate's temperature, before the board is
    # sure that it is out (recording/known_spans.py).
    outs = out_spans(curve.events, curve.times_s[-1] if curve.times_s else 0.0)
    going_s = sorted(start_s for start_s, _ in outs)

    def leaving(at_s: float) -> bool:
        following = bisect_right(going_s, at_s)
        return following < len(going_s) and going_s[following] - LEAVING_S <= at_s

    readings = [
        (at_s, value_c)
        for piece in content.pieces
        if not piece.in_air
        for at_s, value_c in zip(piece.times_s, piece.values_c, strict=True)
        if not leaving(at_s)
    ]
    times_s = [at_s for at_s, _ in readings]
    found = []
    for span in content.phases:
        first, last = bisect_left(times_s, span.start_s), bisect_left(times_s, span.end_s)
        values_c = [value_c for _, value_c in readings[first:last]]
        low_c = high_c = None
        if span.phase is not None and span.phase["direction"] == "hold":
            low_c, high_c = span.phase["low_centi_c"] / 100, span.phase["high_centi_c"] / 100
        elif span.phase is not None:
            high_c = span.phase["target_centi_c"] / 100
        found.append(
            m.Phase(
                kind=span.kind,
                target_low_c=low_c,
                target_high_c=high_c,
                start_s=span.start_s,
                end_s=span.end_s,
                lowest_c=min(values_c, default=None),
                highest_c=max(values_c, default=None),
                last_c=values_c[-1] if values_c else None,
            )
        )
    return tuple(found)


def _dip_tests(content: Content, blades: Sequence[tuple[float, Entry]]) -> tuple[m.DipTest, ...]:
    """What was filed later counts before what was told to the board at the bench."""
    filed = {round(at_s): for_paper(blade_result_words(entry)) for at_s, entry in blades}
    told = {
        round(test.start_s): RESULT_WORDS[test.result] for test in content.dip_tests if test.result
    }
    results = told | filed
    return tuple(
        m.DipTest(
            test.start_s,
            test.due_s,
            result=results.get(round(test.start_s), ""),
            number=test.number,
        )
        for test in content.dip_tests
    )


def _calibration(
    batch: Batch,
    curve: Curve,
    calibrations: Sequence[FiledCalibration],
    zone: timezone,
) -> m.Calibration:
    uncertainty_c = at_c = None
    if batch.uncertainty_centi_c is not None and batch.uncertainty_at_centi_c is not None:
        uncertainty_c = batch.uncertainty_centi_c / 100
        at_c = batch.uncertainty_at_centi_c / 100
    if not curve.calibrated_unix_s:
        return m.Calibration(none=True, uncertainty_c=uncertainty_c, at_c=at_c)
    points: tuple[m.CalibrationPoint, ...] = ()
    # the batch's own copy comes first; batches of older versions have none
    for raw in (batch.calibration or b"", *(filed.raw for filed in calibrations)):
        try:
            known = parse(raw)
        except RecordError:
            continue
        if known.set_unix_s == curve.calibrated_unix_s:
            points = tuple(
                m.CalibrationPoint(
                    bath=point.step,
                    day=datetime.fromtimestamp(point.unix_s, zone),
                    correction_c=point.correction_centi_c / 100,
                    at_c=point.true_c,
                )
                for point in known.points
            )
    return m.Calibration(
        day=datetime.fromtimestamp(curve.calibrated_unix_s, zone),
        points=points,
        uncertainty_c=uncertainty_c,
        at_c=at_c,
    )

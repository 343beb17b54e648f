"""From a filed batch to its sheet: what the notebook and the curve know, and nothing else."""

import zlib
from dataclasses import replace

import pytest
from chart_samples import RECORDED, alarm, mark, plain, recorded

from snapcurve import notebook
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.board.fitted import Fitted
from snapcurve.calibration.stored import Calibration, Point, build
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import records
from snapcurve.notebook.entries import amended
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.recording.timeline import timeline_of
from snapcurve.report.batch_course import into
from snapcurve.report.sheet_sections import NOTHING, sheet_of
from snapcurve.shown.settings_file import Settings

RAW = RECORDED.read_bytes()
STARTED_UNIX_MS = 1_795_500_000_000  # 2026-11-24T06:00:00Z
POINT = Point(
    indicated_centi_c=121,
    correction_centi_c=-121,
    step="ice",
    unix_s=1_788_000_000,
    reference_limit_milli_c=50,
    spread_milli_c=4,
    readings=40,
    cold_junction_centi_c=2150,
)


@pytest.fixture
def filed(tmp_path):
    curve = recorded()
    row = CurveRow(
        curve=curve.curve,
        generation=1,
        boot=curve.boot,
        size=len(RAW),
        crc=zlib.crc32(RAW),
        state="closed",
    )
    new = replace(
        new_batch(curve, RAW, row, "pico"),
        started_unix_ms=STARTED_UNIX_MS,
        utc_offset_min=60,
        operator="Łucja Żak",
        notes="Moulds were cold.",
        uncertainty_centi_c=32,
        uncertainty_at_centi_c=3150,
    )
    with notebook.open_notebook(str(tmp_path / "notebook.db")) as book:
        yield book.file_batch(new)


def blocks_of(batch, curve, settings, history=(), entries=()):
    """The blocks of the sheet by their titles; of those without one the first, "end" the others
    in order."""
    began = Clock(batch.started_unix_ms, batch.utc_offset_min)
    judgement = judge(curve, clock=began, style=settings.style)
    sheet = sheet_of(amended(batch, entries), judgement, settings, history)
    untitled = [one.block for one in sheet.sections if not one.title]
    return {one.title: one.block for one in reversed(sheet.sections)} | {"end": untitled[1:]}


def test_what_the_notebook_knows(filed):
    settings = Settings(operator="Anouk Rey", bench="by the door")
    blocks = blocks_of(filed, recorded(), settings)
    facts = dict(blocks["Batch"].pairs)
    assert blocks[""].texts == (
        "Dark couverture by three-step, begun 2026-11-24 07:00 (UTC+01:00)",
    )
    assert facts["Operator"] == "Łucja Żak"
    assert blocks["Notes"].texts == ("Moulds were cold.",)
    assert facts["Board"] == f"pico {recorded().board_id:08x}"
    assert f"CRC-32 {zlib.crc32(RAW):08x}" in facts["Recording"]
    assert facts["Recording"].endswith("ended by the button")
    assert blocks["Course"].rows[-1][:2] == ("ended", "0:24:25")
    assert blocks["Verdict"].texts == (judge(recorded()).verdict,)
    assert dict(blocks["Calibration of the probe"].pairs)["Uncertainty"] == (
        "±0.4 °C at 32 °C (k = 2)"
    )
    sheet = sheet_of(amended(filed, ()), judge(recorded()), settings)
    assert sheet.code == filed.code
    (signature,) = [one.block for one in sheet.sections if hasattr(one.block, "signer")]
    # who worked it, not who prints it
    assert (signature.signer, signature.bench) == ("Łucja Żak", "by the door")


def test_what_it_does_not_know_is_said_so(filed):
    blocks = blocks_of(filed, recorded(), Settings())
    facts = dict(blocks["Batch"].pairs)
    assert (facts["Place"], facts["Mass"]) == (NOTHING, NOTHING)
    (missing,) = blocks["end"][0].texts
    for title in ("cleaning before this batch", "outcomes", "amendments", "corrections"):
        assert title in missing
    dips = [row for row in blocks["Course"].rows if row[0].startswith("dip test")]
    assert dips
    assert all("result not noted" in row[-1] for row in dips)


def test_the_probe_on_its_way_out_is_no_lowest_of_a_phase(filed):
    """Half a minute in the window, then lifted: twelve seconds later the board is sure."""
    values = [31.5] * 30 + [31.5 - 0.2 * second for second in range(12)] + [28.0] * 10
    (work,) = timeline_of(plain(values, [alarm(42, "probe_out")])).phases
    assert (work.lowest_c, work.highest_c, work.last_c) == (31.5, 31.5, 31.5)


def test_the_course_comes_from_the_curve(filed):
    curve = recorded()
    rows = blocks_of(filed, curve, Settings())["Course"].rows
    assert [row[0] for row in rows][:4] == [
        "melted through",
        "cooled",
        "rewarmed",
        "came into the window",
    ]
    readings = [value for value in curve.temperatures_c if value is not None]
    highest = float(rows[0][3].removesuffix(" °C"))
    assert highest == pytest.approx(max(readings), abs=0.1)
    dips = [event.offset_ms / 1000 for event in curve.events if event.name == "dip_test"]
    first, second = [row for row in rows if row[0].startswith("dip test")]
    assert [first[1], second[1]] == [into(at_s) for at_s in dips]
    assert f"due sounded at {into(dips[0] + 300)}" in first[-1]
    assert "due did not sound" in second[-1]
    assert [row[1] for row in rows] == sorted(row[1] for row in rows)


def test_what_was_marked_on_the_board_of_a_blade_stands_on_the_sheet(filed):
    """The button's answer, where nothing was filed about that blade afterwards."""
    events = [mark(60, "dip_test", 1), mark(100, "dip_test", 2), mark(140, "dip_test", 3)]
    events += [mark(150, "passed", 1), mark(160, "failed", 2)]
    rows = blocks_of(filed, plain([31.0] * 300, events), Settings())["Course"].rows
    dips = [row[-1] for row in rows if row[0].startswith("dip test")]
    assert [text.split("; ")[-1] for text in dips] == [
        "set, no mark",
        "marked",
        "result not noted",
    ]


def test_the_calibration_is_the_one_the_curve_was_recorded_with(filed):
    def kept(raw):
        return records.Calibration(1, "pico", "ice", "MAX31856", "K", raw)

    curve = replace(recorded(), calibrated_unix_s=POINT.unix_s)
    later = build(Calibration((replace(POINT, unix_s=POINT.unix_s + 9),)))
    history = [kept(b"\x01"), kept(build(Calibration((POINT,)))), kept(later)]

    def found(curve, history):
        blocks = blocks_of(filed, curve, Settings(), history)
        return dict(blocks["Calibration of the probe"].pairs)

    pairs = found(curve, history)
    assert pairs["Date"] == "2026-08-29"
    assert pairs["Points"] == "ice, 2026-08-29: -1.21 °C at 0.00 °C"
    assert "Points" not in found(curve, ())
    assert "not calibrated" in found(replace(curve, calibrated_unix_s=0), history)["Date"]


def test_the_sheet_says_which_probe_it_was(filed):
    curve = replace(recorded(), fitted=Fitted("K", 60, "MAX31856"))
    pairs = dict(blocks_of(filed, curve, Settings())["Calibration of the probe"].pairs)
    assert pairs["Probe"] == "type K, MAX31856, mains 60 Hz"
    assert recorded().fitted is None  # from before protocol version 6
    assert "Probe" not in dict(
        blocks_of(filed, recorded(), Settings())["Calibration of the probe"].pairs
    )


def test_a_curve_without_samples_and_time_makes_a_sheet(filed):
    blocks = blocks_of(replace(filed, started_unix_ms=None), Curve(), Settings())
    assert blocks[""].texts[0].endswith("time unknown")
    assert blocks["end"][0].texts[0].startswith("Not recorded: course, curve, ")

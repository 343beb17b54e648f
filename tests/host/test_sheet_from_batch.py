"""From a filed batch to its sheet: what the notebook and the curve know, and nothing else."""

import zlib
from dataclasses import replace

import pytest
from chart_samples import RECORDED, alarm, mark, plain, recorded

from snapcurve import notebook
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.calibration.stored import Calibration, Point, build
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import records
from snapcurve.notebook.entries import amended
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.report.sheet_sections import NOTHING, Sentences, clock, sheet_of
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
    """The blocks of the sheet by their titles, and of those without a title the first."""
    began = Clock(batch.started_unix_ms, batch.utc_offset_min)
    judgement = judge(curve, clock=began, style=settings.style)
    sheet = sheet_of(amended(batch, entries), judgement, settings, history)
    return {one.title: one.block for one in reversed(sheet.sections)}


def test_what_the_notebook_knows(filed):
    settings = Settings(operator="Anouk Rey", bench="by the door")
    blocks = blocks_of(filed, recorded(), settings)
    facts = dict(blocks[""].pairs)
    assert (facts["Couverture"], facts["Method"]) == ("Dark couverture", "three-step")
    assert facts["Started"] == "2026-11-24 07:00 (UTC+01:00)"
    assert facts["Operator"] == "Łucja Żak"
    assert blocks["Notes"].texts == ("Moulds were cold.",)
    assert facts["Board"] == f"pico {recorded().board_id:08x}"
    assert f"CRC-32 {zlib.crc32(RAW):08x}" in facts["Recording"]
    assert facts["Recording"].endswith("ended by the button")
    assert facts["Duration"] == "0:24:25"
    reasons = blocks["Verdict"].texts
    assert reasons[0] == judge(recorded()).verdict
    assert len(reasons) > 5
    assert dict(blocks["Calibration of the probe"].pairs)["Uncertainty"] == (
        "±0.4 °C at 32 °C (k = 2)"
    )
    sheet = sheet_of(amended(filed, ()), judge(recorded()), settings)
    assert sheet.code == filed.code
    (signature,) = [one.block for one in sheet.sections if hasattr(one.block, "signer")]
    assert (signature.signer, signature.bench) == ("Anouk Rey", "by the door")


def test_what_it_does_not_know_is_said_so(filed):
    blocks = blocks_of(filed, recorded(), Settings())
    facts = dict(blocks[""].pairs)
    assert (facts["Place"], facts["Mass"]) == (NOTHING, NOTHING)
    for title in ("Cleaning before this batch", "Outcomes", "Amendments", "Corrections"):
        assert blocks[title] == Sentences((NOTHING,))
    assert {row[-1] for row in blocks["Dip tests"].rows} == {NOTHING}


def test_the_probe_on_its_way_out_is_no_lowest_of_a_phase(filed):
    """Half a minute in the window, then lifted: twelve seconds later the board is sure."""
    values = [31.5] * 30 + [31.5 - 0.2 * second for second in range(12)] + [28.0] * 10
    curve = plain(values, [alarm(42, "probe_out")])
    (work,) = blocks_of(filed, curve, Settings())["Phases"].rows
    assert work[-3:] == ("31.5 °C", "31.5 °C", "31.5 °C")


def test_phases_and_dip_tests_come_from_the_curve(filed):
    curve = recorded()
    blocks = blocks_of(filed, curve, Settings())
    rows = blocks["Phases"].rows
    assert [row[:2] for row in rows] == [
        ("melt", "48 °C"),
        ("cool", "28 °C"),
        ("rewarm", "31.3 °C"),
        ("work", "31 to 32 °C"),
    ]
    assert rows[0][2] == "0:00:00"
    readings = [value for value in curve.temperatures_c if value is not None]
    highest = max(float(row[5].removesuffix(" °C")) for row in rows)
    assert highest == pytest.approx(max(readings), abs=0.05)
    dips = [event.offset_ms / 1000 for event in curve.events if event.name == "dip_test"]
    first, second = blocks["Dip tests"].rows
    assert [first[1], second[1]] == [clock(at_s) for at_s in dips]
    assert first[3] == clock(dips[0] + 300)
    assert second[3] == "did not sound"


def test_what_was_marked_on_the_board_of_a_blade_stands_on_the_sheet(filed):
    """The button's answer, where nothing was filed about that blade afterwards."""
    events = [mark(60, "dip_test", 1), mark(100, "dip_test", 2), mark(140, "dip_test", 3)]
    events += [mark(150, "passed", 1), mark(160, "failed", 2)]
    rows = blocks_of(filed, plain([31.0] * 300, events), Settings())["Dip tests"].rows
    assert [row[-1] for row in rows] == ["set, no mark", "marked", NOTHING]


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


def test_a_curve_without_samples_and_time_makes_a_sheet(filed):
    blocks = blocks_of(replace(filed, started_unix_ms=None), Curve(), Settings())
    assert dict(blocks[""].pairs)["Started"] == "time unknown"
    for title in ("Curve", "Phases", "Dip tests"):
        assert blocks[title] == Sentences((NOTHING,))

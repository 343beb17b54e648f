"""From a filed batch to its sheet: what the notebook and the curve know, and nothing else."""

import zlib
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from types import SimpleNamespace

import pytest
from chart_samples import RECORDED, alarm, plain, recorded

from snapcurve import notebook
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.calibration.stored import Calibration, Point, build
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import records
from snapcurve.notebook.entries import amended
from snapcurve.recording.clock import Clock
from snapcurve.recording.curve import Curve
from snapcurve.report import sheet_from_batch as from_batch
from snapcurve.report.chart_dips import DipTest
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


def matter_of(batch, curve, settings, history=(), entries=()):
    found = amended(batch, entries)
    clock = Clock(batch.started_unix_ms, batch.utc_offset_min)
    judgement = judge(curve, clock=clock)
    return from_batch.matter_of(found, curve, judgement, settings, history)


def test_what_the_notebook_knows(filed):
    settings = Settings(operator="Anouk Rey", bench="by the door")
    matter = matter_of(filed, recorded(), settings)
    assert (matter.code, matter.couverture, matter.method) == (
        filed.code,
        "Dark couverture",
        "three-step",
    )
    assert matter.started == datetime(2026, 11, 24, 7, tzinfo=timezone(timedelta(hours=1)))
    assert (matter.operator, matter.notes) == ("Łucja Żak", ("Moulds were cold.",))
    assert (matter.signer, matter.signed_at) == ("Anouk Rey", "by the door")
    assert matter.board == f"pico {recorded().board_id:08x}"
    assert f"CRC-32 {zlib.crc32(RAW):08x}" in matter.recording
    assert matter.recording.endswith("ended by the button")
    assert matter.reasons[0] == judge(recorded()).verdict
    assert len(matter.reasons) > 5
    assert matter.duration_s == len(recorded().times_s)
    assert (matter.calibration.uncertainty_c, matter.calibration.at_c) == (0.32, 31.5)


def test_what_it_does_not_know_stays_empty(filed):
    matter = matter_of(filed, recorded(), Settings())
    assert (matter.place, matter.bench, matter.mass_g, matter.cleaning) == ("", "", None, "")
    assert matter.lots == matter.outcomes == matter.amendments == matter.corrections == ()
    assert {(test.looked_s, test.result) for test in matter.dip_tests} == {(None, "")}


def test_the_probe_on_its_way_out_is_no_lowest_of_a_phase(filed):
    """Half a minute in the window, then lifted: twelve seconds later the board is sure."""
    values = [31.5] * 30 + [31.5 - 0.2 * second for second in range(12)] + [28.0] * 10
    curve = plain(values, [alarm(42, "probe_out")])
    (work,) = matter_of(filed, curve, Settings()).phases
    assert (work.lowest_c, work.highest_c, work.last_c) == (31.5, 31.5, 31.5)


def test_phases_and_dip_tests_come_from_the_curve(filed):
    curve = recorded()
    matter = matter_of(filed, curve, Settings())
    assert [phase.kind for phase in matter.phases] == ["melt", "cool", "rewarm", "work"]
    assert [phase.target_high_c for phase in matter.phases] == [48.0, 28.0, 31.3, 32.0]
    assert [phase.target_low_c for phase in matter.phases] == [None, None, None, 31.0]
    assert matter.phases[0].start_s == 0
    assert matter.phases[-1].end_s == matter.duration_s
    for before, after in zip(matter.phases, matter.phases[1:], strict=False):
        assert before.end_s == after.start_s
    readings = [value for value in curve.temperatures_c if value is not None]
    assert max(phase.highest_c for phase in matter.phases) == max(readings)
    dips = [event.offset_ms / 1000 for event in curve.events if event.name == "dip_test"]
    assert [test.at_s for test in matter.dip_tests] == dips
    assert matter.dip_tests[0].due_sounded_s == pytest.approx(dips[0] + 300)
    assert matter.dip_tests[1].due_sounded_s is None


def test_what_was_told_to_the_board_of_a_blade_stands_on_the_sheet():
    """The button's answer, where nothing was filed about that blade afterwards."""
    told = [
        DipTest(at_s, at_s + 300, at_s + 180, at_s + 300, word)
        for at_s, word in ((60.0, "passed"), (900.0, "failed"), (1500.0, None))
    ]
    content = SimpleNamespace(dip_tests=told)
    assert [test.result for test in from_batch._dip_tests(content, ())] == [
        "set, no mark",
        "marked",
        "",
    ]


def test_the_calibration_is_the_one_the_curve_was_recorded_with(filed):
    def kept(raw):
        return records.Calibration(1, "pico", "ice", "MAX31856", "K", raw)

    curve = replace(recorded(), calibrated_unix_s=POINT.unix_s)
    later = build(Calibration((replace(POINT, unix_s=POINT.unix_s + 9),)))
    history = [kept(b"\x01"), kept(build(Calibration((POINT,)))), kept(later)]
    found = matter_of(filed, curve, Settings(), history).calibration
    assert found.day is not None
    assert found.day.timestamp() == POINT.unix_s
    (point,) = found.points
    assert (point.bath, point.correction_c, point.at_c) == ("ice", -1.21, 0.0)
    assert matter_of(filed, curve, Settings()).calibration.points == ()
    assert matter_of(filed, replace(curve, calibrated_unix_s=0), Settings()).calibration.none


def test_a_curve_without_samples_and_time_makes_a_sheet(filed):
    matter = matter_of(replace(filed, started_unix_ms=None), Curve(), Settings())
    assert matter.curve is None
    assert matter.started is None
    assert matter.phases == matter.dip_tests == ()

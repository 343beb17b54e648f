"""What a further bath would earn, and the page that says how a probe was calibrated."""

import io
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pypdf
import pytest

from snapcurve.calibration.baths import FIXED_POINTS, boiling_water, compared
from snapcurve.calibration.next_bath import BATHS, earnings, earnings_lines, with_bath
from snapcurve.calibration.stored import Calibration, Point
from snapcurve.calibration.trust import trust
from snapcurve.errors import SnapcurveError
from snapcurve.report.certificate import Calibrated, certificate_of
from snapcurve.report.sheet_document import written
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import PLAIN, Style

NOW_S = 1_800_000_000
DAY_S = 86400
ICE = Point(120, -120, "ice", NOW_S, 50, 20, 200, 2100)
BOIL = Point(9941, -160, "boil", NOW_S - 30 * DAY_S, 80, 40, 180, 2150)
BESIDE = Point(3210, -110, "point", NOW_S, 100, 20, 200, 2100)


def judged(calibration: Calibration, at_c: float = 31.0):
    return trust("MAX31856", "K", calibration, at_c, NOW_S, room_c=21.0)


# --- what a bath would earn ---------------------------------------------------------------


def test_after_ice_boiling_water_earns_much_and_a_second_ice_bath_nothing():
    held = Calibration((ICE,))
    earned = earnings(held, NOW_S, 21.0, judged)
    now = judged(held).expanded_c
    assert set(earned) == set(BATHS)
    assert earned["ice"] == pytest.approx(now, abs=0.01)
    assert earned["boil"] < 0.3 * now
    assert earned["gallium"] < earned["boil"] < earned["point"] < now


def test_what_is_promised_is_what_is_found_afterwards():
    held = Calibration((ICE,))
    promised = earnings(held, NOW_S, 21.0, judged, ("boil", boiling_water(None, 650.0, 1013.0)))
    limit = round(boiling_water(None, 650.0, 1013.0).limit_c * 1000)
    after = held.with_point(replace(BOIL, unix_s=NOW_S, reference_limit_milli_c=limit))
    assert promised["boil"] == pytest.approx(judged(after).expanded_c, abs=0.01)
    better = earnings(held, NOW_S, 21.0, judged, ("point", compared(31.0, 0.05)))
    assert better["point"] < promised["point"]


def test_a_bath_that_is_only_expected_corrects_nothing():
    held = Calibration((ICE, BOIL))
    after = with_bath(held, FIXED_POINTS["gallium"], NOW_S, 21.0)
    assert len(after.points) == 3
    for shown_c in (5.0, 31.0, 80.0):
        assert after.corrected_c(shown_c) == pytest.approx(held.corrected_c(shown_c), abs=0.02)


def test_the_best_bath_comes_first_in_the_persons_degrees():
    held = Calibration((ICE,))
    lines = earnings_lines(judged(held), earnings(held, NOW_S, 21.0, judged), PLAIN)
    assert lines[0].startswith("Now ±0.")
    assert [line.split("°C  ")[1] for line in lines[1:]] == [
        "a gallium cell", "boiling water", "beside a reference near 31 °C", "ice",
    ]  # fmt: skip
    own = Style(fahrenheit=True)
    assert "°C" not in "".join(
        earnings_lines(judged(held), earnings(held, NOW_S, 21.0, judged), own)
    )


def test_a_full_calibration_promises_only_what_it_can_take():
    six = tuple(
        replace(ICE, indicated_centi_c=centi, step="point")
        for centi in (1000, 2000, 4000, 5000, 6000, 7000)
    )
    assert earnings(Calibration(six), NOW_S, 21.0, judged) == {}


# --- the page -----------------------------------------------------------------------------


def words(tmp_path, points=(ICE, BOIL), reference="", made_s=NOW_S, settings=None):
    settings = settings or Settings(operator="Ilka Brandner", bench="Bench two")
    calibration = Calibration(points, time_constants_s=(3.5, 1.0), lag_unix_s=NOW_S)
    what = Calibrated(
        "pico", 0x1234, "0.1.0", "MAX31856", "K", calibration,
        lambda at_c: judged(calibration, at_c), reference,
    )  # fmt: skip
    made = datetime.fromtimestamp(made_s, UTC).astimezone()
    sections = certificate_of(what, settings, made)
    title = "Calibration of board 00001234"
    path = written(title, title, sections, tmp_path / "c.pdf", "A4", PLAIN)
    read = pypdf.PdfReader(io.BytesIO(path.read_bytes()))
    assert len(read.pages) == 1
    return " ".join(read.pages[0].extract_text().split())


def day(unix_s):
    return time.strftime("%Y-%m-%d", time.localtime(unix_s))


def test_points_references_budget_and_the_day_it_is_due(tmp_path):
    text = words(tmp_path)
    for part in (
        "Calibration of board 00001234", "type K, class 1 (IEC 60584-1)", "MAX31856",
        f"{day(NOW_S)} ice 0.00 °C ±0.05 °C 1.20 °C -1.20 °C",
        f"{day(BOIL.unix_s)} boiling water 97.81 °C ±0.08 °C 99.41 °C -1.60 °C",
        "the ice point, 0.00 °C", "IAPWS-IF97", "4.5 s in stirred water",
        "no certificate of an accredited laboratory", "Ilka Brandner", "Bench two",
        "curvature, assumed", "drift in 10 days, assumed 0.10 °C a year",
    ):  # fmt: skip
        assert part in text, part
    # From the oldest point, 180 days.
    assert f"next due {day(BOIL.unix_s + 180 * DAY_S)} " in text
    assert "overdue" not in text
    within = judged(Calibration((ICE, BOIL)))
    assert f"within {within.figure()} of the true temperature" in text
    assert f"{within.budget.combined:.4f}" in text


def test_an_old_calibration_is_overdue(tmp_path, monkeypatch):
    monkeypatch.setenv("SNAPCURVE_CALIBRATION_DAYS", "20")
    assert f"{day(BOIL.unix_s + 20 * DAY_S)} (overdue)" in words(tmp_path)


def test_which_reference_it_was_is_said_or_missed(tmp_path):
    assert "within ±0.1 °C: Which one, and its certificate, were not named." in words(
        tmp_path, (BESIDE,)
    )
    assert "within ±0.1 °C: RT-2 No. 114" in words(tmp_path, (BESIDE,), "RT-2 No. 114")


def test_it_is_in_the_persons_units():
    gallium = replace(ICE, indicated_centi_c=3096, step="gallium")
    calibration = Calibration((ICE, gallium, BOIL))
    what = Calibrated(
        "pico", 1, "0.1.0", "MAX31856", "K", calibration,
        lambda at_c: trust(
            "MAX31856", "K", calibration, at_c, NOW_S, room_c=21.0, style=Style(fahrenheit=True)
        ),
    )  # fmt: skip
    sections = certificate_of(what, Settings(temperature="F"), datetime.now().astimezone())
    assert "°C" not in repr(sections)
    assert "85.5763 °F" in repr(sections)  # 29.7646 °C
    assert "32.00 °F" in repr(sections)


def test_a_probe_that_was_never_calibrated_gets_no_page(tmp_path):
    with pytest.raises(SnapcurveError, match="no calibration to certify"):
        words(tmp_path, ())


def test_it_is_due_by_the_local_day():
    midnight = datetime(2027, 1, 1, 0, 30).astimezone()
    point = replace(ICE, unix_s=int(midnight.timestamp()))
    calibration = Calibration((point,))
    what = Calibrated(
        "pico", 1, "0.1.0", "MAX31856", "K", calibration, lambda at_c: judged(calibration, at_c)
    )
    facts = dict(certificate_of(what, Settings(), midnight)[1].block.pairs)
    assert facts["calibrated"] == "2027-01-01"
    assert facts["next due"] == (midnight + timedelta(days=180)).date().isoformat()
    assert facts["bench"] == "not recorded"

"""A calibration on the board: kept, applied, replaced without loss, in the curve's head."""

import binascii

import pytest
from board_fakes import blocks_of
from test_board_requests import PROFILE, Rig

from snapcurve.wire import catalogue, codec

ICE = (120, -120, "ice", 1_800_000_000, 50, 20, 240, 2100)
BOIL = (9941, -160, "boil", 1_800_000_600, 50, 60, 180, 2150)


def calibration(*points, set_unix_s=1_800_000_600, lag_ms=0, second_ms=0, kind="K"):
    head = (set_unix_s, 1, 1_800_000_700 if lag_ms else 0, lag_ms, second_ms, kind)
    return codec.pack(catalogue.CALIBRATION_HEAD, head) + b"".join(
        codec.pack(catalogue.CALIBRATION_POINT, point) for point in points
    )


@pytest.fixture
def rig(tmp_path):
    return Rig(tmp_path, points=((0, 32.32),))  # a probe off by 1.2 °C and 0.4 % at 31 °C


def reading(rig):
    rig.run(2000)
    names = [field[0] for field in catalogue.READING]
    return dict(zip(names, rig.ask("reading_get"), strict=True))


def test_it_corrects_from_then_on_and_after_a_restart(rig, tmp_path):
    raw = calibration(ICE, BOIL)
    assert reading(rig)["indicated_centi_c"] == pytest.approx(3232, abs=1)
    assert rig.ask("calibration_put", raw) == [binascii.crc32(raw)]
    assert rig.ask("calibration_get", "current") == [raw]
    for board in (rig, Rig(tmp_path, points=((0, 32.32),))):
        values = reading(board)
        assert values["uncorrected_128ths"] == pytest.approx(32.32 * 128, abs=2)
        assert values["indicated_centi_c"] == pytest.approx(3100, abs=2)


def test_the_one_before_stays_and_repeating_loses_nothing(rig):
    first, second = calibration(ICE), calibration(ICE, BOIL)
    rig.ask("calibration_put", first)
    rig.ask("calibration_put", second)
    rig.ask("calibration_put", second)  # the answer was lost
    assert rig.ask("calibration_get", "current") == [second]
    assert rig.ask("calibration_get", "previous") == [first]
    rig.ask("calibration_put", b"")
    assert rig.ask("calibration_get", "current") == [b""]
    assert rig.ask("calibration_get", "previous") == [second]
    assert reading(rig)["indicated_centi_c"] == pytest.approx(3232, abs=1)


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"\x01", "bad_length"),
        (calibration(ICE)[:-2], "bad_length"),
        (calibration((120, -1500, *ICE[2:])), "bad_value"),
        (calibration(ICE, (130, -120, *ICE[2:])), "bad_value"),
    ],
)
def test_what_makes_no_correction_is_refused_and_the_old_one_stays(rig, raw, code):
    good = calibration(ICE)
    rig.ask("calibration_put", good)
    assert rig.ask("calibration_put", raw)[:2] == ("error", code)
    assert rig.ask("calibration_get", "current") == [good]


def test_the_curve_says_by_which_calibration(rig, tmp_path):
    rig.ask("calibration_put", calibration(ICE, BOIL))
    rig.record(3000)
    assert blocks_of((tmp_path / "c00001").read_bytes())[0][3][9] == 1_800_000_600


def test_a_batch_that_is_recorded_is_not_ended_by_a_calibration(rig):
    """A curve is of one calibration: whoever sends another meanwhile is refused."""
    rig.ask("profile_put", PROFILE)
    old, new = calibration(ICE), calibration(ICE, BOIL)
    rig.ask("calibration_put", old)
    rig.start()
    rig.run(2000)
    assert rig.ask("calibration_put", new) == ("error", "still_recording", 255)
    assert rig.ask("calibration_put", old) == [binascii.crc32(old)]  # a repeated one does no harm
    assert rig.ask("calibration_get", "current") == [old]
    assert rig.app.recorder.running


def test_the_measured_lag_reaches_the_estimate_at_once_and_after_a_restart(rig, tmp_path):
    """5 s and 1.1 s behind each other trail by 6.1 s; before, it takes a middling lag."""
    rig.run(2000)
    assert rig.app.batch.estimate.lag_s < 5.0
    rig.ask("calibration_put", calibration(lag_ms=5000, second_ms=1100))
    for board in (rig, Rig(tmp_path, points=((0, 32.32),))):
        board.run(2000)
        assert board.app.batch.estimate.lag_s == pytest.approx(6.1, abs=0.6)


def test_a_calibration_without_a_measured_lag_leaves_the_estimate_as_it_was(rig):
    rig.run(2000)
    before_s = rig.app.batch.estimate.lag_s
    rig.ask("calibration_put", calibration(ICE))
    rig.run(2000)
    assert rig.app.batch.estimate.lag_s == pytest.approx(before_s, abs=0.5)


def in_a_bath(folder, points):
    """A board whose probe goes through ``points`` in a room of 21 °C."""
    return Rig(folder, points=points)


DIPPED = ((0, 21.0), (9_000, 21.0), (10_000, 0.0))  # in ice from the tenth second on


def test_no_curve_begins_in_a_bath(tmp_path):
    rig = in_a_bath(tmp_path, DIPPED)
    assert rig.ask("bath", 60) == []
    rig.run(50_000)
    assert not rig.app.recorder.running
    rig.app.batch.start(rig.app.uptime.now(), True)  # by hand it does
    assert rig.ask("bath", 30) == ("error", "still_recording", 255)


@pytest.mark.parametrize("last", ["bath 0", "calibration", "nothing"])
def test_nor_before_the_probe_was_back_in_the_room(tmp_path, last):
    """The bath is over for the host, by its word or its silence; the probe is still in it."""
    points = (*DIPPED, (200_000, 0.0), (201_000, 21.0), (260_000, 21.0), (261_000, 31.0))
    rig = in_a_bath(tmp_path, points)
    rig.ask("bath", 60)
    rig.run(40_000)
    if last != "nothing":
        rig.ask("bath", 0)
    if last == "calibration":
        rig.ask("calibration_put", calibration(ICE))
    while rig.app.uptime.now() < 255_000:
        rig.run(1000)
        assert not rig.app.recorder.running, rig.app.uptime.now()
    rig.run(20_000)
    assert rig.app.recorder.running, "the next batch begins by itself"
    assert [row.curve for row in rig.app.store.rows] == [1]

"""A stored profile or calibration that cannot be read is said, with sound and light and to the
host; and never taken for none."""

import errno

import pytest
from app_rig import BATCH, AppRig
from board_fakes import WORK, Parts, World, events_of, profile_bytes, request
from hypothesis import given, settings
from hypothesis import strategies as st

from snapcurve.probe.app import _STUCK, App
from snapcurve.probe.thermometer.calibration import parse as parse_calibration
from snapcurve.wire import catalogue
from snapcurve.wire.errors import WireError

HOLD = profile_bytes(WORK, method="hold")
RUBBISH = [b"", b"\xff" * 80, b"rubbish", HOLD[:-1], HOLD + b"\0"]
TROUBLES = list(catalogue.TROUBLES)


class Rig(AppRig):
    """A board that finds what lies in ``folder``."""

    def __init__(self, folder, points=BATCH, **options):
        super().__init__(folder, points, None, **options)
        again = App(self.parts)
        self.parts.alarms.clear()
        self.parts.beeper.log.clear()
        self.app = again
        again.start()

    def troubles(self):
        self.parts.stream.answers()
        self.parts.stream.inbox += request("reading_get")
        self.run(self.parts.clock.ms + 500)
        ((name, _, values),) = self.parts.stream.answers()
        assert name == "reading_get_answer"
        return catalogue.names_of(catalogue.TROUBLES, values[-1])


@pytest.mark.parametrize("raw", RUBBISH)
def test_a_profile_that_cannot_be_read_is_said_until_it_is_silenced(tmp_path, raw):
    (tmp_path / "profile").write_bytes(raw)
    rig = Rig(tmp_path, [(0, 21.0)], presses=[(60_000, 60_200)]).run(59_000)
    assert rig.names() == ["unreadable"]
    assert rig.app.sounder.playing == "unreadable"
    assert len(rig.sounded(5000)) >= 10
    assert rig.troubles() == ["profile"]
    rig.run(300_000)
    assert rig.sounded(61_000) == []
    assert rig.troubles() == ["profile"], "silence mends nothing"


def test_it_is_said_again_as_a_batch_begins_and_stands_in_its_curve(tmp_path):
    (tmp_path / "profile").write_bytes(b"rubbish")
    rig = Rig(tmp_path, presses=[(5000, 5200)]).run(380_000)
    assert rig.names() == ["unreadable", "unreadable", "probe_out"]
    assert 10 < rig.parts.alarms[1][0] / 1000 < 20
    assert len(rig.sounded(20_000)) > 10
    rig.end()
    alarms = [event[2] for event in events_of(rig.curve()) if event[1] == "alarm"]
    assert catalogue.ALARMS[alarms[0]] == "unreadable"


def test_a_profile_that_is_sent_ends_it(tmp_path):
    (tmp_path / "profile").write_bytes(b"rubbish")
    rig = Rig(tmp_path, [(0, 21.0)]).run(20_000)
    rig.parts.stream.inbox += request("profile_put", HOLD)
    rig.run(21_000)
    assert rig.app.sounder.playing == "none"
    assert rig.troubles() == []
    assert Rig(tmp_path, [(0, 21.0)]).run(5000).names() == []


@pytest.mark.parametrize("raw", [b"\xff" * 20, b"x", bytes(15)])
def test_a_calibration_that_cannot_be_read_is_said(tmp_path, raw):
    with pytest.raises(WireError):
        parse_calibration(raw)
    (tmp_path / "calibration").write_bytes(raw)
    rig = Rig(tmp_path, [(0, 21.0)]).run(20_000)
    assert rig.names() == ["unreadable"]
    assert rig.troubles() == ["calibration"]
    assert rig.app.thermometer.corrected is None
    rig.parts.stream.inbox += request("calibration_put", b"")
    rig.run(40_000)
    assert rig.troubles() == []
    assert rig.app.sounder.playing == "none"


def test_what_is_not_there_is_no_trouble(tmp_path):
    (tmp_path / "calibration").write_bytes(b"")  # as one that was taken off
    rig = Rig(tmp_path, [(0, 21.0)]).run(20_000)
    assert rig.names() == []
    assert rig.troubles() == []


@pytest.mark.parametrize("name", ["profile", "calibration"])
def test_a_flash_that_does_not_give_the_file_is_not_taken_for_none(tmp_path, monkeypatch, name):
    (tmp_path / name).write_bytes(HOLD)
    real = open

    def failing(path, *rest):
        if str(path) == f"{tmp_path}/{name}":
            raise OSError(errno.EIO, "the flash fails")
        return real(path, *rest)

    monkeypatch.setattr("builtins.open", failing)
    app = App(Parts(tmp_path, World([(0, 21.0)])))
    app.start()
    assert app.troubles() == 1 << TROUBLES.index(name)


@settings(max_examples=60)
@given(st.binary(max_size=120), st.binary(max_size=60))
def test_whatever_is_stored_is_read_or_said(tmp_path_factory, profile, calibration):
    folder = tmp_path_factory.mktemp("store")
    (folder / "profile").write_bytes(profile)
    (folder / "calibration").write_bytes(calibration)
    app = App(Parts(folder, World([(0, 21.0)])))
    app.start()
    said = catalogue.names_of(catalogue.TROUBLES, app.troubles())
    assert ("profile" in said) == (app.settings.profile is None)
    try:
        if calibration:
            parse_calibration(calibration)
        assert "calibration" not in said
    except WireError:
        assert "calibration" in said


def test_places_of_bits():
    assert 1 << TROUBLES.index("button") == _STUCK

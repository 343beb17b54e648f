"""Every request of the catalogue, asked over the wire of a whole app."""

import binascii
import sys
from pathlib import Path

import pytest
from board_fakes import (
    WORK,
    Parts,
    World,
    blocks_of,
    events_of,
    profile_bytes,
    raw_frame,
    request,
    write_curve,
)

from snapcurve.probe.app import App
from snapcurve.probe.requests import Requests
from snapcurve.wire import catalogue, codec
from snapcurve.wire.version import __version__

sys.path.append(str(Path(__file__).parents[1] / "wire"))
from vector_files import refusal_of, rows, unhex

PROFILE = profile_bytes(WORK, method="hold")


class Rig:
    """An app, its wire, and time that passes while one waits for the answer."""

    def __init__(self, folder, points=((0, 21.0),), **options):
        self.parts = Parts(folder, World(list(points)), **options)
        self.app = App(self.parts)
        self.app.start()
        self.sequence = 0

    def run(self, ms):
        end_ms = self.parts.clock.ms + ms
        while self.parts.clock.ms < end_ms:
            self.parts.sleep_ms(min(self.app.step(), end_ms - self.parts.clock.ms) or 1)

    def send(self, raw):
        self.parts.stream.inbox += raw
        self.run(120)
        return [answer for answer in self.parts.stream.answers() if answer[0] != "live"]

    def ask(self, name, *values):
        """The values of the answer; for a refusal ``("error", code, field)``."""
        self.sequence = (self.sequence + 1) & 0xFF
        ((answer, sequence, got),) = self.send(request(name, *values, sequence=self.sequence))
        assert sequence == self.sequence
        if answer == "error":
            assert got[1] == catalogue.message_number(name)
            return ("error", got[0], got[2])
        assert answer == name + "_answer"
        return got

    def start(self):
        """In silence a press begins a curve."""
        while self.app.sounder.playing != "none":
            self.run(100)
        self.parts.press(200)
        while not self.app.recorder.running:
            self.run(100)

    def end(self):
        """A long press ends it: its file is whole."""
        self.parts.press(2500)
        self.run(3000)
        assert not self.app.recorder.running

    def record(self, ms):
        """Record one curve by hand."""
        self.start()
        self.run(ms)
        self.end()

    def blocks(self, number=1):
        with open(f"{self.parts.store_root}/c{number:05d}", "rb") as file:
            return blocks_of(file.read())

    def rows(self):
        return codec.unpack_rows(catalogue.CURVE_ROW, self.ask("curves_list", 0)[2])


@pytest.fixture
def rig(tmp_path):
    return Rig(tmp_path)


def test_hello(rig):
    rig.run(5000)
    *facts, uptime_s, uptime_ms, converter, tc_type = rig.ask("hello")
    assert (converter, tc_type) == ("MAX31856", "K")
    version = [int(part) for part in __version__.split(".")]
    assert facts == [*version, 0x1234, "fake", 1]
    assert 5000 <= uptime_s * 1000 + uptime_ms <= 5200


@pytest.mark.parametrize("row", rows("refusals.txt"), ids=lambda row: f"{row[0]}: {row[3]}")
def test_what_is_refused_names_the_field_of_the_request(rig, row):
    name, payload, refusal, _ = row
    number = catalogue.message_number(name)
    ((answer, _, values),) = rig.send(raw_frame(number, 5, unhex(payload)))
    assert answer == "error"
    assert (values[0], values[2]) == refusal_of(refusal)
    assert values[1] == number


@pytest.mark.parametrize("unix_ms", [1000, 65535])
def test_a_clock_that_cannot_be(rig, unix_ms):
    assert rig.ask("clock_set", 1_800_000_000, unix_ms) == ("error", "bad_value", 1)


def test_the_clock_dates_the_curves_that_follow(rig):
    uptime_s, uptime_ms = rig.ask("clock_set", 1_800_000_000, 500)
    set_at_ms = uptime_s * 1000 + uptime_ms
    rig.run(4321)
    rig.record(3000)
    head = rig.blocks()[0][3]
    started_ms = head[2] * 1000 + head[3]
    assert head[4] * 1000 + head[5] == 1_800_000_000_500 + started_ms - set_at_ms


def test_profile_is_kept_read_back_and_survives(rig, tmp_path):
    assert rig.ask("profile_get") == [b""]
    assert rig.ask("profile_put", PROFILE) == [binascii.crc32(PROFILE)]
    assert rig.ask("profile_get") == [PROFILE]
    assert rig.app.settings.profile.couverture == "Generic milk"
    assert Rig(tmp_path).ask("profile_get") == [PROFILE]
    assert Rig(tmp_path).app.settings.profile.raw == PROFILE


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "bad_length"),
        (PROFILE[:-1], "bad_length"),
        (PROFILE[:41], "bad_length"),
        (profile_bytes(*[WORK] * 9), "bad_length"),
        (profile_bytes(WORK, times=(300, 180, 420)), "bad_value"),
        (profile_bytes(("work", "hold", 3000, 3000, 2900, 0, 0)), "bad_value"),
        (profile_bytes(("none", "hold", 3000, 2900, 3000, 0, 0)), "bad_choice"),
        (b"\xff" + PROFILE[1:], "bad_text"),
        (PROFILE[:32] + b"\x63" + PROFILE[33:], "bad_choice"),
    ],
)
def test_a_profile_that_makes_no_sense_is_refused_and_the_old_one_stays(rig, raw, code):
    rig.ask("profile_put", PROFILE)
    assert rig.ask("profile_put", raw) == ("error", code, 0)
    assert rig.ask("profile_get") == [PROFILE]
    assert rig.app.settings.profile.raw == PROFILE


def test_the_same_profile_again_changes_nothing(rig):
    rig.ask("profile_put", PROFILE)
    rig.start()
    rig.run(2000)
    assert rig.ask("profile_put", PROFILE) == [binascii.crc32(PROFILE)]
    assert rig.app.recorder.curve == 1


def test_another_profile_begins_another_curve(rig):
    rig.ask("profile_put", PROFILE)
    rig.start()
    rig.run(2000)
    rig.ask("profile_put", profile_bytes(WORK, never_above=4000))
    assert rig.app.recorder.curve == 2
    assert [row[:2] for row in rig.rows()] == [[1, "closed"], [2, "open"]]


def test_calibration_of_a_new_board_is_empty(rig):
    assert rig.ask("calibration_get", "current") == [b""]
    assert rig.ask("calibration_get", "previous") == [b""]


def test_curves_are_listed_read_in_pieces_and_erased_by_their_crc(rig):
    for _ in range(3):
        rig.record(70_000)
    rows = rig.rows()
    assert [row[:3] for row in rows] == [[number, "closed", 1] for number in (1, 2, 3)]
    number, _, _, size, crc, generation = rows[1]
    raw = b""
    while len(raw) < size:
        curve, offset, total, got_generation, data = rig.ask("curve_read", number, len(raw), 37)
        assert (curve, offset, total, got_generation) == (number, len(raw), size, generation)
        assert 0 < len(data) <= 37
        raw += data
    assert binascii.crc32(raw) == crc
    assert rig.ask("curve_read", number, size, 37)[4] == b""
    assert rig.ask("curve_read", number, size + 1, 37) == ("error", "bad_value", 1)
    assert rig.ask("curve_read", 9, 0, 37) == ("error", "no_such_curve", 0)
    # A chunk of more than the longest is cut, not refused.
    assert len(rig.ask("curve_read", number, 0, 65535)[4]) == min(size, catalogue.CURVE_CHUNK_MAX)
    for wrong in ((size + 1, crc), (size, crc ^ 1), (0, 0)):
        assert rig.ask("curve_erase", number, *wrong) == ("error", "not_the_same_curve", 2)
    assert rig.ask("curve_erase", number, size, crc) == [number]
    assert rig.ask("curve_erase", number, size, crc) == [number]  # the answer was lost
    assert [row[0] for row in rig.rows()] == [1, 3]


def test_an_open_curve_is_read_but_not_erased(rig):
    rig.start()
    rig.run(1000)
    ((number, state, _, size, crc, _),) = rig.rows()
    assert state == "open"
    assert len(rig.ask("curve_read", number, 0, 1024)[4]) == size
    assert rig.ask("curve_erase", number, size, crc) == ("error", "still_recording", 0)


def test_a_long_list_comes_in_parts(rig):
    for _ in range(60):
        write_curve(rig.app.store, 0)
    first, total, part = rig.ask("curves_list", 0)
    assert (first, total, len(part)) == (0, 60, 48 * 19)
    first, total, part = rig.ask("curves_list", 48)
    assert (first, total, len(part)) == (48, 60, 12 * 19)
    assert rig.ask("curves_list", 60) == [60, 60, b""]
    assert rig.ask("curves_list", 65535) == [65535, 60, b""]


def test_a_mark_repeated_with_its_token_is_noted_once(rig):
    rig.start()
    rig.run(1000)
    first = rig.ask("mark", 7, "note", 3)
    rig.run(2000)
    assert rig.ask("mark", 7, "note", 3) == first
    other = rig.ask("mark", 8, "note", 4)
    assert other[1:] != first[1:]
    rig.end()
    notes = [event for event in events_of(rig.blocks()) if event[1] == "mark"]
    assert [event[5] for event in notes] == [3, 4]


def test_a_repeated_dip_test_does_not_start_its_clock_anew(rig):
    """The first sound comes 180 s after the blade was dipped; a new blade has its own."""
    rig.ask("profile_put", PROFILE)

    def early_s():
        return [ms / 1000 for ms, name, *_ in rig.parts.alarms if name == "test_early"]

    dipped_s = rig.parts.clock.ms / 1000
    rig.ask("mark", 1, "dip_test", 0)
    rig.run(5000)
    rig.ask("mark", 1, "dip_test", 0)
    rig.run(180_000)
    assert early_s() == [pytest.approx(dipped_s + 180, abs=0.3)]
    again_s = rig.parts.clock.ms / 1000
    rig.ask("mark", 2, "dip_test", 0)
    rig.run(181_000)
    assert early_s()[1:] == [pytest.approx(again_s + 180, abs=0.3)]


@pytest.mark.parametrize("name", catalogue.SOUNDS)
def test_every_sound_by_name(rig, name):
    rig.run(3000)
    rig.parts.beeper.log.clear()
    assert rig.ask("sound", name) == []
    rig.run(3000)
    assert bool(rig.parts.beeper.log) == (name != "none")
    rig.ask("sound", "none")
    assert (rig.app.sounder.playing, rig.parts.beeper.hz) == ("none", 0)


@pytest.mark.parametrize("interval_ms", [0, 99, 60001, 65535])
def test_a_live_interval_that_cannot_be(rig, interval_ms):
    assert rig.ask("live_on", interval_ms) == ("error", "bad_value", 0)


def test_a_reading(rig):
    rig.run(5000)
    names = [field[0] for field in catalogue.READING]
    values = dict(zip(names, rig.ask("reading_get"), strict=True))
    assert values["age_ms"] <= 250
    # The converter's last bits move: 1/128 °C at the tip, 1/64 °C at the cold junction.
    assert values["indicated_centi_c"] == pytest.approx(2100, abs=1)
    assert values["uncorrected_128ths"] == pytest.approx(2100 * 1.28, abs=1)
    assert values["room_centi_c"] == pytest.approx(2100, abs=2)
    assert values["estimate_centi_c"] == catalogue.CENTI_NONE  # in the air
    assert values["rate_centi_c_per_min"] == catalogue.CENTI_NONE
    assert (values["place"], values["phase"], values["state"]) == ("air", "none", "idle")
    assert (values["faults"], values["curve"], values["sounding"]) == (0, 0, "none")


def test_a_store_that_fails_is_an_answer(rig, monkeypatch):
    def fails(*_):
        raise OSError(5)

    rig.record(2000)
    monkeypatch.setattr(rig.app.store, "read_into", fails)
    monkeypatch.setattr(rig.app.store, "save", fails)
    assert rig.ask("curve_read", 1, 0, 100) == ("error", "store_fault", 255)
    assert rig.ask("profile_put", PROFILE) == ("error", "store_fault", 255)
    assert rig.app.settings.profile is None
    assert rig.ask("hello")


def test_every_request_of_the_catalogue_has_its_answer(rig):
    for number, name, _ in catalogue.MESSAGES:
        if number < catalogue.ANSWER and number != catalogue.LIVE:
            assert hasattr(Requests, "on_" + name)
            assert catalogue.message_name(number | catalogue.ANSWER) == name + "_answer"
            # Whatever its payload, a request has one answer.
            assert len(rig.send(raw_frame(number, 1, bytes(3)))) == 1


def test_maintenance_answers_then_leaves_for_the_prompt(rig):
    rig.start()
    assert rig.ask("maintenance") == ("error", "still_recording", 255)
    rig.end()
    rig.parts.stream.inbox += request("maintenance", sequence=9)
    with pytest.raises(KeyboardInterrupt):
        rig.run(500)
    assert ("maintenance_answer", 9, []) in list(rig.parts.stream.answers())


def test_maintenance_is_understood_in_any_protocol_version(rig):
    number = catalogue.message_number("maintenance")
    rig.parts.stream.inbox += raw_frame(number, version=77)
    with pytest.raises(KeyboardInterrupt):
        rig.run(500)

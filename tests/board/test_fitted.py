"""Probe type, mains and converter: recognised, chosen, kept, in the curve; on the desk's chips."""

import pytest
import thermocouple_its90
from board_fakes import Parts, World, blocks_of
from hypothesis import given, settings
from hypothesis import strategies as st
from test_board_requests import Rig
from test_calibration_on_board import ICE, calibration

from snapcurve.boards.desk.chip import ChipModel
from snapcurve.boards.desk.chip_31855 import Max31855Model
from snapcurve.probe.app import App
from snapcurve.probe.thermometer.fitted import driver, recognised
from snapcurve.probe.thermometer.reading import Thermometer
from snapcurve.wire import catalogue, codec
from snapcurve.wire.catalogue import CONVERTERS, MAINS_HZ, TC_TYPES

# Half a step of the chip and its noise; of the coarse one also that of its cold junction.
WITHIN_C = {"MAX31856": 0.03, "MAX31855": 0.35}


class Still:
    def __init__(self, probe_c, cold_c, faults=0):
        self.all = (probe_c, cold_c, faults)

    def at(self, _ms):
        return self.all


def chip(converter, kind, world, now_ms=lambda: 0):
    if converter == "MAX31855":
        return Max31855Model(now_ms, world, kind)
    return ChipModel(now_ms, world, kind=kind)


def shown_c(converter, fitted, chosen, mains_hz, world):
    """What the board reads of a probe ``fitted`` that is taken for ``chosen``; and the chip."""
    now = [0]
    model = chip(converter, fitted, world, lambda: now[0])
    assert recognised(model, model.cs) == converter
    thermometer = Thermometer(driver(converter, model, model.cs, chosen, mains_hz))
    while now[0] < 2500:
        thermometer.step(now[0])
        now[0] += 50
    assert thermometer.faults == 0
    return thermometer.value_c(), model


@settings(deadline=None, max_examples=150)
@given(
    st.sampled_from(TC_TYPES),
    st.sampled_from(MAINS_HZ),
    st.sampled_from(CONVERTERS),
    st.floats(-5, 120),
    st.floats(5, 45),
)
def test_each_type_on_each_mains_with_each_converter(kind, mains_hz, converter, probe_c, cold_c):
    found_c, model = shown_c(converter, kind, kind, mains_hz, Still(probe_c, cold_c))
    assert found_c == pytest.approx(probe_c, abs=WITHIN_C[converter])
    if converter == "MAX31856":
        # Bit 0 of the first register: 1 is 50 Hz; the low half of the second: the type (data
        # sheet, register map).
        assert model._registers[0] & 1 == (mains_hz == 50)
        assert "BEJKNRST"[model._registers[1] & 15] == kind


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(TC_TYPES), st.sampled_from(TC_TYPES), st.floats(0, 110), st.floats(15, 35))
def test_a_probe_taken_for_another_shows_what_its_voltage_says(fitted, chosen, probe_c, cold_c):
    found_c, _ = shown_c("MAX31856", fitted, chosen, 50, Still(probe_c, cold_c))
    real, taken = thermocouple_its90.get(fitted), thermocouple_its90.get(chosen)
    mv = real.emf(probe_c) - real.emf(cold_c) + taken.emf(cold_c)
    assert found_c == pytest.approx(taken.temperature(mv), abs=0.06)


@pytest.mark.parametrize("level", [0x00, 0xFF, 0x5A])
def test_what_cannot_be_recognised_is_not(level):
    class Silent:
        def write_readinto(self, _out, into):
            into[:] = bytes([level]) * len(into)

        def cs(self, _level):
            pass

    bus = Silent()
    assert recognised(bus, bus.cs) == ""


def test_a_coarse_chip_with_an_open_probe_is_recognised_and_one_that_is_too_hot_is_not():
    assert recognised(*bus_of(Still(21, 21, 1))) == "MAX31855"
    assert recognised(*bus_of(Still(21, 126))) == ""


def bus_of(world):
    model = chip("MAX31855", "K", world)
    return model, model.cs


# --- on the whole board -------------------------------------------------------------------


def test_a_new_board_says_what_it_assumes(tmp_path):
    assert Rig(tmp_path).ask("probe_get") == ["K", 50, "MAX31856", 0, 1]


def test_a_board_that_was_told_keeps_it_without_power(tmp_path):
    rig = Rig(tmp_path, kind="T")
    assert rig.ask("probe_put", "T", 60, "MAX31855") == []
    for board in (rig, Rig(tmp_path, kind="T")):
        assert board.ask("probe_get") == ["T", 60, "MAX31856", 1, 1], "the chip knows better"
        assert board.ask("hello")[-2:] == ["MAX31856", "T"]
        board.run(2000)
        assert board.app.thermometer.value_c() == pytest.approx(21, abs=0.02)


@pytest.mark.parametrize("converter", CONVERTERS)
def test_the_curve_says_what_it_was_measured_with(tmp_path, converter):
    rig = Rig(tmp_path, converter=converter, kind="N")
    rig.ask("probe_put", "N", 60, converter)
    rig.record(3000)
    blocks = blocks_of((tmp_path / "c00001").read_bytes())
    assert [block[0] for block in blocks][:2] == ["head", "probe"]
    assert blocks[1][3] == ["N", 60, converter]


def test_while_recording_nothing_is_changed(tmp_path):
    rig = Rig(tmp_path)
    rig.app.batch.start(rig.parts.clock.ms, True)
    assert rig.ask("probe_put", "T", 50, "MAX31856") == ("error", "still_recording", 255)
    assert rig.ask("probe_get")[0] == "K"


def trouble(rig):
    return catalogue.names_of(catalogue.TROUBLES, rig.ask("reading_get")[-1])


@pytest.mark.parametrize("kind", ["T", None])
def test_a_calibration_of_another_type_is_kept_and_not_used(tmp_path, kind):
    """None: from before protocol version 6, so of the type the board was built for, K."""
    raw = calibration(ICE, kind=kind or "K")
    if kind is None:
        raw = raw[:13] + raw[14:]
    rig = Rig(tmp_path)
    rig.ask("probe_put", kind or "K", 50, "MAX31856")
    rig.ask("calibration_put", raw)
    assert rig.app.settings.calibrated_unix_s
    assert trouble(rig) == []
    rig.ask("probe_put", "N", 50, "MAX31856")
    for board in (rig, Rig(tmp_path)):
        assert trouble(board) == ["other_type"]
        assert board.app.thermometer.corrected is None
        assert board.app.settings.calibrated_unix_s == 0
        assert board.ask("calibration_get", "current") == [raw]
        assert "unreadable" not in [alarm for _, alarm, *_ in board.parts.alarms]
    rig.ask("probe_put", kind or "K", 50, "MAX31856")
    assert trouble(rig) == []
    assert rig.app.thermometer.corrected is not None


@pytest.mark.parametrize("raw", [b"", b"\x00\x32", b"\x00\x37\x00", b"\x09\x32\x00", b"abcd"])
def test_a_choice_that_cannot_be_read_is_told_until_it_is_made_again(tmp_path, raw):
    (tmp_path / "probe").write_bytes(raw)
    rig = Rig(tmp_path)
    assert trouble(rig) == ["probe"]
    assert [alarm for _, alarm, *_ in rig.parts.alarms] == ["unreadable"]
    rig.ask("probe_put", "K", 50, "MAX31856")
    assert trouble(rig) == []


@settings(deadline=None, max_examples=20)
@given(
    st.sampled_from(TC_TYPES),
    st.sampled_from(MAINS_HZ),
    st.sampled_from(CONVERTERS),
    st.booleans(),
)
def test_a_board_reads_what_is_fitted(tmp_path_factory, kind, mains_hz, converter, restart):
    folder = tmp_path_factory.mktemp("board")
    parts = Parts(folder, World([(0, 31.2)]), converter=converter, kind=kind)
    app = App(parts)
    app.start()
    app.settings.use_probe((kind, mains_hz, "MAX31856"))
    if restart:
        app = App(parts)
        app.start()
    while parts.clock.ms < 3000:
        parts.clock.ms += max(1, app.step())
    assert app.settings.probe == (kind, mains_hz, converter)
    assert app.thermometer.value_c() == pytest.approx(31.2, abs=WITHIN_C[converter])
    stored = (folder / "probe").read_bytes()
    assert codec.unpack(catalogue.PROBE, stored)[:2] == [kind, mains_hz]

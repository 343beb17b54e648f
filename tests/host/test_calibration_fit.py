"""Plateau detection, plausibility of a correction, and a whole calibration of a bad probe."""

import re
from math import exp, sqrt

import numpy as np
import pytest
import thermocouple_its90

from snapcurve.calibration.baths import GALLIUM_C, ICE_C, STEPS, why_not_credible
from snapcurve.calibration.boiling import boiling_point_c, standard_pressure_pa
from snapcurve.calibration.limits import CONVERTERS
from snapcurve.calibration.plateau import PlateauDetector, plateau_rules
from snapcurve.calibration.stored import Calibration, Point, calibration_point
from snapcurve.probe.thermometer.calibration import CorrectionCurve

FINE = CONVERTERS["MAX31856"]
COARSE = CONVERTERS["MAX31855"]


def detector(step: str = "ice", resolution_c: float = FINE.resolution_c) -> PlateauDetector:
    return PlateauDetector(plateau_rules(step, resolution_c))


def feed(plateau: PlateauDetector, reading, seconds: float, start_s: float = 0.0) -> None:
    """Four readings a second of a function of time."""
    for tick in range(int(seconds * 4) + 1):
        plateau.add(start_s + tick / 4, reading(start_s + tick / 4))


# --- plateau ---------------------------------------------------------------------------


def test_nothing_yet():
    plateau = detector()
    assert not plateau.judge().stable
    assert "first reading" in plateau.judge().reason


@pytest.mark.parametrize("step", STEPS)
def test_a_still_reading_is_stable_when_its_window_is_full(step):
    noise = np.random.default_rng(1).normal(0, 0.02, 1000)
    plateau = detector(step)
    window_s = plateau_rules(step, FINE.resolution_c).window_s
    feed(plateau, lambda t: 0.3 + noise[int(t * 4)], window_s - 1)
    early = plateau.judge()
    assert not early.stable
    assert early.reason == "steady so far, 1 s more"
    feed(plateau, lambda t: 0.3 + noise[int(t * 4)], 1, start_s=window_s - 0.75)
    judged = plateau.judge()
    assert judged.stable, judged.reason
    assert judged.mean_c == pytest.approx(0.3, abs=0.01)
    assert judged.std_c == pytest.approx(0.02, rel=0.2)
    assert judged.readings == pytest.approx(4 * window_s, abs=3)


def test_a_drift_is_named_with_its_direction():
    plateau = detector()
    feed(plateau, lambda t: 5 - 0.5 * t / 60, 90)
    assert plateau.judge().reason == "still falling by 0.5 °C a minute"
    assert plateau.judge().drift_c_per_min == pytest.approx(-0.5, abs=1e-6)
    plateau = detector()
    feed(plateau, lambda t: 5 + 2 * t / 60, 90)
    assert plateau.judge().reason == "still rising by 2 °C a minute"


def test_an_unsteady_reading_is_named():
    noise = np.random.default_rng(2).normal(0, 0.3, 1000)
    plateau = detector()
    feed(plateau, lambda t: noise[int(t * 4)], 90)
    judged = plateau.judge()
    assert not judged.stable
    assert judged.reason.startswith("unsteady by 0.3")
    # Boiling water is allowed more.
    plateau = detector("boil")
    feed(plateau, lambda t: 98 + noise[int(t * 4)] / 2, 90)
    assert plateau.judge().stable


@pytest.mark.parametrize("lag_s", [2.0, 5.0, 10.0])
def test_what_is_called_stable_has_really_arrived(lag_s):
    noise = np.random.default_rng(3).normal(0, 0.02, 4000)
    plateau = detector()
    for tick in range(2400):
        now_s = tick / 4
        plateau.add(now_s, 21 * exp(-now_s / lag_s) + noise[tick])
        judged = plateau.judge()
        if judged.stable:
            break
    assert judged.stable
    assert now_s < 60 + 12 * lag_s
    assert abs(judged.mean_c) < 0.03


def test_one_wild_reading_moves_nothing():
    plateau = detector()
    feed(plateau, lambda t: 900.0 if t == 30 else 0.25, 61)
    judged = plateau.judge()
    assert judged.stable
    assert judged.mean_c == pytest.approx(0.25)


def test_many_wild_readings_are_not_hidden():
    plateau = detector()
    feed(plateau, lambda t: 5.0 if t % 2 == 0 else 0.25, 61)
    assert not plateau.judge().stable


def test_a_fault_is_named_and_starts_anew():
    plateau = detector()
    feed(plateau, lambda t: 0.25, 61)
    plateau.add(61.25, None)
    assert "plugged in" in plateau.judge().reason
    plateau.add(61.5, 0.25)
    assert not plateau.judge().stable
    assert plateau.judge().readings == 1


@pytest.mark.parametrize("next_s", [70.0, 30.0])
def test_a_gap_or_a_clock_that_jumps_back_starts_anew(next_s):
    plateau = detector()
    feed(plateau, lambda t: 0.25, 61)
    plateau.add(next_s, 0.25)
    assert plateau.judge().readings == 1


def test_a_chip_with_steps_of_a_quarter_degree_may_hop():
    rng = np.random.default_rng(4)
    plateau = detector("ice", COARSE.resolution_c)
    feed(plateau, lambda t: 0.25 * rng.integers(0, 2), 61)
    judged = plateau.judge()
    assert judged.stable, judged.reason
    assert judged.mean_c == pytest.approx(0.125, abs=0.04)


def test_the_window_forgets_what_was_before():
    plateau = detector()
    feed(plateau, lambda t: 20.0, 61)
    feed(plateau, lambda t: 0.0, 120, start_s=61.25)
    assert plateau.judge().stable
    assert plateau.judge().mean_c == 0.0


# --- credible --------------------------------------------------------------------------


def verdict(step, true_c, indicated_c, *, kind="K", limit_c=0.0):
    return why_not_credible(
        step,
        true_c,
        indicated_c,
        converter=FINE,
        kind=kind,
        tolerance_class=1,
        cold_junction_c=24.0,
        reference_limit_c=limit_c,
    )


def test_what_class_and_converter_can_explain_is_accepted():
    # 1.5 °C class, 0.225 °C converter, 0.7 °C cold junction
    for off_c in (-2.4, -1.0, 0.0, 1.2, 2.4):
        assert verdict("ice", 0.0, off_c) is None
    assert verdict("ice", 0.0, 1.2, kind="T") is None
    assert verdict("ice", 0.0, 2.4, kind="T") is not None


def test_a_doubtful_reference_allows_more():
    assert verdict("boil", 99.97, 96.9) is not None
    assert verdict("boil", 99.97, 96.9, limit_c=0.9) is None


@pytest.mark.parametrize(
    ("step", "true_c", "indicated_c", "says"),
    [
        ("ice", 0.0, 4.0, "reads 4.0 °C above 0.0 °C.*too little ice"),
        ("ice", 0.0, -3.5, "below.*salt"),
        ("boil", 97.8, 104.0, "touching the pan"),
        ("boil", 99.97, 94.98, "weather reports give the pressure at sea level"),
        ("point", 31.0, 35.0, "side by side"),
        ("gallium", GALLIUM_C, 33.5, "melted through"),
        ("gallium", GALLIUM_C, 26.8, "not melting yet"),
    ],
)
def test_the_usual_cause_is_named(step, true_c, indicated_c, says):
    sentence = verdict(step, true_c, indicated_c)
    assert sentence is not None
    assert re.search(says, sentence), sentence


def shown_with_type(set_type, real_type, true_c, cold_c):
    """What a converter set to one type shows of a probe of another (independent package)."""
    setting, real = thermocouple_its90.get(set_type), thermocouple_its90.get(real_type)
    return setting.temperature(setting.emf(cold_c) + real.emf(true_c) - real.emf(cold_c))


@pytest.mark.parametrize(
    ("set_type", "real_type"), [("K", "J"), ("K", "N"), ("T", "E"), ("E", "K")]
)
@pytest.mark.parametrize(("step", "true_c"), [("ice", 0.0), ("boil", 97.8)])
@pytest.mark.parametrize("off_c", [-0.5, 0.0, 0.5])
def test_a_wrong_type_is_recognised(set_type, real_type, step, true_c, off_c):
    shown_c = shown_with_type(set_type, real_type, true_c, 24.0) + off_c
    sentence = verdict(step, true_c, shown_c, kind=set_type)
    assert re.search(
        f"type {set_type} set for a type [A-Z or]*{real_type}[A-Z or]* probe", sentence
    )


@pytest.mark.parametrize(("step", "true_c"), [("ice", 0.0), ("boil", 97.8)])
def test_swapped_leads_are_recognised(step, true_c):
    reference = thermocouple_its90.get("K")
    shown_c = reference.temperature(2 * reference.emf(24.0) - reference.emf(true_c))
    assert "leads swapped" in verdict(step, true_c, shown_c)


def test_shorted_leads_are_recognised():
    assert "leads touching" in verdict("boil", 97.8, 24.3)


def test_types_t_and_k_cannot_be_told_apart_in_ice():
    # Their voltages from 24 °C down to 0 °C differ by 8 µV, 0.2 °C: nothing to complain of.
    assert verdict("ice", 0.0, shown_with_type("K", "T", 0.0, 24.0)) is None


# --- the point -------------------------------------------------------------------------


def with_point(pairs, new):
    """Pairs of indicated temperature and correction with one more."""

    def point(pair):
        return Point(*pair, "ice", 0, 50, 20, 100, 2300)

    before = Calibration(tuple(point(pair) for pair in pairs))
    return before.with_point(point(new)).pairs


def test_point_and_its_place_among_others():
    assert calibration_point(1.234, 0.0) == (123, -123)
    assert calibration_point(97.5, 97.777) == (9750, 28)
    points = with_point([], (123, -123))
    points = with_point(points, (9750, 28))
    assert points == [(123, -123), (9750, 28)]
    assert with_point(points, (118, -118)) == [(118, -118), (9750, 28)]


def test_points_that_contradict_each_other_are_refused_with_advice():
    with pytest.raises(ValueError, match=r"does not fit the earlier ones.*Clear the calibration"):
        with_point([(3100, -200)], (3450, 200))
    six = [(n * 1000, 0) for n in range(6)]
    with pytest.raises(ValueError, match="1 to 6 points"):
        with_point(six, (9000, 0))


@pytest.mark.parametrize("seed", range(5))
def test_a_probe_off_by_offset_and_slope_is_right_after_ice_and_boiling(seed):
    """+1.2 °C and 0.4 %, calibrated in ice and at 650 m, true within 0.05 °C at 25 to 50 °C."""
    rng = np.random.default_rng(seed)

    def shown_c(true_c):
        return 1.2 + 1.004 * true_c

    points = []
    for step, true_c in (("ice", ICE_C), ("boil", boiling_point_c(standard_pressure_pa(650)))):
        plateau = detector(step)
        for tick in range(1200):
            now_s = tick / 4
            here_c = true_c + (21 - true_c) * exp(-now_s / 5)
            noise_c = rng.normal(0, 0.03)
            plateau.add(now_s, round((shown_c(here_c) + noise_c) * 128) / 128)
            if plateau.judge().stable:
                break
        judged = plateau.judge()
        assert judged.stable, judged.reason
        assert verdict(step, true_c, judged.mean_c) is None
        points = with_point(points, calibration_point(judged.mean_c, true_c))

    curve = CorrectionCurve(points)
    for true_c in np.arange(25, 50.1, 0.5):
        corrected_c = curve.corrected_128ths(round(shown_c(true_c) * 128)) / 128
        assert corrected_c == pytest.approx(true_c, abs=0.05)
    readings = [
        curve.corrected_128ths(round((shown_c(31.0) + noise) * 128)) / 128
        for noise in rng.normal(0, 0.03, 400)
    ]
    assert np.mean(readings) == pytest.approx(31.0, abs=0.05)
    assert np.std(readings) < 0.03 * sqrt(2)

"""The inflection of cooling curves: place, slope, uncertainty, and what is no inflection."""

import csv
from pathlib import Path

import numpy as np
import pytest
from cup_curves import drawn, made
from scipy.signal import savgol_filter

from snapcurve.analysis.cooling_curve import find_inflection
from snapcurve.analysis.local_polynomial import smooth
from snapcurve.errors import UnusableValueError
from snapcurve.simulation.cup_simulator import CupConditions

CURVES = 200
TAPES = Path(__file__).parents[1] / "system" / "data"


@pytest.mark.parametrize("half_width", [3, 12, 40])
def test_that_the_smoothing_is_that_of_savitzky_and_golay(half_width):
    """Oracle: scipy.signal.savgol_filter, polyorder 3."""
    values = np.random.default_rng(1).normal(20, 5, 300)
    ours = smooth(values, half_width)
    inside = slice(half_width, -half_width)
    width = 2 * half_width + 1
    assert ours.values[inside] == pytest.approx(savgol_filter(values, width, 3)[inside])
    slopes = savgol_filter(values, width, 3, deriv=1)[inside]
    assert ours.slopes[inside] == pytest.approx(slopes, abs=1e-9)
    assert np.isnan(ours.slopes[: half_width - 1]).all()


def test_that_missing_values_are_fitted_around_as_polyfit_does():
    """Oracle: numpy.polyfit on the values that are there."""
    values = np.random.default_rng(2).normal(20, 5, 41)
    values[[3, 4, 5, 20, 33]] = np.nan
    ours = smooth(values, 20)
    u = np.arange(-20, 21)
    there = ~np.isnan(values)
    fit = np.polyfit(u[there], values[there], 3)
    assert ours.values[20] == pytest.approx(fit[3])
    assert ours.slopes[20] == pytest.approx(fit[2])


def test_that_the_gain_is_the_scatter_of_slopes():
    chance = np.random.default_rng(3)
    slopes = [smooth(chance.normal(0, 1, 25), 12).slopes[12] for _ in range(4000)]
    gain = smooth(np.zeros(25), 12).gain[12]
    assert np.std(slopes) == pytest.approx(gain, rel=0.05)


def test_two_hundred_curves_against_the_truth():
    # One test, so that two workers do not both work out all of them.
    found = []
    for seed in range(CURVES):
        curve = made(drawn(seed), seed)
        found.append((curve, find_inflection(curve.times_s, curve.values_c)))
    slopes_are_within_ten_percent_of_the_truth(found)
    the_sign_is_never_wrong_beyond_a_fifth_of_a_degree_a_minute(found)
    the_uncertainty_covers_about_what_it_says(found)
    the_place_is_right(found)


def slopes_are_within_ten_percent_of_the_truth(found):
    """Noise 0.03 °C; close to level, where a part of nothing is nothing, 0.1 °C/min."""
    off = {
        index: (curve.slope_c_per_min, answer.slope_c_per_min)
        for index, (curve, answer) in enumerate(found)
        if abs(answer.slope_c_per_min - curve.slope_c_per_min)
        > max(0.1 * abs(curve.slope_c_per_min), 0.1)
    }
    steep = [
        abs(answer.slope_c_per_min / curve.slope_c_per_min - 1)
        for curve, answer in found
        if abs(curve.slope_c_per_min) > 0.5
    ]
    root = np.sqrt(np.mean([(a.slope_c_per_min - c.slope_c_per_min) ** 2 for c, a in found]))
    print(
        f"{len(found)} curves, {len(steep)} steeper than 0.5: worst {max(steep):.1%}, "
        f"95 of 100 within {np.quantile(steep, 0.95):.1%}; rms of all {root:.3f} °C/min"
    )
    assert len(steep) > CURVES / 3
    assert off == {}


def the_sign_is_never_wrong_beyond_a_fifth_of_a_degree_a_minute(found):
    beyond = [(c, a) for c, a in found if abs(c.slope_c_per_min) > 0.2]
    assert sum(c.slope_c_per_min < 0 for c, _ in beyond) > 50
    assert sum(c.slope_c_per_min > 0 for c, _ in beyond) > 50
    assert all(c.slope_c_per_min * a.slope_c_per_min > 0 for c, a in beyond)


def the_uncertainty_covers_about_what_it_says(found):
    """k = 2 stands for 95 of 100."""
    covered = [
        abs(a.slope_c_per_min - c.slope_c_per_min) <= a.slope_uncertainty_c_per_min
        for c, a in found
    ]
    assert 0.90 <= np.mean(covered) <= 0.995


def test_that_readings_which_know_of_each_other_do_not_look_surer_than_they_are():
    """The board passes on medians of three, so neighbours are alike."""
    off, covered = [], []
    for seed in range(80):
        curve = made(drawn(seed), seed)
        seen = np.array(curve.values_c)
        medians = np.median(np.stack([seen[:-2], seen[1:-1], seen[2:]]), axis=0)
        answer = find_inflection(curve.times_s[1:-1], [float(value) for value in medians])
        off.append(abs(answer.slope_c_per_min - curve.slope_c_per_min))
        covered.append(off[-1] <= answer.slope_uncertainty_c_per_min)
    assert np.mean(covered) >= 0.9
    assert max(off) < 0.25


def the_place_is_right(found):
    assert max(abs(a.at_s - c.at_s) for c, a in found) < 15
    assert np.median([a.noise_c for _, a in found]) == pytest.approx(0.03, rel=0.05)


@pytest.mark.parametrize("seed", range(20))
def test_that_what_never_crystallises_has_no_inflection(seed):
    curve = made(CupConditions(growth_per_s_k=0.0, water_w_per_k=0.05 + 0.003 * seed), seed)
    with pytest.raises(UnusableValueError, match="no inflection"):
        find_inflection(curve.times_s, curve.values_c)


@pytest.mark.parametrize("name", ["water_cooling_still", "water_cooling_fan", "cup_a", "cup_b"])
def test_that_water_on_its_way_down_has_none(name):
    """Measured by others (tests/system/data/README.md)."""
    with (TAPES / f"{name}.csv").open() as file:
        rows = list(csv.reader(file))[1:]
    times = [float(row[0]) for row in rows]
    values = [float(row[1]) if row[1] else None for row in rows]
    with pytest.raises(UnusableValueError):
        find_inflection(times, values)


def test_gaps_wild_ends_and_one_reading_a_second():
    curve = made(drawn(7), 7)
    truth = curve.slope_c_per_min
    gaps = [
        None if 40 < t < 46 or i % 17 == 0 else v
        for i, (t, v) in enumerate(zip(curve.times_s, curve.values_c, strict=True))
    ]
    # Taken out at the end, it runs back to the room.
    after = [min(21.0, curve.values_c[-1] + 0.3 * n) for n in range(200)]
    times = [n * 0.25 for n in range(len(gaps) + len(after))]
    answer = find_inflection(times, gaps + after)
    assert answer.slope_c_per_min == pytest.approx(truth, abs=max(0.1, 0.1 * abs(truth)))
    assert answer.end_s <= curve.times_s[-1] + 0.3
    slow = made(drawn(7), 7, step_s=1.0)
    answer = find_inflection(slow.times_s, slow.values_c)
    assert answer.slope_c_per_min == pytest.approx(truth, abs=0.2)


def test_a_record_that_ends_on_the_plateau_and_one_without_any_fall():
    curve = made(CupConditions(crystals_share=0.05), 1)
    until = round((curve.at_s + 5) / 0.25)
    with pytest.raises(UnusableValueError, match="leave the cup"):
        find_inflection(curve.times_s[:until], curve.values_c[:until])
    with pytest.raises(UnusableValueError, match="no cooling curve"):
        find_inflection([float(n) for n in range(100)], [31.0] * 100)
    with pytest.raises(UnusableValueError):
        find_inflection([0.0, 1.0], [31.0, None])
    with pytest.raises(UnusableValueError):
        find_inflection([float(n) for n in range(100)], [None] * 100)
    with pytest.raises(UnusableValueError, match="forward"):
        find_inflection([0.0] * 100, [31.0] * 100)

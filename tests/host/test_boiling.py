"""Boiling point against iapws, CoolProp and ambiance, which share no code with ours."""

import math

import CoolProp.CoolProp
import iapws
import pytest
from ambiance import Atmosphere

from snapcurve.calibration import boiling


@pytest.mark.parametrize(
    ("megapascal", "kelvin"),
    # IAPWS R7-97, check values of the region 4 backward equation
    [(0.1, 372.755919), (1, 453.035632), (10, 584.149488)],
)
def test_published_check_values(megapascal, kelvin):
    assert boiling.saturation_temperature_c(megapascal * 1e6) + 273.15 == pytest.approx(
        kelvin, abs=5e-7
    )


@pytest.mark.parametrize(
    ("pascal", "kelvin"),
    # IAPWS R7-97, check values of the saturation pressure, read backwards
    [(3536.58941, 300), (2.63889776e6, 500), (12.3443146e6, 600)],
)
def test_published_saturation_pressures(pascal, kelvin):
    assert boiling.saturation_temperature_c(pascal) + 273.15 == pytest.approx(kelvin, abs=2e-6)


def test_boiling_point_by_pressure_agrees_with_two_packages():
    for pascal in range(70_000, 103_001, 1000):
        celsius = boiling.boiling_point_c(pascal)
        if97 = iapws.IAPWS97(P=pascal / 1e6, x=0).T - 273.15
        wagner_pruss = CoolProp.CoolProp.PropsSI("T", "P", pascal, "Q", 0, "Water") - 273.15
        assert celsius == pytest.approx(if97, abs=1e-6)
        assert celsius == pytest.approx(wagner_pruss, abs=0.001)


def test_pressure_by_altitude_agrees_with_ambiance():
    for metres in range(0, 4001, 25):
        ours = boiling.standard_pressure_pa(metres)
        assert ours == pytest.approx(float(Atmosphere(metres).pressure[0]), abs=1)


def test_boiling_point_by_altitude_agrees_with_both_packages():
    for metres in range(0, 4001, 100):
        theirs = CoolProp.CoolProp.PropsSI(
            "T", "P", float(Atmosphere(metres).pressure[0]), "Q", 0, "Water"
        )
        ours = boiling.boiling_point_c(boiling.standard_pressure_pa(metres))
        assert ours == pytest.approx(theirs - 273.15, abs=0.001)


@pytest.mark.parametrize(
    ("metres", "pascal", "celsius"),
    [  # ambiance 1.3.1; iapws 1.5.5
        (0, 101325.00, 99.9743),
        (250, 98357.65, 99.1437),
        (500, 95461.29, 98.3126),
        (1000, 89876.28, 96.6493),
        (1500, 84559.67, 94.9842),
        (2000, 79501.41, 93.3172),
        (2500, 74691.74, 91.6482),
        (3000, 70121.14, 89.9770),
        (4000, 61660.42, 86.6277),
    ],
)
def test_printed_altitudes(metres, pascal, celsius):
    geometric = boiling.standard_pressure_pa(metres)
    assert geometric == pytest.approx(pascal, abs=0.05)
    assert boiling.boiling_point_c(geometric) == pytest.approx(celsius, abs=1e-4)


@pytest.mark.parametrize(
    ("kilopascal", "celsius"),
    [  # iapws 1.5.5
        (103, 100.4343),
        (102, 100.1604),
        (101.325, 99.9743),
        (100, 99.6059),
        (98, 99.0421),
        (95, 98.1783),
        (90, 96.6870),
        (85, 95.1253),
        (80, 93.4854),
        (75, 91.7578),
        (70, 89.9315),
    ],
)
def test_printed_pressures(kilopascal, celsius):
    assert boiling.boiling_point_c(kilopascal * 1000) == pytest.approx(celsius, abs=1e-4)


def test_slope_at_one_atmosphere():
    # 0.2765 K/kPa, the difference quotient of iapws
    per_pascal = boiling.boiling_slope_c_per_pa(101325)
    assert per_pascal * 1000 == pytest.approx(0.2765, abs=1e-4)


def test_weather_reports_pressure_is_recognised_and_reduced():
    # 1013 hPa reported for a place at 1500 m claims 99.97 °C where 94.98 °C holds.
    assert boiling.sea_level_pressure_suspected(101_300, 1500)
    assert boiling.sea_level_pressure_suspected(102_500, 600)
    assert not boiling.sea_level_pressure_suspected(84_560, 1500)
    assert not boiling.sea_level_pressure_suspected(101_300, 20)
    assert not boiling.sea_level_pressure_suspected(97_700, 300)
    reduced = boiling.station_pressure_pa(101_325, 1500)
    assert boiling.boiling_point_c(reduced) == pytest.approx(94.9842, abs=1e-4)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: boiling.boiling_point_c(1013), "one hPa is one mbar"),
        (lambda: boiling.boiling_point_c(120_000), "500 to 1085 hPa"),
        (lambda: boiling.standard_pressure_pa(8000), "metres above sea level"),
        (lambda: boiling.standard_pressure_pa(-500), "metres above sea level"),
        (
            lambda: boiling.station_pressure_pa(84_560, 1500),
            "No weather brings 845.6 hPa",
        ),
    ],
)
def test_out_of_range_input_gets_a_sentence(call, says):
    with pytest.raises(ValueError, match=says):
        call()


@pytest.mark.parametrize(
    ("altitude_m", "outside_c", "off_pa"),
    # Hypsometric equation, the column's mean temperature, against the ISO 2533 reduction.
    [(1000, -20, 1190), (2000, 30, 1760)],
)
def test_a_weather_report_is_worth_less_the_higher_the_bench(altitude_m, outside_c, off_pa):
    column_k = 273.15 + outside_c + 0.0065 * altitude_m / 2
    truly_pa = 101_325 * math.exp(-9.80665 * altitude_m / (287.053 * column_k))
    reduced_pa = boiling.station_pressure_pa(101_325, altitude_m)
    assert abs(reduced_pa - truly_pa) == pytest.approx(off_pa, rel=0.02)
    assert off_pa < boiling.column_limit_pa(reduced_pa, altitude_m) < 1.5 * off_pa
    assert boiling.column_limit_pa(101_325, 0) == 0

"""With °F, ounces and a decimal comma no sentence of plan, rescue or calibration has others."""

import re
from dataclasses import replace

import pytest

from snapcurve.advice.batch_plan import batch_for_shells_g, plan
from snapcurve.advice.bench_loss import fit_loss
from snapcurve.advice.correction import OBSERVATIONS, correct
from snapcurve.advice.correction_words import correction_lines
from snapcurve.advice.inputs import METHODS, PlanRequest, WorkingTemperatures, usual_bowl
from snapcurve.advice.plan_words import plan_lines
from snapcurve.advice.situation import Situation
from snapcurve.calibration import baths
from snapcurve.calibration.limits import CONVERTERS, immersion_hint, tolerance_c
from snapcurve.calibration.plateau import PlateauDetector, plateau_rules
from snapcurve.calibration.response import fit_response
from snapcurve.calibration.stored import Calibration, Point
from snapcurve.calibration.trust import trust
from snapcurve.errors import SnapcurveError
from snapcurve.heat.enthalpy import couverture_thermal
from snapcurve.heat.transfer import (
    power_into_chocolate_w,
    water_test_notes,
    water_test_power_w,
)
from snapcurve.shown.units import PLAIN, Style

AMERICAN = Style(fahrenheit=True, decimal_comma=True, ounces=True)
FOREIGN = re.compile(r"°C|\d\.\d|\d k?g\b|/\(?k?g\b")
DARK = WorkingTemperatures(45.0, 31.0, 32.0, 50.0, cool_c=28.0)
THERMAL = couverture_thermal("dark")
BOWL = usual_bowl("plastic", 1000.0)


def assert_own(*texts: str) -> None:
    for text in texts:
        assert text
        assert FOREIGN.findall(text) == [], text


def request(style: Style = AMERICAN, **changes: object) -> PlanRequest:
    values = {
        "temperatures": DARK, "thermal": THERMAL, "mass_g": 1200.0, "room_c": 25.5,
        "bowl": BOWL, "microwave_w": 800.0, "style": style,
    }  # fmt: skip
    return PlanRequest(**{**values, **changes})  # type: ignore[arg-type]


def situation(style: Style = AMERICAN, **changes: object) -> Situation:
    values = {
        "temperatures": DARK, "thermal": THERMAL, "mass_g": 1200.0, "room_c": 20.5,
        "bowl": BOWL, "temperature_c": 31.5, "style": style,
    }  # fmt: skip
    return Situation(**{**values, **changes})  # type: ignore[arg-type]


def test_that_other_units_are_seen() -> None:
    made = plan(request(PLAIN))
    assert len(FOREIGN.findall(" ".join([*made.cautions, *made.assumptions]))) > 5


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("mass_g", [80.0, 1200.0, 20_000.0])
@pytest.mark.parametrize("loss_w_per_k", [None, 1.5])
def test_a_plan(method: str, mass_g: float, loss_w_per_k: float | None) -> None:
    asked = request(method=method, mass_g=mass_g, loss_w_per_k=loss_w_per_k, used_g=0.9 * mass_g)
    try:
        made = plan(asked)
    except SnapcurveError as error:
        assert_own(str(error))
        return
    lines = plan_lines("Dark", asked, made, "room.", ())
    assert_own(*[line for line in lines if line])
    scarce = request(method=method, mass_g=mass_g, seed_available_g=0.1 * mass_g)
    assert_own(*plan(scarce).warnings)


@pytest.mark.parametrize("observation", OBSERVATIONS)
@pytest.mark.parametrize("reading_c", [24.5, 29.5, 31.2, 31.9, 34.5, 51.5])
@pytest.mark.parametrize("tried", [0, 3])
def test_a_correction(observation: str, reading_c: float, tried: int) -> None:
    bowl = situation(temperature_c=reading_c, corrections_done=tried)
    try:
        answer = correct(bowl, observation)
    except SnapcurveError as error:
        assert_own(str(error))
        return
    lines = correction_lines("Dark", bowl, answer, ())
    assert_own(*[line for line in lines if line])


REFUSALS = {
    "mass": lambda style: request(style, mass_g=5.5),
    "room": lambda style: request(style, room_c=34.5),
    "no room": lambda style: request(style, room_c=-273.0),
    "stock": lambda style: request(style, stock_c=34.5),
    "loss": lambda style: request(style, loss_w_per_k=-1.5),
    "used": lambda style: request(style, used_g=1500.5),
    "watts": lambda style: request(style, microwave_w=0.5),
    "cool": lambda style: request(
        style, method="cold-bath", temperatures=replace(DARK, cool_c=None)
    ),
    "hours": lambda style: plan(request(style, loss_w_per_k=1e-6, seed_available_g=50.5)),
    "divide": lambda style: plan(
        request(style, microwave_w=50.5, mass_g=20_000.5, loss_w_per_k=20.5)
    ),
    "reading": lambda style: situation(style, temperature_c=200.5),
    "hot air": lambda style: situation(style, hot_air_w=0.5),
    "crystals": lambda style: situation(style, crystal_share=0.7),
    "water bath": lambda style: correct(
        situation(style, mass_g=50_000, temperature_c=28.5, hot_air_w=20.5), "too cool"
    ),
    "window": lambda style: WorkingTemperatures(45.5, 32.5, 31.5, 50.5, style=style),
    "limit": lambda style: WorkingTemperatures(55.5, 31.5, 32.5, 50.5, style=style),
    "aim": lambda style: WorkingTemperatures(45.5, 31.5, 32.5, 50.5, aim_c=30.5, style=style),
    "low point": lambda style: WorkingTemperatures(45.5, 31.5, 32.5, 50.5, 33.5, style=style),
    "bowl": lambda style: usual_bowl("glass", 1000.0, 80_000.5, style),
    "shells": lambda style: batch_for_shells_g(10, 9.0, 1.5, style),
    "water": lambda style: water_test_power_w(1000, 20.5, 96.5, 50.5, style=style),
    "power": lambda style: power_into_chocolate_w(5000.5, style),
    "cold curve": lambda style: fit_loss(range(9), [20.5] * 9, 21.5, 2000.0, style),
    "reference": lambda style: baths.compared(200.5, 0.3, style),
    "reference limit": lambda style: baths.compared(31.5, 3.5, style),
    "pressure": lambda style: baths.boiling_water(101.5, None, None, style),
    "sea level": lambda style: baths.boiling_water(1013.5, 1500.5, None, style),
    "no sea level": lambda style: baths.boiling_water(None, 500.5, 101.5, style),
    "altitude": lambda style: baths.boiling_water(None, 9000.5, None, style),
    "tolerance": lambda style: tolerance_c("K", 3, 97.5, style),
    "small step": lambda style: fit_response(range(40), [20.5 + i / 20 for i in range(40)], style),
    "board": lambda style: trust(
        "MAX31856", "K", Calibration(), 31.5, 0.0, room_c=-200.5, style=style
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSALS)
def test_a_refusal(name: str) -> None:
    with pytest.raises(SnapcurveError) as own:
        REFUSALS[name](AMERICAN)
    assert_own(str(own.value))
    with pytest.raises(SnapcurveError) as plain:
        REFUSALS[name](PLAIN)
    for said in (str(own.value), str(plain.value)):
        assert said.endswith(".")
        assert said[0].isupper() or said[0].isdigit() or said.startswith("--")


@pytest.mark.parametrize("action", baths.WITH_INSTRUCTIONS)
def test_what_to_do_in_a_bath(action: str) -> None:
    assert_own(*baths.instructions(action, AMERICAN))


def test_what_a_calibration_says() -> None:
    assert_own(*water_test_notes(AMERICAN))
    assert_own(immersion_hint(3.5, AMERICAN) or "")
    for reference in (
        *baths.FIXED_POINTS.values(),
        baths.compared(31.5, 0.3, AMERICAN),
        baths.boiling_water(980.5, None, None, AMERICAN),
        baths.boiling_water(None, 650.5, None, AMERICAN),
        baths.boiling_water(None, 650.5, 1013.5, AMERICAN),
    ):
        assert_own(reference.words(AMERICAN))
    for step in baths.STEPS:
        for off_c in (-12.5, 12.5):
            said = baths.why_not_credible(
                step, 30.5, 30.5 + off_c, converter=CONVERTERS["MAX31856"], kind="K",
                tolerance_class=1, cold_junction_c=21.5, style=AMERICAN,
            )  # fmt: skip
            assert_own(said or "")
    points = (Point(3050, -50, "point", 1, 300, 20, 9, 2150),)
    found = trust("MAX31856", "K", Calibration(points), 31.5, 2e9, room_c=21.5, style=AMERICAN)
    assert_own(found.words(AMERICAN), *(part.name for part in found.budget.components))


def test_what_a_bath_says_meanwhile() -> None:
    for slope, noise_c in ((0.5 / 60, 0.0), (0.0, 1.5)):
        detector = PlateauDetector(plateau_rules("ice", 1 / 128), AMERICAN)
        for tick in range(400):
            detector.add(tick / 4, slope * tick / 4 + noise_c * (-1) ** (tick // 3))
        assert_own(detector.judge().reason)

"""What moves an answer most: the same as working it out anew by hand with each assumption."""

from dataclasses import replace

import pytest

from snapcurve.advice.batch_plan import plan
from snapcurve.advice.correction import correct
from snapcurve.advice.correction_words import correction_lines, correction_moved
from snapcurve.advice.inputs import METHODS, PlanRequest, temperatures_of, thermal_of, usual_bowl
from snapcurve.advice.plan_words import number_of, plan_lines, plan_moved
from snapcurve.advice.situation import Situation
from snapcurve.couvertures import load, user_folder

MILK = load("milk", user_folder())
BENCH = {
    "temperatures": temperatures_of(MILK),
    "thermal": thermal_of(MILK),
    "mass_g": 1200.0,
    "room_c": 21.0,
    "bowl": usual_bowl("plastic", 1200.0),
}


def test_by_how_much_the_loss_moves_the_seed():
    asked = PlanRequest(**BENCH, microwave_w=700.0)
    number, (first, *_) = plan_moved(asked, plan(asked))
    assert number.of == "the seed"
    assert "loss to the room" in first.assumption
    usual = asked.loss_used_w_per_k
    seeds = [plan(replace(asked, loss_w_per_k=part * usual)).seed_g for part in (0.6, 1.5)]
    assert first.by == max(abs(seed_g - plan(asked).seed_g) for seed_g in seeds)
    assert first.unit == "g"


def test_what_was_measured_is_no_assumption_any_more():
    asked = PlanRequest(**BENCH, loss_w_per_k=1.1)
    assert not any("loss" in one.assumption for one in plan_moved(asked, plan(asked))[1])
    bowl = Situation(**BENCH, temperature_c=29.0, hot_air_w=220.0)
    moved = correction_moved(bowl, correct(bowl, "too cool"))
    assert not any("hot air" in one.assumption for one in moved)


@pytest.mark.parametrize("method", METHODS)
def test_one_line_under_every_plan(method):
    asked = PlanRequest(**BENCH, method=method)
    made = plan(asked)
    assert number_of(made).value > 0
    lines = plan_lines("Milk", asked, made, "room.", None)
    assert sum(line.startswith("Rests on") for line in lines) == 1
    assert lines[0].startswith("Weigh")
    assert not any("Assumed" in line for line in lines)
    assert any("Assumed" in line for line in plan_lines("Milk", asked, made, "room.", ()))


@pytest.mark.parametrize(
    ("reads_c", "observation", "of"),
    [
        (31.0, "finger mark", "the hot air by"),
        (33.5, "too warm", "the pieces by"),
        (32.3, "too warm", "the stirring by"),
        (29.0, "too cool", "the hot air by"),
        (55.0, "finger mark", None),
        (31.0, "seized", None),
    ],
)
def test_one_line_under_every_correction_that_comes_to_a_number(reads_c, observation, of):
    bowl = Situation(**BENCH, temperature_c=reads_c)
    answer = correct(bowl, observation)
    lines = correction_lines("Milk", bowl, answer, None)
    assert lines[0].startswith("Do")
    text = " ".join(line.strip() for line in lines)
    assert ("Rests on" in text) == (of is not None)
    assert of is None or of in text

"""How soon after the probe went in its value can be used, and how early "near" sounds."""

import math
import random

from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.probe.tempering import profile as profiles
from snapcurve.probe.tempering.engine import Engine
from snapcurve.probe.tempering.estimate import _PERIOD_S
from tests.board.ear import Ear

CLOSE_C = 0.3
LOOK_S = 25.0
STEADY_C = 0.3  # the chocolate itself moves no more than this while the probe settles


def settled_s(
    seen: list[tuple[float, float, int]],
    truth: list[tuple[float, float, float, bool]],
    room_c: float,
) -> list[tuple[float, float]]:
    """For each insertion into steady chocolate: seconds until the estimate, and until the raw
    probe, stay within CLOSE_C. The estimate is the board's own code on the same readings.
    """
    found = []
    ear = Ear(room_c)
    estimate = ear.estimate
    inside_before = False
    since_s = 0.0
    errors: list[tuple[float, float, float, float]] = []
    for (seconds, probe_c, fault), (_, liquid_c, _, inside) in zip(seen, truth, strict=False):
        ear.hears(round(seconds * 1000), probe_c, fault)
        if inside and not inside_before:
            since_s, errors = seconds, []
        if inside:
            trusted = estimate.place in ("entering", "chocolate")
            errors.append(
                (
                    seconds - since_s,
                    abs(estimate.chocolate_c - liquid_c) if trusted else 99.0,
                    abs(probe_c - liquid_c),
                    liquid_c,
                )
            )
            if seconds - since_s >= LOOK_S and errors:
                found += _judge(errors)
                errors = []
                since_s = float("inf")  # this insertion has been judged
        inside_before = inside
    return found


def _judge(errors: list[tuple[float, float, float, float]]) -> list[tuple[float, float]]:
    liquid = [row[3] for row in errors]
    if errors[0][2] < 2.0 or max(liquid) - min(liquid) > STEADY_C:
        return []
    result = []
    for column in (1, 2):
        late = [row[0] for row in errors if row[column] > CLOSE_C]
        result.append(late[-1] if late else 0.0)
    return [(result[0], result[1])]


def steady_lead_s(number: int) -> float | None:
    """Seconds from "near" to the true crossing in one steady approach; None if it was silent.

    A ramp of 0.5 to 3.6 °C/min, up to the melting or down to the working temperature, felt by
    a probe of unknown lag with noise, through the board's own estimate and engine.
    """
    chance = random.Random(f"lead {number}")
    milk = load("milk", user_folder())
    engine = Engine()
    rising = number % 2 == 0
    engine.start(profiles.parse(compile_profile(milk, "seeding" if rising else "hold")))
    rate = chance.uniform(0.5, 3.6) / 60 * (1 if rising else -1)
    target_c = milk.melt_c if rising else milk.work_high_c
    lag_s, noise_c = chance.uniform(2.0, 8.0), chance.uniform(0.02, 0.07)
    start_c = target_c - rate * chance.uniform(150, 300)
    probe_c, ear, alarms = 21.0, Ear(21.0), []
    estimate = ear.estimate
    step = 0
    while True:
        truth_c = start_c + rate * step * _PERIOD_S
        probe_c += (truth_c - probe_c) * (1 - math.exp(-_PERIOD_S / lag_s))
        now_ms = round(step * _PERIOD_S * 1000)
        if not ear.hears(now_ms, probe_c + chance.gauss(0, noise_c)):
            step += 1
            continue
        if estimate.trusted and not estimate.slipping:
            engine.step(
                now_ms,
                estimate.chocolate_c,
                estimate.rate_c_per_s,
                alarms,
                estimate.spread_c,
                estimate.patch_c,
                estimate.immersed_s,
            )
        elif not estimate.trusted:
            engine.pause()
        to_go_s = (target_c - truth_c) / rate
        if ("near", engine.phase_kind()) in alarms:
            return to_go_s
        if to_go_s < -60:
            return None
        step += 1

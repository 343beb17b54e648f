"""Spoiled batches, recorded by the real firmware on the bench, are judged for what they are."""

import json
from pathlib import Path

import pytest
from running import Bench
from spoiled_batches import (
    as_it_should_be,
    came_down_fast,
    fault_while_working,
    held_too_warm,
    never_melted,
    overheated,
    recorded,
)

from snapcurve.analysis.verdict import judge
from snapcurve.recording.dip_tests import BladeResult
from tests.benchmarks.conditions import drawn


def shown(judgement):
    return {name for name, sign in judgement.signs._asdict().items() if sign.state == "shown"}


@pytest.mark.parametrize(
    ("plan", "verdict", "signs"),
    [
        # Nothing sounds any more once it has cooled, so the press counts as the dip it is.
        (overheated, "Too hot", {"scorched"}),
        (never_melted, "Not in temper", {"not_melted", "not_in_window"}),
        (came_down_fast, "Temper not proved", {"fell_fast", "undercut"}),
        (held_too_warm, "Temper lost", {"worked_warm", "unproved"}),
        (fault_while_working, "Temper not proved, no dip test", {"unproved"}),
        (as_it_should_be, "In temper, proved by the test blade", set()),
    ],
)
def test_each_spoiled_batch_shows_what_spoiled_it_and_nothing_else(plan, verdict, signs):
    curve, world = recorded(plan)
    judgement = judge(curve)
    assert judgement.verdict.startswith(verdict)
    assert shown(judgement) == signs
    assert judgement.proved is (True if plan in (as_it_should_be, overheated) else None)
    facts = judgement.timeline
    # What it takes for known lies close to what the chocolate between the pieces was at.
    truth = {round(at_s): liquid_c for at_s, liquid_c, _, inside in world.truth if inside}
    began_s = (world.truth[-1][0]) - facts.known.end_s  # the record ends with the world
    off = [
        abs(value - truth[round(at_s + began_s)])
        for at_s, value in zip(facts.known.times_s, facts.known.values_c, strict=True)
        if facts.entered_s and at_s > facts.entered_s and round(at_s + began_s) in truth
    ]
    assert not off or sorted(off)[int(0.99 * len(off))] < 0.8
    if plan is held_too_warm:
        warmest_c = max(liquid_c for at_s, liquid_c, *_ in world.truth if at_s > 1200)
        run = max(facts.excursions, key=lambda each: each.extreme_c)
        assert run.extreme_c == pytest.approx(warmest_c, abs=0.5)
    if plan is fault_while_working:
        assert judgement.signs.worked_warm.state == "uncertain"
        assert facts.work_hidden_s > 280
    if plan is as_it_should_be:
        failed = judge(curve, [BladeResult(facts.dip_tests[0].at_s, False)])
        assert failed.verdict.startswith("Not in temper, the test blade failed")


@pytest.mark.parametrize("number", [3, 11])
def test_other_bowls_rooms_and_distracted_people(number):
    """Probe put down again and again, wild readings, short faults: no spurious spoiling."""
    curve, world = recorded(as_it_should_be, number, "dark", drawn(number))
    judgement = judge(curve)
    hottest_c = max(liquid_c for _, liquid_c, *_ in world.truth)
    assert ("scorched" in shown(judgement)) == (hottest_c > 55.0)
    assert not {"not_melted", "not_in_window"} & shown(judgement)
    assert judgement.timeline.peak_c == pytest.approx(hottest_c, abs=1.0)


TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


@pytest.mark.parametrize(
    ("words", "low_c"),
    [(("milk",), 30.0), (("dark", "--method", "hold"), 31.0)],
)
def test_the_verdict_counts_what_sounded_and_what_is_recorded(
    bench: Bench, words: tuple[str, ...], low_c: float
) -> None:
    """Rehearsal, judge, compare, sheet and the exported curve tell one story."""
    done = bench.ok_json("rehearse", *words, "--speed", "max", "--work-minutes", "10")
    sounded = [alarm["alarm"] for alarm in done["alarms"]].count("too_cool")
    assert sounded >= 2
    times = TIMES[sounded] if sounded < len(TIMES) else f"{sounded} times"
    assert f"Warned {times} of falling below {low_c:.0f} °C; lowest" in done["verdict"]
    assert "never" not in done["verdict"]
    code = done["batch"]
    found = bench.ok_json("show", code)
    assert found["verdict"] == done["verdict"] == bench.ok_json("show", code)["verdict"]
    facts = found["facts"]
    assert facts["warned_below"] == sounded
    bench.ok("show", code, "--curve", "curve.json", "--replace")
    held = json.loads((bench.folder / "curve.json").read_text("utf-8"))
    # The probe trails on its way in, and comes out shortly before the record ends.
    first_s, last_s = facts["entered_s"] + 30, held["time_s"][-1] - 20
    outside = [
        value_c
        for at_s, value_c in zip(held["time_s"], held["temperature_c"], strict=True)
        if first_s < at_s < last_s and value_c is not None and value_c < low_c
    ]
    assert outside
    assert facts["below_window_s"] == pytest.approx(len(outside), abs=3)
    assert facts["lowest_outside_c"] == pytest.approx(min(outside), abs=0.005)
    other = bench.ok_json("rehearse", *words, "--speed", "max", "--number", "2")["batch"]
    table = bench.ok("show", code, other)
    assert f"0, {sounded}" in table


def test_the_commands(bench: Bench) -> None:
    milk = bench.ok_json("rehearse", "milk", "--speed", "max", "--work-minutes", "6")
    assert milk["verdict"].startswith("In temper, proved by the test blade")
    assert "in the window" in milk["verdict"]
    code = milk["batch"]
    out = bench.ok("show", code, "--complaint", "bloom")
    assert milk["verdict"].split(":")[0] in " ".join(out.split())
    assert "the curve cannot say" in " ".join(out.split())
    result = bench.ok_json("show", code, "--complaint", "bloom", "--blade", "failed")
    assert result["proved"] is False
    assert len(result["complaint"]["answers"]) == 7
    assert result["dip_tests"][0]["passed"] is False
    assert bench.ok_json("show", code)["verdict"] == milk["verdict"]

    cup = bench.ok_json("rehearse", "milk", "--method", "cup", "--speed", "max")["batch"]
    found = bench.ok_json("show", cup, "--chart", "cup.svg")["cup"]
    assert found["temper"] is None
    assert "0 of 9 good cups with this probe and cup" in found["sentence"]
    assert abs(found["slope_c_per_min"]) < 0.5  # this number's sample was made well-tempered
    assert (bench.folder / "cup.svg").stat().st_size > 10_000
    under = bench.ok_json("rehearse", "milk", "--method", "cup", "--speed", "max", "--number", "2")
    assert bench.ok_json("show", under["batch"])["cup"]["slope_c_per_min"] > 1.0

    trays = bench.folder / "trays.csv"
    trays.write_text(f"batch,released,gloss,bloom_days\n{code},yes,yes,\n")
    learned = bench.ok_json(
        "learn", "milk", "--outcomes", str(trays), "--rehearsals", "--chart", "all.png"
    )
    assert (learned["good"], learned["bad"], learned["window_c"]) == (1, 0, None)
    assert "Only 1 batch" in learned["warning"]
    assert (bench.folder / "all.png").stat().st_size > 10_000
    assert "Only 1 batch" in bench.ok("learn", "milk", "--outcomes", str(trays), "--rehearsals")

    _refusals(bench, code, cup, trays)


def _refusals(bench: Bench, code: str, cup: str, trays: Path) -> None:
    assert "did you mean bloom" in bench.refused("show", code, "--complaint", "blom")
    assert "no batch" in bench.refused("show", "2020-01-01-01")
    assert "No test blade was marked" in bench.refused("show", cup, "--blade", "passed")
    assert "is not a cup" in bench.refused("show", code, "--outcomes", str(trays))
    assert ".xyz" in bench.refused("show", cup, "--chart", "a.xyz")
    assert "nowhere" in bench.refused("show", cup, "--chart", "nowhere/a.png")
    assert "no outcomes yet" in bench.refused("learn", "milk")
    assert "not a rehearsal" in bench.refused("learn", "milk", "--outcomes", str(trays))
    assert "milk" in bench.refused("learn", "mlik", "--outcomes", str(trays))
    assert "none.csv" in bench.refused("learn", "milk", "--outcomes", "none.csv")
    trays.write_text(f"batch,released,gloss\n{code},maybe,yes\n")
    assert "line 2" in bench.refused("learn", "milk", "--outcomes", str(trays))
    trays.write_text("batch,released,gloss\n2020-01-01-01,yes,yes\n")
    assert "2020-01-01-01" in bench.refused("learn", "milk", "--outcomes", str(trays))

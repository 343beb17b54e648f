"""One batch in all its faces: what sounded, verdict, chart, sheet, comparison, list, CSV, JSON.

Each face is put beside what a plain count of the recorded samples gives; of that count only the
stretches that the record itself declares unknown are taken from the product.
"""

import csv
import io
import itertools
import json
import random
import re
import statistics
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from snapcurve.analysis.filed_batch import judge_batch
from snapcurve.collecting.filing import new_batch
from snapcurve.couvertures import load, user_folder
from snapcurve.couvertures.profile import compile_profile
from snapcurve.notebook import open_notebook
from snapcurve.notebook.exports import csv_of, plain
from snapcurve.recording.curve import decode
from snapcurve.report.batch_course import course_rows, into
from snapcurve.report.batch_texts import column, summary, verdict_data
from snapcurve.report.chart_content import Content, content_of
from snapcurve.report.sheet_sections import sheet_of
from snapcurve.shown.settings_file import Settings
from snapcurve.shown.units import PLAIN, seconds_words
from snapcurve.simulation import person as plans
from snapcurve.simulation.desk_run import desk_run
from snapcurve.simulation.person import Person, Plan
from snapcurve.simulation.rehearsal import Rehearsal
from tests.benchmarks.conditions import drawn

KINDS = ("milk", "dark", "white")
METHODS = ("seeding", "three-step", "hold")
TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")
WARNINGS = {"above": ("too_warm", "temper_lost"), "below": ("too_cool",)}


def bad_work(person: Person, chance: random.Random) -> Plan:
    """Somebody slow, hot or forgetful works it: warmed too far, left to cool, probe put down."""
    yield from person.press()
    yield from person.press()
    for _ in range(chance.randint(2, 5)):
        match chance.choice(("hot", "slow", "away", "stir")):
            case "hot":
                for _ in range(chance.randint(1, 5)):
                    yield from person.hot_air(10)
                yield from person.wait(chance.uniform(20, 120))
            case "slow":
                yield from person.wait(chance.uniform(100, 300))
            case "away":
                person.probe_out()
                yield from person.wait(chance.uniform(20, 90))
                person.probe_in()
                yield from person.wait(60)
            case "stir":
                person.bowl.stirring = not person.bowl.stirring
                yield from person.wait(chance.uniform(30, 90))
    if chance.random() < 0.5:
        yield from person.press()
        yield from person.wait(320)


def recorded(number: int) -> tuple[bytes, Any, list[str]]:
    """The raw curve of batch ``number`` with its row in the board's list, and what sounded.

    A batch that was broken off and begun anew leaves two: the longer one, and what it holds of
    what sounded, which both together must hold.
    """
    kind = KINDS[number % 3]
    method = METHODS[number // 3 % 3]
    couverture = load(kind, user_folder())
    if method == "three-step" and couverture.cool_c is None:
        method = "seeding"
    world = Rehearsal(couverture, method, number, 300.0, drawn(number))
    if number % 2:
        world._plan = _badly(world, couverture, method, number)
    with desk_run(world, compile_profile(couverture, method), "max") as running:
        running.run()
        curves = running.collect()
    sounded = [alarm.alarm for alarm in world.alarms]
    stored = [[alarm.name for alarm in decode(raw).alarms] for _, raw in curves]
    warnings = [name for names in WARNINGS.values() for name in names]
    for name in warnings:
        assert sounded.count(name) == sum(names.count(name) for names in stored), name
    longest = max(range(len(curves)), key=lambda at: len(curves[at][1]))
    row, raw = curves[longest]
    return raw, row, sounded if len(curves) == 1 else stored[longest]


def _badly(world: Rehearsal, couverture, method: str, number: int) -> Plan:
    chance = random.Random(f"bad {number}")
    person = world.person
    if method == "seeding":
        yield from plans.melt(person)
        yield from person.wait(10)
        yield from plans.seed(person)
    else:
        started = plans.plan_for(person, couverture, method, 0.0)
        for _ in started:
            yield
            if "reached" in person.heard and method == "hold":
                break
            if person.heard.count("reached") >= 4:
                break
        person.button = False
    yield from bad_work(person, chance)
    yield from plans.finish(person)


@dataclass
class Faces:
    """All that is shown of a batch; ``data`` is its JSON, ``line`` its line of CSV."""

    raw: bytes
    sounded: list[str]
    data: dict[str, Any]
    line: dict[str, str]
    content: Content
    compared: dict[str, str]
    rows: list[tuple[str, ...]]
    blocks: dict[str, Any]
    window_c: tuple[float, float] | None

    @property
    def facts(self) -> dict[str, Any]:
        return self.data["facts"]

    @property
    def caption(self) -> str:
        return " · ".join(self.content.notes)


def faces(number: int) -> Faces:
    """Everything of batch ``number``."""
    raw, row, sounded = recorded(number)
    with (
        tempfile.TemporaryDirectory() as folder,
        open_notebook(str(Path(folder) / "notebook.db")) as book,
    ):
        book.file_batch(new_batch(decode(raw), raw, row, "desk", converter="MAX31856"))
        found, judgement = judge_batch(book, "last", PLAIN)
    (line,) = csv.DictReader(io.StringIO(csv_of([(found, summary(judgement))])))
    sheet = sheet_of(found, judgement, Settings())
    return Faces(
        raw,
        sounded,
        json.loads(json.dumps({**plain(found), **verdict_data(judgement)})),
        line,
        content_of(judgement.timeline, "", PLAIN),
        column(found, judgement, PLAIN),
        course_rows(judgement.timeline, PLAIN),
        {one.title: one.block for one in sheet.sections if one.title},
        judgement.timeline.window_c,
    )


def disagreements(number: int) -> list[str]:
    """Every figure of batch ``number`` that stands somewhere otherwise than elsewhere."""
    one = faces(number)
    if one.facts["entered_s"] is None:
        outside = [row for row in one.rows if "window" in row[0] or row[0].startswith("left")]
        return [f"the sheet says that it was in the window: {row}" for row in outside]
    return [*_sounded(one), *_outside(one), *_times(one), *_dips(one)]


def _sounded(one: Faces) -> Iterator[str]:
    for side, names in WARNINGS.items():
        for what, value in (
            ("sounded", sum(one.sounded.count(name) for name in names)),
            ("JSON's alarms", sum(alarm["alarm"] in names for alarm in one.data["alarms"])),
            ("CSV", int(one.line[f"warned {side}"])),
            ("comparison", _pair(one.compared["warned above, below"], side)),
        ):
            if value != one.facts[f"warned_{side}"]:
                yield f"warned {side}: {what} {value}, JSON {one.facts[f'warned_{side}']}"
        for name in names:
            shown = re.search(rf"{name.replace('_', ' ')} (\d+)×", one.caption)
            if (int(shown[1]) if shown else 0) != one.sounded.count(name):
                yield f"{name} {one.sounded.count(name)} times, the chart: {one.caption}"
        times = sum(one.sounded.count(name) for name in names if name != "temper_lost")
        words = TIMES[times] if times < len(TIMES) else f"{times} times"
        way = "rising above" if side == "above" else "falling below"
        if times and f"{words} of {way}" not in one.data["verdict"]:
            yield f"the verdict does not say {words} of {way}: {one.data['verdict']}"


def _pair(text: str, side: str) -> int:
    return int(text.split(", ")[side == "below"])


def _settled(one: Faces) -> list[float]:
    """Samples from the first one in the window on (or from when the board said so, if none is
    in it), outside of what is said to be unknown, without single ones that jump away."""
    curve = decode(one.raw)
    unknown = [(span["start_s"], span["end_s"]) for span in one.data["unknown"]]
    samples = [
        (at_s, value)
        for at_s, value in zip(curve.times_s, curve.temperatures_c, strict=True)
        if value is not None and not any(start < at_s < end for start, end in unknown)
    ]
    values = [
        value
        for at_s, value in samples
        if at_s >= one.facts["entered_s"]
        and abs(value - statistics.median(v for t, v in samples if abs(t - at_s) <= 2.5)) <= 2
    ]
    low_c, high_c = one.window_c
    since = [*itertools.dropwhile(lambda value: not low_c <= value <= high_c, values)]
    return since or values


def _outside(one: Faces) -> Iterator[str]:
    times_s = decode(one.raw).times_s
    steps = sorted(after - before for before, after in itertools.pairwise(times_s))
    step_s, settled = steps[len(steps) // 2], _settled(one)
    for side in WARNINGS:
        edge_c = one.window_c[side == "above"]
        sign = 1 if side == "above" else -1
        beyond = [value for value in settled if sign * (value - edge_c) > 0]
        extreme_c = (max if sign > 0 else min)(beyond, default=None)
        yield from _side(one, side, step_s * len(beyond), extreme_c)
    outside = one.facts["above_window_s"] + one.facts["below_window_s"]
    silent = not (outside or one.facts["warned_above"] or one.facts["warned_below"])
    if "never" in one.data["verdict"] and not silent:
        yield f"never: {one.data['verdict']}"
    if one.facts["in_window_s"] + outside > step_s * len(settled) + 1e-6:
        yield "more seconds than were recorded"


def _side(one: Faces, side: str, seconds: float, extreme_c: float | None) -> Iterator[str]:
    facts, line, verdict = one.facts, one.line, one.data["verdict"]
    runs = [run for run in one.data["excursions"] if run["side"] == side]
    farthest = "highest" if side == "above" else "lowest"
    at_c = facts[f"{farthest}_outside_c"]
    for what, value, right in (
        ("JSON", facts[f"{side}_window_s"], round(seconds, 2)),
        ("JSON", at_c, None if extreme_c is None else round(extreme_c, 2)),
        ("CSV", float(line[f"{side} the window (s)"]), round(seconds, 2)),
        ("CSV", line[f"{farthest} {side} (°C)"], "" if at_c is None else str(at_c)),
        ("CSV", int(line[f"stays {side}"]), len(runs)),
        ("comparison", _pair(one.compared["stays above, below"], side), len(runs)),
    ):
        if value != right:
            yield f"{side}: {what} has {value}, not {right}"
    said = [row for row in one.rows if row[0] == f"left it, {side}"]
    more = [int(row[0].split()[0]) for row in one.rows if row[0].endswith(f"more, {side}")]
    if len(said) + sum(more) != len(runs):
        yield f"{side}: the sheet has {len(said)} stays and {more}, JSON {len(runs)}"
    for row, run in zip(said, runs, strict=False):
        shown_c = float(row[3].removesuffix(" °C"))
        if row[1] != into(run["start_s"]) or abs(shown_c - run["extreme_c"]) > 0.0551:
            yield f"{side}: the sheet says {row}, JSON {run}"
    if sum(run["seconds"] for run in runs) > seconds + 1e-6:
        yield f"{side}: the stays are longer than all that was outside"
    if not seconds:
        if f"{side} the window" in one.caption:
            yield f"the chart speaks of {side}: {one.caption}"
        return
    told = f"{side} the window {seconds_words(seconds)}, {farthest} {PLAIN.temperature(at_c, 2)}"
    told += f", left {len(runs)}×" if runs else ""
    if told not in one.caption:
        yield f"the chart does not say {told!r}: {one.caption}"
    if f"{seconds_words(seconds)} in all" not in verdict:
        yield f"the verdict does not say {seconds_words(seconds)}: {verdict}"


def _times(one: Faces) -> Iterator[str]:
    facts, line = one.facts, one.line
    phases = [(span["phase"], span["start_s"], span["end_s"]) for span in one.data["phases"]]
    if phases != [(span.kind, span.start_s, span.end_s) for span in one.content.phases]:
        yield "chart and JSON have other phases"
    if any(after[1] < before[2] for before, after in itertools.pairwise(phases)):
        yield f"phases overlap: {phases}"
    if one.blocks["Course"].rows != tuple(one.rows):
        yield "the sheet has another course"
    if one.blocks["Verdict"].texts != (one.data["verdict"],):
        yield "the sheet has another verdict"
    at = {row[0]: row[1] for row in one.rows}
    for what, label, at_s in (
        ("melted through", "melted through (s)", facts["melted_s"]),
        ("came into the window", "in the window (s)", facts["entered_s"]),
        ("ended", "ended (s)", one.data["ended_s"]),
    ):
        if at_s is not None and (at[what], float(line[label])) != (into(at_s), at_s):
            yield f"{what}: sheet {at[what]}, CSV {line[label]}, JSON {at_s}"
    if one.compared["in the window at"] != f"{facts['entered_s'] / 60:.1f} min":
        yield f"comparison: in the window at {one.compared['in the window at']}"


def _dips(one: Faces) -> Iterator[str]:
    dips = [(test["number"], test["at_s"]) for test in one.data["dip_tests"]]
    if dips != [(test.number, test.at_s) for test in one.content.dip_tests]:
        yield "the chart has other dip tests"
    if [f"dip test {number}" for number, _ in dips] != [
        row[0] for row in one.rows if row[0].startswith("dip test")
    ]:
        yield "the sheet has other dip tests"
    if len(dips) != len(one.line["dip tests"].splitlines()):
        yield f"CSV has other dip tests: {one.line['dip tests']!r}"

"""The drawing against its source and against the wiring."""

import dataclasses
import os
import re
import subprocess
import sys

import pytest

from hardware import netlist, schematic


@pytest.fixture(scope="module")
def tables():
    return netlist.load()


def partition(pairs):
    """Sets of names that the pairs join."""
    groups = []
    for a, b in pairs:
        touching = [g for g in groups if a in g or b in g]
        groups = [g for g in groups if g not in touching]
        groups.append({a, b}.union(*touching))
    return {frozenset(g) for g in groups}


def test_that_the_stored_drawing_is_what_the_source_draws(tables):
    assert schematic.svg(tables) == schematic.svg(tables)
    assert schematic.TARGET.read_bytes() == schematic.svg(tables)


def test_that_the_drawing_joins_the_pins_exactly_as_the_wiring_does(tables):
    drawn = partition(schematic.build(tables).joins)
    drawn = {frozenset(p for p in group if "." in p) for group in drawn}
    wired = {frozenset(map(".".join, members)) for members in tables.nets().values()}
    assert drawn == wired


def test_that_the_drawing_names_every_board_pin_and_part(tables):
    text = schematic.TARGET.read_text(encoding="utf-8")
    shown = re.findall(r">([^<>]+)<", text)
    for board in ("pico", "esp32s3"):
        for label in netlist.board_pins(tables, board).values():
            short = re.sub(r" (\d+|[ab])$", "", label)
            assert any(short in line for line in shown), label
    for ref in {part for part, _ in tables.pins}:
        assert any(re.match(rf"{ref}\b", line) for line in shown), ref


def test_that_a_changed_wiring_changes_the_drawing(tables):
    moved = [
        dataclasses.replace(w, board_pins={**w.board_pins, "pico": "GP12"})
        if w.a == ("A1", "LIGHT")
        else w
        for w in tables.wires
    ]
    assert schematic.svg(dataclasses.replace(tables, wires=moved)) != schematic.svg(tables)


@pytest.mark.parametrize("seed", ["1", "77"])
def test_that_another_process_draws_the_same_bytes(seed):
    code = "import sys; from hardware import netlist, schematic as s;"
    code += "sys.stdout.buffer.write(s.svg(netlist.load()))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=netlist.HERE.parent,
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        check=True,
    )
    assert done.stdout == schematic.TARGET.read_bytes()

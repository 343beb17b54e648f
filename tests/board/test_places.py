"""From what a board tells of a failure back to the source."""

import ast

import pytest

from snapcurve.building.places import told
from snapcurve.building.prepared import prepare
from snapcurve.installing import release

SOURCES = release.sources("pico")
MADE = prepare(SOURCES)


def line_of(module, wanted):
    """Line of the compiled ``module`` that comes from the source's line ``wanted``."""
    name, line = wanted
    return next(
        number
        for number, (origin, first, last) in enumerate(MADE[module].places, 1)
        if origin == name and first <= line <= last
    )


def source_line(module, text):
    lines = SOURCES[module].read_text(encoding="utf-8").splitlines()
    return next(number for number, line in enumerate(lines, 1) if text in line)


@pytest.mark.parametrize(
    ("made", "module", "text", "function"),
    [
        ("probe/app", "probe/tempering/engine", "def shift(", "Engine.shift"),
        ("probe/app", "wire/codec", "rest = end - start - size", "unpack"),
        ("probe/app", "probe/app", "self._raise(now_ms, warning", "App._keep_curve"),
        ("probe/crashes", "probe/crashes", "store.save(LEFT", "left"),
        ("start", "start", "app.run()", "run"),
    ],
)
def test_a_place_is_found(made, module, text, function):
    line = source_line(module, text)
    reason = f"ValueError: at 3 at {made.replace('/', '.')}:{line_of(made, (module, line))} _5"
    what, where = told(reason, SOURCES).rsplit(" at ", 1)
    assert what == "ValueError: at 3"
    path, lines, found = where.replace(" ", ":").split(":")
    assert (path, found) == (f"{module}.py", function)
    first, _, last = lines.partition("-")
    assert int(first) <= line <= int(last or first)


def test_several_places_and_one_that_is_not_known():
    reason = "OSError: 5 at elsewhere:3 f < probe.app:99999 g < start:1 h"
    where = told(reason, SOURCES)
    assert where.startswith("OSError: 5 at elsewhere:3 f < probe.app:99999 g < start.py:")
    assert told("the watchdog restarted the board", SOURCES) == "the watchdog restarted the board"


def test_every_line_has_its_place_in_the_source():
    for name, prepared in MADE.items():
        assert len(prepared.places) == len(prepared.text.splitlines()), name
        ast.parse(prepared.text)
        for module, first, last in prepared.places:
            lines = SOURCES[module].read_text(encoding="utf-8").splitlines()
            assert 0 < first <= last <= len(lines)

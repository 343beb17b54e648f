"""Columns stand under each other as a terminal shows them, not as Python counts letters."""

import io

import pytest

from snapcurve.shown.table import INDENT, redraw, row, table, wrapped

# Width by Unicode UAX #11 (wide) and combining marks, counted by hand.
CELLS = {"milk": 4, "抹茶 70": 7, "cafe\u0301": 4, "\u2068לבן\u2069": 3, "": 0, "Łucja": 5}


@pytest.mark.parametrize("cell", CELLS)
def test_what_follows_a_cell_begins_in_the_same_place(cell):
    widest = max(CELLS.values())
    lines = table([[each, "|"] for each in CELLS]).split("\n")
    blanks = widest - CELLS[cell] + 2
    assert lines[list(CELLS).index(cell)] == f"{cell}{' ' * blanks}|"


def test_numbers_end_flush_and_no_line_ends_in_blanks():
    rows = [["melt", "45", "°C"], ["work", "9.5"], []]
    assert table(rows, right=[1], inset="  ") == "  melt   45  °C\n  work  9.5\n"
    assert table([]) == ""


@pytest.mark.parametrize("letter", ["x", "茶"])
def test_no_unit_stands_on_a_line_of_its_own(letter):
    for count in range(40):
        text = letter * count + " stir in 50 g at 31.5 °C, " * 6
        lines = wrapped([row("Do", text)])
        assert all(len(line) + line.count("茶") <= 92 for line in lines)
        assert not any(line.strip().startswith(("°C", "g ")) for line in lines)
        assert all(line.startswith(INDENT) for line in lines[1:])


def test_progress_stays_on_one_line(monkeypatch):
    monkeypatch.setenv("COLUMNS", "10")
    shown = io.StringIO()
    redraw("抹茶抹茶抹茶", shown)
    redraw("done", shown, last=True)
    assert shown.getvalue() == "\r\x1b[K抹茶抹茶 \r\x1b[Kdone\n"

"""The firmware's pins are those of the one pin map, hardware/wiring.csv."""

import ast
from pathlib import Path

import pytest

from hardware import netlist

BOARDS = Path(__file__).resolve().parents[2] / "firmware" / "boards"


def pins_of(module: str) -> dict[str, int]:
    """PINS of a board file, read without importing it: it needs a board."""
    tree = ast.parse((BOARDS / f"{module}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "PINS":
            return dict(ast.literal_eval(node.value))
    raise AssertionError(f"{module}.py has no PINS")


@pytest.mark.parametrize("board", ["pico", "pico2"])
def test_the_pico_file_uses_the_wired_pins(board: str) -> None:
    assert pins_of("pico") == netlist.gpio_by_role(netlist.load(), board)

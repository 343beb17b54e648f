"""The README's tables, made from the CSV files: ``python -m hardware.readme_tables``.

The command rewrites what is between the markers, and a test compares it.
"""

import re
import sys

from hardware.netlist import HERE, Tables, WiringFileError, load
from markdown_tables import MarkerError, filled, table

README = HERE / "README.md"


def _of_kind(tables: Tables, kinds: tuple[str, ...]) -> list[dict[str, str]]:
    return [part.row for part in tables.parts.values() if part.kind in kinds]


def parts(tables: Tables) -> str:
    """Circuit, probe, mechanical and supply parts with alternatives and what to avoid."""
    keys = ("ref", "quantity", "part", "role", "alternatives", "avoid", "price_band_eur")
    rows = _of_kind(tables, ("circuit", "probe", "mechanical", "supply"))
    head = ["no.", "qty", "part", "for", "or else", "avoid", "EUR, about"]
    return table(head, [[row[k] or "-" for k in keys] for row in rows])


def tools(tables: Tables) -> str:
    """The tools."""
    rows = [[row["ref"], row["part"], row["role"]] for row in _of_kind(tables, ("tool",))]
    return table(["no.", "tool", "for"], rows)


def wiring(tables: Tables) -> str:
    """Every wire in the order of wiring.csv, numbered for ticking off."""
    rows = []
    for number, wire in enumerate(tables.wires, start=1):
        here = {}
        for board in ("pico", "esp32s3"):
            label = wire.board_pins.get(board, "")
            header = tables.boards[board][label].header if label else ""
            short = re.sub(r" (\d+|[ab])$", "", label)
            here[board] = f"{short}, pin {header}" if header else short
        rows.append(
            [str(number), ".".join(wire.a), here["pico"] or "-", here["esp32s3"] or "-",
             ".".join(wire.b), wire.net, wire.purpose]
        )  # fmt: skip
    head = ["wire", "from", "Pico, Pico 2", "ESP32-S3", "to", "net", "what for"]
    return table(head, rows)


TABLES = {"parts": parts, "tools": tools, "wiring": wiring}


def fill(text: str, tables: Tables) -> str:
    """The README text with every table replaced. Raises MarkerError."""
    return filled(text, {name: make(tables) for name, make in TABLES.items()})


def main() -> int:
    """Rewrite the tables in README.md."""
    try:
        README.write_text(
            fill(README.read_text(encoding="utf-8"), load()), encoding="utf-8", newline="\n"
        )
    except (WiringFileError, MarkerError) as error:
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())

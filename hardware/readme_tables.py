"""The README's tables, made from the CSV files: ``python -m hardware.readme_tables``.

Each table stands in README.md between ``<!-- table NAME -->`` and ``<!-- end NAME -->``;
the command rewrites what is between, and a test compares it.
"""

import re
import sys

from hardware.netlist import HERE, Tables, WiringFileError, load

README = HERE / "README.md"


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def _table(head: list[str], rows: list[list[str]]) -> str:
    return "\n".join([_row(head), "|" + " --- |" * len(head), *map(_row, rows)])


def _of_kind(tables: Tables, kinds: tuple[str, ...]) -> list[dict[str, str]]:
    return [part.row for part in tables.parts.values() if part.kind in kinds]


def parts(tables: Tables) -> str:
    """Circuit, probe, mechanical and supply parts with alternatives and what to avoid."""
    keys = ("ref", "quantity", "part", "role", "alternatives", "avoid", "price_band_eur")
    rows = _of_kind(tables, ("circuit", "probe", "mechanical", "supply"))
    head = ["no.", "qty", "part", "for", "or else", "avoid", "EUR, about"]
    return _table(head, [[row[k] or "-" for k in keys] for row in rows])


def tools(tables: Tables) -> str:
    """The tools."""
    rows = [[row["ref"], row["part"], row["role"]] for row in _of_kind(tables, ("tool",))]
    return _table(["no.", "tool", "for"], rows)


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
    return _table(head, rows)


TABLES = {"parts": parts, "tools": tools, "wiring": wiring}


def fill(text: str, tables: Tables) -> str:
    """The README text with every table replaced. Raises WiringFileError: a marker is missing."""
    for name, make in TABLES.items():
        start, end = f"<!-- table {name} -->", f"<!-- end {name} -->"
        if text.count(start) != 1 or text.count(end) != 1:
            raise WiringFileError(
                f"README.md: table {name} has not one marker at each end; set them anew."
            )
        before, _, rest = text.partition(start)
        _, _, after = rest.partition(end)
        text = "\n".join([before + start, make(tables), end + after])
    return text


def main() -> int:
    """Rewrite the tables in README.md."""
    try:
        README.write_text(
            fill(README.read_text(encoding="utf-8"), load()), encoding="utf-8", newline="\n"
        )
    except WiringFileError as error:
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Reads the wiring, pin, part and board tables and answers questions about them.

wiring.csv is the one pin map of the project. A row joins two pins and says in which net;
rows that start at the board (part A1) also name the board's own pin for each board. The
board's pins are called by their role (SCK, BEEPER, ...), so that
``gpio_by_role(load(), "pico")`` gives ``{"sck": 18, ...}``.

Only ``load`` touches files; everything else works on what it is given.
"""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

HERE = Path(__file__).resolve().parent
BOARD = "A1"
BOARDS = ("pico", "pico2", "esp32s3")

Pin = tuple[str, str]
"""A pin as (part, pin name), for example ("U1", "CS")."""


class WiringFileError(ValueError):
    """A table that cannot be read; the message says which row and what to do."""


@dataclass(frozen=True)
class Wire:
    """One row of wiring.csv. `board_pins` is empty unless the wire starts at the board."""

    net: str
    a: Pin
    b: Pin
    board_pins: dict[str, str]
    purpose: str


@dataclass(frozen=True)
class PinFacts:
    """What a pin is. Volts and milliamperes; None where the pin has no such limit."""

    kind: str
    supply_v: float | None = None
    min_v: float | None = None
    max_v: float | None = None
    max_ma: float | None = None
    pull_up: str = ""
    decouple_nf: float | None = None


@dataclass(frozen=True)
class Part:
    """One row of parts.csv; `data` holds its numbers, the unit being part of each name."""

    ref: str
    kind: str
    name: str
    data: dict[str, float]
    row: dict[str, str]


@dataclass(frozen=True)
class BoardPin:
    """A pin of a microcontroller board; `gpio` is None for supply and ground pins."""

    gpio: int | None
    header: str
    kind: str
    spi: str
    avoid: str


@dataclass
class Tables:
    """Everything the checks need, already parsed."""

    wires: list[Wire]
    pins: dict[Pin, PinFacts]
    parts: dict[str, Part]
    boards: dict[str, dict[str, BoardPin]] = field(default_factory=dict)

    def nets(self) -> dict[str, set[Pin]]:
        """Net name -> the pins that its wires touch."""
        found: dict[str, set[Pin]] = {}
        for wire in self.wires:
            found.setdefault(wire.net, set()).update((wire.a, wire.b))
        return found

    @cached_property
    def nodes(self) -> dict[str, set[Pin]]:
        """As `nets`, but nets that share a pin are one, under the first one's name."""
        merged: dict[str, set[Pin]] = {}
        for net, members in self.nets().items():
            same = [name for name, pins in merged.items() if pins & members]
            home = same[0] if same else net
            for name in same[1:]:
                merged[home] |= merged.pop(name)
            merged[home] = merged.get(home, set()) | members
        return merged

    @cached_property
    def _home(self) -> dict[Pin, str]:
        return {pin: node for node, members in self.nodes.items() for pin in members}

    def net_of(self, pin: Pin) -> str | None:
        """The node a pin is in, or None if no wire touches it."""
        return self._home.get(pin)

    def nodes_of(self, kind: str, supply_v: float | None = None) -> set[str]:
        """The nodes with a pin of a kind, and of that supply voltage if one is given."""
        homes = (
            self.net_of(pin)
            for pin, facts in self.pins.items()
            if facts.kind == kind and supply_v in (None, facts.supply_v)
        )
        return {home for home in homes if home is not None}

    def between(self, net_a: str | None, net_b: str | None, prefix: str) -> list[Part]:
        """Two-ended parts of a family (ref prefix, "C" for capacitors) from one net to another."""
        found = []
        for ref, part in self.parts.items():
            if not (ref.startswith(prefix) and ref[len(prefix) :].isdigit()):
                continue
            ends = sorted(str(self.net_of(p)) for p in self.pins if p[0] == ref)
            if ends == sorted((str(net_a), str(net_b))):
                found.append(part)
        return found


def _number(text: str, where: str) -> float | None:
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise WiringFileError(f"{where}: {text!r} is not a number; write one.") from None


def _rows(name: str, lines: Iterable[str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Rows of a table, each with where it stands; WiringFileError for one that is too long."""
    for number, row in enumerate(csv.DictReader(lines), start=2):
        where = f"{name}, line {number}"
        if None in row:
            raise WiringFileError(f"{where}: there is a cell too many; remove it.")
        yield where, row


def parse_wires(lines: Iterable[str]) -> list[Wire]:
    """Rows of wiring.csv. Raises WiringFileError on a row with a missing end or net."""
    wires = []
    for where, row in _rows("wiring.csv", lines):
        ends = [row.get(k) or "" for k in ("net", "from_part", "from_pin", "to_part", "to_pin")]
        if not all(ends):
            raise WiringFileError(f"{where}: the wire has no net or ends nowhere; add it.")
        net, part_a, pin_a, part_b, pin_b = ends
        board_pins = {b: row[b] for b in BOARDS if row.get(b)}
        expected = len(BOARDS) if part_a == BOARD else 0
        if len(board_pins) != expected or part_b == BOARD:
            raise WiringFileError(
                f"{where}: a wire of the board starts at {BOARD} and names "
                f"the pin of every board ({', '.join(BOARDS)}); other wires name none."
            )
        wires.append(Wire(net, (part_a, pin_a), (part_b, pin_b), board_pins, row["purpose"]))
    return wires


def parse_pins(lines: Iterable[str]) -> dict[Pin, PinFacts]:
    """Rows of pins.csv by (part, pin). Raises WiringFileError on a bad number or a repeat."""
    pins: dict[Pin, PinFacts] = {}
    for where, row in _rows("pins.csv", lines):
        key = (row["part"], row["pin"])
        if key in pins:
            raise WiringFileError(f"{where}: {key[0]}.{key[1]} is there twice; remove one.")
        numeric = ("supply_v", "min_v", "max_v", "max_ma", "decouple_nf")
        values = {k: _number(row[k], where) for k in numeric}
        pins[key] = PinFacts(kind=row["kind"], pull_up=row["pull_up"], **values)
    return pins


def parse_parts(lines: Iterable[str]) -> dict[str, Part]:
    """Rows of parts.csv by reference. Raises WiringFileError on bad data or a repeat."""
    parts: dict[str, Part] = {}
    for where, row in _rows("parts.csv", lines):
        ref = row["ref"]
        if ref in parts:
            raise WiringFileError(f"{where}: {ref} is there twice; remove one.")
        data = {}
        for item in filter(None, row["data"].split(";")):
            name, _, text = item.partition("=")
            value = _number(text, where)
            if value is None:
                raise WiringFileError(f"{where}: {item!r} has no value; write one.")
            data[name] = value
        parts[ref] = Part(ref, row["kind"], row["part"], data, row)
    return parts


def parse_boards(lines: Iterable[str]) -> dict[str, dict[str, BoardPin]]:
    """Rows of boards.csv: board -> pin label -> facts."""
    boards: dict[str, dict[str, BoardPin]] = {}
    for _, row in _rows("boards.csv", lines):
        facts = BoardPin(
            gpio=int(row["gpio"]) if row["gpio"] else None,
            header=row["header"],
            kind=row["kind"],
            spi=row["spi"],
            avoid=row["avoid"],
        )
        for board in row["board"].split("|"):
            boards.setdefault(board, {})[row["pin"]] = facts
    return boards


def load(folder: Path = HERE) -> Tables:
    """All four tables of a folder. Raises WiringFileError, or OSError if a file is missing."""

    def lines(name: str) -> list[str]:
        return (folder / name).read_text(encoding="utf-8").splitlines()

    return Tables(
        wires=parse_wires(lines("wiring.csv")),
        pins=parse_pins(lines("pins.csv")),
        parts=parse_parts(lines("parts.csv")),
        boards=parse_boards(lines("boards.csv")),
    )


def board_pins(tables: Tables, board: str) -> dict[str, str]:
    """Pin name of A1 (SCK, 3V3, ...) -> label on a board. Raises KeyError: no such board."""
    if board not in BOARDS:
        raise KeyError(f"no board {board!r}; there are {', '.join(BOARDS)}")
    return {w.a[1]: w.board_pins[board] for w in tables.wires if w.board_pins}


def gpio_by_role(tables: Tables, board: str) -> dict[str, int]:
    """Role in small letters -> GPIO number on the given board: what the firmware must use."""
    roles = {}
    for name, label in board_pins(tables, board).items():
        facts = tables.boards[board].get(label)
        if facts is not None and facts.gpio is not None:
            roles[name.lower()] = facts.gpio
    return roles

"""Draws schematic.svg from the wiring: ``python -m hardware.schematic``.

Where things lie on the sheet is decided here; what is joined to what is not. Every line
goes from the real position of one pin to that of another and is noted, so that a test can
compare the drawing with wiring.csv net by net. The numbers beside the board's pins come
from wiring.csv and boards.csv, the values of parts from parts.csv.
"""

import sys
from itertools import pairwise
from typing import Literal

import schemdraw
import schemdraw.elements as elm

from hardware.netlist import BOARD, HERE, Pin, Tables, WiringFileError, load

Spot = tuple[float, float]
TARGET = HERE / "schematic.svg"


class Sheet:
    """A drawing that remembers where each pin is and which pins its lines join."""

    def __init__(self, tables: Tables) -> None:
        schemdraw.use("svg")
        self.tables = tables
        self.drawing = schemdraw.Drawing(show=False)
        self.drawing.config(fontsize=11, font="sans-serif", lw=1.4, bgcolor="white", margin=0.6)
        self.at: dict[Pin, Spot] = {}
        self.joins: list[tuple[str, str]] = []

    def add(self, element: elm.Element) -> elm.Element:
        return self.drawing.add(element)

    def text(self, spot: Spot, text: str, size: float) -> None:
        self.add(elm.Label().theta(0).at(spot).label(text, loc="center", fontsize=size))

    def box(self, title: str, low: Spot, high: Spot) -> None:
        """The outline of a part with many pins, its name at the bottom inside."""
        self.add(elm.Rect(corner1=low, corner2=high).at((0, 0)))
        self.text(((low[0] + high[0]) / 2, low[1] - 0.45), title, 12)

    def pin(self, pin: Pin, spot: Spot, side: Literal["left", "right"], outside: str = "") -> None:
        """A pin on the right or left edge of a box, named inside, with a note outside."""
        self.at[pin] = spot
        inward = -0.22 if side == "right" else 0.15
        label = elm.Label().theta(0).at((spot[0] + inward, spot[1]))
        self.add(label.label(pin[1], loc="center", halign=side, valign="center", fontsize=11))
        if outside:
            other: Literal["left", "right"] = "left" if side == "right" else "right"
            label = elm.Label().theta(0).at((spot[0] - inward, spot[1] + 0.08))
            self.add(label.label(outside, loc="center", halign=other, valign="bottom", fontsize=9))

    def two(
        self, ref: str, element: elm.Element, run: tuple[Spot, Spot], ends: str, text: str = ""
    ) -> None:
        """A two-ended part along `run`, which goes down or left; `ends` names its pins."""
        below = run[0][1] != run[1][1]
        label = text or self.value(ref).replace(" ", "\n" if below else " ", 1)
        element.at(run[0]).to(run[1])
        self.add(element.label(label, loc="bottom" if below else "top", fontsize=10))
        for name, spot in zip(ends.split(), run, strict=True):
            self.at[(ref, name)] = spot

    def line(self, *stops: Pin | Spot) -> None:
        """A line through pins (part, name) and bare spots (x, y); pins on it are joined."""
        spots = [self.at[s] if isinstance(s[0], str) else s for s in stops]
        for a, b in pairwise(spots):
            if a != b:
                self.add(elm.Line().at(a).to(b))
        pins = [".".join(s) for s in stops if isinstance(s[0], str)]
        self.joins.extend(pairwise(pins))

    def dot(self, spot: Spot) -> None:
        self.add(elm.Dot(radius=0.07).at(spot))

    def tap(self, pin: Pin, other: Pin) -> None:
        """From a pin straight up or down to the level line of another pin, with a dot."""
        x, y = self.at[pin]
        level = self.at[other][1]
        if y != level:
            self.add(elm.Line().at((x, y)).to((x, level)))
        self.dot((x, level))
        self.joins.append((".".join(pin), ".".join(other)))

    def ground(self, pin: Pin, spot: Spot | None = None) -> None:
        """A ground symbol at a pin, or at another spot on its line."""
        self.add(elm.Ground().at(spot or self.at[pin]))
        self.joins.append(("GND", ".".join(pin)))

    def value(self, ref: str) -> str:
        """Reference and value of a resistor or capacitor, for its label."""
        data = self.tables.parts[ref].data
        if "resistance_ohm" in data:
            ohm = data["resistance_ohm"]
            return f"{ref} {ohm / 1000:g} kΩ" if ohm >= 1000 else f"{ref} {ohm:g} Ω"
        farad_n = data["capacitance_nf"]
        return f"{ref} {farad_n / 1000:g} µF" if farad_n >= 1000 else f"{ref} {farad_n:g} nF"


RIGHT = {"3V3": 10.2, "CS": 7.0, "SCK": 5.6, "MOSI": 4.2, "MISO": 2.8, "GND1": 1.4}
LEFT = {"5V": 10.2, "BEEPER": 7.4, "LIGHT": 4.4, "BUTTON": 2.3, "GND2": 0.9}
CONVERTER = {"VIN": "3V3", "CS": "CS", "SCK": "SCK", "SDI": "MOSI", "SDO": "MISO", "GND": "GND1"}
"""Converter pin -> the board pin drawn at the same height."""


def _board(sheet: Sheet) -> None:
    sheet.box("A1 board", (0.0, 0.2), (3.6, 11.2))
    labels = {}
    for wire in sheet.tables.wires:
        if wire.board_pins:
            pico, s3 = wire.board_pins["pico"], wire.board_pins["esp32s3"]
            header = sheet.tables.boards["pico"][pico].header
            labels[wire.a[1]] = f"{pico.split()[0]} ({header}) | {s3.split()[0]}"
    for name, y in RIGHT.items():
        sheet.pin((BOARD, name), (3.6, y), "right", labels[name])
    for name, y in LEFT.items():
        sheet.pin((BOARD, name), (0.0, y), "left", labels[name])


def _converter(sheet: Sheet) -> None:
    sheet.box("U1 MAX31856 board", (14.2, 0.6), (17.4, 11.2))
    for name, role in CONVERTER.items():
        sheet.pin(("U1", name), (14.2, RIGHT[role]), "left")
        sheet.line((BOARD, role), ("U1", name))
    top = RIGHT["3V3"]
    sheet.two("R1", elm.Resistor(), ((9.2, top), (9.2, 8.5)), "1 2")
    sheet.tap(("R1", "1"), ("U1", "VIN"))
    sheet.tap(("R1", "2"), ("U1", "CS"))
    sheet.two("C1", elm.Capacitor(), ((12.6, top), (12.6, 8.9)), "1 2")
    sheet.tap(("C1", "1"), ("U1", "VIN"))
    sheet.ground(("C1", "2"))
    sheet.dot((12.6, RIGHT["GND1"]))
    sheet.ground(("U1", "GND"), (12.6, RIGHT["GND1"]))


def _probe(sheet: Sheet) -> None:
    x = 18.8
    for name, y in (("+", 6.8), ("-", 4.8)):
        sheet.pin(("U1", f"T{name}"), (17.4, y), "right")
        sheet.at[("J1", name)] = (x + 2.2, y)
        sheet.dot((x, y))
        sheet.add(elm.Dot(open=True).at((x + 2.2, y)).label(f"J1 {name}", loc="right"))
    sheet.two("C2", elm.Capacitor(), ((x, 6.8), (x, 4.8)), "1 2")
    sheet.line(("U1", "T+"), ("C2", "1"), ("J1", "+"))
    sheet.line(("U1", "T-"), ("C2", "2"), ("J1", "-"))
    sheet.text((x + 1.4, 7.6), "to the probe P1", 11)
    sheet.text((x + 1.4, 3.9), "junction ungrounded;\nits own alloys up to U1", 9)


def _beeper(sheet: Sheet) -> None:
    top, coil_y, base_y = LEFT["5V"], 8.6, LEFT["BEEPER"]
    sheet.two("R4", elm.Resistor(), ((-3.2, base_y), (-5.2, base_y)), "1 2")
    sheet.line((BOARD, "BEEPER"), ("R4", "1"))
    q1 = sheet.add(elm.BjtNpn(circle=True).theta(0).reverse().anchor("base").at((-6.3, base_y)))
    for pin, anchor in (("B", "base"), ("C", "collector"), ("E", "emitter")):
        point = q1.absanchors[anchor]
        sheet.at[("Q1", pin)] = (round(point[0], 4), round(point[1], 4))
    sheet.text((sheet.at[("Q1", "C")][0] - 0.75, base_y), "Q1", 10)
    sheet.line(("R4", "2"), ("Q1", "B"))
    sheet.ground(("Q1", "E"))
    sheet.two("R5", elm.Resistor(), ((-5.5, base_y), (-5.5, 5.9)), "1 2")
    sheet.tap(("R5", "1"), ("Q1", "B"))
    sheet.ground(("R5", "2"))
    x = sheet.at[("Q1", "C")][0]
    sheet.two("D1", elm.Diode(), ((x, coil_y), (x, top)), "A K", "D1")
    sheet.two("B1", elm.RBox(), ((x - 2, top), (x - 2, coil_y)), "+ -", "B1\nbeeper")
    sheet.text((x - 1.7, top - 0.3), "+", 10)
    run = ((x - 4.4, top), (x - 4.4, coil_y))
    sheet.two("C3", elm.Capacitor(polar=True), run, "+ -")
    sheet.two("F1", elm.Fuse(), ((-3.2, top), (-5.2, top)), "1 2", "F1 0.2 A")
    sheet.line((BOARD, "5V"), ("F1", "1"))
    sheet.line(("F1", "2"), ("D1", "K"), ("B1", "+"), ("C3", "+"))
    sheet.line(("Q1", "C"), ("D1", "A"), ("B1", "-"))
    sheet.ground(("C3", "-"))
    for spot in ((x, top), (x - 2, top), (x, coil_y)):
        sheet.dot(spot)


def _light_and_button(sheet: Sheet) -> None:
    y = LEFT["LIGHT"]
    sheet.two("R6", elm.Resistor(), ((-3.2, y), (-5.2, y)), "1 2")
    sheet.line((BOARD, "LIGHT"), ("R6", "1"))
    sheet.two("D2", elm.LED(), ((-7.6, y), (-7.6, y - 1.6)), "A K", "D2\nlight")
    sheet.line(("R6", "2"), ("D2", "A"))
    sheet.ground(("D2", "K"))
    y, foot = LEFT["BUTTON"], 0.7
    sheet.two("S1", elm.Button(), ((-4.0, y), (-4.0, foot)), "1 2", "S1")
    sheet.two("C4", elm.Capacitor(), ((-5.6, y), (-5.6, foot)), "1 2")
    sheet.line((BOARD, "BUTTON"), ("S1", "1"), ("C4", "1"))
    sheet.dot((-4.0, y))
    sheet.ground(("S1", "2"))
    sheet.ground(("C4", "2"))
    sheet.line((BOARD, "GND2"), (-2.9, LEFT["GND2"]))
    sheet.ground((BOARD, "GND2"), (-2.9, LEFT["GND2"]))


def build(tables: Tables) -> Sheet:
    """The whole sheet, ready to be saved. Raises KeyError if a drawn pin is not in the tables."""
    sheet = Sheet(tables)
    _board(sheet)
    _converter(sheet)
    _probe(sheet)
    _beeper(sheet)
    _light_and_button(sheet)
    sheet.text((1.8, 11.7), "beside a pin: Pico or Pico 2 (header number) | ESP32-S3", 10)
    return sheet


def svg(tables: Tables) -> bytes:
    """The drawing as SVG; the same tables give the same bytes."""
    return build(tables).drawing.get_imagedata("svg")


def main() -> int:
    """Write schematic.svg beside this file."""
    try:
        TARGET.write_bytes(svg(load()))
    except WiringFileError as error:
        print(error)
        return 1
    print(f"wrote {TARGET.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

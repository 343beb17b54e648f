"""The building guide against the tables it is made from: parts, wires, checks, cautions."""

import csv
import math
import re

import pytest

from hardware import electrical_check, netlist, readme_tables
from markdown_tables import MarkerError
from snapcurve.probe import sounds

HERE = netlist.HERE
README = (HERE / "README.md").read_text(encoding="utf-8")
PROSE = re.sub(r"<!-- table (\w+) -->.*?<!-- end \1 -->", "", README, flags=re.DOTALL)


@pytest.fixture(scope="module")
def tables():
    return netlist.load()


def test_that_the_tables_in_the_readme_are_those_of_the_csv_files(tables):
    assert readme_tables.fill(README, tables) == README
    for number, wire in enumerate(tables.wires, start=1):
        line = f"| {number} | {wire.a[0]}.{wire.a[1]} |"
        assert README.count(line) == 1


def test_that_a_missing_table_marker_is_reported(tables):
    with pytest.raises(MarkerError, match="table tools"):
        readme_tables.fill(README.replace("<!-- end tools -->", ""), tables)


def test_that_every_part_of_the_text_is_in_the_list_and_the_other_way_round(tables):
    named = set(re.findall(r"(?<![-\w])[ABCDEFJMPQRSTU]\d{1,2}\b", PROSE))
    assert named == set(tables.parts)


THINGS = [
    "perfboard", "socket", "screw", "foot|feet", "ferrite", "foam", "adapter", "solder", "iron",
    "glasses", "magnifier", "multimeter", "screwdriver", "jug", "clip", "heat-shrink", "cable",
    "tie", "flux", "beeper", "button", "light", "resistor", "capacitor", "diode", "transistor",
    "thermocouple", "alcohol", "power banks?", "ice",
]  # fmt: skip


def test_that_things_named_by_words_are_in_the_list_too():
    """A person shops by words: each thing that the text uses stands in parts.csv by that word."""
    with (HERE / "parts.csv").open(encoding="utf-8", newline="") as file:
        listed = " ".join(" ".join(row) for row in csv.reader(file)).lower()
    used = [t for t in THINGS if re.search(rf"\b({t})\b", PROSE.lower())]
    assert len(used) >= 18
    for thing in used:
        assert re.search(rf"({thing})", listed), thing


def test_that_every_pin_of_the_text_is_in_the_wiring(tables):
    pins = {(a, b) for a, b in re.findall(r"\b([ABCDFJQRSU]\d)\.([A-Z+][A-Z0-9+]*)", PROSE)}
    assert len(pins) >= 5
    assert pins <= set(tables.pins)
    for label in re.findall(r"\bGP(?:IO)?\d+\b", PROSE):
        homes = [netlist.board_pins(tables, b).values() for b in netlist.BOARDS]
        assert any(label in home for home in homes), label


def test_that_every_check_is_numbered_and_has_an_expected_value():
    rows = [line for line in PROSE.splitlines() if re.match(r"\| \d+ \|", line)]
    assert [int(row.split("|")[1]) for row in rows] == list(range(1, len(rows) + 1))
    assert len(rows) >= 25
    for row in rows:
        expected = row.split("|")[3].strip()
        assert re.search(r"\d", expected), row


def test_the_expected_values_against_the_parts(tables):
    """Arithmetic on the part values, so that a changed part changes the text."""

    def ohm(ref):
        return tables.parts[ref].data["resistance_ohm"]

    def expected(number):
        row = next(r for r in PROSE.splitlines() if r.startswith(f"| {number} |"))
        return [float(x) for x in re.findall(r"\d+(?:\.\d+)?", row.split("|")[3])]

    assert expected(5) == pytest.approx([0.95 * ohm("R1") / 1e3, 1.05 * ohm("R1") / 1e3])
    series = (ohm("R4") + ohm("R5")) / 1e3
    assert expected(6) == pytest.approx([0.95 * series, 1.05 * series], abs=0.1)
    coil = tables.parts["B1"].data
    spread = coil["coil_ohm"] * coil["coil_tolerance_pct"] / 100
    assert expected(7)[:2] == pytest.approx(
        [coil["coil_ohm"] - spread, coil["coil_ohm"] + spread], abs=1
    )
    low, high = expected(16)
    facts = tables.pins[("U1", "VIN")]
    assert (low, high) == (facts.min_v, facts.max_v)


def test_the_loudness_is_that_of_the_part_at_a_metre(tables):
    """A point source: 20 dB for ten times the distance (inverse square law)."""
    at_10_cm = tables.parts["B1"].data["spl_db_at_10cm"]
    text = " ".join(PROSE.split())
    assert f"given with {at_10_cm:g} dB at 10 cm" in text
    at_1_m = at_10_cm - 20 * math.log10(100 / 10)
    assert f"less, {at_1_m:g} dB; take 10 dB off for the box" in text
    assert f"and {at_1_m - 10:g} dB stay" in text
    pitches = sorted({row[2] for row in sounds.TABLE})
    assert "{}, {} and {} Hz".format(*pitches) in text


def test_that_no_protection_class_is_claimed():
    text = " ".join(PROSE.split())
    assert "The box claims none" in text
    assert not re.search(r"\bIP ?\d\d\b", PROSE)


def test_that_the_links_lead_somewhere():
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert {"schematic.svg", "wiring.csv", "parts.csv", "enclosure/enclosure.png"} <= set(links)
    for link in links:
        assert (HERE / link).is_file(), link


@pytest.mark.parametrize(
    "caution",
    ["microwave", "hot-air gun", "burns", "mains", "water and chocolate", "allergens",
     "no danger alarm", "no food-safety control point", "licensed",
     "has not been built on a bench yet", "snapcurve calibrate ice", "1935/2004"],
)  # fmt: skip
def test_that_the_cautions_and_honest_words_are_there(caution):
    assert caution in " ".join(PROSE.lower().split())


def test_that_the_calculated_currents_in_the_list_hold(tables):
    """parts.csv warns of base resistors that ask too much of a pin; the sums agree."""
    limit = tables.pins[("A1", "BEEPER")].max_ma
    low = float(re.search(r"under (\d+) ohm", tables.parts["R4"].row["avoid"])[1])
    drop = electrical_check.V_GPIO_HIGH - electrical_check.V_BASE_EMITTER
    assert 1000 * drop / low <= limit < 1000 * drop / (low * 0.9)

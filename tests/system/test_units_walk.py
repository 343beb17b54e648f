"""With a person's own units, no command shows another: °F, ounces, a decimal comma and Letter."""

import re
from pathlib import Path

import pytest
from pypdf import PdfReader
from running import DATA, Bench

SETTINGS = """
temperature = "F"
mass = "oz"
decimal = "comma"
dates = "en-us"
paper = "Letter"
operator = "Ilka Brandner"
"""
OUTCOMES = "batch,released,gloss\n{milk},yes,yes\n{dark},yes,no\n"
# What is no quantity: versions and files, clauses of standards, addresses of ports.
NO_QUANTITY = re.compile(
    r"\b(?:firmware|version) \d+\.\d+\.\d+|\S+\.(?:svg|png|pdf|csv|json|toml|db|wav)\b|/\S+"
    r"|https?:\S+|\bP?\d+\.\d+\.\d+\b"
)
FOREIGN = {
    "degrees Celsius": re.compile(r"°C"),
    "grams": re.compile(r"\d\s?k?g\b"),
    "a decimal point": re.compile(r"\d\.\d"),
    "A4": re.compile(r"\bA4\b"),
}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """Two batches, a cup and what belongs to them."""
    made = Bench(tmp_path_factory.mktemp("own units"))
    (made.folder / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    codes = {
        name: made.ok_json("rehearse", name, "--speed", "max", "--method", method)["batch"]
        for name, method in (("milk", "seeding"), ("dark", "three-step"))
    }
    made.ok("rehearse", "milk", "--speed", "max", "--method", "cup", "--number", "2")
    made.ok("lot", "1", "milk couverture", "MC-104", "--mass", "40 oz")
    (made.folder / "trays.csv").write_text(OUTCOMES.format(**codes), encoding="utf-8")
    return made


def foreign(text: str) -> list[str]:
    """Lines of ``text`` with something in other units."""
    found = []
    for line in text.splitlines():
        bare = NO_QUANTITY.sub("", line)
        found += [f"{what}: {line}" for what, sign in FOREIGN.items() if sign.search(bare)]
    return found


COMMANDS = {
    "plan": "plan milk --mass 40oz --room 70F --chart plan.svg",
    "plan water": "plan --water-test 50 68 52",
    "plan slab": "plan dark --mass 40oz --method slab",
    "rescue": "rescue milk --mass 35oz --temp 88,5F --showed mark --chart rescue.svg",
    "rescue warm": "rescue dark --mass 35oz --temp 92F --showed early",
    "couvertures": "couvertures",
    "couverture": "couvertures milk --chart heat.svg",
    "today": "today --room 70 --mass 40",
    "lot": "lot today cream CR-7 --mass 3,5oz",
    "load": "load milk --port rehearsal",
    "watch": "watch --port rehearsal --seconds 3",
    "probe": "probe --port rehearsal",
    "status": "--port rehearsal",
    "calibrate": "calibrate show --port rehearsal",
    "batches": "batches --rehearsals",
    "show": "show 1 --complaint bloom --chart show.svg",
    "show cup": "show 3 --chart cup.svg",
    "compare": "show 1 2 --chart both.svg",
    "note": "note 1 --amend mass 41oz --why weighed",
    "trace": "trace MC-104 --rehearsals",
    "sheet": "sheet 1 --output sheet.pdf",
    "sheet cup": "sheet 3 --output cup.pdf",
    "learn": "learn milk --rehearsals --outcomes trays.csv --chart learn.svg",
    "rehearse": "rehearse white --speed max --work-minutes 1 --chart rehearsal.svg",
    "replay": f"replay {DATA / 'water_cooling_fan.csv'} --couverture milk",
    "notebook": "notebook check",
}


def drawn(path: Path) -> str:
    """The words in a chart, or on the pages of a sheet."""
    if path.suffix == ".svg":
        words = re.sub(r"<style.*?</style>", "", path.read_text("utf-8"), flags=re.S)
        return "\n".join(re.findall(r"<text[^>]*>([^<]*)</text>", words))
    pages = PdfReader(path).pages
    assert float(pages[0].mediabox.width) == pytest.approx(8.5 * 72)
    return "\n".join(page.extract_text() for page in pages)


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_shows_another_unit(bench: Bench, name: str) -> None:
    words = COMMANDS[name].split()
    assert foreign(bench.ok(*words)) == []
    for word in words:
        if word.endswith((".svg", ".pdf")):
            text = drawn(bench.folder / word)
            assert text
            assert foreign(text) == []


@pytest.mark.parametrize("command", ["plan", "rescue"])
def test_help_has_the_own_degrees(bench: Bench, command: str, tmp_path: Path) -> None:
    out = bench.ok(command, "--help")
    assert "68 °F" in out
    assert "°C" not in out
    broken = Bench(tmp_path)
    (tmp_path / "settings.toml").write_text("temperature = ", encoding="utf-8")
    assert "20 °C" in broken.ok(command, "--help")


def test_that_the_other_units_would_be_seen() -> None:
    assert len(foreign("31 °C\n40 g\n1.5 kg on A4")) == 5
    assert foreign("88,5 °F, 40,2 oz, Letter, show.svg, firmware 0.1.0") == []

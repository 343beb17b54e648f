"""Batch sheets and settings as a person asks for them."""

import json
import zlib
from pathlib import Path

import pytest
from running import Bench

from snapcurve.board.client import CurveRow
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import open_notebook
from snapcurve.recording.curve import decode

RECORDED = Path(__file__).parents[1] / "host" / "data" / "three_step.curve"


@pytest.fixture
def filed(bench: Bench) -> Bench:
    """A computer with one batch in its notebook."""
    raw = RECORDED.read_bytes()
    curve = decode(raw)
    row = CurveRow(
        curve=curve.curve,
        generation=1,
        boot=curve.boot,
        size=len(raw),
        crc=zlib.crc32(raw),
        state="closed",
    )
    with open_notebook(str(bench.folder / "notebook.db")) as notebook:
        notebook.file_batch(new_batch(curve, raw, row, "pico"))
    return bench


def _words(path: Path) -> str:
    import pypdf

    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_a_sheet_of_the_last_batch(filed: Bench) -> None:
    name = filed.ok("sheet", "last").strip()
    words = _words(filed.folder / name)
    assert "Dark couverture" in words
    assert "page 1 of 2" in words
    assert "48 °C" in words


def test_settings_reach_sheet_list_and_couvertures(filed: Bench) -> None:
    for key, value in (
        ("temperature", "F"),
        ("decimal", "comma"),
        ("dates", "de"),
        ("paper", "Letter"),
        ("operator", "Αγγελική Ψαρρά"),
    ):
        filed.ok("settings", "set", key, value)
    shown = json.loads(filed.ok("settings", "--json"))
    assert (shown["temperature"], shown["operator"]) == ("F", "Αγγελική Ψαρρά")
    path = filed.folder / "sheet.pdf"
    assert filed.ok("sheet", "last", "--output", str(path)).strip() == str(path)
    words = _words(path)
    assert "118,4 °F" in words  # 48 °C
    assert "°C" not in words
    listed = filed.ok("couvertures")
    assert "melt 113," in listed
    assert "86 to 89,6" in listed
    data = json.loads(filed.ok("couvertures", "--json"))
    assert {row["id"]: row["melt_c"] for row in data}["milk"] == 45
    import pypdf

    size = pypdf.PdfReader(path).pages[0].mediabox
    assert (float(size.width), float(size.height)) == (612, 792)  # letter


def test_settings_are_refused_in_a_sentence(bench: Bench) -> None:
    assert 'write "C" or "F"' in bench.refused("settings", "set", "temperature", "K")
    assert "did you mean mass" in bench.refused("settings", "set", "mas", "g")
    assert "Nothing to set was named" in bench.refused("settings", "set", "mass")
    assert "settings set KEY VALUE" in bench.refused("settings", "show", "mass")
    (bench.folder / "settings.toml").write_text("temperature = F\n")
    for command in (("settings",), ("batches",), ("couvertures",)):
        assert "settings.toml, line 1" in bench.refused(*command)


def test_sheets_are_refused_in_a_sentence(filed: Bench) -> None:
    assert "2020-01-01-01" in filed.refused("sheet", "2020-01-01-01")
    assert "A4 or Letter" in filed.refused("sheet", "last", "--paper", "A3")
    assert ".pdf" in filed.refused("sheet", "last", "--output", "sheet.png")
    assert "nowhere" in filed.refused("sheet", "last", "--output", "nowhere/sheet.pdf")

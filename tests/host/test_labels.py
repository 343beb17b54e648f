"""A label for tray or box; its code is read back by zxing-cpp, which had no part in it."""

import json

import pypdfium2
import pytest
import zxingcpp
from notebook_samples import with_curve
from PIL import Image
from pypdf import PdfReader

from snapcurve.notebook.allergens import Allergens, Source
from snapcurve.notebook.records import Lot
from snapcurve.notebook.witnesses import written
from snapcurve.report.label import LAYOUTS, Label, write_label


@pytest.fixture
def any_place(tmp_path):
    """A file: it is the same on a server, and test_notebook_entries.py tries both."""
    return str(tmp_path / "notebook.db")


BY = ("--by", "Ilka Brandner")
MILK = Lot("milk couverture", "MC-104", "Hollerbach", None, ("milk", "soya"))
NUTS = Lot("hazelnut paste", "HZ-77")
HOLDS = Allergens((Source("couverture", ("milk", "soya")), Source("hazelnut paste HZ-77", None)))
WORDS = """\
Bars of 70 g, "Früh"
Batch 2026-11-24-01
Best before 2027-05-01
Contains soya, milk
Not known: hazelnut paste HZ-77"""


def read(image):
    return [one.text for one in zxingcpp.read_barcodes(image)]


@pytest.fixture
def code(any_book, type_in):
    code = any_book.file_batch(with_curve(allergens=(), lots=(MILK, NUTS))).code
    type_in("note", code, "--made", 'Bars of 70 g, "Früh"', "--best-before", "2027-05-01", *BY)
    type_in("note", code, "--made", "leftover", "--mass", "100g", *BY)
    return code


@pytest.mark.parametrize("size", LAYOUTS)
def test_the_code_on_a_png_says_what_the_label_says(type_in, any_book, code, tmp_path, size):
    path = tmp_path / "label.png"
    type_in("sheet", code, "--label", str(path), "--size", size)
    with Image.open(path) as image:
        wide, high = (length / image.info["dpi"][0] * 25.4 for length in image.size)
        assert (wide, high) == pytest.approx(LAYOUTS[size].size_mm, abs=0.1)
        assert read(image) == [f"{WORDS}\n{written(any_book.chain_end())}"]


@pytest.mark.parametrize(("size", "first", "count"), [("70x37", 1, 24), ("66.7x25.4", 5, 26)])
def test_a_sheet_of_labels_on_both_papers(type_in, any_book, code, tmp_path, size, first, count):
    path = tmp_path / "labels.pdf"
    type_in("sheet", code, "--label", str(path), "--size", size, "--from-place", str(first))
    (page,) = PdfReader(path).pages
    assert page.extract_text().count("Not known: hazelnut") == count
    size_mm = [float(one) * 25.4 / 72 for one in page.mediabox[2:]]
    assert size_mm == pytest.approx(LAYOUTS[size].paper_mm, abs=0.1)
    with pypdfium2.PdfDocument(path) as document:
        image = document[0].render(scale=300 / 72).to_pil()
    codes = zxingcpp.read_barcodes(image)
    assert [one.text for one in codes] == [f"{WORDS}\n{written(any_book.chain_end())}"] * count
    # each within its own place
    for one in codes:
        column = (one.position.top_left.x / 300 * 25.4 - LAYOUTS[size].first_mm[0]) / (
            LAYOUTS[size].pitch_mm[0]
        )
        right = (one.position.top_right.x / 300 * 25.4 - LAYOUTS[size].first_mm[0]) / (
            LAYOUTS[size].pitch_mm[0]
        )
        assert int(column) == int(right)


def test_what_does_not_fit_is_refused_and_never_cut(tmp_path):
    from snapcurve.errors import SnapcurveError

    many = Allergens(tuple(Source(f"paste of the autumn {number}", None) for number in range(30)))
    long_word = Label("2026-11-24-01", "B" * 80, "", HOLDS)
    for label in (Label("2026-11-24-01", "Bars", "", many), long_word):
        with pytest.raises(SnapcurveError, match="choose a larger"):
            write_label(label, "66.7x25.4", tmp_path / "label.png", 1, 1)
    assert list(tmp_path.iterdir()) == []
    free = Label("2026-11-24-01", "Bars", "", Allergens((Source("couverture", ()),)), True)
    assert free.content == "REHEARSAL Bars\nBatch 2026-11-24-01\nNo allergens declared"


def test_a_label_that_cannot_be_is_said_so(type_in, code, tmp_path):
    label = ("sheet", code, "--label", str(tmp_path / "label.pdf"))
    for words, complaint in (
        (("--size", "10x10"), "no label '10x10'"),
        (("--copies", "25"), "has 24 places"),
        (("--from-place", "0"), "has 24 places"),
        (("--made", "hearts"), "one of what was made"),
        (("-o", str(tmp_path / "x.pdf")), "leave them out"),
    ):
        assert complaint in type_in(*label, *words, fails=True)
    assert "goes with --label" in type_in("sheet", code, "--copies", "3", fails=True)
    type_in("note", code, "--made", "hearts", *BY)
    assert "Which label?" in type_in(*label, fails=True)
    type_in(*label, "--made", "hearts")
    assert json.loads(type_in("show", code, "--json"))["made"][-1]["name"] == "hearts"

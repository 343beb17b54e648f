"""A recall: from a lot to all that was made of it and where it went, and back from a batch."""

import json
import subprocess
import sys

import pytest
from notebook_samples import DAY_MS, START_UNIX_MS, new_batch
from pypdf import PdfReader

from snapcurve.notebook import allergens, open_notebook
from snapcurve.notebook.records import Lot, NewEntry
from snapcurve.report.sheet_document import PAPERS_MM

WHO = "Ilka Brandner"
MILK = Lot("milk couverture", "MC-104", "Hollerbach", 1_000_000, ("milk", "soya"))
NUTS = Lot("hazelnut paste", "HZ-77")


def filed(book, number, *lots, **changed):
    started = START_UNIX_MS + number * DAY_MS
    new = new_batch(number, **{"started": started, "lots": lots, "allergens": (), **changed})
    return book.file_batch(new).code


def leftover(book, code, of, **more):
    payload = {"ingredient": "leftover", "lot": of, **more}
    book.add_entry(NewEntry("lot", WHO, payload), code)


@pytest.fixture
def three(any_book):
    """Milk with a paste of unknown allergens; its leftover went on into two more batches."""
    first = filed(any_book, 1, MILK, NUTS, mass_mg=1_200_000)
    second, third = filed(any_book, 2, mass_mg=1_500_000), filed(any_book, 3)
    leftover(any_book, second, first, mass_mg=250_000)
    leftover(any_book, third, second)
    return first, second, third


def note_what_was_made(type_in, first, second):
    type_in(
        "note", first, "--made", "bars of 70 g", "--pieces", "10", "--mass", "700g",
        "--best-before", "2027-05-01", "--to", "shop at the Lindenhof", "--by", WHO,
    )  # fmt: skip
    said = type_in("note", second, "--made", "hearts", "--pieces", "120", "--by", WHO)
    # the login stands behind it where there is one
    assert said.strip().removesuffix(" (login owner)").endswith("made hearts, 120 pieces")


def test_what_was_made_and_where_it_went_in_one_command(three, type_in):
    first, second, third = three
    note_what_was_made(type_in, first, second)
    said = type_in("trace", "MC-104")
    tree, _, rest = said.partition("\nWhat was made, and where it went:\n")
    made, _, unknown = rest.partition("\nWhat is not known:\n")
    heads = [line for line in tree.splitlines() if "  2026-" in line]
    # each below the batch whose leftover it had
    assert [line.index("2026-") for line in heads] == [0, 3, 6]
    assert [line.strip(" │├─└")[:13] for line in heads] == [first, second, third]
    assert "├─ with hazelnut paste, lot HZ-77, allergens not known" in tree
    assert "with leftover, lot 2026-11-25-01, 250 g, allergens soya, milk" in tree
    rows = [line.split() for line in made.strip().splitlines()[1:]]
    assert [row[-1] for row in rows] == [first, second, third]
    words = "bars of 70 g 10 700 g 2027-05-01 shop at the Lindenhof"
    assert " ".join(rows[0][:-1]) == words
    assert rows[2] == ["not", "noted", "not", "noted", third]
    assert f"! {first}: 250 g of its 1200 g is not accounted for; allergens not known" in unknown
    assert f"! {second}: not noted where it went: hearts; 1500 g of its 1500 g" in unknown
    assert f"! {third}: nothing is noted of what was made of it; allergens not" in unknown


def test_a_batch_is_traced_to_both_ends(three, type_in):
    first, second, third = three
    note_what_was_made(type_in, first, second)
    said = type_in("trace", second)
    forward, _, rest = said.partition("\nWhat went in:\n")
    backward = rest.partition("\nWhat was made")[0]
    assert [forward.count(f"{code}  2026") for code in three] == [0, 1, 1]
    assert [backward.count(f"{code}  2026") for code in three] == [1, 1, 0]
    assert "with milk couverture, lot MC-104, of Hollerbach, 1000 g" in backward
    told = json.loads(type_in("trace", second, "--json"))
    assert [one["batch"] for one in told["forward"]] == [third]
    assert [one["batch"] for one in told["backward"]] == [first]
    assert told["itself"]["made"] == [
        {"name": "hearts", "pieces": 120, "mass_g": None, "best_before": None, "where": ""}
    ]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_trace_on_paper(three, type_in, tmp_path, paper):
    first, second, third = three
    note_what_was_made(type_in, first, second)
    path = tmp_path / "recall.pdf"
    assert type_in("trace", "MC-104", "-o", str(path), "--paper", paper).endswith(f"{path}\n")
    reader = PdfReader(path)
    assert len(reader.pages) <= 2
    size_mm = [float(one) * 25.4 / 72 for one in reader.pages[0].mediabox[2:]]
    assert size_mm == pytest.approx(PAPERS_MM[paper.lower()], abs=0.1)
    text = " ".join(page.extract_text() for page in reader.pages)
    for words in (
        "Trace of lot MC-104", "shop at the Lindenhof", "2027-05-01", third,
        "nothing is noted of what was made of it", "your own plan for a recall",
    ):  # fmt: skip
        assert words in " ".join(text.split())
    assert "--replace" in type_in("trace", "MC-104", "-o", str(path), fails=True)


def test_a_mock_recall_is_one_command_in_a_process_of_its_own(tmp_path):
    place = str(tmp_path / "notebook.db")
    with open_notebook(place) as book:
        code = filed(book, 1, MILK)
        said = {"name": "bars", "pieces": 12, "where": "customer K-22"}
        book.add_entry(NewEntry("made", WHO, said), code)
    command = [sys.executable, "-m", "snapcurve.cli", "trace", "mc-104", "--notebook", place]
    found = subprocess.run(command, capture_output=True, text=True, check=True)
    assert " ".join(found.stdout.split()).count(f"bars 12 customer K-22 {code}") == 1


def test_what_was_noted_wrongly_is_put_right_beside_it(three, type_in, any_book):
    code = three[0]
    note_what_was_made(type_in, *three[:2])
    said = type_in("note", code, "--made", "bars", "--replaces", "bars", "--by", WHO, fails=True)
    assert "but bars of 70 g: name that" in said
    type_in("note", code, "--made", "bars", "--replaces", "bars of 70 g", "--by", WHO)
    assert [one.name for one in any_book.trace(code).itself.made] == ["bars"]
    for words, complaint in (
        (("--made", "bars", "--pieces", "0"), "more than no pieces"),
        (("--made", "bars", "--pieces", "many"), "write digits"),
        (("--pieces", "3"), "go with --made"),
        (("--made", "bars", "--best-before", "soon"), "not a day"),
    ):
        assert complaint in type_in("note", code, *words, "--by", WHO, fails=True)


def test_rehearsals_are_left_out_unless_asked_for(any_book, type_in):
    filed(any_book, 1, MILK)
    practised = filed(any_book, 2, MILK, rehearsal=True)
    said = type_in("trace", "MC-104")
    assert said.startswith(f"Rehearsed or started by mistake, and left out: {practised}")
    assert "1 batch has or had" in said
    assert "2 batches have or had" in type_in("trace", "MC-104", "--rehearsals")


def test_leftover_that_goes_on_for_a_year_is_traced_and_holds_all(tmp_path):
    """A day's leftover into the next day's bowl: no recursion, and nothing is asked twice."""
    with open_notebook(str(tmp_path / "notebook.db")) as book:
        codes = [filed(book, 1, MILK)]
        for number in range(2, 367):
            codes.append(filed(book, number, Lot("leftover", codes[-1])))
        assert [one.batch.code for one in book.trace("MC-104").forward] == codes[::-1]
        trace = book.trace(codes[-1])
        assert [one.batch.code for one in trace.backward] == codes[-2::-1]
        assert allergens.of(book.as_amended(codes[-1])).named == ("soya", "milk")


def test_what_is_not_known_is_named_once_however_it_came(any_book):
    """By every way it would be twice as many names with each bowl."""
    before = [filed(any_book, 1, NUTS)]
    for number in range(2, 8):
        code = filed(any_book, number, *(Lot("leftover", one) for one in before[-2:]))
        before.append(code)
    holds = allergens.of(any_book.as_amended(before[-1]))
    assert holds.not_known == (f"hazelnut paste HZ-77 in {before[0]}",)


def test_the_same_lot_in_another_spelling_is_named_and_not_taken(any_book, type_in):
    first = filed(any_book, 1, MILK)
    other = filed(any_book, 2, Lot("milk couverture", "MC 104"), Lot("milk couverture", "MC-105"))
    said = type_in("trace", "mc-104")
    assert said.splitlines()[1] == (
        "! Also noted, and not in this trace: lot MC 104; if it is the same one, trace it too."
    )
    assert first in said
    assert other not in said

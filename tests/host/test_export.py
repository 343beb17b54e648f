"""The notebook for other programs: tables that join by code, and JSON after its schema."""

import copy
import csv
import io
import json

import jsonschema
import pytest
from notebook_samples import DAY_MS, START_UNIX_MS, with_curve
from typed_schema import FILE, whole, written

from snapcurve.notebook.records import Lot, NewEntry

WHO = "Ilka Brandner"
MILK = Lot("milk couverture", "MC-104", "Hollerbach", 1_000_000, ("milk", "soya"), "2027-01-31")


@pytest.fixture
def codes(any_book):
    """Two batches, one with leftover of the other, and a rehearsal."""

    def filed(number, *lots, **changed):
        new = with_curve(started_unix_ms=START_UNIX_MS + number * DAY_MS, lots=lots, **changed)
        curve = new.curve.__class__(**{**vars(new.curve), "generation": number})
        return any_book.file_batch(new.__class__(**{**vars(new), "curve": curve})).code

    first, second = filed(1, MILK, allergens=()), filed(2, allergens=())
    practised = filed(3, rehearsal=True)
    for kind, code, said in (
        ("lot", second, {"ingredient": "leftover", "lot": first, "mass_mg": 250_000}),
        ("made", first, {"name": "bars", "pieces": 12, "where": "=K-22"}),
        ("dip_test", first, {"result": "failed"}),
    ):
        any_book.add_entry(NewEntry(kind, WHO, said), code)
    any_book.add_entry(NewEntry("cleaning", WHO, {"text": "bowl", "verified": "swab negative"}))
    return first, second, practised


@pytest.fixture
def folder(type_in, codes, tmp_path):
    said = type_in("notebook", "export", str(tmp_path / "out"))
    assert said.splitlines()[-1].endswith("notebook.json")
    return tmp_path / "out"


def table(folder, name):
    text = (folder / name).read_bytes().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_tables_join_by_code(folder, codes):
    first, second, _ = codes
    assert [row["batch"] for row in table(folder, "batches.csv")] == [second, first]
    lots = {(row["batch"], row["lot"], row["best before"]) for row in table(folder, "lots.csv")}
    assert lots == {(first, "MC-104", "2027-01-31"), (second, first, "")}
    (went,) = table(folder, "went_into.csv")
    assert list(went.values()) == [first, second, "leftover", "250.0"]
    (made,) = table(folder, "made.csv")
    assert (made["batch"], made["pieces"], made["went to"]) == (first, "12", "'=K-22")
    (deviation,) = table(folder, "deviations.csv")
    assert (deviation["batch"], deviation["deviation"]) == (first, "dip test")
    assert deviation["open"] == "action, disposition, review"
    dips = table(folder, "dips.csv")
    assert {row["batch"] for row in dips} == {first, second}
    assert "False" in {row["passed"] for row in dips if row["batch"] == first}
    entries = [(row["batch"], row["kind"]) for row in table(folder, "entries.csv")]
    assert ("", "cleaning") in entries
    assert (second, "lot") in entries


def test_the_document_is_as_its_schema_says(folder, codes, any_book):
    held = json.loads((folder / "notebook.json").read_text("utf-8"))
    schema = json.loads(FILE.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    check = jsonschema.Draft202012Validator(schema)
    check.validate(held)
    assert held["chain_end"] == f"{any_book.chain_end().number}:{any_book.chain_end().hash}"
    for spoil in (
        lambda one: one.pop("went_into"),
        lambda one: one["batches"][0].update(verdikt="x"),
        lambda one: one["batches"][0]["deviations"].append({}),
        lambda one: one["went_into"][0].update(mass_g="250"),
    ):
        spoilt = copy.deepcopy(held)
        spoil(spoilt)
        assert not check.is_valid(spoilt)


def test_the_schema_is_that_of_the_code():
    assert FILE.read_text("utf-8") == written(whole())


def test_rehearsals_are_left_out_of_lists_and_export_unless_asked_for(type_in, codes, tmp_path):
    practised = codes[-1]
    said = type_in("batches")
    assert practised not in said
    assert said.endswith("Rehearsals are left out: --rehearsals lists them too.\n")
    assert practised in type_in("batches", "--rehearsals")
    assert practised not in type_in("batches", "--json")
    type_in("notebook", "export", str(tmp_path / "all"), "--rehearsals")
    assert practised in [row["batch"] for row in table(tmp_path / "all", "batches.csv")]


def test_an_export_writes_over_nothing(type_in, folder):
    assert "--replace" in type_in("notebook", "export", str(folder), fails=True)
    type_in("notebook", "export", str(folder), "--replace")
    assert "Name the folder" in type_in("notebook", "export", fails=True)

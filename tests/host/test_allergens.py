"""Allergens in three states, named, declared none and not known, wherever they are shown."""

import csv
import hashlib
import io
import json
import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from notebook_samples import START_UNIX_MS, new_batch, with_curve
from shown_allergens import BY, WHY, exported, headline

from snapcurve import notebook
from snapcurve.analysis.verdict import judge
from snapcurve.notebook.records import Lot, NewEntry
from snapcurve.recording.curve import decode
from snapcurve.report.sheet_sections import sheet_of as whole_sheet
from snapcurve.shown.settings_file import Settings


@pytest.fixture
def any_place(tmp_path):
    """A file: it is the same on a server, and test_notebook_entries.py tries both."""
    return str(tmp_path / "notebook.db")


# as the README's first example has it
BAG = """name = "House {0}, lot 7"
kind = "{0}"
melt_c = 45
cool_c = 27.5
work_c = [30, 32]
never_above_c = 50
"""

FREE = Lot("cocoa butter", "CB-1", allergens=())
NUTS = Lot("hazelnut paste", "HZ-77", allergens=("nuts",))
UNSAID = Lot("hazelnut paste", "HZ-77")


def sheet_of(book, code):
    """The blocks of a batch's sheet by their titles."""
    found = book.as_amended(code)
    curve = decode(book.curve_raw(found.filed.id))
    sheet = whole_sheet(found, judge(curve), Settings())
    # of those without a title the first
    return {one.title: one.block for one in reversed(sheet.sections)}


# --- what was filed in the morning, seen in the headline ---------------------------------


def test_a_lot_of_the_day_adds_to_the_couverture(type_in, wired_board):
    type_in("lot", "today", "milk couverture", "MC-104", "--allergens", "milk,soya")
    type_in("load", "milk")
    wired_board.record(time.time())
    type_in("collect")
    assert headline(type_in("show", "last")) == "soya, milk"


def test_lots_count_where_the_couverture_is_not_known(any_book, type_in):
    lot = Lot("filled couverture", "FC-3", allergens=("milk", "soya", "nuts"))
    any_book.file_batch(with_curve(lots=(lot,)))
    assert headline(type_in("show", "last")) == "soya, milk, nuts; couverture: not known"


@pytest.mark.parametrize(("kind", "said"), [("milk", "milk"), ("dark", "none")])
def test_a_couverture_by_path_has_its_kinds(type_in, wired_board, tmp_path, kind, said):
    (tmp_path / "bag.toml").write_text(BAG.format(kind))
    type_in("load", "bag.toml")
    wired_board.record(time.time())
    type_in("collect")
    assert headline(type_in("show", "last")) == said


def test_the_file_of_the_couverture_is_filed_as_it_was_loaded(
    any_book, type_in, wired_board, tmp_path
):
    (tmp_path / "bag.toml").write_text(BAG.format("milk"))
    type_in("load", "bag.toml")
    wired_board.record(time.time())
    (tmp_path / "bag.toml").write_text(BAG.format("milk") + "# of the bag after that\n")
    type_in("collect")
    assert any_book.batch("last").couverture_toml == BAG.format("milk")


def test_milk_before_dark_warns_in_the_first_example(type_in, wired_board, tmp_path, capsys):
    """Both by path, collected together, nothing else entered."""
    now = time.time()
    for kind, began in (("milk", now - 7200), ("dark", now - 3600)):
        (tmp_path / "bag.toml").write_text(BAG.format(kind))
        type_in("load", "bag.toml")
        wired_board.record(began)
    type_in("collect")
    warning = [line for line in type_in("batches").splitlines() if line.startswith("!")]
    assert len(warning) == 1
    assert "milk may have got into it" in warning[0]


def test_a_couverture_nobody_loaded_here_is_not_known(type_in, wired_board, tmp_path):
    """Loaded by another computer: nothing is made up."""
    (tmp_path / "bag.toml").write_text(BAG.format("dark"))
    type_in("load", "bag.toml")
    shutil.rmtree(tmp_path / "data")
    wired_board.record(time.time())
    type_in("collect")
    assert headline(type_in("show", "last")) == "couverture: not known"


# --- three states ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("couverture", "lots", "said", "plain"),
    [
        (("milk",), (), "milk", ["milk"]),
        ((), (), "none", []),
        (None, (), "couverture: not known", None),
        ((), (FREE,), "none", []),
        ((), (UNSAID,), "hazelnut paste HZ-77: not known", None),
        (("milk",), (FREE, UNSAID), "milk; hazelnut paste HZ-77: not known", ["milk"]),
        (None, (NUTS, FREE), "nuts; couverture: not known", ["nuts"]),
        (None, (UNSAID,), "couverture, hazelnut paste HZ-77: not known", None),
        (("milk", "soya"), (NUTS, FREE), "soya, milk, nuts", ["soya", "milk", "nuts"]),
    ],
)
def test_the_headline_everywhere(any_book, type_in, tmp_path, couverture, lots, said, plain):
    import pypdf

    filed = any_book.file_batch(with_curve(allergens=couverture, lots=lots))
    any_book.file_batch(new_batch(9, raw=any_book.curve_raw(filed.id), allergens=("milk",)))
    assert headline(type_in("show", "1")) == said
    listed = {line.split()[0]: line for line in type_in("batches").splitlines() if line[0] == "2"}
    assert listed[filed.code].endswith(f"  {said}")
    compared = type_in("show", "1", "2").splitlines()
    (line,) = [one for one in compared if one.startswith("allergens")]
    assert line[22:].startswith(f"{said}  ")
    assert line.endswith("  milk")
    assert ("Allergens", said) in sheet_of(any_book, "1")["Batch"].pairs
    type_in("sheet", "1", "--output", "sheet.pdf")
    page = pypdf.PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text()
    assert all(word in page.split() for word in ("Allergens", *said.split()))
    if lots:
        traced = type_in("trace", lots[0].lot)
        assert f"allergens {said}" in traced
    not_known = said.rpartition("; ")[2].removesuffix(": not known").split(", ")
    not_known = not_known if said.endswith("not known") else []
    rows = {
        row["batch"]: row
        for row in csv.DictReader(io.StringIO(type_in("batches", "--output", "-")))
    }
    assert rows[filed.code]["allergens"] == said
    for command in (("batches", "--json"), ("show", "1", "2", "--json")):
        held = {one["batch"]: one for one in json.loads(type_in(*command))}[filed.code]
        assert (held["now"]["allergens"], held["as_filed"]["allergens"]) == (plain, plain)
        assert held["now"]["allergens_not_known"] == not_known
        couvertures = None if couverture is None else list(couverture)
        assert held["as_filed"]["couverture_allergens"] == couvertures


@pytest.mark.parametrize(
    ("given", "said", "plain"),
    [
        ((), "allergens not known", None),
        (("--allergens", "none"), "allergens none", []),
        (("--allergens", "nuts"), "allergens nuts", ["nuts"]),
    ],
)
def test_a_lot_declared_free_is_not_one_of_which_nothing_is_known(
    any_book, type_in, wired_board, given, said, plain
):
    type_in("lot", "today", "rice crisps", "RC-1", *given)
    type_in("load", "dark")
    wired_board.record(time.time())
    type_in("collect")
    added = type_in("lot", "last", "cocoa nibs", "CN-2", *given, *BY)
    assert added.splitlines()[0].endswith(said)
    shown = type_in("show", "last")
    for lot in ("rice crisps, lot RC-1", "cocoa nibs, lot CN-2"):
        assert f"  lot        {lot}, {said}" in shown
    assert f"rice crisps, lot RC-1, {said}" in type_in("trace", "CN-2")
    row, held = exported(type_in)
    assert f"rice crisps, lot RC-1, {said}" in row["lots"]
    lots = [lot["allergens"] for lot in held["now"]["lots"]]
    assert lots == [plain, plain]
    assert held["as_filed"]["lots"][0]["allergens"] == plain
    (entry,) = held["entries"]
    assert entry["holds"]["allergens"] == plain
    (traced,) = json.loads(type_in("trace", "RC-1", "--json"))["forward"]
    assert [lot["allergens"] for lot in traced["lots"]] == [plain, plain]
    rows = sheet_of(any_book, "last")["Lots and allergens"].rows
    assert [(row[0], row[-1]) for row in rows] == [
        ("Dark couverture", "none"),
        ("rice crisps", said.removeprefix("allergens ")),
        ("cocoa nibs", said.removeprefix("allergens ")),
    ]
    assert any_book.check() == []


def test_none_is_a_word_and_an_empty_text_is_a_mistake(type_in, any_book):
    any_book.file_batch(with_curve())
    for text in ("", " , "):
        for command in (
            ("lot", "today", "salt", "S-1", "--allergens", text),
            ("lot", "last", "salt", "S-1", "--allergens", text, *BY),
            ("note", "last", "--amend", "allergens", text, *WHY, *BY),
        ):
            assert "none" in type_in(*command, fails=True)
    assert "none" in type_in("lot", "last", "a", "b", "--allergens", "none,milk", *BY, fails=True)
    assert any_book.history("last") == []


# --- cleanings ---------------------------------------------------------------------------


def worked(any_book, number, allergens, *lots):
    started = START_UNIX_MS + number * 3_600_000
    any_book.file_batch(new_batch(number, started=started, allergens=allergens, lots=lots))


def warnings(type_in):
    return [line for line in type_in("batches").splitlines() if line.startswith("!")]


def test_not_known_before_an_allergen_free_batch_warns(any_book, type_in):
    worked(any_book, 1, ("milk",), UNSAID)
    worked(any_book, 2, ("milk",))
    assert warnings(type_in) == []  # the second holds what is known of the first
    worked(any_book, 3, ())
    unsaid, named = sorted(warnings(type_in), key=lambda line: "HZ-77" not in line)
    assert "2026-11-24-03 followed 2026-11-24-01" in unsaid
    assert "hazelnut paste HZ-77: not known" in unsaid
    assert "2026-11-24-03 followed 2026-11-24-02" in named
    assert "milk" in named
    at = START_UNIX_MS + 2 * 3_600_000 + 1
    any_book.add_entry(NewEntry("cleaning", "Ilka Brandner", {"text": "all"}, at_unix_ms=at))
    assert warnings(type_in) == []


def test_an_unknown_couverture_before_an_allergen_free_batch_warns(any_book, type_in):
    worked(any_book, 1, None)
    worked(any_book, 2, ())
    (warning,) = warnings(type_in)
    assert "2026-11-24-02 followed 2026-11-24-01" in warning
    assert "couverture: not known" in warning


def test_what_was_started_by_mistake_leaves_nothing_at_the_bench(any_book, type_in):
    worked(any_book, 1, None)
    said = {"field": "mistake", "value": True}
    any_book.add_entry(NewEntry("amendment", "Ilka Brandner", said, "never in chocolate"), "last")
    worked(any_book, 2, ())
    assert warnings(type_in) == []


def test_lots_of_a_batch_of_unknown_couverture_are_left_at_the_bench(any_book, type_in):
    worked(any_book, 1, None, NUTS)
    worked(any_book, 2, (), FREE)
    (warning,) = warnings(type_in)
    assert "nuts" in warning
    assert "couverture: not known" in warning


def test_a_lot_of_which_nothing_is_known_hides_no_warning(any_book, type_in):
    """Dark by its kind, with a lot that nobody declared: milk before it is still told."""
    worked(any_book, 1, ("milk",))
    worked(any_book, 2, (), UNSAID)
    (warning,) = warnings(type_in)
    assert "milk may have got into it" in warning


def test_a_wrong_lot_that_was_replaced_leaves_nothing(any_book, type_in):
    worked(any_book, 1, (), NUTS)
    put_right = ("--replaces", "HZ-77", "--allergens", "none", *BY)
    type_in("lot", "1", "sunflower paste", "SF-1", *put_right)
    worked(any_book, 2, ())
    assert warnings(type_in) == []


# --- what was filed before there were three states ----------------------------------------

# Written by the code before: an empty list stood for none and for not known, in `lots` and
# in the payload of an entry. It is never made anew.
KEPT = Path(__file__).parent / "data" / "two_states.db"
SHA_256 = "ff4b86fad568090247807ba5467ab129cc9870d3f2e070d6856de33d2c53a10a"
TABLES = ("batches", "curves", "marks", "alarms", "lots", "entries", "seals", "seal_head", "words")


def rows_of(place):
    with closing(sqlite3.connect(place)) as file:
        found = {}
        for one in TABLES:
            kept = file.execute(f"SELECT name FROM pragma_table_info('{one}')").fetchall()
            # a column that came later is empty in every row of it
            later = ("best_before", "filed_by")
            names = ", ".join(f'"{name}"' for (name,) in kept if name not in later)
            found[one] = file.execute(f"SELECT {names} FROM {one}").fetchall()
        return found


@pytest.fixture
def older(tmp_path):
    assert hashlib.sha256(KEPT.read_bytes()).hexdigest() == SHA_256
    with notebook.open_notebook(str(shutil.copy(KEPT, tmp_path / "older.db"))) as book:
        yield book


def test_an_older_notebook_keeps_every_row(older, tmp_path):
    assert older.check() == []
    assert rows_of(tmp_path / "older.db") == rows_of(KEPT)


def test_what_was_unknown_in_an_older_notebook_stays_unknown(older, tmp_path, capsys):
    from snapcurve.cli import main

    place = ("--notebook", str(tmp_path / "older.db"))
    assert main(["batches", *place]) == 0
    said = {}
    for line in capsys.readouterr().out.splitlines():
        if line.startswith("2026-"):
            said[line.split()[0]] = line.split("  ")[-1].strip()
    assert said == {
        # an amendment, and a lot whose empty list says nothing
        "2026-11-24-01": "soya, milk, nuts; hazelnut paste HZ-77: not known",
        "2026-11-24-02": "nuts; sea salt S-1: not known",
        # amended to none when nothing hindered it: the lot still names milk
        "2026-11-24-03": "milk",
    }
    assert main(["batches", "--json", *place]) == 0
    held = {one["batch"]: one for one in json.loads(capsys.readouterr().out)}
    (first, _) = held["2026-11-24-02"]["entries"]
    assert first["holds"]["allergens"] is None
    assert [lot["allergens"] for lot in held["2026-11-24-01"]["now"]["lots"]][1] is None

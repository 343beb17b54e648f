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
from hypothesis import given
from hypothesis import strategies as st
from notebook_samples import START_UNIX_MS, new_batch, with_curve

from snapcurve import notebook
from snapcurve.curves import decode
from snapcurve.errors import SnapcurveError
from snapcurve.judgement import judge
from snapcurve.notebook import Entry, Lot, NewEntry, vocabulary
from snapcurve.notebook.allergens import of_batch, refuse_silent
from snapcurve.notebook.entries import checked
from snapcurve.quantities import PLAIN
from snapcurve.settings import Settings
from snapcurve.sheet.from_batch import matter_of
from snapcurve.sheet.sections import sections_of

BY = ("--by", "Ilka Brandner")
WHY = ("--why", "the maker's sheet of 2026-11-20")
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


def headline(shown):
    """What `show` says of the whole batch."""
    (line,) = [one for one in shown.splitlines() if one.startswith("  allergens ")]
    return line.removeprefix("  allergens ").strip()


def sheet_of(book, code):
    """The blocks of a batch's sheet by their titles."""
    found = book.as_amended(code)
    curve = decode(book.curve_raw(found.filed.id))
    matter = matter_of(found, curve, judge(curve), Settings())
    # of those without a title the first
    return {one.title: one.block for one in reversed(sections_of(matter, PLAIN))}


def exported(type_in):
    """The one batch, as a table's row and as JSON."""
    (row,) = csv.DictReader(io.StringIO(type_in("export")))
    (held,) = json.loads(type_in("export", "--format", "json"))
    return row, held


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
    assert listed[filed.code].endswith(f"allergens {said}")
    compared = type_in("compare", "1", "2").splitlines()
    (line,) = [one for one in compared if one.startswith("allergens")]
    assert line[22:].startswith(f"{said}  ")
    assert line.endswith("  milk")
    assert ("Allergens", said) in sheet_of(any_book, "1")[""].pairs
    type_in("sheet", "1", "--out", "sheet.pdf")
    page = pypdf.PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text()
    assert all(word in page.split() for word in ("Allergens", *said.split()))
    if lots:
        traced = type_in("trace", lots[0].lot)
        assert f"allergens {said}" in traced
    not_known = said.rpartition("; ")[2].removesuffix(": not known").split(", ")
    not_known = not_known if said.endswith("not known") else []
    rows = {row["batch"]: row for row in csv.DictReader(io.StringIO(type_in("export")))}
    assert rows[filed.code]["allergens"] == said
    for command in (("export", "--format", "json"), ("compare", "1", "2", "--json")):
        held = {one["batch"]: one for one in json.loads(type_in(*command))}[filed.code]
        assert (held["now"]["allergens"], held["as_filed"]["allergens"]) == (plain, plain)
        assert held["now"]["allergens_not_known"] == not_known
        couvertures = None if couverture is None else list(couverture)
        assert held["as_filed"]["couverture_allergens"] == couvertures
    for command in (("batches", "--json"), ("find", "--json")):
        held = {one["batch"]: one for one in json.loads(type_in(*command))}[filed.code]
        assert (held["allergens"], held["allergens_not_known"]) == (plain, not_known)


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
    (traced,) = json.loads(type_in("trace", "RC-1", "--json"))
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
            ("amend", "last", "allergens", text, *WHY, *BY),
        ):
            assert "none" in type_in(*command, fails=True)
    assert "none" in type_in("lot", "last", "a", "b", "--allergens", "none,milk", *BY, fails=True)
    assert any_book.history("last") == []


# --- amendments --------------------------------------------------------------------------


@pytest.fixture
def with_nuts(any_book, type_in):
    """A milk batch with a lot that names three groups."""
    lot = Lot("filled couverture", "FC-3", allergens=("milk", "soya", "nuts"))
    any_book.file_batch(with_curve(allergens=("milk",), lots=(lot,)))
    return type_in


def test_an_amendment_may_add(with_nuts):
    with_nuts("amend", "last", "allergens", "milk,soya,nuts,sesame", *WHY, *BY)
    assert headline(with_nuts("show", "last")) == "soya, milk, nuts, sesame  (amended)"


def test_nothing_named_is_taken_away_without_a_word(with_nuts, any_book):
    for value in ("milk", "none"):
        refused = with_nuts("amend", "last", "allergens", value, *WHY, *BY, fails=True)
        assert "filled couverture FC-3" in refused
        assert "soya, nuts" in refused or "soya, milk, nuts" in refused
        assert "--take-away" in refused
    refused = with_nuts("amend", "last", "allergens", "soya,nuts", *WHY, *BY, fails=True)
    assert "couverture" in refused
    assert any_book.history("last") == []


def test_what_is_taken_away_stays_beside_with_its_reason(with_nuts, any_book, tmp_path):
    import pypdf

    said = with_nuts("amend", "last", "allergens", "milk", "--take-away", "soya,nuts", *WHY, *BY)
    assert "soya, nuts taken away" in said
    shown = with_nuts("show", "last")
    away = "soya, nuts taken away by Ilka Brandner: the maker's sheet of 2026-11-20"
    assert headline(shown) == f"milk ({away})  (amended)"
    assert with_nuts("batches").rstrip().endswith("allergens milk (soya, nuts taken away)")
    row, held = exported(with_nuts)
    assert row["allergens"] == f"milk ({away})"
    assert held["now"]["allergens"] == ["milk"]
    assert held["now"]["allergens_taken_away"] == [
        {
            "groups": ["soya", "nuts"],
            "who": "Ilka Brandner",
            "why": "the maker's sheet of 2026-11-20",
        }
    ]
    assert held["as_filed"]["allergens"] == ["soya", "milk", "nuts"]
    with_nuts("sheet", "last", "--out", "sheet.pdf")
    page = " ".join(pypdf.PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text().split())
    assert all(word in page.split() for word in f"milk ({away})".split())
    assert any_book.check() == []


def test_what_was_taken_away_comes_back_with_a_lot_that_names_it(with_nuts):
    with_nuts("amend", "last", "allergens", "milk", "--take-away", "soya,nuts", *WHY, *BY)
    with_nuts("lot", "last", "praline", "PR-1", "--allergens", "nuts", *BY)
    assert headline(with_nuts("show", "last")).startswith("milk, nuts (soya taken away by Ilka")


def test_taking_away_is_for_allergens_and_agrees_with_the_value(with_nuts):
    takes = ("--take-away", "nuts")
    amend = ("amend", "last")
    assert "allergens" in with_nuts(*amend, "place", "door", *takes, *WHY, *BY, fails=True)
    assert "nuts" in with_nuts(
        *amend, "allergens", "milk,soya,nuts", *takes, *WHY, *BY, fails=True
    )
    assert "no allergen group" in with_nuts(
        *amend, "allergens", "milk", "--take-away", "dust", *WHY, *BY, fails=True
    )


def test_unknown_takes_nothing_away_from_a_lot(with_nuts):
    with_nuts("amend", "last", "allergens", "--unknown", *WHY, *BY)
    said = headline(with_nuts("show", "last"))
    assert said == "soya, milk, nuts; couverture: not known  (amended)"


def test_what_is_not_known_of_a_lot_is_known_when_the_lot_is_put_right(any_book, type_in):
    any_book.file_batch(with_curve(allergens=(), lots=(UNSAID,)))
    type_in("amend", "last", "allergens", "none", *WHY, *BY)
    assert headline(type_in("show", "last")).startswith("hazelnut paste HZ-77: not known")
    put_right = ("--replaces", "HZ-77", "--allergens", "nuts", *BY)
    type_in("lot", "last", "hazelnut paste", "HZ-77", *put_right)
    assert headline(type_in("show", "last")).startswith("nuts  (amended)")


GROUPS = st.lists(st.sampled_from(("soya", "milk", "nuts")), unique=True).map(tuple)
STATES = st.none() | GROUPS
LOTS = st.tuples(STATES, st.none() | st.integers(0, 3))  # and which lot it replaces
AMENDMENTS = st.tuples(STATES, GROUPS)


@given(STATES, st.lists(STATES, max_size=2), st.lists(LOTS | AMENDMENTS, max_size=6))
def test_nothing_is_lost_but_what_is_taken_away_or_replaced(couverture, filed, steps):
    lots = tuple(Lot("paste", str(at), allergens=groups) for at, groups in enumerate(filed))
    entries = []
    for number, (groups, more) in enumerate(steps, 10):
        before = of_batch(couverture, lots, entries)
        held = {one.name: one.groups or () for one in before.sources}
        if isinstance(more, tuple):
            payload = {"field": "allergens", "value": groups and list(groups), "takes": more}
            try:
                payload = checked(NewEntry("amendment", "Ilka", payload, "seen"), True)
                refuse_silent(before, payload)
            except SnapcurveError:
                continue
            own = next(iter(held.values()))
            may_go = set(own if groups is None else more)
            comes = groups or ()
            entries.append(entry(number, "amendment", payload))
        else:
            payload = {"ingredient": "paste", "lot": str(number), "replaces": str(more)}
            payload["allergens"] = vocabulary.stored_groups(groups)
            may_go, comes = set(held.get(f"paste {more}", ())), groups or ()
            entries.append(entry(number, "lot", payload))
        after = of_batch(couverture, lots, entries)
        assert {*before.named} - {*after.named} <= may_go
        assert {*comes} <= {*after.named}
        assert {*after.named}.isdisjoint(
            group for away in after.taken_away for group in away.groups
        )
    found = of_batch(couverture, lots, entries)
    assert (found.groups == ()) == all(one.groups == () for one in found.sources)
    assert (found.groups is None) == bool(found.not_known and not found.named)


def entry(number, kind, payload):
    return Entry(number, 1, "1", kind, "Ilka", "seen", 0, 0, payload, number, "")


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
        return {one: file.execute(f"SELECT * FROM {one}").fetchall() for one in TABLES}


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
            said[line.split()[0]] = line.partition(" allergens ")[2]
    assert said == {
        # an amendment, and a lot whose empty list says nothing
        "2026-11-24-01": "soya, milk, nuts; hazelnut paste HZ-77: not known",
        "2026-11-24-02": "nuts; sea salt S-1: not known",
        # amended to none when nothing hindered it: the lot still names milk
        "2026-11-24-03": "milk",
    }
    assert main(["export", "--format", "json", *place]) == 0
    held = {one["batch"]: one for one in json.loads(capsys.readouterr().out)}
    (first, _) = held["2026-11-24-02"]["entries"]
    assert first["holds"]["allergens"] is None
    assert [lot["allergens"] for lot in held["2026-11-24-01"]["now"]["lots"]][1] is None

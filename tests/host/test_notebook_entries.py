"""Entries: what is added to a batch, and the batch as they leave it, on both databases."""

import json

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from notebook_samples import DAY_MS, START_UNIX_MS, full_batch, new_batch, picture, raw_sql
from sqlalchemy.exc import DBAPIError

from snapcurve import notebook
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import cleaning, records, rows, search_words, tables, vocabulary
from snapcurve.notebook.allergens import of_batch
from snapcurve.notebook.records import NewEntry, Search

WHO = "Ilka Brandner"
NASTY = (
    'O\'Neil "the" `bowl`; DROP TABLE batches; --',
    "two\nlines\r\n\tand a tab",
    "\u202eשוקולד\u202c \u200fمرحبا",
    "=cmd()|' /C calc'!A0",
    "+1+1",
    "@SUM(A1)",
    "ß" * 300,
    "x y" * 100,
    "% _ \\ %s :id {0} ?",
)


def amendment(field, value, why="typed wrongly", takes=None):
    return NewEntry("amendment", WHO, {"field": field, "value": value, "takes": takes}, why)


def test_a_full_batch_comes_back(any_book):
    new = full_batch(1)
    filed = any_book.file_batch(new)
    for name in ("place", "room_centi_c", "mass_mg", "allergens", "calibration", "lots"):
        assert getattr(filed, name) == getattr(new, name), name
    assert any_book.batch("last") == filed


def test_amendments_change_the_view_and_never_the_record(any_book):
    filed = any_book.file_batch(full_batch(1))
    any_book.add_entry(amendment("operator", "Jean Petit"), filed.code)
    any_book.add_entry(amendment("operator", None, "nobody knows any more"), filed.code)
    any_book.add_entry(amendment("allergens", ["milk", "nuts"], takes=["soya"]), filed.code)
    found = any_book.as_amended(filed.code)
    assert found.filed == filed == any_book.batch(filed.code)
    assert (found.now.operator, found.now.allergens) == (None, ("milk", "nuts"))
    assert [(one.name, one.was, one.now) for one in found.changes] == [
        ("operator", filed.operator, "Jean Petit"),
        ("operator", "Jean Petit", None),
        ("allergens", ("milk", "soya"), ("milk", "nuts")),
    ]
    assert [one.payload["was"] for one in found.entries][:2] == [filed.operator, "Jean Petit"]
    assert found.changes[0].entry.why == "typed wrongly"
    assert found.entries == tuple(any_book.history(filed.code))
    assert any_book.check() == []


def test_entries_are_numbered_and_chained(any_book):
    code = any_book.file_batch(new_batch()).code
    first = any_book.add_entry(NewEntry("note", WHO, {"text": "a"}), code)
    second = any_book.add_entry(NewEntry("cleaning", WHO, {"text": "b"}))
    assert (first.number, second.number) == (2, 3)
    assert (second.batch_id, second.code) == (None, None)
    assert any_book.bench_entries() == [second]
    assert any_book.chain_end().hash == second.hash
    assert len({first.hash, second.hash}) == 2
    at_ms = START_UNIX_MS + 5
    given_time = NewEntry("note", WHO, {"text": "c"}, at_unix_ms=at_ms, utc_offset_min=-570)
    third = any_book.add_entry(given_time, code)
    assert (third.at_unix_ms, third.utc_offset_min) == (at_ms, -570)


def bloom(days, after_days):
    """Noted on a batch of `new_batch` so many days after its beginning."""
    return NewEntry(
        "outcome",
        WHO,
        {"what": "bloom", "value": "none", "after_days": days},
        at_unix_ms=START_UNIX_MS + round(after_days * DAY_MS),
    )


@pytest.mark.parametrize(
    "entry",
    [
        bloom(7, 6.5),
        bloom(1, 0.5),
        bloom(7, 400),
        NewEntry("note", WHO, {"text": "x" * 4000}),
        NewEntry("note", WHO, {"text": "x"}, at_unix_ms=START_UNIX_MS),
        amendment("room_centi_c", 4500),
        amendment("room_centi_c", -1000),
        amendment("mass_mg", 1),
        amendment("mass_mg", 100_000_000),
    ],
)
def test_what_just_can_be_is_filed(any_book, entry):
    any_book.file_batch(new_batch())
    assert any_book.add_entry(entry, "last").kind == entry.kind


def test_of_a_batch_of_unknown_time_everything_can_be(any_book):
    any_book.file_batch(new_batch(started=None))
    any_book.add_entry(bloom(7, 0), "last")
    any_book.add_entry(NewEntry("note", WHO, {"text": "x"}, at_unix_ms=5), "last")


def test_a_clock_that_lags_keeps_nobody_from_noting(any_book, monkeypatch):
    monkeypatch.setattr(rows, "_now_ms", lambda: START_UNIX_MS - DAY_MS)
    any_book.file_batch(new_batch())
    any_book.add_entry(NewEntry("note", WHO, {"text": "x"}), "last")


@pytest.mark.parametrize(
    ("entry", "reason"),
    [
        (NewEntry("gossip", WHO, {}), "There is no entry 'gossip'"),
        (NewEntry("note", " ", {"text": "x"}), "names nobody"),
        (NewEntry("note", WHO, {}), "text of an entry of kind note is missing"),
        (NewEntry("note", WHO, {"text": " "}), "is empty"),
        (NewEntry("note", WHO, {"text": "x", "more": 1}), "There is no 'more'"),
        (NewEntry("note", WHO, {"text": "half \ud83d"}), "cannot be stored"),
        (NewEntry("note", WHO, {"text": "end\0"}), "cannot be stored"),
        (amendment("operator", "x", why=""), "has no reason"),
        (amendment("started_unix_ms", 5), "cannot be amended"),
        (amendment("couverture", None), "cannot be a batch's couverture"),
        (amendment("mass_mg", True), "cannot be a batch's mass_mg"),
        (amendment("mass_mg", 2**70), "too large"),
        (amendment("allergens", ["cheese"]), "no allergen group 'cheese'"),
        (NewEntry("outcome", WHO, {"what": "taste", "value": "good"}), "There is no outcome"),
        (NewEntry("outcome", WHO, {"what": "snap", "value": "dull"}), "use clean, soft, none"),
        (NewEntry("outcome", WHO, {"what": "bloom", "value": "none"}), "after 1, 2, 7 days"),
        (
            NewEntry("outcome", WHO, {"what": "snap", "value": "soft", "after_days": 1}),
            "judged at once",
        ),
        (NewEntry("picture", WHO, {"name": "a.jpg"}), "give both or neither"),
        (NewEntry("note", WHO, {"text": "x"}, picture=b"x"), "give both or neither"),
        (NewEntry("picture", WHO, {"name": "a.jpg"}, picture=b""), "picture is empty"),
        (NewEntry("note", WHO, {"text": "x" * 4001}), "has 4001 characters; write at most 4000"),
        (NewEntry("correction", WHO, {"text": "x" * 4001}), "write at most 4000"),
        (amendment("notes", "x" * 4001), "write at most 4000"),
        (amendment("operator", "Jean", why="x" * 4001), "write at most 4000"),
        (amendment("couverture", ""), "couverture cannot be empty; write its name"),
        (amendment("couverture", " \t"), "couverture cannot be empty"),
        (amendment("room_centi_c", 4501), "room cannot be at 45.0 °C"),
        (amendment("room_centi_c", -1001), "it is -10 to 45 °C"),
        (amendment("mass_mg", 0), "it has more than nothing"),
        (amendment("mass_mg", -1), "it has more than nothing"),
        (amendment("mass_mg", 100_000_001), "at most 100000 g"),
        (bloom(7, 6.4), "Bloom after 7 days cannot be seen so soon"),
        (bloom(1, 0.4), "Bloom after 1 day cannot be seen so soon"),
        (NewEntry("note", WHO, {"text": "x"}, at_unix_ms=START_UNIX_MS - 1), "before its batch"),
        (NewEntry("lot", WHO, {"ingredient": "salt", "lot": ""}), "is empty"),
        (
            NewEntry("lot", WHO, {"ingredient": "salt", "lot": "1", "mass_mg": "x"}),
            "whole number",
        ),
    ],
)
def test_entries_that_say_nothing_are_refused(book_with_one, entry, reason):
    with pytest.raises(SnapcurveError, match=reason):
        book_with_one.add_entry(entry, "1")
    assert book_with_one.history("1") == []


@pytest.fixture(scope="module")
def book_with_one(tmp_path_factory):
    with notebook.open_notebook(str(tmp_path_factory.mktemp("one") / "notebook.db")) as book:
        book.file_batch(new_batch())
        yield book


def test_entries_need_a_batch_that_is_there(book_with_one):
    with pytest.raises(SnapcurveError, match="There is no batch 'milk'"):
        book_with_one.add_entry(NewEntry("note", WHO, {"text": "x"}), "milk")
    with pytest.raises(SnapcurveError, match="belongs to a batch"):
        book_with_one.add_entry(amendment("operator", "x"))


def test_lots_are_traced_both_ways(any_book):
    for number in (1, 2, 11, 20):
        any_book.file_batch(full_batch(number, started=START_UNIX_MS + number))
    new = {"ingredient": "milk couverture", "lot": "MC-777", "replaces": "MC-000"}
    any_book.add_entry(NewEntry("lot", WHO, new, "wrong bag read"), "2")
    found = any_book.trace(" mc-000 ").forward
    assert [one.batch.id for one in found] == [2, 1]
    assert [lot.lot for lot in found[0].lots] == ["HN 2", "MC-777"]
    assert [lot.lot for lot in found[0].replaced] == ["MC-000"]
    assert [lot.lot for lot in found[1].lots] == ["MC-000", "HN 1"]
    assert [one.batch.id for one in any_book.trace("MC-777").forward] == [2]
    assert any_book.trace("never bought").forward == ()
    change = any_book.as_amended("2").changes[0]
    assert (change.was.lot, change.now.lot) == ("MC-000", "MC-777")
    assert len(any_book.as_amended("2").filed.lots) == 2
    assert any_book.check() == []


def test_search_finds_what_was_filed_and_what_was_added(any_book):
    for number in range(1, 7):
        any_book.file_batch(full_batch(number, started=START_UNIX_MS + number * 1000))
    seen = {"what": "bloom", "value": "marked", "after_days": 7}
    at_ms = START_UNIX_MS + 8 * DAY_MS
    any_book.add_entry(NewEntry("outcome", WHO, seen, at_unix_ms=at_ms), "3")
    any_book.add_entry(amendment("operator", "Jean Petit"), "4")
    any_book.add_entry(amendment("couverture", "Ivory white"), "5")

    def ids(**wanted):
        return [row.id for row in any_book.search(Search(**wanted))]

    assert ids() == [6, 5, 4, 3, 2, 1]
    since = START_UNIX_MS + 2000
    assert ids(since_unix_ms=since, before_unix_ms=since + 2000) == [3, 2]
    assert ids(operator="ŁUCJA  O'neil", since_unix_ms=since) == [4]
    assert ids(operator="jean petit") == [4]
    assert ids(couverture="ivory") == [5]
    assert ids(couverture="gen* milk", outcome="bloom=marked") == [3]
    assert ids(outcome="marked") == [3]
    assert ids(outcome="dull") == ids(text="bowl 99") == ids(text="spat") == []
    assert ids(text="spat*", lot="hn 2") == [6, 2]
    assert ids(text="wrongly") == [5, 4]
    assert [row.id for row in any_book.search(Search(text="bowl"), limit=2)] == [6, 5]
    for bad in ({"outcome": "tasty"}, {"text": "milk !!"}):
        with pytest.raises(SnapcurveError):
            any_book.search(Search(**bad))


@pytest.mark.parametrize("nasty", NASTY)
def test_awkward_names_come_through_unharmed(any_book, nasty):
    lot = records.Lot(nasty, nasty, nasty, 5, ("milk",))
    filed = any_book.file_batch(
        new_batch(couverture=nasty, operator=nasty, notes=nasty, place=nasty, lots=(lot,))
    )
    entry = any_book.add_entry(NewEntry("note", nasty, {"text": nasty}, nasty), filed.code)
    any_book.add_entry(amendment("operator", nasty + "!"), filed.code)
    again = any_book.as_amended(filed.code)
    assert again.filed.lots == (lot,)
    assert {getattr(again.filed, name) for name in ("couverture", "operator", "notes", "place")}
    assert again.now.operator == nasty + "!"
    assert (entry.who, entry.why, entry.payload["text"]) == (nasty, nasty, nasty)
    (traced,) = any_book.trace(nasty).forward
    assert traced.lots == (lot,)
    assert [row.operator for row in any_book.search(Search(operator=nasty))] == [nasty]
    assert any_book.check() == []


TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=300)


@given(texts=st.lists(TEXT, min_size=4, max_size=4), data=st.data())
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_comes_through(any_book, texts, data):
    assume(all(text.strip() for text in texts))
    number = data.draw(st.integers(0, 0xFFFF))
    board = data.draw(st.integers(0, 2**32 - 1))
    lot = records.Lot(*texts[:3])
    new = new_batch(number, board_id=board, lots=(lot,), place=texts[3], size=10)
    assume(not any_book.has_curve(board, new.curve.generation, number))
    code = any_book.file_batch(new).code
    entry = any_book.add_entry(NewEntry("note", texts[0], {"text": texts[1]}, texts[2]), code)
    assert any_book.batch(code).lots == (lot,)
    assert any_book.history(code) == [entry]
    assert (entry.who, entry.payload, entry.why) == (texts[0], {"text": texts[1]}, texts[2])
    assert code in [one.batch.code for one in any_book.trace(texts[1]).forward]
    assert any_book.check() == []


def test_payloads_are_canonical_json(any_book):
    any_book.file_batch(new_batch())
    any_book.add_entry(
        NewEntry(
            "outcome",
            WHO,
            {"value": "none", "after_days": 1, "what": "bloom"},
            at_unix_ms=START_UNIX_MS + DAY_MS,
        ),
        "1",
    )
    ((payload,),) = raw_sql(str_of(any_book), "SELECT payload FROM entries")
    assert payload == '{"after_days":1,"value":"none","what":"bloom"}'
    assert json.loads(payload)["after_days"] in vocabulary.BLOOM_AFTER_DAYS


def str_of(book):
    return str(book.path) if book.path else book.engine.url.render_as_string(False)


GUARDED = sorted({*tables.metadata.tables} - {"calibrations", "seal_head"})


@pytest.mark.parametrize("table", GUARDED)
@pytest.mark.parametrize("change", ["DELETE FROM {}", "UPDATE {} SET {} = {}"])
def test_the_database_itself_refuses_changes(any_book, table, change):
    any_book.file_batch(full_batch(1))
    held = {"ingredient": "salt", "lot": "S-1"}
    any_book.add_entry(NewEntry("lot", WHO, held), "1")
    any_book.add_entry(NewEntry("picture", WHO, {"name": "a.jpg"}, picture=picture()), "1")
    column = "number" if table == "seals" else "batch_id" if table == "words" else "id"
    with pytest.raises(DBAPIError, match=r"(what was recorded|a filed [a-z]+) is never"):
        raw_sql(str_of(any_book), change.format(table, column, column))
    with pytest.raises(DBAPIError, match="the chain of seals only grows"):
        raw_sql(str_of(any_book), "UPDATE seal_head SET hash = 'x'")
    assert any_book.check() == []


def test_milk_followed_by_dark_without_cleaning_is_named(any_book):
    def batch(number, allergens, place=None):
        any_book.file_batch(
            new_batch(
                number, started=START_UNIX_MS + number * 1000, allergens=allergens, place=place
            )
        )

    batch(1, ("milk",))
    batch(2, ())
    (found,) = any_book.missing_cleanings()
    assert found == cleaning.MissingCleaning("2026-11-24-01", "2026-11-24-02", frozenset({"milk"}))
    any_book.add_entry(NewEntry("cleaning", WHO, {"text": "all"}, at_unix_ms=START_UNIX_MS + 1500))
    assert any_book.missing_cleanings() == []
    batch(3, ("milk",), "bench 1")
    batch(4, (), "bench 2")
    batch(5, (), "bench 1")
    assert [one.after for one in any_book.missing_cleanings()] == ["2026-11-24-05"]
    any_book.add_entry(amendment("allergens", ["milk"]), "5")
    assert any_book.missing_cleanings() == []


def test_around_given_batches_the_bench_is_looked_at_for_a_month_back(any_book):
    """So that a list of batches does not read the whole notebook."""
    month_ms = 31 * 24 * 3_600_000
    for number, started, allergens in (
        (1, START_UNIX_MS, ("milk",)),
        (2, START_UNIX_MS + month_ms, ()),
        (3, START_UNIX_MS + month_ms + 1, ()),
    ):
        any_book.file_batch(new_batch(number, started=started, allergens=allergens))
    assert len(any_book.missing_cleanings()) == 2
    assert len(any_book.missing_cleanings([START_UNIX_MS + month_ms])) == 1
    assert any_book.missing_cleanings([START_UNIX_MS + month_ms + 1]) == []
    assert any_book.missing_cleanings([None]) == any_book.missing_cleanings([]) == []


def test_what_was_left_stays_until_a_cleaning():
    def worked(code, at, *groups):
        return cleaning.Worked(code, None, at, of_batch(groups, ()))

    batches = [worked("a", 1, "milk", "nuts"), worked("b", 2, "nuts"), worked("c", 3)]
    found = cleaning.missing_cleanings(batches, [])
    assert [(one.before, one.after, set(one.allergens)) for one in found] == [
        ("a", "b", {"milk"}),
        ("a", "c", {"milk"}),
        ("b", "c", {"nuts"}),
    ]
    assert cleaning.missing_cleanings(batches, [cleaning.Cleaned("other", 2)]) == found
    assert cleaning.missing_cleanings(batches, [cleaning.Cleaned(None, 2)]) == found[:1]
    unknown = cleaning.Worked("u", None, 2, of_batch(None, ()))
    assert cleaning.missing_cleanings([batches[0], unknown], []) == []


def test_kinds_of_couverture_have_their_allergens():
    for kind in ("milk", "white", "caramelised white", "ruby-coloured"):
        assert vocabulary.allergens_of_kind(kind) == ("milk",)
    assert vocabulary.allergens_of_kind("dark") == ()
    assert vocabulary.allergens_of_kind("gianduja") == ("milk", "nuts")
    for kind in ("plant-milk", "coating", "camel"):
        assert vocabulary.allergens_of_kind(kind) is None
    # Regulation (EU) No 1169/2011, Annex II lists fourteen
    assert [len(one) for one in vocabulary.ALLERGEN_LAWS.values()] == [14, 9]


def test_keys_fit_every_index():
    assert search_words.key_of(" HN  2\n") == "hn 2"
    long = search_words.key_of("𝔐" * 5000 + "1")
    assert len(long) <= 100
    assert long != search_words.key_of("𝔐" * 5000 + "2")
    assert search_words.key_of("Straße") == search_words.key_of("STRASSE")

"""Leftover of one batch goes into the next: lots are traced, and allergens go on, to the end."""

import networkx
import pytest
from notebook_samples import DAY_MS, START_UNIX_MS, new_batch

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import allergens, open_notebook
from snapcurve.notebook.records import Lot, NewEntry
from tests.benchmarks.recall import drawn, fill

WHO = "Ilka Brandner"
MILK = Lot("milk couverture", "MC-104", "Hollerbach", 1_000_000, ("milk", "soya"))
NUTS = Lot("hazelnut paste", "HZ-77")


def leftover(book, code, of, **more):
    payload = {"ingredient": "leftover", "lot": of, **more}
    book.add_entry(NewEntry("lot", WHO, payload), code)


def filed(book, number, *lots, groups=()):
    new = new_batch(number, started=START_UNIX_MS + number * DAY_MS, lots=lots, allergens=groups)
    return book.file_batch(new).code


def holds(book, code):
    found = allergens.of(book.as_amended(code))
    return found.named, found.not_known


def test_a_lot_is_traced_through_leftovers_and_its_allergens_with_it(any_book):
    first, second, third, other = (filed(any_book, n, *lots) for n, lots in enumerate(
        [(MILK, NUTS), (), (), (Lot("dark couverture", "D-1", "", None, ()),)], 1
    ))  # fmt: skip
    leftover(any_book, second, first, mass_mg=250_000)
    leftover(any_book, third, second)
    traced = {one.batch.code: one.through for one in any_book.trace("MC-104").forward}
    assert traced == {first: (), second: (first,), third: (second,)}
    assert [one.batch.code for one in any_book.trace(second).forward] == [third]
    shown = {lot.lot: lot.allergens for lot in any_book.as_amended(second).now.lots}
    assert shown == {first: ("soya", "milk")}
    (traced_third,) = any_book.trace(second).forward
    assert traced_third.lots[0].allergens == ("soya", "milk")
    assert holds(any_book, first) == (("soya", "milk"), ("hazelnut paste HZ-77",))
    named, not_known = holds(any_book, third)
    assert named == ("soya", "milk")
    assert not_known == (f"hazelnut paste HZ-77 in {first}",)
    assert holds(any_book, other) == ((), ())
    ids = {one.id: one.code for one in any_book.batches()}
    listed = {ids[key]: one.named for key, one in any_book.allergens(list(ids)).items()}
    assert listed[third] == ("soya", "milk")
    assert any_book.check() == []


def test_a_lot_added_later_to_the_first_reaches_the_last(any_book):
    first, second = filed(any_book, 1), filed(any_book, 2)
    leftover(any_book, second, first)
    assert holds(any_book, second) == ((), ())
    payload = {"ingredient": "hazelnut paste", "lot": "HZ-77", "allergens": ["nuts"]}
    any_book.add_entry(NewEntry("lot", WHO, payload), first)
    assert holds(any_book, second) == (("nuts",), ())
    assert [one.batch.code for one in any_book.trace("HZ-77").forward] == [second, first]


def test_no_circle_and_no_typed_allergens(any_book):
    first, second = filed(any_book, 1), filed(any_book, 2)
    leftover(any_book, second, first)
    with pytest.raises(SnapcurveError, match="holds this very batch"):
        leftover(any_book, first, second)
    with pytest.raises(SnapcurveError, match="holds this very batch"):
        leftover(any_book, first, first)
    with pytest.raises(SnapcurveError, match="leave --allergens out"):
        leftover(any_book, second, first, allergens=["milk"])
    assert [entry.kind for entry in any_book.history(second)] == ["lot"]
    assert any_book.history(first) == []
    payload = {"field": "allergens", "value": []}
    any_book.add_entry(
        NewEntry("lot", WHO, {"ingredient": "milk", "lot": "M", "allergens": ["milk"]}), first
    )
    with pytest.raises(SnapcurveError, match=f"leftover {first} names milk"):
        any_book.add_entry(NewEntry("amendment", WHO, payload, "looked again"), second)


def test_a_random_graph_against_networkx(tmp_path):
    """Reachability by networkx (BSD), and the union of allergens over all that went in: 500 lots,
    2,000 batches, 1,000 leftovers."""
    graph = drawn(batches=2_000, lots=500, leftovers=1_000, seed=7)
    oracle = networkx.DiGraph(graph.edges)
    assert networkx.is_directed_acyclic_graph(oracle)
    with open_notebook(str(tmp_path / "notebook.db")) as book:
        fill(book, graph)
        ids = {row.id: row.code for row in book.batches()}
        held = {ids[one]: found for one, found in book.allergens(list(ids)).items()}
        for code in graph.codes:
            before = networkx.ancestors(oracle, code) & graph.groups.keys()
            named = {group for one in before for group in graph.groups[one] or ()}
            assert set(held[code].named) == named
            unknown = {one for one in before if graph.groups[one] is None}
            assert {name.split()[1] for name in held[code].not_known} == unknown
        for lot in list(graph.groups)[::5]:
            found = {one.batch.code for one in book.trace(lot).forward}
            assert found == (networkx.descendants(oracle, lot) if lot in oracle else set())
        for code in graph.codes[::20]:
            trace = book.trace(code)
            assert {one.batch.code for one in trace.forward} == networkx.descendants(oracle, code)
            before = networkx.ancestors(oracle, code) - graph.groups.keys()
            assert {one.batch.code for one in trace.backward} == before
        # no way back into any of them
        for later in [code for code in graph.codes if graph.earlier[code]][::40]:
            earlier = min(networkx.ancestors(oracle, later) - graph.groups.keys())
            with pytest.raises(SnapcurveError, match="holds this very batch"):
                leftover(book, earlier, later)


def test_a_slip_in_a_lots_number_is_offered(any_book, type_in):
    filed(any_book, 1, MILK)
    for typed in ("mc104", "MC 104", "MC-105"):
        assert type_in("trace", typed).strip() == (
            f"No batch has or had the lot {typed}. Did you mean MC-104?"
        )
    assert type_in("trace", "mc-104").startswith("1 batch has or had the lot mc-104")
    assert type_in("trace", "nothing like it").strip().endswith("nothing like it.")


def test_a_code_without_its_zero_is_the_same_batch(any_book):
    first, second, third = filed(any_book, 1, MILK), filed(any_book, 2), filed(any_book, 3)
    short = first.removesuffix("-01") + "-1"
    leftover(any_book, second, short)
    leftover(any_book, third, short)
    leftover(any_book, third, first)
    for code in (second, third):
        assert holds(any_book, code) == (("soya", "milk"), ())
    assert {one.batch.code for one in any_book.trace("MC-104").forward} == {first, second, third}

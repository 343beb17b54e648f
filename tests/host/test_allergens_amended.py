"""Amendments of a batch's allergens: they add, and take away only by name and with a reason."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from notebook_samples import with_curve
from shown_allergens import BY, WHY, exported, headline

from snapcurve.errors import SnapcurveError
from snapcurve.notebook import vocabulary
from snapcurve.notebook.allergens import of_batch, refuse_silent
from snapcurve.notebook.checks import checked_entry
from snapcurve.notebook.records import Entry, Lot, NewEntry

UNSAID = Lot("hazelnut paste", "HZ-77")


@pytest.fixture
def with_nuts(any_book, type_in):
    """A milk batch with a lot that names three groups."""
    lot = Lot("filled couverture", "FC-3", allergens=("milk", "soya", "nuts"))
    any_book.file_batch(with_curve(allergens=("milk",), lots=(lot,)))
    return type_in


def test_an_amendment_may_add(with_nuts):
    with_nuts("note", "last", "--amend", "allergens", "milk,soya,nuts,sesame", *WHY, *BY)
    assert headline(with_nuts("show", "last")) == "soya, milk, nuts, sesame  (amended)"


def test_nothing_named_is_taken_away_without_a_word(with_nuts, any_book):
    for value in ("milk", "none"):
        refused = with_nuts("note", "last", "--amend", "allergens", value, *WHY, *BY, fails=True)
        assert "filled couverture FC-3" in refused
        assert "soya, nuts" in refused or "soya, milk, nuts" in refused
        assert "--take-away" in refused
    refused = with_nuts("note", "last", "--amend", "allergens", "soya,nuts", *WHY, *BY, fails=True)
    assert "couverture" in refused
    assert any_book.history("last") == []


def test_what_is_taken_away_stays_beside_with_its_reason(with_nuts, any_book, tmp_path):
    import pypdf

    said = with_nuts(
        "note", "last", "--amend", "allergens", "milk", "--take-away", "soya,nuts", *WHY, *BY
    )
    assert "soya, nuts taken away" in said
    shown = with_nuts("show", "last")
    away = "soya, nuts taken away by Ilka Brandner: the maker's sheet of 2026-11-20"
    assert headline(shown) == f"milk ({away})  (amended)"
    assert with_nuts("batches").rstrip().endswith("  milk (soya, nuts taken away)")
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
    with_nuts("sheet", "last", "--output", "sheet.pdf")
    page = " ".join(pypdf.PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text().split())
    assert all(word in page.split() for word in f"milk ({away})".split())
    assert any_book.check() == []


def test_what_was_taken_away_comes_back_with_a_lot_that_names_it(with_nuts):
    with_nuts(
        "note", "last", "--amend", "allergens", "milk", "--take-away", "soya,nuts", *WHY, *BY
    )
    with_nuts("lot", "last", "praline", "PR-1", "--allergens", "nuts", *BY)
    assert headline(with_nuts("show", "last")).startswith("milk, nuts (soya taken away by Ilka")


def test_taking_away_is_for_allergens_and_agrees_with_the_value(with_nuts):
    takes = ("--take-away", "nuts")
    amend = ("note", "last")
    assert "allergens" in with_nuts(
        *amend, "--amend", "place", "door", *takes, *WHY, *BY, fails=True
    )
    assert "nuts" in with_nuts(
        *amend, "--amend", "allergens", "milk,soya,nuts", *takes, *WHY, *BY, fails=True
    )
    assert "no allergen group" in with_nuts(
        *amend, "--amend", "allergens", "milk", "--take-away", "dust", *WHY, *BY, fails=True
    )


def test_unknown_takes_nothing_away_from_a_lot(with_nuts):
    with_nuts("note", "last", "--amend", "allergens", "unknown", *WHY, *BY)
    said = headline(with_nuts("show", "last"))
    assert said == "soya, milk, nuts; couverture: not known  (amended)"


def test_what_is_not_known_of_a_lot_is_known_when_the_lot_is_put_right(any_book, type_in):
    any_book.file_batch(with_curve(allergens=(), lots=(UNSAID,)))
    type_in("note", "last", "--amend", "allergens", "none", *WHY, *BY)
    assert headline(type_in("show", "last")).startswith("hazelnut paste HZ-77: not known")
    put_right = ("--replaces", "HZ-77", "--allergens", "nuts", *BY)
    type_in("lot", "last", "hazelnut paste", "HZ-77", *put_right)
    assert headline(type_in("show", "last")).startswith("nuts  (amended)")


GROUPS = st.lists(st.sampled_from(("soya", "milk", "nuts")), unique=True).map(tuple)
STATES = st.none() | GROUPS
LOTS = st.tuples(STATES, st.none() | st.integers(0, 3))  # and which lot it replaces
AMENDMENTS = st.tuples(STATES, GROUPS)


@settings(deadline=None)
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
                payload = checked_entry(NewEntry("amendment", "Ilka", payload, "seen"), True)
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

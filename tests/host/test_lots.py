"""A lot as the bag says it; one past its date or on hold asks before it goes into a batch."""

import json
import time

import pytest
from notebook_samples import DAY_MS, START_UNIX_MS, new_batch, with_curve

from snapcurve.notebook.records import Lot

BY = ("--by", "Ilka Brandner")
MADE_ON = time.strftime("%Y-%m-%d", time.gmtime(START_UNIX_MS / 1000))  # of the batch below


@pytest.fixture
def code(any_book):
    return any_book.file_batch(with_curve(allergens=())).code


def test_a_lot_as_the_bag_says_it(any_book, type_in, code):
    said = type_in(
        "lot", code, "milk couverture", "MC-104", "--maker", "Hollerbach", "--mass", "1kg",
        "--best-before", "2027-05-01", *BY,
    )  # fmt: skip
    assert "lot MC-104, of Hollerbach, 1000 g, best before 2027-05-01, allergens not known" in said
    (lot,) = any_book.as_amended(code).now.lots
    assert lot.best_before == "2027-05-01"
    (told,) = json.loads(type_in("show", code, "--json"))["now"]["lots"]
    assert told["best_before"] == "2027-05-01"
    assert any_book.check() == []
    filed = any_book.file_batch(new_batch(2, lots=(Lot("milk", "M-1", best_before="2027-01-31"),)))
    assert any_book.batch(filed.code).lots[0].best_before == "2027-01-31"
    assert any_book.check() == []


def test_a_lot_past_its_date_asks_before_it_goes_in(any_book, type_in, code):
    words = ("lot", code, "milk", "M-1", *BY)
    said = type_in(*words, "--best-before", "2026-11-23", fails=True)
    assert f"Lot M-1 was best before 2026-11-23, and the batch is of {MADE_ON}" in said
    assert "--yes" in said
    assert any_book.history(code) == []
    type_in(*words, "--best-before", "2026-11-23", "--yes")
    # the date of the bag is known from then on
    later = any_book.file_batch(new_batch(2, started=START_UNIX_MS + DAY_MS)).code
    assert "was best before" in type_in("lot", later, "milk", "m-1", *BY, fails=True)
    type_in(*words[:2], "milk", "M-2", "--best-before", MADE_ON, *BY)  # its last day


def test_a_lot_on_hold_asks_until_it_is_released(any_book, type_in, code):
    said = type_in("lot", "hold", "MC-104", "letter of the maker", *BY)
    assert "Ilka Brandner: lot MC-104 on hold: letter of the maker" in said
    words = ("lot", code, "milk", "mc-104", *BY)
    assert "is on hold since Ilka Brandner said: letter" in type_in(*words, fails=True)
    assert "on hold" in type_in("lot", "today", "milk", "MC-104", fails=True)
    type_in("lot", "release", "MC-104", "analysis is clean", *BY)
    type_in(*words)
    assert "1 batch has it already" in type_in("lot", "hold", "MC-104", "again", *BY)
    for words in (("trace", "MC-104"), ("today",)):
        assert "! Lot MC-104 was put on hold on" in type_in(*words)
    assert any_book.check() == []


@pytest.mark.parametrize("answer", ["y", "n"])
def test_at_a_terminal_it_asks(any_book, type_in, code, monkeypatch, capsys, any_place, answer):
    from snapcurve.cli import main

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: answer)
    words = ["lot", code, "milk", "M-1", "--best-before", "2020-01-01", *BY]
    assert main([*words, "--notebook", any_place]) == (0 if answer == "y" else 2)
    assert "! Lot M-1 was best before 2020-01-01" in capsys.readouterr().out
    assert len(any_book.history(code)) == (answer == "y")


def test_a_cleaning_says_how_and_how_it_was_verified(any_book, type_in):
    said = type_in("today", "--cleaned", "bowl", "--how", "hot water, dried", "--seen", *BY)
    assert "cleaned: bowl, hot water, dried; seen clean" in said
    assert "cleaned: slab; not verified" in type_in("today", "--cleaned", "slab", *BY)
    assert "go with --cleaned" in type_in("today", "--seen", fails=True)
    assert any_book.check() == []


@pytest.mark.parametrize("result", ["negative", "positive"])
def test_after_a_positive_swab_a_cleaning_counts_for_nothing(any_book, type_in, result):
    """Milk before a dark batch that was declared free, at one place."""
    now_ms = time.time_ns() // 1_000_000
    milk = any_book.file_batch(new_batch(1, started=now_ms - DAY_MS, allergens=("milk",))).code
    said = type_in("today", "--cleaned", "bowl", "--swab", result, *BY)
    assert ("clean again" in said) == (result == "positive")
    dark = any_book.file_batch(new_batch(2, started=now_ms + 60_000, allergens=())).code
    warned = [(one.before, one.after, one.allergens) for one in any_book.missing_cleanings()]
    assert warned == ([(milk, dark, {"milk"})] if result == "positive" else [])


def test_the_users_law_is_offered_and_words_of_ones_own_are_marked(
    any_book, type_in, code, capsys
):
    """The nine major food allergens of the United States: eight by the Food Allergen Labeling and
    Consumer Protection Act of 2004, and sesame by the FASTER Act of 2021."""
    from snapcurve.cli import main

    words = ("lot", code, "crisps", "C-1", *BY, "--allergens")
    said = type_in(*words, "soy,milk", fails=True)
    assert "did you mean soya?" in said
    assert "gluten, crustaceans, egg" in said
    assert main(["settings", "set", "allergens", "US"]) == 0
    capsys.readouterr()
    said = type_in(*words, "kiwi", fails=True)
    assert said.rpartition("; use ")[2].split(", or ")[0].split(", ") == [
        "milk", "egg", "fish", "crustaceans", "nuts", "wheat", "peanut", "soya", "sesame",
    ]  # fmt: skip
    assert "allergens wheat, kiwi" in type_in(*words, "wheat,other:kiwi")
    assert "no allergen group 'other:'" in type_in(*words, "other:", fails=True)
    assert any_book.check() == []


def test_a_plan_offers_the_newest_leftover(any_book, type_in):
    def made(number, mass, couverture="Milk couverture", rehearsal=False):
        new = new_batch(
            number, started=START_UNIX_MS + number * DAY_MS, couverture=couverture,
            rehearsal=rehearsal,
        )  # fmt: skip
        code = any_book.file_batch(new).code
        type_in("note", code, "--made", "leftover", *mass, *BY)
        return code

    plan = ("plan", "milk", "--mass", "1kg", "--room", "20")
    assert "of this couverture" not in type_in(*plan)
    made(1, ("--mass", "300g"))
    second = made(2, ("--mass", "250g"))
    made(3, ("--mass", "400g"), couverture="Dark couverture")
    made(4, ("--mass", "400g"), rehearsal=True)
    assert f"snapcurve lot last leftover {second} --mass 250g" in type_in(*plan)
    later = any_book.file_batch(new_batch(5, started=START_UNIX_MS + 5 * DAY_MS)).code
    type_in("lot", later, "leftover", second, "--mass", "100g", *BY)
    assert f"150 g of batch {second} is there" in type_in(*plan)
    type_in("lot", later, "leftover", second, "--mass", "150g", *BY)
    assert f"300 g of batch {second[:8]}25-01 is there" in type_in(*plan)
    told = json.loads(type_in(*plan, "--json"))["leftover"]
    assert told == {"batch": f"{second[:8]}25-01", "mass_g": 300.0}

"""The notebook's commands as they are typed, on both databases."""

import csv
import io
import json
import time
from dataclasses import replace

import pytest
from chart_samples import RECORDED, recorded
from notebook_samples import START_UNIX_MS, full_batch, new_batch, with_curve

from snapcurve.cli import main
from snapcurve.notebook import records, rows
from snapcurve.notebook.codes import utc_offset_min
from snapcurve.shown.plain_text import cell, on_one_line

pytestmark = pytest.mark.usefixtures("own_computer")

BY = ("--by", "Ilka Brandner")
NASTY = (
    'O\'Neil "the" `bowl`',
    "two\nlines\r\n\tand a tab",
    "שוקולד מריר 70%",
    "\u202eevil",
    "=cmd()|' /C calc'!A0",
    "+1+1",
    "@SUM(A1)",
    "ß" * 300,
)


@pytest.fixture
def filled(any_book, type_in, monkeypatch):
    """Three batches on three days, the first with a curve that can be read; ten days later."""
    day_ms = 86_400_000
    monkeypatch.setattr(rows, "_now_ms", lambda: START_UNIX_MS + 10 * day_ms)
    for new in (
        with_curve(lots=(records.Lot("dark couverture", "DC-7", "Feldmann", 900_000, ("soya",)),)),
        full_batch(2, started=START_UNIX_MS + day_ms),
        full_batch(11, started=START_UNIX_MS + 2 * day_ms, operator="Jean Petit"),
    ):
        any_book.file_batch(new)
    return type_in


def codes(text):
    return [line.split()[0] for line in text.splitlines() if line.startswith("2026-")]


FIRST, SECOND, THIRD = "2026-11-24-01", "2026-11-25-01", "2026-11-26-01"


def test_batches_are_found_by_what_a_person_knows(filled):
    assert codes(filled("batches")) == [THIRD, SECOND, FIRST]
    assert codes(filled("batches", "--since", "2026-11-25")) == [THIRD, SECOND]
    assert codes(filled("batches", "--until", "2026-11-24")) == [FIRST]
    assert codes(filled("batches", "--couverture", "dark")) == [FIRST]
    assert codes(filled("batches", "--lot", "dc-7")) == [FIRST]
    assert codes(filled("batches", "--operator", "jean petit")) == [THIRD]
    filled("note", FIRST, "the Moulds were cold", *BY)
    assert codes(filled("batches", "moulds", "cold")) == [FIRST]
    assert "No matching batches." in filled("batches", "nothing-so")
    assert "is not a day" in filled("batches", "--since", "soon", fails=True)
    assert "exchange" in filled(
        "batches", "--since", "2026-11-25", "--until", "2026-11-24", fails=True
    )
    assert "--limit" in filled("batches", "--limit", "0", fails=True)
    assert "no outcome" in filled("batches", "--outcome", "splendid", fails=True)


def test_outcomes_are_noted_found_and_exported(filled, any_book):
    filled("note", FIRST, "--gloss", "dull", "--bloom", "7=marked", "--bloom", "1=none", *BY)
    assert codes(filled("batches", "--outcome", "bloom=marked")) == [FIRST]
    shown = filled("show", FIRST)
    assert "Ilka Brandner: bloom marked after 7 days" in shown
    rows = list(csv.DictReader(io.StringIO(filled("batches", "--output", "-"))))
    assert [row["gloss"] for row in rows if row["batch"] == FIRST] == ["dull"]
    assert [row["bloom after 7 d"] for row in rows] == ["", "", "marked"]
    assert "7=none" in filled("note", FIRST, "--bloom", "3=none", *BY, fails=True)
    assert "--gloss" in filled("note", FIRST, *BY, fails=True)
    assert "Who says so" in filled("note", FIRST, "--gloss", "high", fails=True)
    assert "2020-01-01-01" in filled("note", "2020-01-01-01", "--gloss", "high", *BY, fails=True)
    assert any_book.check() == []


def test_outcomes_teach(filled, any_book):
    from snapcurve.analysis.filed_outcomes import filed_outcomes
    from snapcurve.analysis.outcome_file import NotedOutcome

    filled("note", FIRST, "--gloss", "high", "--release", "clean", *BY)
    filled("note", SECOND, "--gloss", "high", "--bloom", "1=none", "--bloom", "2=slight", *BY)
    filled("note", SECOND, "--gloss", "dull", *BY)  # looked again
    assert filed_outcomes(any_book) == {
        FIRST: NotedOutcome(True, True, None),
        SECOND: NotedOutcome(None, False, 2),
    }


def test_a_blade_that_is_noted_is_judged(filled):
    assert "was not noted" in filled("show", FIRST)
    assert "set after 200 s" in filled(
        "mark", "failed", "--batch", FIRST, "--text", "soft", "--set-s", "200", *BY
    )
    assert "test blade failed" in filled("show", FIRST)
    filled("mark", "passed", "--batch", FIRST, *BY)
    assert "proved by the test blade" in filled("show", FIRST)
    assert "no test blade 77" in filled(
        "mark", "passed", "--batch", FIRST, "--number", "77", *BY, fails=True
    )
    assert "--set-s" in filled(
        "mark", "passed", "--batch", FIRST, "--set-s", "-3", *BY, fails=True
    )


def test_each_blade_has_its_own_result(filled):
    """The curve is of a board that did not number its dips: then their order does."""
    filled("mark", "passed", "--batch", FIRST, "--number", "2", *BY)
    filled("mark", "failed", "--batch", FIRST, "--text", "streaky", "--number", "1", *BY)
    tests = json.loads(filled("show", FIRST, "--json"))["dip_tests"]
    assert [(test["number"], test["passed"]) for test in tests] == [(1, False), (2, True)]
    text = " ".join(filled("show", FIRST).split())
    assert "Test blade 1 was dipped" in text
    assert "it failed: streaky." in text
    assert "it passed." in text
    assert "but 1, 2" in filled(
        "mark", "passed", "--batch", FIRST, "--number", "3", *BY, fails=True
    )


def test_a_recall_is_one_command(filled):
    filled("lot", FIRST, "sea salt", "S 1", "--maker", "Hollerbach", "--mass", "9g", *BY)
    filled("lot", SECOND, "sea salt", "S 1", "--mass", "0.5 oz", *BY)
    text = filled("trace", "s  1")
    tree = text.partition("\nWhat was made")[0]
    assert codes(tree) == [FIRST, SECOND]
    assert "2 batches" in text
    assert "DC-7" in text
    filled("lot", FIRST, "dark couverture", "DC-8", "--replaces", "DC-7", *BY)
    assert "(replaced since)" in filled("trace", "DC-7")
    found = json.loads(filled("trace", "DC-8", "--json"))["forward"]
    assert [one["batch"] for one in found] == [FIRST]
    assert [lot["lot"] for lot in found[0]["lots"]] == ["S 1", "DC-8"]
    assert [lot["mass_g"] for lot in found[0]["lots"]] == [9.0, None]
    assert "No batch" in filled("trace", "never")
    assert "package" in filled("trace", " ", fails=True)
    assert "no lot DC-1" in filled("lot", FIRST, "x", "y", "--replaces", "DC-1", *BY, fails=True)
    assert "allergen" in filled("lot", FIRST, "x", "y", "--allergens", "dust", *BY, fails=True)
    assert "not above zero" in filled("lot", FIRST, "x", "y", "--mass", "0g", *BY, fails=True)


def test_amendments_stand_beside_what_was_filed(filled, any_book):
    filled("note", SECOND, "--amend", "room", "70F", "--why", "misread", *BY)
    filled("note", SECOND, "--amend", "mass", "1.3kg", "--why", "misread", *BY)
    label = ("--take-away", "soya", "--why", "label")
    filled("note", SECOND, "--amend", "allergens", "milk, nuts", *label, *BY)
    filled("note", SECOND, "--amend", "operator", "unknown", "--why", "nobody knows", *BY)
    now = any_book.as_amended(SECOND).now
    assert (now.room_centi_c, now.mass_mg, now.allergens, now.operator) == (
        2111,
        1_300_000,
        ("milk", "nuts"),
        None,
    )
    assert "no field 'size'" in filled(
        "note", SECOND, "--amend", "size", "9", "--why", "x", *BY, fails=True
    )
    assert "reason" in filled(
        "note", SECOND, "--amend", "place", "x", "--why", " ", *BY, fails=True
    )
    assert any_book.check() == []


def test_milk_then_dark_without_cleaning_is_said(any_book, type_in, monkeypatch):
    for number, groups, minutes in ((1, ("milk",), 0), (2, (), 60)):
        started = START_UNIX_MS + minutes * 60_000
        any_book.file_batch(new_batch(number, started=started, allergens=groups, place="door"))
    assert "! 2026-11-24-02 followed 2026-11-24-01" in type_in("batches")
    monkeypatch.setattr("time.time_ns", lambda: (START_UNIX_MS + 30 * 60_000) * 1_000_000)
    assert "cleaned at door" in type_in("today", "--cleaned", "hot water", "--place", "door", *BY)
    assert "!" not in type_in("batches")


def test_what_holds_today_is_filed_once_for_all(any_book, type_in, capsys):
    import datetime

    from snapcurve.commands.collect import _Completion
    from snapcurve.shown.settings_file import Settings

    assert main(["settings", "set", "bench", "window"]) == 0
    capsys.readouterr()
    type_in("lot", "today", "dark couverture", "DC-9", "--allergens", "soya")
    assert "DC-10" in type_in("lot", "today", "Dark couverture", "DC-10")
    type_in("lot", "today", "milk powder", "P-1", "--for", "Milk couverture")
    said = type_in("today", "--room", "21.5", "--mass", "1.2kg", "--place", "by the door")
    assert "21.5 °C" in said
    now_ms = int(datetime.datetime.now().timestamp() * 1000)
    offset = utc_offset_min(now_ms / 1000)
    complete = _Completion(Settings(operator="Ilka Brandner", bench="window"), any_book)
    new = complete(with_curve(started_unix_ms=now_ms, utc_offset_min=offset))
    assert (new.place, new.room_centi_c, new.mass_mg) == ("by the door", 2150, 1_200_000)
    assert [lot.lot for lot in new.lots] == ["DC-10"]
    assert (new.operator, new.allergens) == ("Ilka Brandner", ())
    older = complete(with_curve())
    assert (older.place, older.room_centi_c, older.lots) == ("window", None, ())
    assert "DC-10" not in type_in("today", "--clear")
    assert "cannot be meant" in type_in("today", "--room", "300", fails=True)


def test_batches_are_compared(filled, any_book, tmp_path):
    raw = RECORDED.read_bytes()
    any_book.file_batch(
        with_curve(curve=replace(with_curve().curve, raw=raw, board_id=99), operator="Jean Petit")
    )
    second = "2026-11-24-02"
    text = filled("show", FIRST, second, "--chart", str(tmp_path / "both.png"))
    assert text.startswith(f"{'batch':<22}{FIRST}")
    assert (tmp_path / "both.png").stat().st_size > 20_000
    assert len(json.loads(filled("show", FIRST, second, "--json"))) == 2
    assert "up to 6 different" in filled("show", FIRST, "last", FIRST, fails=True)
    assert "let it end in .png, .svg or .pdf" in filled(
        "show", FIRST, second, "--chart", "x.gif", fails=True
    )


def test_old_batches_are_listed_and_kept(filled, any_book):
    any_book.file_batch(full_batch(40, started=START_UNIX_MS - 11 * 366 * 86_400_000))
    text = filled("batches", "--until", "2016-11-29", "--mistakes")
    assert [line[:5] for line in text.splitlines()] == ["batch", "2015-"]
    assert len(any_book.batches()) == 4


def test_nasty_names_come_through_list_and_export(any_book, type_in, tmp_path):
    code = any_book.file_batch(with_curve(couverture=NASTY[1], notes=NASTY[4])).code
    for name in NASTY:
        type_in("note", code, name, "--by", name)
        type_in("lot", code, name, name, "--maker", name, "--by", name)
    for command in (("batches",), ("show", code), ("trace", NASTY[1])):
        text = type_in(*command)
        assert all(char.isprintable() or char in "\n\u2068\u2069" for char in text)
        assert on_one_line(NASTY[1]) in text
    shown = type_in("show", code)
    assert all(on_one_line(name) in shown for name in NASTY)
    type_in("batches", "--output", "all.csv")
    (row,) = csv.DictReader(
        io.StringIO((tmp_path / "all.csv").read_bytes().decode("utf-8-sig"), newline="")
    )
    assert row["couverture"] == NASTY[1]
    assert row["notes"] == cell("\n".join([NASTY[4], *NASTY]))
    assert row["started (ISO 8601)"] == "2026-11-24T07:00:00+01:00"
    assert not any(value.startswith(("=", "+", "-", "@", "\t", "\r")) for value in row.values())
    type_in("batches", "--output", "all.json")
    (held,) = json.loads((tmp_path / "all.json").read_text("utf-8"))
    assert [one["who"] for one in held["entries"][::2]] == list(NASTY)
    assert [lot["lot"] for lot in held["now"]["lots"]] == list(NASTY)


def test_the_sheet_shows_nasty_names_whole(any_book, type_in, tmp_path):
    import pypdf

    code = any_book.file_batch(with_curve(couverture=NASTY[0], operator=NASTY[7])).code
    for name in NASTY:
        type_in("note", code, name, "--by", "Ilka Brandner")
    type_in("sheet", code, "--output", "sheet.pdf")
    pages = pypdf.PdfReader(tmp_path / "sheet.pdf").pages
    words = "".join("".join(page.extract_text() for page in pages).split())
    for name in (NASTY[0], NASTY[4], NASTY[5], NASTY[6]):
        assert "".join(name.split()) in words
    assert words.count("ß") >= 600
    assert "two\\nlines\\r\\n\\tandatab" in words
    assert "\\u202eevil" in words
    assert all(letter in words for letter in "שוקולד")
    assert "2068" not in words


@pytest.mark.parametrize(
    "text", ["=1", "+1", "-1", "@a", "\t=1", "\r=1", " =1", "\n=1", "\uff1d1", "\ufeff=1"]
)
def test_formulas_are_made_harmless(text):
    assert cell(text) == "'" + text


def test_other_cells_stay_as_they_are():
    for text in ("31.5", "milk", "a=b", "", "'=1", "שוקולד"):
        assert cell(text) == text


def test_a_curve_is_exported_with_numbers_as_numbers(filled):
    rows = list(csv.reader(io.StringIO(filled("show", FIRST, "--curve", "-"))))
    assert rows[0] == ["time (s)", "temperature (°C)"]
    curve = recorded()
    assert len(rows) == 1 + len(curve.times_s)
    assert [float(row[1]) for row in rows[1:4]] == curve.temperatures_c[:3]


def test_what_is_typed_is_what_can_be(any_book, type_in):
    code = any_book.file_batch(with_curve(started_unix_ms=time.time_ns() // 1_000_000)).code
    note = ("note", code, *BY)
    amend = (*note, "--why", "typed wrongly", "--amend")
    assert "so soon after the batch began" in type_in(*note, "--bloom", "7=none", fails=True)
    assert "at most 4000" in type_in("note", code, "x" * 4001, *BY, fails=True)
    assert "cannot be empty" in type_in(*amend, "couverture", "", fails=True)
    for room in ("−10.1", "45.1", "120F"):
        assert "cannot be meant, as rooms have" in type_in(*amend, "room", room, fails=True)
        assert "The room" in type_in("today", f"--room={room}", fails=True)
        assert "The room" in type_in("plan", "milk", "--mass", "1kg", f"--room={room}", fails=True)
        bowl = ("rescue", "milk", "--mass", "1kg", "--temp", "33", "--showed", "mark")
        assert "The room" in type_in(*bowl, f"--room={room}", fails=True)
    for mass in ("0", "0kg", "100.1kg"):
        assert "mass" in type_in(*amend, "mass", mass, fails=True)
        assert "mass" in type_in("today", f"--mass={mass}", fails=True)
    assert any_book.history(code) == []
    type_in(*amend, "mass", "100kg")
    type_in(*amend, "room", "45")


def test_a_slip_in_the_end_of_the_chain_is_no_alteration(filled, any_book):
    end = any_book.chain_end()
    right = f"{end.number}:{end.hash}"
    assert "everything as it was filed" in filled(
        "notebook", "check", "--end", f" {right.upper()}"
    )
    slips = {
        right[:-1]: "a colon and 64 digits",
        right + "0": "a colon and 64 digits",
        right[:-1] + "g": "a colon and 64 digits",
        right.replace(":", ";"): "a colon and 64 digits",
        "\u0663" + right[1:]: "a colon and 64 digits",  # a digit, but none of these
        f"1{right}": f"The chain ends with {end.number}, before 1{end.number};",
        right[:-1] + ("0" if right[-1] != "0" else "1"): "nearly those of the chain",
    }
    for typed, said in slips.items():
        sentence = filled("notebook", "check", "--end", typed, fails=True)
        assert said in sentence
        assert "changed" not in sentence

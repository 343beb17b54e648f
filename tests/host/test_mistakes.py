"""A recording that never stood in chocolate is kept, and is nobody's batch."""

import csv
import io
import json
import zlib
from dataclasses import replace

import pytest
from chart_samples import HOLDING, MELTING, alarm, fault, mark, profile
from notebook_samples import START_UNIX_MS, full_batch
from test_collecting import collection
from test_collecting import record as recorded_on

from snapcurve import notebook
from snapcurve.analysis.verdict import judge
from snapcurve.board.client import CurveRow
from snapcurve.cli import main
from snapcurve.collecting import filing
from snapcurve.notebook.records import Lot, NewEntry, Search
from snapcurve.recording.curve import Curve, Event
from snapcurve.recording.mistakes import started_by_mistake

SEEDING = profile(MELTING, HOLDING)
CUP = profile(MELTING, HOLDING, method="cup")
BY = ("--by", "Ilka Brandner")


def record(values, events=(), raw=SEEDING, step_s=1.0, **more):
    times = [index * step_s for index in range(len(values))]
    return Curve(
        profile=raw, times_s=times, temperatures_c=list(values), events=list(events),
        end_reason="button", **more,
    )  # fmt: skip


OUT = alarm(5, "probe_out")
RESUMED = Event(0, "resumed", "resumed", "work", None, 1)


@pytest.mark.parametrize(
    "curve",
    [
        record([2.0]),  # what a calibration used to leave
        record([31.0] * 18),  # in and out again
        record([0.1] * 1200),  # an ice bath
        record([98.5] * 600),  # boiling water
        record([21.0 + 0.3 * second for second in range(20)] + [27.0] * 300, [OUT]),  # in the air
        record([]),
        record([None] * 20, [fault(1, "open")]),
    ],
)
def test_what_never_stood_in_chocolate_was_started_by_mistake(curve):
    assert started_by_mistake(curve)
    judgement = judge(curve)
    assert judgement.verdict == (
        "Started by mistake: the record has no settled reading in chocolate."
    )
    assert judgement.proved is None
    assert judgement.reasons == ()
    assert "Not in temper" not in judgement.verdict


@pytest.mark.parametrize(
    "curve",
    [
        record([31.0] * 60),
        record([44.0 + second / 100 for second in range(600)]),
        record([31.0] * 18, [mark(10, "dip_test", 1)]),  # somebody was at work
        record([31.0] * 18, [RESUMED]),  # goes on with a batch
        record([None] * 900, [fault(1, "open")]),  # a broken probe hides a batch
        record([31.0] * 18, lost_blocks=1),
        record([31.0 - index / 40 for index in range(600)], raw=CUP, step_s=0.25),
        record([60.0] * 100, raw=b""),
    ],
)
def test_what_may_have_been_a_batch_is_none(curve):
    assert not started_by_mistake(curve)
    assert not judge(curve).verdict.startswith("Started by mistake")


def test_without_any_settled_reading_nothing_is_said_of_its_temper():
    verdict = judge(record([None] * 900, [fault(1, "open")])).verdict
    assert verdict == "Nothing to judge by: the record has no settled reading."


# --- filing -----------------------------------------------------------------------------


def new(curve, number=1, **changed):
    """A batch to file of ``curve``; its bytes are of no matter here."""
    raw = bytes([number])
    row = CurveRow(
        curve=number, state="closed", boot=1, size=1, crc=zlib.crc32(raw), generation=number
    )
    made = filing.new_batch(replace(curve, curve=number, board_id=7), raw, row, "pico")
    moment = START_UNIX_MS + number * 3_600_000
    return replace(made, started_unix_ms=moment, utc_offset_min=60, **changed)


@pytest.fixture
def mixed(any_book):
    """A batch, a mistake and a batch; the codes in this order."""
    lots = (Lot("milk couverture", "MC-104", "Hollerbach"),)
    filed = (
        new(record([31.0] * 600), 1, lots=lots),
        new(record([2.0]), 2, lots=lots),  # as it was filed before, with the lots of the day
        new(record([31.0] * 300), 3, lots=lots),
    )
    return any_book, [any_book.file_batch(one).code for one in filed]


def test_it_is_outside_of_list_search_trace_and_last(mixed):
    book, (first, mistaken, second) = mixed
    assert [row.code for row in book.batches()] == [second, first]
    assert [row.code for row in book.batches(1)] == [second]
    assert [row.code for row in book.search(Search(couverture="halde"))] == [second, first]
    assert [row.code for row in book.search(Search())] == [second, first]
    assert [one.batch.code for one in book.trace("MC-104").forward] == [second, first]
    everything = [second, mistaken, first]
    assert [row.code for row in book.batches(mistakes=True)] == everything
    assert [row.mistake for row in book.batches(mistakes=True)] == [False, True, False]
    assert [row.code for row in book.search(Search(mistakes=True))] == everything
    assert [one.batch.code for one in book.trace("MC-104", mistakes=True).forward] == everything
    assert book.batch(mistaken).code == mistaken  # by its code it is there as before
    assert book.as_amended(mistaken).now.mistake
    assert book.check() == []


def test_last_is_no_mistake(any_book):
    first = any_book.file_batch(new(record([31.0] * 600), 1)).code
    any_book.file_batch(new(record([2.0]), 2))
    assert any_book.batch("last").code == first


def test_a_person_may_say_otherwise(mixed):
    book, (first, mistaken, second) = mixed
    said = {"field": "mistake", "value": False}
    book.add_entry(NewEntry("amendment", "Ilka Brandner", said, "white, cooled by hand"), mistaken)
    assert [row.code for row in book.batches()] == [second, mistaken, first]
    said = {"field": "mistake", "value": True}
    book.add_entry(NewEntry("amendment", "Ilka Brandner", said, "a water bath"), first)
    book.add_entry(NewEntry("amendment", "Ilka Brandner", said, "it was one"), mistaken)
    assert [row.code for row in book.batches()] == [second]
    assert book.check() == []


def test_it_gets_none_of_what_holds_for_the_day(tmp_path):
    """Collected from a board: the batch is completed, the mistake is not."""
    folder = tmp_path / "board"
    folder.mkdir()
    store = recorded_on(folder, 200, 1)
    recorded_on(folder, 2, 2, store)
    with notebook.open_notebook(str(tmp_path / "notebook.db")) as book:
        lots = (Lot("milk couverture", "MC-104", "Hollerbach"),)
        collection(folder, book, complete=lambda one: replace(one, lots=lots, operator="Ilka"))
        batch, mistaken = (
            book.as_amended(row.code) for row in reversed(book.batches(mistakes=True))
        )
        assert (batch.now.mistake, batch.now.lots) == (False, lots)
        assert (mistaken.now.mistake, mistaken.now.lots) == (True, ())
        (entry,) = mistaken.entries
        assert entry.why == "no settled reading in chocolate"
        assert [one.batch.code for one in book.trace("MC-104", mistakes=True).forward] == [
            batch.now.code
        ]


# --- commands ---------------------------------------------------------------------------


@pytest.fixture
def type_in(mixed, any_place, tmp_path, monkeypatch, capsys):
    """Type a command; its output."""
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path / "data"))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))

    def run(*words):
        assert main([*words, "--notebook", any_place]) == 0
        return capsys.readouterr().out

    return run


def codes(text):
    return [line.split()[0] for line in text.splitlines() if line.startswith("2026-")]


def test_the_commands_leave_it_out_unless_asked(mixed, type_in):
    _, (first, mistaken, second) = mixed
    for words in (("batches",), ("batches", "--couverture", "halde"), ("trace", "MC-104")):
        newest_first = words[0] == "batches"  # a tree begins with the oldest
        assert codes(type_in(*words))[:: 1 if newest_first else -1] == [second, first]
        asked = type_in(*words, "--mistakes")
        assert codes(asked)[:: 1 if newest_first else -1] == [second, mistaken, first]
        assert asked.count("(started by mistake)") == 1
    assert f"left out: {mistaken}" in type_in("trace", "MC-104")
    rows = list(csv.DictReader(io.StringIO(type_in("batches", "--output", "-"))))
    assert [row["batch"] for row in rows] == [second, first]
    rows = list(csv.DictReader(io.StringIO(type_in("batches", "--output", "-", "--mistakes"))))
    assert [row["batch"] for row in rows] == [second, mistaken, first]
    found = json.loads(type_in("batches", "--mistakes", "--json"))
    assert [one["mistake"] for one in found] == [False, True, False]


def test_amended_it_comes_back_and_goes(mixed, type_in):
    _, (first, mistaken, second) = mixed
    type_in("note", mistaken, "--amend", "mistake", "no", "--why", "it was a short one", *BY)
    assert codes(type_in("batches")) == [second, mistaken, first]
    said = type_in("note", second, "--amend", "mistake", "yes", "--why", "warm water", *BY)
    assert "mistake was no, is yes" in said
    assert codes(type_in("batches")) == [mistaken, first]


def test_nobody_learns_from_it(any_book):
    from snapcurve.analysis.filed_outcomes import filed_outcomes

    code = any_book.file_batch(full_batch(1)).code
    for what, value in (("gloss", "high"), ("release", "clean")):
        any_book.add_entry(
            NewEntry("outcome", "Ilka Brandner", {"what": what, "value": value}), code
        )
    assert list(filed_outcomes(any_book)) == [code]
    said = {"field": "mistake", "value": True}
    any_book.add_entry(NewEntry("amendment", "Ilka Brandner", said, "a water bath"), code)
    assert filed_outcomes(any_book) == {}

"""What was set for a day is filed with the batches of that day, whenever they are collected."""

import datetime
import json
import time

import pytest

from snapcurve.cli import main

DAY_S = 86_400


class Clock:
    """The computer's calendar, wound to any moment of a zone."""

    def __init__(self, monkeypatch):
        self._patch = monkeypatch

    def zone(self, name):
        self._patch.setenv("TZ", name)
        time.tzset()

    def at(self, text):
        """It is this local time now; in Unix seconds."""
        moment = datetime.datetime.fromisoformat(text).astimezone()

        class Date(datetime.date):
            @classmethod
            def today(cls):
                return moment.date()

        self._patch.setattr("snapcurve.shown.units.date", Date)
        self._patch.setattr("datetime.date", Date)
        return moment.timestamp()


@pytest.fixture
def clock(monkeypatch):
    yield Clock(monkeypatch)
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def milk_board(type_in, wired_board):
    type_in("load", "milk")
    return wired_board


def filed(book):
    """Of each batch, oldest first: its code, lots, room, mass and place."""
    return [
        (one.code, [lot.lot for lot in one.lots], one.room_centi_c, one.mass_mg, one.place)
        for one in (book.batch(str(row.id)) for row in reversed(book.batches()))
    ]


def test_yesterdays_lots_room_and_mass_are_filed_in_the_morning(
    clock, any_book, type_in, milk_board
):
    clock.zone("Europe/Berlin")
    began = clock.at("2026-11-24T10:00")
    type_in("today", "--room", "21.5", "--mass", "1.2kg", "--place", "by the door")
    type_in("lot", "today", "milk couverture", "MC-104", "--allergens", "milk,soya")
    milk_board.record(began)
    clock.at("2026-11-25T08:00")
    said = type_in("collect")
    assert filed(any_book) == [("2026-11-24-01", ["MC-104"], 2150, 1_200_000, "by the door")]
    (line,) = [line for line in said.splitlines() if "2026-11-24-01: filed with" in line]
    for word in ("2026-11-24", "by the door", "21.5 °C", "1200 g", "MC-104"):
        assert word in line


def test_each_batch_has_what_was_set_for_its_own_day(clock, any_book, type_in, milk_board):
    clock.zone("Europe/Berlin")
    for day, lot, room in ((23, "MC-1", "20"), (24, "MC-2", "21"), (26, "MC-3", "22")):
        began = clock.at(f"2026-11-{day}T09:00")
        type_in("lot", "today", "milk couverture", lot)
        type_in("today", "--room", room)
        milk_board.record(began)
    milk_board.record(clock.at("2026-11-25T09:00"))
    clock.at("2026-12-08T08:00")
    type_in("lot", "today", "milk couverture", "MC-9")
    type_in("collect")
    assert filed(any_book) == [
        ("2026-11-23-01", ["MC-1"], 2000, None, None),
        ("2026-11-24-01", ["MC-2"], 2100, None, None),
        ("2026-11-25-01", [], None, None, None),
        ("2026-11-26-01", ["MC-3"], 2200, None, None),
    ]


def test_a_batch_over_midnight_belongs_to_the_day_it_began(clock, any_book, type_in, milk_board):
    clock.zone("Europe/Berlin")
    late = clock.at("2026-11-24T23:58:30")
    type_in("lot", "today", "milk couverture", "MC-1")
    milk_board.record(late, seconds=300)
    early = clock.at("2026-11-25T00:01:00")
    type_in("lot", "today", "milk couverture", "MC-2")
    milk_board.record(early)
    type_in("collect")
    assert [row[:2] for row in filed(any_book)] == [
        ("2026-11-24-01", ["MC-1"]),
        ("2026-11-25-01", ["MC-2"]),
    ]


@pytest.mark.parametrize(
    ("zone", "began"),
    [
        # local days that are another day in UTC, far from it, and on days of 23 and 25 hours
        ("Pacific/Auckland", "2026-11-24T07:00"),
        ("Pacific/Kiritimati", "2026-11-24T00:10"),
        ("Pacific/Pago_Pago", "2026-11-24T23:50"),
        ("Asia/Kathmandu", "2026-11-24T00:01"),
        ("Europe/Berlin", "2026-10-25T00:30"),
        ("Europe/Berlin", "2026-10-25T23:30"),
        ("Europe/Berlin", "2026-03-29T00:30"),
        ("Europe/Berlin", "2026-03-29T23:30"),
        ("America/New_York", "2026-11-01T23:30"),
    ],
)
def test_a_day_is_one_of_the_bench_in_every_zone(
    clock, any_book, type_in, milk_board, zone, began
):
    clock.zone(zone)
    unix_s = clock.at(began)
    type_in("lot", "today", "milk couverture", "MC-1")
    milk_board.record(unix_s)
    clock.at("2026-12-24T12:00")
    type_in("collect")
    assert [row[:2] for row in filed(any_book)] == [(f"{began[:10]}-01", ["MC-1"])]


def test_what_was_applied_is_told_to_scripts_too(clock, type_in, milk_board):
    clock.zone("Europe/Berlin")
    began = clock.at("2026-11-24T10:00")
    type_in("today", "--room", "21.5")
    type_in("lot", "today", "milk couverture", "MC-104", "--allergens", "none")
    milk_board.record(began)
    milk_board.record(began + DAY_S)
    clock.at("2026-11-26T08:00")
    first, second = json.loads(type_in("collect", "--json"))
    assert first["set_for_day"] == {
        "day": "2026-11-24",
        "place": None,
        "operator": None,
        "room_c": 21.5,
        "mass_g": None,
        "lots": ["MC-104"],
    }
    assert second["set_for_day"] is None


def test_what_a_batch_has_already_is_not_told_as_set(clock, type_in, milk_board):
    """A lot for another couverture is not filed, and nothing says that it was."""
    clock.zone("Europe/Berlin")
    began = clock.at("2026-11-24T10:00")
    type_in("lot", "today", "dark couverture", "DC-1", "--for", "Dark couverture")
    milk_board.record(began)
    assert "filed with" not in type_in("collect")


def test_a_batch_of_unknown_time_got_nothing_and_that_is_said(
    clock, any_book, type_in, milk_board, capsys, any_place
):
    clock.zone("Europe/Berlin")
    clock.at("2026-11-24T10:00")
    type_in("lot", "today", "milk couverture", "MC-104")
    milk_board.record(0)
    assert main(["collect", "--notebook", any_place]) == 0
    told = capsys.readouterr().err
    assert filed(any_book) == [("undated-01", [], None, None, None)]
    assert "undated-01" in told
    assert "time unknown" in told
    assert "snapcurve lot undated-01" in told


def test_a_batch_of_a_day_without_anything_beside_one_that_has_it_is_said(
    clock, any_book, type_in, milk_board, capsys, any_place
):
    """Begun before midnight, the lot typed after it."""
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T23:50"))
    clock.at("2026-11-25T00:10")
    type_in("lot", "today", "milk couverture", "MC-104")
    assert main(["collect", "--notebook", any_place]) == 0
    told = capsys.readouterr().err
    assert filed(any_book)[0][1] == []
    assert "2026-11-24-01" in told
    assert "2026-11-25" in told


def test_nothing_is_said_where_nothing_was_ever_set(clock, type_in, milk_board, capsys, any_place):
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T10:00"))
    milk_board.record(0)
    assert main(["collect", "--notebook", any_place]) == 0
    out, err = capsys.readouterr()
    assert "set for" not in out + err


def test_clearing_a_day_leaves_the_others(clock, any_book, type_in, milk_board):
    clock.zone("Europe/Berlin")
    for day in (23, 24):
        milk_board.record(clock.at(f"2026-11-{day}T09:00"))
        type_in("lot", "today", "milk couverture", f"MC-{day}")
    assert "MC-24" not in type_in("today", "--clear")
    type_in("collect")
    assert [row[1] for row in filed(any_book)] == [["MC-23"], []]


# --- the file of the days ----------------------------------------------------------------


@pytest.mark.parametrize("text", ["{", "[]", '{"day": 5}', '{"days": {"2026-11-24": {"x": 1}}}'])
def test_a_spoilt_file_is_named_and_nothing_is_collected(
    any_book, type_in, milk_board, tmp_path, text
):
    milk_board.record(time.time())
    (tmp_path / "data").mkdir(exist_ok=True)
    (tmp_path / "data" / "days.json").write_text(text)
    assert "days.json" in type_in("collect", fails=True)
    assert any_book.batches() == []


def test_a_lot_of_the_day_keeps_its_three_states(clock, any_book, type_in, milk_board):
    clock.zone("Europe/Berlin")
    began = clock.at("2026-11-24T10:00")
    type_in("lot", "today", "rice crisps", "RC-1", "--allergens", "none")
    type_in("lot", "today", "sea salt", "S-1")
    said = type_in("lot", "today", "praline", "PR-1", "--allergens", "nuts,milk")
    assert [line.rpartition("allergens ")[2] for line in said.splitlines() if "lot " in line] == [
        "none",
        "not known",
        "nuts, milk",
    ]
    milk_board.record(began)
    type_in("collect")
    assert [lot.allergens for lot in any_book.batch("last").lots] == [(), None, ("nuts", "milk")]


# --- in the notebook -----------------------------------------------------------------------


def test_a_day_is_kept_in_the_notebook_and_each_change_beside_the_earlier(
    clock, any_book, type_in
):
    clock.zone("Europe/Berlin")
    clock.at("2026-11-24T09:00")
    type_in("today", "--room", "21", "--operator", "Jean Petit", "--by", "Ilka Brandner")
    type_in("today", "--room", "22")
    type_in("today", "--room", "22")  # changes nothing
    rooms = [(entry.who, entry.payload["room_centi_c"]) for entry in any_book.bench_entries("day")]
    assert rooms == [("Ilka Brandner", 2100), ("not named", 2200)]
    assert any_book.check() == []


def test_another_computer_of_the_bench_collects_with_what_was_set(
    clock, any_book, type_in, milk_board, monkeypatch, tmp_path
):
    """The next morning, from a computer on which nothing was set; operator and all."""
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T10:00"))
    type_in("today", "--room", "21.5", "--mass", "1.2kg", "--operator", "Jean Petit")
    type_in("lot", "today", "milk couverture", "MC-104")
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path / "another computer"))
    clock.at("2026-11-25T08:00")
    type_in("collect")
    assert filed(any_book) == [("2026-11-24-01", ["MC-104"], 2150, 1_200_000, None)]
    assert any_book.batch("last").operator == "Jean Petit"


def test_each_bench_has_its_own_day_and_sees_the_others(
    clock, any_book, any_place, type_in, milk_board, capsys
):
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T10:00"))
    assert main(["settings", "set", "bench", "by the door"]) == 0
    capsys.readouterr()
    type_in("today", "--room", "25")
    assert main(["settings", "set", "bench", "by the window"]) == 0
    capsys.readouterr()
    own, _, other = type_in("today").partition("begins on 2026-11-24 at by the door gets")
    assert own.count("not recorded") == 4
    assert "25.0 °C" in other
    assert main(["collect", "--notebook", any_place]) == 0
    told = capsys.readouterr().err
    assert "nothing was set for 2026-11-24 at this bench, only at by the door; add" in told
    assert filed(any_book)[0][2] is None


def test_a_day_is_changed_later_and_what_was_collected_stays(clock, any_book, type_in, milk_board):
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T10:00"))
    type_in("today", "--room", "21")
    type_in("collect")
    clock.at("2026-11-25T08:00")
    assert "22.0 °C" in type_in("today", "--day", "2026-11-24", "--room", "22")
    assert filed(any_book)[0][2] == 2100
    assert "leave --day out" in type_in(
        "today", "--day", "yesterday", "--cleaned", "x", fails=True
    )


def test_days_of_an_earlier_version_still_hold(clock, any_book, type_in, milk_board, tmp_path):
    """As that version wrote them; a day that was set since stands in the notebook."""
    clock.zone("Europe/Berlin")
    milk_board.record(clock.at("2026-11-24T10:00"))
    lot = {"ingredient": "milk", "lot": "MC-9", "supplier": "", "mass_mg": None, "allergens": None}
    held = {"place": "by the door", "room_centi_c": 2100, "mass_mg": None, "lots": [["", lot]]}
    (tmp_path / "data").mkdir(exist_ok=True)
    (tmp_path / "data" / "days.json").write_text(json.dumps({"2026-11-24": held}))
    type_in("today", "--mass", "1kg")
    type_in("collect")
    assert filed(any_book) == [("2026-11-24-01", ["MC-9"], 2100, 1_000_000, "by the door")]

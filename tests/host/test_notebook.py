"""Filing batches and reading them back, on real SQLite files."""

import dataclasses
import sys
import time
import zlib

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from notebook_samples import START_UNIX_MS, new_batch, raw_sql, start_python
from sqlalchemy import event, insert
from sqlalchemy.exc import DBAPIError

from snapcurve import notebook
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import codes, location, tables
from tests.patience import LONGEST_S

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))
UNSIGNED_32 = st.integers(0, 2**32 - 1)


@pytest.fixture
def place(any_place):
    return any_place


@pytest.fixture
def book(place):
    with notebook.open_notebook(place) as opened:
        yield opened


def test_a_batch_comes_back_as_it_was_filed(book):
    new = new_batch(couverture_toml='name = "Generic milk"\n', operator="Ilka Brandner")
    filed = book.file_batch(new)
    for field in dataclasses.fields(new):
        if field.name != "curve":
            assert getattr(filed, field.name) == getattr(new, field.name), field.name
    for field in dataclasses.fields(filed.curve):
        if field.name != "size":
            assert getattr(filed.curve, field.name) == getattr(new.curve, field.name), field.name
    assert filed.curve.size == len(new.curve.raw)
    assert book.batch(filed.code) == book.batch(str(filed.id)) == book.batch("last") == filed
    assert book.curve_raw(filed.id) == new.curve.raw
    assert abs(filed.created_unix_ms - time.time() * 1000) < 60_000
    assert book.check() == []


@given(
    text=st.lists(TEXT, min_size=4, max_size=4),
    raw=st.binary(max_size=3000),
    profile=st.binary(max_size=300),
    numbers=st.lists(UNSIGNED_32, min_size=4, max_size=4),
)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_and_bytes_come_back(book, text, raw, profile, numbers):
    sample = new_batch(raw=raw)
    curve = dataclasses.replace(
        sample.curve,
        board_name=text[3],
        board_id=numbers[0],
        generation=numbers[1],
        boot=numbers[2],
        curve=numbers[3] & 0xFFFF,
    )
    new = dataclasses.replace(
        sample,
        curve=curve,
        couverture=text[0],
        couverture_toml=text[1],
        notes=text[2],
        operator=None,
        profile=profile,
    )
    assume(not book.has_curve(curve.board_id, curve.generation, curve.curve))
    filed = book.batch(book.file_batch(new).code)
    assert (filed.couverture, filed.couverture_toml, filed.notes) == tuple(text[:3])
    assert filed.curve.board_name == text[3]
    assert (filed.curve.board_id, filed.curve.generation, filed.curve.boot) == tuple(numbers[:3])
    assert (filed.profile, book.curve_raw(filed.id)) == (profile, raw)


@pytest.mark.parametrize("bad", ["half \ud83d", "end\0 more"])
def test_text_that_some_database_would_lose_is_refused(book, bad):
    with pytest.raises(SnapcurveError, match=r"^The notes contain"):
        book.file_batch(new_batch(notes=bad))
    assert book.batches() == []


def test_codes_count_within_the_local_day(book):
    late = START_UNIX_MS + 17 * 3_600_000 + 59 * 60_000  # 2026-11-24T23:59Z
    found = [
        book.file_batch(new_batch(1)).code,
        book.file_batch(new_batch(2)).code,
        book.file_batch(new_batch(3, started=late, utc_offset_min=0)).code,
        book.file_batch(new_batch(4, started=late, utc_offset_min=1)).code,
        book.file_batch(new_batch(5, started=late, utc_offset_min=-600)).code,
        book.file_batch(new_batch(6, started=None)).code,
        book.file_batch(new_batch(7, started=None)).code,
    ]
    assert found == [
        "2026-11-24-01",
        "2026-11-24-02",
        "2026-11-24-03",
        "2026-11-25-01",
        "2026-11-24-04",
        "undated-01",
        "undated-02",
    ]
    assert book.batch("undated-02").started_unix_ms is None


def test_codes_are_read_back():
    for day, number in (("2026-11-24", 1), ("2026-11-24", 120), ("undated", 9)):
        assert codes.parts_of(codes.code_of(day, number)) == (day, number)
    for text in ("", "-", "-3", "milk", "2026-11-24-", "2026-11-24-x", "a-٣", "a-1_0"):
        assert codes.parts_of(text) is None, text


def test_list_is_newest_first_and_can_be_cut(book):
    for number, hours in ((1, 5), (2, 1), (3, 9)):
        book.file_batch(new_batch(number, started=START_UNIX_MS + hours * 3_600_000))
    assert [row.id for row in book.batches()] == [3, 1, 2]
    assert [row.id for row in book.batches(limit=2)] == [3, 1]
    assert book.batch("last").id == 3


def test_unknown_batches_get_a_hint(book):
    with pytest.raises(SnapcurveError, match=r"no batches yet; collect or rehearse"):
        book.batch("last")
    book.file_batch(new_batch())
    for wanted in ("2026-11-24-02", "17", "milk", "", "9" * 30, "x-" + "9" * 30):
        with pytest.raises(SnapcurveError, match=r"There is no batch .*2026-11-24-01"):
            book.batch(wanted)
    with pytest.raises(SnapcurveError, match="no curve"):
        book.curve_raw(17)


def test_filing_a_curve_twice_gives_the_one_batch(book):
    first = book.file_batch(new_batch(1))
    assert book.file_batch(new_batch(1, notes="collected again")) == first
    assert len(book.batches()) == 1
    second = book.file_batch(new_batch(2))
    assert second.code == "2026-11-24-02"  # the refused one used up no number


def test_other_bytes_under_a_filed_name_are_refused(book):
    new = new_batch(1)
    book.file_batch(new)
    other = dataclasses.replace(new.curve, raw=b"other", crc=zlib.crc32(b"other"))
    with pytest.raises(RecordError, match=r"filed before as batch 2026-11-24-01 with other"):
        book.file_batch(dataclasses.replace(new, curve=other))
    assert book.curve_raw(1) == new.curve.raw


def test_a_curve_that_does_not_fit_its_crc_is_not_filed(book):
    new = new_batch(1)
    damaged = dataclasses.replace(new.curve, raw=new.curve.raw[:-1] + b"!")
    with pytest.raises(RecordError, match="arrived damaged"):
        book.file_batch(dataclasses.replace(new, curve=damaged))
    assert book.batches() == []


def test_has_curve(book):
    curve = new_batch(1).curve
    name = (curve.board_id, curve.generation, curve.curve)
    assert not book.has_curve(*name)
    book.file_batch(new_batch(1))
    assert book.has_curve(*name)
    assert book.has_curve(*name, crc=curve.crc)
    assert not book.has_curve(*name, crc=curve.crc ^ 1)
    for part in range(3):
        other = [value + (index == part) for index, value in enumerate(name)]
        assert not book.has_curve(*other)


def test_filed_curves_refuse_change(book, place):
    book.file_batch(new_batch())
    for change in (
        "UPDATE curves SET raw = NULL",
        "UPDATE curves SET crc = 1",
        "UPDATE curves SET board_name = 'other'",
        "DELETE FROM curves",
    ):
        with pytest.raises(DBAPIError, match="a filed curve is never"):
            raw_sql(place, change)


def test_listing_does_not_slow_down_with_the_notebook(tmp_path):
    """A page of a notebook of 10,000 batches costs at most 3 times one of 100: counted in steps of
    SQLite's own machine, which are the same however busy the computer is.
    """
    steps = []
    for count in (100, 10_000):
        book = notebook.open_notebook(str(tmp_path / f"{count}.db"))
        rows = [
            {
                "day": "2026-11-24", "day_number": number, "utc_offset_min": 60,
                "started_unix_ms": START_UNIX_MS + number, "couverture": "Generic dark",
                "method": "hold", "profile": b"", "rehearsal": False, "created_unix_ms": 1,
            }
            for number in range(1, count + 1)
        ]  # fmt: skip
        with book.engine.begin() as connection:
            connection.execute(insert(tables.batches), rows)
        counted = []

        def count(dbapi_connection, *_, counted=counted):
            dbapi_connection.set_progress_handler(lambda: counted.append(1), 10)

        event.listen(book.engine, "checkout", count)
        assert len(book.batches(limit=50)) == 50
        steps.append(len(counted))
    assert 0 < steps[1] < 3 * steps[0], steps


def test_where_the_notebook_is(monkeypatch, tmp_path):
    monkeypatch.delenv(location.VARIABLE, raising=False)
    data = tmp_path / "a b?c%41#é"
    monkeypatch.setattr(location, "_default_path", lambda: data / "snapcurve" / "notebook.db")
    assert location.default_url().startswith("sqlite:///")
    assert location.place_of(location.default_url()) == data / "snapcurve" / "notebook.db"
    with notebook.open_notebook() as book:  # makes the folder and the file
        assert book.path == data / "snapcurve" / "notebook.db"
        assert book.path.exists()
    monkeypatch.setenv(location.VARIABLE, str(tmp_path / "mine.db"))
    with notebook.open_notebook() as book:
        assert book.path == tmp_path / "mine.db"
    with notebook.open_notebook(f"sqlite:///{tmp_path}/given.db") as book:
        assert book.path == tmp_path / "given.db"


def test_opening_loads_no_more_than_it_needs(book, place):
    script = (
        "import snapcurve.notebook as n\n"
        "print('sqlalchemy' in sys.modules)\n"
        "n.open_notebook(sys.argv[1])\n"
        "print('sqlalchemy' in sys.modules, 'alembic' in sys.modules)"
    )
    process = start_python(script, place)
    assert process.communicate(timeout=LONGEST_S)[0].split() == ["False", "True", "False"]
    assert "snapcurve.notebook" in sys.modules


# --- the last one -------------------------------------------------------------------------

PAST_UNIX_MS = 1_700_000_000_000  # 2023-11-14T22:13:20Z


def of_start(boot, number, started, **changed):
    """A batch of this start of the board; ``started`` None: it had no clock then."""
    new = new_batch(number, started=started, **changed)
    return dataclasses.replace(new, curve=dataclasses.replace(new.curve, boot=boot))


@pytest.mark.parametrize("backwards", [False, True])
def test_last_began_last_in_whatever_order_they_are_filed(book, backwards):
    batches = [
        of_start(3, 1, None),  # before the clock was set
        of_start(4, 2, PAST_UNIX_MS),
        of_start(4, 3, PAST_UNIX_MS + 7_200_000),
    ]
    filed = [book.file_batch(one) for one in (batches[::-1] if backwards else batches)]
    assert book.batch("last").curve.curve == 3
    assert book.as_amended("last").filed.code == filed[0 if backwards else 2].code


def test_a_batch_of_unknown_time_that_nothing_follows_is_the_last(book):
    book.file_batch(of_start(4, 2, PAST_UNIX_MS))
    book.file_batch(of_start(9, 1, PAST_UNIX_MS + 1000, board_id=8))  # another board
    later = book.file_batch(of_start(5, 3, None))
    assert book.batch("last").code == later.code


def test_of_rehearsals_the_last_is_the_last_made(book):
    """However long it took by its own clock, and whatever began meanwhile."""
    now_ms = time.time_ns() // 1_000_000
    book.file_batch(new_batch(1, started=now_ms - 60_000))
    book.file_batch(new_batch(2, started=now_ms - 400_000, rehearsal=True, board_id=8))
    last = book.file_batch(new_batch(3, started=now_ms - 3_600_000, rehearsal=True, board_id=8))
    assert book.batch("last").code == last.code
    last = book.file_batch(new_batch(4, started=now_ms + 60_000))  # its board's clock is ahead
    assert book.batch("last").code == last.code

"""A bench's login on a real server, with the rights that roles.sql gives: it files as ever, and
nothing that it can say changes, forges, blocks or breaks the record for others."""

import contextlib
import json
import threading
import time
import zlib
from dataclasses import dataclass

import psycopg
import pytest
from notebook_samples import full_batch, new_batch, picture, with_curve
from postgresql_server import PASSWORD
from pypdf import PdfReader

from snapcurve import notebook
from snapcurve.cli import main
from snapcurve.errors import SnapcurveError
from snapcurve.notebook import records, tables
from snapcurve.notebook.postgresql import roles_sql
from snapcurve.notebook.records import NewEntry
from tests.patience import LONGEST_S

NOTE = NewEntry("note", "Ilka Brandner", {"text": "x"})
BENCHES = ("bench_window", "bench_door")


@dataclass
class Shared:
    """A notebook whose owner is no administrator, and the addresses of owner and benches."""

    owner: str
    benches: tuple[str, ...]
    administrator: str


@pytest.fixture(scope="module")
def shared(postgresql):
    name = "shared_notebook"
    postgresql.execute(
        "postgres",
        f"CREATE ROLE keeper LOGIN PASSWORD '{PASSWORD}'",
        f"CREATE DATABASE {name} OWNER keeper",
    )
    owner = postgresql.url(name, "keeper")
    with notebook.open_notebook(owner) as book:
        filed = book.file_batch(full_batch(1))
        book.add_entry(NOTE, filed.code)
    # as the script says: it may be run again
    postgresql.execute(name, roles_sql(), roles_sql())
    for bench in BENCHES:
        postgresql.execute(
            name, f"CREATE ROLE {bench} LOGIN PASSWORD '{PASSWORD}' IN ROLE snapcurve_bench"
        )
    benches = tuple(postgresql.url(name, one) for one in BENCHES)
    return Shared(owner, benches, postgresql.url(name))


@pytest.fixture
def hostile(shared):
    """A connection of the first bench."""
    with psycopg.connect(shared.benches[0], autocommit=True) as connection:
        yield connection


def held(shared):
    """All rows of all tables."""
    with psycopg.connect(shared.administrator) as connection:
        return {
            table: sorted(map(repr, connection.execute(f"SELECT * FROM {table}").fetchall()))
            for table in (*tables.metadata.tables, "snapcurve_version")
        }


def test_a_bench_files_reads_and_checks(shared):
    with notebook.open_notebook(shared.benches[0]) as book:
        filed = book.file_batch(full_batch(2))
        book.add_entry(NOTE, filed.code)
        for new in (
            NewEntry("picture", "Ida", {"name": "tray.jpg"}, picture=picture()),
            NewEntry("lot", "Ida", {"ingredient": "salt", "lot": "S-1", "allergens": ["milk"]}),
            NewEntry("amendment", "Ida", {"field": "mass_mg", "value": 900_000}, "weighed again"),
            NewEntry("amendment", "Ida", {"field": "operator", "value": None}, "nobody knows"),
            NewEntry("made", "Ida", {"name": "bars", "pieces": 12}),
            NewEntry("outcome", "Ida", {"what": "gloss", "value": "high"}),
        ):
            book.add_entry(new, filed.code)
        held = {"ingredient": "salt", "lot": "S-1", "allergens": None, "mass_mg": 9}
        day = {"day": "2026-11-24", "bench": "", "lots": [["", held]]}
        book.add_entry(NewEntry("day", "Ida", day))
        book.file_calibration(records.Calibration(7, "b", "ice", "MAX31856", "K", b"1"))
        assert len(book.search(records.Search(text="bowl"))) == 2
        assert book.check() == []
        assert book.clock_steps() == []
    with psycopg.connect(shared.administrator) as connection:
        query = "SELECT DISTINCT filed_by FROM seals WHERE number > 2"
        assert connection.execute(query).fetchall() == [("bench_window",)]


def test_whose_login_filed_it_is_shown(postgresql, shared, own_computer, capsys):
    """A name may be typed; the login is the server's word, and sealed."""
    door = shared.benches[1]
    with notebook.open_notebook(door) as book:
        code = book.file_batch(with_curve()).code
    with notebook.open_notebook(shared.benches[0]) as book:
        book.add_entry(NewEntry("note", "Jean Petit", {"text": "cold moulds"}), code)
    assert main(["show", code, "--notebook", door]) == 0
    said = capsys.readouterr().out
    assert "  filed by   login bench_door\n" in said
    assert "  Jean Petit: " in said
    assert "cold moulds (login bench_window)\n" in said
    assert main(["show", code, "--json", "--notebook", door]) == 0
    held = json.loads(capsys.readouterr().out)
    assert [held["filed_by"], *(one["filed_by"] for one in held["entries"])] == [
        "bench_door",
        "bench_window",
    ]
    assert main(["sheet", code, "-o", "sheet.pdf", "--notebook", door]) == 0
    words = " ".join(page.extract_text() for page in PdfReader("sheet.pdf").pages)
    assert "Filed by login bench_door" in " ".join(words.split())
    postgresql.execute(
        door.rpartition("/")[2],
        "ALTER TABLE seals DISABLE TRIGGER USER",
        f"UPDATE seals SET filed_by = 'x' WHERE name = '{code}' AND kind = 'batch'",
        "ALTER TABLE seals ENABLE TRIGGER USER",
    )
    capsys.readouterr()
    assert main(["show", code, "--notebook", door]) == 0
    assert f"Not as filed: Batch {code}: its seal was altered." in capsys.readouterr().out
    postgresql.execute(
        door.rpartition("/")[2],
        "ALTER TABLE seals DISABLE TRIGGER USER",
        f"UPDATE seals SET filed_by = 'bench_door' WHERE name = '{code}' AND kind = 'batch'",
        "ALTER TABLE seals ENABLE TRIGGER USER",
    )


MOMENT = 1_800_000_000_000


def batch(day="2030-01-01", number=1, began=MOMENT, offset=0, filed=MOMENT):
    return (
        "INSERT INTO batches (day, day_number, started_unix_ms, utc_offset_min, couverture,"
        " method, profile, rehearsal, created_unix_ms)"
        f" VALUES ('{day}', {number}, {began}, {offset}, 'x', 'hold', '', false, {filed})"
    )


OWN = "(SELECT max(id) FROM batches)"
CRC = zlib.crc32(b"\0")


def curve(batch_id=OWN, size=1, crc=CRC):
    return (
        "INSERT INTO curves (batch_id, board_id, board_name, boot, curve, generation, size, crc,"
        f" raw, collected_unix_ms) VALUES ({batch_id}, 9, 'b', 1, 1, 1, {size}, {crc}, '\\x00', 1)"
    )


def mark(batch_id):
    return (
        "INSERT INTO marks (batch_id, offset_ms, kind, number, phase)"
        f" VALUES ({batch_id}, 1, 'note', 1, 'work')"
    )


def lot(entry_id):
    return (
        "INSERT INTO lots (batch_id, entry_id, ingredient, supplier, lot, allergens)"
        f" VALUES (1, {entry_id}, 'x', '', 'L', '[]')"
    )


def entry(kind="note", payload='{"text":"x"}', batch_id=1, at=MOMENT):
    return (
        "INSERT INTO entries (batch_id, kind, who, why, at_unix_ms, utc_offset_min, payload)"
        f" VALUES ({batch_id}, '{kind}', 'x', 'y', {at}, 0, '{payload}')"
    )


SEAL = f"SELECT snapcurve_seal('batch', {OWN})"
SEAL_ENTRY = "SELECT snapcurve_seal('entry', (SELECT max(id) FROM entries))"


def whole(**changed):
    """A batch with its curve, sealed."""
    return "; ".join((batch(**changed), curve(), SEAL))


def sealed(*given, **changed):
    """An entry, sealed."""
    return f"{entry(*given, **changed)}; {SEAL_ENTRY}"


TABLES = (
    "batches", "curves", "marks", "alarms", "lots", "entries", "pictures", "calibrations", "seals",
    "seal_head", "words", "snapcurve_version",
)  # fmt: skip
COLUMNS = (
    "notes", "raw", "kind", "alarm", "lot", "payload", "content", "raw", "hash", "hash", "word",
    "version_num",
)  # fmt: skip
HOSTILE = [
    # change or remove what was recorded
    *(f"UPDATE {one} SET {its} = {its}" for one, its in zip(TABLES, COLUMNS, strict=True)),
    *(f"DELETE FROM {one}" for one in TABLES),
    "TRUNCATE batches CASCADE",
    "TRUNCATE seals, seal_head",
    "DROP TABLE words",
    "ALTER TABLE seals ADD COLUMN x text",
    "ALTER TABLE batches DISABLE TRIGGER ALL",
    "CREATE INDEX ON batches (notes)",
    "COPY batches FROM PROGRAM 'echo'",
    # forge seals, or the end of the chain
    "INSERT INTO seals (number, kind, item_id, name, form, late, sealed_unix_ms, digests, hash)"
    " VALUES (99, 'batch', 99, 'x', 4, false, 1, 'x', 'x')",
    "INSERT INTO seal_head VALUES (2, 0, 'x')",
    "SELECT * FROM seal_head FOR UPDATE",
    "SELECT snapcurve_seal('batch', 1)",
    "SELECT snapcurve_seal('entry', 1)",
    "SELECT snapcurve_seal('batch', NULL)",
    "SELECT snapcurve_seal('nothing', 1)",
    "SELECT snapcurve_seal('batch', 999)",
    # add to what others filed
    mark(1),
    curve(1),
    "INSERT INTO alarms (batch_id, offset_ms, alarm, phase) VALUES (1, 1, 'near', 'work')",
    lot("NULL"),
    lot("1"),
    "INSERT INTO pictures (entry_id, media_type, content, sha256) VALUES (1, 'x', '', '')",
    "INSERT INTO words VALUES ('text', 'forged', 1, 1)",
    f"{sealed()}; {mark(1)}",
    # what is not whole, or not sealed
    batch(),
    f"{batch()}; {curve()}",
    f"{batch()}; {SEAL}",
    f"{batch()}; {curve()}; {curve()}; {SEAL}",
    f"{whole()}; {mark(OWN)}",
    f"{whole()}; {SEAL}",
    f"{batch()}; {curve(size=2)}; {SEAL}",
    f"{batch()}; {curve(crc=1)}; {SEAL}",
    f"{batch()}; {curve()}; SET CONSTRAINTS ALL DEFERRED",
    entry(),
    sealed("lot", '{"ingredient":"x","lot":"L"}'),
    sealed("picture", '{"name":"x","sha256":"x","size_bytes":1}'),
    "INSERT INTO calibrations (board_id, board_name, filed_unix_ms, step, converter, tc_type, raw,"
    " rehearsal) VALUES (1, 'x', 1, 'ice', 'x', 'K', '', false)",
    # what nobody could read any more
    sealed(payload="no json"),
    sealed(payload="[]"),
    sealed(payload='{"text":1}'),
    sealed(payload="{}"),
    sealed(payload='{"text":"x","more":1}'),
    sealed("strange"),
    sealed("amendment", '{"field":"id","value":1}'),
    sealed("amendment", '{"field":"mass_mg","value":"x"}'),
    sealed("outcome", '{"what":"x"}'),
    sealed("made", '{"name":"x"}', "NULL"),
    sealed("made", '{"name":"x","best_before":"soon"}'),
    sealed("made", '{"name":"x","best_before":"2026-02-31"}'),
    sealed("day", '{"day":"soon","bench":""}', "NULL"),
    sealed("day", '{"day":"2026-11-30","bench":"","lots":5}', "NULL"),
    sealed("day", '{"day":"2026-11-30","bench":"","lots":[1]}', "NULL"),
    sealed("day", '{"day":"2026-11-30","bench":"","lots":[["",{"lot":"L"}]]}', "NULL"),
    sealed(at=10**18),
    sealed(batch_id=999),
    whole(day="soon"),
    whole(number=2147483647),
    whole(day="2026-11-24", number=1),
    whole(offset=100_000),
    whole(began=10**17),
    whole(filed=-1),
    # make things of one's own, or become somebody else
    "CREATE TABLE seals2 (x text)",
    "CREATE TEMPORARY TABLE batches (id integer)",
    "CREATE SCHEMA mine",
    "CREATE FUNCTION helper() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL'",
    "CREATE OR REPLACE FUNCTION snapcurve_lock() RETURNS TABLE (number integer, hash text)"
    " LANGUAGE sql AS $$ SELECT 1, 'x' $$",
    "CREATE TRIGGER helper BEFORE INSERT ON marks EXECUTE FUNCTION refuse_change_of_record()",
    "CREATE RULE quiet AS ON INSERT TO marks DO INSTEAD NOTHING",
    "CREATE EXTENSION pgcrypto",
    "SET session_replication_role = replica",
    "SET ROLE keeper",
    "SET SESSION AUTHORIZATION keeper",
    "ALTER ROLE keeper PASSWORD 'x'",
    "GRANT keeper TO bench_window",
    "GRANT UPDATE ON seal_head TO bench_window; UPDATE seal_head SET hash = hash",
    "ALTER FUNCTION snapcurve_lock() OWNER TO bench_window",
    "ALTER DATABASE shared_notebook SET search_path = pg_temp",
    # use up or lock what others need
    "SELECT nextval('batches_id_seq')",
    "LOCK TABLE batches IN ACCESS EXCLUSIVE MODE",
    "LOCK TABLE seal_head IN SHARE MODE",
    "LOCK TABLE snapcurve_version IN SHARE MODE",
    "SELECT * FROM batches FOR UPDATE",
    "SELECT * FROM snapcurve_version FOR KEY SHARE",
    "SELECT pg_advisory_lock(1936613744)",
    "SELECT pg_try_advisory_xact_lock(1936613744)",
    "SELECT lo_create(0)",
    "SELECT pg_reload_conf()",
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = 'bench_door'",
]


def test_there_are_many():
    assert len(HOSTILE) == len(set(HOSTILE)) >= 60


def test_none_of_the_statements_succeeds(shared, hostile):
    before = held(shared)
    succeeded = []
    # somebody to be thrown out
    with psycopg.connect(shared.benches[1], autocommit=True) as other:
        for statement in HOSTILE:
            try:
                with hostile.transaction():
                    for one in statement.split("; "):
                        hostile.execute(one)
            except psycopg.Error:
                continue
            succeeded.append(statement)
        assert other.execute("SELECT 1").fetchone() == (1,)
    assert succeeded == []
    assert held(shared) == before
    with notebook.open_notebook(shared.benches[1]) as book:
        assert book.check() == []
        book.file_batch(full_batch(40))
        assert book.check() == []


def test_what_is_right_succeeds(hostile, shared):
    """Else the statements above could have failed for another reason than theirs."""
    for statement in (whole(), sealed(), sealed("outcome", '{"what":"gloss","value":"high"}')):
        with hostile.transaction():
            for one in statement.split("; "):
                hostile.execute(one)
            if statement == whole():
                # an id of one's own choice is not taken
                newest = hostile.execute("SELECT max(id), count(*) FROM batches").fetchone()
                assert newest[0] == newest[1]
    with psycopg.connect(shared.administrator) as connection:
        query = "SELECT filed_by FROM seals ORDER BY number DESC LIMIT 3"
        assert connection.execute(query).fetchall() == [("bench_window",)] * 3


def test_words_are_an_index_and_no_record(shared, hostile):
    """A bench may index wrongly what it files: that is said, and the check does not fail."""
    index = "INSERT INTO words SELECT 'text', 'forged', coalesce(started_unix_ms, created_unix_ms)"
    with hostile.transaction():
        for one in (entry(), f"{index}, id FROM batches WHERE id = 1", SEAL_ENTRY):
            hostile.execute(one)
    with notebook.open_notebook(shared.benches[1]) as book:
        assert book.check() == []
        assert any("its search words" in one for one in book.index_troubles())


@pytest.mark.parametrize("way", ["SELECT snapcurve_lock()", batch(day="2031-01-01")])
def test_who_holds_the_notebook_up_is_ended(shared, way):
    """Until five seconds are over others are told that it is in use; then the holder is ended."""
    number = 50 + len(way) % 7
    with psycopg.connect(shared.benches[0], autocommit=True) as hostile:
        for setting in ("lock_timeout", "statement_timeout"):
            hostile.execute(f"SET {setting} = 0")
        hostile.execute("SET idle_in_transaction_session_timeout = 0")
        hostile.execute("BEGIN")
        hostile.execute(way)
        deadline_s = time.monotonic() + LONGEST_S
        with notebook.open_notebook(shared.benches[1], wait_s=2) as book:
            said = set()
            while time.monotonic() < deadline_s:
                try:
                    book.file_batch(new_batch(number, board_id=number))
                    break
                except SnapcurveError as error:
                    said.add(str(error).partition(";")[0])
            assert said <= {"The shared notebook is in use by another program"}
            assert len(book.search(records.Search(since_unix_ms=0))) > 0
            assert book.check() == []
        with pytest.raises(psycopg.OperationalError):
            hostile.execute("SELECT 1")


class Holder:
    """A connection that takes the notebook, or stands in the queue for it, and keeps it."""

    def __init__(self, address):
        self.connection = psycopg.connect(address, autocommit=True)
        for setting in ("lock_timeout", "statement_timeout"):
            self.connection.execute(f"SET {setting} = 0")
        self.connection.execute("SET idle_in_transaction_session_timeout = 0")
        self.connection.execute("BEGIN")
        self._taking = threading.Thread(target=self._take)
        self._taking.start()

    def _take(self):
        with contextlib.suppress(psycopg.Error):
            self.connection.execute("SELECT snapcurve_lock()")

    def ended(self):
        """Whether the server has ended it; afterwards it is."""
        self._taking.join(LONGEST_S)
        with self.connection:
            try:
                self.connection.execute("SELECT 1")
            except psycopg.OperationalError:
                return True
        return False


def until_all_file(shared, count):
    """Until so many transactions that file, or want to, are older than five seconds."""
    query = (
        "SELECT count(DISTINCT a.pid) FROM pg_stat_activity a JOIN pg_locks l ON l.pid = a.pid"
        " WHERE l.relation = 'seal_head'::regclass AND l.mode = 'RowShareLock'"
        " AND a.xact_start < clock_timestamp() - interval '5 seconds'"
    )
    deadline_s = time.monotonic() + LONGEST_S
    with psycopg.connect(shared.administrator, autocommit=True) as connection:
        while connection.execute(query).fetchone() != (count,):
            assert time.monotonic() < deadline_s
            time.sleep(0.1)


def test_several_that_hold_it_up_in_turn_are_ended_together(shared):
    """Eight connections of one login in the queue: who comes behind them files at once."""
    holders = [Holder(shared.benches[0]) for _ in range(8)]
    until_all_file(shared, len(holders))
    with notebook.open_notebook(shared.benches[1], wait_s=2) as book:
        book.file_batch(new_batch(70, board_id=70))
        assert book.check() == []
    assert sum(one.ended() for one in holders) == len(holders)


def test_of_ones_own_login_only_who_holds_is_ended(shared):
    """A program that hung, two that wait, of the same bench: both file."""
    hung = Holder(shared.benches[1])
    until_all_file(shared, 1)
    done = []

    def file(number):
        with notebook.open_notebook(shared.benches[1], wait_s=LONGEST_S) as book:
            done.append(book.file_batch(new_batch(number, board_id=number)).id)

    waits = threading.Thread(target=file, args=(71,))
    waits.start()
    with notebook.open_notebook(shared.benches[1], wait_s=2) as book:
        book.file_batch(new_batch(72, board_id=72))
    waits.join(LONGEST_S)
    assert hung.ended()
    assert len(done) == 1


def test_somebody_who_waits_is_not_ended(shared):
    """Those that stand in the queue behind the holder are innocent."""
    done = []

    def file(number):
        with notebook.open_notebook(shared.benches[1], wait_s=LONGEST_S) as book:
            done.append(book.file_batch(new_batch(number, board_id=90 + number)).id)

    with psycopg.connect(shared.owner) as holder:
        holder.execute("SELECT snapcurve_lock()")
        waiting = [threading.Thread(target=file, args=(number,)) for number in (1, 2, 3)]
        for one in waiting:
            one.start()
        holder.commit()
    for one in waiting:
        one.join(LONGEST_S)
    assert len(done) == 3


def test_the_database_seals_as_the_program_would(shared):
    """The same bytes by two programs: the check works out every seal in Python."""
    odd = {
        "operator": "Łucja O'Neil \U0001f36b שלום",
        "notes": "\t\n%s {} \\ '",
        "room_centi_c": None,
        "mass_mg": 2**40,
        "allergens": None,
        "calibration": b"",
        "rehearsal": True,
        "started": None,
    }
    with notebook.open_notebook(shared.benches[1]) as book:
        for number, (name, value) in enumerate(odd.items(), start=200):
            book.file_batch(full_batch(number, **{name: value}))
        assert book.check() == []


ODD = [
    ("outcome", {"what": "strange", "value": "q"}),
    ("dip_test", {"result": "perhaps", "mark": -3, "set_s": 10**12}),
    ("amendment", {"field": "allergens", "value": ["nonsense"], "takes": ["x"]}),
    ("amendment", {"field": "mass_mg", "value": -5}),
    ("amendment", {"field": "room_centi_c", "value": 10**14}),
    ("amendment", {"field": "couverture", "value": ""}),
    ("made", {"name": "", "pieces": -1, "best_before": "9999-12-31"}),
    ("deviation", {"of": "strange", "at_s": -1, "action": "x", "disposition": "y"}),
    ("cleaning", {"text": "", "verified": "perhaps"}),
    ("correction", {"text": "\u202e"}),
]


def test_odd_entries_that_are_taken_break_no_command_for_others(postgresql, own_computer, capsys):
    """What no command would have filed, and the database lets pass."""
    place = postgresql.new_database()
    with notebook.open_notebook(place) as book:
        code = book.file_batch(with_curve()).code
    with psycopg.connect(place) as connection:
        for kind, payload in ODD:
            connection.execute(entry(kind, json.dumps(payload)))
            connection.execute(SEAL_ENTRY)
    for words in (
        ("show", code), ("show", code, "--json"), ("batches",), ("trace", code), ("today",),
        ("sheet", code, "-o", "sheet.pdf"), ("notebook", "export", "all"), ("notebook", "check"),
    ):  # fmt: skip
        assert main([*words, "--notebook", place]) == 0, words
        assert "Traceback" not in capsys.readouterr().err

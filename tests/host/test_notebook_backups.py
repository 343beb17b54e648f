"""Backup and restore."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from notebook_samples import alter, new_batch, start_python, unguard

from snapcurve import notebook
from snapcurve.errors import RecordError, SnapcurveError
from snapcurve.notebook import backups
from tests.patience import LONGEST_S

KEEP_FILING = """
from notebook_samples import new_batch
from snapcurve import notebook
book = notebook.open_notebook(sys.argv[1])
for number in range(100, 140):
    print(book.file_batch(new_batch(number)).code, flush=True)
"""


@pytest.fixture
def place(tmp_path):
    place = tmp_path / "notebook.db"
    with notebook.open_notebook(str(place)) as book:
        for number in (1, 2):
            book.file_batch(new_batch(number))
    return str(place)


@pytest.fixture
def saved(place, tmp_path):
    saved = tmp_path / "saved.db"
    backups.backup(str(saved), place)
    return str(saved)


def names(folder):
    return sorted(path.name for path in Path(folder).iterdir())


def batches_in(place):
    with notebook.open_notebook(place) as book:
        assert book.check() == []
        rows = [book.batch(row.code) for row in book.batches()]
        return [(row, book.curve_raw(row.id)) for row in rows]


def test_backup_holds_the_same(place, saved, tmp_path):
    assert batches_in(saved) == batches_in(place)
    assert names(tmp_path) == ["notebook.db", "saved.db"]


def test_backup_never_overwrites(place, saved):
    for target in (saved, place):
        before = Path(target).read_bytes()
        with pytest.raises(SnapcurveError, match="exists already; choose another name"):
            backups.backup(target, place)
        assert Path(target).read_bytes() == before


def test_backup_while_another_program_files(place, tmp_path):
    other = start_python(KEEP_FILING, place)
    other.stdout.readline()
    found = []
    for number in range(5):
        target = str(tmp_path / f"saved-{number}.db")
        backups.backup(target, place)
        found.append(len(batches_in(target)))
    assert len(other.communicate(timeout=LONGEST_S)[0].splitlines()) == 39
    assert found == sorted(found)
    assert found[0] >= 3
    assert len(batches_in(place)) == 42


def test_backup_of_a_locked_notebook_is_one_sentence(place, tmp_path):
    with closing(sqlite3.connect(place, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(SnapcurveError, match="locked by another program"):
            backups.backup(str(tmp_path / "saved.db"), place, wait_s=0.2)
    assert names(tmp_path) == ["notebook.db"]


def test_restore_brings_back_and_keeps_what_was_there(place, saved, tmp_path):
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch(3))
    newer = batches_in(place)
    kept = backups.restore(saved, place).aside
    assert kept == place + ".before-restore-1"
    assert batches_in(place) == batches_in(saved)
    assert batches_in(kept) == newer
    assert backups.restore(kept, place).aside == place + ".before-restore-2"
    assert batches_in(place) == newer
    assert len(names(tmp_path)) == 4


def test_restore_where_nothing_is_or_all_is_damaged(place, saved):
    wanted = batches_in(saved)
    for damage in (b"", b"nonsense" * 1000, Path(place).read_bytes()[:5000]):
        Path(place).write_bytes(damage)
        kept = backups.restore(saved, place).aside
        assert batches_in(place) == wanted
        assert Path(kept).read_bytes() == damage
    Path(place).unlink()
    assert backups.restore(saved, place).aside is None
    assert batches_in(place) == wanted


@pytest.mark.parametrize("companion", ["-journal", "-wal"])
def test_nothing_beside_a_damaged_notebook_spoils_the_restored(place, saved, companion):
    damaged = bytearray(Path(place).read_bytes())
    damaged[18:20] = b"\x02\x02"  # some other program switched to the write-ahead log
    damaged[100:] = b"nonsense" * 1000
    Path(place).write_bytes(damaged)
    Path(place + companion).write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + bytes(600))
    backups.restore(saved, place)
    assert not Path(place + companion).exists()
    assert batches_in(place) == batches_in(saved)


@pytest.mark.parametrize("damage", ["none", "header", "cut off", "pages", "gone"])
def test_the_journal_of_a_killed_program_does_not_reach_the_restored(place, saved, damage):
    """A journal left under the notebook's name would be rolled back into the new file."""
    unguard(place)
    with closing(sqlite3.connect(place, isolation_level=None)) as file:
        file.execute("PRAGMA cache_size = 1")  # so that pages are written before the commit
        file.execute("BEGIN IMMEDIATE")
        file.execute("UPDATE batches SET notes = hex(zeroblob(30000))")
        file.execute("UPDATE marks SET kind = 'changed'")
        whole = bytearray(Path(place).read_bytes())
        journal = Path(place + "-journal").read_bytes()
        file.execute("ROLLBACK")
    if damage == "header":
        whole[:100] = b"x" * 100
    elif damage == "cut off":
        del whole[5000:]
    elif damage == "pages":
        whole[100:] = b"x" * (len(whole) - 100)
    assert len(journal) > 4096
    Path(place).write_bytes(whole)
    Path(place + "-journal").write_bytes(journal)
    if damage == "gone":
        Path(place).unlink()
    backups.restore(saved, place)
    assert not Path(place + "-journal").exists()
    assert batches_in(place) == batches_in(saved)


def test_restore_refuses_what_is_no_good_backup(place, saved, tmp_path):
    before = Path(place).read_bytes()
    damaged = tmp_path / "damaged.db"
    damaged.write_bytes(Path(saved).read_bytes())
    alter(str(damaged), "UPDATE curves SET raw = zeroblob(size) WHERE id = 2")
    newer = tmp_path / "newer.db"
    newer.write_bytes(Path(saved).read_bytes())
    with closing(sqlite3.connect(newer)) as file, file:
        file.execute("UPDATE snapcurve_version SET version_num = '0999'")
    text = tmp_path / "text.db"
    text.write_text("batches" * 500)
    empty = tmp_path / "empty.db"
    empty.touch()
    for source, reason in {
        damaged: "was not restored: Batch 2026-11-24-02",
        newer: r"newer\.db was written by a newer version",
        text: "is not a notebook",
        empty: "holds no notebook",
        tmp_path / "absent.db": "There is no backup",
    }.items():
        with pytest.raises(SnapcurveError, match=reason):
            backups.restore(str(source), place)
    assert Path(place).read_bytes() == before
    assert len(names(tmp_path)) == 6


def test_restore_does_not_disturb_a_program_that_writes(place, saved):
    with closing(sqlite3.connect(place, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(SnapcurveError, match="locked by another program"):
            backups.restore(saved, place, wait_s=0.2)
    assert len(batches_in(place)) == 2


def test_a_backup_that_does_not_fit_leaves_nothing(place, tmp_path):
    with pytest.raises(SnapcurveError, match="does not exist"):
        backups.backup(str(tmp_path / "absent" / "saved.db"), place)
    limited = """
import resource
from snapcurve.notebook import backups, store
from snapcurve.errors import SnapcurveError
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
try:
    backups.backup(sys.argv[2], sys.argv[1])
except SnapcurveError as error:
    print(error)
"""
    process = start_python(limited, place, str(tmp_path / "saved.db"))
    assert "check that it has room" in process.communicate(timeout=LONGEST_S)[0]
    assert names(tmp_path) == ["notebook.db"]


def test_restored_notebook_is_refused_when_its_check_fails_first(place, saved):
    """The first problem is told as a record error, so a script sees exit code 5."""
    alter(saved, "DELETE FROM curves")
    with pytest.raises(RecordError) as caught:
        backups.restore(saved, place)
    assert caught.value.exit_code == 5

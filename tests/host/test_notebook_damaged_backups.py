"""Backups of damaged notebooks, and onto disks that fail: what is damaged is named, nothing good
is lost, and every failure is one sentence with exit code 5."""

import csv
import errno
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from notebook_samples import alter, new_batch

from snapcurve import notebook
from snapcurve.cli import main
from snapcurve.errors import RecordError
from snapcurve.notebook import backups

DAMAGED = "Batch 2026-11-24-02: its curve"


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A notebook of three batches, of which the second was altered."""
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    place = str(tmp_path / "notebook.db")
    with notebook.open_notebook(place) as book:
        for number in (1, 2, 3):
            book.file_batch(new_batch(number))
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", place)
    return place


def _alter(place):
    alter(place, "UPDATE curves SET raw = zeroblob(size) WHERE id = 2")


def _good_backup(place, path):
    """The backup of a notebook that was whole."""
    assert not backups.backup(str(path), place)
    return path


@pytest.fixture
def type_in(capsys):
    """Type a command of the notebook; exit code, output, lines of errors."""

    def run(*words):
        code = main(["notebook", *words])
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, out, err.splitlines()

    return run


def _kept(place):
    with notebook.open_notebook(place) as book:
        return [book.batch(row.code) for row in book.batches()]


def test_a_notebook_with_one_damaged_entry_is_copied_and_the_damage_named(
    place, tmp_path, type_in
):
    wanted = _kept(place)
    _alter(place)
    saved = tmp_path / "saved.db"
    code, out, (problem, sentence) = type_in("backup", str(saved))
    assert (code, out) == (5, "")
    assert problem.startswith(DAMAGED)
    assert sentence.startswith("snapcurve: ")
    assert f"Copied to {saved} as it is, with 1 problem" in sentence
    assert _kept(str(saved)) == wanted
    with notebook.open_notebook(place) as book, notebook.open_notebook(str(saved)) as copy:
        assert book.check() == copy.check()
        assert book.chain_end() == copy.chain_end()


def test_a_damaged_backup_is_restored_when_asked_and_the_damage_named(place, tmp_path, type_in):
    wanted = _kept(place)
    _alter(place)
    saved = tmp_path / "saved.db"
    type_in("backup", str(saved))
    before = Path(place).read_bytes()
    code, out, (sentence,) = type_in("restore", str(saved))
    assert (code, out) == (5, "")
    assert f"was not restored: {DAMAGED}" in sentence
    assert "--damaged" in sentence
    assert Path(place).read_bytes() == before
    Path(place).unlink()
    code, out, lines = type_in("restore", str(saved), "--damaged")
    assert code == 0
    assert out == "Restored as it is, with 1 problem.\n"
    assert [line[: len(DAMAGED)] for line in lines] == [DAMAGED]
    assert _kept(place) == wanted


def test_a_whole_backup_says_nothing_of_damage(place, tmp_path, type_in):
    code, out, lines = type_in("backup", str(tmp_path / "saved.db"))
    assert (code, lines) == (0, [])
    assert out.startswith(f"Copied to {tmp_path / 'saved.db'}; its chain ends with 3:")
    code, out, lines = type_in("restore", str(tmp_path / "saved.db"), "--damaged")
    assert (code, lines) == (0, [])
    assert out.startswith("Restored; the notebook that was there is now ")


def test_a_good_backup_is_not_replaced_by_a_damaged_one(place, tmp_path, type_in):
    saved = _good_backup(place, tmp_path / "saved.db")
    before = saved.read_bytes()
    _alter(place)
    code, out, (sentence,) = type_in("backup", str(saved), "--replace")
    assert (code, out) == (5, "")
    assert DAMAGED in sentence
    assert "stays" in sentence
    assert saved.read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["notebook.db", "saved.db"]


def test_a_newer_backup_replaces_an_older_one(place, tmp_path, type_in):
    saved = _good_backup(place, tmp_path / "saved.db")
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch(4))
    assert type_in("backup", str(saved), "--replace")[0] == 0
    assert _kept(str(saved)) == _kept(place)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["notebook.db", "saved.db"]


def _spoil(place, damage):
    raw = bytearray(Path(place).read_bytes())
    if damage == "a page of rows":
        with closing(sqlite3.connect(place)) as file:
            (root,) = file.execute(
                "SELECT rootpage FROM sqlite_master WHERE name = 'batches'"
            ).fetchone()
            (size,) = file.execute("PRAGMA page_size").fetchone()
        raw[(root - 1) * size : root * size] = b"\xff" * size
    elif damage == "the first page":
        raw[:4096] = b"x" * 4096
    else:
        del raw[len(raw) // 2 :]
    Path(place).write_bytes(raw)
    return bytes(raw)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        ("a page of rows", "Copied to"),
        ("the first page", "copied to"),
        ("cut off", "copied to"),
    ],
)
def test_a_file_whose_structure_is_damaged_is_copied_too(place, tmp_path, type_in, damage, said):
    raw = _spoil(place, damage)
    saved = tmp_path / "saved.db"
    code, out, lines = type_in("backup", str(saved))
    assert (code, out) == (5, "")
    assert "damaged" in lines[0]
    assert f"{said} {saved}" in lines[-1]
    # SQLite counts changes in its head of 100 bytes.
    assert saved.read_bytes()[100:] == raw[100:]
    assert Path(place).read_bytes() == raw
    # Restored over a good notebook it would only do harm, or at most what was asked for.
    good = str(tmp_path / "good.db")
    with notebook.open_notebook(good) as book:
        book.file_batch(new_batch(9))
    before = Path(good).read_bytes()
    code, _, lines = type_in("restore", str(saved), "--notebook", good)
    assert (code, len(lines)) == (5, 1)
    assert Path(good).read_bytes() == before


FAILURES = [errno.EROFS, errno.EACCES, errno.ENOSPC, errno.EIO]


def _failing(monkeypatch, owner, name, number):
    def fail(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(owner, name, fail)


@pytest.mark.parametrize("number", FAILURES)
@pytest.mark.parametrize("name", ["os.replace", "Path.exists", "Path.stat"])
@pytest.mark.parametrize("damaged", [False, True])
def test_a_backup_that_fails_is_one_sentence_and_the_older_one_stays(
    place, tmp_path, monkeypatch, name, number, damaged
):
    saved = _good_backup(place, tmp_path / "saved.db")
    before = saved.read_bytes()
    if damaged:
        _spoil(place, "the first page")
    owner = os if name.startswith("os") else Path
    with monkeypatch.context() as failing:
        _failing(failing, owner, name.partition(".")[2], number)
        with pytest.raises(RecordError) as caught:
            backups.backup(str(saved), place, replace=True)
    assert "\n" not in str(caught.value)
    assert saved.read_bytes() == before
    assert len(_kept(str(saved))) == 3


@pytest.mark.parametrize("number", FAILURES)
@pytest.mark.parametrize("name", ["replace", "link", "rename"])
def test_a_restore_that_fails_leaves_the_notebook_as_it_was(
    place, tmp_path, monkeypatch, name, number
):
    saved = _good_backup(place, tmp_path / "saved.db")
    with notebook.open_notebook(place) as book:
        book.file_batch(new_batch(4))
    before = Path(place).read_bytes()
    with monkeypatch.context() as failing:
        _failing(failing, os, name, number)
        if name in ("link", "rename"):  # the one stands in for the other
            _failing(failing, os, "link", errno.EPERM)
        if name == "link":
            backups.restore(str(saved), place)
            assert Path(f"{place}.before-restore-1").read_bytes() == before
            return
        with pytest.raises(RecordError) as caught:
            backups.restore(str(saved), place)
    assert "\n" not in str(caught.value)
    assert Path(place).read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["notebook.db", "saved.db"]


def test_a_rename_that_could_not_be_finished_is_taken_back(place, tmp_path, monkeypatch):
    """A stick without hard links: the notebook is moved aside, and then the disk fails."""
    saved = _good_backup(place, tmp_path / "saved.db")
    before = Path(place).read_bytes()
    _failing(monkeypatch, os, "link", errno.EPERM)
    _failing(monkeypatch, os, "replace", errno.EIO)
    with pytest.raises(RecordError, match="annot use the notebook"):
        backups.restore(str(saved), place)
    assert Path(place).read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["notebook.db", "saved.db"]


def test_a_locked_backup_is_not_replaced_and_said_to_be_locked(place, tmp_path, type_in):
    saved = _good_backup(place, tmp_path / "saved.db")
    before = saved.read_bytes()
    with closing(sqlite3.connect(saved, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        code, out, (sentence,) = type_in("backup", str(saved), "--replace")
    assert (code, out) == (5, "")
    assert "locked by another program; close that program and try again." in sentence
    assert saved.read_bytes() == before


# --- real disks: full, read-only, a folder in the file's place ---------------------------

ON_A_STICK = """
set -e
mount -t tmpfs -o size=400k none "$1"
cp "$2" "$1/older.db"
mkdir "$1/folder"
if [ "$3" = full ]; then
    dd if=/dev/zero of="$1/rest" bs=4k 2>/dev/null || true
else
    mount -o remount,ro "$1"
fi
shift 3
exec "$PYTHON" -c "
import sys
from snapcurve.cli import main
for words in sys.argv[1:]:
    print('exit', main(words.split()))" "$@"
"""
READ_ONLY = "cannot be opened for writing; check the permissions"
FULL = "the disk is full; make room"
# what is typed where STICK is a disk that takes nothing more, and what must be said of it
REFUSED = {
    "note last words --by Ilka --notebook STICK/older.db": (READ_ONLY, FULL),
    "batches --notebook STICK/new.db": (READ_ONLY, FULL),
    "notebook backup STICK/copy.db": (READ_ONLY, FULL),
    "notebook backup STICK/older.db --replace": (READ_ONLY, FULL),
    "notebook restore SAVED --notebook STICK/older.db": (READ_ONLY, FULL),
    "notebook restore SAVED --notebook STICK/none.db": (READ_ONLY, FULL),
    "batches --notebook STICK/folder": ("is a folder; give the notebook's file",) * 2,
    "note last words --by Ilka --notebook STICK/folder": ("is a folder; give",) * 2,
    "notebook backup SAVED.2 --notebook STICK/folder": ("is a folder; give",) * 2,
    "notebook restore SAVED --notebook STICK/folder": ("is a folder; give",) * 2,
    "notebook restore STICK/folder": ("is a folder; give",) * 2,
}


def _mounts():
    """Whether this system lets a test mount a disk of its own."""
    if shutil.which("unshare") is None:
        return False
    done = subprocess.run(
        ["unshare", "-rm", "mount", "-t", "tmpfs", "none", "/mnt"],
        capture_output=True,
        check=False,
    )
    return done.returncode == 0


@pytest.mark.skipif(not _mounts(), reason="needs a system on which a test may mount a disk")
@pytest.mark.parametrize(("at", "disk"), [(0, "read-only"), (1, "full")])
def test_a_disk_that_takes_nothing_is_one_sentence_and_exit_code_5(place, tmp_path, at, disk):
    """A real file system; even root can write nothing to it. What can be read is still read."""
    saved = _good_backup(place, tmp_path / "saved.db")
    stick = tmp_path / "stick"
    stick.mkdir()
    typed = [*REFUSED, "batches --json --notebook STICK/older.db", "notebook backup SAVED.3"]
    words = [one.replace("STICK", str(stick)).replace("SAVED", str(saved)) for one in typed]
    words[-1] += f" --notebook {stick}/older.db"
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", ON_A_STICK, "sh", str(stick), str(saved), disk, *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHON": sys.executable, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    codes = [line for line in done.stdout.splitlines() if line.startswith("exit")]
    lines = done.stderr.splitlines()
    assert codes == ["exit 5"] * len(REFUSED) + ["exit 0"] * 2, lines
    assert len(lines) == len(REFUSED), lines
    for line, asked in zip(lines, REFUSED, strict=True):
        assert line.startswith("snapcurve: ")
        assert line.endswith(".")
        assert REFUSED[asked][at] in line, (asked, line)
        assert str(stick) in line
    assert _kept(f"{saved}.3") == _kept(place)


@pytest.mark.parametrize(
    ("damage", "left_out"),
    [
        ("UPDATE curves SET raw = zeroblob(size) WHERE id = 2", 0),
        ("DELETE FROM curves WHERE id = 2", 0),
        ("UPDATE batches SET notes = CAST(x'ff' AS TEXT) WHERE id = 2", 1),
        ("UPDATE batches SET allergens = '[' WHERE id = 2", 1),
        ("UPDATE marks SET offset_ms = 'x' WHERE batch_id = 2", 1),
        (
            "INSERT INTO entries VALUES (9, 2, 'note', 'x', '', 1, 0, '{')",
            1,
        ),
    ],
)
def test_everything_that_still_reads_is_exported_from_a_damaged_notebook(
    place, tmp_path, type_in, damage, left_out
):
    alter(place, damage)
    code, out, lines = type_in("export", str(tmp_path / "all"))
    with (tmp_path / "all" / "batches.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    document = json.loads((tmp_path / "all" / "notebook.json").read_text("utf-8"))
    codes = [f"2026-11-24-0{number}" for number in (3, 2, 1) if number != 2 or not left_out]
    assert [row["batch"] for row in rows] == codes
    assert [one["batch"] for one in document["batches"]] == codes
    if left_out:
        assert code == 5
        assert lines[0].startswith("Batch 2026-11-24-02")
        assert "cannot be read" in lines[0]
        assert "Of 3 batches 1 could not be read" in lines[-1]
    else:
        assert code == 0
        (altered,) = [row for row in rows if row["not as filed"]]
        assert altered["batch"] == "2026-11-24-02"
    # and the copy has it all, damage and all
    code, out, lines = type_in("backup", str(tmp_path / "saved.db"))
    assert code == 5
    assert "as it is" in lines[-1]
    code, out, lines = type_in("restore", str(tmp_path / "saved.db"), "--damaged")
    assert code == 0
    assert "Restored as it is, with" in out

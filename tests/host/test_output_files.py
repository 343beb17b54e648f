"""What a command may write over: never the notebook, never another database, nothing unasked."""

import argparse
import importlib
import os
import shutil
import sqlite3
import zlib
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from notebook_samples import picture

from snapcurve.board.client import CurveRow
from snapcurve.cli import ABOUT, main
from snapcurve.collecting.filing import new_batch
from snapcurve.notebook import open_notebook
from snapcurve.notebook.records import NewEntry
from snapcurve.recording.curve import decode

RECORDED = Path(__file__).parent / "data" / "three_step.curve"

# every command that writes a file, with an ending it writes; FILE stands for the file
WRITERS = {
    "chart": ("png", "show|last|--chart|FILE"),
    "sheet": ("pdf", "sheet|last|--output|FILE"),
    "compared": ("svg", "show|CODE-01|CODE-02|--chart|FILE"),
    "learn": ("png", "learn|milk|--chart|FILE"),
    "couvertures": ("pdf", "couvertures|milk|--chart|FILE"),
    "plan": ("svg", "plan|milk|--mass|1kg|--chart|FILE"),
    "rescue": ("png", "rescue|milk|--mass|1kg|--temp|33|--showed|mark|--chart|FILE"),
    "rehearse": ("png", "rehearse|milk|--chart|FILE"),
    "export csv": ("csv", "batches|--output|FILE"),
    "export json": ("json", "batches|--output|FILE"),
    "export curve": ("csv", "show|last|--curve|FILE"),
    "sounds": ("wav", "sounds|reached|--wav|FOLDER"),
    "pictures": ("jpg", "show|CODE-01|--pictures|FOLDER"),
    "backup": ("db", "notebook|backup|FILE"),
    "trace": ("pdf", "trace|CODE-01|--output|FILE"),
}
# These need outcomes or a whole rehearsal: that they write is shown in tests/system.
LONG = {"learn", "rehearse"}
# Those that write into a folder give the names themselves.
FOLDERS = {"sounds": "reached.wav", "pictures": "2026-11-25-01-picture-1.jpg"}
ANY_ENDING = {"backup", *FOLDERS}
# test_flash_image.py, test_certificate.py, test_practice_account.py
ELSEWHERE = {"install", "calibrate", "practise"}
READ_ONLY_PATHS = {  # options that name a file which is read
    ("replay", "tape"),
    ("note", "--picture"),
    ("show", "--outcomes"),
    ("learn", "--outcomes"),
}


@pytest.fixture(scope="module")
def filed(opened_file, tmp_path_factory):
    """A notebook with two batches, to make copies of."""
    place = shutil.copy(opened_file, tmp_path_factory.mktemp("filed"))
    raw = RECORDED.read_bytes()
    curve = decode(raw)
    with open_notebook(str(place)) as notebook:
        for number in (curve.curve, curve.curve + 1):
            row = CurveRow(number, "closed", curve.boot, len(raw), zlib.crc32(raw), number)
            filed = replace(new_batch(curve, raw, row, "pico"), utc_offset_min=0)
            code = notebook.file_batch(filed).code
            new = NewEntry("picture", "Ida Brandt", {"name": "a.jpg"}, picture=picture())
            notebook.add_entry(new, code)
    return place


@pytest.fixture
def bench(filed, tmp_path, monkeypatch):
    """A folder for all that is kept, with two batches filed."""
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path))
    monkeypatch.setenv("SNAPCURVE_NOTEBOOK", str(tmp_path / "notebook.db"))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", str(tmp_path / "couvertures"))
    monkeypatch.chdir(tmp_path)
    shutil.copy(filed, tmp_path)
    return tmp_path


@pytest.fixture
def write(bench, capsys):
    """Have one of WRITERS write into a file; exit code, output, errors."""
    with open_notebook(None) as notebook:
        code = notebook.batch("last").code.rpartition("-")[0]

    def run(name, target, *more):
        words = WRITERS[name][1].replace("CODE", code).replace("FILE", str(target)).split("|")
        words = [str(target.parent) if word == "FOLDER" else word for word in words]
        return main([*words, *more]), *capsys.readouterr()

    return run


def _target(bench, name):
    folder = bench / "out"
    folder.mkdir(exist_ok=True)
    return folder / FOLDERS.get(name, f"file.{WRITERS[name][0]}")


def _refused(done, *words):
    code, out, err = done
    assert (code, out) == (2, ""), (code, out, err)
    assert err.startswith("snapcurve: ")
    assert err.count("\n") == 1
    for word in words:
        assert word in err


def _snapshot(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


# What pictures are called is in the notebook, so that is opened before: a damaged one cannot be,
# and SQLite takes a foreign -wal away.
OWN = [
    (name, own)
    for name in WRITERS
    for own in ("notebook.db", "notebook.db-wal", "notebook.db-shm", "damaged")
    if name != "pictures" or own in ("notebook.db", "notebook.db-shm")
]


@pytest.mark.parametrize("how", ["symbolic", "hard"])
@pytest.mark.parametrize(("name", "own"), OWN)
def test_the_notebook_is_never_written_over(bench, write, name, own, how):
    target = _target(bench, name)
    if own == "damaged":  # nothing in it tells any more that it is a database
        own = "notebook.db"
        (bench / own).write_bytes(b"nonsense" * 1000)
    elif own != "notebook.db":
        (bench / own).write_bytes(b"what another program is writing")
    if how == "hard":
        os.link(bench / own, target)
    else:
        target.symlink_to(bench / own)
    before = _snapshot(bench)
    _refused(write(name, target, "--replace"), str(target), "notebook")
    assert _snapshot(bench) == before


@pytest.mark.parametrize("name", WRITERS)
def test_the_notebook_by_its_own_name(bench, write, name):
    if name in FOLDERS:
        return
    before = _snapshot(bench)
    _refused(write(name, bench / "notebook.db", "--replace"), "notebook.db")
    assert _snapshot(bench) == before


@pytest.mark.parametrize("name", [one for one in WRITERS if one not in FOLDERS])
def test_neither_the_usual_notebook_nor_the_one_that_is_named(bench, write, name):
    """--notebook names another one; the person's own is as safe as that."""
    other = bench / "other.db"
    open_notebook(str(other)).close()
    for own in (other, bench / "notebook.db"):
        target = _target(bench, name)
        target.unlink(missing_ok=True)
        target.symlink_to(own)
        before = _snapshot(bench)
        extra = ("--notebook", str(other)) if "--notebook" in _options(name) else ()
        _refused(write(name, target, "--replace", *extra), str(target))
        assert _snapshot(bench) == before


@pytest.mark.parametrize("name", WRITERS)
def test_another_programs_database_is_never_written_over(bench, write, name):
    target = _target(bench, name)
    with closing(sqlite3.connect(target)) as file, file:
        file.execute("CREATE TABLE recipes (name TEXT)")
    before = _snapshot(bench)
    _refused(write(name, target, "--replace"), str(target), "database")
    assert _snapshot(bench) == before


@pytest.mark.parametrize("name", WRITERS)
def test_a_file_that_is_there_is_only_replaced_when_asked(bench, write, name):
    target = _target(bench, name)
    target.write_bytes(b"of yesterday")
    if name == "backup":
        open_notebook(str(target.with_name("older.db"))).close()
        os.replace(target.with_name("older.db"), target)
    before = _snapshot(bench)
    _refused(write(name, target), str(target), "exists already", "--replace")
    assert _snapshot(bench) == before
    if name not in LONG:
        code, _, err = write(name, target, "--replace")
        assert code == 0, err
        assert target.read_bytes() != before[target]


@pytest.mark.parametrize("name", [one for one in WRITERS if one not in LONG])
def test_a_new_file_needs_no_leave(bench, write, name):
    target = _target(bench, name)
    code, _, err = write(name, target)
    assert code == 0, err
    assert target.stat().st_size > 0
    assert [one.name for one in target.parent.iterdir()] == [target.name]


@pytest.mark.parametrize("name", [one for one in WRITERS if one not in ANY_ENDING])
@pytest.mark.parametrize("ending", ["", ".txt", ".xlsx", ".db", ".py"])
def test_another_ending_is_refused(bench, write, name, ending):
    target = bench / f"file{ending}"
    target.write_bytes(b"letter to the bank")
    _refused(write(name, target, "--replace"), "let it end in", f".{WRITERS[name][0]}")
    assert target.read_bytes() == b"letter to the bank"


@pytest.mark.parametrize("name", WRITERS)
def test_what_is_no_ordinary_file_stays(bench, write, name):
    target = _target(bench, name)
    target.mkdir()
    _refused(write(name, target, "--replace"), str(target), "folder")
    target.rmdir()
    os.mkfifo(target)
    _refused(write(name, target, "--replace"), str(target), "no ordinary file")
    assert target.is_fifo()


def test_a_backup_replaces_nothing_but_a_backup(bench, write):
    target = _target(bench, "backup")
    target.write_bytes(b"letter to the bank")
    _refused(write("backup", target, "--replace"), str(target), "no backup of a notebook")
    assert target.read_bytes() == b"letter to the bank"


def test_all_sounds_are_looked_at_before_the_first_is_written(bench, capsys):
    taken = bench / "out" / "too_warm.wav"
    taken.parent.mkdir()
    taken.write_bytes(b"a song")
    _refused((main(["sounds", "--wav", str(taken.parent)]), *capsys.readouterr()), "too_warm.wav")
    assert [one.name for one in taken.parent.iterdir()] == ["too_warm.wav"]
    assert main(["sounds", "--wav", str(taken.parent), "--replace"]) == 0
    assert taken.read_bytes()[:4] == b"RIFF"


def test_files_with_the_usual_name_are_not_replaced_unasked(bench, write, capsys):
    assert main(["sheet", "last"]) == 0
    name = capsys.readouterr().out.strip()
    assert name.endswith("pdf")
    before = (bench / name).read_bytes()
    (bench / name).write_bytes(b"signed by hand")
    _refused((main(["sheet", "last"]), *capsys.readouterr()), name, "--replace")
    assert (bench / name).read_bytes() == b"signed by hand"
    assert main(["sheet", "last", "--replace"]) == 0
    assert (bench / name).read_bytes() == before


def _parser(command):
    parser = argparse.ArgumentParser(command)
    importlib.import_module(f"snapcurve.commands.{command}").add_arguments(parser)
    return parser


def _options(name):
    command = WRITERS[name][1].split("|")[0]
    return {option for one in _parser(command)._actions for option in one.option_strings}


@pytest.mark.parametrize("command", [*ABOUT])
def test_every_command_with_a_file_of_its_own_asks_before_it_replaces(command):
    actions = _parser(command)._actions
    written = [
        one
        for one in actions
        if one.type is Path
        and (command, (one.option_strings or [one.dest])[0]) not in READ_ONLY_PATHS
    ]
    replacing = [one for one in actions if "--replace" in one.option_strings]
    assert bool(written) == bool(replacing)
    here = {words.split("|")[0] for _, words in WRITERS.values()}
    assert not written or command in here | ELSEWHERE

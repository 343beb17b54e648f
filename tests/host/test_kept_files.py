"""Compiled files kept between commands: made once, never out of date."""

import os
import time

import platformdirs
import pytest

from snapcurve.building import kept
from snapcurve.building.compiling import NoCompilerError


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Where they are kept, for this test; each call starts as a new process would."""
    folder = tmp_path / "cache"
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **_more: folder)
    return folder / "firmware"


@pytest.fixture
def files(tmp_path):
    source = tmp_path / "one.py"
    source.write_text("x = 1\n")
    return {"toy/one": source}


def folder_for(files):
    kept._kept_folder.cache_clear()
    return kept.kept_folder(files)


def refuse(*_):
    raise AssertionError("compiled again")


def test_they_are_made_once(place, files, monkeypatch):
    folder = folder_for(files)
    assert folder.parent == place
    assert (folder / "toy" / "one.mpy").read_bytes()[:1] == b"M"
    monkeypatch.setattr(kept, "compiled", refuse)
    assert folder_for(files) == folder
    assert [one.name for one in place.iterdir()] == [folder.name]


def test_whatever_changes_is_made_anew(place, files, monkeypatch):
    found = [folder_for(files)]
    files["toy/one"].write_text("x = 2\n")
    found.append(folder_for(files))
    found.append(folder_for({"toy/two": files["toy/one"]}))
    monkeypatch.setattr(kept.metadata, "version", lambda _name: "another compiler")
    found.append(folder_for(files))
    assert len(set(found)) == 4
    assert (found[1] / "toy/one.mpy").read_bytes() != (found[0] / "toy/one.mpy").read_bytes()


def test_two_at_once(place, files, monkeypatch):
    """While this process compiles another one is done: its folder is taken, nothing else left."""
    compiled = kept.compiled

    def slower(sources):
        made = compiled(sources)
        kept.write_into(place / kept._digest(tuple(files.items())), made)
        return made

    monkeypatch.setattr(kept, "compiled", slower)
    folder = folder_for(files)
    assert (folder / "toy/one.mpy").is_file()
    assert list(place.iterdir()) == [folder]


def test_where_nothing_can_be_kept_it_is_made_for_this_once(place, files, tmp_path):
    place.parent.write_text("a file where the folder would be")
    folder = folder_for(files)
    assert (folder / "toy/one.mpy").is_file()
    assert tmp_path / "cache" not in folder.parents
    assert place.parent.read_text() == "a file where the folder would be"


def test_what_nobody_used_for_long_is_forgotten(place, files):
    old, used = folder_for(files), folder_for({"toy/used": files["toy/one"]})
    long_ago_s = time.time() - kept.FORGET_AFTER_S - 60
    for folder in (old, used):
        os.utime(folder, (long_ago_s, long_ago_s))
    assert folder_for({"toy/used": files["toy/one"]}) == used
    new = folder_for({"toy/new": files["toy/one"]})
    assert set(place.iterdir()) == {used, new}


def test_without_a_compiler_there_is_none(place, files, monkeypatch):
    def none(*_):
        raise NoCompilerError("there is none")

    monkeypatch.setattr(kept, "compiled", none)
    assert folder_for(files) is None
    assert not place.exists()


def test_a_file_changed_while_it_is_compiled_does_not_go_under_its_new_name(
    place, files, monkeypatch
):
    compiled = kept.compiled

    def meanwhile(sources):
        made = compiled(sources)
        files["toy/one"].write_text("x = 3\n")
        return made

    monkeypatch.setattr(kept, "compiled", meanwhile)
    before = folder_for(files)
    monkeypatch.setattr(kept, "compiled", compiled)
    after = folder_for(files)
    assert after != before
    assert (after / "toy/one.mpy").read_bytes() != (before / "toy/one.mpy").read_bytes()

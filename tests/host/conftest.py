"""Notebooks on both databases."""

import gc
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from postgresql_server import Server, require
from wired_board import WiredBoard

from snapcurve import notebook
from snapcurve.cli import main

WITHOUT_NOTEBOOK = ("load", "rescue")


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """A real server, one for each session that needs it."""
    server = Server(require())
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def new_place(request, tmp_path) -> str:
    """Where a notebook may be that does not exist yet: a file, or an empty database."""
    if request.param == "sqlite":
        return str(tmp_path / "notebook.db")
    return request.getfixturevalue("postgresql").new_database()


@pytest.fixture(scope="session")
def opened_file(tmp_path_factory) -> Path:
    """An empty notebook, to make copies of: quicker than to make one for each test."""
    place = tmp_path_factory.mktemp("opened") / "notebook.db"
    notebook.open_notebook(str(place)).close()
    return place


@pytest.fixture(params=["sqlite", "postgresql"])
def any_place(request, tmp_path, opened_file) -> str:
    """Where an empty notebook is."""
    if request.param == "sqlite":
        return str(shutil.copy(opened_file, tmp_path))
    server = request.getfixturevalue("postgresql")
    return server.new_database(like=server.opened)


@pytest.fixture
def any_book(any_place):
    """An empty notebook there."""
    with notebook.open_notebook(any_place) as opened:
        yield opened


@pytest.fixture
def own_computer(tmp_path, monkeypatch):
    """All that snapcurve keeps lies in the test's own folder, which is the current one."""
    monkeypatch.setenv("SNAPCURVE_COUVERTURES", str(tmp_path / "couvertures"))
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(tmp_path / "data"))
    monkeypatch.setenv("SNAPCURVE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def type_in(any_place, own_computer, capsys):
    """Type a command; its output. With `fails` it must refuse with one sentence."""

    def run(*words, fails=False):
        at = () if words[0] in WITHOUT_NOTEBOOK else ("--notebook", any_place)
        code = main([*words, *at])
        gc.enable()  # a command that ends with its process may do without
        out, err = capsys.readouterr()
        if not fails:
            assert code == 0, err
            return out
        assert code == 2, (code, out, err)
        assert err.startswith("snapcurve: ")
        assert err.count("\n") == 1
        assert out == ""
        return err

    return run


@pytest.fixture
def wired_board(tmp_path, monkeypatch):
    """The one board that is attached."""
    board = WiredBoard(tmp_path / "board")
    monkeypatch.setattr("snapcurve.commands.chosen_board.only_port", lambda: "wire")
    monkeypatch.setattr("snapcurve.commands.chosen_board.shaking_hands", board.open)
    return board

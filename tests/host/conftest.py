"""Notebooks on both databases."""

from collections.abc import Iterator

import pytest
from postgresql_server import Server, require

from snapcurve import notebook


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """A real server, one for each session that needs it."""
    server = Server(require())
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def any_place(request, tmp_path) -> str:
    """Where a notebook may be that does not exist yet: a file, or an empty database."""
    if request.param == "sqlite":
        return str(tmp_path / "notebook.db")
    return request.getfixturevalue("postgresql").new_database()


@pytest.fixture
def any_book(any_place):
    """An empty notebook there."""
    with notebook.open_notebook(any_place) as opened:
        yield opened

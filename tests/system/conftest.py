"""A fresh computer for each test."""

import os
import pty
import tty
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import running
from odd_computer import OddComputer
from pty_line import Line
from running import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A person's computer with nothing on it yet."""
    return Bench(tmp_path)


@pytest.fixture(scope="session")
def computer() -> OddComputer:
    """Runs commands with something wrong."""
    return running.computer()


@pytest.fixture
def line() -> Iterator[Line]:
    """A serial port with nothing behind it."""
    board, port = pty.openpty()
    tty.setraw(board)
    tty.setraw(port)
    yield Line(board, port, os.ttyname(port))
    for end in (board, port):
        with suppress(OSError):
            os.close(end)


@pytest.fixture
def ordinary_user(line: Line) -> Iterator[None]:
    """Neither rights nor another program's hold mean anything to the superuser, as which tests
    run in containers."""
    os.chmod(line.name, 0o666)
    before = os.geteuid()
    if before == 0:
        os.seteuid(65534)
    yield
    os.seteuid(before)

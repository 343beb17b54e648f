"""Wrong input gets one sentence and an exit code other than 0, never a traceback."""

import os
import pty
import resource
import signal
import socket
import threading
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
from running import DATA, Bench

GOOD = {"melt_c": "45", "work_c": "[30, 32]", "never_above_c": "50"}


def _couverture(bench: Bench, **changes: str) -> str:
    path = bench.folder / "trial.toml"
    fields = {**GOOD, **changes}
    lines = ['name = "Trial"', 'kind = "milk"'] + [
        f"{key} = {value}" for key, value in fields.items()
    ]
    path.write_text("\n".join(lines) + "\n")
    return str(path)


def _tape(bench: Bench, text: str) -> str:
    path = bench.folder / "tape.csv"
    path.write_text(text)
    return str(path)


def test_unknown_couverture(bench: Bench) -> None:
    assert "milk" in bench.refused("load", "mlik", "--port", "rehearsal")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"work_c": "[32, 30]"}, ["work_c", "line 4"]),
        ({"work_c": "[46, 48]"}, ["work_c", "melt_c"]),
        ({"melt_c": '"hot"'}, ["melt_c", "number"]),
        ({"work_c": '["a", 31]'}, ["work_c", "number"]),
    ],
)
def test_couverture_files_that_make_no_sense(bench: Bench, changes, words) -> None:
    path = _couverture(bench, **changes)
    sentence = bench.refused("replay", str(DATA / "cup_a.csv"), "--couverture", path)
    assert "trial.toml" in sentence
    for word in words:
        assert word in sentence


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("seconds,probe_c\n0,30\n1,warm\n", ["line 3", "warm"]),
        ("seconds,probe_c\n0,30\n5,31\n4,32\n", ["line 4", "time"]),
        ("seconds,probe_c\n0,30\n0,31\n", ["line 3", "time"]),
        ("time;temp\n0;30\n", ["line 1", "columns"]),
        ("seconds,probe_c\n0,30\n1,999\n", ["line 3", "999"]),
        ("seconds,probe_c\n0,30\n1,nan\n", ["line 3", "nan"]),
        ("seconds,probe_c,ambient_c,fault\n0,30,21,purple\n1,30,21,\n", ["line 2", "purple"]),
        ("seconds,probe_c\n,30\n", ["line 2", "seconds"]),
        ("seconds,probe_c\n0,\n1,30\n", ["nothing to play"]),
        ("", ["line 1"]),
    ],
)
def test_tapes_that_cannot_be_played(bench: Bench, text: str, words: list[str]) -> None:
    sentence = bench.refused("replay", _tape(bench, text), "--couverture", "milk")
    assert "tape.csv" in sentence
    for word in words:
        assert word in sentence


def test_a_tape_that_is_not_there(bench: Bench) -> None:
    assert "none.csv" in bench.refused("replay", "none.csv", "--couverture", "milk")


def _little_memory() -> None:
    """From here on the process may have 1 GiB, in which every command finds room."""
    resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))


@pytest.mark.parametrize(
    "words",
    [
        ("replay", "FILE", "--couverture", "milk"),
        ("plan", "FILE.toml", "--mass", "1kg"),
        ("show", "last", "--outcomes", "FILE"),
        ("learn", "milk", "--outcomes", "FILE"),
        ("note", "last", "--picture", "FILE", "--by", "Ilka Brandner"),
    ],
)
@pytest.mark.parametrize("kind", ["endless", "pipe", "huge"])
def test_files_that_never_end_never_begin_or_fill_the_memory(bench: Bench, words, kind) -> None:
    file = bench.folder / "given.toml"
    if kind == "endless":
        file.symlink_to("/dev/zero")
    elif kind == "pipe":
        os.mkfifo(file)
    else:
        with file.open("wb") as opened:
            opened.truncate(1 << 36)
    given = [str(file) if word.startswith("FILE") else word for word in words]
    assert "given.toml" in bench.refused(*given, before=_little_memory)


@pytest.mark.parametrize("command", [("probe",), ("load", "milk"), ("watch",), ("collect",)])
def test_a_port_that_does_not_exist(bench: Bench, command: tuple[str, ...]) -> None:
    assert "/dev/ttyNOPE" in bench.refused(*command, "--port", "/dev/ttyNOPE")


def test_an_address_where_nothing_listens(bench: Bench) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    address = f"socket://127.0.0.1:{port}"
    assert address in bench.refused("watch", "--port", address)


@pytest.fixture
def chatterbox() -> Iterator[str]:
    """A serial port on which something else talks: text, echo, no frames."""
    ours, theirs = pty.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    stop = threading.Event()

    def talk() -> None:
        while not stop.wait(0.05):
            os.write(ours, b"T=21.4 C\r\nOK\r\n")

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    yield os.ttyname(theirs)
    stop.set()
    thread.join()
    os.close(ours)
    os.close(theirs)


def test_a_port_with_something_else_on_it(bench: Bench, chatterbox: str) -> None:
    assert "no snapcurve board" in bench.refused("collect", "--port", chatterbox)


def test_a_port_where_nobody_answers(bench: Bench) -> None:
    ours, theirs = pty.openpty()
    tty.setraw(ours)
    assert "Nothing answers" in bench.refused("watch", "--port", os.ttyname(theirs))
    os.close(ours)
    os.close(theirs)


def test_no_probe_attached(bench: Bench) -> None:
    sentence = bench.refused("watch", "--port", "rehearsal:unplugged")
    assert "open" in sentence


def test_an_unknown_rehearsal_board(bench: Bench) -> None:
    assert "unplugged" in bench.refused("watch", "--port", "rehearsal:elsewhere")


def _small_files_only() -> None:
    """From here on no file may grow beyond 4 KiB, as on a full disk."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


def test_a_full_disk_while_the_chart_is_written(bench: Bench) -> None:
    bench.ok("rehearse", "milk", "--speed", "max", "--work-minutes", "1", "--json")
    old = bench.folder / "old.png"
    old.write_bytes(b"the chart of yesterday")
    sentence = bench.refused(
        "show", "last", "--chart", str(old), "--replace", before=_small_files_only
    )
    assert "old.png" in sentence
    assert old.read_bytes() == b"the chart of yesterday"
    assert sorted(path.name for path in bench.folder.iterdir() if "old" in path.name) == [
        "old.png"
    ]


def test_a_chart_of_an_unknown_kind_and_in_no_folder(bench: Bench) -> None:
    bench.ok("rehearse", "milk", "--speed", "max", "--work-minutes", "1", "--json")
    assert ".xyz" in bench.refused("show", "last", "--chart", "a.xyz")
    assert "nowhere" in bench.refused("show", "last", "--chart", "nowhere/a.png")
    assert "2020-01-01-01" in bench.refused("show", "2020-01-01-01")


def test_a_speed_and_a_length_that_are_none(bench: Bench) -> None:
    assert "fast" in bench.refused("rehearse", "milk", "--speed", "fast")
    assert "nan" in bench.refused("rehearse", "milk", "--speed", "nan")
    assert "work-minutes" in bench.refused("rehearse", "milk", "--work-minutes", "-1")


def test_three_steps_without_a_cooling_temperature(bench: Bench) -> None:
    path = _couverture(bench)
    assert "cool_c" in bench.refused("rehearse", path, "--method", "three-step")


def test_a_notebook_that_is_something_else(bench: Bench) -> None:
    (Path(bench.folder) / "notebook.db").write_text("shopping list\n" * 100)
    bench.refused("batches")

"""Disks that are full, write-protected or failing, folders that are files: one sentence each.

Any single operation on a file fails here, by an audit hook in the running command, which works
whoever runs the tests; longer writes fail by a limit on the length of files.
"""

import errno
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from odd_computer import Odd, OddComputer
from running import DATA, Bench

FAULTS = (errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EIO)
BY = ("--by", "Ilka Brandner")
# what a person types; all of it succeeds on a computer with which nothing is wrong
CHEAP = {
    "today": ("today", "--room", "21", "--mass", "1.2kg"),
    "lot": ("lot", "today", "milk couverture", "MC-104"),
    "settings": ("settings", "set", "operator", "Ilka Brandner"),
    "couvertures": ("couvertures",),
    "batches": ("batches", "--rehearsals"),
    "note": ("note", "last", "moulds were cold", *BY),
    "picture": ("note", "last", "--picture", "tray.jpg", *BY),
    "export csv": ("batches", "--rehearsals", "--output", "all.csv"),
    "export json": ("batches", "--rehearsals", "--output", "all.json"),
    "show": ("show", "last"),
    "sounds": ("sounds", "near", "--wav", "heard"),
    "plan": ("plan", "house.toml", "--mass", "1kg"),
}
DRAWN = {
    "chart": ("show", "last", "--chart", "batch.svg"),
    "sheet": ("sheet", "last", "--output", "batch.pdf"),
    "plan chart": ("plan", "milk", "--mass", "1kg", "--chart", "plan.svg"),
    "show": ("show", "1", "2", "--chart", "both.svg"),
    "heat": ("couvertures", "milk", "--chart", "heat.svg"),
}
WITH_BOARD = {
    "probe": ("probe", "--port", "rehearsal"),
    "load": ("load", "house.toml", "--port", "rehearsal"),
    "rehearse": ("rehearse", "milk", "--speed", "max", "--work-minutes", "0"),
    "replay": ("replay", str(DATA / "cup_a.csv"), "--couverture", "milk", "--method", "cup"),
    "collect": ("collect", "--port", "rehearsal"),
}
# A PNG of one pixel: IHDR, IDAT and IEND, without any library.
TRAY = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c636800000082008177cd72b60000000049454e44ae426082"
)
HOUSE = 'name = "House"\nkind = "milk"\nmelt_c = 45\nwork_c = [30, 32]\nnever_above_c = 50\n'


@pytest.fixture(scope="module")
def used(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All that a bench has after two batches."""
    bench = Bench(tmp_path_factory.mktemp("used"))
    for number in ("1", "2"):
        bench.ok("rehearse", "milk", "--speed", "max", "--work-minutes", "0", "--number", number)
    bench.ok("probe", "--port", "rehearsal")
    (bench.folder / "couvertures").mkdir()
    (bench.folder / "couvertures" / "own.toml").write_text(HOUSE)
    (bench.folder / "house.toml").write_text(HOUSE)
    (bench.folder / "tray.jpg").write_bytes(TRAY)
    (bench.folder / "settings.toml").write_text('mass = "g"\n')
    return bench.folder


@pytest.fixture
def bench(used: Path, tmp_path: Path) -> Bench:
    shutil.copytree(used, tmp_path / "bench")
    return Bench(tmp_path / "bench")


def again(bench: Bench, used: Path) -> None:
    """Everything as it was before the last command."""
    shutil.rmtree(bench.folder)
    shutil.copytree(used, bench.folder)


def kept(folder: Path) -> list[str]:
    """The files that are there, half-written ones too."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize("name", [*CHEAP, *DRAWN, "probe", "load", "rehearse", "collect"])
def test_any_operation_on_a_file_may_fail(
    computer: OddComputer, bench: Bench, used: Path, name: str
) -> None:
    words = {**CHEAP, **DRAWN, **WITH_BOARD}[name]
    whole = computer.run(bench.folder, bench.environment, words)
    assert whole.code == 0, whole.stderr
    assert whole.operations
    refused = 0
    for place, operation in enumerate(whole.operations):
        for number in FAULTS if name in CHEAP else FAULTS[place % len(FAULTS) :][:1]:
            again(bench, used)
            before = kept(bench.folder)
            fault = Odd(fault=(place, number))
            done = computer.run(bench.folder, bench.environment, words, fault)
            if done.code == 0:  # it does without
                assert done.stderr == whole.stderr, (operation, number)
                continue
            sentence = done.sentence()
            assert done.code == 5, (operation, number, sentence)
            assert sentence.startswith("snapcurve: Cannot "), (operation, sentence)
            refused += 1
            half = [path for path in kept(bench.folder) if path not in before]
            assert not [path for path in half if "part" in path or ".new" in path], half
    assert refused


@pytest.mark.parametrize("name", [*CHEAP, *DRAWN, *WITH_BOARD])
@pytest.mark.parametrize("longest", [0, 4096])
def test_no_file_may_grow(computer: OddComputer, bench: Bench, name: str, longest: int) -> None:
    words = {**CHEAP, **DRAWN, **WITH_BOARD}[name]
    done = computer.run(bench.folder, bench.environment, words, Odd(file_bytes=longest))
    if done.code == 0:
        assert "Traceback" not in done.stderr
    else:
        done.sentence()
        assert done.code in (3, 5)  # 3: the rehearsal's board says that its flash failed


def test_the_output_may_have_no_room(computer: OddComputer, bench: Bench) -> None:
    full = Odd(stdout="/dev/full")
    for words in (
        ("batches",),
        (
            "batches",
            "--output",
            "-",
        ),
        ("show", "last", "--json"),
        ("couvertures",),
    ):
        done = computer.run(bench.folder, bench.environment, words, full)
        assert "disk is full" in done.sentence()
        assert done.code == 5
    for words in (("--help",), ("plan", "--help")):
        done = computer.run(bench.folder, bench.environment, words, full)
        assert "Traceback" not in done.stderr
        assert "Exception" not in done.stderr


def test_the_output_may_have_no_room_in_a_process_of_its_own(bench: Bench) -> None:
    """The interpreter flushes once more at its end, and must find nothing to complain of."""
    with open("/dev/full", "wb") as full:
        for words in (("batches",), ("show", "last", "--chart", "a.xyz")):
            done = subprocess.run(
                bench.command(*words), env=bench.environment, cwd=bench.folder,
                stdout=full, stderr=subprocess.PIPE, text=True, check=False,
            )  # fmt: skip
            assert done.stderr.count("\n") == 1, done.stderr
            assert done.stderr.startswith("snapcurve: ")
            assert done.returncode in (2, 5)


def test_no_output_at_all_is_no_failure(bench: Bench) -> None:
    done = bench.run("batches", before=lambda: os.close(1))
    assert (done.returncode, done.stderr) == (0, "")


# --- folders that are none --------------------------------------------------------------

FOLDER_USERS = (CHEAP["today"], CHEAP["lot"], WITH_BOARD["probe"], WITH_BOARD["collect"])


@pytest.mark.parametrize("words", FOLDER_USERS, ids=lambda words: words[0])
@pytest.mark.parametrize("variable", ["SNAPCURVE_FOLDER", "TMPDIR"])
def test_a_folder_that_is_a_file(
    computer: OddComputer, bench: Bench, words: tuple[str, ...], variable: str
) -> None:
    place = bench.folder / "tray.jpg"
    done = computer.run(bench.folder, {**bench.environment, variable: str(place)}, words)
    if variable == "TMPDIR":
        assert done.code == 0  # another one is found
        return
    assert done.code == 5
    assert "tray.jpg" in done.sentence()
    assert "folder" in done.sentence()


@pytest.mark.parametrize("words", FOLDER_USERS, ids=lambda words: words[0])
def test_a_folder_that_cannot_be_made(
    computer: OddComputer, bench: Bench, words: tuple[str, ...]
) -> None:
    """Nobody may make a folder in /proc, root included."""
    environment = {**bench.environment, "SNAPCURVE_FOLDER": "/proc/snapcurve"}
    done = computer.run(bench.folder, environment, words)
    assert done.code == 5
    assert "/proc/snapcurve" in done.sentence()


def test_settings_in_a_folder_that_cannot_be_made(computer: OddComputer, bench: Bench) -> None:
    environment = {**bench.environment, "SNAPCURVE_SETTINGS": "/proc/snapcurve/settings.toml"}
    done = computer.run(bench.folder, environment, CHEAP["settings"])
    assert done.code == 5
    assert "/proc/snapcurve" in done.sentence()

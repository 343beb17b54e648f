"""The order in which a release goes onto a board.

A release lives in a folder of its own, whose name its content gives. The board's main.py
names one folder, and is replaced in one step when everything it needs is there and has been
compared. Power may fail and the program may be killed at any instant: until that step the
old release starts, from then on the new one does, and a second run finishes what is left.
Recordings, profile and calibration lie in another folder, which nothing here touches.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from snapcurve import boards
from snapcurve.board.prompt import Facts, NoSpace, Prompt
from snapcurve.board.release import FOLDER_PREFIX, MANIFEST, BoardFile, Release, folder_of
from snapcurve.errors import LinkError, SnapcurveError

# The oldest interpreter on which this firmware was run.
OLDEST = (1, 28)
FOREIGN_MAIN = "/main.before-snapcurve.py"
SPARE_BLOCKS = 8  # littlefs needs room to turn round
BLOCKS_PER_FOLDER = 2


@dataclass
class Done:
    """What was done: paths copied, files that were there already, folders taken away."""

    copied: list[str] = field(default_factory=list)
    present: int = 0
    removed: list[str] = field(default_factory=list)
    foreign: str = ""  # where a main.py that was not ours has been put


def check(facts: Facts, release: Release) -> None:
    """SnapcurveError if this interpreter cannot run the release."""
    oldest = ".".join(map(str, OLDEST))
    has = ".".join(map(str, facts.version[:3]))
    if facts.interpreter != "micropython":
        raise SnapcurveError(
            f"The board runs {facts.interpreter}: put MicroPython {oldest} or newer on it "
            "(hardware/README.md says how)."
        )
    if facts.version[:2] < OLDEST:
        raise SnapcurveError(
            f"The board runs MicroPython {has}, and the firmware needs {oldest} or newer: "
            "put a newer one on it (hardware/README.md says how); what it has recorded may "
            "be lost by that, so collect first."
        )
    compiled = release.files[0].data[1]
    if facts.mpy != compiled:
        raise SnapcurveError(
            f"MicroPython {has} takes compiled files of version {facts.mpy}, and these are of "
            f"version {compiled}: update snapcurve, or the board's MicroPython."
        )


def board_for(machine: str) -> str:
    """The board file for the machine text of an interpreter."""
    try:
        return boards.name_of(machine)
    except ValueError:
        raise SnapcurveError(
            f"There is no firmware for {machine!r}: say with --board which one it is like."
        ) from None


def judges_alike(board: str, machine: str) -> bool:
    """Whether the firmware finds by itself that ``machine`` is a ``board``."""
    with suppress(SnapcurveError):
        return board_for(machine) == board
    return False


def put(prompt: Prompt, release: Release, tell: Callable[[int, int], None]) -> Done:
    """Bring ``release`` onto the board. ``tell`` hears (files done, files in all)."""
    done = Done()
    main = prompt.read("/main.py")
    current = folder_of(main or b"")
    names = prompt.names("/")
    for name in names:
        if name.startswith(FOLDER_PREFIX) and name not in (current, release.folder):
            prompt.remove_folder("/" + name)  # of an installation that was cut off
            done.removed.append(name)
    _copy(prompt, release, done, tell)
    if main != release.main:
        if main and not current:
            _place(prompt, FOREIGN_MAIN, main)
            done.foreign = FOREIGN_MAIN
        _place(prompt, "/main.py", release.main)
    if current and current != release.folder:
        prompt.remove_folder("/" + current)
        done.removed.append(current)
    return done


def _copy(prompt: Prompt, release: Release, done: Done, tell: Callable[[int, int], None]) -> None:
    root = "/" + release.folder
    files = [*release.files, BoardFile(MANIFEST, release.manifest)]
    begun = release.folder in prompt.names("/")
    missing = [
        file for file in files if not begun or prompt.sha256(f"{root}/{file.path}") != file.sha256
    ]
    done.present = len(files) - len(missing)
    _room(prompt, missing, len(release.folders) + 1)
    prompt.make_folder(root)
    for folder in release.folders:
        prompt.make_folder(f"{root}/{folder}")
    for number, file in enumerate(missing, start=1):
        _place(prompt, f"{root}/{file.path}", file.data)
        done.copied.append(file.path)
        tell(number, len(missing))


def _room(prompt: Prompt, files: list[BoardFile], folders: int) -> None:
    facts = prompt.facts()
    block = facts.block
    blocks = sum(-(-len(file.data) // block) for file in files)
    if files:
        blocks += BLOCKS_PER_FOLDER * folders + SPARE_BLOCKS
    if blocks * block > facts.free:
        raise NoSpace(
            f"The board has {facts.free // 1024} KiB free and the firmware needs "
            f"{blocks * block // 1024} KiB while it is copied: collect the board's curves "
            "('snapcurve collect'), then install again."
        )


def _place(prompt: Prompt, path: str, data: bytes) -> None:
    """Write a file beside its place, compare it, and move it there in one step."""
    new = path + ".new"
    prompt.write(new, data)
    if prompt.sha256(new) != BoardFile(path, data).sha256:
        raise LinkError(
            f"{path} arrived damaged on the board: install again, and if it stays so, the "
            "cable or the board's flash is bad."
        )
    prompt.rename(new, path)

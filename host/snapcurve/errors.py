"""What the host tells a person who asked for something it cannot do.

The message of each is the one sentence to show; ``exit_code`` is what the command line
ends with. Nothing else in the project chooses exit codes.
"""

import errno
import re
from collections.abc import Iterator
from contextlib import contextmanager

INTERRUPTED = 130  # ended by Ctrl-C, as shells count it

_WORD = re.compile(r"\S+")
_PATH = re.compile(r"['\"(]*(~?\.{0,2}|[A-Za-z]:)[/\\](?![/\\])")
_WITHIN = re.compile(r":\S|@|%40")  # scheme:..., user:password, ...@server


def hidden(text: str) -> str:
    """``text`` without what stands before its last ``@`` (or ``%40``), which may be a password.

    All goes from the first word on that may begin an address. A path may hold an ``@``, such as
    /home/ilka@bench/notebook.db, but no colon before it.
    """
    end = max(text.rfind("@"), text.rfind("%40"))
    before = 0
    for word in _WORD.finditer(text, 0, end + 3 if end >= 0 else 0):
        if _may_begin_address(word[0]):
            start = before if word[0].startswith(("@", "%40", ":")) else word.start()
            return text[:start] + "***" + text[end:]
        before = word.start()
    return text


def _may_begin_address(word: str) -> bool:
    if path := _PATH.match(word):
        rest = word[path.end() :]
        return ":" in rest[: rest.rfind("@")]
    return _WITHIN.search(word) is not None


class SnapcurveError(Exception):
    """A user's mistake or an impossible wish. Its message shows no password of an address."""

    exit_code = 2

    def __init__(self, sentence: str):
        super().__init__(hidden(sentence))


class LinkError(SnapcurveError):
    """The board cannot be reached, or the line to it failed."""

    exit_code = 3


class LineFailed(LinkError):
    """The port failed; ``code`` is the system's error number, None where it gave none."""

    def __init__(self, sentence: str, code: int | None = None):
        super().__init__(sentence)
        self.code = code


class NoAnswer(LinkError, TimeoutError):
    """The board did not answer in time, however often it was asked."""


class Refused(LinkError):
    """The board answered that it will not; ``code`` is a word of catalogue.ERROR_CODES."""

    def __init__(self, sentence: str, code: str):
        super().__init__(sentence)
        self.code = code


class WrongVersion(LinkError):
    """The board speaks another version of the protocol."""

    exit_code = 4


class RecordError(SnapcurveError):
    """A record cannot be read, written or trusted."""

    exit_code = 5


class ProbeError(SnapcurveError):
    """The board gives no temperature."""

    exit_code = 6


_FREE = "free some space and run it again"
_ELSEWHERE = "choose another place"
_CAUSES = {
    errno.ENOSPC: f"the disk is full; {_FREE}",
    errno.EDQUOT: f"your share of the disk is used up; {_FREE}",
    errno.EFBIG: f"the file may not grow so large here; {_ELSEWHERE}",
    errno.EROFS: f"the disk is write-protected; {_ELSEWHERE}",
    errno.EACCES: f"permission denied; change its permissions or {_ELSEWHERE}",
    errno.EPERM: f"permission denied; change its permissions or {_ELSEWHERE}",
    errno.ENOENT: "there is no such file or folder; check the name",
    errno.ENOTDIR: f"what should be a folder is a file; {_ELSEWHERE}",
    errno.EEXIST: f"a file of that name is there; {_ELSEWHERE}",
    errno.EISDIR: "it is a folder; name a file",
    errno.ENAMETOOLONG: "its name is too long; shorten it",
    errno.ELOOP: "its links lead in a circle; name the file itself",
    errno.EIO: "the disk failed; check that it is connected and sound",
    errno.ENXIO: "the device is gone; check that it is connected",
    errno.ENODEV: "the device is gone; check that it is connected",
    errno.EMFILE: "too many files are open; close other programs and run it again",
    errno.ENFILE: "too many files are open; close other programs and run it again",
    errno.ENOMEM: "the memory is used up; close other programs and run it again",
}


def cannot(doing: str, error: OSError) -> RecordError:
    """What to say when ``doing`` ("write the chart a.png") ended with ``error``: the one place
    where the computer's own words become ours."""
    cause = _CAUSES.get(error.errno or 0)
    if "temporary directory" in (error.strerror or ""):  # tempfile's word for any reason
        cause = f"no folder for temporary files can be written; {_FREE}, or set TMPDIR"
    if cause is None:
        said = (error.strerror or str(error) or type(error).__name__).strip(".").lower()
        cause = f"{said}; check the computer and run it again"
    return RecordError(f"Cannot {doing}: {cause}.")


@contextmanager
def file_errors(doing: str) -> Iterator[None]:
    """RecordError for whatever the computer refuses while ``doing`` ("write ...")."""
    try:
        yield
    except SnapcurveError:
        raise  # NoAnswer is an OSError too
    except OSError as error:
        raise cannot(doing, error) from error


class UnusableValueError(SnapcurveError, ValueError):
    """A value out of range or a record too poor; the message says what to do about it.

    Both a user's error, so that the command line shows the sentence, and a ValueError.
    """

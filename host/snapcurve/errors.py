"""What the host tells a person who asked for something it cannot do.

The message of each is the one sentence to show; ``exit_code`` is what the command line
ends with. Nothing else in the project chooses exit codes.
"""

import re

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

"""What the host tells a person who asked for something it cannot do.

The message of each is the one sentence to show; ``exit_code`` is what the command line
ends with. Nothing else in the project chooses exit codes.
"""

INTERRUPTED = 130  # ended by Ctrl-C, as shells count it


class SnapcurveError(Exception):
    """A user's mistake or an impossible wish."""

    exit_code = 2


class LinkError(SnapcurveError):
    """The board cannot be reached, or the line to it failed."""

    exit_code = 3


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

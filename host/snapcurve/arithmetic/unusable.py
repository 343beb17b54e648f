"""The error of a measured or given value that no result can be computed from."""

from snapcurve.errors import SnapcurveError


class UnusableValueError(SnapcurveError, ValueError):
    """A value out of range or a record too poor; the message says what to do about it.

    Both a user's error, so that the command line shows the sentence, and a ValueError.
    """

"""snapcurve on the computer: board, recordings, advice, notebook and reports."""

from wire.version import __version__

__all__ = ["__version__"]

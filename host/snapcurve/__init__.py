"""snapcurve on the computer: link to the board, notebook, charts and arithmetic."""

from wire.version import __version__

__all__ = ["__version__"]

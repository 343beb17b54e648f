"""Kinds of pictures and papers."""

from pathlib import Path

from snapcurve.errors import SnapcurveError

FORMATS = ("png", "svg", "pdf")
# Landscape, width and height in millimetres: ISO 216, and letter by ANSI/ASME Y14.1.
PAPERS_MM = {"a4": (297.0, 210.0), "a3": (420.0, 297.0), "letter": (279.4, 215.9)}


def ending_of(path: Path) -> str:
    """The kind of picture that the name of `path` asks for; SnapcurveError for another."""
    ending = path.suffix.lower().removeprefix(".")
    if ending not in FORMATS:
        raise SnapcurveError(
            f"{path} does not say what kind of picture to write: "
            f"let its name end in {', '.join('.' + known for known in FORMATS)}."
        )
    return ending

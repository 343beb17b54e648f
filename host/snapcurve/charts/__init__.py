"""Charts of recorded curves. matplotlib is loaded when the first chart is drawn, not before."""

from .batch import batch_chart
from .words import batch_uncertainty

__all__ = ["batch_chart", "batch_uncertainty"]

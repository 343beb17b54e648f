"""Charts of recorded curves. matplotlib is loaded when the first chart is drawn, not before."""

from .batch import batch_chart

__all__ = ["batch_chart"]

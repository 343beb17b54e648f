"""What separated batches that turned out well from those that did not."""

from .compare import Comparison, Lesson, learn
from .outcomes import TrayOutcome

__all__ = ["Comparison", "Lesson", "TrayOutcome", "learn"]

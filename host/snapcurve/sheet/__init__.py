"""Batch sheets: a page or two for the file. matplotlib is loaded when one is drawn."""

from .files import PAPERS_MM, batch_sheet
from .matter import SheetMatter

__all__ = ["PAPERS_MM", "SheetMatter", "batch_sheet"]

"""The judgement of a batch: what its record proves, and what it cannot say.

Pure: a decoded curve and what the person noted go in, sentences with their reasons come out.
A right temperature is not yet temper; only a test blade with a result proves it.
"""

from .blades import BladeResult
from .clock import Clock
from .complaints import Cause, Complaint, complaints, find
from .facts import Facts, facts_of
from .judge import Answer, Judgement, judge
from .signs import Sign, signs_of

__all__ = [
    "Answer",
    "BladeResult",
    "Cause",
    "Clock",
    "Complaint",
    "Facts",
    "Judgement",
    "Sign",
    "complaints",
    "facts_of",
    "find",
    "judge",
    "signs_of",
]

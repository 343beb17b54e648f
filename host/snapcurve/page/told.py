"""What a form was answered, kept until the page that says it is asked for.

A browser that goes back to the answer of a post asks whether to send the form again. So every
post is answered with a redirect (303), and the page it leads to says what came of it.
"""

import secrets
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field

MOST = 64  # the oldest goes; a page left open for a day shows its room without the answer


@dataclass(frozen=True)
class Tell:
    """``html`` to show, the ``status`` of the page that shows it, and what was ``typed`` into the
    form, so that a refusal costs nobody his words."""

    html: str = ""
    status: int = 200
    typed: Mapping[str, str] = field(default_factory=dict)


class Told:
    """The newest answers by a word that nobody guesses."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Tell] = OrderedDict()

    def keep(self, tell: Tell) -> str:
        """Keep it; the word by which it is found."""
        word = secrets.token_urlsafe(9)
        self._kept[word] = tell
        while len(self._kept) > MOST:
            self._kept.popitem(last=False)
        return word

    def of(self, word: str) -> Tell:
        """What was kept under ``word``; an empty one if that is gone or was never there."""
        return self._kept.get(word, Tell())

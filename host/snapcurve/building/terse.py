"""The message catalogue without what a board does not read in it.

A board packs and unpacks by the places of fields, not by their names, and of a limit needs the
number. Its catalogue (wire/catalogue.py says how a record is written) has the same rows all the
same: only each field's name is NAMELESS, limits are numbers, and lists of words are without the
methods FOR_THE_HOST.
"""

import ast
import re
from collections import Counter

from snapcurve.building.constants import Value, set_once, value_of
from snapcurve.building.scopes import Edits, bound_by, text_of, texts_of

CATALOGUE = "wire/catalogue"
NAMELESS = "x"
# To show a list, and to go through it quickly: it can be gone through by place as well.
FOR_THE_HOST = ("__repr__", "__iter__")
_FIELD = re.compile(r"\b[a-z]\w* (?=(?:\d+s|[bBhHiI])(?:$|,| [A-Z])|\* [A-Z\d])", re.MULTILINE)
_LONGEST = re.compile(r"(?<=\* )[A-Z_]+")


def terse(text: str) -> str:
    """``text`` of the catalogue with its records made terse; its lines keep their numbers."""
    tree = ast.parse(text)
    numbers = set_once(tree, Counter(name for node in tree.body for name in bound_by(node)))
    edits = Edits(text)

    def limit(name: str) -> Value | None:
        return value_of(numbers[name], limit) if name in numbers else None

    for node in texts_of(tree):
        new = _FIELD.sub(NAMELESS + " ", text_of(node))
        new = _LONGEST.sub(lambda found: str(limit(found[0])), new)
        if new != node.value:
            edits.replace(node, repr(new))
    for method in ast.walk(tree):
        if isinstance(method, ast.FunctionDef) and method.name in FOR_THE_HOST:
            edits.replace(method, "pass")
    return edits.text()

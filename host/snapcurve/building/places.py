"""Where in the source the firmware failed, from what the board kept of it.

A board names module, line and function of its compiled files, innermost first ("probe.app:218 _36
< probe.app:239 _21"). Those files are made alike each time, so whoever has the same release finds
the way back.
"""

import ast
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from snapcurve.building.prepared import Prepared, prepare

BETWEEN = " at "  # the failure and its places, as firmware/probe/crashes.py writes them
_PLACE = re.compile(r"([\w.]+):(\d+) (\S+)")


def told(reason: str, sources: Mapping[str, Path]) -> str:
    """``reason`` with places in ``sources`` (as for ``prepare``) instead of those of the files
    made from them. What is not found stays as it is."""
    what, between, where = reason.rpartition(BETWEEN)
    if not between:
        return reason
    made = _made(tuple(sources.items()))

    def in_source(found: re.Match[str]) -> str:
        prepared = _module(made, found[1])
        number = int(found[2])
        if prepared is None or not 0 < number <= len(prepared.places):
            return found[0]
        module, first, last = prepared.places[number - 1]
        lines = f"{first}" if first == last else f"{first}-{last}"
        return f"{module}.py:{lines} {_function(sources[module], first, last)}"

    return what + between + _PLACE.sub(in_source, where)


@cache
def _made(files: tuple[tuple[str, Path], ...]) -> dict[str, Prepared]:
    return prepare(dict(files))


def _module(made: Mapping[str, Prepared], dotted: str) -> Prepared | None:
    path = dotted.replace(".", "/")
    return made.get(path, made.get(path + "/__init__"))


def _function(path: Path, first: int, last: int) -> str:
    """The innermost function around these lines, with its class: "Engine.step"."""
    names: list[str] = []

    def look(node: ast.AST) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                assert child.end_lineno is not None
                if child.lineno <= last and first <= child.end_lineno:
                    names.append(child.name)
                    look(child)
                    return
            else:
                look(child)

    look(ast.parse(path.read_text(encoding="utf-8")))
    return ".".join(names) or "<module>"

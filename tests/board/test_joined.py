"""Joined modules: the same program in fewer files."""

import ast
import builtins
import sys
import types

import pytest

from snapcurve.building.joined import join
from snapcurve.building.prepared import JOINED
from snapcurve.building.scopes import bound_by, uses
from snapcurve.building.sources import START, firmware_files, main_file
from snapcurve.installing import release

TOY = {
    "toy/__init__": "",
    "toy/limits": '''
"""Numbers."""

_STEP = 3
LIMIT = 4 * _STEP + 1
BELOW = -LIMIT
TEXT = "seven"
PAIR = (LIMIT, "eight")
HALF = 0.5
CHANGED = [1]


def _own():
    return "limits"


def twice(value):
    """Two times."""
    return _own(), 2 * value


def never_asked_for():
    return only_from_there()


def only_from_there():
    return 1
''',
    "toy/counting": """
from .limits import (
    LIMIT,
    twice,
)

_STEP = 100


class CountError(Exception):
    pass


class Counter:
    step = _STEP

    def __init__(self, LIMIT):
        self.limit = LIMIT
        self.twice = [twice for twice in range(LIMIT)]

    def up(self, by=LIMIT):
        step = by
        if step > 50:
            raise CountError(step)
        return step + self.limit + self.step + _STEP


def _own():
    return "counting"
""",
    "toy/app": """
import math

from . import limits
from .counting import Counter, CountError, _own
from .limits import BELOW, HALF, LIMIT as MOST, PAIR

NAME = "app"
__all__ = ("Counter", "NAME", "run")


def run():
    counter = Counter(4)
    found = [counter.up(), counter.up(7), counter.twice, _own(), limits.twice(MOST)]
    limits.CHANGED.append(2)
    found += [limits.LIMIT, limits.TEXT, limits.CHANGED, BELOW, HALF, PAIR[1], math.floor(2.5)]
    try:
        counter.up(99)
    except CountError as error:
        found.append(str(error))
    from . import later
    from .later import doubled

    return [*found, later.doubled(), doubled(), later.also()]
""",
    "toy/later": """
from . import limits
from .counting import Counter
from .limits import LIMIT, twice


def doubled():
    return twice(LIMIT), limits.LIMIT, limits.twice(1), Counter(1).step


def also():
    from .app import Counter as again
    from .limits import TEXT, PAIR as pair

    return again is Counter, TEXT, pair
""",
}
ROOTS = {"toy/app": ()}


def loaded(sources, root, ask):
    """What ``ask`` says of module ``root`` made from ``sources`` under CPython."""

    class Finder:
        @staticmethod
        def find_spec(name, path=None, target=None):
            key = name.replace(".", "/")
            package = f"{key}/__init__" in sources
            text = sources.get(f"{key}/__init__" if package else key)
            if text is None:
                return None
            return importlib.machinery.ModuleSpec(name, Loader(text), is_package=package)

    class Loader:
        def __init__(self, text):
            self._text = text

        def create_module(self, spec):
            return None

        def exec_module(self, module: types.ModuleType):
            exec(self._text, module.__dict__)

    import importlib

    sys.meta_path.insert(0, Finder)
    try:
        return ask(importlib.import_module(root))
    finally:
        sys.meta_path.remove(Finder)
        for name in [one for one in sys.modules if one.split(".")[0] == root.split(".")[0]]:
            del sys.modules[name]


def test_the_joined_program_does_the_same():
    joined = join(TOY, ROOTS).sources
    assert set(joined) == {"toy/__init__", "toy/app", "toy/later"}
    before = loaded(TOY, "toy.app", lambda module: module.run())
    assert before[:3] == [217, 211, [0, 1, 2, 3]]
    assert before[3:6] == ["counting", ("limits", 26), 13]
    assert loaded(joined, "toy.app", lambda module: module.run()) == before


def test_constants_stand_where_their_names_stood_and_what_nobody_uses_is_gone():
    joined = join(TOY, ROOTS).sources
    assert "limits__LIMIT" not in joined["toy/app"]
    assert "def up(self, by=13)" in joined["toy/app"]
    assert "import" not in joined["toy/later"].partition("def doubled")[0].replace(
        "from toy import app as limits", ""
    ).replace("from toy.app import Counter", "").replace(
        "from toy.app import toy_limits__twice", ""
    )
    assert "never_asked_for" not in joined["toy/app"]
    assert "only_from_there" not in joined["toy/app"]


def test_what_the_root_defines_or_lists_keeps_its_name():
    joined = join(TOY, ROOTS).sources
    names = loaded(joined, "toy.app", lambda module: set(vars(module)))
    assert {"run", "Counter", "CountError"} <= names
    assert not {"twice", "_own", "limits", "LIMIT"} & names


def test_every_line_is_where_origins_says():
    joined = join(TOY, ROOTS)
    lines = joined.sources["toy/app"].splitlines()
    for (begin, name), (end, _) in zip(
        joined.origins["toy/app"], [*joined.origins["toy/app"][1:], (len(lines) + 1, "")],
        strict=True,
    ):  # fmt: skip
        source = TOY[name].splitlines()
        assert end - begin == len(source)
        for old, new in zip(source, lines[begin - 1 : end - 1], strict=True):
            if new.strip() and old.lstrip().startswith(("return", "raise", "class", "self.")):
                assert new.split()[:1] == old.split()[:1]
            if not old:
                assert not new
        assert any("def " in line for line in lines[begin - 1 : end - 1])


def test_what_a_root_names_besides_comes_with_it():
    besides = "from .limits import LIMIT\n\n\ndef most():\n    return LIMIT\n"
    later = (
        TOY["toy/later"] + "\n\ndef most():\n    from .besides import most\n\n    return most()\n"
    )
    sources = TOY | {"toy/besides": besides, "toy/later": later}
    joined = join(sources, {"toy/app": ("toy/besides",)}).sources
    assert set(joined) == {"toy/__init__", "toy/app", "toy/later"}
    assert loaded(joined, "toy.later", lambda module: module.most()) == 13


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"toy/limits": "from .app import run\n"}, "imports itself"),
        ({"toy/app": "from . import limits\n\nkept = [limits]\n"}, "hands a module on"),
        ({"toy/app": "from . import limits, nothing\n"}, "two places"),
        ({"toy/later": "def f():\n    from . import limits\n"}, "take names from it"),
        ({"toy/later": "import toy.limits\n"}, "which is joined"),
        ({"toy/limits": TOY["toy/limits"] + "class CountError(Exception):\n    pass\n"}, "both"),
        ({"toy/app": "def f():\n    global g\n    g = 1\n"}, "declared"),
        (
            {"toy/app": "from .limits import twice\n\ndef f():\n    from . import limits\n"},
            "is joined with",
        ),
    ],
)
def test_what_the_rules_do_not_cover_is_refused(more, why):
    with pytest.raises(ValueError, match=why):
        join(TOY | more, ROOTS)


def unknown_names(text):
    """Globals that ``text`` uses and nobody sets."""
    tree = ast.parse(text)
    known = {name for node in tree.body for name in bound_by(node)} | set(dir(builtins))
    return {
        node.id
        for node, kind in uses(tree)
        if isinstance(node, ast.Name) and kind == "global" and node.id not in known
    }


@pytest.mark.parametrize("board", [*release.board_names(), "as the desk runs it"])
def test_of_the_firmware_no_name_is_lost(board):
    files = {START: main_file(), **firmware_files()}
    if board in release.board_names():
        files = release.sources(board)
    texts = {name: path.read_text(encoding="utf-8") for name, path in files.items()}
    joined = join(texts, JOINED)
    assert "probe/tempering/engine" not in joined.sources
    assert "probe/tempering/engine" in [name for _, name in joined.origins["probe/app"]]
    assert len(joined.sources) < 0.6 * len(texts)
    for text in joined.sources.values():
        # The compiler itself sees to const.
        assert unknown_names(text) <= {"const", "__name__"}
    if board in release.board_names():
        # main.py asks the board's module for these.
        tree = ast.parse(joined.sources[f"boards/{board}"])
        assert {"Parts", "died"} <= {name for node in tree.body for name in bound_by(node)}

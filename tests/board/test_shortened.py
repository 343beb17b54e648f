"""Short names: the same program, line for line, with fewer names to keep in memory."""

import ast
import io
import re
import sys
import tokenize
import types

import pytest

from snapcurve.building.prepared import KEPT_NAMES
from snapcurve.building.shortened import shorten
from snapcurve.building.sources import firmware_files
from snapcurve.installing import release

TOY = {
    "toy/__init__": "",
    "toy/base": '''
class Base:
    """Counts in _steps, as every Base does."""

    def __init__(self, first_count, step_width=1):
        self._steps = first_count
        self.width = step_width
        self.of_the_base = 7

    def _by(self, step_count):
        return [self._steps + one * self.width for one in range(step_count)]
''',
    "toy/first": """
from .base import Base

_LIMIT = 5


class ToyError(Exception):
    pass


class First(Base):
    def __init__(self):
        super().__init__(2, step_width=10)
        self._added = 100
        self.text = "_steps"

    def do_this(self, count, extra):
        outer = count
        inner = lambda count, other=extra: self._by(count) + [other, outer, _LIMIT]
        return inner(count - 1) + [count for count in range(2)] + [self._added + self.of_the_base]

    def handle(self, name, *values):
        return getattr(self, "do_" + name)(*values)

    def nested(self, alpha, beta):
        def within(gamma):
            def deepest(delta):
                return alpha, beta, gamma, delta

            return deepest(gamma + 1)

        return within(beta + 1)
""",
    "toy/second": """
from .first import First, ToyError


class Box:
    def __init__(self, wrapped_thing):
        self.wrapped = wrapped_thing
        self.wrapped.set_from_outside = 5

    def look(self, wanted):
        if not hasattr(self.wrapped, "nested"):
            raise ToyError(wanted)
        return self.wrapped.handle(wanted, 4, 9), self.wrapped.nested(1, 2)


def run():
    box = Box(First())
    found = [box.look("this"), box.wrapped.set_from_outside, box.wrapped.text]
    try:
        Box(First()).look("that")
    except AttributeError as error:
        found.append("do_that" in str(error))
    return found, ToyError.__name__
""",
}


def run(sources):
    """What ``run()`` of the last module returns, from ``sources`` under CPython."""
    made = {}
    try:
        for name, text in sources.items():
            module = name.replace("/", ".").removesuffix(".__init__")
            made[module] = sys.modules[module] = types.ModuleType(module)
            if name.endswith("__init__"):
                made[module].__path__ = []
            made[module].__package__ = module.rpartition(".")[0] or module
            exec(text, made[module].__dict__)
            parent, _, own = module.rpartition(".")
            if parent:
                setattr(made[parent], own, made[module])
        return made["toy.second"].run()
    finally:
        for module in made:
            del sys.modules[module]


def names(text):
    return {
        token.string
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type == tokenize.NAME
    }


def without_names(tree):
    """What ``tree`` says, whatever things are called in it."""
    for node in ast.walk(tree):
        for field in ("id", "attr", "name", "arg", "asname"):
            if isinstance(getattr(node, field, None), str):
                setattr(node, field, None if field == "asname" else "_")
    return ast.dump(tree)


def test_the_short_program_does_the_same():
    found, name = run(TOY)
    assert found[0][0] == [2, 12, 22, 9, 4, 5, 0, 1, 107]
    assert (found[0][1], found[3], name) == ((1, 2, 3, 4), True, "ToyError")
    short = shorten(TOY)
    assert run(short) == (found, name)
    for word in ("_added", "wrapped_thing", "First", "Box", "of_the_base", "step_count", "alpha"):
        assert not any(word in names(text) for text in short.values()), word


def test_what_somebody_else_knows_keeps_its_name():
    """Asked for by hasattr or getattr, exceptions, modules, what calls name, MicroPython's."""
    short = shorten(TOY | {"toy/third": "def write(cs):\n    cs.value(1)\n\nkept = asked = 1\n"},
                    frozenset({"kept"}))  # fmt: skip
    everywhere = set().union(*map(names, short.values()))
    for word in ("do_this", "nested", "ToyError", "first", "step_width",
                 "write", "value", "kept"):  # fmt: skip
        assert word in everywhere, word
    assert "asked" not in everywhere


def test_two_classes_of_one_name_in_different_files():
    text = "class Same:\n    def __init__(self):\n        self._%s = 1\n        self._%s = 2\n"
    short = shorten({"toy/a": text % ("one", "two"), "toy/b": text % ("three", "four")})
    for made in short.values():
        first, second = re.findall(r"self\.(_\d+)", made)
        assert first != second


def test_a_class_and_the_one_it_derives_from_share_no_short_name():
    """Also where the names stand in different files."""
    short = shorten(
        {
            "toy/up": "class Up:\n    def __init__(self):\n        self._one = 1\n",
            "toy/mid": "from .up import Up\n\n\nclass Mid(Up):\n    pass\n",
            "toy/low": "from .mid import Mid\n\n\nclass Low(Mid):\n    def f(self):\n"
            "        self._two = 2\n",
        }
    )
    (one,) = re.findall(r"self\.(_\d+)", short["toy/up"])
    (two,) = re.findall(r"self\.(_\d+)", short["toy/low"])
    assert one != two


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("def _1():\n    pass\n", "short name"),
        ("def f(a):\n    return f'{a}'\n", "f-string"),
        ("def f(a):\n    return f(**a)\n", "write them out"),
        ("def f(a):\n    return getattr(f, a)\n", "constant text"),
    ],
)
def test_what_the_rules_do_not_cover_is_refused(text, why):
    with pytest.raises(ValueError, match=why):
        shorten({"toy": text})


@pytest.mark.parametrize("board", [*release.board_names(), "all"])
def test_of_the_firmware_only_names_change_and_far_fewer_are_left(board):
    files = firmware_files() if board == "all" else release.sources(board)
    texts = {name: path.read_text(encoding="utf-8") for name, path in files.items()}
    short = shorten(texts, KEPT_NAMES)
    for name, text in texts.items():
        before, after = ast.parse(text), ast.parse(short[name])
        for old, new in zip(ast.walk(before), ast.walk(after), strict=True):
            assert getattr(old, "lineno", 0) == getattr(new, "lineno", 0), "a line has moved"
        assert without_names(before) == without_names(after)
    before = set().union(*map(names, texts.values()))
    after = set().union(*map(names, short.values()))
    assert len(after) < 0.6 * len(before)
    assert shorten(texts, KEPT_NAMES) == short, "the same release twice"

"""Who makes an entry, and what commands that add to the notebook have in common."""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.vocabulary import ALLERGEN_GROUPS, ALLERGEN_LAWS, OTHER
from snapcurve.shown.plain_text import did_you_mean
from snapcurve.shown.settings_file import Settings, load
from snapcurve.shown.units import Style


@dataclass(frozen=True)
class Said:
    """An entry that is not filed yet: its kind, what it holds, the reason for it, its picture;
    ``code`` of the record it belongs to, "" for the batch that was named."""

    kind: str
    payload: Mapping[str, Any]
    why: str = ""
    picture: bytes | None = None
    code: str = ""


def by(parser: argparse.ArgumentParser) -> None:
    """--by"""
    parser.add_argument("--by", metavar="NAME", help="who says so (default: the set operator)")


def who(arguments: argparse.Namespace, settings: Settings) -> str:
    """The person who makes the entry; SnapcurveError if nobody is named."""
    name = str(arguments.by if arguments.by is not None else settings.operator)
    if not name.strip():
        raise SnapcurveError(
            "Who says so? Give --by NAME, or set it once: snapcurve settings set operator NAME."
        )
    return name


def add_entry(arguments: argparse.Namespace, kind: str, payload: Mapping[str, Any]) -> int:
    """File one entry on ``arguments.batch`` and show it."""
    return add_entries(arguments, [Said(kind, payload)])


def add_entries(arguments: argparse.Namespace, said: Sequence[Said]) -> int:
    """File entries on ``arguments.batch`` and show them."""
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.allergens import of
    from snapcurve.notebook.descriptions import allergen_words, entry_line
    from snapcurve.notebook.records import NewEntry

    settings = load()
    name = who(arguments, settings)
    with open_notebook(arguments.notebook) as notebook:
        code = str(notebook.batch(arguments.batch).code)
        filed = []
        for record in dict.fromkeys(one.code or code for one in said):
            new = [
                NewEntry(one.kind, name, one.payload, one.why, picture=one.picture)
                for one in said
                if (one.code or code) == record
            ]
            filed += notebook.add_entries(new, record)
        allergens = of(notebook.as_amended(code))
    if getattr(arguments, "json", False):
        options.print_json(
            {
                "batch": code,
                "entries": [{"kind": one.kind, **one.payload} for one in filed],
            }
        )
        return 0
    for entry in filed:
        print(f"{code}: {entry_line(entry, settings.style)}")
    if any(one.kind == "lot" or one.payload.get("field") == "allergens" for one in said):
        print(f"{code}: allergens {allergen_words(allergens)}")
    return 0


def batch(parser: argparse.ArgumentParser) -> None:
    """BATCH --by --notebook"""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    by(parser)
    options.notebook(parser)


def allergens_of(text: str) -> tuple[str, ...]:
    """Groups from a text with commas, "none" for none; SnapcurveError for another word, and
    for no word, which may mean that nothing is known."""
    from snapcurve.notebook.checks import check_allergens

    words = tuple(dict.fromkeys(word.strip().lower() for word in text.split(",") if word.strip()))
    if words == ("none",):
        return ()
    if not words or "none" in words:
        raise SnapcurveError(
            f"Allergens {text.strip()!r} may mean several things: write the groups, or none "
            "alone if it was declared free."
        )
    offered = ALLERGEN_LAWS[load().allergens]
    for word in words:
        if word not in ALLERGEN_GROUPS and not word.startswith(OTHER):
            raise SnapcurveError(
                f"There is no allergen group {word!r}{did_you_mean(word, ALLERGEN_GROUPS)}; use"
                f" {', '.join(offered)}, or {OTHER}WORD for another."
            )
    check_allergens(words)
    return words


def mass_mg_of(text: str, style: Style) -> int:
    """Milligrams from what a person types; SnapcurveError as in `Style.parse_mass`."""
    return round(style.parse_mass(text) * 1000)

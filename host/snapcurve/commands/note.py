"""snapcurve note: words, outcome, a picture, or a field put right; all beside what was filed."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from snapcurve.commands import options, people
from snapcurve.errors import SnapcurveError
from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, DISPOSITIONS, OUTCOMES
from snapcurve.shown.input_files import read_bytes
from snapcurve.shown.plain_text import short
from snapcurve.shown.settings_file import load
from snapcurve.shown.units import Style

FIELDS = {
    "couverture": "couverture",
    "operator": "operator",
    "notes": "notes",
    "place": "place",
    "room": "room_centi_c",
    "mass": "mass_mg",
    "allergens": "allergens",
    "mistake": "mistake",
}
OF_WHAT_WAS_MADE = ("pieces", "mass", "best_before", "to", "replaces")
JUDGED = ("gloss", "snap", "release")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    parser.add_argument("text", nargs="?", help="what there is to say, in quotation marks")
    parser.add_argument(
        "--correction",
        action="store_true",
        help="the text says what was done to bring the chocolate back",
    )
    for what in JUDGED:
        parser.add_argument(f"--{what}", choices=OUTCOMES[what], help=f"{what} of the pieces")
    days = ", ".join(map(str, BLOOM_AFTER_DAYS))
    parser.add_argument(
        "--bloom",
        action="append",
        default=[],
        metavar="DAYS=WORD",
        help=f"{', '.join(OUTCOMES['bloom'])} after {days} days, such as 7=none; may be repeated",
    )
    parser.add_argument(
        "--picture",
        type=Path,
        metavar="FILE",
        help="keep a picture of it (.jpg, .png or .webp, up to 8 MiB, without what it says of "
        "place and camera); the text says what it shows",
    )
    parser.add_argument(
        "--made",
        metavar="NAME",
        help="what was made of it, such as 'bars of 70 g', or leftover; with --pieces, --mass, "
        "--best-before and --to",
    )
    parser.add_argument("--pieces", metavar="NUMBER", help="with --made: how many")
    parser.add_argument("--mass", help="with --made: how much, such as 840g")
    parser.add_argument("--best-before", metavar="DAY", help="with --made: such as 2027-05-01")
    parser.add_argument(
        "--to",
        metavar="WHERE",
        help="with --made: where it went, in your words or a customer's code; no names of people",
    )
    parser.add_argument(
        "--replaces", metavar="NAME", help="with --made: what was noted as made wrongly"
    )
    parser.add_argument(
        "--action", metavar="TEXT", help="what was done about a deviation; 'show' lists them"
    )
    parser.add_argument(
        "--disposition",
        choices=[word.replace(" ", "-") for word in DISPOSITIONS],
        help="what became of the chocolate of a deviation",
    )
    parser.add_argument(
        "--review",
        metavar="TEXT",
        help="a second person's word on a deviation, such as 'agreed', with --by NAME",
    )
    parser.add_argument(
        "--deviation",
        metavar="NUMBER",
        help="which one is meant (default: each of which it is still open)",
    )
    parser.add_argument(
        "--amend",
        nargs=2,
        metavar=("FIELD", "VALUE"),
        help=f"put a field right: {', '.join(FIELDS)}; VALUE 'unknown' if nobody can say, "
        "allergens with commas or 'none', of mistake yes or no. Needs --why",
    )
    parser.add_argument(
        "--take-away",
        metavar="GROUPS",
        help="with --amend allergens: those that couverture or lots name and that are not in it",
    )
    parser.add_argument("--why", help="the reason for --amend; what was filed stays beside it")
    people.by(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """File each as an entry of its own; all are checked before the first is filed."""
    style = load().style
    entries = [*_entries(arguments, style), *_steps(arguments, style)]
    if not entries:
        raise SnapcurveError(
            "Say what to note: a text, --gloss, --snap, --release, --bloom, --picture, --made,"
            " --amend, --action, --disposition or --review."
        )
    return people.add_entries(arguments, entries)


def _entries(arguments: argparse.Namespace, style: Style) -> Iterator[people.Said]:
    for what in JUDGED:
        if (value := getattr(arguments, what)) is not None:
            yield people.Said("outcome", {"what": what, "value": value})
    for text in arguments.bloom:
        yield people.Said("outcome", _bloom(text))
    if arguments.made is not None:
        yield _made(arguments, style)
    elif any(getattr(arguments, name) is not None for name in OF_WHAT_WAS_MADE):
        options_of = ", ".join(f"--{name.replace('_', '-')}" for name in OF_WHAT_WAS_MADE)
        raise SnapcurveError(f"{options_of} go with --made NAME.")
    if arguments.amend is not None:
        yield _amendment(arguments, style)
    elif arguments.why is not None or arguments.take_away is not None:
        raise SnapcurveError("--why and --take-away go with --amend FIELD VALUE.")
    if arguments.picture is not None:
        from snapcurve.notebook.pictures import BYTES_MAX

        raw = read_bytes(arguments.picture, "picture", BYTES_MAX)
        payload = {"name": arguments.picture.name, "text": arguments.text or None}
        yield people.Said("picture", payload, picture=raw)
    elif arguments.text is not None:
        kind = "correction" if arguments.correction else "note"
        yield people.Said(kind, {"text": arguments.text})
    elif arguments.correction:
        raise SnapcurveError("--correction says what the text is: write the text as well.")


def _bloom(text: str) -> dict[str, object]:
    days, equals, word = text.strip().lower().partition("=")
    known = {str(one) for one in BLOOM_AFTER_DAYS}
    if not equals or days.strip() not in known or word.strip() not in OUTCOMES["bloom"]:
        raise SnapcurveError(
            f'--bloom "{short(text)}" is not understood; write days and word like 7=none: '
            f"{', '.join(map(str, BLOOM_AFTER_DAYS))} days, {', '.join(OUTCOMES['bloom'])}."
        )
    return {"what": "bloom", "value": word.strip(), "after_days": int(days)}


def _steps(arguments: argparse.Namespace, style: Style) -> Iterator[people.Said]:
    """A step on each deviation that is meant, filed with the record that it lies in."""
    steps = {name: getattr(arguments, name) for name in ("action", "disposition", "review")}
    steps = {name: value for name, value in steps.items() if value is not None}
    if not steps:
        if arguments.deviation is not None:
            raise SnapcurveError("--deviation goes with --action, --disposition or --review.")
        return
    from snapcurve.analysis.deviations import deviations_of
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook import open_notebook

    with open_notebook(arguments.notebook) as notebook:
        found, judgement = judge_batch(notebook, arguments.batch, style)
    every = deviations_of(found, judgement, style)
    chosen = list(enumerate(every, start=1))
    if arguments.deviation is not None:
        chosen = [one for one in chosen if str(one[0]) == arguments.deviation.strip()]
    for name, value in steps.items():
        open_ones = [
            one
            for number, one in chosen
            if arguments.deviation
            or name in one.open
            or (name == "disposition" and "held" in one.open)
        ]
        if not open_ones:
            raise SnapcurveError(
                f"Batch {found.filed.code} has no such deviation to say that of: 'snapcurve show"
                f" {found.filed.code}' lists its {len(every)} with their numbers."
            )
        for one in open_ones:
            said = {"of": one.deviation.of, "at_s": one.deviation.record_s}
            word = value.replace("-", " ") if name == "disposition" else value
            yield people.Said("deviation", {**said, name: word}, code=one.deviation.record)


def _made(arguments: argparse.Namespace, style: Style) -> people.Said:
    pieces, mass, day = arguments.pieces, arguments.mass, arguments.best_before
    if pieces is not None and not (pieces.isascii() and pieces.isdigit() and len(pieces) < 10):
        raise SnapcurveError(
            f"--pieces {short(pieces)} is not a whole number: write digits, such as 48."
        )
    if arguments.replaces is not None:
        _was_made(arguments)
    said = {
        "name": arguments.made,
        "pieces": None if pieces is None else int(pieces),
        "mass_mg": None if mass is None else people.mass_mg_of(mass, style),
        "best_before": None if day is None else style.parse_day(day, "--best-before").isoformat(),
        "where": arguments.to,
        "replaces": arguments.replaces,
    }
    return people.Said("made", said)


def _was_made(arguments: argparse.Namespace) -> None:
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.entries import made_of

    with open_notebook(arguments.notebook) as notebook:
        made = made_of(notebook.history(arguments.batch))
    if arguments.replaces not in [one.name for one in made]:
        names = ", ".join(short(one.name) for one in made) or "nothing"
        raise SnapcurveError(
            f"{short(arguments.replaces)} was not noted as made of {arguments.batch}, but {names}:"
            " name that."
        )


def _amendment(arguments: argparse.Namespace, style: Style) -> people.Said:
    field, text = arguments.amend
    if field not in FIELDS:
        raise SnapcurveError(f"There is no field {field!r}: choose from {', '.join(FIELDS)}.")
    if not (arguments.why or "").strip():
        raise SnapcurveError("An amendment needs its reason: add --why 'wrong name typed'.")
    unknown = text.strip().lower() == "unknown"
    payload = {"field": FIELDS[field], "value": None if unknown else _value(field, text, style)}
    payload["takes"] = None
    if arguments.take_away is not None:
        payload["takes"] = list(people.allergens_of(arguments.take_away))
    return people.Said("amendment", payload, arguments.why)


def _value(field: str, text: str, style: Style) -> Any:
    if field == "room":
        return round(style.parse_room(text) * 100)
    if field == "mass":
        return round(style.parse_batch_mass(text) * 1000)
    if field == "allergens":
        return list(people.allergens_of(text))
    if field == "mistake":
        if text.lower() not in ("yes", "no"):
            raise SnapcurveError(f"{text!r} is neither yes nor no: was it started by mistake?")
        return text.lower() == "yes"
    return text

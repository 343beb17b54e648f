"""snapcurve outcome: how the pieces turned out."""

import argparse

from snapcurve.commands import options, people
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, OUTCOMES

    people.batch(parser)
    for what in ("gloss", "snap", "release"):
        parser.add_argument(f"--{what}", choices=OUTCOMES[what])
    days = ", ".join(map(str, BLOOM_AFTER_DAYS))
    parser.add_argument(
        "--bloom",
        action="append",
        default=[],
        metavar="DAYS=WORD",
        help=f"{', '.join(OUTCOMES['bloom'])} after {days} days, such as 7=none; may be repeated",
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """File each as an entry of its own; all are checked before the first is filed."""
    from snapcurve.notebook import NewEntry, open_notebook
    from snapcurve.notebook.describing import entry_line
    from snapcurve.shown.settings_file import load

    settings = load()
    payloads: list[dict[str, object]] = [
        {"what": what, "value": value}
        for what in ("gloss", "snap", "release")
        if (value := getattr(arguments, what)) is not None
    ]
    payloads += [_bloom(text) for text in arguments.bloom]
    if not payloads:
        raise SnapcurveError("say how it turned out with --gloss, --snap, --release or --bloom")
    who = people.who(arguments, settings)
    with open_notebook(arguments.notebook) as notebook:
        code = notebook.batch(arguments.batch).code
        filed = [notebook.add_entry(NewEntry("outcome", who, one), code) for one in payloads]
    if arguments.json:
        options.print_json({"batch": code, "outcomes": [dict(entry.payload) for entry in filed]})
        return 0
    for entry in filed:
        print(f"{code}: {entry_line(entry, settings.style)}")
    return 0


def _bloom(text: str) -> dict[str, object]:
    from snapcurve.notebook.vocabulary import BLOOM_AFTER_DAYS, OUTCOMES
    from snapcurve.shown.file_lines import one_line

    days, equals, word = text.strip().lower().partition("=")
    known = {str(one) for one in BLOOM_AFTER_DAYS}
    if not equals or days.strip() not in known or word.strip() not in OUTCOMES["bloom"]:
        raise SnapcurveError(
            f'--bloom "{one_line(text)}" is not understood; write days and word like 7=none: '
            f"{', '.join(map(str, BLOOM_AFTER_DAYS))} days, {', '.join(OUTCOMES['bloom'])}"
        )
    return {"what": "bloom", "value": word.strip(), "after_days": int(days)}

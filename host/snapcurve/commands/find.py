"""snapcurve find: batches by date, couverture, lot, outcome, operator or words."""

import argparse
from typing import TYPE_CHECKING

from snapcurve.commands import options
from snapcurve.shown.quantities import Style

if TYPE_CHECKING:
    from snapcurve.notebook.records import Search


def searching(parser: argparse.ArgumentParser) -> None:
    """What to search by."""
    parser.add_argument("words", nargs="*", help="words that were written; cho* finds beginnings")
    parser.add_argument("--since", metavar="DAY", help="from this day on, such as 2026-11-01")
    parser.add_argument("--until", metavar="DAY", help="up to and with this day")
    parser.add_argument("--couverture", default="", help="words of its name")
    parser.add_argument("--lot", default="", help="lot's number as on the package")
    parser.add_argument("--outcome", default="", help="such as dull, or bloom=marked")
    parser.add_argument("--operator", default="", help="whole name")
    options.mistakes(parser)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    searching(parser)
    parser.add_argument("--limit", type=int, help="only the newest so many")
    options.notebook(parser)
    options.as_json(parser)


def search_of(arguments: argparse.Namespace, style: Style) -> "Search":
    """The search that was asked for; SnapcurveError for a day that is none."""
    from snapcurve.errors import SnapcurveError
    from snapcurve.notebook.records import Search
    from snapcurve.shown.dates import day_after, day_start_ms, parse_day

    since = None if arguments.since is None else parse_day(arguments.since, style)
    until = None if arguments.until is None else parse_day(arguments.until, style)
    if since and until and until < since:
        raise SnapcurveError("--until lies before --since: exchange them")
    return Search(
        since_unix_ms=None if since is None else day_start_ms(since),
        before_unix_ms=None if until is None else day_start_ms(day_after(until)),
        couverture=arguments.couverture,
        lot=arguments.lot,
        outcome=arguments.outcome,
        operator=arguments.operator,
        text=" ".join(arguments.words),
        mistakes=arguments.mistakes,
    )


def run(arguments: argparse.Namespace) -> int:
    """List what was found, newest first."""
    from snapcurve.commands import batches
    from snapcurve.notebook import open_notebook
    from snapcurve.shown.settings_file import load

    style = load().style
    options.checked_limit(arguments.limit)
    wanted = search_of(arguments, style)
    with open_notebook(arguments.notebook) as notebook:
        rows = notebook.search(wanted, arguments.limit)
        holds = notebook.allergens([row.id for row in rows])
        missing = notebook.missing_cleanings(row.started_unix_ms for row in rows)
    batches.show(rows, holds, missing, style, arguments.json)
    if not rows and not arguments.json:
        print("No batch is like that.")
    return 0

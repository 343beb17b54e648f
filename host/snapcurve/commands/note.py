"""snapcurve note: words on a batch."""

import argparse

from snapcurve.commands import people


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.add_argument("text", help="what there is to say, in quotation marks")
    parser.add_argument(
        "--correction",
        action="store_true",
        help="it says what was done to bring the chocolate back",
    )


def run(arguments: argparse.Namespace) -> int:
    """Add it."""
    kind = "correction" if arguments.correction else "note"
    return people.add_entry(arguments, kind, {"text": arguments.text})

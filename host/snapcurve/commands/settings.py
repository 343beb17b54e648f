"""snapcurve settings: units, signs, dates, paper, names."""

import argparse
import sys

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "action",
        nargs="?",
        choices=("show", "set"),
        default="show",
        help="show all (default), or set one",
    )
    parser.add_argument("key", nargs="?", metavar="KEY", help="which, for set")
    parser.add_argument("value", nargs="?", metavar="VALUE", help='to what ("" for nothing)')
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show the settings, or change one."""
    from dataclasses import asdict

    from snapcurve.shown.plain_text import visible
    from snapcurve.shown.settings_file import KEYS, change, load, settings_path
    from snapcurve.shown.table import table

    path = settings_path()
    if arguments.action == "set":
        if arguments.key is None or arguments.value is None:
            raise SnapcurveError(
                "Nothing to set was named: write 'snapcurve settings set temperature F', or "
                f"another of {', '.join(KEYS)}."
            )
        found, fault = change(arguments.key, arguments.value, path)
        if fault:
            print(f"snapcurve: {visible(fault)}", file=sys.stderr)
    elif arguments.key is not None:
        raise SnapcurveError(
            "One setting cannot be shown alone: leave the key out, or change it with "
            "'snapcurve settings set KEY VALUE'."
        )
    else:
        found = load(path)
    if arguments.json:
        options.print_json({**asdict(found), "file": str(path)})
        return 0
    print(
        table(
            (
                key,
                getattr(found, key) or "(not set)",
                meaning + (f" ({', '.join(choices)})" if choices else ""),
            )
            for key, (choices, meaning) in KEYS.items()
        )
    )
    print(f"Kept in {path}. JSON and CSV always hold °C and g.")
    return 0

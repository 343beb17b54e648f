"""Options that several commands share."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.couvertures.methods import METHODS, named
from snapcurve.errors import SnapcurveError
from snapcurve.shown.plain_text import json_text

if TYPE_CHECKING:
    from snapcurve.commands.output_files import Kind
    from snapcurve.shown.units import Style


def port(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument(
        "--port",
        help="serial port, socket://HOST:PORT, or 'rehearsal' for the built-in board; "
        "left out: the one board that is attached",
    )


def method(parser: argparse.ArgumentParser) -> None:
    """--method"""
    parser.add_argument(
        "--method",
        type=named,
        choices=METHODS,
        help="how the chocolate is tempered (default: seeding; coating where there is no temper)",
    )


def notebook(parser: argparse.ArgumentParser) -> None:
    """--notebook"""
    parser.add_argument(
        "--notebook",
        metavar="PLACE",
        help="file of the notebook, or a database URL (default: the user's own, "
        "or SNAPCURVE_NOTEBOOK)",
    )


def number(parser: Any, name: str, **about: Any) -> None:
    """An option that takes a number without a unit, read with the signs that are set."""
    parser.add_argument(name, type=lambda text: _style().parse_number(text, name), **about)


def celsius(parser: Any, name: str, **about: Any) -> None:
    """An option that takes a temperature; a number alone is in °C, whatever is set."""
    parser.add_argument(
        name, type=lambda text: _style().parse_temperature(text, "C", name), **about
    )


def kelvin(parser: Any, name: str, **about: Any) -> None:
    """An option that takes a difference of temperatures; a number alone is in °C."""
    parser.add_argument(
        name, type=lambda text: _style().parse_difference(text, "C", name), **about
    )


def _style() -> "Style":
    from snapcurve.shown.settings_file import load

    return load().style


def degrees_for_help(value_c: float) -> str:
    """A temperature as it is set; in °C where the settings cannot be read, for help must come."""
    from snapcurve.shown.units import PLAIN

    try:
        return _style().degrees_words(value_c)
    except SnapcurveError:
        return PLAIN.degrees_words(value_c)


def tolerance_class(parser: argparse.ArgumentParser) -> None:
    """--class"""
    parser.add_argument(
        "--class",
        dest="tolerance_class",
        type=int,
        choices=(1, 2, 3),
        help="the probe's class after IEC 60584-1 (default: what the board says, or 1)",
    )


def mistakes(parser: argparse.ArgumentParser) -> None:
    """--mistakes"""
    parser.add_argument(
        "--mistakes",
        action="store_true",
        help="also records that were started by mistake and never stood in chocolate",
    )


def rehearsals(parser: argparse.ArgumentParser) -> None:
    """--rehearsals"""
    parser.add_argument(
        "--rehearsals", action="store_true", help="also batches of the built-in board"
    )


def assumptions(parser: argparse.ArgumentParser) -> None:
    """--assumptions"""
    parser.add_argument(
        "--assumptions", action="store_true", help="list everything that the figures rest on"
    )


def replace(parser: argparse.ArgumentParser) -> None:
    """--replace"""
    parser.add_argument(
        "--replace", action="store_true", help="write over a file of that name that is there"
    )


def output(arguments: argparse.Namespace, path: Path, kind: "Kind") -> Path:
    """``path``, if the command may write there; see `output_files.checked`."""
    from snapcurve.commands.output_files import checked

    notebook = getattr(arguments, "notebook", None)
    return checked(path, kind, replace=arguments.replace, notebook=notebook)


def chart(arguments: argparse.Namespace) -> None:
    """SnapcurveError if a --chart was asked for where none may be written."""
    from snapcurve.commands.output_files import CHART

    if arguments.chart is not None:
        output(arguments, arguments.chart, CHART)


def as_json(parser: argparse.ArgumentParser) -> None:
    """--json"""
    parser.add_argument("--json", action="store_true", help="print JSON for a script")


def checked_limit(limit: int | None) -> None:
    """SnapcurveError for a list of fewer than one."""
    if limit is not None and limit < 1:
        raise SnapcurveError(f"--limit {limit} would list nothing: give 1 or more.")


def print_json(value: Any) -> None:
    """One JSON document on standard output."""
    print(json_text(value))

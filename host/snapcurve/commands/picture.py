"""snapcurve picture: a picture of a batch, by its place and its SHA-256."""

import argparse
from pathlib import Path

from snapcurve.commands import people
from snapcurve.shown.input_files import MIB, sha256_of

FILE_BYTES_MAX = 1024 * MIB


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.add_argument("file", type=Path, help="the picture; it stays where it is")
    parser.add_argument("text", nargs="?", help="what it shows")


def sha256(file: Path) -> str:
    """SHA-256 of a picture; SnapcurveError if it cannot be read."""
    return sha256_of(file, "picture", FILE_BYTES_MAX)


def run(arguments: argparse.Namespace) -> int:
    """Write down where it is and what its bytes are."""
    digest = sha256(arguments.file)
    path = str(arguments.file.resolve())
    payload = {"path": path, "sha256": digest, "text": arguments.text}
    return people.add_entry(arguments, "picture", payload)

"""snapcurve blade: what a test blade showed."""

import argparse

from snapcurve.commands import people


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    people.batch(parser)
    parser.add_argument("result", choices=("good", "failed"), help="what it showed")
    parser.add_argument("text", nargs="?", help="how it looked")
    parser.add_argument(
        "--mark", type=int, help="number of the dip, from 1 on (default: the last)"
    )
    parser.add_argument("--set-s", type=int, metavar="SECONDS", help="set after so long")


def run(arguments: argparse.Namespace) -> int:
    """File the result with the mark it belongs to."""
    from snapcurve.errors import SnapcurveError
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.describing import dips_of

    with open_notebook(arguments.notebook) as notebook:
        batch = notebook.batch(arguments.batch)
    numbers = list(dips_of(batch))
    if not numbers:
        raise SnapcurveError(
            f"no test blade was marked in batch {batch.code}: press the button when you dip "
            "the next one, and put this one down with 'snapcurve note'"
        )
    mark = numbers[-1] if arguments.mark is None else arguments.mark
    if mark not in numbers:
        listed = ", ".join(map(str, numbers))
        raise SnapcurveError(f"batch {batch.code} has no test blade {mark}; its marks: {listed}")
    if arguments.set_s is not None and not 0 < arguments.set_s <= 3600:
        raise SnapcurveError("--set-s is in seconds, from 1 to 3600")
    arguments.batch = batch.code
    payload = {
        "result": arguments.result,
        "mark": mark,
        "set_s": arguments.set_s,
        "text": arguments.text,
    }
    return people.add_entry(arguments, "dip_test", payload)

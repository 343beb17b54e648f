"""snapcurve collect: new curves from the board into the notebook."""

import argparse
import sys
import time
from collections.abc import Callable
from typing import Any

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.port(parser)
    options.notebook(parser)
    parser.add_argument(
        "--keep", action="store_true", help="leave the curves on the board after filing them"
    )
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Download what is new, file it, and only then let the board erase it."""
    from snapcurve.collecting import Collection
    from snapcurve.figures import speak
    from snapcurve.link.opening import open_board
    from snapcurve.notebook import open_notebook
    from snapcurve.settings import load

    settings = load()
    speak(settings.style)
    complete = _completion(settings)
    filed: list[dict[str, Any]] = []

    def tell(row: Any, code: str) -> None:
        filed.append({"curve": row.curve, "batch": code, "bytes": row.size})
        if not arguments.json:
            print(f"curve {row.curve}: batch {code} ({row.size} bytes)", flush=True)

    with open_notebook(arguments.notebook) as notebook, open_board(arguments.port) as board:
        board.set_clock(time.time())
        collection = Collection(
            board,
            notebook,
            arguments.port,
            tell,
            _progress if sys.stderr.isatty() else None,
            complete,
        )
        collection.run(keep=arguments.keep)
        codes = [one["batch"] for one in filed]
        verdicts, warnings = _afterwards(notebook, codes) if codes else ({}, [])
        mistakes = [code for code in codes if notebook.as_amended(code).now.mistake]
    for curve in collection.recording:
        print(
            f"curve {curve} is still being recorded: collect it when it has ended",
            file=sys.stderr,
        )
    if arguments.json:
        options.print_json(
            [
                {
                    **one,
                    "verdict": verdicts.get(one["batch"]),
                    "mistake": one["batch"] in mistakes,
                }
                for one in filed
            ]
        )
    elif not filed and not collection.unreadable:
        print("Nothing new on the board.")
    else:
        for code in codes:
            print(f"{code}: {verdicts[code]}" if code in verdicts else code)
        if mistakes:
            print(
                f"In no list: {', '.join(mistakes)}. 'snapcurve batches --mistakes' shows what "
                "was started by mistake, 'snapcurve amend CODE mistake no' brings it back."
            )
    for warning in warnings:
        print(f"! {warning}", file=sys.stderr)
    collection.complain()
    return 0


def _completion(settings: Any) -> Callable[[Any], Any]:
    """Adds operator, bench, the couverture's allergens, and what was set for today."""
    from dataclasses import replace
    from datetime import date

    from snapcurve import today
    from snapcurve.couvertures import available, user_folder

    held = today.load(options.data_folder(), date.today())
    kinds = {one.name: one.kind for one in available(user_folder())}

    def complete(new: Any) -> Any:
        new = replace(new, operator=settings.operator or None)
        new = held.applied(today.with_kinds_allergens(new, kinds.get(new.couverture)))
        return replace(new, place=new.place or settings.bench or None)

    return complete


def _afterwards(notebook: Any, codes: list[str]) -> tuple[dict[str, str], list[str]]:
    """What the records prove, and what was worked without a cleaning before."""
    from snapcurve.errors import SnapcurveError
    from snapcurve.judgement.from_notebook import judge_batch
    from snapcurve.notebook.describing import cleaning_sentences

    verdicts = {}
    started = [notebook.batch(code).started_unix_ms for code in codes]
    for code in codes:
        try:
            verdicts[code] = judge_batch(notebook, code)[1].verdict
        except SnapcurveError:
            continue  # what was filed is safe; 'snapcurve judge' says what is wrong with it
    return verdicts, cleaning_sentences(notebook.missing_cleanings(started), codes)


def _progress(got: int, total: int) -> None:
    end = "\n" if got >= total else ""
    print(f"\r  {got * 100 // max(1, total):3d} % of {total} bytes", end=end, file=sys.stderr)

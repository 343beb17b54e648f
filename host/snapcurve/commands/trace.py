"""snapcurve trace: every batch with a lot, itself or through leftovers, and all their lots."""

import argparse
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options

if TYPE_CHECKING:
    from snapcurve.notebook.allergens import Allergens
    from snapcurve.notebook.records import BatchRow


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "lot",
        help="the lot's number as on the package, or a batch's code: where its leftover went",
    )
    options.notebook(parser)
    options.mistakes(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List them, newest first."""
    from snapcurve.commands.batches import show_traced
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import lot_words
    from snapcurve.notebook.exports import lot_plain
    from snapcurve.shown.plain_text import on_one_line
    from snapcurve.shown.settings_file import load

    style = load().style
    with open_notebook(arguments.notebook) as notebook:
        everything = notebook.trace(arguments.lot, mistakes=True)
        found = [one for one in everything if arguments.mistakes or not one.batch.mistake]
        holds = notebook.allergens([one.batch.id for one in found])
        known = [] if everything else notebook.lots_like(arguments.lot)
    if arguments.json:
        options.print_json(
            [
                {
                    **_row(one.batch, holds[one.batch.id]),
                    "through": list(one.through),
                    "lots": [lot_plain(lot) for lot in one.lots],
                    "replaced": [lot_plain(lot) for lot in one.replaced],
                }
                for one in found
            ]
        )
        return 0
    name = on_one_line(arguments.lot)
    left_out = [one.batch.code for one in everything if one not in found]
    if left_out:
        print(f"Started by mistake and left out: {', '.join(left_out)} (--mistakes shows them).")
    if not found:
        near = f" Did you mean {', '.join(map(on_one_line, known))}?" if known else ""
        print(f"No batch has or had the lot {name}.{near}")
        return 0
    count = "1 batch has" if len(found) == 1 else f"{len(found)} batches have"
    later = sum(bool(one.through) for one in found)
    through = f", {later} of them through leftovers" if later else ""
    print(f"{count} or had the lot {name}{through}; each with all its lots:")
    for one in found:
        show_traced(one.batch, holds[one.batch.id], style)
        if one.through:
            print(f"    through the leftover of {', '.join(one.through)}")
        for lot in one.lots:
            print(f"    {lot_words(lot, style)}")
        for lot in one.replaced:
            print(f"    {lot_words(lot, style)} (replaced since)")
    return 0


def _row(row: "BatchRow", holds: "Allergens") -> dict[str, Any]:
    """One line for a script."""
    from snapcurve.commands.batches import when
    from snapcurve.notebook.exports import allergens_plain

    started = None
    if row.started_unix_ms is not None:
        started = when(row.started_unix_ms, row.utc_offset_min).replace(" ", "T")
    return {
        "batch": row.code,
        "started": started,
        "couverture": row.couverture,
        "method": row.method,
        "rehearsal": row.rehearsal,
        **allergens_plain(holds),
        "mistake": row.mistake,
    }

"""snapcurve trace: where a lot or a batch went, itself or through leftovers, and what went in."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.commands import options

if TYPE_CHECKING:
    from snapcurve.notebook.records import TracedBatch
    from snapcurve.notebook.tracing import Trace
    from snapcurve.shown.units import Style


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.description = (
        f"{parser.description} Prints the tree, what was made of each batch and where that went, "
        "and what is not known; --output writes it as PDF for the file. A mock recall is this "
        "command and a watch."
    )
    parser.add_argument(
        "lot",
        help="the lot's number as on the package, or a batch's code: also what went into it",
    )
    parser.add_argument("--output", "-o", type=Path, metavar="FILE", help="write it as .pdf too")
    parser.add_argument("--paper", help="A4 or Letter (default: what is set)")
    options.replace(parser)
    options.notebook(parser)
    options.mistakes(parser)
    options.rehearsals(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the tree, and write it if asked to."""
    from snapcurve.commands.output_files import TRACE
    from snapcurve.notebook import lot_state, open_notebook
    from snapcurve.shown.plain_text import on_one_line
    from snapcurve.shown.settings_file import load

    settings = load()
    if arguments.output is not None:
        options.output(arguments, arguments.output, TRACE)
    with open_notebook(arguments.notebook) as notebook:
        end = notebook.chain_end()
        trace = notebook.trace(arguments.lot, arguments.mistakes, arguments.rehearsals)
        lots = [lot for one in trace.batches for lot in (*one.lots, *one.replaced)]
        held = lot_state.on_hold(notebook.bench_entries("hold"))
        holds = lot_state.hold_sentences(held, settings.style, lots)
        nothing = not trace.batches and not trace.left_out
        known = notebook.lots_like(arguments.lot) if nothing else []
        if trace.batches and trace.itself is None:
            holds += [
                f"Also noted, and not in this trace: lot {on_one_line(one)}; if it is the"
                " same one, trace it too."
                for one in notebook.lots_spelled_otherwise(arguments.lot)
            ]
    if arguments.json:
        options.print_json({**_plain(trace), "chain_end": f"{end.number}:{end.hash}"})
    elif trace.left_out:
        print(
            f"Rehearsed or started by mistake, and left out: {', '.join(trace.left_out)}"
            " (--rehearsals and --mistakes show them)."
        )
    if not trace.batches:
        if not arguments.json:
            near = f" Did you mean {', '.join(map(on_one_line, known))}?" if known else ""
            print(f"No batch has or had the lot {on_one_line(arguments.lot)}.{near}")
        return 0
    head = _head(trace)
    if not arguments.json:
        _print([head, *(f"! {one}" for one in holds)], trace, settings.style)
        print(f"\nThe notebook's chain of seals ends with {end.number}:{end.hash}.")
    if arguments.output is not None:
        from snapcurve.report.trace_document import trace_document

        paper = arguments.paper or settings.paper
        now = datetime.now().astimezone()
        path = trace_document(trace, [head, *holds], now, arguments.output, paper, settings, end)
        if not arguments.json:
            print(path)
    return 0


def _head(trace: "Trace") -> str:
    from snapcurve.shown.plain_text import on_one_line

    name, count = on_one_line(trace.asked), len(trace.forward)
    if trace.itself is not None:
        went = "1 batch" if count == 1 else f"{count} batches"
        came = "1 batch" if len(trace.backward) == 1 else f"{len(trace.backward)} batches"
        return (
            f"Leftover of batch {trace.itself.batch.code} went into {went}, and leftover of {came}"
            " into it, to the end of each way."
        )
    later = sum(bool(one.through) for one in trace.forward)
    through = f", {later} of them through leftovers" if later else ""
    have = "1 batch has" if count == 1 else f"{count} batches have"
    return f"{have} or had the lot {name}{through}."


def _print(head: list[str], trace: "Trace", style: "Style") -> None:
    from snapcurve.report.trace_tree import (
        MADE_HEAD,
        backward_lines,
        drawn,
        forward_lines,
        made_rows,
        not_known,
    )
    from snapcurve.shown.table import table

    print("\n".join(head))
    print("\n".join(drawn(forward_lines(trace, style))))
    if trace.itself is not None:
        print("\nWhat went in:")
        print("\n".join(drawn(backward_lines(trace, style))))
    print("\nWhat was made, and where it went:")
    print(table([MADE_HEAD, *made_rows(trace, style)], right=(1, 2)))
    if sentences := not_known(trace, style):
        print("\nWhat is not known:")
        print("\n".join(f"! {sentence}" for sentence in sentences))


def _plain(trace: "Trace") -> dict[str, Any]:
    """All of it for a script."""
    return {
        "asked": trace.asked,
        "itself": None if trace.itself is None else _batch(trace.itself, trace),
        "forward": [_batch(one, trace) for one in trace.forward],
        "backward": [_batch(one, trace) for one in trace.backward],
        "left_out": list(trace.left_out),
    }


def _batch(one: "TracedBatch", trace: "Trace") -> dict[str, Any]:
    from snapcurve.commands.batches import when
    from snapcurve.notebook.exports import allergens_plain, lot_plain, made_plain

    row, started = one.batch, None
    if row.started_unix_ms is not None:
        started = when(row.started_unix_ms, row.utc_offset_min).replace(" ", "T")
    return {
        "batch": row.code,
        "records": list(one.records),
        "started": started,
        "couverture": row.couverture,
        "method": row.method,
        "rehearsal": row.rehearsal,
        **allergens_plain(trace.allergens[row.id]),
        "mistake": row.mistake,
        "mass_g": None if one.mass_mg is None else one.mass_mg / 1000,
        "through": list(one.through),
        "lots": [lot_plain(lot) for lot in one.lots],
        "replaced": [lot_plain(lot) for lot in one.replaced],
        "made": [made_plain(made) for made in one.made],
    }

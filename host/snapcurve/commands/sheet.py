"""snapcurve sheet: a page or two of a batch for the file, or a label for tray or box."""

import argparse
from pathlib import Path

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    parser.add_argument("--output", "-o", type=Path, help="PDF file (default: BATCH.pdf here)")
    parser.add_argument("--paper", help="A4 or Letter (default: what is set)")
    parser.add_argument(
        "--label",
        type=Path,
        metavar="FILE",
        help="write a label instead: one as .png, a sheet of them as .pdf",
    )
    parser.add_argument("--made", metavar="NAME", help="with --label: of which that was made")
    parser.add_argument(
        "--size", metavar="MM", help="with --label: its size, such as 70x37 (the default)"
    )
    parser.add_argument(
        "--copies", type=int, help="with --label: how many (default: a full sheet)"
    )
    parser.add_argument(
        "--from-place", type=int, help="with --label: the first free place of a sheet (default: 1)"
    )
    options.replace(parser)
    options.notebook(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the sheet or the label, and say where."""
    if arguments.label is not None:
        return _label(arguments)
    for name in ("made", "size", "copies", "from_place"):
        if getattr(arguments, name) is not None:
            raise SnapcurveError(f"--{name.replace('_', '-')} goes with --label FILE.")
    import gc

    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.analysis.practice_truth import truth_of
    from snapcurve.commands.output_files import SHEET
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.descriptions import cleaning_before
    from snapcurve.report.sheet_document import batch_sheet
    from snapcurve.report.sheet_sections import sheet_of
    from snapcurve.shown.settings_file import load

    settings = load()
    path = arguments.output
    if path is not None:
        options.output(arguments, path, SHEET)
    gc.disable()  # in so short a run it frees nothing and takes a tenth of the time
    with open_notebook(arguments.notebook) as notebook:
        found, judgement = judge_batch(notebook, arguments.batch, settings.style)
        batch = found.filed
        missing = notebook.missing_cleanings([found.now.started_unix_ms])
        cleaning = cleaning_before(found, notebook.bench_entries(), missing, settings.style)
        calibrations = notebook.calibrations(batch.curve.board_id)
        chain = notebook.chain_end()
        truth = truth_of(notebook, batch, judgement.timeline.joined) if batch.rehearsal else []
    if path is None:
        path = options.output(arguments, Path(f"{batch.code}.pdf"), SHEET)
    batch_sheet(
        sheet_of(found, judgement, settings, calibrations, cleaning, chain, truth),
        path,
        arguments.paper or settings.paper,
        settings.style,
    )
    print(path)
    return 0


def _label(arguments: argparse.Namespace) -> int:
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.commands.output_files import LABEL
    from snapcurve.notebook import allergens, open_notebook, witnesses
    from snapcurve.notebook.descriptions import day_words
    from snapcurve.notebook.entries import made_of
    from snapcurve.notebook.vocabulary import LEFTOVER
    from snapcurve.report.label import LAYOUTS, Label, write_label
    from snapcurve.shown.settings_file import load

    style = load().style
    path = options.output(arguments, arguments.label, LABEL)
    if arguments.output is not None or arguments.paper is not None:
        raise SnapcurveError("--output and --paper are of the sheet: leave them out of a label.")
    with open_notebook(arguments.notebook) as notebook:
        found, _ = judge_batch(notebook, arguments.batch, style)
        chain = notebook.chain_end()
    code = str(found.filed.code)
    made = [one for one in made_of(found.entries) if one.name.casefold() != LEFTOVER]
    if arguments.made is not None:
        made = [one for one in made if one.name == arguments.made]
    if len({(one.name, one.best_before) for one in made}) > 1 or (arguments.made and not made):
        names = ", ".join(dict.fromkeys(one.name for one in made_of(found.entries)))
        raise SnapcurveError(
            f"Which label? Name with --made one of what was made of {code}: {names or 'nothing'}."
        )
    day = made[0].best_before if made else None
    label = Label(
        code,
        made[0].name if made else str(found.now.couverture),
        "" if day is None else day_words(day, style),
        allergens.of(found),
        found.now.rehearsal,
        witnesses.written(chain),
    )
    size = arguments.size or next(iter(LAYOUTS))
    first = 1 if arguments.from_place is None else arguments.from_place
    copies = arguments.copies
    if copies is None:
        layout = LAYOUTS.get(size)
        copies = 1 if layout is None else layout.across * layout.down - first + 1
    print(write_label(label, size, path, copies, first))
    return 0

"""snapcurve show: all that is known of a batch."""

import argparse

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batch", help="code of the batch, or 'last'")
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show it as it stands, with every entry."""
    import textwrap

    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.describing import batch_lines, cleaning_sentences
    from snapcurve.notebook.exporting import plain
    from snapcurve.shown.figures import speak
    from snapcurve.shown.settings_file import load

    style = load().style
    speak(style)
    with open_notebook(arguments.notebook) as notebook:
        found = notebook.as_amended(arguments.batch)
        code = found.filed.code
        missing = notebook.missing_cleanings([found.now.started_unix_ms])
        warnings = cleaning_sentences(missing, [code])
        judgement = judge_batch(notebook, code)[1]
    if arguments.json:
        options.print_json({**plain(found), "verdict": judgement.verdict, "warnings": warnings})
        return 0
    lines = batch_lines(found, style)
    said = [textwrap.fill(text, 92) for text in (judgement.verdict, *judgement.blades)]
    print("\n".join([*lines[:1], *said, *lines[1:]]))
    for sentence in warnings:
        print(f"! {sentence}")
    return 0

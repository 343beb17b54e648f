"""snapcurve show: what is known of a batch and what it proves; or several side by side."""

import argparse
import sys
import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from snapcurve.analysis.complaints import Complaint, complaints, find
from snapcurve.commands import options
from snapcurve.commands.batches import STDOUT
from snapcurve.commands.output_files import EXPORT
from snapcurve.errors import SnapcurveError, file_errors
from snapcurve.recording.curve import Curve
from snapcurve.shown.plain_text import json_text
from snapcurve.shown.settings_file import Settings, load
from snapcurve.shown.whole_files import write_whole

if TYPE_CHECKING:
    from snapcurve.analysis.cup_reading import CupReading
    from snapcurve.analysis.deviations import Handled
    from snapcurve.analysis.verdict import Judgement
    from snapcurve.notebook.records import AmendedBatch
    from snapcurve.notebook.store import Notebook
    from snapcurve.recording.timeline import Timeline

WIDTH = 92
MOST = 6  # lines that can still be told apart in grey
STATES = {
    "shown": "the curve speaks for it",
    "uncertain": "uncertain",
    "cannot say": "the curve cannot say",
    "not shown": "the curve speaks against it",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("batches", nargs="+", metavar="BATCH", help="code of a batch, or 'last'")
    parser.add_argument(
        "--complaint",
        metavar="WHAT",
        help="bloom, dull, streaks, soft-snap, stuck, thick, grainy or finger-marks: "
        "what the record says about its causes",
    )
    parser.add_argument(
        "--blade",
        choices=("passed", "failed"),
        help="what the last marked test blade showed, if the board was not told",
    )
    parser.add_argument(
        "--chart",
        type=Path,
        metavar="FILE",
        help="draw it, or several over each other (.png, .svg, .pdf)",
    )
    parser.add_argument(
        "--curve",
        type=Path,
        metavar="FILE",
        help="write its readings, s and °C (.csv, .json, or CSV to - for a pipe)",
    )
    parser.add_argument(
        "--pictures",
        type=Path,
        metavar="FOLDER",
        help="write the pictures that were noted on it into FOLDER",
    )
    parser.add_argument(
        "--outcomes",
        type=Path,
        metavar="FILE",
        help="of a cup: CSV of how batches turned out (batch,released,gloss[,bloom_days])",
    )
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show one as it stands, with every entry; compare several."""
    from snapcurve.notebook import open_notebook

    options.chart(arguments)
    if arguments.curve not in (None, STDOUT):
        options.output(arguments, arguments.curve, EXPORT)
    settings = load()
    complaint = None
    if arguments.complaint is not None:
        complaint = find(arguments.complaint, settings.style)
    if arguments.outcomes is not None:
        from snapcurve.analysis.outcome_file import read_outcomes

        arguments.outcomes = read_outcomes(arguments.outcomes)
    with open_notebook(arguments.notebook) as notebook:
        if len(arguments.batches) > 1:
            return _compare(notebook, arguments, settings)
        return _show(notebook, arguments, settings, complaint)


# --- one batch ----------------------------------------------------------------------------


def _show(
    notebook: "Notebook",
    arguments: argparse.Namespace,
    settings: Settings,
    complaint: Complaint | None,
) -> int:
    from snapcurve.analysis import deviations
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.notebook.descriptions import batch_lines, cleaning_sentences
    from snapcurve.notebook.exports import plain

    blade = None if arguments.blade is None else arguments.blade == "passed"
    found, judgement = judge_batch(notebook, arguments.batches[0], settings.style, blade)
    code = str(found.filed.code)
    missing = notebook.missing_cleanings([found.now.started_unix_ms])
    warnings = cleaning_sentences(missing, [code])
    handled = deviations.deviations_of(found, judgement, settings.style)
    timeline = judgement.timeline
    if arguments.curve is not None:
        _write_curve(timeline.curve, code, arguments.curve)
        if arguments.curve == STDOUT:
            return 0
    pictures = [] if arguments.pictures is None else _write_pictures(found, arguments)
    cup, trouble = _cup(notebook, found, timeline.curve, arguments, settings)
    if arguments.chart is not None:
        _draw(notebook, found, timeline, cup, settings, arguments.chart)
    if arguments.json:
        from snapcurve.report.batch_texts import cup_data, verdict_data

        options.print_json(
            {
                **plain(found),
                **verdict_data(judgement, complaint),
                "deviations": deviations.data(handled),
                "warnings": warnings,
                "cup": trouble if cup is None else cup_data(cup),
            }
        )
        return 0
    head, *fields = batch_lines(found, settings.style)
    print(head)
    print(textwrap.fill(judgement.verdict, WIDTH))
    print("\n".join([*_cup_lines(cup, trouble, settings), *fields]))
    print("\n".join(_deviation_lines(handled, code)))
    print("\n".join(_verdict_lines(judgement, complaint, warnings)))
    for path in (arguments.chart, arguments.curve, *pictures):
        if path is not None:
            print(path)
    return 0


def _deviation_lines(handled: "Sequence[Handled]", code: str) -> list[str]:
    lines = ["Deviations:"] if handled else []
    for number, one in enumerate(handled, start=1):
        lines.append(_point(one.deviation.words, f"{number}. "))
        for name in ("action", "disposition", "review"):
            entry = getattr(one, name)
            said = f"{one.words(name)} ({entry.who})" if entry else "open"
            lines.append(_point(f"{name}: {said}", "   "))
    if any(one.open for one in handled):
        lines.append(
            f"What was done, what became of it, and a second person's word: snapcurve note {code}"
            " --action TEXT, --disposition WORD, --review TEXT"
        )
    return lines


def _verdict_lines(
    judgement: "Judgement", complaint: Complaint | None, warnings: Sequence[str]
) -> list[str]:
    lines = ["What the record says:"] if judgement.reasons else []
    lines += [_point(reason) for reason in judgement.reasons]
    lines += [
        _point(caution, "! ") for caution in [*judgement.holes, *judgement.cautions, *warnings]
    ]
    if complaint is not None:
        lines += _complaint_lines(judgement, complaint)
    elif judgement.reasons:
        lines.append(f"Something wrong with it? --complaint {', '.join(complaints())}")
    return lines


def _cup(
    notebook: "Notebook",
    found: "AmendedBatch",
    curve: Curve,
    arguments: argparse.Namespace,
    settings: Settings,
) -> "tuple[CupReading | None, str | None]":
    """What a cup says, or why it says nothing; neither for another batch."""
    if found.filed.method != "cup":
        if arguments.outcomes is not None:
            raise SnapcurveError(f"Batch {found.filed.code} is not a cup: leave --outcomes out.")
        return None, None
    from snapcurve.analysis.cup_reading import read_cup

    try:
        return read_cup(
            notebook, found.filed, curve, arguments.outcomes or {}, settings.style
        ), None
    except SnapcurveError as error:
        return None, str(error)


def _cup_lines(cup: "CupReading | None", trouble: str | None, settings: Settings) -> list[str]:
    if cup is None:
        return [] if trouble is None else [textwrap.fill(trouble, WIDTH)]
    from snapcurve.report.batch_texts import cup_lines

    return cup_lines(cup, settings.style)


def _point(text: str, mark: str = "- ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))


def _complaint_lines(judgement: "Judgement", complaint: Complaint) -> list[str]:
    lines = [f"\n{complaint.name}: {complaint.looks}"]
    for answer in judgement.about(complaint):
        lines.append(_point(f"{answer.cause.words} [{STATES[answer.state]}]"))
        if answer.cause.sign is not None:
            lines.append(_point(answer.reason, "    "))
        lines.append(_point(f"Check: {answer.cause.check} ({answer.cause.source}).", "    "))
    return lines


def _draw(
    notebook: "Notebook",
    found: "AmendedBatch",
    timeline: "Timeline",
    cup: "CupReading | None",
    settings: Settings,
    path: Path,
) -> None:
    if cup is not None:
        from snapcurve.report.analysis_charts import cup_chart

        title = f"Cup {cup.code}: {found.filed.couverture}"
        style, paper = settings.style, settings.paper
        cup_chart(timeline.curve, cup.inflection, cup.verdict, title, path, paper, style)
        return
    from snapcurve.analysis.practice_truth import truth_of
    from snapcurve.report.batch_chart import batch_chart
    from snapcurve.report.chart_content import batch_uncertainty

    batch_chart(
        timeline,
        f"Batch {found.filed.code}: {found.filed.couverture}",
        path,
        paper=settings.paper,
        uncertainty=batch_uncertainty(found.filed, settings.style),
        style=settings.style,
        truth=truth_of(notebook, found.filed, timeline.joined),
    )


def _write_curve(curve: Curve, code: str, path: Path) -> None:
    from snapcurve.notebook.exports import curve_csv

    if path == STDOUT:
        sys.stdout.flush()
        sys.stdout.buffer.write(curve_csv(curve).encode())
        return
    if path.suffix.lower() == ".csv":
        data = curve_csv(curve).encode("utf-8-sig")
    else:
        held = {
            "batch": code,
            "time_s": [*curve.times_s],
            "temperature_c": [*curve.temperatures_c],
        }
        data = (json_text(held, indent=None) + "\n").encode()
    write_whole(path, data, "curve")


def _write_pictures(found: "AmendedBatch", arguments: argparse.Namespace) -> list[Path]:
    """Where each was written; none is if one may not be."""
    from snapcurve.commands.output_files import PICTURE
    from snapcurve.notebook.pictures import ENDINGS

    code, folder = found.filed.code, arguments.pictures
    readers = [entry.picture for entry in found.entries if entry.picture is not None]
    if not readers:
        raise SnapcurveError(
            f"Batch {code} has no pictures: add one with 'snapcurve note {code} --picture FILE'."
        )
    paths = [
        folder / f"{code}-picture-{number}{ENDINGS[read().media_type]}"
        for number, read in enumerate(readers, start=1)
    ]
    for path in paths:
        options.output(arguments, path, PICTURE)
    with file_errors(f"write pictures into {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    for path, read in zip(paths, readers, strict=True):
        write_whole(path, read().content, "picture")
    return paths


# --- several side by side -----------------------------------------------------------------


def _compare(notebook: "Notebook", arguments: argparse.Namespace, settings: Settings) -> int:
    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.report.batch_texts import column

    codes = [str(notebook.batch(one).code) for one in arguments.batches]
    if len(codes) > MOST or len(set(codes)) < len(codes):
        raise SnapcurveError(f"Name up to {MOST} different batches to compare.")
    for option in ("complaint", "blade", "curve", "pictures", "outcomes"):
        if getattr(arguments, option) is not None:
            raise SnapcurveError(f"--{option} is about one batch: name only that one.")
    style = settings.style
    found = [judge_batch(notebook, one, style) for one in codes]
    if arguments.chart is not None:
        from snapcurve.report.analysis_charts import compared_chart

        named = [
            (f"{one.filed.code} {one.now.couverture}", judgement.timeline)
            for one, judgement in found
        ]
        compared_chart(named, arguments.chart, settings.paper, settings.style)
    if arguments.json:
        options.print_json([_compared(*one) for one in found])
        return 0
    _print_table([column(*one, settings.style) for one in found])
    if arguments.chart is not None:
        print(arguments.chart)
    return 0


def _compared(one: "AmendedBatch", judgement: "Judgement") -> dict[str, Any]:
    from snapcurve.notebook.exports import plain

    return {**plain(one), "verdict": judgement.verdict, "facts": judgement.timeline.numbers()}


def _print_table(columns: Sequence[Mapping[str, str]]) -> None:
    widths = [max(len(text) for text in column.values()) for column in columns]
    for words in columns[0]:
        cells = [f"{one[words]:<{width}}" for one, width in zip(columns, widths, strict=True)]
        print(f"{words:<22}" + "  ".join(cells).rstrip())

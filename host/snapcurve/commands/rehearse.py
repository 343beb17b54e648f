"""snapcurve rehearse: a whole batch on the built-in board."""

import argparse
from pathlib import Path
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import INTERRUPTED, SnapcurveError
from snapcurve.shown import folders

SLOWEST, FASTEST = 0.1, 10000.0
DEFAULT_SPEED = "200"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "couverture", nargs="?", default="milk", help="name or .toml file (default: milk)"
    )
    options.method(parser)
    parser.add_argument(
        "--speed",
        default=DEFAULT_SPEED,
        help=f"real, a number of times faster, or max (default: {DEFAULT_SPEED})",
    )
    parser.add_argument(
        "--number", type=int, default=1, metavar="N", help="same number, same batch (default: 1)"
    )
    options.number(
        parser,
        "--work-minutes",
        default=15.0,
        metavar="MIN",
        help="how long the chocolate is worked after the first dip test (default: 15)",
    )
    parser.add_argument("--chart", type=Path, help="file for the chart (.png, .svg or .pdf)")
    options.replace(parser)
    options.notebook(parser)
    options.as_json(parser)


def checked_speed(text: str) -> str:
    """The speed as the desk board takes it; SnapcurveError if it is none."""
    if text in ("real", "max"):
        return text
    try:
        factor = float(text)
    except ValueError:
        factor = -1.0
    if not SLOWEST <= factor <= FASTEST:
        raise SnapcurveError(
            f"There is no speed {text!r}: use real, max, "
            f"or a number from {SLOWEST:g} to {FASTEST:g}."
        )
    return text


def run(arguments: argparse.Namespace) -> int:
    """Run the batch, file it, draw it, and say what came of it."""
    from dataclasses import replace

    from snapcurve.analysis.filed_batch import judge_batch
    from snapcurve.collecting.filing import new_batch
    from snapcurve.commands.output_files import CHART, checked
    from snapcurve.couvertures import load, user_folder
    from snapcurve.couvertures.methods import chosen
    from snapcurve.notebook import open_notebook
    from snapcurve.notebook.vocabulary import allergens_of_kind
    from snapcurve.recording.curve import decode
    from snapcurve.report.batch_chart import batch_chart
    from snapcurve.report.chart_content import batch_uncertainty
    from snapcurve.shown.settings_file import load as load_settings
    from snapcurve.simulation.rehearsal import held_interrupts, rehearse
    from snapcurve.simulation.story import Teller

    options.chart(arguments)
    speed = checked_speed(arguments.speed)
    if not 0 <= arguments.work_minutes <= 600:
        raise SnapcurveError("--work-minutes must be between 0 and 600.")
    couverture = load(arguments.couverture, user_folder())
    method = chosen(arguments.method, couverture)
    settings = load_settings()
    teller = Teller(arguments.json, settings.style)
    with held_interrupts() as interrupts, open_notebook(arguments.notebook) as notebook:
        teller.begin(couverture.name, method, speed)
        done = rehearse(
            couverture,
            method,
            speed,
            arguments.number,
            arguments.work_minutes * 60,
            teller.tell,
            interrupts,
            settings.style,
        )
        curve = decode(done.raw)
        # The rehearsed board is as it is bought: this converter, type K, not calibrated.
        new = new_batch(
            curve, done.raw, done.row, done.board_name, rehearsal=True, converter="MAX31856"
        )
        operator = settings.operator or None
        batch = notebook.file_batch(
            replace(
                new,
                couverture_toml=couverture.toml_text,
                operator=operator,
                allergens=allergens_of_kind(couverture.kind),
                mistake=False,  # a rehearsal is meant, however soon it was ended
            )
        )
        # The chart in the program's own folder is of this batch or of none that still is.
        path = arguments.chart or checked(
            _chart_path(batch.code), CHART, replace=True, notebook=arguments.notebook
        )
        judgement = judge_batch(notebook, batch.code, settings.style)[1]
        batch_chart(
            judgement.timeline,
            f"Batch {batch.code}: {couverture.name}",
            path,
            paper=settings.paper,
            uncertainty=batch_uncertainty(batch, settings.style),
            style=settings.style,
        )
    if arguments.json:
        options.print_json(_result(done, curve, batch.code, path, judgement.verdict))
    else:
        teller.end(done.interpreter)
        print(f"\n{judgement.verdict}")
        print(f"Batch   {batch.code}: {len(done.raw)} bytes, CRC {done.row.crc:08x} on both sides")
        print(f"Chart   {path}")
    return INTERRUPTED if done.interrupted else 0


def _chart_path(code: str) -> Path:
    return folders.made(folders.data_folder() / "charts") / f"{code}.png"


def _result(done: Any, curve: Any, code: str, path: Path, said: str) -> dict[str, Any]:
    import zlib

    from snapcurve.simulation.story import alarm_data

    return {
        "alarms": [alarm_data(alarm) for alarm in done.alarms],
        "batch": code,
        "chart": str(path),
        "verdict": said,
        "curve": {
            "bytes": len(done.raw),
            "samples": curve.recorded,
            "crc_board": f"{done.row.crc:08x}",
            "crc_host": f"{zlib.crc32(done.raw):08x}",
        },
        "interpreter": done.interpreter,
    }

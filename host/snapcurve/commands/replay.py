"""snapcurve replay: a measured series through the real firmware."""

import argparse
from pathlib import Path

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "tape", type=Path, help="CSV file with seconds,probe_c[,ambient_c[,fault]]"
    )
    parser.add_argument(
        "--couverture", required=True, metavar="ID|FILE.toml", help="whose temperatures apply"
    )
    options.method(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Play the tape and list the alarms."""
    from snapcurve.couvertures import load, user_folder
    from snapcurve.couvertures.methods import chosen
    from snapcurve.couvertures.profile import compile_profile
    from snapcurve.shown.settings_file import load as load_settings
    from snapcurve.shown.table import table
    from snapcurve.simulation.story import alarm_data
    from snapcurve.simulation.tape import read_tape, replay

    style = load_settings().style
    rows = read_tape(arguments.tape)
    couverture = load(arguments.couverture, user_folder())
    method = chosen(arguments.method, couverture)
    done = replay(rows, compile_profile(couverture, method))
    if arguments.json:
        options.print_json(
            {
                "alarms": [alarm_data(alarm) for alarm in done.alarms],
                "samples": done.samples,
                "recorded": done.recorded,
                "stored_bytes": done.stored_bytes,
                "interpreter": done.interpreter,
            }
        )
        return 0
    print(f"{arguments.tape}, {couverture.name} by {method}, under {done.interpreter}")
    lines = [("seconds", "phase", "alarm", "estimate")]
    for alarm in done.alarms:
        estimate = "" if alarm.estimate_c is None else style.temperature(alarm.estimate_c, 2)
        lines.append((style.number(alarm.seconds, 1), alarm.phase, alarm.alarm, estimate))
    print(table(lines, right=(0, 3), inset="  "))
    print(f"{done.samples} samples played, {done.recorded} recorded in {done.stored_bytes} bytes")
    return 0

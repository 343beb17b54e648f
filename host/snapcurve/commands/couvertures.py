"""snapcurve couvertures: what can be named where a couverture is asked for."""

import argparse

from snapcurve.commands import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """List names, temperatures and origins."""
    from snapcurve.couvertures import available, user_folder

    folder = user_folder()
    found = available(folder)
    if arguments.json:
        options.print_json(
            [
                {
                    "id": one.id,
                    "name": one.name,
                    "kind": one.kind,
                    "melt_c": one.melt_c,
                    "cool_c": one.cool_c,
                    "work_c": [one.work_low_c, one.work_high_c],
                    "never_above_c": one.never_above_c,
                    "origin": one.origin,
                }
                for one in found
            ]
        )
        return 0
    for one in found:
        cool = "" if one.cool_c is None else f", cool {one.cool_c:g}"
        print(
            f"{one.id:<18} {one.name}: melt {one.melt_c:g}{cool}, "
            f"work {one.work_low_c:g} to {one.work_high_c:g}, "
            f"never above {one.never_above_c:g} °C ({one.origin})"
        )
    print(f"Your own go into {folder}; the figures on the bag come first.")
    return 0

"""snapcurve plan: what to weigh, heat, seed and wait for."""

import argparse
from contextlib import suppress
from pathlib import Path
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import Style

ROOM_C = 20.0  # 18 to 22 °C are usual


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add = parser.add_argument
    add("couverture", nargs="?", metavar="COUVERTURE", help="id, or path of a file.toml")
    add("--mass", help="finished chocolate wanted, like 1.2kg or 850g")
    add("--shells", type=int, help="instead of --mass: how many shells or bars")
    add("--grams", metavar="MASS", help="with --shells: chocolate in one, in grams or like 0.3oz")
    add("--waste", default="10%", help="with --shells: lost in bowl and tools (default: 10%%)")
    options.method(parser)
    add("--stock", metavar="DEGREES", help="temperature of the pieces (default: the room's)")
    add("--seed", metavar="MASS", help="pieces in temper there are (default: enough)")
    bowl_and_room(parser)
    heat = parser.add_mutually_exclusive_group()
    options.number(heat, "--watts", help="microwave power (default: 800, if it may)")
    heat.add_argument("--no-microwave", action="store_true", help="melted in some other way")
    heat.add_argument(
        "--water-test",
        nargs=3,
        metavar=("START", "END", "SECONDS"),
        help="find the power: 1000 g of water heated from START to END degrees in SECONDS",
    )
    add("--vessel", metavar="MASS", help="with --water-test: weight of the glass it stood in")
    loss = parser.add_mutually_exclusive_group()
    options.number(loss, "--loss", metavar="W_PER_K", help="heat lost to the room")
    loss.add_argument(
        "--loss-from",
        metavar="BATCH",
        help="find the loss in a recorded batch of this mass and bowl, or in the 'last' one",
    )
    options.notebook(parser)
    options.assumptions(parser)
    add("--chart", type=Path, metavar="FILE", help="draw the plan (.png, .svg or .pdf)")
    options.replace(parser)
    options.as_json(parser)


def bowl_and_room(parser: argparse.ArgumentParser) -> None:
    """Options that the plan and the correction share."""
    add = parser.add_argument
    room = options.degrees_for_help(ROOM_C)
    add("--room", metavar="DEGREES", help=f"temperature of the room (default: {room})")
    add("--bowl", default="plastic", help="plastic, glass, ceramic, steel or aluminium")
    add("--bowl-mass", metavar="MASS", help="weight of the empty bowl (default: a usual one)")


def room_of(arguments: argparse.Namespace, style: Style) -> tuple[float, tuple[str, ...]]:
    """The room in °C, and what had to be assumed for it."""
    if arguments.room is None:
        return ROOM_C, (f"A room at {style.degrees_words(ROOM_C)}: give --room if it is another.",)
    return style.parse_room(arguments.room), ()


def stock_c_of(arguments: argparse.Namespace, style: Style) -> float | None:
    """Temperature of the pieces in °C, None if it is the room's."""
    if arguments.stock is None:
        return None
    return style.parse_temperature(arguments.stock, what="The stock")


def bowl_for(
    arguments: argparse.Namespace, mass_g: float, style: Style
) -> tuple[Any, tuple[str, ...]]:
    """The bowl, and what had to be assumed for it."""
    from snapcurve.advice.inputs import usual_bowl
    from snapcurve.heat.constants import USUAL_BOWL_STATUS

    if arguments.bowl_mass is not None:
        bowl_g = style.parse_mass(arguments.bowl_mass, what="The bowl of")
        return usual_bowl(arguments.bowl, mass_g, bowl_g, style), ()
    bowl = usual_bowl(arguments.bowl, mass_g)
    return bowl, (
        f"A {arguments.bowl} bowl of {style.mass_words(bowl.mass_g)} ({USUAL_BOWL_STATUS}): give "
        "--bowl-mass if it is another.",
    )


def run(arguments: argparse.Namespace) -> int:
    """Plan, print and draw."""
    from snapcurve.shown.settings_file import load as load_settings

    settings = load_settings()
    style = settings.style
    options.chart(arguments)
    if arguments.couverture is None:
        return _power_only(arguments, style)
    from snapcurve.advice.batch_plan import plan
    from snapcurve.advice.inputs import PlanRequest, temperatures_of, thermal_of
    from snapcurve.advice.plan_words import plan_data, plan_lines
    from snapcurve.couvertures import load, user_folder
    from snapcurve.couvertures.methods import chosen

    couverture = load(arguments.couverture, user_folder())
    method = chosen(arguments.method, couverture)
    batch_g, used_g = _masses(arguments, style)
    room_c, assumed = room_of(arguments, style)
    bowl, bowl_assumed = bowl_for(arguments, batch_g, style)
    watts, watts_assumed = _watts(arguments, bowl, style)
    thermal = thermal_of(couverture)
    loss_w_per_k, loss_assumed = _loss(arguments, thermal, batch_g, bowl, style)
    assumed += bowl_assumed + watts_assumed + loss_assumed
    request = PlanRequest(
        temperatures=temperatures_of(couverture, style),
        thermal=thermal,
        mass_g=batch_g,
        room_c=room_c,
        bowl=bowl,
        method=method,
        used_g=used_g,
        stock_c=stock_c_of(arguments, style),
        microwave_w=watts,
        loss_w_per_k=loss_w_per_k,
        seed_available_g=None
        if arguments.seed is None
        else style.parse_mass(arguments.seed, what="The seed at hand,"),
        style=style,
    )
    made = plan(request)
    if arguments.chart:
        from snapcurve.report.advice_charts import plan_chart

        plan_chart(made, request, couverture.name, arguments.chart, settings.paper, style)
    left = _leftover(arguments.notebook, couverture.name)
    if arguments.json:
        held = None
        if left is not None:
            held = {"batch": left[0], "mass_g": None if left[1] is None else left[1] / 1000}
        data = plan_data(request, made, assumed)
        options.print_json({"couverture": couverture.id, **data, "leftover": held})
        return 0
    oven = "no microwave" if watts is None else f"microwave of {watts:.0f} W"
    said = f"room {style.degrees_words(room_c)}, {arguments.bowl} bowl, {oven}."
    listed = assumed if arguments.assumptions else None
    print("\n".join(plan_lines(couverture.name, request, made, said, listed)))
    if left is not None:
        code, mass_mg = left
        much = "Leftover" if mass_mg is None else style.mass(mass_mg / 1000)
        weighed = " --mass MASS" if mass_mg is None else f" --mass {mass_mg / 1000:.0f}g"
        print(
            f"\n{much} of batch {code} is there, of this couverture. If it goes in, note that"
            f" after the batch: snapcurve lot last leftover {code}{weighed}"
        )
    if arguments.chart:
        print(f"\n{arguments.chart}")
    return 0


def _leftover(where: str | None, couverture: str) -> tuple[str, int | None] | None:
    """The newest leftover in the notebook; None too where there is no notebook yet, or none that
    can be read: a plan needs none."""
    from snapcurve.notebook.location import place_of

    with suppress(SnapcurveError):
        place = place_of(where)
        if isinstance(place, Path) and not place.exists():
            return None
        from snapcurve.notebook import open_notebook

        with open_notebook(where) as notebook:
            return notebook.newest_leftover(couverture)
    return None


def _masses(arguments: argparse.Namespace, style: Style) -> tuple[float, float | None]:
    from snapcurve.advice.batch_plan import batch_for_shells_g

    if arguments.shells is None:
        if arguments.grams is not None:
            raise SnapcurveError("--grams goes with --shells; say how many, or give --mass.")
        if arguments.mass is None:
            raise SnapcurveError(
                "How much is wanted? Give --mass, or --shells 120 with --grams 9."
            )
        return style.parse_mass(arguments.mass, what="A mass of"), None
    if arguments.mass is not None:
        raise SnapcurveError("Give either --mass or --shells, not both.")
    if arguments.grams is None:
        raise SnapcurveError("--shells needs --grams, the chocolate in one of them.")
    shell_g = style.parse_mass(arguments.grams, "g", "A shell of")
    waste = style.parse_share(arguments.waste, "A waste of")
    return batch_for_shells_g(arguments.shells, shell_g, waste, style)


def _loss(
    arguments: argparse.Namespace, thermal: Any, mass_g: float, bowl: Any, style: Style
) -> tuple[float | None, tuple[str, ...]]:
    if arguments.loss_from is None:
        return arguments.loss, ()
    from snapcurve.advice.bench_loss import bench_loss
    from snapcurve.notebook import open_notebook
    from snapcurve.recording.curve import decode

    with open_notebook(arguments.notebook) as notebook:
        batch = notebook.batch(arguments.loss_from)
        curve = decode(notebook.curve_raw(batch.id))
    found, number = bench_loss(curve, thermal, mass_g, bowl, style), style.number
    sentence = (
        f"Loss of {number(found.fit.loss_w_per_k, 2)} ± "
        f"{number(2 * found.fit.standard_error_w_per_k, 2)} W/K "
        f"from batch {batch.code}, minute {found.start_s / 60:.0f} to {found.end_s / 60:.0f}, "
        f"room {style.degrees_words(found.room_c)}, as if it had this mass and bowl."
    )
    return found.fit.loss_w_per_k, (sentence,)


def _watts(
    arguments: argparse.Namespace, bowl: Any, style: Style
) -> tuple[float | None, tuple[str, ...]]:
    from snapcurve.heat.constants import MICROWAVE_W

    if arguments.water_test is not None:
        watts, sentence = _water_test(arguments, style)
        return watts, (sentence,)
    if arguments.watts is not None:
        return arguments.watts, ()
    if arguments.no_microwave or arguments.method == "hold" or not bowl.microwave_safe:
        return None, ()
    return MICROWAVE_W, (
        f"A microwave oven of {MICROWAVE_W:g} W: give --watts, or --no-microwave.",
    )


def _water_test(arguments: argparse.Namespace, style: Style) -> tuple[float, str]:
    from snapcurve.heat.transfer import WATER_TEST_G, water_test_power_w

    start, end, time_words = arguments.water_test
    start_c = style.parse_temperature(start, what="The water at the start")
    end_c = style.parse_temperature(end, what="The water at the end")
    seconds = style.parse_number(time_words, "The seconds")
    vessel_g = 0.0
    if arguments.vessel is not None:
        vessel_g = style.parse_mass(arguments.vessel, what="A vessel of")
    room_c, _ = room_of(arguments, style)
    watts = water_test_power_w(
        WATER_TEST_G,
        start_c,
        end_c,
        seconds,
        vessel_g=vessel_g,
        vessel_start_c=room_c,
        style=style,
    )
    vessel = (
        f"in {style.mass_words(vessel_g)} of glass from {style.degrees_words(room_c)}"
        if vessel_g
        else "the vessel's own heat left out"
    )
    return watts, (
        f"Microwave power {watts:.0f} W by the water test: {style.mass_words(WATER_TEST_G)} from "
        f"{style.window(start_c, end_c)} in {style.quantity(seconds)} s, {vessel}."
    )


def _power_only(arguments: argparse.Namespace, style: Style) -> int:
    from snapcurve.heat.transfer import water_test_notes

    if arguments.water_test is None:
        raise SnapcurveError(
            "Which couverture? Give its id, as in 'snapcurve plan milk --mass 1kg'; "
            "'snapcurve couvertures' lists them."
        )
    watts, sentence = _water_test(arguments, style)
    if arguments.json:
        options.print_json({"microwave_w": watts, "followed": water_test_notes()})
        return 0
    print(sentence)
    for line in water_test_notes(style):
        print(f"  - {line}")
    return 0

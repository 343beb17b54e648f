"""snapcurve rescue: what to do with a bowl that did not come out right."""

import argparse
import time
from pathlib import Path
from typing import TYPE_CHECKING

from snapcurve.commands import options
from snapcurve.commands.plan import bowl_and_room, bowl_for, room_of, stock_c_of
from snapcurve.errors import ProbeError, SnapcurveError
from snapcurve.shown.units import Style

if TYPE_CHECKING:
    from snapcurve.advice.situation import Situation

SHOWED = ("mark", "early", "grainy", "streaked", "thick", "seized", "too_warm", "too_cool")
INTERVAL_MS = 500
STEADY_READINGS = 6  # so many in a row from within the chocolate
LONGEST_S = 30.0
MOVING_C_PER_MIN = 1.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add = parser.add_argument
    add("couverture", metavar="COUVERTURE", help="id, or path of a file.toml")
    add("--mass", required=True, help="chocolate in the bowl, like 1.2kg or 850g")
    add("--temp", metavar="DEGREES", help="what it reads (default: ask the board)")
    add(
        "--showed",
        type=lambda word: word.replace("-", "_").replace(" ", "_"),
        choices=SHOWED,
        help="what the test showed: a finger mark after 5 min, set early (before 3 min), ... "
        "(default: too warm or too cool, by the reading)",
    )
    bowl_and_room(parser)
    options.number(
        parser, "--loss", metavar="W_PER_K", help="heat lost to the room (default: usual)"
    )
    add("--stock", metavar="DEGREES", help="temperature of the pieces (default: the room's)")
    options.number(parser, "--hot-air", metavar="WATTS", help="heat of the gun that gets in")
    add("--tried", type=int, default=0, help="corrections tried on this batch (default: 0)")
    options.assumptions(parser)
    add("--chart", type=Path, metavar="FILE", help="draw it (.png, .svg or .pdf)")
    options.replace(parser)
    options.port(parser)
    options.as_json(parser)


def run(arguments: argparse.Namespace) -> int:
    """Ask, print and draw."""
    from snapcurve.advice.correction import correct
    from snapcurve.advice.correction_words import SHOWED as WORDS
    from snapcurve.advice.correction_words import correction_data, correction_lines
    from snapcurve.advice.inputs import temperatures_of, thermal_of
    from snapcurve.advice.situation import Situation
    from snapcurve.couvertures import load, user_folder
    from snapcurve.shown.settings_file import load as load_settings

    settings = load_settings()
    style = settings.style
    options.chart(arguments)
    couverture = load(arguments.couverture, user_folder())
    batch_g = style.parse_mass(arguments.mass, what="A mass of")
    room_c, assumed = room_of(arguments, style)
    bowl, bowl_assumed = bowl_for(arguments, batch_g, style)
    if arguments.temp is not None:
        reading_c = style.parse_temperature(arguments.temp, what="The reading")
    else:
        reading_c, sentence = _live_c(arguments.port, style)
        assumed = (sentence, *assumed)
    situation = Situation(
        temperatures=temperatures_of(couverture, style),
        thermal=thermal_of(couverture),
        temperature_c=reading_c,
        mass_g=batch_g,
        room_c=room_c,
        bowl=bowl,
        stock_c=stock_c_of(arguments, style),
        loss_w_per_k=arguments.loss,
        hot_air_w=arguments.hot_air,
        corrections_done=arguments.tried,
        style=style,
    )
    observation, _ = WORDS[arguments.showed or _by_reading(situation, style)]
    answer = correct(situation, observation)
    assumed += bowl_assumed
    if arguments.chart:
        from snapcurve.report.advice_charts import correction_chart

        paper = settings.paper
        correction_chart(answer, situation, couverture.name, arguments.chart, paper, style)
    if arguments.json:
        data = {"couverture": couverture.id, "reads_c": reading_c}
        options.print_json({**data, **correction_data(situation, answer, assumed)})
        return 0
    listed = assumed if arguments.assumptions else None
    print("\n".join(correction_lines(couverture.name, situation, answer, listed)))
    if arguments.chart:
        print(f"\n{arguments.chart}")
    return 0


def _by_reading(situation: "Situation", style: Style) -> str:
    temperatures, reads_c = situation.temperatures, situation.temperature_c
    if temperatures.contains(reads_c):
        window = style.window(temperatures.work_low_c, temperatures.work_high_c)
        raise SnapcurveError(
            f"{style.degrees_words(reads_c)} lies within the window of {window}; say with "
            f"--showed what the test showed, one of {', '.join(SHOWED)}."
        )
    return "too_warm" if reads_c > temperatures.work_high_c else "too_cool"


def _live_c(port: str | None, style: Style) -> tuple[float, str]:
    """What the board takes the chocolate for, and how sure that is."""
    from snapcurve.board.troubles import fault_sentence
    from snapcurve.commands.chosen_board import open_board
    from snapcurve.commands.live import NO_READING_S

    found: list[float] = []
    rate_c_per_min = 0.0
    with open_board(port, scene="batch") as board:
        board.live(INTERVAL_MS)
        read_s = time.monotonic()  # when it last read anything
        end_s = read_s + LONGEST_S
        while len(found) < STEADY_READINGS and time.monotonic() < end_s:
            reading = board.next_live()
            if reading is None:
                continue
            if not reading.faults:
                read_s = time.monotonic()
            elif time.monotonic() - read_s > NO_READING_S:
                raise ProbeError(fault_sentence(reading.faults))
            if reading.place == "chocolate" and reading.estimate_c is not None:
                found.append(reading.estimate_c)
                rate_c_per_min = reading.rate_c_per_min or 0.0
            else:
                found.clear()
        board.live(0)
    if len(found) < STEADY_READINGS:
        raise ProbeError(
            "The probe is not in the chocolate: put it in, wait until it reads steadily and ask "
            "again, or give --temp."
        )
    reading_c = round(sum(found) / len(found), 1)
    sentence = f"The board's reading of {style.degrees_words(reading_c)}"
    if abs(rate_c_per_min) > MOVING_C_PER_MIN:
        sentence += (
            f", which still moves by {style.rate(rate_c_per_min)}: stir until it holds "
            "still and ask again"
        )
    return reading_c, sentence + "."

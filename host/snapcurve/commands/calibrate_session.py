"""What the calibrate command does with a board, a bath and the notebook."""

import argparse
import sys
import time
from contextlib import closing, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from snapcurve.board.client import Board, Reading
from snapcurve.board.troubles import SENTENCES
from snapcurve.calibration import baths
from snapcurve.calibration.bath_readings import (
    Taken,
    live_readings,
    record_response,
    wait_for_plateau,
)
from snapcurve.calibration.limits import CONVERTERS
from snapcurve.calibration.next_bath import earnings, earnings_lines
from snapcurve.calibration.plateau import PlateauDetector, plateau_rules
from snapcurve.calibration.stored import Calibration, Point, build, calibration_point, day, parse
from snapcurve.calibration.trust import USUAL_ROOM_C, WORKING_C, Trust, trust
from snapcurve.commands import options
from snapcurve.commands.calibration_shown import calibration_data, print_calibration, readable
from snapcurve.commands.output_files import SHEET
from snapcurve.errors import LinkError, SnapcurveError
from snapcurve.notebook.records import Calibration as FiledCalibration
from snapcurve.notebook.store import Notebook
from snapcurve.shown.plain_text import visible
from snapcurve.shown.settings_file import load
from snapcurve.shown.table import redraw
from snapcurve.shown.units import Style

LINE_EACH_S = 10.0  # of the board's time, where the line cannot be overwritten
LONGEST_LAG_S = 60.0
MEASURED = (*baths.STEPS, "response")  # what adds to the calibration that is there
NOTHING_WRITTEN = "Nothing was written."


class Session:
    """One use of the command with a board and the notebook."""

    def __init__(self, arguments: argparse.Namespace, board: Board, notebook: Notebook):
        self._style = load().style
        self._arguments = arguments
        self._board = board
        self._notebook = notebook
        self._hello = board.greeting
        self._raw = board.calibration()
        self._room_c = board.reading().room_c
        try:
            self._before = parse(self._raw)
        except SnapcurveError:
            if arguments.action != "clear":
                raise
            self._before = Calibration()
        self._unused = "other_type" in board.reading().troubles
        if self._unused and arguments.action in MEASURED:
            self._say(SENTENCES["other_type"])
            self._before = Calibration()
        # What the board corrects by: nothing, if it was measured with a probe of another type.
        self._used = Calibration() if self._unused else self._before
        self._class = arguments.tolerance_class or self._before.tolerance_class
        self._on_screen = sys.stdout.isatty() and not arguments.json
        self._line_ms = -(10**9)

    # --- baths ----------------------------------------------------------------------

    def bath(self, reference: baths.Reference | None) -> None:
        """Wait for the plateau, and make a point of it."""
        step, converter = self._arguments.action, CONVERTERS[self._hello.converter]
        known = None if reference is None else (step, reference)
        self._say("\n".join(self._promised(known)))

        def why_not(taken: Taken, known: baths.Reference | None = reference) -> str | None:
            if known is None:
                near = abs(taken.plateau.mean_c - taken.cold_junction_c) < 3.0
                return "The probe stayed at the room's temperature: put it in." if near else None
            return baths.why_not_credible(
                step,
                known.true_c,
                taken.plateau.mean_c,
                converter=converter,
                kind=self._hello.tc_type,
                tolerance_class=self._class,
                cold_junction_c=taken.cold_junction_c,
                reference_limit_c=known.limit_c,
                style=self._style,
            )

        with closing(live_readings(self._board)) as readings:
            taken = wait_for_plateau(
                readings,
                PlateauDetector(plateau_rules(step, converter.resolution_c), self._style),
                why_not,
                self._arguments.wait_minutes * 60,
                self._show_reading,
            )
        self._end_line()
        if reference is None:
            reference = baths.compared(
                _temperature("What does the reference thermometer show", self._style),
                self._arguments.reference_limit_c,
                self._style,
            )
            refusal = why_not(taken, reference)
            if refusal:
                raise SnapcurveError(refusal)
        self._take(step, taken, reference)

    def _take(self, step: str, taken: Taken, reference: baths.Reference) -> None:
        plateau, style, before = taken.plateau, self._style, self._before
        indicated_centi_c, correction_centi_c = calibration_point(plateau.mean_c, reference.true_c)
        known = replace(before, tolerance_class=self._class, tc_type=self._hello.tc_type)
        after = known.with_point(
            Point(
                indicated_centi_c=indicated_centi_c,
                correction_centi_c=correction_centi_c,
                step=step,
                unix_s=int(time.time()),
                reference_limit_milli_c=min(0xFFFF, round(reference.limit_c * 1000)),
                spread_milli_c=min(0xFFFF, round(plateau.std_c * 1000)),
                readings=min(0xFFFF, plateau.readings),
                cold_junction_centi_c=round(taken.cold_junction_c * 100),
            )
        )
        here = plateau.mean_c
        self._say(
            f"Steady: the probe shows {style.temperature(here, 2)}, true is "
            f"{style.temperature(reference.true_c, 2)}: correction "
            f"{style.difference(correction_centi_c / 100, 2)}."
        )
        self._say(
            f"  here        before {style.temperature(before.corrected_c(here), 2):>10}   "
            f"after {style.temperature(after.corrected_c(here), 2):>10}"
        )
        self._compare(after)
        if self._trust(after).expanded_c > self._trust(before).expanded_c:
            advice = "it may be better to write nothing"
            if step == "boil":
                advice += ", or to begin again with --pressure-hpa from a barometer in the room"
            self._say(
                f"This reference is known less well than what the board holds already: {advice}."
            )
        self._write(step, after)

    # --- response -------------------------------------------------------------------

    def response(self) -> None:
        """Record a step, fit it, store the lag."""
        number = self._style.number
        with closing(live_readings(self._board)) as readings:
            fit = record_response(readings, self._show_reading, self._style)
        self._end_line()
        if fit.lag_s > LONGEST_LAG_S:
            raise SnapcurveError(
                f"A lag of {fit.lag_s:.0f} s is too long for a bare probe: take it out of its "
                "sleeve, stir the water, and begin again."
            )
        constants = " and ".join(number(constant, 1) for constant in fit.time_constants_s)
        lag = f"{number(fit.lag_s, 1)} s"
        before = f"{number(self._before.lag_s, 1)} s" if self._before.lag_s else "not measured"
        self._say(
            f"The probe trails by {number(fit.lag_s, 1)} ± "
            f"{number(2 * fit.lag_uncertainty_s, 1)} s (time constant {constants} s), 90 % of a "
            f"step after {fit.time_to_s(0.9):.0f} s."
        )
        self._say(f"  lag         before {before}   after {lag}")
        self._say(
            "In chocolate, thicker than water, it is more: the board goes on learning it there."
        )
        after = replace(
            self._before,
            tc_type=self._hello.tc_type,
            tolerance_class=self._class,
            lag_unix_s=int(time.time()),
            time_constants_s=fit.time_constants_s,
        )
        self._write("response", after)

    # --- what is there --------------------------------------------------------------

    def show(self) -> None:
        """What the board holds, what it held before, and the notebook's history."""
        previous = readable(self._board.calibration("previous"))
        history = self._notebook.calibrations(self._hello.board_id)
        if self._arguments.json:
            options.print_json(
                {
                    "converter": self._hello.converter,
                    "type": self._hello.tc_type,
                    "current": calibration_data(self._before),
                    "expanded_c": self._trust(self._used).expanded_c,
                    "expanded_after_c": self._earned(),
                    "previous": calibration_data(previous),
                    "history": [
                        {
                            "step": one.step,
                            "filed_unix_ms": one.filed_unix_ms,
                            "calibration": calibration_data(readable(one.raw)),
                        }
                        for one in history
                    ],
                }
            )
            return
        print(
            f"{self._hello.board} {self._hello.board_id:08x}: {self._hello.converter}, "
            f"type {self._hello.tc_type}, class {self._class}"
        )
        print_calibration("on the board", self._before, self._style)
        print_calibration("before that", previous, self._style)
        used = self._used
        print(f"Trust       {self._figure(used)} {self._working()} (k = 2)")
        for remark in (SENTENCES["other_type"] if self._unused else "", self._trust(used).remark):
            if remark:
                print(f"Note        {remark}")
        print(f"History     {len(history)} in the notebook")
        for one in history:
            then, text = readable(one.raw), "cannot be read"
            if then is not None:
                points = "1 point" if len(then.points) == 1 else f"{len(then.points)} points"
                text = f"{points}, lag {self._style.number(then.lag_s, 1)} s"
            print(f"  {day(one.filed_unix_ms // 1000)}  {one.step:<8}  {text}")
        print("\n".join(self._promised()))

    def certificate(self) -> None:
        """Print it all on a page."""
        from snapcurve.notebook import witnesses
        from snapcurve.report.certificate import Calibrated, certificate_of
        from snapcurve.report.sheet_document import written

        hello, settings, arguments = self._hello, load(), self._arguments
        named = visible(arguments.reference.strip())
        what = Calibrated(
            hello.board,
            hello.board_id,
            hello.firmware,
            hello.converter,
            hello.tc_type,
            replace(self._used, tolerance_class=self._class),
            lambda at_c: self._trust(self._used, at_c),
            named,
        )
        end = self._notebook.chain_end()
        sections = certificate_of(what, settings, datetime.now().astimezone(), end)
        path = arguments.output
        if path is None:
            path = Path(f"calibration-{hello.board_id:08x}.pdf")
            options.output(arguments, path, SHEET)
        title = f"Calibration of board {hello.board_id:08x}"
        about = f"{title} · type {hello.tc_type} probe"
        rehearsal = (arguments.port or "").startswith("rehearsal")
        written(
            title,
            about,
            sections,
            path,
            settings.paper,
            settings.style,
            "REHEARSAL" if rehearsal else "",
            witnesses.written(end, len(end.hash)),
        )
        print(path)

    def clear(self) -> None:
        """Take the calibration off the board; it stays there as the previous one."""
        if not self._raw:
            self._say("The board holds no calibration.")
            return
        self._compare(Calibration())
        self._write("clear", Calibration())

    # --- writing --------------------------------------------------------------------

    def _write(self, step: str, after: Calibration) -> None:
        # Refused while a batch is recorded. Nor is one to begin while the person thinks it over,
        # perhaps with the probe on its way into the next bath.
        self._board.bath()
        try:
            if self._arguments.yes or _agreed(self._arguments.ask):
                self._put(step, after, build(after))
            else:
                print(NOTHING_WRITTEN)
        finally:
            with suppress(LinkError):  # what went wrong before says more
                self._board.bath(0)

    def _put(self, step: str, after: Calibration, raw: bytes) -> None:
        def filed(name: str, data: bytes) -> FiledCalibration:
            return FiledCalibration(
                board_id=self._hello.board_id,
                board_name=self._hello.board,
                step=name,
                converter=self._hello.converter,
                tc_type=self._hello.tc_type,
                raw=data,
                rehearsal=(self._arguments.port or "").startswith("rehearsal"),
            )

        # What the board holds goes into the history first, should it have come from
        # another computer: nothing is replaced that is not on file.
        history = self._notebook.calibrations(self._hello.board_id)
        if self._raw and (not history or history[-1].raw != self._raw):
            self._notebook.file_calibration(filed("found", self._raw))
        self._board.put_calibration(raw)
        self._notebook.file_calibration(filed(step, raw))
        if self._arguments.json:
            options.print_json({"step": step, "calibration": calibration_data(after)})
        else:
            print("On the board, read back and compared; the earlier one stays beside it.")

    # --- words ----------------------------------------------------------------------

    def _earned(self, known: tuple[str, baths.Reference] | None = None) -> dict[str, float]:
        board_c = USUAL_ROOM_C if self._room_c is None else self._room_c
        return earnings(self._used, time.time(), board_c, self._trust, known)

    def _promised(self, known: tuple[str, baths.Reference] | None = None) -> list[str]:
        return earnings_lines(self._trust(self._used), self._earned(known), self._style)

    def _trust(self, calibration: Calibration, at_c: float = WORKING_C) -> Trust:
        hello, known = self._hello, replace(calibration, tolerance_class=self._class)
        now_s = time.time()
        return trust(
            hello.converter,
            hello.tc_type,
            known,
            at_c,
            now_s,
            room_c=self._room_c,
            style=self._style,
        )

    def _figure(self, calibration: Calibration) -> str:
        return self._trust(calibration).figure(self._style)

    def _working(self) -> str:
        return f"at {self._style.temperature(WORKING_C, 0)}"

    def _compare(self, after: Calibration) -> None:
        self._say(
            f"  {self._working():<12}before {self._figure(self._before):>8}     after "
            f"{self._figure(after):>8}   (k = 2)"
        )

    def _say(self, text: str) -> None:
        if not self._arguments.json:
            print(text, flush=True)

    def _show_reading(self, reading: Reading, reason: str) -> None:
        """The live reading with why it is not taken yet."""
        if self._arguments.json:
            return
        value_c, style = reading.uncorrected_c, self._style
        value = f"-- {style.degree}" if value_c is None else style.temperature(value_c, 2)
        line = f"  {value:>9}  {reason}"
        if self._on_screen:
            redraw(line)
        elif reading.uptime_ms - self._line_ms >= LINE_EACH_S * 1000:
            self._line_ms = reading.uptime_ms
            print(line, flush=True)

    def _end_line(self) -> None:
        if self._on_screen:
            print()


def _agreed(anywhere: bool) -> bool:
    if not (anywhere or sys.stdin.isatty()):
        raise SnapcurveError(
            f"{NOTHING_WRITTEN} There is no terminal to answer on: add --yes in a script."
        )
    return input("Write this to the board? [y/N] ").strip().lower() in ("y", "yes")


def _temperature(question: str, style: Style) -> float:
    while True:
        try:
            return style.parse_temperature(input(f"{question}, in {style.degree}? "))
        except SnapcurveError as error:
            print(error)

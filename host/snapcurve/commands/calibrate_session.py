"""What the calibrate command does with a board, a bath and the notebook."""

import argparse
import sys
import time
from contextlib import closing, suppress
from dataclasses import replace
from typing import Any

from snapcurve.commands import options
from snapcurve.errors import LinkError, SnapcurveError
from snapcurve.shown.quantities import Style

TOLD_EACH_S = 10.0  # of the board's time, where the line cannot be overwritten
LONGEST_LAG_S = 60.0


class Session:
    """One use of the command with a board and the notebook."""

    def __init__(self, arguments: argparse.Namespace, board: Any, notebook: Any):
        from snapcurve.calibration.stored import parse
        from snapcurve.shown.settings_file import load

        self._style = load().style
        self._arguments = arguments
        self._board = board
        self._notebook = notebook
        self._hello = board.greeting
        self._raw = board.calibration()
        try:
            self._before = parse(self._raw)
        except SnapcurveError:
            if arguments.action != "clear":
                raise
            self._before = parse(b"")
        self._class = arguments.tolerance_class or self._before.tolerance_class
        self._on_screen = sys.stdout.isatty() and not arguments.json
        self._told_ms = -(10**9)

    # --- baths ----------------------------------------------------------------------

    def bath(self, reference: Any) -> None:
        """Wait for the plateau, and make a point of it."""
        from snapcurve.calibration import baths
        from snapcurve.calibration.budget import CONVERTERS
        from snapcurve.calibration.plateau import Taken, live_readings, wait_for_plateau
        from snapcurve.calibration.point import PlateauDetector, plateau_rules, why_not_credible

        step, converter = self._arguments.action, CONVERTERS[self._hello.converter]

        def why_not(taken: Taken, known: Any = reference) -> str | None:
            if known is None:
                near = abs(taken.plateau.mean_c - taken.cold_junction_c) < 3.0
                return "the probe stayed at the room's temperature" if near else None
            return why_not_credible(
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
                self._tell,
            )
        self._end_line()
        if reference is None:
            reference = baths.compared(
                _temperature("What does the reference thermometer show", self._style),
                self._arguments.reference_limit_c,
            )
            refusal = why_not(taken, reference)
            if refusal:
                raise SnapcurveError(refusal)
        self._take(step, taken, reference)

    def _take(self, step: str, taken: Any, reference: Any) -> None:
        from snapcurve.calibration.point import calibration_point
        from snapcurve.calibration.stored import Point

        plateau, style = taken.plateau, self._style
        indicated_centi_c, correction_centi_c = calibration_point(plateau.mean_c, reference.true_c)
        after = replace(self._before, tolerance_class=self._class).with_point(
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
        self._say(
            f"Steady: the probe shows {style.temperature(plateau.mean_c, 2)}, true is "
            f"{style.temperature(reference.true_c, 2)}: correction "
            f"{style.difference(correction_centi_c / 100, 2)}."
        )
        here = plateau.mean_c
        self._say(
            f"  here        before {style.temperature(self._before.corrected_c(here), 2):>10}   "
            f"after {style.temperature(after.corrected_c(here), 2):>10}"
        )
        self._say(
            f"  {self._working():<12}before {self._figure(self._before):>8}     after "
            f"{self._figure(after):>8}   (k = 2)"
        )
        if self._trust(after).expanded_c > self._trust(self._before).expanded_c:
            self._say(
                "This reference is known less well than what the board holds already: it may be "
                "better to write nothing"
                + (
                    "."
                    if step != "boil"
                    else ", or to begin again with --pressure-hpa from a barometer in the room."
                )
            )
        self._write(step, after)

    # --- response -------------------------------------------------------------------

    def response(self) -> None:
        """Record a step, fit it, keep the lag."""
        from snapcurve.calibration.plateau import live_readings, record_response

        with closing(live_readings(self._board)) as readings:
            fit = record_response(readings, self._tell)
        self._end_line()
        if fit.lag_s > LONGEST_LAG_S:
            raise SnapcurveError(
                f"a lag of {fit.lag_s:.0f} s is no bare probe: take it out of its sleeve, stir "
                "the water, and begin again"
            )
        constants = " and ".join(f"{constant:.1f}" for constant in fit.time_constants_s)
        before = f"{self._before.lag_s:.1f} s" if self._before.lag_s else "not measured"
        self._say(
            f"The probe trails by {fit.lag_s:.1f} ± {2 * fit.lag_uncertainty_s:.1f} s (time "
            f"constant {constants} s), 90 % of a step after {fit.time_to_s(0.9):.0f} s."
        )
        self._say(f"  lag         before {before}   after {fit.lag_s:.1f} s")
        self._say(
            "In chocolate, thicker than water, it is more: the board goes on learning it there."
        )
        after = replace(
            self._before,
            tolerance_class=self._class,
            lag_unix_s=int(time.time()),
            time_constants_s=fit.time_constants_s,
        )
        self._write("response", after)

    # --- what is there --------------------------------------------------------------

    def show(self) -> None:
        """What the board holds, what it held before, and the notebook's history."""
        from snapcurve.calibration.stored import day

        previous = _parsed(self._board.calibration("previous"))
        history = self._notebook.calibrations(self._hello.board_id)
        if self._arguments.json:
            options.print_json(
                {
                    "converter": self._hello.converter,
                    "type": self._hello.tc_type,
                    "current": _as_json(self._before),
                    "previous": _as_json(previous),
                    "history": [
                        {
                            "step": one.step,
                            "filed_unix_ms": one.filed_unix_ms,
                            "calibration": _as_json(_parsed(one.raw)),
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
        _print_calibration("on the board", self._before, self._style)
        _print_calibration("before that", previous, self._style)
        print(f"Trust       {self._figure(self._before)} {self._working()} (k = 2)")
        remark = self._trust(self._before).remark
        if remark:
            print(f"Note        {remark}")
        print(f"History     {len(history)} in the notebook")
        for one in history:
            then = _parsed(one.raw)
            if then is None:
                print(f"  {day(one.filed_unix_ms // 1000)}  {one.step:<8}  cannot be read")
                continue
            points = "1 point" if len(then.points) == 1 else f"{len(then.points)} points"
            print(
                f"  {day(one.filed_unix_ms // 1000)}  {one.step:<8}  {points}, "
                f"lag {then.lag_s:.1f} s"
            )

    def clear(self) -> None:
        """Take the calibration off the board; it stays there as the previous one."""
        from snapcurve.calibration.stored import Calibration

        if not self._raw:
            self._say("The board holds no calibration.")
            return
        self._say(
            f"  {self._working():<12}before {self._figure(self._before):>8}     after "
            f"{self._figure(Calibration()):>8}   (k = 2)"
        )
        self._write("clear", Calibration())

    # --- writing --------------------------------------------------------------------

    def _write(self, step: str, after: Any) -> None:
        from snapcurve.calibration.stored import build

        raw = build(after)
        # Refused while a batch is recorded. Nor is one to begin while the person thinks it over,
        # perhaps with the probe on its way into the next bath.
        self._board.bath()
        try:
            if self._arguments.yes or _agreed():
                self._put(step, after, raw)
            else:
                print("Nothing was written.")
        finally:
            with suppress(LinkError):  # what went wrong before says more
                self._board.bath(0)

    def _put(self, step: str, after: Any, raw: bytes) -> None:
        from snapcurve.notebook.records import Calibration as Filed

        port = self._arguments.port or ""

        def filed(name: str, data: bytes) -> Filed:
            hello = self._hello
            return Filed(
                board_id=hello.board_id,
                board_name=hello.board,
                step=name,
                converter=hello.converter,
                tc_type=hello.tc_type,
                raw=data,
                rehearsal=port.startswith("rehearsal"),
            )

        # What the board holds goes into the history first, should it have come from
        # another computer: nothing is replaced that is not kept.
        history = self._notebook.calibrations(self._hello.board_id)
        if self._raw and (not history or history[-1].raw != self._raw):
            self._notebook.file_calibration(filed("found", self._raw))
        self._board.put_calibration(raw)
        self._notebook.file_calibration(filed(step, raw))
        if self._arguments.json:
            options.print_json({"step": step, "calibration": _as_json(after)})
        else:
            print("On the board, read back and compared; the earlier one is kept beside it.")

    # --- words ----------------------------------------------------------------------

    def _trust(self, calibration: Any) -> Any:
        from snapcurve.calibration.trust import WORKING_C, trust

        return trust(
            self._hello.converter,
            self._hello.tc_type,
            replace(calibration, tolerance_class=self._class),
            WORKING_C,
            time.time(),
        )

    def _figure(self, calibration: Any) -> str:
        return str(self._trust(calibration).figure(self._style))

    def _working(self) -> str:
        from snapcurve.calibration.trust import WORKING_C

        return f"at {self._style.temperature(WORKING_C, 0)}"

    def _say(self, text: str) -> None:
        if not self._arguments.json:
            print(text, flush=True)

    def _tell(self, reading: Any, reason: str) -> None:
        """The live reading with why it is not taken yet."""
        if self._arguments.json:
            return
        value_c, style = reading.uncorrected_c, self._style
        value = f"-- {style.degree}" if value_c is None else style.temperature(value_c, 2)
        line = f"  {value:>9}  {reason}"
        if self._on_screen:
            print("\r\x1b[K" + line, end="", flush=True)
        elif reading.uptime_ms - self._told_ms >= TOLD_EACH_S * 1000:
            self._told_ms = reading.uptime_ms
            print(line, flush=True)

    def _end_line(self) -> None:
        if self._on_screen:
            print()


def _agreed() -> bool:
    if not sys.stdin.isatty():
        raise SnapcurveError("nothing was written: there is nobody to ask; add --yes in a script")
    return input("Write this to the board? [y/N] ").strip().lower() in ("y", "yes")


def _temperature(question: str, style: Style) -> float:
    while True:
        try:
            return style.parse_temperature(input(f"{question}, in {style.degree}? "))
        except SnapcurveError as error:
            print(error)


def _parsed(raw: bytes) -> Any:
    """A calibration that is only shown: None if it cannot be read."""
    from snapcurve.calibration.stored import parse
    from snapcurve.errors import RecordError

    try:
        return parse(raw)
    except RecordError:
        return None


def _print_calibration(title: str, calibration: Any, style: Style) -> None:
    from snapcurve.calibration.stored import day

    if calibration is None:
        print(f"{title:<12}cannot be read")
        return
    if not calibration.points and not calibration.lag_s:
        print(f"{title:<12}none")
        return
    print(title)
    for point in calibration.points:
        print(
            f"  {day(point.unix_s)}  {point.step:<8}  "
            f"at {style.temperature(point.true_c, 2):>9}  "
            f"{style.difference(point.correction_centi_c / 100, 2)}"
        )
    if calibration.lag_s:
        constants = " + ".join(f"{constant:.1f}" for constant in calibration.time_constants_s)
        print(f"  {day(calibration.lag_unix_s)}  response  lag {constants} s")


def _as_json(calibration: Any) -> dict[str, Any] | None:
    if calibration is None:
        return None
    return {
        "set_unix_s": calibration.set_unix_s,
        "class": calibration.tolerance_class,
        "lag_unix_s": calibration.lag_unix_s,
        "time_constants_s": list(calibration.time_constants_s),
        "points": [
            {
                "step": point.step,
                "unix_s": point.unix_s,
                "indicated_c": point.indicated_centi_c / 100,
                "correction_c": point.correction_centi_c / 100,
                "reference_limit_c": point.reference_limit_milli_c / 1000,
            }
            for point in calibration.points
        ],
    }

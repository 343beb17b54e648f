"""Following the live reading of a probe in a bath until it can be taken.

Time is the board's own, so that a rehearsal may run faster than the clock on the wall.
"""

from collections.abc import Callable, Generator, Iterator
from contextlib import suppress
from dataclasses import dataclass

from snapcurve.board.client import Board, Reading
from snapcurve.calibration.plateau import Plateau, PlateauDetector
from snapcurve.calibration.response import ResponseFit, fit_response
from snapcurve.errors import LinkError, NoAnswer, ProbeError, UnusableValueError
from snapcurve.shown.units import PLAIN, Style

LIVE_MS = 250
SILENT_S = 5.0
HOLD_OFF_AGAIN_S = 60.0
SURE_S = 20.0  # so long a plateau has to go on: its first readings still carry the way there
# A rehearsed board may run ten times slower than ours; one whose clock stands has no end.
STILL_S, SLOWEST = 30.0, 20.0
ROOM_NEAR_C = 3.0  # a steady reading so near the board's own temperature: not in the bath yet

AIR_S = 6.0
BEFORE_DIP_S = 8.0
DIPPED_C = 1.5
FIRST_FIT_S, FIT_AGAIN_S, LAST_FIT_S = 25.0, 5.0, 180.0
SETTLED_LAGS = 6.0

Tell = Callable[[Reading, str], None]


def taken_s(reading: Reading) -> float:
    """When the board took the reading, in seconds of its own clock."""
    return (reading.uptime_ms - reading.age_ms) / 1000


def live_readings(board: Board) -> Generator[Reading, None, None]:
    """Each new reading, and those that report a fault; no curve begins meanwhile.

    Refused if the board records one, NoAnswer if it stops sending, LinkError if its clock
    stands still.
    """
    board.bath()
    board.live(LIVE_MS)
    held_s = heard_s = begun_s = board.clock()
    first_ms = last_ms = -1
    held_ms: int | None = None
    try:
        while True:
            reading = board.next_live()
            if reading is None:
                if board.clock() - heard_s > SILENT_S:
                    raise NoAnswer(
                        f"The board on {board.port.name} stopped sending: check the cable."
                    )
                continue
            heard_s = board.clock()
            if held_ms is None:
                held_ms = first_ms = reading.uptime_ms
            run_s = (reading.uptime_ms - first_ms) / 1000
            if heard_s - begun_s > STILL_S + SLOWEST * run_s:
                raise LinkError(
                    f"The clock of the board on {board.port.name} stands still: unplug it, plug "
                    "it in and try again."
                )
            if (
                reading.uptime_ms - held_ms > HOLD_OFF_AGAIN_S * 1000
                or heard_s - held_s > HOLD_OFF_AGAIN_S
            ):
                board.bath()
                held_ms, held_s = reading.uptime_ms, heard_s
            taken_ms = reading.uptime_ms - reading.age_ms
            if reading.faults or (reading.uncorrected_c is not None and taken_ms != last_ms):
                last_ms = taken_ms
                yield reading
    finally:
        with suppress(LinkError):  # what went wrong before says more
            board.live(0)
            board.bath(0)


@dataclass(frozen=True)
class Taken:
    """A plateau with the board's own temperature meanwhile."""

    plateau: Plateau
    cold_junction_c: float


def wait_for_plateau(
    readings: Iterator[Reading],
    detector: PlateauDetector,
    why_not: Callable[[Taken], str | None],
    longest_s: float,
    tell: Tell,
) -> Taken:
    """The plateau, once there is one that ``why_not`` has nothing against.

    A steady reading near the board's own temperature is the probe that is not in the bath
    yet, and is waited out. ProbeError with the sentence of ``why_not`` for one that cannot
    be believed, or with the reason for having none after ``longest_s``.
    """
    start_s: float | None = None
    stable_since_s: float | None = None
    for reading in readings:
        now_s = reading.uptime_ms / 1000
        start_s = now_s if start_s is None else start_s
        detector.add(taken_s(reading), None if reading.faults else reading.uncorrected_c)
        plateau = detector.judge()
        reason, refusal = plateau.reason, None
        room_c = reading.room_c
        if not plateau.stable or room_c is None:
            stable_since_s = None
        else:
            taken = Taken(plateau, room_c)
            refusal = why_not(taken)
            stable_since_s = now_s if stable_since_s is None else stable_since_s
            missing_s = SURE_S - (now_s - stable_since_s)
            if missing_s > 0:
                tell(reading, f"steady, {missing_s:.0f} s more to be sure")
                continue
            if refusal is None:
                tell(reading, reason)
                return taken
            if abs(plateau.mean_c - room_c) > ROOM_NEAR_C:
                raise ProbeError(refusal)
            reason = "steady at the room's temperature: put the probe in"
        tell(reading, reason)
        if now_s - start_s > longest_s:
            raise ProbeError(
                refusal
                or f"There was no steady reading within {longest_s / 60:.0f} minutes ({reason}): "
                "hold the probe still in a steady bath and begin again."
            )
    raise AssertionError("live readings end only with an error")


def record_response(readings: Iterator[Reading], tell: Tell, style: Style = PLAIN) -> ResponseFit:
    """The probe's lag from one step, room air into stirred warm water.

    ProbeError, with advice, for a record that does not show it.
    """
    times: list[float] = []
    values: list[float] = []
    dipped_s: float | None = None
    next_fit_s = FIRST_FIT_S
    for reading in readings:
        if reading.faults or reading.uncorrected_c is None:
            if dipped_s is not None:
                raise ProbeError(
                    "The reading failed in the water: check the probe and begin again."
                )
            times, values = [], []
            tell(reading, "no reading: check the probe")
            continue
        now_s = taken_s(reading)
        times.append(now_s)
        values.append(reading.uncorrected_c)
        if dipped_s is None:
            if reading.uncorrected_c - values[0] > DIPPED_C and now_s - times[0] > AIR_S / 2:
                dipped_s = now_s
                continue
            while now_s - times[0] > BEFORE_DIP_S:
                del times[0], values[0]
            ready = now_s - times[0] >= AIR_S
            tell(reading, "now put it into the water" if ready else "hold it in the air")
            continue
        since_s = now_s - dipped_s
        tell(reading, f"in the water for {since_s:.0f} s: keep it there and stir")
        if since_s < next_fit_s:
            continue
        next_fit_s = since_s + FIT_AGAIN_S
        try:
            fit = fit_response(times, values, style)
        except UnusableValueError as error:
            if since_s > LAST_FIT_S:
                raise ProbeError(str(error)) from error
            continue
        if since_s >= SETTLED_LAGS * fit.lag_s:
            return fit
    raise AssertionError("live readings end only with an error")

"""One thread keeps one board: it reads, marks, lends the port, and finds the board again.

A `Board` may be used by one thread only. What others see of it is `standing`, an immutable value
that is replaced whole; what they want of it goes through a queue.
"""

import queue
import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass, field, replace
from math import inf

from snapcurve.board.client import Board, Reading
from snapcurve.board.download import download
from snapcurve.calibration.board_trust import trust_now
from snapcurve.errors import LinkError, NoAnswer, Refused, SnapcurveError
from snapcurve.page.forecast import Forecast
from snapcurve.page.standing import ACTIONS, Dip, Heard, Profile, Standing, profile_of
from snapcurve.page.trail import Trail, picture
from snapcurve.recording.curve import Curve, decode
from snapcurve.shown.units import Style

INTERVAL_MS = 200
SILENT_S = 2.5  # then the port is opened anew: a board that restarted sends nothing unasked
AGAIN_S = 1.0  # between two looks for a board that is gone
PICTURE_S = 2.5  # one column of the curve's picture is several seconds
TELL_S = 0.1  # no page is told more often
PRESS_WAIT_S = 20.0
LEND_WAIT_S = 30.0
TURNS = 1000  # presses of one button that a run of the page has room for, in its own numbers

Connect = Callable[[], AbstractContextManager[Board]]


@dataclass(frozen=True)
class Done:
    """What became of a press: whether it is done, and the sentence that says so."""

    done: bool
    said: str


@dataclass
class _Press:
    word: str
    turn: int
    answer: "queue.Queue[Done]" = field(default_factory=lambda: queue.Queue(1))


@dataclass
class _Loan:
    why: str
    free: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)


class Keeper(threading.Thread):
    """Keeps the board that ``connect`` opens; ``named`` is the port that the person named, None
    if there is only one. ``changed`` is called from this thread whenever
    there is something new to show."""

    def __init__(
        self,
        named: str | None,
        connect: Connect,
        style: Style,
        changed: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ):
        super().__init__(name=f"keeper of {named}", daemon=True)
        self.named = named
        self.standing = Standing(
            named or "the attached board", first_turn=random.randrange(10**5) * TURNS
        )
        self.changed = changed
        self._connect = connect
        self._style = style
        self._clock = clock
        self._wishes: queue.Queue[_Press | _Loan] = queue.Queue(64)
        self._ending = threading.Event()
        self._tokens = random.randrange(1 << 16)
        self._trail = Trail()
        self._forecast = Forecast()
        self._measured_ms = -1
        self._curve = -1
        self._sounding = "none"
        self._told_s = self._drawn_s = -inf

    # --- from other threads ---------------------------------------------------------

    def press(self, word: str, turn: int) -> Done:
        """Do ``word`` for the ``turn``-th time, once however often this is asked."""
        if word not in ACTIONS:
            return Done(False, "There is no such button.")
        press = _Press(word, turn)
        try:
            self._wishes.put_nowait(press)
            return press.answer.get(timeout=PRESS_WAIT_S)
        except (queue.Full, queue.Empty):
            return Done(False, "The board did not take it in time: press once more.")

    @contextmanager
    def lent(self, why: str) -> Iterator[None]:
        """The port is free meanwhile; ``why`` is the sentence that stands on the page."""
        loan = _Loan(why)
        try:
            self._wishes.put_nowait(loan)
            if not loan.free.wait(LEND_WAIT_S):
                raise LinkError("The board is busy: try again in a moment.")
            yield
        except queue.Full as error:
            raise LinkError("The board is busy: try again in a moment.") from error
        finally:
            loan.over.set()

    def end(self) -> None:
        """Let go of the board."""
        self._ending.set()

    # --- the thread -----------------------------------------------------------------

    def run(self) -> None:
        """Keep the board until `end`."""
        loan: _Loan | None = None
        while not self._ending.is_set():
            if loan is not None:
                self._lend(loan)
                loan = None
            try:
                with self._connect() as board:
                    loan = self._keep(board)
            except SnapcurveError as error:
                self._show(replace(self.standing, link="seeking", why=str(error), minutes=None))
                loan = self._while_gone()
            except Exception as error:
                # What nobody foresaw must not end the reading of the board.
                said = f"The page lost the board ({type(error).__name__}: {error}): looking again."
                self._show(replace(self.standing, link="seeking", why=said, minutes=None))
                loan = self._while_gone()

    def _lend(self, loan: _Loan) -> None:
        self._show(replace(self.standing, link="lent", why=loan.why, minutes=None))
        loan.free.set()
        while not loan.over.wait(0.1):
            if self._ending.is_set():
                return
        why = "Opening the board again."
        self._show(replace(self.standing, link="seeking", why=why))

    def _while_gone(self) -> _Loan | None:
        """Answer what is wanted meanwhile; a port that is not open can be lent."""
        end_s = self._clock() + AGAIN_S
        while not self._ending.is_set() and self._clock() < end_s:
            try:
                wish = self._wishes.get(timeout=0.1)
            except queue.Empty:
                continue
            if isinstance(wish, _Loan):
                return wish
            wish.answer.put(Done(False, "The board is not there, so nothing was noted."))
        return None

    def _keep(self, board: Board) -> _Loan | None:
        """Read until the page ends or somebody borrows the port. LinkError if the board goes."""
        self._begin(board)
        heard_s = self._clock()
        while not self._ending.is_set():
            try:
                wish = self._wishes.get_nowait()
            except queue.Empty:
                pass
            else:
                if isinstance(wish, _Loan):
                    self._quiet(board)
                    return wish
                wish.answer.put(self._pressed(board, wish))
            reading = board.next_live()
            now_s = self._clock()
            if reading is not None:
                heard_s = now_s
                self._take(reading, now_s)
            elif now_s - heard_s > SILENT_S:
                raise NoAnswer(f"The board on {board.port.name} stopped sending: check the cable.")
        self._quiet(board)
        return None

    def _quiet(self, board: Board) -> None:
        with suppress(LinkError):
            board.live(0)

    def _begin(self, board: Board) -> None:
        board.set_clock(time.time())
        profile = _profile(board)
        reading = board.reading()
        uncertainty_c, remark = _trust(board, reading)
        self._measured_ms = -1
        self._forecast.forget()
        started = replace(
            self.standing,
            name=board.greeting.board,
            link="up",
            why="",
            profile=profile,
            uncertainty_c=uncertainty_c,
            remark=remark,
            reading=None,
        )
        if reading.curve != self._curve:
            first = self._curve < 0
            over = self._new_curve(reading)
            if first and not reading.curve:
                over = _left_of_this_boot(board)
            started = replace(
                started, heard=None, dip=None, silenced_ms=-1, over=over, collected=False
            )
        if reading.curve:
            started = self._recall(board, reading, started)
        elif started.ended:
            started = replace(started, collected=_nothing_left(board))
        self.standing = started
        self._take(reading, self._clock())
        board.live(INTERVAL_MS)

    def _recall(self, board: Board, reading: Reading, standing: Standing) -> Standing:
        """What was recorded before the page was there: curve, dip and last alarm."""
        try:
            row = next(one for one in board.curves() if one.curve == reading.curve)
            curve = decode(download(board, row))
        except (StopIteration, SnapcurveError):
            return standing  # it grows just now, or nothing is written yet: the page goes on
        start_ms = curve.started_uptime_ms
        if curve.boot != board.greeting.boot:
            return standing  # on another clock
        trail = Trail()
        for at_s, value_c in zip(curve.times_s, curve.temperatures_c, strict=True):
            trail.add(start_ms / 1000 + at_s, value_c)
        if trail.points:
            self._trail = trail
        heard, dip = _last_of(curve)
        return replace(standing, heard=heard or standing.heard, dip=dip or standing.dip)

    # --- readings -------------------------------------------------------------------

    def _take(self, reading: Reading, now_s: float) -> None:
        standing = self.standing
        measured_ms = reading.uptime_ms - reading.age_ms
        measured_s = standing.measured_s
        # A board that sends the same measurement again and again is as silent as one that
        # sends nothing.
        if measured_ms != self._measured_ms:
            self._measured_ms = measured_ms
            measured_s = now_s - reading.age_ms / 1000
        if reading.curve != self._curve:
            over = self._new_curve(reading)
            heard = None if over else standing.heard
            standing = replace(standing, dip=None, heard=heard, over=over, collected=False)
        standing = self._listen(replace(standing, reading=reading, measured_s=measured_s))
        self._forecast.take(standing.profile, reading)
        fresh = self._trail.add(reading.uptime_ms / 1000, standing.shown_c)
        if (fresh and now_s - self._drawn_s >= PICTURE_S) or not standing.curve:
            self._drawn_s = now_s
            drawn = picture(self._trail.points, standing.profile, self._style)
            standing = replace(standing, curve=drawn)
        self._show(replace(standing, minutes=self._forecast.minutes()), now_s)

    def _new_curve(self, reading: Reading) -> bool:
        """From here on the reading belongs to another recording; whether to none any more."""
        over = self._curve > 0 and not reading.curve
        self._curve = reading.curve
        if reading.curve:
            self._trail.since(reading.uptime_ms / 1000 - 60)
            self._drawn_s = -inf
        return over

    def _listen(self, standing: Standing) -> Standing:
        """Note a sound when it begins, and what it says of the dip test."""
        reading = standing.reading
        assert reading is not None
        name, before = reading.sounding, self._sounding
        self._sounding = name
        if name in ("none", before):
            return standing
        count = 1 if standing.heard is None else standing.heard.count + 1
        heard = Heard(name, reading.uptime_ms, count)
        standing = replace(
            standing, heard=heard, collected=standing.collected and name != "stopped"
        )
        return replace(standing, dip=_dip_after(standing, name, reading.uptime_ms))

    # --- presses --------------------------------------------------------------------

    def _pressed(self, board: Board, press: _Press) -> Done:
        turn, first = self.standing.turn(press.word), self.standing.first_turn
        said = ACTIONS[press.word][1]
        if first <= press.turn < turn:
            return Done(True, said)  # sent again, or pressed on two pages at once
        if press.turn != turn:
            return Done(False, "This button is of an earlier start of the page: press once more.")
        if press.word not in self.standing.actions():
            return Done(False, "That moment is over: look at the page, nothing was noted.")
        place = list(ACTIONS).index(press.word)
        token = (self._tokens + (turn - first) * len(ACTIONS) + place) & 0xFFFF
        try:
            at_ms = board.mark(press.word, token=token)
        except Refused as refusal:
            return Done(False, f"Nothing was noted. {refusal}")
        except LinkError as error:
            return Done(False, f"It is not known whether the board took it. {error}")
        turns = {**self.standing.turns, press.word: turn + 1}
        standing = replace(self.standing, turns=turns)
        if press.word == "silence":
            standing = replace(standing, silenced_ms=at_ms)
        elif press.word == "dip_test":
            standing = replace(standing, dip=Dip(at_ms))
        elif standing.dip is not None:
            standing = replace(standing, dip=replace(standing.dip, result=press.word))
        self._show(standing)
        return Done(True, said)

    def _show(self, standing: Standing, now_s: float | None = None) -> None:
        """Replace what others see; tell them at once, or with ``now_s`` not more often than
        each TELL_S."""
        self.standing = standing
        if now_s is not None and now_s - self._told_s < TELL_S:
            return
        self._told_s = self._clock() if now_s is None else now_s
        self.changed()


def _profile(board: Board) -> Profile | None:
    try:
        return profile_of(board.profile())
    except Refused:
        return None


def _trust(board: Board, reading: Reading) -> tuple[float | None, str]:
    try:
        found = trust_now(board, reading.troubles)
    except Refused:
        raise
    except SnapcurveError as error:
        if isinstance(error, LinkError):
            raise
        return None, str(error)
    return found.expanded_c, found.remark


def _nothing_left(board: Board) -> bool:
    """Whether all of its recordings were collected."""
    try:
        return not board.curves()
    except Refused:
        return False


def _left_of_this_boot(board: Board) -> bool:
    """Whether a recording lies on the board that began since it was last switched on. A board
    whose list makes no sense is shown all the same."""
    try:
        return any(row.boot == board.greeting.boot for row in board.curves())
    except SnapcurveError:
        return False


def _last_of(curve: Curve) -> tuple[Heard | None, Dip | None]:
    heard: Heard | None = None
    dip: Dip | None = None
    for event in curve.events:
        at_ms = curve.started_uptime_ms + event.offset_ms
        if event.kind == "alarm":
            heard = Heard(event.name, at_ms, 0)
        elif event.kind == "mark" and event.name == "dip_test":
            dip = Dip(at_ms)
        elif event.kind == "mark" and event.name in ("passed", "failed", "set_early") and dip:
            dip = replace(dip, result=event.name)
    return heard, dip


def _dip_after(standing: Standing, sound: str, at_ms: int) -> Dip | None:
    """The dip test after a sound: a blade may be marked, and answered, by the board's button."""
    dip, profile = standing.dip, standing.profile
    if sound == "temper_lost":
        return None  # what an earlier blade proved no longer holds
    if sound == "mark" and (dip is None or dip.result or at_ms - dip.at_ms > 3000):
        return Dip(at_ms)
    if sound == "passed" and dip is not None and not dip.result:
        return replace(dip, result="passed")
    if sound == "failed" and dip is not None and not dip.result:
        return replace(dip, result="failed")
    due = {"test_early": "test_early_s", "test_due": "test_due_s", "test_late": "test_late_s"}
    if dip is None and profile is not None and sound in due:
        return Dip(at_ms - getattr(profile, due[sound]) * 1000)
    return dip

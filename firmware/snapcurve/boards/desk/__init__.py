"""The board that runs on a computer: the same firmware, everything else modelled.

Options come as ``name=value``:

=================  ====================================================================
flash=PATH         image of the flash, made if it is not there
store=FOLDER       recordings go there, and no image is mounted
bench=fd:N         the bench is at the other end of file descriptor N (lines.py)
bench=tcp:PORT     the same over a connection to this computer
bus=...            likewise: the converter
link=stdio         the wire is standard input and output (a pseudo-terminal)
link=listen:PORT   the wire is a connection to this port of this computer
link=serve:PORT    the same, one connection after the other
speed=real|N|max   device time against real time; max: as fast as it can
ticks=MS           what the tick counter shows at start
id=N               board number
type=LETTER        of the thermocouple, unless another was chosen: K, T, J, N, E
erase=MS           how long the flash stops everything for each block it erases
restarted=1        the start comes from a reset, not from switching on
crash=restart      a firmware that fails leaves with code 3 as well
=================  ====================================================================

The tape (tape.py) is the board's only input, from a file or live. The process leaves with
code 3 (_RESTART) where a board would start again: when its watchdog was not fed in time, and
after a failure if so asked.
"""

import binascii
import select
import sys
import time

from snapcurve.wire.const import const

from .flash import mount
from .lines import BenchLine, BusLine, Stream

_TICK_PERIOD = const(1 << 30)
_TIMER_MS = const(5)  # shorter waits are no sleep: at high speeds many steps share one
_CLOCK_STEP_MS = const(2000)
_WATCHDOG_MS = const(8388)  # the longest an RP2040 can wait
_RESTART = const(3)  # exit code
_STILL_S = const(0.05)  # between two turns of the loop while time stands still


class DeskClock:
    """Device time: real, N-fold, or as fast as the bench allows."""

    def __init__(self, speed: str, first_tick: int, bench: BenchLine, link):
        self._paced = speed != "max"
        self._factor = 1.0 if speed in ("real", "max") else float(speed)
        self._first_tick = first_tick
        self._bench = bench
        self._link = link
        if not hasattr(select, "select"):  # MicroPython
            self._poll = select.poll()
            for source in (link.source, bench.source):
                self._poll.register(source, select.POLLIN)
        self.now_ms = 0
        self._fed_ms = -1  # when the watchdog was fed, -1: it is not running
        # Device time self._paced_ms belongs to real time self._wall_ms.
        self._paced_ms = 0
        self._wall_ms = self._wall()

    @staticmethod
    def _wall() -> int:
        return time.time_ns() // 1000000

    def ticks_ms(self) -> int:
        """The wrapping tick counter."""
        return (self._first_tick + self.now_ms) & (_TICK_PERIOD - 1)

    def now(self) -> int:
        """Device time in ms."""
        return self.now_ms

    def stall(self, length_ms: int) -> None:
        """Time passes while nothing runs."""
        self.now_ms += length_ms
        self._watch()

    def feed_watchdog(self) -> None:
        """The loop goes round; the first time starts the watchdog."""
        self._watch()
        self._fed_ms = self.now_ms

    def _watch(self) -> None:
        if 0 <= self._fed_ms < self.now_ms - _WATCHDOG_MS:
            sys.exit(_RESTART)

    def begin(self) -> None:
        """Wait until the bench lets time begin."""
        while self._bench.covered_ms < 0 and not self._bench.ended:
            self._bench.want(-1)
            self._bench.take()

    def sleep_ms(self, length_ms: int) -> None:
        """Let device time pass; ends early if the wire has something to read."""
        target_ms = self.now_ms + length_ms
        bench = self._bench
        while True:
            open_end = bench.ended and self._paced  # the bench is done, time goes on
            if target_ms > bench.covered_ms and not open_end:
                self.now_ms = max(self.now_ms, bench.covered_ms)
                if not bench.ended:
                    bench.want(self.now_ms)
                if self._wait(_STILL_S):
                    return
                if not bench.answered():
                    return  # time stands still, but an answer may wait to be sent
                continue
            if not self._paced:
                self.now_ms = target_ms
                return
            if self._pace(target_ms):
                return

    def _pace(self, target_ms: int) -> bool:
        """Let real time pass up to ``target_ms``; True if it is there or the wire is."""
        wall_ms = self._wall()
        ahead_ms = self._wall_ms + (target_ms - self._paced_ms) / self._factor - wall_ms
        longest_ms = (target_ms - self.now_ms) / self._factor + _CLOCK_STEP_MS
        if not -_CLOCK_STEP_MS < ahead_ms < longest_ms:
            # The computer's clock was set, or it slept.
            self._wall_ms = wall_ms
            self._paced_ms = self.now_ms
        elif ahead_ms < _TIMER_MS:
            self.now_ms = target_ms
            return True
        elif self._wait(ahead_ms / 1000):
            passed_ms = int((self._wall() - self._wall_ms) * self._factor)
            self.now_ms = max(self.now_ms, min(target_ms, self._paced_ms + passed_ms))
            return True
        return False

    def _wait(self, seconds) -> bool:
        """Wait for the bench (heard at once) or the wire (True), at most ``seconds``."""
        if hasattr(select, "select"):  # CPython
            sources = (self._link.source, self._bench.source)
            ready = select.select(sources, [], [], seconds)[0]
        else:
            ready = [entry[0] for entry in self._poll.poll(int(seconds * 1000) + 1)]
        if self._bench.source in ready:
            self._bench.take()
        return self._link.source in ready


class DeskBeeper:
    """Reports each change of the tone to the bench."""

    def __init__(self, clock: DeskClock, bench: BenchLine):
        self._clock = clock
        self._bench = bench
        self.volume = 3  # a place in catalogue.VOLUMES
        self._hz = 0

    def tone(self, hz: int) -> None:
        """Sound at ``hz``, 0: be silent. With the light alone there is nothing to hear."""
        if not self.volume:
            hz = 0
        if hz != self._hz:
            self._hz = hz
            self._bench.report("tone %d %d" % (self._clock.now_ms, hz))


def died(error) -> None:
    """The firmware has failed: say so, where no frame is expected, and stop or restart."""
    restart = "crash=restart" in sys.argv
    if hasattr(sys, "print_exception"):
        sys.print_exception(error, sys.stderr)
    elif not restart:
        raise error  # CPython
    sys.exit(_RESTART if restart else 1)


class Parts:
    """What the app needs, made from the options."""

    def __init__(self, argv):
        options = dict([word.split("=", 1) for word in argv[1:] if "=" in word])
        option = options.get
        self._bench = BenchLine(options["bench"])
        bus = BusLine(options["bus"])
        self.stream = Stream(option("link", "stdio"))
        self._clock = DeskClock(
            option("speed", "real"), int(option("ticks", 0)), self._bench, self.stream
        )
        self._clock.begin()
        bus.now_ms = self._clock.now
        self.bus = (bus, bus.cs)
        self.tc_type = option("type", "K")
        self.beeper = DeskBeeper(self._clock, self._bench)
        self.ticks_ms = self._clock.ticks_ms
        self.tick_period = _TICK_PERIOD
        self.sleep_ms = self._clock.sleep_ms
        self.board_id = binascii.crc32(option("id", "1").encode())
        self.board_name = "desk"
        self.restarted = option("restarted") == "1"
        self.store_root = option("store") or mount(
            option("flash", "desk.flash"), self._clock.stall, int(option("erase", 0))
        )

    def pressed(self) -> bool:
        """Whether the button is down."""
        return self._bench.button

    def watch(self):
        """Start the watchdog; what feeds it."""
        self._clock.feed_watchdog()
        return self._clock.feed_watchdog

    def leave(self) -> None:
        """The firmware is left for the interpreter's prompt."""

    def witness(self, now_ms: int, alarm: str, phase: str, estimate_centi_c: int) -> None:
        """Tell the bench of an alarm."""
        self._bench.report("alarm %d %s %s %d" % (now_ms, alarm, phase, estimate_centi_c))

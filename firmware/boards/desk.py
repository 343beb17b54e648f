"""The board that runs on a computer: the same firmware, everything else modelled.

Options come as ``name=value``:

=================  ====================================================================
flash=PATH         image of the flash, made if it is not there
tape=fd:N          rows come over file descriptor N, reports go back over it
tape=tcp:PORT      the same over a connection to this computer
tape=PATH          rows come from a file
link=stdio         the wire is standard input and output (a pseudo-terminal)
link=listen:PORT   the wire is a connection to this port of this computer
speed=real|N|max   device time against real time; max: as fast as it can
ticks=MS           what the tick counter shows at start
id=N               board number
converter=NAME     MAX31856 or MAX31855
type=LETTER        of the thermocouple: K, T, and with a MAX31856 also J, N, E
erase=MS           how long the flash stops everything for each block it erases
restarted=1        the start comes from a reset, not from switching on
crash=restart      a firmware that fails leaves with code 3 as well
=================  ====================================================================

The process leaves with code 3 (_RESTART) where a board would start again: when its watchdog
was not fed in time, and after a failure if so asked. Whoever started it starts it again.

Reports are lines: ``want MS`` (time stands still until more rows come), ``tone MS HZ``,
``alarm MS NAME PHASE CENTI_C``.
"""

import binascii
import select
import socket
import sys
import time

from wire.const import const

from . import desk_flash
from .desk_streams import SocketStream, StdioStream
from .desk_tape import Tape

_TICK_PERIOD = const(1 << 30)
_FILE_ROWS = const(16)
_TIMER_MS = const(5)  # shorter waits are not worth a sleep: at high speeds many steps share one
_CLOCK_STEP_MS = const(2000)
_WATCHDOG_MS = const(8388)  # the longest an RP2040 can wait
_RESTART = const(3)  # exit code
_STILL_S = const(0.05)  # while time stands still the loop turns so often
_DEFAULTS = {
    "flash": "desk.flash",
    "link": "stdio",
    "speed": "real",
    "ticks": "0",
    "id": "1",
    "converter": "MAX31856",
    "type": "K",
    "erase": "0",
    "restarted": "0",
    "crash": "stop",
}


class TapeFile:
    """Rows from a file; nobody to report to."""

    def __init__(self, path: str, tape: Tape):
        self._file = open(path)  # noqa: SIM115
        self._tape = tape
        self.source = None

    def answered(self) -> bool:
        """Whether rows have come since the last ``want``."""
        return not self._tape.ended

    def want(self, now_ms: int) -> None:
        """Read on."""
        for _ in range(_FILE_ROWS):
            line = self._file.readline()
            if not line:
                self._tape.ended = True
                return
            self._tape.add(line)

    def report(self, text: str) -> None:
        """Nobody listens."""


class TapeLine:
    """Rows and reports as lines over a file or socket."""

    def __init__(self, file, source, tape: Tape, flush=None):
        self._file = file
        self._flush = flush
        self._tape = tape
        self.source = source
        self._asked_ms = -1

    def answered(self) -> bool:
        """Whether rows have come since the last ``want``."""
        return self._asked_ms < 0

    def want(self, now_ms: int) -> None:
        """Ask for more rows, once for each moment."""
        if self._asked_ms != now_ms:
            self._asked_ms = now_ms
            self.report("want %d" % now_ms)

    def report(self, text: str) -> None:
        """Send one line to the bench."""
        self._file.write((text + "\n").encode())
        if self._flush is not None:
            self._flush()

    def take(self) -> None:
        """Read the rows of one answer: they end with an empty line."""
        while True:
            line = self._file.readline()
            if not line:
                sys.exit(0)  # the bench has gone, and the desk with it
            line = line.decode().strip()
            if not line:
                break
            self._tape.add(line)
        self._asked_ms = -1


class Waiter:
    """Waits for any of a few sources to have something to read."""

    def __init__(self, sources):
        self._sources = sources
        self._poll = None
        if not hasattr(select, "select"):  # MicroPython
            self._poll = select.poll()
            for source in sources:
                self._poll.register(source, select.POLLIN)

    def wait(self, seconds):
        """The sources that are ready; ``seconds`` None: for ever."""
        if self._poll is None:
            return select.select(self._sources, [], [], seconds)[0]
        timeout_ms = -1 if seconds is None else int(seconds * 1000) + 1
        return [entry[0] for entry in self._poll.poll(timeout_ms)]


class DeskClock:
    """Device time: real, N-fold, or as fast as the rows of the tape allow."""

    def __init__(self, speed: str, first_tick: int, tape: Tape, feed, link):
        self._paced = speed != "max"
        self._factor = 1.0 if speed in ("real", "max") else float(speed)
        self._first_tick = first_tick
        self._tape = tape
        self._feed = feed
        self._link = link
        sources = [link.source]
        if feed.source is not None:
            sources.append(feed.source)
        self._waiter = Waiter(sources)
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

    def first_row(self) -> None:
        """Wait for the beginning of the tape."""
        while self._tape.empty() and not self._tape.ended:
            self._feed.want(0)
            if self._feed.source is not None:
                self._feed.take()

    def sleep_ms(self, length_ms: int) -> None:
        """Let device time pass; ends early if the wire has something to read."""
        target_ms = self.now_ms + length_ms
        while True:
            limit_ms = self._tape.covered_ms
            open_end = self._tape.ended and self._paced  # the tape is over, life goes on
            if target_ms > limit_ms and not open_end:
                self.now_ms = max(self.now_ms, limit_ms)
                if not self._tape.ended:
                    self._feed.want(self.now_ms)
                    if self._feed.source is None:
                        continue
                if self._wait(_STILL_S):
                    return
                if not self._feed.answered():
                    return  # time stands still, but an answer may wait to be sent
                continue
            if not self._paced:
                self.now_ms = target_ms
                return
            if self._pace(target_ms):
                return

    def _pace(self, target_ms: int) -> bool:
        """Let real time pass up to ``target_ms``; True when it is there or the wire speaks."""
        wall_ms = self._wall()
        ahead_ms = self._wall_ms + (target_ms - self._paced_ms) / self._factor - wall_ms
        longest_ms = (target_ms - self.now_ms) / self._factor + _CLOCK_STEP_MS
        if not -_CLOCK_STEP_MS < ahead_ms < longest_ms:
            # The computer's clock was set, or it slept: go on from here.
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
        """Wait for rows (taken at once) or the wire (True), at most ``seconds``."""
        ready = self._waiter.wait(seconds)
        if self._feed.source in ready:
            self._feed.take()
        return self._link.source in ready


class Beeper:
    """Reports each change of tone with its device time."""

    def __init__(self, clock: DeskClock, feed):
        self._clock = clock
        self._feed = feed
        self._hz = 0
        self.volume = 3  # a place in catalogue.VOLUMES

    def tone(self, hz: int) -> None:
        """Sound at ``hz``, 0: be silent. With the light alone there is nothing to hear."""
        if not self.volume:
            hz = 0
        if hz != self._hz:
            self._hz = hz
            self._feed.report("tone %d %d" % (self._clock.now_ms, hz))


def died(error) -> None:
    """The firmware has failed: say so, where no frame is expected, and stop or restart."""
    restart = "crash=restart" in sys.argv
    if hasattr(sys, "print_exception"):
        sys.print_exception(error, sys.stderr)
    elif not restart:
        raise error  # CPython
    sys.exit(_RESTART if restart else 1)


def _connect(port: int):
    connection = socket.socket()
    connection.connect(socket.getaddrinfo("127.0.0.1", port)[0][-1])
    return connection


def _accept(port: int):
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listener.bind(socket.getaddrinfo("127.0.0.1", port)[0][-1])
    listener.listen(1)
    connection = listener.accept()[0]
    listener.close()
    return connection


class Parts:
    """What the app needs, made from the options."""

    def __init__(self, argv):
        options = dict(_DEFAULTS)
        for argument in argv[1:]:
            name, _, value = argument.partition("=")
            options[name] = value
        tape = Tape()
        feed = self._feed(options["tape"], tape)
        self.stream = self._link(options["link"])
        self._clock = DeskClock(options["speed"], int(options["ticks"]), tape, feed, self.stream)
        self._clock.first_row()
        self.converter = self._converter(options["converter"], options["type"], tape)
        self.beeper = Beeper(self._clock, feed)
        self.ticks_ms = self._clock.ticks_ms
        self.tick_period = _TICK_PERIOD
        self.sleep_ms = self._clock.sleep_ms
        self.board_id = binascii.crc32(options["id"].encode())
        self.board_name = "desk"
        self.restarted = options["restarted"] == "1"
        erase_ms = int(options["erase"])
        self.store_root = desk_flash.mount(options["flash"], self._clock.stall, erase_ms)
        self._tape = tape
        self._report = feed.report

    def _converter(self, name: str, kind: str, tape: Tape):
        # Only what is used is loaded: the other one's tables would take a board's memory.
        if name == "MAX31855":
            from probe.thermometer.max31855 import Max31855

            from .desk_chip_31855 import Max31855Model

            model = Max31855Model(self._clock.now, tape, kind)
            return Max31855(model, model.cs, kind)
        from probe.thermometer.max31856 import Max31856

        from .desk_chip import ChipModel

        chip = ChipModel(self._clock.now, tape)
        return Max31856(chip, chip.cs, kind)

    @staticmethod
    def _feed(text: str, tape: Tape):
        kind, _, value = text.partition(":")
        if kind == "fd":
            file = open(int(value), "r+b")  # noqa: SIM115
            return TapeLine(file, file, tape)
        if kind == "tcp":
            connection = _connect(int(value))
            file = connection.makefile("rwb")
            return TapeLine(file, connection, tape, getattr(file, "flush", None))
        return TapeFile(text, tape)

    @staticmethod
    def _link(text: str):
        kind, _, value = text.partition(":")
        if kind == "listen":
            return SocketStream(_accept(int(value)))
        return StdioStream()

    def pressed(self) -> bool:
        """Whether the button is down."""
        return self._tape.button(self._clock.now_ms)

    def watch(self):
        """Start the watchdog; what feeds it."""
        self._clock.feed_watchdog()
        return self._clock.feed_watchdog

    def leave(self) -> None:
        """The firmware is left for the interpreter's prompt."""

    def witness(self, now_ms: int, alarm: str, phase: str, estimate_centi_c: int) -> None:
        """Tell the bench of an alarm."""
        self._report("alarm %d %s %s %d" % (now_ms, alarm, phase, estimate_centi_c))

"""A board as the host sees it: ask, and be answered or told why not."""

import logging
import random
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

import construct

from snapcurve.board import structs
from snapcurve.board.fitted import Fitted, ProbeSetting
from snapcurve.errors import LinkError, NoAnswer, Refused, SnapcurveError, WrongVersion
from snapcurve.shown.plain_text import visible
from snapcurve.wire import catalogue
from snapcurve.wire.frame import FrameReader, FrameWriter

_log = logging.getLogger(__name__)

ANSWER_WAIT_S = 2.0  # a flash erase alone may stop a board for 0.4 s
TRIES = 3
LIVE_READINGS_MAX = 64
YEAR_S = 31_556_952  # of the Gregorian calendar, in the mean
HOLD_OFF_S = 120  # without another request a bath is over after so long
HELLO = catalogue.message_number("hello")
INTERRUPT = 0x03  # before a board's firmware runs, this byte would stop it from starting
# Ends a line that was begun at the interpreter's prompt, and brings the prompt back from the one
# for programs (Ctrl-B); a running firmware takes it for noise.
PROMPT_ASKED = b"\r\x02"
PROMPT = b"\r\n>>> "
PROMPT_WAIT_S = 0.5

# Four times what a board records in its longest time, reading by reading: room for nonsense to
# be told from a curve before memory is given to it.
CURVE_BYTES_MAX = 4 << 20
LIST_WAIT_S = 60.0

# What a refusal means and what to do; a code that is not here is a request that snapcurve built
# wrongly.
_REFUSALS = {
    "unknown_message": "its firmware is older than this tool: 'snapcurve install' puts the newer "
    "one on it",
    "no_such_curve": "it has no such curve any more, another computer may have collected it: "
    "collect again",
    "not_the_same_curve": "its curve is not the one that was collected, so it stays on the board: "
    "collect again",
    "still_recording": "it is still recording: end the curve with a long press first",
    "no_profile": "it has no profile yet: send one with 'snapcurve load'",
    "store_fault": "its flash failed: collect what it still gives, then replace the board",
}
_OUR_MISTAKE = "this is a mistake in snapcurve, report it with this line"


class Port(Protocol):
    """What a Board needs of a port."""

    name: str

    def read(self) -> bytes:
        """Bytes that are there, after a short wait."""

    def write(self, data: bytes) -> None:
        """Send bytes."""

    def close(self) -> None:
        """Give it back."""


@dataclass(frozen=True)
class Hello:
    """Who answers: firmware version, board, number of starts, time since the last, and the
    converter chip with the thermocouple type it is set for."""

    firmware: str
    board_id: int
    board: str
    boot: int
    uptime_ms: int
    converter: str = "MAX31856"
    tc_type: str = "K"


class Crash(NamedTuple):
    """The start in which the firmware failed last, how many failures in all, and why; 0, 0
    and "": it never did."""

    boot: int
    crashes: int
    reason: str


@dataclass(frozen=True)
class CurveRow:
    """One curve on the board."""

    curve: int
    state: str
    boot: int
    size: int
    crc: int
    generation: int


@dataclass(frozen=True)
class ChainEndRow:
    """Where the chain of a notebook ended, as a board was told: what tells that notebook from
    others, the number of the last seal, and the first digits of its hash."""

    notebook: int
    number: int
    hash: str


@dataclass(frozen=True)
class Reading:
    """One live reading; temperatures in °C, None where there is none.

    ``uncorrected_c`` is ``indicated_c`` before the calibration's correction;
    ``window_left_s`` how long the chocolate stays in its window at the present drift;
    ``troubles`` are words of catalogue.TROUBLES.
    """

    uptime_ms: int
    age_ms: int
    indicated_c: float | None
    uncorrected_c: float | None
    estimate_c: float | None
    rate_c_per_min: float | None
    room_c: float | None
    faults: list[str]
    place: str
    phase: str
    state: str
    curve: int
    sounding: str
    window_left_s: int | None = None
    troubles: tuple[str, ...] = ()


def _uptime_ms(values: dict[str, Any]) -> int:
    return int(values["uptime_s"] * 1000 + values["uptime_ms"])


def _c(centi: int) -> float | None:
    return None if centi == catalogue.CENTI_NONE else centi / 100


def _from_128ths(value: int) -> float | None:
    return None if value == catalogue.CENTI_NONE else value / 128


def _reading(values: dict[str, Any]) -> Reading:
    return Reading(
        uptime_ms=_uptime_ms(values),
        age_ms=values["age_ms"],
        indicated_c=_c(values["indicated_centi_c"]),
        uncorrected_c=_from_128ths(values["uncorrected_128ths"]),
        estimate_c=_c(values["estimate_centi_c"]),
        rate_c_per_min=_c(values["rate_centi_c_per_min"]),
        room_c=_c(values["room_centi_c"]),
        faults=catalogue.fault_names(values["faults"]),
        place=values["place"],
        phase=values["phase"],
        state=values["state"],
        curve=values["curve"],
        sounding=values["sounding"],
        window_left_s=None
        if values["window_left_s"] == catalogue.NO_SECONDS
        else values["window_left_s"],
        troubles=tuple(catalogue.names_of(catalogue.TROUBLES, values["troubles"])),
    )


def _refused(request: int, field: int) -> str:
    """What an error answer is about, in the catalogue's names where it has them."""
    try:
        name, record = catalogue.message_name(request), catalogue.message_record(request)
    except KeyError:
        name, record = f"request {request:02X}", ()
    if field == catalogue.NO_FIELD:
        return name
    return f"{record[field][0] if field < len(record) else f'field {field}'} of {name}"


def _no_list() -> LinkError:
    return LinkError("The board's list of curves makes no sense: restart the board.")


def _rows_of(part: bytes) -> list[CurveRow]:
    """The rows of a part of the list; LinkError if it holds none, or a curve no board can have."""
    try:
        rows = [CurveRow(**row) for row in structs.parse_rows(catalogue.CURVE_ROW, part)]
    except construct.ConstructError as error:
        raise _no_list() from error
    if any(row.size > CURVE_BYTES_MAX for row in rows):
        raise _no_list()
    return rows


class Board:
    """A conversation over one port.

    ``hello`` shakes hands; ``greeting`` is what it gave. Every request may be repeated
    without harm, so a lost or torn answer is simply asked for again. ``clock`` returns
    seconds.
    """

    def __init__(self, port: Port, clock: Callable[[], float] = time.monotonic):
        self.clock = clock
        self._sequence = random.randrange(256)
        self._writer = FrameWriter()
        self._answers: dict[int, tuple[str, dict[str, Any]]] = {}
        self.use(port)
        self._live: deque[Reading] = deque(maxlen=LIVE_READINGS_MAX)
        self.greeting = Hello("", 0, "", 0, 0)
        self.on_bath: Callable[[], None] = lambda: None  # for a rehearsal: now into the bath

    def use(self, port: Port) -> None:
        """Go on over another port; what was on its way over the old one is forgotten."""
        self.port = port
        self._reader = FrameReader(self._on_frame)
        self._answers.clear()
        self._other_version = -1
        self.heard = 0  # bytes that have come, whatever they were

    # --- frames ---------------------------------------------------------------------

    def _on_frame(
        self, version: int, number: int, sequence: int, buffer: Any, start: int, end: int
    ) -> None:
        if version != catalogue.PROTOCOL_VERSION:
            self._other_version = version
            return
        if number < catalogue.LIVE:
            return  # our own request, echoed
        try:
            name = catalogue.message_name(number)
            values = structs.parse(catalogue.message_record(number), bytes(buffer[start:end]))
        except (KeyError, construct.ConstructError):
            return  # a frame with a right CRC that breaks the catalogue: not for us
        _log.debug("received %s, sequence %d: %s", name, sequence, values)
        if name == "live":
            self._live.append(_reading(values))
        else:
            self._answers[sequence] = (name, values)

    def pump(self) -> None:
        """Take what the line holds now."""
        data = self.port.read()
        if data:
            self.heard += len(data)
            self._reader.feed(data)

    def send(self, name: str, **values: Any) -> int:
        """Send a request; its sequence number."""
        self._sequence = (self._sequence + 1) & 0xFF
        number = catalogue.message_number(name)
        payload = structs.build(catalogue.message_record(number), values)
        start, end = FrameWriter.PAYLOAD_AT, FrameWriter.PAYLOAD_AT + len(payload)
        self._writer.body[start:end] = payload
        length = self._writer.finish(number, self._sequence, end)
        self._answers.pop(self._sequence, None)
        _log.debug("sent %s, sequence %d: %s", name, self._sequence, values)
        self.port.write(bytes(self._writer.line[:length]))
        return self._sequence

    def take(self, sequence: int, name: str) -> dict[str, Any] | None:
        """The answer to request ``sequence`` called ``name`` if it is there; Refused if the
        board said no."""
        if self._other_version >= 0:
            raise self._wrong_version(self._other_version)
        entry = self._answers.pop(sequence, None)
        if entry is None:
            return None
        got, values = entry
        if got == "error":
            raise self._refusal(values)
        return values if got == name + "_answer" else None

    def _wrong_version(self, version: int) -> WrongVersion:
        return WrongVersion(
            f"The board on {self.port.name} speaks version {version} of the protocol and this "
            f"tool version {catalogue.PROTOCOL_VERSION}: install the same release on both."
        )

    def _refusal(self, values: dict[str, Any]) -> LinkError:
        code = values["code"]
        if code == "wrong_version":
            return self._wrong_version(values["version"])
        what = _refused(values["request"], values["field"])
        means = _REFUSALS.get(code, _OUR_MISTAKE)
        return Refused(f"The board on {self.port.name} refused {what} ({code}): {means}.", code)

    def ask(self, name: str, **values: Any) -> dict[str, Any]:
        """Ask and wait for the answer; NoAnswer after TRIES times ANSWER_WAIT_S. An answer
        that comes late, after the request was sent again, serves as well; one that repeats
        other values than those it was asked with is none."""
        sequences: list[int] = []
        strange = False
        for _ in range(TRIES):
            sequences.append(self.send(name, **values))
            deadline_s = self.clock() + ANSWER_WAIT_S
            while self.clock() < deadline_s:
                self.pump()
                for sequence in sequences:
                    answer = self.take(sequence, name)
                    if answer is None:
                        continue
                    if all(answer.get(field, value) == value for field, value in values.items()):
                        return answer
                    strange = True
        if strange:
            raise NoAnswer(
                f"The board on {self.port.name} answers something else than it was asked: unplug "
                "it, plug it in and try again."
            )
        raise self._silence()

    def _silence(self) -> NoAnswer:
        if self._reader.good:
            return NoAnswer(f"The board on {self.port.name} stopped answering: check the cable.")
        if self._at_prompt():
            return NoAnswer(
                f"The board on {self.port.name} stands at MicroPython's prompt, so no firmware "
                "runs on it: unplug it and plug it in again without touching its button; if it "
                "stays so, 'snapcurve install' puts the firmware on it."
            )
        if self.heard:
            return NoAnswer(
                f"What is on {self.port.name} is no snapcurve board, or its cable is bad: "
                "try another."
            )
        return NoAnswer(
            f"Nothing answers on {self.port.name}: see that the firmware is installed and runs."
        )

    def _at_prompt(self) -> bool:
        """Whether the interpreter's prompt answers."""
        heard = b""
        with suppress(LinkError):
            self.port.write(PROMPT_ASKED)
            deadline_s = self.clock() + PROMPT_WAIT_S
            while self.clock() < deadline_s:
                heard += self.port.read()
                if heard.endswith(PROMPT):
                    return True
        return False

    # --- requests -------------------------------------------------------------------

    def hello(self) -> Hello:
        """Shake hands. The request is chosen free of INTERRUPT, which only a running
        firmware takes for an ordinary byte."""
        while True:
            following = (self._sequence + 1) & 0xFF
            length = self._writer.finish(HELLO, following, FrameWriter.PAYLOAD_AT)
            if INTERRUPT not in self._writer.line[:length]:
                break
            self._sequence = following
        values = self.ask("hello")
        self.greeting = Hello(
            firmware=f"{values['major']}.{values['minor']}.{values['patch']}",
            board_id=values["board_id"],
            board=values["board"],
            boot=values["boot"],
            uptime_ms=_uptime_ms(values),
            converter=values["converter"],
            tc_type=values["tc_type"],
        )
        return self.greeting

    def set_clock(self, unix_s: float) -> int:
        """Tell the time; the board's uptime in ms at that moment. SnapcurveError for a time
        that 32 bits of seconds since 1970 cannot say, or 0, which says that it is not known."""
        if not 1 <= unix_s < 1 << 32:
            year = int(1970 + unix_s // YEAR_S)
            raise SnapcurveError(
                f"This computer's clock says the year {year}, which no board can follow: set it "
                "and run the command again."
            )
        whole = int(unix_s)
        values = self.ask("clock_set", unix_s=whole, unix_ms=int((unix_s - whole) * 1000))
        return _uptime_ms(values)

    def put_profile(self, raw: bytes) -> None:
        """Send a profile, read it back and compare; LinkError if it did not arrive whole."""
        self.ask("profile_put", profile=raw)
        if self.ask("profile_get")["profile"] != raw:
            raise LinkError("The board did not store the profile as it was sent: try again.")

    def profile(self) -> bytes:
        """The profile on the board, empty if none."""
        return bytes(self.ask("profile_get")["profile"])

    def put_calibration(self, raw: bytes) -> None:
        """Send a calibration, read it back and compare; LinkError if it is not there whole."""
        self.ask("calibration_put", calibration=raw)
        if self.calibration() != raw:
            raise LinkError("The board did not store the calibration as it was sent: try again.")

    def calibration(self, file: str = "current") -> bytes:
        """The calibration on the board ("current", or "previous"), empty if none."""
        return bytes(self.ask("calibration_get", file=file)["calibration"])

    def probe_setting(self) -> ProbeSetting:
        """What is fitted to the board, as it reads it."""
        values = self.ask("probe_get")
        chosen, recognised = bool(values.pop("chosen")), bool(values.pop("recognised"))
        return ProbeSetting(Fitted(**values), chosen, recognised)

    def set_probe(self, fitted: Fitted) -> None:
        """Say what is fitted; Refused while a batch is recorded."""
        self.ask("probe_put", **vars(fitted))
        self.hello()  # which names type and converter

    def last_crash(self) -> Crash:
        """The firmware's last failure."""
        answer = self.ask("crash_get")
        reason = answer["reason"].decode(errors="replace")
        return Crash(answer["boot"], answer["crashes"], visible(reason))

    def chain_ends(self) -> list[ChainEndRow]:
        """What notebooks told the board of the end of their chains, the newest first; LinkError
        for what makes no sense."""
        raw = self.ask("chain_ends_get")["ends"]
        try:
            return [ChainEndRow(**row) for row in structs.parse_rows(catalogue.CHAIN_END, raw)]
        except construct.ConstructError as error:
            raise LinkError(
                "What the board knows of notebooks makes no sense: collect from it once more."
            ) from error

    def put_chain_end(self, end: ChainEndRow) -> None:
        """Have the board keep where a notebook's chain ends."""
        self.ask("chain_end_put", **vars(end))

    def bath(self, length_s: int = HOLD_OFF_S, dipping: bool = True) -> None:
        """Have no curve begin by itself for so long, nor afterwards before the probe was back
        in the room; Refused while one is recorded. Unless ``dipping``, the probe does not go in
        yet."""
        self.ask("bath", length_s=length_s)
        if dipping:
            self.on_bath()

    def curves(self) -> list[CurveRow]:
        """All curves on the board, oldest first; LinkError for a list that makes no sense."""
        rows: dict[int, CurveRow] = {}
        deadline_s = self.clock() + LIST_WAIT_S
        while True:
            first = len(rows)
            answer = self.ask("curves_list", first=first)
            part = _rows_of(answer["rows"])
            rows.update((row.curve, row) for row in part)
            # Each part is full, but for the last, and of other curves than those before: so a
            # list has an end.
            expected = max(0, min(answer["total"] - first, catalogue.CURVE_ROWS_MAX))
            if not len(part) == len(rows) - first == expected or self.clock() > deadline_s:
                raise _no_list()
            if len(rows) >= answer["total"]:
                return list(rows.values())

    def reading(self) -> Reading:
        """The reading of this moment."""
        return _reading(self.ask("reading_get"))

    def live(self, interval_ms: int) -> None:
        """Switch live readings on, or off with 0."""
        if interval_ms:
            self.ask("live_on", interval_ms=interval_ms)
        else:
            self.ask("live_off")

    def next_live(self) -> Reading | None:
        """A live reading that has come, or None."""
        self.pump()
        return self._live.popleft() if self._live else None

    def mark(self, mark: str, number: int = 0, token: int | None = None) -> int:
        """Note a mark once, however often the request had to be sent; uptime in ms. With its
        ``token`` (0 to 0xFFFF) a mark may be asked for again that brought no answer."""
        if token is None:
            token = random.randrange(0x10000)
        values = self.ask("mark", token=token, mark=mark, number=number)
        return _uptime_ms(values)

    def set_volume(self, volume: str, hours: int = 0) -> None:
        """How loud it is, a word of catalogue.VOLUMES; for so many hours, 0: from now on."""
        self.ask("volume_set", volume=volume, hours=hours)

    def erase(self, row: CurveRow) -> None:
        """Have the board erase a curve it can see was collected whole."""
        self.ask("curve_erase", curve=row.curve, size=row.size, crc=row.crc)

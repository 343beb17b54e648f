"""The message catalogue: every message, field, choice and limit, once.

Both sides read these texts: ``codec.py`` joins the codes into ``struct`` formats on the
board, the host builds ``construct`` structs from them. Texts, because a board has little
memory: written as tuples the same rows take four times as much of it.

A record is a list of fields with commas between them. A field is ``name code``, or ``name
code LIST`` with a list of words, or ``name * LONGEST``, or the name of another record, whose
fields then stand in its place:

=======  =============================================================================
code     meaning
=======  =============================================================================
b B      signed, unsigned 8-bit integer
h H      signed, unsigned 16-bit integer
i I      signed, unsigned 32-bit integer
32s      text: UTF-8, at most 32 bytes, filled up with zero bytes
*        the rest of the payload as bytes, at most so many; only as the last field
=======  =============================================================================

All numbers are little-endian. With a list the number on the wire is the position of the
word in it, and both sides speak in words: append new words, never reorder.
Any change to a row needs a new PROTOCOL_VERSION; a test holds a digest of the rows.
"""

PROTOCOL_VERSION = 1

# --- limits ---------------------------------------------------------------------------

CURVE_CHUNK_MAX = 1024  # bytes of a curve in one answer
PAYLOAD_MAX = CURVE_CHUNK_MAX + 16  # the longest payload of any message
BODY_MAX = 3 + PAYLOAD_MAX + 4  # version, number, sequence; payload; CRC-32
PROFILE_MAX = 256
REQUEST_BODY_MAX = 3 + PROFILE_MAX + 64 + 4  # the longest request, and one too long to be good
REASON_MAX = 160  # why the firmware failed
PHASES_MAX = 8
CALIBRATION_POINTS_MAX = 6
CALIBRATION_MAX = 128
CENTI_NONE = -32768  # "no value" in every centi-degree field
NO_FIELD = 255  # an error answer that blames no single field
NO_SECONDS = 0xFFFF  # "there is no telling" in a field of seconds

# --- choices --------------------------------------------------------------------------


class Words:
    """A list of words, kept as one text: as tuples all lists took 3 KB more of the heap."""

    def __init__(self, text: str):
        self.text = text

    def _find(self, word) -> int:
        """Where ``word`` stands in the text, -1 if it is none of these. Nothing is allocated:
        every message asks."""
        text = self.text
        at = -1 if not word or " " in word else text.find(word)
        while at >= 0:
            end = at + len(word)
            if (at == 0 or text[at - 1] == " ") and (end == len(text) or text[end] == " "):
                break
            at = text.find(word, end)
        return at

    def index(self, word: str) -> int:
        """The place of ``word``; ValueError if it is none of these."""
        at = self._find(word)
        if at < 0:
            raise ValueError(word)
        return self.text.count(" ", 0, at)

    def __contains__(self, word):
        return self._find(word) >= 0

    def __len__(self) -> int:
        return self.text.count(" ") + 1

    def __getitem__(self, place: int) -> str:
        return self.text.split(" ")[place]

    def __iter__(self):
        return iter(self.text.split(" "))

    def __repr__(self) -> str:
        return repr(tuple(self))


METHODS = Words("seeding three-step hold cup")
PHASE_KINDS = Words("none melt cool rewarm work")
DIRECTIONS = Words("rise fall hold")
PLACES = Words("unknown chocolate air entering")
ENGINE_STATES = Words("idle approach near dwell inside too_warm too_cool done")
ALARMS = Words(
    "near reached dwell_done too_hot too_warm too_cool back probe_out probe_in "
    "probe_fault probe_ok test_early test_due test_late store_full store_fault store_low "
    "temper_lost"
)
# How a dip test came out: set without a mark in time; still marking when it was due; set
# too soon. "next" and "back" change the phase by hand.
MARKS = Words("dip_test note silence passed failed set_early next back")
SOUNDS = Words("none " + ALARMS.text + " hello mark recording stopped passed failed phase resumed")
# light: nothing sounds, the light shows it
VOLUMES = Words("light quiet middle full")
EVENT_KINDS = Words("alarm mark fault resumed")
END_REASONS = Words("room button fault longest store_full power")
CURVE_STATES = Words("open closed")
CONVERTERS = Words("MAX31856 MAX31855")
TC_TYPES = Words("K T J N E")
CALIBRATION_STEPS = Words("ice boil point gallium")
CALIBRATION_FILES = Words("current previous")
ERROR_CODES = Words(
    "unknown_message wrong_version bad_length bad_value bad_choice bad_text "
    "no_such_curve not_the_same_curve still_recording no_profile store_fault"
)

# Fault bits as the board reports them, from bit 0 on: the converter's own eight first (its
# fault status register, bit for bit), then what only the driver can see.
FAULTS = Words(
    "open voltage tc_low tc_high cj_low cj_high tc_range cj_range bus config frozen "
    "short_to_ground short_to_supply"
)

# --- records that travel inside messages and in curves --------------------------------

PROFILE_HEAD = (
    "couverture 32s, method B METHODS, never_above_centi_c h, "
    "test_early_s H, test_due_s H, test_late_s H"
)
# A rising or falling phase ends when the chocolate crosses ``target``; a holding one
# keeps it between ``low`` and ``high``, and above ``target`` its temper is lost (a target
# no higher than ``high``: nobody knows where). The lead is how long before the predicted
# crossing "near" sounds; 0 means no lead sound.
PHASE = (
    "kind B PHASE_KINDS, direction B DIRECTIONS, target_centi_c h, low_centi_c h, "
    "high_centi_c h, lead_s H, dwell_s H"
)
# Points and lag are measured apart and dated apart; 0: not measured. The probe trails a
# step by one time constant, or by two in a row.
CALIBRATION_HEAD = "set_unix_s I, tolerance_class B, lag_unix_s I, lag_ms H, second_lag_ms H"
# The reference's limit is the half-width of what it may be wrong by, the spread the
# standard deviation of the plateau's readings.
CALIBRATION_POINT = (
    "indicated_centi_c h, correction_centi_c h, step B CALIBRATION_STEPS, unix_s I, "
    "reference_limit_milli_c H, spread_milli_c H, readings H, cold_junction_centi_c h"
)
CURVE_ROW = "curve H, state B CURVE_STATES, boot I, size I, crc I, generation I"
CURVE_ROWS_MAX = 48
CURVE_ROWS_BYTES = CURVE_ROWS_MAX * 19

# --- messages -------------------------------------------------------------------------
# The host asks with the numbers below 0x80; the answer has the number plus 0x80 and the
# sequence number of the request. Only ``live`` comes unasked, once it was switched on.

ANSWER = 0x80
ERROR = 0xFF
LIVE = 0x7E

MOMENT = "uptime_s I, uptime_ms H"

# ``uncorrected_128ths`` is in 1/128 °C: what a calibration starts from. ``window_left_s``: until
# the window is left at the present drift, or NO_SECONDS.
READING = (
    "MOMENT, age_ms H, indicated_centi_c h, uncorrected_128ths h, estimate_centi_c h, "
    "rate_centi_c_per_min h, room_centi_c h, faults H, place B PLACES, phase B PHASE_KINDS, "
    "state B ENGINE_STATES, curve H, sounding B SOUNDS, window_left_s H"
)

# A row is "number name: fields"; the numbers are hexadecimal.
# mark: the token makes a repeated request harmless, the board notes each token once. The board
# numbers dips itself; the number of a result is that of its dip, 0: of the newest.
# bath: for so long no curve begins by itself, nor afterwards before the probe was back in the
# room; a bath of ice or boiling water is no batch.
# maintenance: leaves the firmware for the interpreter's own prompt. Understood in every
# protocol version, so that another release can take this one's place.
# volume_set: for ``hours``, then as before; 0: until it is changed, also without power.
MESSAGES = """
01 hello:
81 hello_answer: major B, minor B, patch B, board_id I, board 32s, boot I, MOMENT, \
converter B CONVERTERS, tc_type B TC_TYPES
02 clock_set: unix_s I, unix_ms H
82 clock_set_answer: MOMENT
03 profile_put: profile * PROFILE_MAX
83 profile_put_answer: crc I
04 profile_get:
84 profile_get_answer: profile * PROFILE_MAX
05 calibration_get: file B CALIBRATION_FILES
85 calibration_get_answer: calibration * CALIBRATION_MAX
06 curves_list: first H
86 curves_list_answer: first H, total H, rows * CURVE_ROWS_BYTES
07 curve_read: curve H, offset I, longest H
87 curve_read_answer: curve H, offset I, total I, generation I, data * CURVE_CHUNK_MAX
08 curve_erase: curve H, size I, crc I
88 curve_erase_answer: curve H
09 live_on: interval_ms H
89 live_on_answer:
0a live_off:
8a live_off_answer:
0b reading_get:
8b reading_get_answer: READING
0c mark: token H, mark B MARKS, number H
8c mark_answer: token H, MOMENT
0d sound: sound B SOUNDS
8d sound_answer:
0e calibration_put: calibration * CALIBRATION_MAX
8e calibration_put_answer: crc I
0f bath: length_s H
8f bath_answer:
10 maintenance:
90 maintenance_answer:
11 crash_get:
91 crash_get_answer: boot I, crashes H, reason * REASON_MAX
12 volume_set: volume B VOLUMES, hours B
92 volume_set_answer:
7e live: READING
ff error: code B ERROR_CODES, request B, field B, version B
"""

# --- curve blocks ---------------------------------------------------------------------
# A curve is a row of blocks: BLOCK_HEAD, CRC-32 of head and body, a body by kind. Each
# block can be read without any other; the running number shows a lost one. The CRC stands
# before the body, not behind it: data followed by their own CRC bring any CRC-32 to one
# fixed value, and the CRC of a whole curve would then say nothing of its content.

BLOCK_SYNC = 0xC5
BLOCK_KINDS = ("head", "data", "clock", "end")
BLOCK_HEAD = "sync B, kind B BLOCK_KINDS, length H, curve H, block H"  # length: the whole block's
BLOCK_MAX = 704
BLOCK_SAMPLES = 120
BLOCK_FIRST_SAMPLES = 60  # with so many a block is written at once; the full one replaces it
BLOCK_EVENTS_MAX = 16
# unix_s 0: the clock was not set. calibrated_unix_s 0: no calibration.
CURVE_HEAD = (
    "board_id I, boot I, MOMENT, unix_s I, unix_ms H, major B, minor B, patch B, "
    "calibrated_unix_s I, profile * PROFILE_MAX"
)
# Samples follow the head as a bit stream (curve.py), then the events.
# ``start_ms`` counts from the start of the curve, ``bits_length`` the bytes of the stream.
DATA_HEAD = (
    "start_ms I, period_ms H, samples B, events B, rice_k B, first_128ths h, "
    "room_centi_c h, bits_length H"
)
# ``offset_ms`` counts from the start of the curve. ``code`` is the position in ALARMS of an
# alarm, in MARKS of a mark, the bits of a fault; ``number`` is that of a note, of a dip (from 1
# on in each curve) or of the dip whose result it is (0: nobody knows), or of the curve that
# this one continues.
EVENT = (
    "offset_ms I, kind B EVENT_KINDS, code H, phase B PHASE_KINDS, estimate_centi_c h, number H"
)
CLOCK_BLOCK = "offset_ms I, unix_s I, unix_ms H"
END_BLOCK = "offset_ms I, reason B END_REASONS"


def fields(record: str):
    """The fields of ``record`` as tuples ``(name, code)``, ``(name, code, words)`` or
    ``(name, "*", longest)``."""
    found = []
    for text in record.split(", ") if record else ():
        parts = text.split(" ")
        if len(parts) == 1:
            found.extend(fields(globals()[text]))
        elif len(parts) == 2:
            found.append((parts[0], parts[1]))
        else:
            word = parts[2]
            known = int(word) if word.isdigit() else globals()[word]
            found.append((parts[0], parts[1], known))
    return tuple(found)


def _row(start: int):
    """``(number, name, record)`` of the row of MESSAGES that begins at ``start``."""
    line = MESSAGES[start : MESSAGES.find("\n", start)]
    colon = line.find(":")
    return int(line[:2], 16), line[3:colon], line[colon + 2 :]


def messages():
    """All messages as ``(number, name, record)``."""
    start = 1
    while start < len(MESSAGES):
        yield _row(start)
        start = MESSAGES.find("\n", start) + 1


def _find(text: str, key):
    at = MESSAGES.find(text)
    if at < 0:
        raise KeyError(key)
    return at


def message_name(number: int) -> str:
    """The name of message ``number``; KeyError if the catalogue has none."""
    return _row(_find("\n%02x " % number, number) + 1)[1]


def message_record(number: int) -> str:
    """The record of message ``number``; KeyError if the catalogue has none."""
    return _row(_find("\n%02x " % number, number) + 1)[2]


def message_number(name: str) -> int:
    """The number of the message called ``name``; KeyError if the catalogue has none."""
    at = _find(" %s:" % name, name)
    return int(MESSAGES[at - 2 : at], 16)


def fault_names(bits: int):
    """The names of the fault bits set in ``bits``, in catalogue order."""
    return [name for place, name in enumerate(FAULTS) if bits >> place & 1]


def fault_bit(name: str) -> int:
    """The bit of the fault called ``name``; ValueError if there is none."""
    return 1 << FAULTS.index(name)

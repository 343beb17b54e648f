"""The message catalogue: every message, field, choice and limit, once.

``codec.py`` joins the codes into ``struct`` formats on the board, the host builds ``construct``
structs from them. Tuples, because dictionaries have no order under MicroPython.

A record is a tuple of fields. A field is ``(name, code)``, ``(name, code, words)`` or ``(name,
"*", longest)``:

=======  =============================================================================
code     meaning
=======  =============================================================================
b B      signed, unsigned 8-bit integer
h H      signed, unsigned 16-bit integer
i I      signed, unsigned 32-bit integer
32s      text: UTF-8, at most 32 bytes, filled up with zero bytes
*        the rest of the payload as bytes, at most ``longest``; only as the last field
=======  =============================================================================

All numbers are little-endian. With ``words`` the number on the wire is the position of the
word in the tuple: append new words, never reorder. Any change to a row needs a new
PROTOCOL_VERSION; a test holds a digest of the rows. Versions 3, 4 and 5 there are not: to the
interpreter's prompt these bytes are commands (interrupt, restart, paste).
"""

PROTOCOL_VERSION = 7

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
NO_FIELD = 255  # an error answer about no single field
NO_SECONDS = 0xFFFF  # "not known" in a field of seconds

# --- choices --------------------------------------------------------------------------

METHODS = (
    "seeding", "three-step", "hold", "cup", "slab", "cold-bath", "crystal-seed", "coating",
)  # fmt: skip
PHASE_KINDS = ("none", "melt", "cool", "rewarm", "work")
DIRECTIONS = ("rise", "fall", "hold")
PLACES = ("unknown", "chocolate", "air", "entering")
ENGINE_STATES = ("idle", "approach", "near", "dwell", "inside", "too_warm", "too_cool", "done")
ALARMS = (
    "near", "reached", "dwell_done", "too_hot", "too_warm", "too_cool", "back", "probe_out",
    "probe_in", "probe_fault", "probe_ok", "test_early", "test_due", "test_late", "store_full",
    "store_fault", "store_low", "temper_lost", "unreadable", "button_stuck",
)  # fmt: skip
# Of a dip test "passed" is set without a mark in time, "failed" still takes a mark when it is
# due. "next" and "back" change the phase by hand.
MARKS = ("dip_test", "note", "silence", "passed", "failed", "set_early", "next", "back")
SOUNDS = (
    ("none",)
    + ALARMS
    + ("hello", "mark", "recording", "stopped", "passed", "failed", "phase", "resumed")
)
# light: nothing sounds, the light shows it
VOLUMES = ("light", "quiet", "middle", "full")
EVENT_KINDS = ("alarm", "mark", "fault", "resumed")
END_REASONS = ("room", "button", "fault", "longest", "store_full", "power")
CURVE_STATES = ("open", "closed")
CONVERTERS = ("MAX31856", "MAX31855")
TC_TYPES = ("K", "T", "J", "N", "E")
MAINS_HZ = (50, 60)
CALIBRATION_STEPS = ("ice", "boil", "point", "gallium")
CALIBRATION_FILES = ("current", "previous")
ERROR_CODES = (
    "unknown_message", "wrong_version", "bad_length", "bad_value", "bad_choice", "bad_text",
    "no_such_curve", "not_the_same_curve", "still_recording", "no_profile", "store_fault",
)  # fmt: skip

# Fault bits as the board reports them, from bit 0 on: the converter's own eight first (its
# fault status register, bit for bit), then what only the driver can see.
FAULTS = (
    "open", "voltage", "tc_low", "tc_high", "cj_low", "cj_high", "tc_range", "cj_range", "bus",
    "config", "frozen", "short_to_ground", "short_to_supply",
)  # fmt: skip

# What is wrong with the board itself, from bit 0 on: a stored profile or calibration that cannot
# be read, a button that is never up, a calibration of another type of probe, which is not used, a
# stored probe setting that cannot be read.
TROUBLES = ("profile", "calibration", "button", "other_type", "probe")

# --- records that travel inside messages and in curves --------------------------------

PROFILE_HEAD = (
    ("couverture", "32s"),
    ("method", "B", METHODS),
    ("never_above_centi_c", "h"),
    ("test_early_s", "H"),
    ("test_due_s", "H"),
    ("test_late_s", "H"),
)
# A rising or falling phase ends when the chocolate crosses ``target``; a holding one
# keeps it between ``low`` and ``high``, and above ``target`` its temper is lost (a target
# no higher than ``high``: not known). The lead is how long before the predicted crossing
# "near" sounds; 0 means no lead sound.
PHASE = (
    ("kind", "B", PHASE_KINDS),
    ("direction", "B", DIRECTIONS),
    ("target_centi_c", "h"),
    ("low_centi_c", "h"),
    ("high_centi_c", "h"),
    ("lead_s", "H"),
    ("dwell_s", "H"),
)
# What is fitted: the thermocouple, the mains whose hum the converter is to filter (MAINS_HZ), and
# the converter.
PROBE = (
    ("tc_type", "B", TC_TYPES),
    ("mains_hz", "B"),
    ("converter", "B", CONVERTERS),
)
# Points and lag are measured apart and dated apart; 0: not measured. The probe trails a
# step by one time constant, or by two in a row. Before protocol version 6 there was no tc_type:
# the length tells.
CALIBRATION_HEAD = (
    ("set_unix_s", "I"),
    ("tolerance_class", "B"),
    ("lag_unix_s", "I"),
    ("lag_ms", "H"),
    ("second_lag_ms", "H"),
    ("tc_type", "B", TC_TYPES),
)
CALIBRATION_POINT = (
    ("indicated_centi_c", "h"),
    ("correction_centi_c", "h"),
    ("step", "B", CALIBRATION_STEPS),
    ("unix_s", "I"),
    ("reference_limit_milli_c", "H"),  # half-width of what the reference may be wrong by
    ("spread_milli_c", "H"),  # standard deviation of the plateau's readings
    ("readings", "H"),
    ("cold_junction_centi_c", "h"),
)
CURVE_ROW = (
    ("curve", "H"),
    ("state", "B", CURVE_STATES),
    ("boot", "I"),
    ("size", "I"),
    ("crc", "I"),
    ("generation", "I"),
)
# Where the hash chain of a notebook ended at the last collection: what tells that notebook
# from others, the number of its last seal, and the first digits of that seal's hash.
CHAIN_END = (
    ("notebook", "I"),
    ("number", "I"),
    ("hash", "32s"),
)
CHAIN_ENDS_MAX = 4
CHAIN_ENDS_BYTES = CHAIN_ENDS_MAX * 40
CURVE_ROWS_MAX = 48
CURVE_ROWS_BYTES = CURVE_ROWS_MAX * 19

# --- messages -------------------------------------------------------------------------
# The host asks with the numbers below 0x80; the answer has the number plus 0x80 and the
# sequence number of the request. Only ``live`` comes unasked, once it was switched on.

ANSWER = 0x80
ERROR = 0xFF
LIVE = 0x7E

MOMENT = (("uptime_s", "I"), ("uptime_ms", "H"))
_VERSION = (("major", "B"), ("minor", "B"), ("patch", "B"))

READING = MOMENT + (
    ("age_ms", "H"),
    ("indicated_centi_c", "h"),
    ("uncorrected_128ths", "h"),  # 1/128 °C: what a calibration starts from
    ("estimate_centi_c", "h"),
    ("rate_centi_c_per_min", "h"),
    ("room_centi_c", "h"),
    ("faults", "H"),
    ("place", "B", PLACES),
    ("phase", "B", PHASE_KINDS),
    ("state", "B", ENGINE_STATES),
    ("curve", "H"),
    ("sounding", "B", SOUNDS),
    ("window_left_s", "H"),  # until the window is left at the present drift, or NO_SECONDS
    ("troubles", "B"),  # bits of TROUBLES
)

# A row is number, name, record.
MESSAGES = (
    (0x01, "hello", ()),
    (
        0x81,
        "hello_answer",
        _VERSION
        + (("board_id", "I"), ("board", "32s"), ("boot", "I"))
        + MOMENT
        + (("converter", "B", CONVERTERS), ("tc_type", "B", TC_TYPES)),
    ),
    (0x02, "clock_set", (("unix_s", "I"), ("unix_ms", "H"))),
    (0x82, "clock_set_answer", MOMENT),
    (0x03, "profile_put", (("profile", "*", PROFILE_MAX),)),
    (0x83, "profile_put_answer", (("crc", "I"),)),
    (0x04, "profile_get", ()),
    (0x84, "profile_get_answer", (("profile", "*", PROFILE_MAX),)),
    (0x05, "calibration_get", (("file", "B", CALIBRATION_FILES),)),
    (0x85, "calibration_get_answer", (("calibration", "*", CALIBRATION_MAX),)),
    (0x06, "curves_list", (("first", "H"),)),
    (
        0x86,
        "curves_list_answer",
        (("first", "H"), ("total", "H"), ("rows", "*", CURVE_ROWS_BYTES)),
    ),
    (0x07, "curve_read", (("curve", "H"), ("offset", "I"), ("longest", "H"))),
    (
        0x87,
        "curve_read_answer",
        (
            ("curve", "H"),
            ("offset", "I"),
            ("total", "I"),
            ("generation", "I"),
            ("data", "*", CURVE_CHUNK_MAX),
        ),
    ),
    (0x08, "curve_erase", (("curve", "H"), ("size", "I"), ("crc", "I"))),
    (0x88, "curve_erase_answer", (("curve", "H"),)),
    (0x09, "live_on", (("interval_ms", "H"),)),
    (0x89, "live_on_answer", ()),
    (0x0A, "live_off", ()),
    (0x8A, "live_off_answer", ()),
    (0x0B, "reading_get", ()),
    (0x8B, "reading_get_answer", READING),
    # The token makes a repeated request harmless: the board notes each token once. The board
    # numbers dips itself; the number of a result is that of its dip, 0: of the newest.
    (0x0C, "mark", (("token", "H"), ("mark", "B", MARKS), ("number", "H"))),
    (0x8C, "mark_answer", (("token", "H"),) + MOMENT),
    (0x0D, "sound", (("sound", "B", SOUNDS),)),
    (0x8D, "sound_answer", ()),
    (0x0E, "calibration_put", (("calibration", "*", CALIBRATION_MAX),)),
    (0x8E, "calibration_put_answer", (("crc", "I"),)),
    # For so long no curve begins by itself, nor afterwards before the probe was in the room.
    (0x0F, "bath", (("length_s", "H"),)),
    (0x8F, "bath_answer", ()),
    # Leaves the firmware for the interpreter's prompt; understood in every protocol version.
    (0x10, "maintenance", ()),
    (0x90, "maintenance_answer", ()),
    (0x11, "crash_get", ()),
    (0x91, "crash_get_answer", (("boot", "I"), ("crashes", "H"), ("reason", "*", REASON_MAX))),
    # For ``hours``, then as before; 0: until it is changed, also without power.
    (0x12, "volume_set", (("volume", "B", VOLUMES), ("hours", "B"))),
    (0x92, "volume_set_answer", ()),
    # The converter in use is the one that was recognised (1), else the one that was set; chosen 0:
    # nobody has set anything yet.
    (0x13, "probe_get", ()),
    (0x93, "probe_get_answer", PROBE + (("chosen", "B"), ("recognised", "B"))),
    (0x14, "probe_put", PROBE),
    (0x94, "probe_put_answer", ()),
    # One for each notebook, the newest first; the board keeps CHAIN_ENDS_MAX.
    (0x15, "chain_end_put", CHAIN_END),
    (0x95, "chain_end_put_answer", ()),
    (0x16, "chain_ends_get", ()),
    (0x96, "chain_ends_get_answer", (("ends", "*", CHAIN_ENDS_BYTES),)),
    (LIVE, "live", READING),
    (
        ERROR,
        "error",
        (("code", "B", ERROR_CODES), ("request", "B"), ("field", "B"), ("version", "B")),
    ),
)

# --- curve blocks ---------------------------------------------------------------------
# A curve is a row of blocks: BLOCK_HEAD, CRC-32 of head and body, a body by kind. Each
# block can be read without any other; the running number shows a lost one. The CRC stands
# before the body: data followed by their CRC bring a CRC-32 to one fixed value, and the CRC of
# a whole curve would then depend on the blocks' lengths only. The body of "probe", which follows
# the head since protocol version 6, is PROBE.

BLOCK_SYNC = 0xC5
BLOCK_KINDS = ("head", "data", "clock", "end", "probe")
BLOCK_HEAD = (
    ("sync", "B"),
    ("kind", "B", BLOCK_KINDS),
    ("length", "H"),  # of the whole block
    ("curve", "H"),
    ("block", "H"),
)
BLOCK_MAX = 704
BLOCK_SAMPLES = 120
BLOCK_FIRST_SAMPLES = 60  # with so many a block is written at once; the full one replaces it
BLOCK_EVENTS_MAX = 16
CURVE_HEAD = (
    (("board_id", "I"), ("boot", "I"))
    + MOMENT
    + (("unix_s", "I"), ("unix_ms", "H"))  # 0: the clock was not set
    + _VERSION
    + (("calibrated_unix_s", "I"), ("profile", "*", PROFILE_MAX))  # 0: no calibration
)
# Samples follow the head as a bit stream (curve.py), then the events.
DATA_HEAD = (
    ("start_ms", "I"),  # since the start of the curve
    ("period_ms", "H"),
    ("samples", "B"),
    ("events", "B"),
    ("rice_k", "B"),
    ("first_128ths", "h"),
    ("room_centi_c", "h"),
    ("bits_length", "H"),  # of the bit stream, in bytes
)
EVENT = (
    ("offset_ms", "I"),  # since the start of the curve
    ("kind", "B", EVENT_KINDS),
    ("code", "H"),  # alarm: place in ALARMS; mark: place in MARKS; fault: bits
    ("phase", "B", PHASE_KINDS),
    ("estimate_centi_c", "h"),
    # Of a note, of a dip (from 1 on in each curve), of the dip whose result it is (0: not known),
    # or of the curve that this one continues.
    ("number", "H"),
)
CLOCK_BLOCK = (("offset_ms", "I"), ("unix_s", "I"), ("unix_ms", "H"))
END_BLOCK = (("offset_ms", "I"), ("reason", "B", END_REASONS))


def _row(number: int):
    # A search and no dictionary: that would take 1 KB of a board's heap.
    for row in MESSAGES:
        if row[0] == number:
            return row
    raise KeyError(number)


def message_name(number: int) -> str:
    """The name of message ``number``; KeyError if the catalogue has none."""
    return _row(number)[1]


def message_record(number: int):
    """The record of message ``number``; KeyError if the catalogue has none."""
    return _row(number)[2]


def message_number(name: str) -> int:
    """The number of the message called ``name``; KeyError if the catalogue has none."""
    for row in MESSAGES:
        if row[1] == name:
            return row[0]
    raise KeyError(name)


def names_of(words, bits: int):
    """The words whose bits are set in ``bits``, in the order of ``words``."""
    return [name for place, name in enumerate(words) if bits >> place & 1]


def fault_names(bits: int):
    """The names of the fault bits set in ``bits``, in catalogue order."""
    return names_of(FAULTS, bits)


def fault_bit(name: str) -> int:
    """The bit of the fault called ``name``; ValueError if there is none."""
    return 1 << FAULTS.index(name)

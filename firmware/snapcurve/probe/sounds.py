"""Every sound the board can make, once.

A pattern is a row of letters: ``t`` a tick of 40 ms, ``s`` a short pulse of 120 ms, ``m``
one of 300 ms, ``l`` a long one of 700 ms; ``.`` a pause of 120 ms, ``-`` one of 320 ms.
Number, length and spacing of the pulses tell patterns apart, without a sense of tempo: no
pattern is another one played faster. Pitch comes second: three of them, at least 20 % apart, near
the 2 kHz at which the beeper is loudest, and at most 2300 Hz, since many people hear little above
2500 Hz (JIS S 0013 as reported at second hand; not a danger signal, no conformity claimed).

An urgent pattern repeats until the button silences it or its cause has gone. What has priority 1
is told by the light alone.
"""

PULSE_MS = {"t": 40, "s": 120, "m": 300, "l": 700}
PAUSE_MS = {".": 120, "-": 320}

# name, rhythm, pitch in Hz, priority (higher wins), and whether it is urgent; what each means:
# sound_meanings.py
TABLE = (
    ("probe_fault", "s.s-s.s-s.s", 1900, 9, True),
    ("too_hot", "s.s.s.s.s.s.s.s", 2300, 8, True),
    ("store_fault", "s.l.s.l", 1580, 3, False),
    ("temper_lost", "l.s.s.s", 1900, 7, True),
    ("too_warm", "m.m.m", 2300, 6, True),
    ("too_cool", "l.l", 1580, 6, True),
    ("unreadable", "m.m.m.m.m", 1580, 6, True),
    ("reached", "s.s.s-l", 1900, 5, False),
    ("test_due", "l.l.l", 2300, 5, False),
    ("test_early", "s-s-s", 2300, 5, False),
    ("test_late", "l-s-l-s", 2300, 4, False),
    ("dwell_done", "l.s", 1900, 4, False),
    ("near", "s.s", 1900, 4, False),
    ("back", "s-s", 1900, 3, False),
    ("probe_ok", "m.s.m", 1900, 3, False),
    ("store_full", "s.m.s.m", 1580, 3, False),
    ("store_low", "m.s.s", 1580, 3, False),
    ("button_stuck", "s.l.l.l.s", 1580, 3, False),
    ("resumed", "l.m.s", 1900, 2, False),
    ("stopped", "m-s", 1580, 2, False),
    ("recording", "s.m", 1900, 1, False),
    ("hello", "t.s.l", 1900, 2, False),
    ("mark", "t.s", 2300, 2, False),
    ("passed", "t.t.l", 2300, 2, False),
    ("failed", "l.t.t", 1580, 2, False),
    ("phase", "t.t.t.t", 1900, 2, False),
    ("probe_in", "t.t-t", 1900, 1, False),
    ("probe_out", "t", 1580, 1, False),
)
# A set of urgent sounds is a number whose bit N stands for URGENT[N].
URGENT = tuple([row[0] for row in TABLE if row[4]])


def find(name: str):
    """The row of the sound called ``name``: name, rhythm, Hz, priority, urgent; KeyError if
    there is none."""
    for row in TABLE:
        if row[0] == name:
            return row
    raise KeyError(name)


def names():
    """All sounds, the most important first."""
    return [row[0] for row in TABLE]


def tones(rhythm: str):
    """The rhythm as ``[(sounding, ms), ...]``."""
    return [
        (True, PULSE_MS[letter]) if letter in PULSE_MS else (False, PAUSE_MS[letter])
        for letter in rhythm
    ]

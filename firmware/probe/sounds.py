"""Every sound the board can make, once.

A pattern is a row of letters: ``t`` a tick of 40 ms, ``s`` a short pulse of 120 ms, ``m``
one of 300 ms, ``l`` a long one of 700 ms; ``.`` a pause of 120 ms, ``-`` one of 320 ms.
Pulses are told apart by number, length and spacing first, also by one who has no sense of
tempo: no pattern is another one played faster. Pitch comes second; pitches are at least
20 % apart and at most 2000 Hz, since many people hear little above 2500 Hz
(JIS S 0013 as reported at second hand; not a danger signal, no conformity claimed).

An urgent pattern repeats until the button silences it or its cause has gone.
"""

PULSE_MS = {"t": 40, "s": 120, "m": 300, "l": 700}
PAUSE_MS = {".": 120, "-": 320}

LOW = 640
MIDDLE = 800
MAIN = 1000
RAISED = 1250
HIGH = 1600
TOP = 2000

# name, rhythm, pitch in Hz, priority (higher wins), urgent, meaning
SOUNDS = (
    ("probe_fault", "s.s-s.s-s.s", LOW, 9, True, "the probe gives no reading: check it"),
    ("too_hot", "s.s.s.s.s.s.s.s", TOP, 8, True, "hotter than this couverture may get"),
    ("store_fault", "s.l.s.l", LOW, 3, False, "the recording cannot be written"),
    ("temper_lost", "l.s.s.s", HIGH, 7, True, "so warm that the good crystals melt: seed again"),
    ("too_warm", "m.m.m", TOP, 6, True, "above the working window"),
    ("too_cool", "l.l", MIDDLE, 6, True, "below the working window"),
    ("reached", "s.s.s-l", HIGH, 5, False, "the temperature of this phase is reached"),
    ("test_due", "l.l.l", RAISED, 5, False, "the test blade should be set: touch it"),
    ("test_early", "s-s-s", RAISED, 5, False, "look at the blade: set already is too early"),
    ("test_late", "l-s-l-s", RAISED, 4, False, "the test blade was due a while ago"),
    ("dwell_done", "l.s", HIGH, 4, False, "held long enough: go on"),
    ("near", "s.s", MAIN, 4, False, "nearly there: stop heating, or add no more pieces"),
    ("back", "s-s", MAIN, 3, False, "back in the working window"),
    ("probe_ok", "m.s.m", MAIN, 3, False, "the probe reads again"),
    ("store_full", "s.m.s.m", LOW, 3, False, "the store is full: collect the curves"),
    ("store_low", "m.s.s", LOW, 3, False, "one more batch fits: collect the curves soon"),
    ("stopped", "m-s", MIDDLE, 2, False, "recording has ended"),
    ("recording", "s.m", MAIN, 2, False, "recording has begun"),
    ("hello", "t.s.l", MAIN, 2, False, "the board has started"),
    ("mark", "t.s", RAISED, 2, False, "the dip test has begun"),
    ("passed", "t.t.l", HIGH, 2, False, "noted: the blade set without a mark"),
    ("failed", "l.t.t", MIDDLE, 2, False, "noted: the blade took a mark, or set too soon"),
    ("phase", "t.t.t.t", MAIN, 2, False, "the phase was changed by hand"),
    ("probe_in", "t.t-t", MAIN, 1, False, "the reading counts again"),
    ("probe_out", "t", LOW, 1, False, "the probe is out: no alarms until it is back"),
)


def find(name: str):
    """The row of the sound called ``name``; KeyError if there is none."""
    for row in SOUNDS:
        if row[0] == name:
            return row
    raise KeyError(name)


def tones(rhythm: str):
    """The rhythm as ``[(sounding, ms), ...]``."""
    return [
        (True, PULSE_MS[letter]) if letter in PULSE_MS else (False, PAUSE_MS[letter])
        for letter in rhythm
    ]

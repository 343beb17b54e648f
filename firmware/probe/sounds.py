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

# name, rhythm, pitch in Hz, priority (higher wins), and whether it is urgent. A text, because
# a board has little memory; what each means is for people (sound_meanings.py).
TABLE = """
probe_fault s.s-s.s-s.s 640 9 urgent
too_hot s.s.s.s.s.s.s.s 2000 8 urgent
store_fault s.l.s.l 640 3
temper_lost l.s.s.s 1600 7 urgent
too_warm m.m.m 2000 6 urgent
too_cool l.l 800 6 urgent
reached s.s.s-l 1600 5
test_due l.l.l 1250 5
test_early s-s-s 1250 5
test_late l-s-l-s 1250 4
dwell_done l.s 1600 4
near s.s 1000 4
back s-s 1000 3
probe_ok m.s.m 1000 3
store_full s.m.s.m 640 3
store_low m.s.s 640 3
resumed l.m.s 1000 2
stopped m-s 800 2
recording s.m 1000 2
hello t.s.l 1000 2
mark t.s 1250 2
passed t.t.l 1600 2
failed l.t.t 800 2
phase t.t.t.t 1000 2
probe_in t.t-t 1000 1
probe_out t 640 1
"""


def find(name: str):
    """The row of the sound called ``name``: name, rhythm, Hz, priority, urgent; KeyError if
    there is none."""
    begin = TABLE.find("\n%s " % name) + 1
    if not begin:
        raise KeyError(name)
    words = TABLE[begin : TABLE.find("\n", begin)].split(" ")
    return words[0], words[1], int(words[2]), int(words[3]), len(words) == 5


def names():
    """All sounds, the most important first."""
    return [line.split(" ")[0] for line in TABLE.split("\n") if line]


def tones(rhythm: str):
    """The rhythm as ``[(sounding, ms), ...]``."""
    return [
        (True, PULSE_MS[letter]) if letter in PULSE_MS else (False, PAUSE_MS[letter])
        for letter in rhythm
    ]

"""Who stands at the bench: hears pulses, their lengths and the silence between them."""

import re
from itertools import pairwise
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"
COUNTS = {"a": 1, "one": 1, "two": 2, "three": 3, "eight": 8}
LENGTHS = {"short": "short", "quick": "short", "middle": "middle", "long": "long"}
APART_MS = 360  # a longer silence parts two sounds


class Listener:
    """Notes what ``beeper`` does; ``heard`` gives it as sounds."""

    def __init__(self, beeper, now):
        self._notes = []  # (ms, hz, volume)
        switch = beeper.tone

        def tone(hz):
            switch(hz)
            self._notes.append((now(), hz, getattr(beeper, "volume", 0)))

        beeper.tone = tone

    def pulses(self, from_ms=0, to_ms=1 << 62, light=False):
        """``(start, length)`` of what was audible, or seen of the light as well."""
        return [
            (start, end - start)
            for (start, hz, volume), (end, _, _) in pairwise(self._notes)
            if hz and from_ms <= start < to_ms and end > start and (volume or light)
        ]

    def heard(self, from_ms=0, to_ms=1 << 62, light=False):
        """The sounds as ``(start, words)``, each pulse a word; a pause that is longer than the
        others of its sound is one as well."""
        found = []
        for start, length in self.pulses(from_ms, to_ms, light):
            if found and start - found[-1][-1][1] <= APART_MS:
                found[-1].append((start, start + length))
            else:
                found.append([(start, start + length)])
        return [(sound[0][0], _words(sound)) for sound in found]


def _words(sound):
    words = []
    for index, (start, end) in enumerate(sound):
        if index and start - sound[index - 1][1] > 200:
            words.append("pause")
        length = end - start
        words.append("tick" if length < 80 else "short" if length < 200 else
                     "middle" if length < 500 else "long")  # fmt: skip
    return tuple(words)


def told():
    """The table of README.md: ``{meaning: (words, whether it repeats)}``."""
    table = README.read_text().split("You hear\n", 1)[1].split("\n\n")[0]
    rows = re.findall(r"^\| (\S.*?) \| (\S.*?) \|$", table, re.MULTILINE)
    return {meaning: (_rhythm(sound), "repeating" in sound) for sound, meaning in rows}


def _rhythm(sentence):
    """ "three short and a long" as words."""
    apart = "far apart" in sentence
    count, words = 1, []
    for word in re.findall(r"\w+", sentence):
        count = COUNTS.get(word, count)
        if word == "pause":
            words.append("pause")
        elif word in LENGTHS:
            for index in range(count):
                words += ["pause"] * bool(apart and index) + [LENGTHS[word]]
            count = 1
    return tuple(words)

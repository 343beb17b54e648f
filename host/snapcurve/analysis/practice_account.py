"""A fair account of a practice bowl: what was true, what was read, what would have been right.

A finding names what was done and says whether it was right. Each lesson has its own; they judge
by what was in the bowl and what was done to it, never by how it was read.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from snapcurve.analysis.practice_facts import (
    IN_TEMPER_SHARE,
    THICK_SHARE,
    BladeFact,
    Called,
    Facts,
)
from snapcurve.errors import SnapcurveError
from snapcurve.shown.units import PLAIN, Style
from snapcurve.simulation.blade import GRAINY_LUMPS
from snapcurve.simulation.practice_diary import Diary
from snapcurve.simulation.practice_words import SMELLS
from snapcurve.simulation.situations import Situation, situation_named

SLOW_MOST_C, SLOW_BURST_S = 48.0, 10.0
LEAST_RESEED_G, MOST_TOUCH_G = 40.0, 60.0
MOLTEN_SOLID = 0.002
MOMENTS = (
    "dip", "heat", "hot_air", "seed", "crystals", "melted", "lift_out", "cold", "back",
    "cool_room", "pour_off", "put_away",
)  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """What was done, in a sentence; whether that was right."""

    good: bool
    text: str


@dataclass(frozen=True)
class Moment:
    """A moment that mattered: °C; ``reads_c`` None with the probe out; crystals as a part of
    all."""

    seconds: float
    what: str
    reads_c: float | None
    chocolate_c: float
    crystals_share: float


@dataclass(frozen=True)
class Account:
    """All of it; ``lesson`` and ``situation`` None for a bowl without one. ``passed``: the lesson
    was done right, in all its findings."""

    learner: str
    lesson: str | None
    situation: Situation | None
    setting: dict[str, Any]
    seconds: float
    findings: tuple[Finding, ...]
    moments: tuple[Moment, ...]
    blades: tuple[BladeFact, ...]
    acts: int

    @property
    def passed(self) -> bool:
        """Whether everything was right."""
        return all(one.good for one in self.findings)


def account_of(
    diary: Diary,
    learner: str = "",
    style: Style = PLAIN,
    called: Sequence[Called] = (),
    *,
    away: bool = False,
) -> Account:
    """The account of ``diary`` and of what its learner ``called`` the blades; ``away``: its bowl
    is put away. SnapcurveError if it has not ended: what is true is told afterwards."""
    facts = Facts(diary, called)
    if facts.ended_s is None and not away:
        raise SnapcurveError(
            "This bowl has not ended: hold the button ('practise hold') to end the recording, or "
            "put the bowl aside ('practise put-away'); then the account is told."
        )
    lesson = diary.setting["lesson"]
    judge = _Judge(facts, style)
    findings = list(judge.always())
    findings += LESSONS[lesson](judge) if lesson else judge.free()
    findings += judge.called()
    return Account(
        learner=learner,
        lesson=lesson,
        situation=situation_named(lesson, style) if lesson else None,
        setting=diary.setting,
        seconds=facts.last.seconds,
        findings=tuple(findings),
        moments=tuple(_moments(facts)),
        blades=tuple(facts.blades),
        acts=sum(not one.refused for one in diary.done),
    )


def _moments(facts: Facts) -> Iterator[Moment]:
    """The start, what mattered, the hottest, the end."""
    named = [(facts.truth[0].seconds, "start")]
    if facts.hottest.seconds > facts.truth[0].seconds:
        named.append((facts.hottest.seconds, "hottest"))
    named += [(one.seconds, one.act) for one in facts.acts(*MOMENTS)]
    named.append((facts.last.seconds, "end"))
    for seconds, what in sorted(named, key=lambda one: one[0]):
        then = facts.at(seconds)
        yield Moment(
            seconds,
            what.replace("_", " "),
            then.reads_c if then.inside else None,
            then.chocolate_c,
            then.crystals_share,
        )


Findings = Iterator[Finding]


class _Judge:
    """One method for each lesson, and what they share."""

    def __init__(self, facts: Facts, style: Style):
        self.facts = facts
        self.style = style
        self.limits = facts.limits

    def at(self, seconds: float) -> str:
        """A time of the bench in words."""
        minutes, rest = divmod(int(seconds), 60)
        return f"at {minutes}:{rest:02d}"

    def degrees(self, value_c: float) -> str:
        """A temperature in words."""
        return self.style.degrees_words(round(value_c, 1))

    def always(self) -> Findings:
        """What holds for every bowl: the probe and the oven."""
        tried = self.facts.acts("heat", refused=True)
        if tried:
            yield Finding(
                False,
                f"You reached for the microwave oven {self.at(tried[0].seconds)} with the probe "
                "in the bowl. Metal arcs: it comes out before every burst.",
            )

    def free(self) -> Findings:
        """A bowl without a lesson: heat, and what the last blade proves."""
        facts, limits = self.facts, self.limits
        hottest_c = facts.hottest.chocolate_c
        yield Finding(
            hottest_c <= limits.never_above_c,
            f"It was {self.degrees(hottest_c)} at its hottest ({self.at(facts.hottest.seconds)}); "
            f"{limits.name} bears {self.degrees(limits.never_above_c)}.",
        )
        yield from self.blade_proves()
        yield from self.ended_inside()

    def blade_proves(self) -> Findings:
        """What the last blade truly was."""
        blades = self.facts.blades
        if not blades:
            yield Finding(False, "You dipped no blade, and only a blade proves temper.")
            return
        last = blades[-1]
        words = self.set_words(last)
        number = f"Your blade {len(blades)}" if len(blades) > 1 else "Your only blade"
        share = self.style.number(100 * last.crystals_share, 1)
        yield Finding(
            last.in_time,
            f"{number} ({self.at(last.seconds)}) set {words}, with {share} % of fine crystals "
            "in the bowl; in temper it sets between 3 and 5 min.",
        )

    def ended_inside(self) -> Findings:
        """Whether it was in its window at the end."""
        last_c = self.facts.last.chocolate_c
        window = self.style.window(self.limits.low_c, self.limits.high_c)
        inside = self.facts.in_window
        yield Finding(
            inside,
            f"At the end it was {self.degrees(last_c)}, {'inside' if inside else 'outside'} its "
            f"window of {window}.",
        )

    def no(self, names: tuple[str, ...], done: str, kept: str) -> Findings:
        """That something was not done."""
        acts = self.facts.acts(*names)
        if acts:
            yield Finding(False, f"You {done} ({self.at(acts[0].seconds)}).")
        else:
            yield Finding(True, f"You {kept}.")

    def seeded(self, least_g: float, most_g: float, why: str) -> Findings:
        """How much seed went in."""
        grams = self.facts.total("seed", "crystals")
        if grams == 0:
            yield Finding(False, f"You stirred in no seed: {why}")
            return
        first = self.at(self.facts.acts("seed", "crystals")[0].seconds)
        said = f"You stirred in {self.style.mass_words(grams)} of seed, from {first[3:]} on"
        if grams < least_g:
            yield Finding(False, f"{said}: too little; {why}")
        elif grams > most_g:
            yield Finding(False, f"{said}: more than it needs; {why}")
        else:
            yield Finding(True, f"{said}.")

    def not_thick(self) -> Findings:
        """Whether it flows at the end."""
        share = self.facts.last.crystals_share
        percent = self.style.number(100 * share, 1)
        if share > THICK_SHARE:
            yield Finding(False, f"It ended thick, with {percent} % of fine crystals.")
        elif share < IN_TEMPER_SHARE:
            yield Finding(
                False, f"It ended with {percent} % of fine crystals: too few to set well."
            )
        else:
            yield Finding(True, f"It ended with {percent} % of fine crystals: it flows and sets.")

    def crystals_kept(self) -> Findings:
        """Whether it never got so warm that the good crystals melt."""
        lost_c = self.limits.lost_c
        if lost_c is None:
            return
        above_s = self.facts.above_s(lost_c)
        if above_s > 0:
            yield Finding(
                False,
                f"It stood above {self.degrees(lost_c)} for {above_s:.0f} s, up to "
                f"{self.degrees(self.facts.hottest.chocolate_c)}: there its crystals melt.",
            )
        else:
            yield Finding(
                True, f"It never rose above {self.degrees(lost_c)}: its crystals stayed."
            )

    def called(self) -> Findings:
        """Whether the learner called each blade what it was."""
        for one in self.facts.called:
            blade = self.facts.blade_called(one)
            if blade is None:
                continue
            right = one.passed == blade.in_time
            yield Finding(
                right,
                f"You told the board of the blade dipped {self.at(blade.seconds)}: {one.words}. "
                + ("So it was." if right else f"Truly it set {self.set_words(blade)}."),
            )

    def set_words(self, blade: BladeFact) -> str:
        """After how long a blade set."""
        if blade.set_s is None:
            return "not within half an hour"
        minutes, rest = divmod(int(blade.set_s), 60)
        return f"after {minutes}:{rest:02d} min"

    # --- the lessons -------------------------------------------------------------------

    def over_warm_melt(self) -> Findings:
        """Out of the heat, and below the limit at once."""
        facts, limit_c = self.facts, self.limits.never_above_c
        yield from self.no(
            ("heat", "hot_air"), "put it back into the heat", "gave it no more heat"
        )
        above_s = facts.above_s(limit_c)
        scorched = facts.last.scorched
        done = [one for one in facts.acts("cold", "seed", "stir") if one.seconds <= above_s + 1]
        by = {"cold": "set it into the cold", "seed": "stirred in pieces", "stir": "stirred"}
        hands = " and ".join(dict.fromkeys(by[one.act] for one in done)) or "left it standing"
        ended = facts.last.chocolate_c <= limit_c
        yield Finding(
            scorched < SMELLS and ended,
            f"You {hands}: it was above {self.degrees(limit_c)} for {above_s:.0f} s, and "
            + ("did not scorch." if scorched < SMELLS else "it smells burnt now."),
        )

    def too_little_seed(self) -> Findings:
        """A touch of seed, and a blade to prove it."""
        yield from self.seeded(8.0, MOST_TOUCH_G, "10 to 50 g, chopped fine, are enough.")
        yield from self.blade_proves()
        yield from self.ended_inside()

    def too_cool_and_thick(self) -> Findings:
        """Gentle warmth, not beyond what the crystals bear."""
        air_s = self.facts.total("hot_air")
        oven = self.facts.acts("heat")
        if oven:
            yield Finding(
                False,
                f"You used the microwave oven ({self.at(oven[0].seconds)}): too coarse for a "
                "degree or two.",
            )
        elif air_s:
            yield Finding(True, f"You gave it {air_s:.0f} s of hot air in all.")
        else:
            yield Finding(False, "You gave it no warmth: by itself it only gets thicker.")
        yield from self.crystals_kept()
        yield from self.not_thick()
        yield from self.ended_inside()

    def lost_crystals(self) -> Findings:
        """Seed anew; cooling brings nothing back."""
        yield from self.seeded(
            LEAST_RESEED_G, 200.0, "no crystal was left in it, and cooling brings none back."
        )
        yield from self.blade_proves()
        yield from self.ended_inside()

    def grainy(self) -> Findings:
        """No lumps, and the temper kept."""
        lumps = self.facts.last.lumps_share
        lifted = self.facts.acts("lift_out")
        how = (
            f"You lifted the lumps out ({self.at(lifted[0].seconds)})"
            if lifted
            else ("You stirred on")
        )
        left = "nothing grainy is left" if lumps <= GRAINY_LUMPS else "it is grainy still"
        yield Finding(lumps <= GRAINY_LUMPS, f"{how}: {left}.")
        yield from self.no(
            ("seed", "crystals"), "stirred in more pieces: more lumps", "stirred in no more pieces"
        )
        yield from self.crystals_kept()
        yield from self.not_thick()

    def water(self) -> Findings:
        """Nothing saves it: put it aside."""
        yield from self.no(
            ("heat", "hot_air", "melted"),
            "warmed a seized bowl: that does not bring it back",
            "did not try to warm it back",
        )
        yield from self.no(
            ("seed", "crystals"),
            "stirred good couverture into a seized bowl",
            "stirred no good couverture into it",
        )
        aside = self.facts.acts("put_away")
        if aside:
            yield Finding(True, f"You put it aside ({self.at(aside[0].seconds)}).")
        else:
            yield Finding(False, "You did not put it aside, and it is good for no mould.")

    def warm_kitchen(self) -> Findings:
        """The bowl is right; the room is not."""
        yield from self.no(
            ("seed", "crystals", "heat"),
            "changed a bowl that was in temper, for a blade that the room kept soft",
            "left the bowl as it was",
        )
        cooled = self.facts.acts("cool_room")
        if cooled:
            yield Finding(True, f"You cooled the room ({self.at(cooled[0].seconds)}).")
        else:
            yield Finding(False, "You left the kitchen warm: there no blade sets in time.")
        yield from self.blade_proves()

    def slow_probe(self) -> Findings:
        """Melted through, and never far beyond."""
        facts = self.facts
        long = [one for one in facts.acts("heat") if (one.amount or 0.0) > SLOW_BURST_S]
        if long:
            yield Finding(
                False,
                f"You gave bursts of up to {max(one.amount or 0 for one in long):.0f} s with a "
                "probe that trails: short ones show what they do.",
            )
        elif facts.acts("heat"):
            count = len(facts.acts("heat"))
            yield Finding(True, f"You gave {count} short bursts.")
        hottest = facts.hottest
        yield Finding(
            hottest.chocolate_c <= SLOW_MOST_C,
            f"It was {self.degrees(hottest.chocolate_c)} at its hottest, when the probe showed "
            f"{self.degrees(hottest.reads_c)}.",
        )
        melted = [
            one
            for one in facts.truth
            if one.chocolate_c >= self.limits.melt_c - 0.3 and one.unmelted_share < MOLTEN_SOLID
        ]
        yield Finding(
            bool(melted),
            f"It was melted through {self.at(melted[0].seconds)}."
            if melted
            else f"It was never melted through: it got to {self.degrees(hottest.chocolate_c)}.",
        )

    def uncalibrated_probe(self) -> Findings:
        """The blade is right and the number is not."""
        facts = self.facts
        inside = [one.reads_c - one.chocolate_c for one in facts.truth if one.inside]
        off_k = median(inside) if inside else 0.0
        yield from self.no(
            ("heat", "hot_air"), "warmed it further", "did not warm it for the number's sake"
        )
        yield from self.blade_proves()
        blades = facts.blades
        if blades:
            last = blades[-1]
            high_c = self.limits.high_c
            reads = "" if last.reads_c is None else f" while it read {self.degrees(last.reads_c)}"
            yield Finding(
                last.chocolate_c <= high_c + 0.3,
                f"It was truly {self.degrees(last.chocolate_c)} at your last blade{reads}: the "
                f"probe was off by {self.style.difference_words(abs(round(off_k, 1)))}.",
            )


LESSONS: dict[str, Callable[[_Judge], Findings]] = {
    "over-warm-melt": _Judge.over_warm_melt,
    "too-little-seed": _Judge.too_little_seed,
    "too-cool-and-thick": _Judge.too_cool_and_thick,
    "lost-crystals": _Judge.lost_crystals,
    "grainy": _Judge.grainy,
    "water": _Judge.water,
    "warm-kitchen": _Judge.warm_kitchen,
    "slow-probe": _Judge.slow_probe,
    "uncalibrated-probe": _Judge.uncalibrated_probe,
}

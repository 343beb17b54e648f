"""What happened in a practice bowl, by its diary: facts without a judgement."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from snapcurve.simulation.blade import Blade
from snapcurve.simulation.practice import STEP_S, Done, Truth
from snapcurve.simulation.practice_diary import Diary

SET_EARLY_S, SET_LATE_S = 180.0, 300.0  # a tempered film sets in 3 to 5 min: common practice
MARKED_S = 60.0  # between dipping a blade and marking it lies less
LONGEST_S = 1800.0  # a blade is looked at no longer
THICK_SHARE, IN_TEMPER_SHARE = 0.11, 0.012  # fine crystals, as in blade.py


@dataclass(frozen=True)
class BladeFact:
    """A blade dipped at ``seconds``: what the chocolate was and what the probe showed, °C, its
    fine crystals, and after how long it takes no finger mark; None: not for half an hour."""

    seconds: float
    chocolate_c: float
    reads_c: float | None
    crystals_share: float
    lumps_share: float
    set_s: float | None

    @property
    def in_time(self) -> bool:
        """Whether it sets when a tempered one does."""
        return self.set_s is not None and SET_EARLY_S <= self.set_s <= SET_LATE_S


@dataclass(frozen=True)
class Called:
    """What a learner said on the board of the blade that was marked at ``seconds``."""

    seconds: float
    passed: bool
    words: str


class Facts:
    """What may be asked of a diary, and of what its learner ``called`` the blades. Times in
    seconds of the bench, temperatures in °C."""

    def __init__(self, diary: Diary, called: Sequence[Called] = ()):
        self.diary = diary
        self.called = called
        self.limits = diary.limits

    def acts(self, *names: str, refused: bool = False) -> list[Done]:
        """Acts of these names that were done, or tried and ``refused``."""
        return [one for one in self.diary.done if one.act in names and one.refused == refused]

    def total(self, *names: str) -> float:
        """The sum of their amounts."""
        return sum(one.amount or 0.0 for one in self.acts(*names))

    @property
    def truth(self) -> tuple[Truth, ...]:
        """What was true, second by second."""
        return self.diary.truth

    @property
    def ended_s(self) -> float | None:
        """When the recording was ended, or the bowl put aside; None if neither."""
        ends = self.acts("put_away") or self.acts("hold")  # the board may be held after it
        return ends[-1].seconds if ends else None

    def at(self, seconds: float) -> Truth:
        """What was true at ``seconds``, as far as it is known."""
        before = [one for one in self.truth if one.seconds <= seconds]
        return (before or list(self.truth))[-1 if before else 0]

    @property
    def last(self) -> Truth:
        """What was true at the end."""
        return self.truth[-1] if self.ended_s is None else self.at(self.ended_s)

    @cached_property
    def hottest(self) -> Truth:
        """When it was hottest, from the second on which the learner had it."""
        return max(self.truth, key=lambda one: one.chocolate_c)

    def above_s(self, limit_c: float) -> float:
        """How long it was hotter than ``limit_c``."""
        pairs = zip(self.truth, self.truth[1:], strict=False)
        return sum(b.seconds - a.seconds for a, b in pairs if a.chocolate_c > limit_c)

    @property
    def in_window(self) -> bool:
        """Whether it ended in its window."""
        return self.limits.low_c <= self.last.chocolate_c <= self.limits.high_c

    @cached_property
    def blades(self) -> list[BladeFact]:
        """Every blade, with what it would have shown to who waited."""
        return [self._blade(one.seconds) for one in self.acts("dip")]

    def blade_called(self, called: Called) -> BladeFact | None:
        """The blade that was meant: the one dipped nearest in time."""
        near = [one for one in self.blades if abs(one.seconds - called.seconds) <= MARKED_S]
        return min(near, key=lambda one: abs(one.seconds - called.seconds), default=None)

    def _blade(self, seconds: float) -> BladeFact:
        then = self.at(seconds)
        blade = Blade(
            seconds,
            then.crystals_share,
            then.lumps_share,
            then.seized,
            self.limits.melts_c,
            then.chocolate_c,
        )
        set_s, room_c = None, then.room_c
        for step in range(round(LONGEST_S / STEP_S)):
            if step % 40 == 0:  # each ten seconds: a window may have been opened
                room_c = self.at(seconds + step * STEP_S).room_c
            blade.step(room_c, STEP_S)
            if blade.is_set and not then.seized:
                set_s = (step + 1) * STEP_S
                break
        reads_c = then.reads_c if then.inside else None
        return BladeFact(
            seconds, then.chocolate_c, reads_c, then.crystals_share, then.lumps_share, set_s
        )

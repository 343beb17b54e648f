"""From the estimate to alarms: phases and their thresholds.

Each judged reading becomes one event (``far``, ``lead``, ``crossed`` for a phase that rises
or falls; ``above``, ``inside``, ``below`` for one that holds), and a table (transitions.py)
says what the event does in each state.

A batch whose temper is lost, or that is warmed after a failed dip test, goes back by itself
to the phase behind the melt, and every window is reached anew.

Time enters as numbers; nothing here reads a clock.
"""

from snapcurve.wire.const import const
from snapcurve.wire.window import (
    BACK_MS,
    CRYSTALS_MELT_K_S,
    OUTSIDE_MS,
    high_limit_c,
    low_limit_c,
)

from .immersion import HOLD, MELT, SEED
from .transitions import AGAIN_EVENTS, TABLE

# How long an event must last before it counts: noise and a cold patch (3 to 50 s at the tip)
# are no alarms.
_CROSSED_MS = const(1250)
_INSIDE_MS = const(2000)
_LEAD_MS = const(1500)
_HOT_MS = const(1500)
_PATCH_MS = const(1000)  # longer than the rule itself: a patch at the tip
CONFIRM_MS = {
    "crossed": _CROSSED_MS,
    "inside": _INSIDE_MS,  # BACK_MS once the window was left
    "above": OUTSIDE_MS + _PATCH_MS,
    "below": OUTSIDE_MS + _PATCH_MS,
    "through_above": OUTSIDE_MS,
    "through_below": OUTSIDE_MS,
    "rewarmed": OUTSIDE_MS,
    "lost": 0,  # it has lasted: _melting
    "remelted": _CROSSED_MS,  # OUTSIDE_MS straight from the window
    "lead": _LEAD_MS,
    "far": 0,
}
# In an uneven bowl it must last longer.
_EVEN_C = const(0.05)  # up to this unevenness no longer
_UNEVEN_PATIENCE = const(4)  # per °C beyond that

_HOT_SDS = const(2)  # of the spread beyond _HOT_SURE_C: the way in foresees too much
_HOT_SURE_C = const(0.5)
_HOT_AGAIN_C = const(1)  # "too hot" ends so far below its limit

# "Too cool" looks ahead when the chocolate falls faster than noise: hands need time to act.
# "Too warm" does not: a person who warms a bowl stands over it. On 120 batches held back
# (`alarms`, seed 41) that and OUTSIDE_MS took false alarms from 0.06 to 0.02 a batch, with 10
# of 10 true ones in time before and after.
_AHEAD_S = const(13)
_AHEAD_SD_C = const(0.25)  # only where the estimate, and with it the rate, is settled
_AHEAD_MOST_C = const(0.4)
_AHEAD_RATE = const(0.008)  # °C/s; a slower drift gets no advance

# How sure the estimate must be. A crossing counts within _DOUBT_FREE_C of the target even if
# the estimate is wrong by _DOUBT_SDS times its spread.
_DOUBT_FREE_C = const(0.72)
_DOUBT_SDS = const(1.2)
_CROSSED_C = const(0.06)  # so close counts as crossed
_CROSSED_FROM_S = const(5)  # after immersion a crossing counts
_ENTRY_SD_C = const(0.38)  # entering the window counts up to this spread
_SURE_C = const(0.05)  # the usual spread of a settled estimate
_EARLY_C = const(0.08)  # of doubt at the window's edges while the lag still shows
_EARLY_S = const(18)  # _EARLY_C falls to zero in so long
_RESUMED_C = const(1)  # a dwell goes on after a restart if the target is no farther off

# The lead: "near" sounds before the target is reached.
_LEAD_MIN_RATE = const(0.004)  # °C/s; a slower rate predicts nothing
_LEAD_MAX_C = const(4)  # farther off a rate predicts nothing: melting takes heat first
# Heated in bursts, the chocolate does not rise while the probe is in it: closeness alone calls
# for shorter bursts, unless it rises steadily. A slow rise counts as steady once the probe has
# been in for longer than between two bursts.
_CLOSE_C = const(2.5)
_BETWEEN_BURSTS_S = const(60)
_BATH_RATE = const(0.002)  # °C/s
_BATH_NEAR_C = const(0.12)  # so close is near in a bath that is too slow for a rate
_STEADY_RATE = const(0.005)  # °C/s: a steady rise
_STEADY_S = const(35)  # after immersion a rate counts as steady
_RISE_FROM_S = const(15)  # after immersion it counts for the mean over _RISE_S
_RISE_S = const(60)
_RISE_KEEP = const(0.992)  # of that mean, a reading in the air
# So far beyond the target, so long after immersion and so slowly: there is no hurry.
_STEADY_C = const(0.1)
_STEADY_SLOW = const(0.05)  # °C/s

# What is above the window and falls by itself faster than that needs no word, °C/s.
_FALLS_BACK = const(-0.004)

# How long the window lasts at its drift: the rate, smoothed.
_DRIFT_S = const(60)
_DRIFT_MIN = const(0.0005)  # °C/s; a slower drift predicts nothing
_READING_S = const(0.25)  # between estimates
_DRIFT_FROM = const(80)  # estimates before the first prediction
_LEFT_MAX_S = const(3600)  # longest prediction


def _lead(distance_c: float, rate_c_per_s: float, lead_s: int) -> bool:
    """Whether ``distance_c`` (positive: still to go) will be covered within ``lead_s``."""
    if lead_s == 0 or rate_c_per_s < _LEAD_MIN_RATE or distance_c > _LEAD_MAX_C:
        return False
    return distance_c <= rate_c_per_s * lead_s


class Engine:
    """Walks the phases of one profile.

    ``phase`` is the current Phase or None, ``index`` its place, ``state`` a word of
    catalogue.ENGINE_STATES, ``left_s`` how many seconds the chocolate stays in its window, -1
    if that is not known. ``worked``: the window was reached once. ``hot``: above what this
    couverture may get; ``lost``: the temper is lost, and the window was not reached anew.
    ``confirmed``: the state is not only that of before a pause.
    """

    def __init__(self):
        self._spread_c = self._patch_c = self._immersed_s = 0.0
        self._rate = self._rise = self._drift = 0.0
        self._dwell_from_ms = 0
        self.confirmed = False
        self.phase = None
        self.start(None)

    def _reset_event(self) -> None:
        self._last_event = ""
        self._event_since_ms = 0

    def start(self, profile) -> None:
        """Begin ``profile`` (None: no profile, no alarms) at its first phase."""
        self.profile = profile
        self.hot = False
        self._hot_since_ms = -1
        self.worked = False
        self._after_melt = 0  # the phase in which a batch begins that is seeded again
        if profile is not None and profile.phases[0].kind == "melt":
            self._after_melt = min(1, len(profile.phases) - 1)
        self._go_to(0)

    def dwell_left_s(self, now_ms: int) -> int:
        """Seconds until the dwell is over; 0 if there is none."""
        if self.state != "dwell":
            return 0
        return max(0, self.phase.dwell_s - (now_ms - self._dwell_from_ms) // 1000)

    def resume(self, index: int, state: str, dwell_left_s: int = 0) -> None:
        """Go on in phase ``index`` and ``state`` after a restart. A dwell goes on without
        another alarm once the chocolate is seen to be there still."""
        self._go_to(index)
        if self.phase is None:
            return
        self.state = {"dwell": "near", "idle": "approach"}.get(state, state)
        self.worked = state in ("inside", "too_warm", "too_cool")
        if state == "dwell":
            self._resumed_left_s = dwell_left_s

    def _go_to(self, index: int) -> None:
        self.index = index
        self._side = self._side_before(index)
        self._reset_event()
        self.left_s = -1
        self._drifts = 0  # estimates in _drift
        self._failed = ""  # how the newest dip test failed, while that is not made good
        self.lost = False
        self._melting_k_s = 0.0  # what the crystals have had: wire/window.py
        self._resumed_left_s = -1  # of a dwell before a restart
        if self.profile is None or index >= len(self.profile.phases):
            self.phase = None
            self.state = "idle" if self.profile is None else "done"
        else:
            self.phase = self.profile.phases[index]
            self.state = "approach"

    def _side_before(self, index: int) -> str:
        """From which side phase ``index`` begins: the phase before knows. "" if none did."""
        if self.profile is None or not 0 < index < len(self.profile.phases):
            return ""
        before = self.profile.phases[index - 1]
        return "above" if before.target_c > self.profile.phases[index].high_c else "below"

    def bowl(self) -> int:
        """What the bowl does in this phase: a place in immersion.py."""
        phase = self.phase
        if phase is None:
            return HOLD
        if phase.direction == "rise":
            return MELT
        if phase.direction == "fall" or (
            self.state in ("approach", "near") and self._side != "below"
        ):
            return SEED
        return HOLD

    def phase_kind(self) -> str:
        """The kind of the current phase, "none" if there is none."""
        return "none" if self.phase is None else self.phase.kind

    def shift(self, steps: int) -> bool:
        """Go on (1) or back (-1) to another phase by hand; whether there is one."""
        index = self.index + steps
        if self.profile is None or not 0 <= index < len(self.profile.phases):
            return False
        self._go_to(index)
        self._side = ""  # it may be on either side now
        self.worked = False
        return True

    def tested(self, result: str) -> None:
        """A dip test has come out: "passed", "failed" or "set_early"."""
        self._failed = "" if result == "passed" else result

    def pause(self, gone: bool = False) -> None:
        """The probe may be out, or there is no reading: an event must last anew.
        ``gone``: it is out, and "hot" must be seen anew."""
        self._reset_event()
        self.confirmed = False
        if gone:
            self.hot = False
            self._rise *= _RISE_KEEP
        self.left_s = -1
        self._hot_since_ms = -1
        if self.index == 0:
            self._side = ""  # a first phase begins anew at each immersion

    def cooled(self, chocolate_c: float) -> None:
        """It may be being taken out: no alarm, but one may end."""
        if self.hot and chocolate_c < self.profile.never_above_c - _HOT_AGAIN_C:
            self.hot = False

    def step(
        self,
        now_ms: int,
        chocolate_c: float,
        rate_c_per_s: float,
        alarms,
        spread_c: float = 0.0,
        patch_c: float = 0.0,
        immersed_s: float = 3600,
    ) -> None:
        """Judge one estimate of the chocolate; append ``(alarm, phase kind)`` to ``alarms``.

        ``spread_c`` is the standard deviation of the estimate, ``patch_c`` that of the
        bowl's unevenness, both in °C; ``immersed_s`` is how long the probe has been in.
        """
        if self.profile is None:
            return
        self._rate = rate_c_per_s
        self._spread_c = spread_c
        self._patch_c = patch_c
        self._immersed_s = immersed_s
        if immersed_s >= _RISE_FROM_S:
            self._rise += (rate_c_per_s - self._rise) * (_READING_S / _RISE_S)
        self._check_hot(now_ms, chocolate_c, alarms)
        phase = self.phase
        if phase is None:
            return
        event = self._judge(phase, chocolate_c, rate_c_per_s)
        worked = self.state in ("inside", "too_warm", "too_cool")
        if worked and self._is_lost(now_ms, phase, chocolate_c):
            event = "lost"
        if self._failed and event in ("above", "lost") and worked:
            event = "rewarmed"
        elif self._is_remelted(chocolate_c):
            event = "remelted"
        if event != self._last_event:
            self._last_event = event
            self._event_since_ms = now_ms
        if self.state == "dwell":
            if now_ms - self._dwell_from_ms >= phase.dwell_s * 1000:
                self._apply("dwelt", now_ms, alarms)
        elif now_ms - self._event_since_ms >= self._confirm_ms(event):
            self._apply(event, now_ms, alarms)
            self.confirmed = True
        self._predict(chocolate_c, rate_c_per_s)

    def _is_remelted(self, chocolate_c: float) -> bool:
        """Melted through once more, after it had been worked."""
        if not self.worked or self.index < self._after_melt or self._after_melt == 0:
            return False
        to_go_c = self.profile.phases[self._after_melt - 1].target_c - chocolate_c
        return self._is_there(to_go_c)

    def _is_there(self, to_go_c: float) -> bool:
        if self._immersed_s < _CROSSED_FROM_S:
            return False
        if self._immersed_s >= _STEADY_S and 0.0 <= self._rate < _STEADY_SLOW:
            to_go_c += _STEADY_C
        return to_go_c <= min(_CROSSED_C, _DOUBT_FREE_C - _DOUBT_SDS * self._spread_c)

    def _predict(self, chocolate_c: float, rate: float) -> None:
        """How long the window lasts at the drift of the last minute or so."""
        self.left_s = -1
        if self.state != "inside":
            self._drifts = 0
            return
        if self._spread_c <= _AHEAD_SD_C:
            self._drifts += 1
            # A plain mean at first.
            part = max(_READING_S / _DRIFT_S, 1.0 / self._drifts)
            self._drift += (rate - self._drift) * part
        if self._drifts < _DRIFT_FROM or abs(self._drift) < _DRIFT_MIN:
            return
        edge_c = self.phase.low_c if self._drift < 0 else self.phase.high_c
        left_s = max(0.0, (edge_c - chocolate_c) / self._drift)
        if left_s < _LEFT_MAX_S:
            self.left_s = int(left_s)

    def _check_hot(self, now_ms: int, chocolate_c: float, alarms) -> None:
        limit_c = self.profile.never_above_c
        chocolate_c -= max(0.0, _HOT_SDS * (self._spread_c - _HOT_SURE_C))
        if chocolate_c < limit_c - (_HOT_AGAIN_C if self.hot else 0.0):
            self.hot = False
            self._hot_since_ms = -1
        elif not self.hot:
            if self._hot_since_ms < 0:
                self._hot_since_ms = now_ms
            if now_ms - self._hot_since_ms >= _HOT_MS:
                self.hot = True
                alarms.append(("too_hot", self.phase_kind()))

    def _judge(self, phase, chocolate_c: float, rate: float) -> str:
        if phase.direction == "rise":
            to_go = phase.target_c - chocolate_c
            towards = rate
        elif phase.direction == "fall":
            to_go = chocolate_c - phase.target_c
            towards = -rate
        else:
            return self._judge_window(phase, chocolate_c, rate)
        if to_go > _RESUMED_C:
            self._resumed_left_s = -1
        if self._is_there(to_go):
            return "crossed"
        steady = rate >= _STEADY_RATE and self._immersed_s >= _STEADY_S
        steady = steady or self._rise >= _STEADY_RATE  # a bath: no patch and no lift ends that
        if phase.direction == "rise" and phase.lead_s:
            bath = self._immersed_s >= _BETWEEN_BURSTS_S and self._rise >= _BATH_RATE
            if to_go <= _BATH_NEAR_C or (to_go <= _CLOSE_C and not steady and not bath):
                return "lead"
        return "lead" if _lead(to_go, towards, phase.lead_s) else "far"

    def _confirm_ms(self, event: str) -> int:
        wait_ms = CONFIRM_MS[event]
        if event == "inside" and self.state in ("too_warm", "too_cool"):
            # Falling back inside may as well be the way out, until the estimate doubts it.
            wait_ms = OUTSIDE_MS if self._rate < -_AHEAD_RATE else BACK_MS
        if event == "remelted" and self.state in ("inside", "too_cool"):
            wait_ms = OUTSIDE_MS  # a probe that is rinsed in hot water is no melt
        uneven_c = 0.0
        if event not in ("crossed", "inside"):
            uneven_c = self._patch_c - _EVEN_C
        return wait_ms if uneven_c <= 0 else int(wait_ms * (1.0 + _UNEVEN_PATIENCE * uneven_c))

    def _judge_window(self, phase, chocolate_c: float, rate: float) -> str:
        low_c, high_c = phase.low_c, phase.high_c
        if self.state not in ("approach", "near"):
            doubt_c = max(0.0, self._spread_c - _SURE_C)
            doubt_c += max(0.0, _EARLY_C * (1.0 - self._immersed_s / _EARLY_S))
            low_c = low_limit_c(phase.low_c, phase.high_c, self.state, doubt_c)
            high_c = high_limit_c(phase.low_c, phase.high_c, self.state, doubt_c)
            inside = self.state == "inside"
            if inside and rate < -_AHEAD_RATE and self._spread_c <= _AHEAD_SD_C:
                chocolate_c += max(-_AHEAD_MOST_C, (rate + _AHEAD_RATE) * _AHEAD_S)
        above_c = chocolate_c - high_c
        below_c = low_c - chocolate_c
        if above_c <= 0 and below_c <= 0:
            if self.state in ("approach", "near") and self._spread_c > _ENTRY_SD_C:
                return "far"  # inside or not: not known yet
            return "inside"
        if self.state in ("approach", "near"):
            side = "above" if above_c > 0 else "below"
            if not self._side:
                self._side = side
            if side != self._side:
                return "through_" + side
            if _lead(max(above_c, below_c), -rate if above_c > 0 else rate, phase.lead_s):
                return "lead"
        if above_c <= 0:
            return "below"
        return "inside" if self.state == "inside" and rate < _FALLS_BACK else "above"

    def _is_lost(self, now_ms: int, phase, chocolate_c: float) -> bool:
        """Whether it was so warm for so long that the temper is lost, by the rule of
        wire/window.py. What is not seen does not count; what is back in its window begins anew;
        what is above for some seconds only, as a probe rinsed in hot water, melts nothing.
        """
        if phase.lost_c is None:
            return False
        above_c = chocolate_c - max(0.0, self._spread_c - _SURE_C) - phase.lost_c
        if chocolate_c <= phase.high_c:
            self._melting_k_s = 0.0
        elif above_c > 0.0:
            self._melting_k_s += above_c * _READING_S
        if self._melting_k_s < CRYSTALS_MELT_K_S:
            return False
        lasting = self._last_event == "above" and now_ms - self._event_since_ms >= OUTSIDE_MS
        return lasting or self._last_event == "lost"

    def _apply(self, event: str, now_ms: int, alarms) -> None:
        state, alarm = TABLE[self.state, event]
        resumed = event == "crossed" and self._resumed_left_s >= 0
        if alarm is not None and not resumed:
            alarms.append((alarm, "melt" if event == "remelted" else self.phase.kind))
        if event in AGAIN_EVENTS:
            # A blade that set too soon asks for a little warmth, not for new crystals.
            again = self._failed != "set_early" or event != "rewarmed"
            self.worked = event != "remelted"
            self._go_to(self._after_melt if again else self.index)
            self._side = "above"
            self.lost = event == "lost"
            return
        if event == "crossed" or state in ("inside", "too_warm", "too_cool"):
            self.lost = False
        if state in ("inside", "too_warm", "too_cool"):
            self.worked = True
        if state != self.state:
            self.state = state
            if state == "dwell":
                self._dwell_from_ms = now_ms
                if resumed:
                    self._dwell_from_ms -= (self.phase.dwell_s - self._resumed_left_s) * 1000
        if self.state == "dwell" and self.phase.dwell_s == 0:
            self._go_to(self.index + 1)
        elif self.state == "done":
            alarms.append(("dwell_done", self.phase.kind))
            self._go_to(self.index + 1)

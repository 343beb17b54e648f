"""From the estimate to alarms: phases and their thresholds.

Each judged reading becomes one word (``far``, ``lead``, ``crossed`` for a phase that rises
or falls; ``above``, ``inside``, ``below`` for one that holds), and the table TRANSITIONS
says what the word does in each state: the next state and the alarm, if any. An event
without a row is a mistake in this file, found by the tests. ``IGNORED`` names the pairs
that change nothing.

Time enters as numbers; nothing here reads a clock.
"""

RISE_FALL_EVENTS = ("far", "lead", "crossed")
HOLD_EVENTS = ("far", "lead", "inside", "above", "below", "through_above", "through_below")

TRANSITIONS = {
    # A phase that rises or falls to its target.
    ("approach", "lead"): ("near", "near"),
    ("approach", "crossed"): ("dwell", "reached"),
    ("near", "crossed"): ("dwell", "reached"),
    ("dwell", "dwelt"): ("done", None),
    # A phase that holds a window. Before the window was reached for the first time it is
    # an approach from either side, and not being there is no alarm.
    ("approach", "inside"): ("inside", "reached"),
    ("near", "inside"): ("inside", "reached"),
    # It went through the window too fast to be seen inside.
    ("approach", "through_above"): ("too_warm", "too_warm"),
    ("near", "through_above"): ("too_warm", "too_warm"),
    ("approach", "through_below"): ("too_cool", "too_cool"),
    ("near", "through_below"): ("too_cool", "too_cool"),
    ("inside", "above"): ("too_warm", "too_warm"),
    ("inside", "below"): ("too_cool", "too_cool"),
    ("too_warm", "inside"): ("inside", "back"),
    ("too_warm", "below"): ("too_cool", "too_cool"),
    ("too_cool", "inside"): ("inside", "back"),
    ("too_cool", "above"): ("too_warm", "too_warm"),
}
IGNORED = (
    ("approach", "far"),
    ("approach", "above"),
    ("approach", "below"),
    ("near", "far"),
    ("near", "lead"),
    ("near", "above"),
    ("near", "below"),
    ("inside", "inside"),
    ("too_warm", "above"),
    ("too_cool", "below"),
    ("dwell", "far"),
    ("dwell", "lead"),
    ("dwell", "crossed"),
)

# How long a word must hold before it counts, and how far beyond its edge the window is
# really left: noise and a cold patch passing the probe are no alarms.
CROSSED_MS = 750
INSIDE_MS = 2000
BACK_MS = 4000
OUTSIDE_MS = 5000
OUTSIDE_C = 0.10
# A bowl that cools out of its window is told apart from noise by its rate; then the next
# seconds count already, since hands need time to act. Not so upwards: whoever warms a bowl
# stands over it.
AHEAD_S = 12.0
AHEAD_SD_C = 0.16  # only where the estimate, and with it the rate, is settled
AHEAD_RATE = 0.01  # °C/s; a slower drift gets no advance
# Back is back well inside: this much, or this part of the window if that is less.
RETURN_C = 0.4
RETURN_PART = 0.3
# How sure the estimate must be. A crossing counts when it is within DOUBT_FREE_C of the
# target even if the estimate is wrong by DOUBT_SDS times its spread.
DOUBT_FREE_C = 0.30
DOUBT_SDS = 1.0
CROSSED_C = 0.2  # so close is there, given what a probe and a bowl are worth
EARLY_C = 0.25  # of distrust right after the probe went in, when its lag still shows;
EARLY_S = 25.0  # gone after so long
SURE_C = 0.12  # the usual spread of an estimate that has settled
ENTRY_SD_C = 0.30  # entering the window is told only by an estimate at least so good
EVEN_C = 0.15  # a bowl no more uneven than this asks for no patience
UNEVEN_PATIENCE = 8.0  # per °C of unevenness beyond that
LEAD_MS = 1500
HOT_MS = 1500
HOT_AGAIN_C = 1.0
LEAD_MIN_RATE = 0.004  # °C/s; slower than this there is no telling when
LEAD_MAX_C = 4.0  # farther off a rate promises nothing: melting takes its latent heat first
# Heated in bursts, the chocolate does not rise while the probe is in it: then being close
# is what calls for shorter bursts.
CLOSE_C = 2.5
STEADY_RATE = 0.005  # °C/s; what rises faster is being heated now, and its rate tells when,
STEADY_S = 35.0  # if the probe has been in for so long; after an insertion no rate counts yet
CONFIRM_MS = {
    "crossed": CROSSED_MS,
    "inside": INSIDE_MS,  # BACK_MS once the window was left
    "above": OUTSIDE_MS,
    "below": OUTSIDE_MS,
    "through_above": OUTSIDE_MS,
    "through_below": OUTSIDE_MS,
    "lead": LEAD_MS,
    "far": 0,
}


def transition(state: str, event: str):
    """``(next state, alarm or None)``; KeyError for a pair the table does not know."""
    row = TRANSITIONS.get((state, event))
    if row is not None:
        return row
    if (state, event) in IGNORED:
        return state, None
    raise KeyError((state, event))


def _lead(distance_c: float, rate_c_per_s: float, lead_s: int) -> bool:
    """Whether ``distance_c`` (positive: still to go) will be covered within ``lead_s``."""
    if lead_s == 0 or rate_c_per_s < LEAD_MIN_RATE or distance_c > LEAD_MAX_C:
        return False
    return distance_c <= rate_c_per_s * lead_s


class Engine:
    """Walks the phases of one profile.

    ``phase`` is the current Phase or None, ``state`` a word of catalogue.ENGINE_STATES.
    """

    def __init__(self):
        self._spread_c = 0.0
        self._patch_c = 0.0
        self._inside_s = 0.0
        self.profile = None
        self.phase = None
        self.state = "idle"
        self._index = 0
        self._side = ""
        self._reset_word()
        self._hot = False
        self._hot_since_ms = -1
        self._dwell_from_ms = 0

    def _reset_word(self) -> None:
        self._word = ""
        self._word_since_ms = 0

    def start(self, profile) -> None:
        """Begin ``profile`` (None: no profile, no alarms) at its first phase."""
        self.profile = profile
        self._hot = False
        self._hot_since_ms = -1
        self._go_to(0)

    def _go_to(self, index: int) -> None:
        self._index = index
        self._side = self._side_before(index)
        self._reset_word()
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

    def phase_kind(self) -> str:
        """The kind of the current phase, "none" if there is none."""
        return "none" if self.phase is None else self.phase.kind

    def pause(self) -> None:
        """The probe is out, or there is no reading: what was half seen does not count."""
        self._reset_word()
        self._hot_since_ms = -1
        if self._index == 0:
            self._side = ""  # a first phase begins anew with each time the probe goes in

    def step(
        self,
        now_ms: int,
        chocolate_c: float,
        rate_c_per_s: float,
        alarms,
        spread_c: float = 0.0,
        patch_c: float = 0.0,
        inside_s: float = 3600.0,
    ) -> None:
        """Judge one estimate of the chocolate; append ``(alarm, phase kind)`` to ``alarms``.

        ``spread_c`` is the standard deviation of the estimate, ``patch_c`` that of the
        bowl's own unevenness; both in °C, and both ask for patience. ``inside_s`` is how
        long the probe has been in.
        """
        if self.profile is None:
            return
        self._spread_c = spread_c
        self._patch_c = patch_c
        self._inside_s = inside_s
        self._check_hot(now_ms, chocolate_c, alarms)
        phase = self.phase
        if phase is None:
            return
        word = self._judge(phase, chocolate_c, rate_c_per_s)
        if word != self._word:
            self._word = word
            self._word_since_ms = now_ms
        if self.state == "dwell":
            if now_ms - self._dwell_from_ms >= phase.dwell_s * 1000:
                self._event("dwelt", now_ms, alarms)
        elif now_ms - self._word_since_ms >= self._confirm_ms(word):
            self._event(word, now_ms, alarms)

    def _check_hot(self, now_ms: int, chocolate_c: float, alarms) -> None:
        limit_c = self.profile.never_above_c
        if chocolate_c < limit_c - (HOT_AGAIN_C if self._hot else 0.0):
            self._hot = False
            self._hot_since_ms = -1
        elif not self._hot:
            if self._hot_since_ms < 0:
                self._hot_since_ms = now_ms
            if now_ms - self._hot_since_ms >= HOT_MS:
                self._hot = True
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
        if to_go <= min(CROSSED_C, DOUBT_FREE_C - DOUBT_SDS * self._spread_c):
            return "crossed"
        steady = rate >= STEADY_RATE and self._inside_s >= STEADY_S
        close = phase.direction == "rise" and to_go <= CLOSE_C and not steady
        if close and phase.lead_s:
            return "lead"
        return "lead" if _lead(to_go, towards, phase.lead_s) else "far"

    def _confirm_ms(self, word: str) -> int:
        wait_ms = CONFIRM_MS[word]
        if word == "inside" and self.state in ("too_warm", "too_cool"):
            wait_ms = BACK_MS
        uneven_c = 0.0 if word == "crossed" else self._patch_c - EVEN_C
        return wait_ms if uneven_c <= 0 else int(wait_ms * (1.0 + UNEVEN_PATIENCE * uneven_c))

    def _judge_window(self, phase, chocolate_c: float, rate: float) -> str:
        low_c, high_c = phase.low_c, phase.high_c
        if self.state not in ("approach", "near"):
            beyond_c = OUTSIDE_C + max(0.0, self._spread_c - SURE_C)
            beyond_c += max(0.0, EARLY_C * (1.0 - self._inside_s / EARLY_S))
            low_c, high_c = low_c - beyond_c, high_c + beyond_c
            return_c = min(RETURN_C, RETURN_PART * (phase.high_c - phase.low_c))
            if self.state == "too_warm":
                high_c = phase.high_c - return_c
            elif self.state == "too_cool":
                low_c = phase.low_c + return_c
            elif rate < -AHEAD_RATE and self._spread_c <= AHEAD_SD_C:
                chocolate_c += (rate + AHEAD_RATE) * AHEAD_S
        above_c = chocolate_c - high_c
        below_c = low_c - chocolate_c
        if above_c <= 0 and below_c <= 0:
            if self.state in ("approach", "near") and self._spread_c > ENTRY_SD_C:
                return "far"  # inside or not: the next seconds will tell
            return "inside"
        if self.state in ("approach", "near"):
            side = "above" if above_c > 0 else "below"
            if not self._side:
                self._side = side
            if side != self._side:
                return "through_" + side
            if above_c > 0 and _lead(above_c, -rate, phase.lead_s):
                return "lead"
            if below_c > 0 and _lead(below_c, rate, phase.lead_s):
                return "lead"
        return "above" if above_c > 0 else "below"

    def _event(self, event: str, now_ms: int, alarms) -> None:
        state, alarm = transition(self.state, event)
        if alarm is not None:
            alarms.append((alarm, self.phase.kind))
        if state != self.state:
            self.state = state
            if state == "dwell":
                self._dwell_from_ms = now_ms
        if self.state == "dwell" and self.phase.dwell_s == 0:
            self._go_to(self._index + 1)
        elif self.state == "done":
            alarms.append(("dwell_done", self.phase.kind))
            self._go_to(self._index + 1)

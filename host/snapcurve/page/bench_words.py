"""What the bench screen says of a `Standing`: short sentences, for somebody two metres away."""

from collections.abc import Mapping
from typing import Any

from snapcurve.board.client import Reading
from snapcurve.board.troubles import fault_sentence, sentence
from snapcurve.page.pressed import on_page
from snapcurve.page.standing import Profile, Standing
from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.shown.plain_text import visible
from snapcurve.shown.units import Style

# For each condition a mark that needs no colour, and its words.
CONDITIONS = {
    "good": ("●", "in the chocolate"),
    "out": ("○", "probe out"),
    "settling": ("◐", "settling"),
    "fault": ("✕", "no reading: probe fault"),
    "silent": ("▲", "the board is silent"),
    "lost": ("▲", "no board"),
    "lent": ("■", "the board is busy"),
    "waiting": ("◌", "waiting for a reading"),
}
STANDS_C_PER_MIN = 0.2  # a bowl that moves no faster does not come to its target by itself
# By whether it is the melt, for which most use a microwave oven.
WARM = {
    True: "Warm to {target}, stirring; probe out before each burst in the oven.",
    False: "Warm to {target}, stirring.",
}
OUTSIDE = {
    "too_warm": "Too warm: stir in a few pieces.",
    "too_cool": "Too cool: warm it a little, stirring, the hot air in short bursts.",
}
COOLING = {
    "seeding": "Stir in pieces and cool",
    "slab": "Work it on the slab and cool",
    "cold-bath": "Stir over the cold bath and cool",
    "crystal-seed": "Stir and cool",
}
AFTER_BLADE = {
    "": "In the window: dip a blade and press “Blade dipped”.",
    "passed": "In temper. Work, and keep it at {window}.",
    "failed": "Not in temper yet: stir in pieces, cool a little, dip again.",
    "set_early": "Too many crystals: warm it half a degree, dip again.",
}


def condition_words(standing: Standing, now_s: float) -> str:
    """The condition in words, an old reading with its age."""
    condition = standing.condition(now_s)
    words = CONDITIONS[condition][1]
    if condition == "silent":
        return f"{words}: this reading is {standing.age_s(now_s):.0f} s old"
    return words


def number(standing: Standing, now_s: float, style: Style) -> str:
    """The large number to a tenth; a dash where there is none to show."""
    value_c = standing.shown_c
    if value_c is None or standing.condition(now_s) in ("fault", "lent", "waiting"):
        return "–"
    return style.degrees(value_c)


def beside_number(standing: Standing, style: Style) -> str:
    """Unit and uncertainty."""
    if standing.uncertainty_c is None:
        return style.degree
    figure = style.uncertainty(standing.uncertainty_c).removesuffix(style.degree)
    return f"{style.degree} {figure}".strip()


def phase_words(standing: Standing) -> str:
    """Couverture, method and phase."""
    if standing.profile is None:
        return "No couverture loaded"
    words = f"{visible(standing.profile.couverture)}, {standing.profile.method}"
    phase = standing.reading.phase if standing.reading is not None else "none"
    return words if phase == "none" else f"{words}: {phase}"


def next_step(standing: Standing, now_s: float, style: Style) -> str:
    """The next thing to do."""
    condition, profile = standing.condition(now_s), standing.profile
    hindered = _hindered(standing, condition)
    if hindered:
        return hindered
    if profile is None:
        return "Choose a couverture under Before and load it."
    if condition == "settling":
        return "Hold the probe still in the chocolate for a few seconds."
    if condition == "out":
        return _while_out(standing, profile, style)
    return _in_chocolate(standing, profile, style)


def _hindered(standing: Standing, condition: str) -> str:
    """What has to be put right before anything else, "" if nothing."""
    reading = standing.reading
    if condition in ("lost", "lent") or reading is None:
        return on_page(visible(standing.why)) or "Looking for the board."
    if condition == "fault":
        said = fault_sentence(reading.faults)
        return f"{said[0].upper()}{said[1:]}."
    if condition == "silent":
        return "Check the cable. The reading comes back by itself."
    if condition == "waiting":
        return "The first reading comes in a moment."
    return on_page(sentence(reading.troubles[0])) if reading.troubles else ""


def _while_out(standing: Standing, profile: Profile, style: Style) -> str:
    reading = standing.reading
    assert reading is not None
    if standing.dip_s is not None:
        return _blade(standing, profile)
    if not standing.recording:
        if standing.to_collect:
            return "The recording has ended: collect it. Probe in begins a new one."
        melt = profile.phase("melt")
        if melt is None:
            return "Put the probe into the chocolate: the recording begins by itself."
        return (
            f"Melt to {style.degrees_words(melt['target_centi_c'] / 100)} in short bursts, the "
            "probe out of the oven; then probe in: the recording begins by itself."
        )
    if reading.phase == "melt":
        return "After the burst: stir, probe in, read. It never goes into the oven."
    return "Put the probe back: no alarm about the chocolate until then."


def _not_recording(standing: Standing) -> str:
    # hold_off in the firmware: no new one while the probe stays where it is
    if standing.to_collect:
        return "The recording has ended: collect it. Probe out, later in, begins a new one."
    if standing.ended:
        return "The batch is collected. Probe out, later in, begins a new one."
    return "Leave the probe in: the recording begins by itself."


def _in_chocolate(standing: Standing, profile: Profile, style: Style) -> str:
    reading = standing.reading
    assert reading is not None
    if not standing.recording:
        return _not_recording(standing)
    if reading.estimate_c is not None and reading.estimate_c > profile.never_above_c:
        return "Too hot for this couverture: stop heating and stir."
    phase = profile.phase(reading.phase)
    if phase is None or reading.state == "done":
        return "Finished. A long press of the board's button ends the batch."
    if phase["direction"] != "hold":
        return _on_the_way(phase, reading, profile, style)
    return _held(phase, standing, profile, style)


def _held(phase: Mapping[str, Any], standing: Standing, profile: Profile, style: Style) -> str:
    reading = standing.reading
    assert reading is not None
    low_c = phase["low_centi_c"] / 100
    window = style.window(low_c, phase["high_centi_c"] / 100)
    if reading.state in ("approach", "near") and standing.dip_s is None:
        return _towards(window, reading, low_c, profile)
    if reading.state in OUTSIDE:
        due = (standing.dip_s or 0.0) >= profile.test_due_s
        return OUTSIDE[reading.state] + (" Touch the blade." if due else "")
    if standing.dip_s is not None:
        return _blade(standing, profile)
    result = "" if standing.dip is None else standing.dip.result
    return AFTER_BLADE[result].format(window=window)


def _towards(window: str, reading: Reading, low_c: float, profile: Profile) -> str:
    if reading.estimate_c is not None and reading.estimate_c < low_c:
        return f"Warm gently to {window}, stirring."
    if reading.state != "near":
        return f"{_cooling(profile)} to {window}."
    if _moves(reading, -1):
        return "Nearly there: add no more pieces, go on stirring."
    return f"Nearly at {window}, and it stands: a few more pieces, stirring."


def _on_the_way(phase: Mapping[str, Any], reading: Reading, profile: Profile, style: Style) -> str:
    target = style.degrees_words(phase["target_centi_c"] / 100)
    rises = phase["direction"] == "rise"
    if reading.state == "dwell":
        return f"There: stay at {target} and stir until it sounds."
    if reading.state != "near":
        if not rises:
            return f"{_cooling(profile)} to {target}."
        return WARM[phase["kind"] == "melt"].format(target=target)
    if _moves(reading, 1 if rises else -1):
        return f"Nearly {target}: stop {'heating' if rises else 'cooling'}, go on stirring."
    if rises:
        return f"Nearly {target}, and it stands: probe out, one more short burst, then stir."
    return f"Nearly {target}, and it stands: cool a little more, stirring."


def _cooling(profile: Profile) -> str:
    return COOLING.get(profile.method, "Stir and let it cool")


def _moves(reading: Reading, way: int) -> bool:
    """Whether the chocolate still goes that way, up (1) or down (-1), or nobody can say."""
    rate = reading.rate_c_per_min
    return rate is None or rate * way > STANDS_C_PER_MIN


def _blade(standing: Standing, profile: Profile) -> str:
    since_s = standing.dip_s
    assert since_s is not None
    if since_s < profile.test_early_s:
        return f"Leave the blade alone; look at it at {_clock(profile.test_early_s)}."
    if since_s < profile.test_due_s:
        return f"Look at the blade; touch it at {_clock(profile.test_due_s)}."
    return "Touch the blade: has it set evenly, without mark or streaks?"


def dip_words(standing: Standing) -> str:
    """The dip test's clock; empty without one."""
    since_s = standing.dip_s
    if since_s is None or standing.profile is None:
        if standing.dip is None or not standing.dip.result:
            return ""
        return {
            "passed": "Last blade: set, no mark",
            "failed": "Last blade: takes a mark",
            "set_early": "Last blade: set too soon",
        }[standing.dip.result]
    return f"Blade dipped {_clock(since_s)} ago, due at {_clock(standing.profile.test_due_s)}"


def minutes_words(standing: Standing, now_s: float) -> str:
    """In how many minutes the next threshold comes, at this pace; empty while nobody can say."""
    if standing.minutes is None or standing.condition(now_s) != "good":
        return ""
    low, high = standing.minutes
    assert standing.reading is not None
    if standing.reading.state == "inside":
        # Many a drift dies out, so how late it may be nobody can say.
        if low < 1:
            return "May leave the window within a minute, at this pace"
        return f"Leaves the window in {low} min at the soonest, at this pace"
    if high <= 1:
        return "There within a minute, at this pace"
    span = f"{low} to {high}" if low else f"up to {high}"
    return f"There in {span} min, at this pace"


def heard_words(standing: Standing) -> str:
    """What sounded last, how long ago, and why."""
    if standing.heard is None or standing.reading is None:
        return ""
    name, since_s = standing.heard.name, (standing.reading.uptime_ms - standing.heard.at_ms) / 1000
    ago = "now" if since_s < 5 else f"{_clock(since_s)} ago"
    return f"♪ {name.replace('_', ' ')}, {ago}: {MEANINGS.get(name, 'a sound of the board')}"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(int(max(0.0, seconds)), 60)
    return f"{minutes}:{rest:02d}"

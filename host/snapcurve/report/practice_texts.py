"""What is seen and heard at the practice bench, in lines."""

from typing import Any

from snapcurve.probe.sound_meanings import MEANINGS
from snapcurve.shown.table import row, wrapped
from snapcurve.shown.units import Style

HEARD = 3  # of the newest
TOUCH = "'snapcurve practise touch'"
BUSY = {"heat": "the microwave oven runs", "hot_air": "the hot air blows"}


def clock(seconds: float) -> str:
    """Seconds of the bench as minutes and seconds."""
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"


def look_lines(look: dict[str, Any], style: Style, touch: str = TOUCH) -> list[str]:
    """A look (`Practice.look`) in lines; ``touch`` is how a blade is touched here."""
    pace = "time stands still" if look["halted"] else f"{look['speed']:g} times as fast"
    rows = [("Time", f"{clock(look['now_s'])}, {pace}.")]
    rows.append(("Bowl", f"{style.mass(look['in_bowl_g'])}. {' '.join(look['bowl'])}"))
    rows.append(("Beside", f"{style.mass(look['pieces_g'])} of pieces."))
    rows.append(("Probe", _probe(look)))
    if look["blade"] is not None:
        blade = look["blade"]
        seen = blade["seen"] or f"Not looked at yet: {touch}."
        rows.append(("Blade", f"dipped {clock(blade['age_s'])} ago. {seen}"))
    for one in look["heard"][-HEARD:]:
        rows.append(("Heard", f"{clock(one['seconds'])}, {MEANINGS[one['alarm']]}."))
    for name, left_s in look["busy"].items():
        rows.append(("Busy", f"{BUSY.get(name, name)}, {left_s:.0f} s more."))
    if look["put_away"]:
        rows.append(("Aside", "This bowl has been put aside."))
    return wrapped([row(word, text) for word, text in rows])


def _probe(look: dict[str, Any]) -> str:
    if look["probe"] == "in":
        return "in the chocolate."
    return "out, with chocolate on it." if look["coated"] else "out."

"""The practice bowl as the page sees it: looked at from a thread, acted on by buttons."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from snapcurve.errors import SnapcurveError
from snapcurve.page.html import button_form, text
from snapcurve.report.practice_texts import BUSY, clock, look_lines
from snapcurve.shown.units import Style
from snapcurve.simulation.practice import ACTS
from snapcurve.simulation.practice_port import bench

EACH_S = 0.5

# What each group of buttons holds: an act, and the amounts offered. Others stand under More.
Groups = tuple[tuple[str, tuple[tuple[str, tuple[int, ...]], ...]], ...]
GROUPS: Groups = (
    ("Warm", (("heat", (10, 20, 40)), ("hot_air", (5, 15)))),
    (
        "Stir and cool",
        (("seed", (25, 50, 100)), ("stir", ()), ("rest", ()), ("cold", ()), ("back", ())),
    ),
    ("Probe", (("probe_in", ()), ("probe_out", ()), ("wipe", ()))),
    ("Blade", (("dip", ()), ("touch", ()))),
    ("Board's button", (("press", (1, 2)), ("hold", ()))),
)
# Seldom wanted: behind a fold, which stays open while what is in it comes anew.
MORE = (
    (
        "More",
        (
            ("crystals", (10,)),
            ("melted", (100,)),
            ("lift_out", ()),
            ("pour_off", (100,)),
            ("cool_room", ()),
            ("put_away", ()),
        ),
    ),
)
LABELS = {
    "heat": "Microwave",
    "hot_air": "Hot air",
    "seed": "Stir in pieces",
    "cold": "Into the cold",
    "back": "Out of the cold",
    "touch": "Touch the blade",
    "dip": "Dip a blade",
    "press": "Press",
    "hold": "Hold: end the batch",
    "probe_in": "Probe in",
    "probe_out": "Probe out",
    "wipe": "Wipe the probe",
}
# Refused with the probe in the bowl, and that refusal is worth learning: never hidden.
ALWAYS = ("heat",)
PRESSES = (
    "It is the one button of the board. While the board sounds, a press silences it. In silence a "
    "press says: once, a blade was dipped, or, at 5 minutes, it set without a mark; twice, it "
    "takes a mark, or it set too soon. The dark buttons beside the number say the same."
)
SPEEDS = (1, 10, 30, 60)
ELSEWHERE = ("Busy", "Heard")  # at the edge of the screen, and beside the curve
LIVE = ("bowl.doing", "bowl.more", "bowl.time", "bowl.busy")
GONE = (
    '<p>No bowl is set out.</p><p><a class="button" href="/practise">Set out another one</a></p>'
)
TOUCH = "press “Touch the blade”"


@dataclass(frozen=True)
class Seen:
    """What was seen last; ``look`` is None while no bowl is set out."""

    look: Mapping[str, Any] | None = None


class BowlWatch(threading.Thread):
    """Looks at the bowl now and then, once somebody wants to see it."""

    def __init__(self) -> None:
        super().__init__(name="bowl", daemon=True)
        self.seen = Seen()
        self._ending = threading.Event()
        self._lock = threading.Lock()
        self._looking = threading.Lock()

    def wanted(self) -> None:
        """Somebody looks at the room: begin, if it has not."""
        with self._lock:
            if not self.is_alive() and not self._ending.is_set():
                self.look()
                self.start()

    def run(self) -> None:
        """Look until `end`."""
        while not self._ending.wait(EACH_S):
            self.look()

    def look(self) -> None:
        """Look now; one after another, or an older look would replace a newer one."""
        with self._looking:
            try:
                found = bench()
                self.seen = Seen(None if found is None else found.look())
            except SnapcurveError:
                self.seen = Seen()

    def end(self) -> None:
        """Look no more."""
        self._ending.set()


def parts(seen: Seen, version: str, style: Style) -> dict[str, str]:
    """What the room shows of the bowl, by the name of its place; HTML."""
    look = seen.look
    if look is None:
        return {"bowl.seen": GONE, **dict.fromkeys(LIVE, "")}
    lines = "".join(
        f'<div class="headed"><strong>{text(head)}</strong><p>{text(words)}</p></div>'
        for head, words in _rows(look, style)
    )
    return {
        "bowl.seen": lines,
        "bowl.doing": _acts(look, version, GROUPS),
        "bowl.more": _acts(look, version, MORE),
        "bowl.time": _time(look),
        "bowl.busy": _busy(look),
    }


def _rows(look: Mapping[str, Any], style: Style) -> list[tuple[str, str]]:
    """The lines of a look, head and words."""
    rows: list[tuple[str, str]] = []
    for line in look_lines(dict(look), style, TOUCH):
        head, _, words = line.partition(" ")
        if head:
            rows.append((head, words.strip()))
        elif rows:
            rows[-1] = (rows[-1][0], f"{rows[-1][1]} {words.strip()}")
    return [one for one in rows if one[0] not in ELSEWHERE]


def answer(name: str, look: Mapping[str, Any]) -> str:
    """What is said after the act ``name``, as it is then."""
    done = look["acts"][-1]
    if done["said"]:
        return str(done["said"])
    if name == "dip":
        return "Dipped and laid aside. The board knows once you press “Blade dipped”."
    if name == "touch" and look["blade"] is not None:
        seen = str(look["blade"]["seen"])
        return (
            f"{seen} That is not in temper: press “Takes a mark”." if "streaks" in seen else seen
        )
    return f"At {clock(done['seconds'])}: {_lower(_label(name, done['amount']))}."


def _lower(words: str) -> str:
    return words[0].lower() + words[1:]


def _busy(look: Mapping[str, Any]) -> str:
    """What runs just now, and how long it still does."""
    return " ".join(
        text(f"{BUSY.get(name, name).capitalize()}, {left_s:.0f} s more.")
        for name, left_s in look["busy"].items()
    )


def _acts(look: Mapping[str, Any], version: str, wanted: Groups) -> str:
    """The buttons in groups; what cannot be done now keeps its place, or another button would
    come under the finger. A press counts once: each is known by how much was done before it."""
    done = look["acts"]
    before = f"{version}-{len(done)}-{done[-1]['seconds'] if done else 0}"
    groups = []
    for title, acts in wanted:
        buttons = [
            button_form(
                "/practise/act",
                _label(name, amount),
                {
                    "act": name,
                    "amount": "" if amount is None else amount,
                    "once": f"{before}-{name}-{amount}",
                },
                "act bowl",
                off=name not in look["can"] and (name not in ALWAYS or look["put_away"]),
            )
            for name, amounts in acts
            for amount in amounts or (None,)
        ]
        groups.append(
            f"<fieldset><legend>{text(title)}</legend>"
            f'<div class="row">{"".join(buttons)}'
            "</div></fieldset>"
        )
    return "".join(groups)


def _label(name: str, amount: float | None) -> str:
    if name == "press":
        return "Press once" if amount == 1 else "Press twice"
    words = LABELS.get(name, ACTS[name].what[0].upper() + ACTS[name].what[1:])
    return f"{words} {amount:g} {ACTS[name].unit}" if amount else words


def _time(look: Mapping[str, Any]) -> str:
    speeds = "".join(
        button_form(
            "/practise/speed",
            f"{speed} ×",
            {"speed": speed},
            "act bowl",
            off=speed == look["speed"],
        )
        for speed in SPEEDS
    )
    still = look["halted"]
    word = button_form(
        "/practise/halt",
        "Go on" if still else "Stand still",
        {"go": "go" if still else ""},
        "act bowl",
    )
    return f'<fieldset><legend>Time runs</legend><div class="row">{speeds}{word}</div></fieldset>'

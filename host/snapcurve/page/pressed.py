"""What the commands say, for somebody who has the page before him: not what to type but what to
press. Pure."""

import re

# The beginning of a command -> where the page does the same. The first that fits counts.
PLACES = (
    ("calibrate ice", "“Ice bath” under Probe"),
    ("practise touch", "“Touch the blade” under Practise"),
    ("practise account", "“How the last one truly went” under Practise"),
    ("practise end", "“Put everything away” under Practise"),
    ("practise start", "“Set out a bowl” under Practise"),
    ("practise lesson", "a lesson under Practise"),
    ("rehearse", "“Set out a bowl” under Practise"),
    ("probe --type", "“What is fitted” under Probe"),
    ("probe", "“How far can it be trusted” under Probe"),
    ("load", "“Load it onto the board” under Before"),
    ("temper", "“Load it onto the board” under Before"),
    ("plan", "“Plan it” under Before"),
    ("rescue", "“Put it right” under Before"),
    ("couvertures", "the list under Before"),
    ("lot today", "“Lot for today” under Before"),
    ("lot", "“A lot that went in” on the batch’s page"),
    ("batches", "the list under After"),
    ("show", "the batch’s page under After"),
    ("note", "“Add to it” on the batch’s page"),
    ("mark", "the buttons of the bench"),
    ("watch", "the bench’s page"),
)
# What the page has no button for, by its beginning.
TYPED = (
    "calibrate clear",
    "collect --erase-damaged",
    "install",
    "learn",
    "lot hold",
    "lot release",
    "notebook",
    "page",
    "settings",
)
LABELS = {
    "by": "“Who says so”",
    "yes": "the tick at “It went in although it is on hold or past its date”",
    "mass": "the mass",
    "room": "the room",
    "watts": "“Microwave, W”",
    "bowl": "“Bowl”",
    "method": "“Method”",
    "temp": "the temperature",
    "why": "“Why”",
    "to": "“Where it went”",
    "made": "“What”",
    "pieces": "“Pieces”",
    "best-before": "“Best before”",
    "allergens": "“Allergens”",
    "maker": "“Maker”",
    "action": "“What was done”",
    "disposition": "“What became of it”",
    "review": "“A second person’s word”",
    "cleaned": "“Cleaned now”",
    "how": "“How”",
    "operator": "“Who works”",
    "amend": "“Put a field right”",
    "altitude-m": "“Or metres above sea level”",
    "pressure-hpa": "“Pressure by a barometer in the room”",
    "sea-level-hpa": "“a weather report’s pressure”",
    "reference-c": "“What the reference thermometer shows”",
}
_COMMAND = re.compile(r"'snapcurve ([^']+)'")
_OPTION = re.compile(r"(?<![\w-])--([a-z]+(?:-[a-z]+)*)(?: [A-Z]+\b)?(?![\w-])")


def on_page(words: str) -> str:
    """``words`` with what to press in place of what to type; where there is no button for it, it
    says that it is typed in a terminal."""
    return _OPTION.sub(_label, _COMMAND.sub(_place, words))


def _place(found: "re.Match[str]") -> str:
    command = found[1]
    if any(_begins(command, one) for one in TYPED):
        return f"{found[0]} in a terminal"
    if _begins(command, "collect"):
        return "“Collect from the board” under After"
    for beginning, place in PLACES:
        if _begins(command, beginning):
            return place
    return f"{found[0]} in a terminal"


def _begins(command: str, beginning: str) -> bool:
    return command == beginning or command.startswith(f"{beginning} ")


def _label(found: "re.Match[str]") -> str:
    return LABELS.get(found[1], found[0])

"""The udev rules against what udev reads, and against the line that installs them."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
RULES = ROOT / "hardware" / "70-snapcurve.rules"
_MATCH = r'(?:ACTION|SUBSYSTEMS?|ATTRS\{[a-zA-Z]+\})=="[^"]+"'
_SET = r'(?:GOTO|LABEL|ENV\{[A-Z_]+\})="[^"]+"|TAG\+="[a-z]+"'


def lines():
    """The rules without comments."""
    text = RULES.read_text(encoding="ascii")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def test_every_line_is_a_rule_and_every_jump_leads_forward():
    label_at = {}
    for number, line in enumerate(lines()):
        assert re.fullmatch(rf"(?:{_MATCH}|{_SET})(?:, (?:{_MATCH}|{_SET}))*", line), line
        if found := re.fullmatch(r'LABEL="(\w+)"', line):
            label_at[found[1]] = number
    jumps = [
        (number, target)
        for number, line in enumerate(lines())
        for target in re.findall(r'GOTO="(\w+)"', line)
    ]
    assert len(jumps) == 4
    assert all(label_at[target] > number for number, target in jumps)


def test_a_board_is_left_alone_and_may_be_opened():
    (start,) = [n for n, line in enumerate(lines()) if line == 'LABEL="snapcurve_board"']
    done = "\n".join(lines()[start:])
    for words in ('ID_MM_DEVICE_IGNORE}="1"', 'ID_MM_PORT_IGNORE}="1"', 'TAG+="uaccess"'):
        assert words in done
    # Access is granted by systemd's 73-seat-late.rules: what comes after them is too late.
    assert RULES.name < "73-seat-late.rules"


def test_the_readme_and_the_file_say_the_same_line():
    line = f"sudo cp hardware/{RULES.name} /etc/udev/rules.d/ && sudo udevadm control --reload"
    assert f"#   {line}\n" in RULES.read_text(encoding="ascii")
    assert f"`{line}`" in (ROOT / "README.md").read_text(encoding="utf-8")

"""What a typeface can show of a text: nothing is dropped, what it lacks is shown as its code."""

import unicodedata
from collections.abc import Callable

HasLetter = Callable[[str], bool]

# Kinds of characters that show nothing and can turn a text around or hide a part of it.
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn")


def code(letter: str) -> str:
    """The code of a character, such as ⟨U+6F22⟩."""
    return f"⟨U+{ord(letter):04X}⟩"


def shown(text: str, has_letter: HasLetter) -> str:
    """``text`` in letters the typeface has, line breaks kept, in composed form (NFC).

    Right-to-left text stays in reading order; whoever draws it turns it.
    """
    text = text.replace("\r\n", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    return "".join(_shown(letter, has_letter) for letter in unicodedata.normalize("NFC", text))


def _shown(letter: str, has_letter: HasLetter) -> str:
    if letter == "\n":
        return letter
    if letter == "\t":
        return " "
    if unicodedata.category(letter) in _HIDDEN or not has_letter(letter):
        return code(letter)
    return letter

"""Signs: which of them can be printed, and what is printed where one cannot.

The setter draws an empty box for a sign that its fonts lack, and says nothing. So all text is
looked through before it is set. A name that cannot be printed gives way to its yarn's letter and
colour, a letter that cannot to one that is free; both are said on the first page.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from string import ascii_uppercase

from fontTools.ttLib import TTFont

from planner.errors import PlanError
from planner.piece import Project

REGULAR, BOLD = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"
GREEK = "ΓΔΘΛΞΠΣΦΨΩ"
UNKNOWN = "\N{REPLACEMENT CHARACTER}"
BREAK = "\N{ZERO WIDTH SPACE}"
# They join letters in the scripts of Arabia, and are no mark of their own.
JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
# A longer word may be wider than its column, so it may be broken at every so many signs.
LONGEST_WORD, BROKEN_AT = 18, 9
LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
# A number and its unit stand on one line.
NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:m|cm|mm|g|in|yd)\b)")
NO_BREAK = "\N{NO-BREAK SPACE}"
LONGEST_LOT = 12  # signs; a longer dye lot may be broken
SHORT_NAME = 26  # signs of a name on a tag or a card


def font_folder() -> Path:
    """Where the fonts are that the sheet is set in; matplotlib brings them along.

    Raises PlanError where they are missing.
    """
    # Found without loading the library, which takes longer than setting a sheet.
    package = find_spec("matplotlib")
    folder = Path(package.origin if package and package.origin else "")
    folder = folder.parent / "mpl-data" / "fonts" / "ttf"
    for name in (REGULAR, BOLD):
        # Without them the setter would leave out all text, and say nothing.
        if not (folder / name).is_file():
            raise PlanError(
                f"The font {name} is missing, so no sheet can be set. Delete the folder .venv and "
                "run python3 -m planner: it fetches all anew."
            )
    return folder


@cache
def shapes_of(font: str) -> frozenset[int]:
    """The code points that a font has a shape for."""
    with TTFont(font_folder() / font, lazy=True) as opened:
        return frozenset(opened.getBestCmap())


@cache
def advances() -> dict[int, float]:
    """How wide the shape of each code point is, in letters of size 1."""
    with TTFont(font_folder() / REGULAR, lazy=True) as opened:
        unit = opened["head"].unitsPerEm
        metrics = opened["hmtx"].metrics
        widths = {}
        for sign, shape in opened.getBestCmap().items():
            width, _ = metrics[shape]
            widths[sign] = width / unit
    return widths


def cleaned(text: str) -> str:
    """The text without control signs, its white space made plain.

    Signs that turn the direction of writing would turn what stands after them as well.
    """
    plain = (_plain_sign(sign) for sign in text)
    return " ".join("".join(plain).split())


def _plain_sign(sign: str) -> str:
    if sign in JOINERS or sign == BREAK:
        return sign
    category = unicodedata.category(sign)
    if category == "Cf":
        return ""
    return " " if category in ("Cc", "Cs", "Zl", "Zp") else sign


def can_be_printed(text: str, font: str = REGULAR) -> bool:
    """Whether a font has a shape for each sign of a text."""
    shapes = shapes_of(font)
    return all(ord(sign) in shapes for sign in cleaned(text) if sign not in JOINERS)


def breakable(text: str) -> str:
    """The text, its long words parted so that they can be broken."""
    return LONG_WORD.sub(lambda match: BREAK.join(_parts(match[0])), text)


def _parts(word: str) -> Iterator[str]:
    for start in range(0, len(word), BROKEN_AT):
        yield word[start : start + BROKEN_AT]


def shortened(text: str, most: int = SHORT_NAME) -> str:
    """The text, cut with "…" where it has more signs than that."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def fitting(text: str, width: float, size: float) -> str:
    """The text, cut with "…" where it is wider than that in letters of this size, both in pt."""
    for most in range(len(text), 0, -1):
        cut = shortened(text, most)
        if width_of(cut) * size <= width:
            return cut
    return ""


def width_of(text: str) -> float:
    """How wide a text is in letters of size 1, not bold."""
    widths = advances()
    return sum(widths.get(ord(sign), 1.0) for sign in text)


class Signs:
    """How the letters and names of a piece are printed.

    `notes` say what is printed otherwise than it is called.
    """

    def __init__(self, project: Project):
        self.notes: list[str] = []
        self._yarns = project.all_yarns
        self._stand_ins = _stand_ins(self._yarns)
        self.names = {letter: self._name(letter) for letter in self._yarns}
        self.title = self._title(project.name)
        changed = [self.letter(letter) for letter in self._yarns if self.letter(letter) != letter]
        if changed:
            self.notes.append(
                f"Letters that this print has no shapes for gave way to free ones: yarn "
                f"{', '.join(changed)}."
            )

    def letter(self, letter: str) -> str:
        """A yarn's letter as it is printed."""
        return letter.translate(self._stand_ins)

    def name(self, letter: str) -> str:
        """What a yarn is called, in full."""
        return breakable(self.names[letter])

    def short_name(self, letter: str) -> str:
        """What a yarn is called where there is little room."""
        return breakable(shortened(self.names[letter]))

    def titled(self, letter: str) -> str:
        """A yarn's letter and what it is called, where there is little room."""
        printed, name = self.letter(letter), self.short_name(letter)
        # A name that cannot be printed has its letter in what stands for it.
        return name if name.startswith(f"{printed} #") else f"{printed} {name}".strip()

    def name_that_fits(self, letter: str, width: float, size: float) -> str:
        """What a yarn is called on one line of this width, in letters of this size, both in pt."""
        return fitting(self.names[letter], width, size)

    def lot(self, dye_lot: str) -> str:
        """A dye lot as it is printed."""
        return breakable(cleaned(dye_lot)) if can_be_printed(dye_lot) else "see its band"

    def text(self, words: str) -> str:
        """A sentence with the letters as they are printed, and nothing that cannot be."""
        stood_in = cleaned(words).translate(self._stand_ins)
        shapes = shapes_of(REGULAR)
        printed = []
        for sign in stood_in:
            has_shape = ord(sign) in shapes or sign in JOINERS
            printed.append(sign if has_shape else UNKNOWN)
        together = NUMBER_AND_UNIT.sub(NO_BREAK, "".join(printed))
        return breakable(together)

    def texts(self, sentences: Iterable[str]) -> list[str]:
        """The sentences as they are printed."""
        return [self.text(words) for words in sentences]

    def _name(self, letter: str) -> str:
        yarn = self._yarns[letter]
        if can_be_printed(yarn.name):
            return cleaned(yarn.name)
        printed = self.letter(letter)
        self.notes.append(
            f"The name of yarn {printed} has signs that this print has no shapes for: "
            f"it stands here as its letter and colour, {printed} {yarn.colour}."
        )
        return f"{printed} {yarn.colour}"

    def _title(self, name: str) -> str:
        if can_be_printed(name):
            return cleaned(name) or "A piece without a name"
        self.notes.append(
            "The name of the piece has signs that this print has no shapes for; write it here: "
            "______________________"
        )
        return "Intarsia piece"


def _stand_ins(letters: Iterable[str]) -> dict[int, str]:
    """A free letter for each sign of the yarns' letters that cannot be printed."""
    used = set("".join(letters))
    # Where a piece has used up one alphabet, there is another.
    free = [letter for letter in (*ascii_uppercase, *GREEK) if letter not in used]
    lacking = [sign for sign in sorted(used) if not can_be_printed(sign, BOLD)]
    stand_ins = {}
    for sign, letter in zip(lacking, free, strict=False):
        stand_ins[ord(sign)] = letter
    return stand_ins

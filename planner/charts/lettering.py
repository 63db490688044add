"""The yarn letter of each thing that tells yarns apart on a sheet, and its colour.

A letter on the sheet stays; a fill that looks like a yarn of the piece has that yarn's letter; what
is left has a free one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from itertools import product
from string import ascii_uppercase

from coloraide import Color

from planner.charts.keys import Keys, refuse_crowd
from planner.charts.pages import Grid
from planner.charts.questions import listed
from planner.colour import ALIKE, apart
from planner.errors import PlanError
from planner.guards import LONGEST_COLOUR, MOST_YARNS
from planner.piece import LETTER, NO_STITCH

MOST_QUOTED = 20  # letters of a text in a note
WHITE = "#ffffff"

Letters = dict[str, str]  # by key
Colours = dict[str, str]  # #rrggbb, by letter or by key; "" where none is known


def letters_for(
    keys: Keys,
    fill: Grid,
    yarns: Mapping[str, str],
    name: str,
) -> tuple[Letters, Colours, list[str]]:
    """A yarn letter for each key, the colours of the letters, and notes.

    `fill` has the fill of each cell; `yarns` are colours by letter; `name` is the file's. Raises
    PlanError for more yarns than anybody knits.
    """
    signs = set(keys.grid.ravel().tolist()) - {NO_STITCH}
    if len(signs) > MOST_YARNS:
        refuse_crowd(len(signs), "letters or signs", name)
    colours = _colours(keys, fill)
    letters = {}
    for key in colours:
        label = keys.label(key)
        if LETTER.fullmatch(label):
            letters[key] = label
    # Yarns of the piece lend their letters to fills that look like them; the rest are new.
    _add_by_likeness(letters, colours, yarns)
    _add_free(letters, keys, list(colours), yarns)

    notes = _about_new_letters(letters, keys, list(colours))
    new = [letters[key] for key in colours if keys.label(key) != letters[key]]
    notes += about_skipped(new, yarns)
    notes += _about_capitals(letters)
    known = {}
    for key, colour in colours.items():
        if colour:
            known[letters[key]] = colour
    letters[NO_STITCH] = NO_STITCH
    return letters, known, notes


def _colours(keys: Keys, fill: Grid) -> Colours:
    """The colour of each key, commonest key first; "" where the sheet shows none."""
    key_of_cell = keys.grid.ravel().tolist()
    fill_of_cell = fill.ravel().tolist()
    # A letter may stand on several fills: the commonest is its colour.
    pairs = Counter(zip(key_of_cell, fill_of_cell, strict=True))
    colours: Colours = {}
    for (key, shade), _ in pairs.most_common():
        if key == NO_STITCH or key in colours:
            continue
        if not key:
            # A ground that is not painted is as white as the sheet.
            colours[key] = shade or WHITE
        else:
            colours[key] = shade or colour_named(keys.label(key))
    return colours


def colour_named(text: str) -> str:
    """The colour (#rrggbb) that a text names, such as light blue; "" if it names none."""
    if len(text) > LONGEST_COLOUR:
        return ""
    try:
        named = Color.match(text.replace(" ", ""), fullmatch=True)
        if named is None:
            return ""
        return named.color.convert("srgb").to_string(hex=True, alpha=False)
    except (ValueError, ArithmeticError):  # no colour has such numbers
        return ""


def _add_by_likeness(
    letters: Letters, colours: Colours, yarns: Mapping[str, str], within: float = ALIKE
) -> None:
    """Give keys without a letter those of the yarns they look like, the most alike first."""
    alike = []
    for key, colour in colours.items():
        if key in letters or not colour:
            continue
        for letter, yarn in yarns.items():
            distance = apart(colour, yarn)
            if distance < within:
                alike.append((distance, key, letter))
    # A yarn is given once: two fills that both look like it are not one.
    for _, key, letter in sorted(alike):
        if key not in letters and letter not in letters.values():
            letters[key] = letter


def _add_free(
    letters: Letters,
    keys: Keys,
    all_keys: list[str],
    yarns: Mapping[str, str],
) -> None:
    """Give keys without a letter the first of their text, or one that nobody has."""
    taken = {*yarns, *letters.values()}
    for key in all_keys:
        if key in letters:
            continue
        # "light blue" would be L, as a knitter would shorten it.
        wish = keys.label(key)[:1].upper()
        if not LETTER.fullmatch(wish) or wish in taken:
            wish = free_letter(taken)
        letters[key] = wish
        taken.add(wish)


def letters_among(
    chart: Sequence[str], given: Container[str], colours: Colours, yarns: Colours, *, within: float
) -> Letters:
    """Which letter each letter of a chart has among the yarns of a piece, colours by letter.

    Letters of its own stay. Those that were `given` become that of a yarn that looks like them,
    nearer than `within`, stay if nobody has them, or become a free one.
    """
    letters = {letter: letter for letter in chart if letter not in given}
    new = {letter: colours.get(letter, "") for letter in chart if letter in given}
    _add_by_likeness(letters, new, yarns, within)
    for letter in new:
        if letter not in letters:
            taken = {*yarns, *letters.values()}
            letters[letter] = free_letter(taken) if letter in taken else letter
    return letters


def about_skipped(given: Iterable[str], yarns: Container[str]) -> list[str]:
    """A note on letters that were passed over because yarns of the piece have them."""
    single = {letter for letter in given if len(letter) == 1}
    last = max(single, default="")
    before = [letter for letter in ascii_uppercase if letter < last and letter not in single]
    skipped = [letter for letter in before if letter in yarns]
    if not skipped:
        return []
    are = "is a yarn" if len(skipped) == 1 else "are yarns"
    return [f"No new yarn is called {listed(skipped)}: {listed(skipped)} {are} of this piece."]


def free_letter(taken: Container[str]) -> str:
    """The first letter, A to Z and then AA to ZZ, that is not taken."""
    for first, second in product(["", *ascii_uppercase], ascii_uppercase):
        letter = first + second
        if letter not in taken:
            return letter
    raise PlanError("All letters from A to ZZ are taken. Take yarns off the list.")


def _about_new_letters(letters: Letters, keys: Keys, all_keys: list[str]) -> list[str]:
    """A note on the letters that are not those of the sheet."""
    given = {}
    for key in all_keys:
        label = keys.label(key)
        what = f'"{label[:MOST_QUOTED]}"' if label else key or "blank"
        given[what] = letters[key]
    # A letter that stands on the sheet needs no word.
    new = []
    for what, letter in given.items():
        if what.strip('"') != letter:
            new.append(f"{what} is {letter}")
    return [f"Letters given: {listed(new)}."] if new else []


def _about_capitals(letters: Letters) -> list[str]:
    """A note on the letters that differ by their case only."""
    used = letters.values()
    cases = []
    for letter in sorted(used):
        small = letter.lower()
        if small != letter and small in used:
            cases.append(f"{letter} and {small}")
    return [f"Capitals count: {listed(cases)} are two yarns."] if cases else []

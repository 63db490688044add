"""The names that a sheet's key gives its yarns: "A = Oat", or a name beside a sign or a fill."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from planner.charts.keys import SAME, Keys
from planner.charts.legends import ENTRY, LONGEST_ENTRY, NO_STITCH_WORDS, entries_of, sign_in
from planner.charts.pages import Grid, Page
from planner.colour import apart
from planner.piece import LETTER, NO_STITCH

LONGEST_NAME = 60  # letters; what is longer is a sentence
A_WORD = re.compile(r"[^\W\d_]{3}")
MOST_FAR = 2  # columns between a sign and its name: one may be blank


def names_of(
    keys: Keys, letters: Mapping[str, str], pages: Iterable[Page], page: Page, part: Page
) -> dict[str, str]:
    """The name of each letter, as far as the sheets tell it.

    `letters` are those of the `keys`; the chart is the `part` of this `page`. What stands in the
    cells themselves is a name, too: "Leaf green" of the letter L.
    """
    found = _in_keys(keys, [page, *(each for each in pages if each.title != page.title)], part)
    names = {}
    for key, letter in letters.items():
        label = keys.label(key)
        its_own = label if not LETTER.fullmatch(label) and _is_name(label) else ""
        name = its_own or found.get(key, "")
        if name and key != NO_STITCH:
            names[letter] = name
    return names


def _in_keys(keys: Keys, pages: Iterable[Page], part: Page) -> dict[str, str]:
    """The names beside signs and fills on all pages, by key; the first of each counts."""
    places = set(keys.grid.ravel().tolist()) - {NO_STITCH, ""}
    signs = {keys.label(key) or key: key for key in places}
    names: dict[str, str] = {}
    for page in pages:
        fills = _keys_of_fills(page, places)
        outside = (page.text != "") & page.first
        if page.title == part.title:
            rows, columns = np.isin(page.rows, part.rows), np.isin(page.columns, part.columns)
            outside &= ~(rows[:, None] & columns)
        for row, column in np.argwhere(outside).tolist():
            for key, name in _told(page, (row, column), signs, fills):
                names.setdefault(key, name)
    return names


def _keys_of_fills(page: Page, places: Iterable[str]) -> dict[str, str]:
    """The key that each fill of a page stands for, if it stands for one."""
    of_fills = {}
    shades = [key for key in places if key.startswith("#")]
    for fill in set(page.fill.ravel().tolist()) - {""}:
        near = [(apart(fill, key), key) for key in shades]
        distance, key = min(near, default=(SAME, ""))
        if distance < SAME:
            of_fills[fill] = key
    return of_fills


def _told(
    page: Page, place: tuple[int, int], signs: Mapping[str, str], fills: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """The keys that the text in a cell names, with their names."""
    row, column = place
    text = page.text[row, column]
    if len(text) > LONGEST_ENTRY or NO_STITCH_WORDS.search(text):
        return
    for each in entries_of(text):
        entry = ENTRY.fullmatch(each)
        sign = sign_in(entry[1], signs) if entry else ""
        if entry and sign in signs and _is_name(entry[2]):
            yield signs[sign], entry[2].strip()
    if text in signs or not _is_name(text):
        return
    beside = _beside(page.text, page.fill, row, column)
    if beside in signs:
        yield signs[beside], text
    elif beside in fills:
        yield fills[beside], text
    elif page.fill[row, column] in fills:
        yield fills[page.fill[row, column]], text


def _beside(text: Grid, fill: Grid, row: int, column: int) -> str:
    """The sign or the fill that stands before a cell; "" where there is none near it."""
    for before in range(column - 1, max(-1, column - 1 - MOST_FAR), -1):
        if text[row, before] or fill[row, before]:
            return str(text[row, before] or fill[row, before])
    return ""


def _is_name(text: str) -> bool:
    return len(text) <= LONGEST_NAME and bool(A_WORD.search(text))

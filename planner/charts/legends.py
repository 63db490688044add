"""What the key of a sheet says of no stitch: "X = no stitch", or the words beside a cell."""

from __future__ import annotations

import re
from collections.abc import Container
from typing import NamedTuple

import numpy as np

from planner.charts.keys import SAME
from planner.charts.lettering import colour_named
from planner.charts.outlines import is_grey
from planner.charts.pages import Grid, Page
from planner.charts.questions import Remarks
from planner.colour import apart
from planner.units import counted

LONGEST_ENTRY = 300  # letters
NO_STITCH_WORDS = re.compile(
    r"\b(?:no|not an?|non)[\s-]*st(?:itch(?:es)?|s)?\b\.?"
    r"|\bnot (?:knitted|worked|part of)\b|\bdo(?:es)? not exist\b|\boutside\b",
    re.IGNORECASE,
)
ENTRY = re.compile(r"(.+?)\s*(?:=|:|–|—|\s-|\bis\b|\bare\b|\bmeans?\b)\s*(.+)", re.IGNORECASE)
BETWEEN = re.compile(r"[;\n,|]|\.\s")  # entries in one cell
HEAD = re.compile(r"\s*(?:key|legend|notes?|symbols?)\s*:", re.IGNORECASE)
THINGS = re.compile(r"\b(?:the|an?|cells?|squares?|box(?:es)?)\b|[\"'“”]", re.IGNORECASE)
BLANKS = re.compile(r"(?:blanks?|empty|unfilled|no colou?r)", re.IGNORECASE)
HATCHES = re.compile(r"(?:hatch|strip|shad|dott|pattern)\w*", re.IGNORECASE)
GREYS = re.compile(r"(?:light |dark )?gr[ea]y(?:ed)?(?: out)?", re.IGNORECASE)
AS_NAMED = 30  # CIEDE2000: a fill nearer than this to a colour may be called by its name


class Legend(NamedTuple):
    """Which cells of a chart the sheet says are no stitches, and what it says of blank ones.

    `yarns` are the fills that it gives another name.
    """

    out: Grid
    blanks: str | None
    yarns: set[str]


def read_legend(page: Page, part: Page, remarks: Remarks) -> Legend:
    """What a sheet says of no stitch in a part of it."""
    out = _says_so_itself(part)
    blanks = None
    seen = set()
    yarns = set()
    for (row, column), text in np.ndenumerate(page.text):
        if not page.first[row, column] or not text or len(text) > LONGEST_ENTRY:
            continue
        if _is_within(page, row, column, part):
            continue
        names_blanks = any(_ground_in(entry) for entry in entries_of(text))
        if names_blanks:
            blanks = "ground"
            remarks.note(f'Blank cells are stitches of the ground, as the sheet says: "{text}".')
        if not NO_STITCH_WORDS.search(text):
            # A name beside a filled cell of the key, not a number beside the chart.
            is_entry = column > 0 and not _is_within(page, row, column - 1, part)
            if is_entry and not text.isdigit():
                yarns.add(page.fill[row, column - 1])
            continue
        cells = _meant(page, row, column, part)
        if cells is None:
            remarks.note(f'"{text}" in cell {page.cell(row, column)} was not understood.')
            continue
        if text not in seen:
            number = counted(int(cells.sum()), "cell")
            remarks.note(f'No stitches, as the sheet says ("{text}"): {number}.')
        seen.add(text)
        out |= cells
    if out.any() and blanks is None:
        # The sheet has a way to say no stitch, so that what is blank is meant to be knitted.
        blanks = "ground"
    return Legend(out, blanks, yarns - {""})


def entries_of(text: str) -> list[str]:
    """The entries of a key that may stand in one cell."""
    parts = BETWEEN.split(HEAD.sub("", text))
    return [part.strip() for part in parts if part.strip()]


def _says_so_itself(part: Page) -> Grid:
    """The cells of a chart that hold the words."""
    words = {text for text in part.text.ravel().tolist() if NO_STITCH_WORDS.fullmatch(text)}
    return np.isin(part.text, list(words))


def _is_within(page: Page, row: int, column: int, part: Page) -> bool:
    return bool(page.rows[row] in part.rows and page.columns[column] in part.columns)


def _ground_in(text: str) -> bool:
    """Whether a text says that blank cells are a yarn."""
    entry = ENTRY.fullmatch(text)
    if not entry or NO_STITCH_WORDS.search(text):
        return False
    return bool(BLANKS.fullmatch(THINGS.sub("", entry[1]).strip()))


def _meant(page: Page, row: int, column: int, part: Page) -> Grid | None:
    """The cells of a chart that an entry of a key says are no stitches; None if it is unclear."""
    for text in entries_of(page.text[row, column]):
        entry = ENTRY.fullmatch(text) if NO_STITCH_WORDS.search(text) else None
        if entry:
            first, second = entry[1], entry[2]
            subject = second if NO_STITCH_WORDS.search(first) else first
            return _named(subject, part)
    if page.fill[row, column]:
        return _alike(page, row, column, part)
    # The sign stands before its meaning, seldom behind it.
    beside = [place for place in (column - 1, column - 2, column + 1) if _is_on(page, place)]
    for place in beside:
        if page.text[row, place] or page.fill[row, place]:
            return _alike(page, row, place, part)
    # A blank cell, framed or not, stands for the blank ones.
    return _blank(part) if beside else None


def _is_on(page: Page, column: int) -> bool:
    return 0 <= column < page.text.shape[1]


def _blank(part: Page) -> Grid:
    return (part.text == "") & (part.fill == "")


def _alike(page: Page, row: int, column: int, part: Page) -> Grid | None:
    """The cells of a chart that look like one of the page."""
    text, fill = page.text[row, column], page.fill[row, column]
    if text and (part.text == text).any():
        return part.text == text
    if page.hatched[row, column]:
        return part.hatched & (part.fill == fill)
    if fill:
        return _filled(fill, part, SAME)
    return _named(text, part)


def _filled(colour: str, part: Page, within: float) -> Grid:
    fills = set(part.fill[~part.hatched].tolist()) - {""}
    near = [fill for fill in fills if apart(fill, colour) < within]
    return np.isin(part.fill, near) & ~part.hatched


def _named(subject: str, part: Page) -> Grid | None:
    """The cells that a word such as grey, blank or X names; None if it names nothing."""
    signs = set(part.text.ravel().tolist()) - {""}
    name = sign_in(subject, signs)
    if name in signs:
        return part.text == name
    if BLANKS.fullmatch(name):
        return _blank(part)
    if HATCHES.fullmatch(name) and part.hatched.any():
        return part.hatched.copy()
    bare = part.text == ""
    if GREYS.fullmatch(name):
        fills = set(part.fill.ravel().tolist()) - {""}
        greys = [fill for fill in fills if is_grey(fill)]
        return np.isin(part.fill, greys) & bare
    colour = colour_named(name)
    if colour:
        return _nearest(colour, part)
    as_small = [sign for sign in signs if sign.lower() == name.lower()]
    # A short name is a sign that this chart happens not to have.
    is_sign = len(name) <= 2
    return np.isin(part.text, as_small) if as_small or is_sign else None


def sign_in(subject: str, signs: Container[str]) -> str:
    """What a key speaks of, without what stands around it: "X" of "the cell X"."""
    # A may be a sign as well as a word.
    bare = subject.strip()
    return bare if bare in signs else THINGS.sub("", subject).strip()


def _nearest(colour: str, part: Page) -> Grid | None:
    """The cells of the fill that is most like a colour; None if none is like it."""
    fills = sorted(set(part.fill.ravel().tolist()) - {""})
    if not fills:
        return None
    distance, fill = min((apart(fill, colour), fill) for fill in fills)
    return part.fill == fill if distance < AS_NAMED else None

"""Lines of a page that only say which side is worked, or repeat a spreadsheet's own headings."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
from openpyxl.utils import get_column_letter

from planner.charts.pages import Grid, Line
from planner.charts.rulers import ARROWS, NO_NUMBER

SIDE_WORD = re.compile(
    rf"[\s(]*[{ARROWS}]*\s*(?:RS|WS|right side|wrong side|knit|purl)?[\s).:]*[{ARROWS}]*\s*",
    re.IGNORECASE,
)
LONGEST_PLAIN = 3  # letters; a longer text in such a line is a title
MOST_LINES = 2  # at either side of a chart
MOSTLY = 0.6  # of the texts of such a line
FEWEST = 2  # sides, or they are signs here and there
FEWEST_HEADINGS = 5


def side_labels(text: Grid, number: Grid) -> Grid:
    """The cells of columns that hold RS, WS and arrows, and nothing else but numbers and titles.

    There are none where the same words are also yarns of the chart.
    """
    is_side = _looked_at(text, _is_side)
    held = text != ""
    is_long = _looked_at(text, _is_title)
    strange = held & ~is_side & ~is_long & (number == NO_NUMBER)
    counts = is_side.sum(axis=0)
    is_line = (counts >= FEWEST) & (counts >= MOSTLY * held.sum(axis=0)) & ~strange.any(axis=0)
    labels = is_side & is_line
    words = set(text[labels].tolist())
    elsewhere = set(text[is_side & ~labels].tolist())
    if is_line.sum() > MOST_LINES or words & elsewhere:
        return np.zeros_like(is_side)
    return labels


def column_headings(text: Grid) -> Line:
    """The rows that hold a spreadsheet's own letters of columns: A, B, C and so on."""
    rows = []
    for row, cells in enumerate(text):
        at = np.flatnonzero(cells != "")
        if len(at) < FEWEST_HEADINGS:
            continue
        # They may begin beyond A, where only some of the columns were copied.
        letters = [get_column_letter(column + 1) for column in range(len(at))]
        if cells[at].tolist() == letters:
            rows.append(row)
    return np.array(rows, int)


def _looked_at(text: Grid, look: Callable[[str], bool]) -> Grid:
    """What `look` says of each text."""
    answers = {each: look(each) for each in set(text.ravel().tolist())}
    return np.vectorize(answers.get, otypes=[bool])(text)


def _is_side(text: str) -> bool:
    says_something = any(sign.isalpha() or sign in ARROWS for sign in text)
    return says_something and SIDE_WORD.fullmatch(text) is not None


def _is_title(text: str) -> bool:
    return len(text) > LONGEST_PLAIN

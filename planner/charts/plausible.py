"""Sheets that hold no chart, refused with what to do: written rows, lists, tables of sizes."""

from __future__ import annotations

import re
from typing import NoReturn

import numpy as np

from planner.charts.pages import Grid, Page
from planner.charts.whereabouts import HALF, Found
from planner.errors import PlanError
from planner.piece import LETTER

# "10A", "3 B", "K12", "p4": as many stitches of a yarn.
RUN = re.compile(r"\d+\s*[^\W\d_]{1,3}|[kp]\s*\d+(?:\s+[^\W\d_]{1,3})?", re.IGNORECASE)
MOST_RUNS = 0.3  # of the texts of a chart
FEWEST_RUNS = 3
FEWEST_SIGNS = 4  # in a list or table; with fewer anything may be a chart
TIMES_EACH = 3  # that the signs of a chart stand in it, at the least, on an average
FEWEST_WORDS = 3  # lines of words beside the chart
MOST_COLUMNS = 8  # of a table whose columns differ in kind
FEWEST_LINES = 4
ALL_THE_SAME = "If there is a chart in it, name its area, such as C4:AF33."


def check_is_chart(page: Page, part: Page, found: Found, name: str) -> None:
    """Refuse what is no chart. Raises PlanError, with what it seems to be."""
    runs = [text for text in set(page.text.ravel().tolist()) if RUN.fullmatch(text)]
    in_part = np.isin(part.text, runs)
    texts = part.text != ""
    if len(runs) >= FEWEST_RUNS and in_part.sum() > MOST_RUNS * texts.sum():
        raise PlanError(
            f'{name} seems to hold rows in words, such as "{min(runs)}", and no chart with one '
            "cell a stitch. Put the rows into a text file (.txt), one row a line, and load that. "
            f"{ALL_THE_SAME}"
        )
    # By fills a chart may have any numbers in its cells, or none.
    if 2 * texts.sum() < texts.size:
        return
    signs, counts = np.unique(part.text[texts].astype(str), return_counts=True)
    # Yarn letters are how a chart looks, however small it is.
    are_letters = np.mean([_is_letter(sign) for sign in signs]) > HALF
    are_counts = all(sign.isdigit() for sign in signs) and (part.fill[texts] != "").all()
    if are_counts:
        return
    if len(signs) >= FEWEST_SIGNS and counts.mean() < TIMES_EACH and not are_letters:
        _refuse_list(name, f"{len(signs)} different texts in {int(texts.sum())} cells")
    if _is_table(part.text) and not are_letters:
        _refuse_list(name, "each column holds things of its own")
    notes = int((found.note & page.first).sum())
    if min(part.text.shape) == 1 and notes > texts.sum():
        _refuse_list(name, f"beside {int(texts.sum())} cells in one line it has {notes} texts")
    if (part.fill != "").any():
        return
    words = _words_beside(page, part, found)
    if words >= FEWEST_WORDS and words > HALF * len(part.rows):
        _refuse_list(name, f"words stand beside {words} of its {len(part.rows)} lines")


def _is_letter(sign: str) -> bool:
    """Whether a sign may well be a yarn's letter, or no stitch: A, AB, or any one sign."""
    is_one = len(sign) == 1 and not sign.isdigit()
    return is_one or (sign.isupper() and LETTER.fullmatch(sign) is not None)


def _refuse_list(name: str, because: str) -> NoReturn:
    raise PlanError(
        f"{name} seems to hold a list or a table and no chart: {because}. A chart has a letter or "
        f"a fill in each cell. {ALL_THE_SAME}"
    )


def _is_table(text: Grid) -> bool:
    """Whether no sign stands in two columns, though the columns hold several."""
    height, width = text.shape
    if height < FEWEST_LINES or not 1 < width <= MOST_COLUMNS:
        return False
    kinds = [set(column.tolist()) - {""} for column in text.T]
    together = set().union(*kinds)
    several = sum(len(kind) > 1 for kind in kinds)
    return several > 1 and len(together) == sum(map(len, kinds))


def _words_beside(page: Page, part: Page, found: Found) -> int:
    """How many lines of the chart have words right beside them."""
    rows, columns = found.place
    note = found.note & ~found.labels
    beside = np.zeros(len(part.rows), bool)
    for column in (columns.start - 1, columns.stop):
        if 0 <= column < page.text.shape[1]:
            beside |= note[rows, column]
    return int(beside.sum())

"""How sheets of charts in many styles are read: right, asked, marked, refused, or silently wrong.

    python -m tests.helpers.sheet_survey [TIMES]

prints the table by style.
"""

from __future__ import annotations

import sys
import zlib
from collections import Counter
from itertools import product

import numpy as np

from planner.charts import SheetChart, read_pasted, read_sheet
from planner.errors import PlanError
from tests.helpers.chart_sheets import STYLES, Drawn
from tests.helpers.chart_survey import ASKED, MARKED, REFUSED, RIGHT, SILENT, wrong_cells

MOST_ANSWERS = 16  # that are tried for one sheet
NEEDLESS = "needless"


def read(drawn: Drawn, **answers) -> SheetChart:
    """A sheet as it is read, from a file or pasted."""
    if drawn.is_pasted:
        return read_pasted(drawn.data, **answers)
    return read_sheet(drawn.data, drawn.name, **answers)


def wrong(sheet: SheetChart, drawn: Drawn) -> np.ndarray | None:
    """Which cells are not as they are meant, top row first; None at another size.

    Letters that stand on the sheet must stay.
    """
    cells = sheet.chart.cells[::-1].astype(int)
    missed = wrong_cells(cells, drawn.cells)
    if missed is None or not drawn.letters:
        return missed
    meant = np.array([*drawn.letters, "."])[drawn.cells]
    return np.array(sheet.chart.to_rows(), dtype=str) != meant


def can_be_answered(sheet: SheetChart, drawn: Drawn) -> bool:
    """Whether some answers to what is asked give what is meant."""
    choices = [[(ask.setting, choice) for choice in ask.choices] for ask in sheet.asks]
    for _, answers in zip(range(MOST_ANSWERS), product(*choices), strict=False):
        try:
            missed = wrong(read(drawn, **dict(answers)), drawn)
        except PlanError:
            continue
        if missed is not None and not missed.any():
            return True
    return False


def outcome_of(drawn: Drawn) -> tuple[str, bool]:
    """What came of reading a sheet, and whether anything was asked or marked that is not open."""
    try:
        sheet = read(drawn)
    except PlanError:
        return (RIGHT if drawn.cells is None else REFUSED), False
    if drawn.cells is None:
        return SILENT, False
    asked = {ask.setting for ask in sheet.asks}
    missed = wrong(sheet, drawn)
    if missed is not None and not missed.any():
        is_needless = bool(asked - drawn.open) or (sheet.doubtful.any() and not drawn.open)
        return RIGHT, is_needless
    if asked and can_be_answered(sheet, drawn):
        return ASKED, True
    if missed is not None and not (missed & ~sheet.doubtful[::-1]).any():
        return MARKED, True
    return SILENT, False


def in_style(name: str, number: int) -> Drawn:
    """A sheet in a style."""
    return STYLES[name](np.random.default_rng([number, zlib.crc32(name.encode())]))


def survey(times: int) -> dict[str, Counter]:
    """What came of each style, so many sheets of each."""
    found: dict[str, Counter] = {}
    for name in STYLES:
        found[name] = Counter()
        for number in range(times):
            drawn = in_style(name, number)
            outcome, is_needless = outcome_of(drawn)
            found[name][outcome] += 1
            found[name][NEEDLESS] += is_needless and outcome == RIGHT
            found[name]["open"] += bool(drawn.open)
    return found


def main(times: int) -> None:
    """Print the table."""
    found = survey(times)
    heads = (RIGHT, ASKED, MARKED, REFUSED, SILENT, NEEDLESS, "open")
    print(f"{'style':28}" + "".join(f"{head:>10}" for head in heads))
    for name, counts in found.items():
        print(f"{name:28}" + "".join(f"{counts[head] or '':>10}" for head in heads))
    total = sum(found.values(), Counter())
    print(f"{'all':28}" + "".join(f"{total[head]:>10}" for head in heads))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)

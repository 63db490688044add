"""Writes how charts are read, style by style, into STYLES.md: pictures, sheets, written rows.

Run it as `.venv/bin/python tests/benchmarks/reading_styles.py [TIMES]`: so many of each style, 3
unless it is said, and three times as many pictures. *Silent* is what came out wrong without a
question or a mark.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.written_styles import HEAD, line_of
from tests.helpers.chart_survey import (
    ASKED,
    CELLS,
    MARKED,
    MARKED_CELLS,
    REFUSED,
    RIGHT,
    SILENT,
    survey_of_all,
)
from tests.helpers.sheet_survey import survey as sheet_survey
from tests.helpers.written_styles import FAMILIES
from tests.helpers.written_styles import STYLES as WRITTEN
from tests.helpers.written_tally import tally_of

OF_PICTURES = 3  # as many of each style as of sheets and written rows
PAGE = Path(__file__).with_name("STYLES.md")
OUTCOMES = (RIGHT, ASKED, MARKED, REFUSED, SILENT, "needless")
INTRODUCTION = """# How charts are read, style by style

Written by `.venv/bin/python tests/benchmarks/reading_styles.py`; not by hand. The styles are our
own, drawn and written by programs of the tests: {times} of each; of pictures {pictures}, by turns
from areas of chance, from icons and from bitmaps. Styles that begin with "page" are HTML, drawn by
Chromium; the others are drawn by Pillow, matplotlib, and reportlab by way of PDFium.

*Right* is every cell; *asked* and *marked* are read otherwise, with a question or with the cells
marked; *silent* is wrong without a word; *needless* is right, and leaves nothing open, but is asked
about all the same.
"""


def pictures(times: int) -> Iterator[str]:
    """The lines of the table of pictures, and how many cells are marked in those that are right."""
    found = survey_of_all(times)
    yield from table(found)
    total = sum(found.values(), Counter())
    marked, cells = total[MARKED_CELLS], total[CELLS]
    yield ""
    yield f"Of {cells:,} cells of those that are right {marked:,} are marked."


def table(found: Mapping[str, Counter]) -> Iterator[str]:
    """The lines of a table of styles, with what came of all of them last."""
    yield f"| style | {' | '.join(OUTCOMES)} |"
    yield "| --- " * (len(OUTCOMES) + 1) + "|"
    for name, counts in {**found, "**all**": sum(found.values(), Counter())}.items():
        cells = " | ".join(str(counts[outcome] or "") for outcome in OUTCOMES)
        yield f"| {name} | {cells} |"


def written(times: int) -> Iterator[str]:
    """The lines of the table of written rows, by families of styles, with their mistaken twins."""
    tallies = [tally_of(style, range(times)) for style in WRITTEN.values()]
    yield HEAD.format(what="styles")
    yield "|---" * 9 + "|"
    for family in FAMILIES:
        yield line_of(family, [tally for tally in tallies if tally.family == family])
    yield line_of("**all**", tallies)


def main(times: int) -> None:
    """Read everything, and write the page."""
    parts = {
        "Pictures of charts": pictures(OF_PICTURES * times),
        "Spreadsheets and pasted cells": table(sheet_survey(times)),
        "Written rows, and the same with one slip": written(times),
    }
    page = INTRODUCTION.format(times=times, pictures=OF_PICTURES * times)
    for title, lines in parts.items():
        page += f"\n## {title}\n\n" + "\n".join(lines) + "\n"
    PAGE.write_text(page, encoding="utf-8")
    print(page)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)

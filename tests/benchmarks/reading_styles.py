"""Writes how charts are read, style by style, into STYLES.md: pictures, sheets, written rows.

Run it as `.venv/bin/python tests/benchmarks/reading_styles.py [TIMES]`: so many of each style, 3
unless it is said. *Silent* is what came out wrong without a question or a mark.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.written_styles import HEAD, line_of
from tests.helpers.chart_survey import ASKED, MARKED, REFUSED, RIGHT, SILENT
from tests.helpers.chart_survey import survey as picture_survey
from tests.helpers.sheet_survey import survey as sheet_survey
from tests.helpers.written_styles import FAMILIES
from tests.helpers.written_styles import STYLES as WRITTEN
from tests.helpers.written_tally import tally_of

PAGE = Path(__file__).with_name("STYLES.md")
OUTCOMES = (RIGHT, ASKED, MARKED, REFUSED, SILENT, "needless")
INTRODUCTION = """# How charts are read, style by style

Written by `.venv/bin/python tests/benchmarks/reading_styles.py`; not by hand. The styles are our
own, drawn and written by programs of the tests, each from charts made by chance, {times} of each.
*Right* is every cell; *asked* and *marked* are read otherwise, with a question or with the cells
marked; *silent* is wrong without a word; *needless* is right, and leaves nothing open, but is asked
about all the same.
"""


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
        "Pictures of charts": table(picture_survey(times)),
        "Spreadsheets and pasted cells": table(sheet_survey(times)),
        "Written rows, and the same with one slip": written(times),
    }
    page = INTRODUCTION.format(times=times)
    for title, lines in parts.items():
        page += f"\n## {title}\n\n" + "\n".join(lines) + "\n"
    PAGE.write_text(page, encoding="utf-8")
    print(page)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)

"""Prints how written rows are read, style by style: right, asked about, refused; and their twins.

Run it as `python tests/benchmarks/written_styles.py [--charts 10] [--each] [--failures]`. A style
is read if all its charts come back exactly. A twin, the same text with one slip in it, is silent if
a chart comes of it that is not the one meant, and nothing is asked. The target: at least 92 in 100
styles read, and no twin silent.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.written_styles import FAMILIES, STYLES
from tests.helpers.written_tally import Tally, tally_of

HEAD = (
    "| {what} | styles read | charts read | asked | twins | refused | asked | same chart | silent |"
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--charts", type=int, default=10, help="charts of each style")
    parser.add_argument("--each", action="store_true", help="a line for each style")
    parser.add_argument("--failures", action="store_true", help="show what went wrong")
    given = parser.parse_args()
    tallies = [tally_of(style, range(given.charts)) for style in STYLES.values()]
    print(HEAD.format(what="style" if given.each else "styles"))
    print("|---" * 9 + "|")
    for family in FAMILIES:
        members = [tally for tally in tallies if tally.family == family]
        if given.each:
            for tally in members:
                print(line_of(tally.name, [tally]))
        else:
            print(line_of(family, members))
    print(line_of("all", tallies))
    if given.failures:
        for tally in tallies:
            for words in (*tally.wrong, *tally.silent):
                print(f"\n== {tally.name}: {words}")


def line_of(name: str, tallies: Sequence[Tally]) -> str:
    """A line of the table for one style or several."""
    cells = (
        name.replace("|", "\\|"),
        f"{sum(tally.is_read for tally in tallies)} of {len(tallies)}",
        f"{sum(tally.right for tally in tallies)} of {sum(tally.charts for tally in tallies)}",
        sum(tally.asked for tally in tallies),
        sum(tally.twins for tally in tallies),
        sum(tally.twins_refused for tally in tallies),
        sum(tally.twins_asked for tally in tallies),
        sum(tally.twins_same for tally in tallies),
        sum(len(tally.silent) for tally in tallies),
    )
    return f"| {' | '.join(map(str, cells))} |"


if __name__ == "__main__":
    main()

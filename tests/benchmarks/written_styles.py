"""Prints how written rows are read, style by style: right, asked about, refused; and their twins.

Run it as `python tests/benchmarks/written_styles.py [--charts 10] [--failures]`. A style is read if
all its charts come back exactly. A twin is silent if a chart comes of it that is not the one meant,
and nothing is asked.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.helpers.written_styles import STYLES
from tests.helpers.written_tally import Tally, tally_of

HEAD = "| style | read | asked | twins | refused | asked | same chart | silent |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--charts", type=int, default=10, help="charts of each style")
    parser.add_argument("--failures", action="store_true", help="show what went wrong")
    given = parser.parse_args()
    tallies = [tally_of(style, range(given.charts)) for style in STYLES.values()]
    print(HEAD)
    print("|---" * 8 + "|")
    for tally in tallies:
        print(line_of(tally))
    read = sum(tally.is_read for tally in tallies)
    twins = sum(tally.twins for tally in tallies)
    silent = sum(len(tally.silent) for tally in tallies)
    print(f"\n{read} of {len(tallies)} styles read exactly; {silent} of {twins} twins silent.")
    if given.failures:
        for tally in tallies:
            for words in (*tally.wrong, *tally.silent):
                print(f"\n== {tally.name}: {words}")


def line_of(tally: Tally) -> str:
    cells = (
        tally.name.replace("|", "\\|"),
        f"{tally.right} of {tally.charts}",
        tally.asked,
        tally.twins,
        tally.twins_refused,
        tally.twins_asked,
        tally.twins_same,
        len(tally.silent),
    )
    return f"| {' | '.join(map(str, cells))} |"


if __name__ == "__main__":
    main()

"""A chart as a drawing (SVG): with grid, numbers of rows and stitches, and a letter at every run.

Drawings stay sharp at any size, and other programs can take them apart: the runs of a yarn are
rectangles of one group, named by its letter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby, pairwise
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from planner.colour import NO_STITCH_GREY, ink_on
from planner.piece import NO_STITCH, Chart, Construction, Yarn
from planner.units import counted

STITCH = 10  # units of the drawing across; about 3 mm at its own size
MARGIN = 30  # where numbers stand
LEGEND_LINE = 16
EVERY = 10  # stitches and rows from one heavy line to the next
NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
LOOK = """text {font-family: sans-serif; text-anchor: middle; dominant-baseline: central}
.number {font-size: 6px; fill: #444444}
.name {font-size: 10px; fill: #222222; text-anchor: start}
path {fill: none}
.stitches {shape-rendering: crispEdges}
.grid {stroke: #80808090; stroke-width: 0.4}
.tens {stroke: #808080; stroke-width: 0.9}
.edges {stroke: #222222; stroke-width: 1.2; stroke-linecap: round}
"""


class _Run(NamedTuple):
    """A stretch of one letter in a row, from the top, over columns from `lo` to before `hi`."""

    letter: str
    line: int
    lo: int
    hi: int


def chart_svg(
    chart: Chart,
    yarns: Mapping[str, Yarn],
    aspect: float,
    how: Construction,
) -> bytes:
    """The chart as an SVG; the same chart gives the same bytes.

    `aspect` is the height of a row of the chart ÷ the width of a stitch. Rows are numbered where
    they begin, stitches below from the right; the yarns are named below.
    """
    high = STITCH * aspect
    letters = chart.to_rows()
    runs = list(_runs(letters))
    width, height = chart.columns * STITCH, chart.rows * high
    legend = len(chart.letters) * LEGEND_LINE
    whole = f"{width + 2 * MARGIN} {_short(height + 2 * MARGIN + legend)}"
    across, tall = whole.split()
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole}" width="{across}" '
        f'height="{tall}">',
        f"<style>{LOOK}</style>",
        f'<rect width="{across}" height="{tall}" fill="#ffffff"/>',
        f'<g transform="translate({MARGIN} {MARGIN})">',
        *_stitches(runs, chart, yarns, high),
        *_grid(chart.columns, chart.rows, high),
        f'<path class="edges" d="{"".join(_edges(letters, high))}"/>',
        *_letters(runs, chart, yarns, high),
        *_numbers(chart, how, high),
        *_legend(chart, yarns, height + MARGIN),
        "</g>",
        "</svg>\n",
    ]
    return "\n".join(parts).encode()


def _short(number: float) -> str:
    """A number of the drawing, to a hundredth."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _text(text: str) -> str:
    return escape(NO_XML.sub("", text))


def _runs(letters: Iterable[Iterable[str]]) -> Iterator[_Run]:
    """The runs of all rows, top row first, each from the left."""
    for line, row in enumerate(letters):
        lo = 0
        for letter, cells in groupby(row):
            hi = lo + sum(1 for _ in cells)
            yield _Run(letter, line, lo, hi)
            lo = hi


def _of_letter(runs: Iterable[_Run]) -> dict[str, list[_Run]]:
    by_letter: dict[str, list[_Run]] = {}
    for run in runs:
        by_letter.setdefault(run.letter, []).append(run)
    return by_letter


def _stitches(
    runs: Iterable[_Run], chart: Chart, yarns: Mapping[str, Yarn], high: float
) -> Iterator[str]:
    """A group of rectangles for each yarn, one a run, and one for cells without a stitch."""
    by_letter = _of_letter(runs)
    for letter in (*chart.letters, NO_STITCH):
        if letter not in by_letter:
            continue
        colour = NO_STITCH_GREY if letter == NO_STITCH else yarns[letter].colour
        yield f'<g class="stitches" fill="{colour}" data-yarn={quoteattr(letter)}>'
        for run in by_letter[letter]:
            x, width = run.lo * STITCH, (run.hi - run.lo) * STITCH
            y, height = _short(run.line * high), _short(high)
            yield f'<rect x="{x}" y="{y}" width="{width}" height="{height}"/>'
        yield "</g>"


def _grid(columns: int, rows: int, high: float) -> Iterator[str]:
    """Lines between all stitches and rows, heavier ones every ten from the right and the bottom."""
    width, height = columns * STITCH, _short(rows * high)
    paths = {"grid": "", "tens": ""}
    for column in range(columns + 1):
        kind = "grid" if (columns - column) % EVERY else "tens"
        paths[kind] += f"M{column * STITCH} 0V{height}"
    for line in range(rows + 1):
        kind = "grid" if (rows - line) % EVERY else "tens"
        paths[kind] += f"M0 {_short(line * high)}H{width}"
    for kind, path in paths.items():
        yield f'<path class="{kind}" d="{path}"/>'


def _edges(letters: list[list[str]], high: float) -> Iterator[str]:
    """Lines between neighbours of unlike yarns."""
    for line, row in enumerate(letters):
        top, bottom = _short(line * high), _short((line + 1) * high)
        for column, (left, right) in enumerate(pairwise(row), 1):
            if left != right:
                yield f"M{column * STITCH} {top}V{bottom}"
        above = letters[line - 1] if line else row
        for column, (upper, lower) in enumerate(zip(above, row, strict=True)):
            if upper != lower:
                yield f"M{column * STITCH} {top}h{STITCH}"


def _letters(
    runs: Iterable[_Run], chart: Chart, yarns: Mapping[str, Yarn], high: float
) -> Iterator[str]:
    """The letter of its yarn in the middle of each run."""
    by_letter = _of_letter(runs)
    for letter in chart.letters:
        # What names a yarn may be up to three letters long.
        size = _short(min(0.8 * high, 0.9 * STITCH / (0.2 + 0.8 * len(letter))))
        yield f'<g font-size="{size}" fill="{ink_on(yarns[letter].colour)}">'
        for run in by_letter.get(letter, []):
            x, y = (run.lo + run.hi) * STITCH / 2, _short((run.line + 0.5) * high)
            yield f'<text x="{_short(x)}" y="{y}">{_text(letter)}</text>'
        yield "</g>"


def _numbers(chart: Chart, how: Construction, high: float) -> Iterator[str]:
    """The numbers of the rows at the side where each begins, those of the stitches below."""
    width = chart.columns * STITCH
    for row in range(chart.rows):
        leftwards = how.runs_leftwards(row * how.rows_per_chart_row)
        x = width + MARGIN / 3 if leftwards else -MARGIN / 3
        y = _short((chart.rows - row - 0.5) * high)
        yield f'<text class="number" x="{_short(x)}" y="{y}">{row + 1}</text>'
    below = _short(chart.rows * high + MARGIN / 3)
    for stitch in range(1, chart.columns + 1):
        x = width - (stitch - 0.5) * STITCH
        yield f'<text class="number" x="{_short(x)}" y="{below}">{stitch}</text>'


def _legend(chart: Chart, yarns: Mapping[str, Yarn], top: float) -> Iterator[str]:
    """The yarns of the chart, one a line, with their stitches."""
    for number, (letter, stitches) in enumerate(chart.stitches().items()):
        y = _short(top + number * LEGEND_LINE)
        patch = f'<rect y="{y}" width="12" height="12" stroke="#222222" stroke-width="0.5"'
        yield f'{patch} fill="{yarns[letter].colour}"/>'
        title = _text(f"{yarns[letter].title}, {counted(stitches, 'stitch')}")
        middle = _short(top + number * LEGEND_LINE + 6)
        yield f'<text class="name" x="18" y="{middle}">{title}</text>'

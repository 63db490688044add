"""Charts in words and in pieces: written rows, placing, and rows that are no chart."""

from __future__ import annotations

from itertools import product

from tests.net.names import house
from tests.net.pieces import patches
from tests.net.sections import section
from tests.net.text import Titled, answer

WAYS = (
    house.Construction(),
    house.Construction("flat", "WS", "left"),
    house.Construction("rounds"),
    house.Construction(fabric="garter"),
)
WRITTEN = (
    "Row 1 (RS): 3 A, 2 B\nRow 2: 2 B, 3 A",
    "row 1: (1 A, 1 B) 2 times, 1 A. (5 sts)\nrows 2-4: A5 - 5 sts",
    "Round 1: *1 A, 1 B; repeat from * once, 2 C\nRounds 2 to 3: 6 D",
    "Ridge 1: *2 A, 1 B; rep from * to end\nRidge 2: 9 A",
    "Row 1: *2 A, 1 B; rep from * to end of row\nRow 2: 8 A",
    "Row 1: 1 C, *2 A, 1 B; rep from * to end, 2 C\nRow 2: 12 A",
    "Row 1: 2 no stitch, [1 A, 2 B] twice, 1 no-st\nRow 2: 9 C",
    "Row 1: 4 A\nRow 3: 4 A",
    "Row 1: 4 A\nRow 1: 4 A",
    "Row 1 (WS): 4 A",
    "Row 2 to 1: 4 A",
    "Row 1: 4 A, 2 B (7 sts)",
    "Row 1: 4 A\nRow 2: 5 A",
    "Row 1: 4 A, (2 B",
    "Row 1: 4 A, 2 B) 3 times",
    "Row 1: 4 A, repeat from * once",
    "Row 1: four A",
    "Knit 4 A",
    "Row 1: *4 A; rep from * to end",
    "Row 1: 4 ABCD",
    "",
)


@section
def written_rows() -> Titled:
    """Charts in written rows, out and in, and what cannot be read."""
    for number, how in enumerate(WAYS):
        chart = patches(130 + number, shaped=True)
        text = house.write_rows(chart, how)
        yield f"written {how}", text
        yield "the same", str(house.read_rows(text, how) == chart)
        for words in WRITTEN:
            yield words, answer(house.read_rows, words, how)
    for words in WRITTEN[:3]:
        yield f"{words}, in A and B", answer(house.read_rows, words, WAYS[0], yarns=("A", "B"))


@section
def placing() -> Titled:
    """Charts set into a piece, laid on one another, repeated, mirrored, made whole from half."""
    motif = house.Chart.from_rows(["B.B", ".B.", "BBB"])
    for across, up in product(("left", "centre", "right", 2), ("bottom", "centre", "top", 1)):
        for stitches, rows, spare in ((9, 7, ()), (10, 8, ("right", "top")), (10, 8, ())):
            given = {"stitches": stitches, "rows": rows, "across": across, "up": up}
            placed = answer(house.set_into, motif, ground="A", spare_at=spare, **given)
            yield f"{given} {spare}", placed
    for given in ({"stitches": 2}, {"stitches": 9, "across": 7}, {"stitches": 9, "across": "up"}):
        yield f"{given}", answer(house.set_into, motif, ground="A", **given)
    yield "on shaped", answer(house.set_on, patches(140, shaped=True), motif, stitch=1, row=1)
    for stitch, row in ((4, 5), (0, 1), (19, 1), (1, 13)):
        yield (
            f"on {stitch} {row}",
            answer(house.set_on, patches(141), motif, stitch=stitch, row=row),
        )
    yield "repeated", house.repeat(motif, across=3, up=2)
    yield "none", answer(house.repeat, motif, across=0)
    yield "mirrored", house.mirror(patches(142, shaped=True))
    for edge, centre in product(("left", "right", "top"), ("once", "twice", "never")):
        yield f"{edge} {centre}", answer(motif.whole, centre_at=edge, centre=centre)
    chart = patches(143)
    yield (
        "counts",
        [repr(chart), chart.stitches(), chart.rows, chart.columns, house.chart_csv(chart)],
    )
    yield (
        "free letters",
        [house.free_letter("ABD"), house.free_letter(list(map(chr, range(65, 91))))],
    )


CHARTS = (
    [],
    ["AB", "A"],
    ["AB", "A1"],
    ["AB", ["A", ""]],
    ["AB", ".."],
    ["A", "ABCD"],
    [["Abc", "é"], ["A", "B"]],
)


@section
def charts_refused() -> Titled:
    """Rows that are no chart."""
    for rows in CHARTS:
        yield f"{rows}", answer(house.Chart.from_rows, rows)
        yield "from a file", answer(house.Chart.from_rows, rows, source="x.csv", lines=[4, 9])

"""Yarns that touch and look alike: where, along how many stitches, to which eyes."""

from collections import defaultdict

import pytest

from planner import Chart, Construction, Yarn, trace_strands
from planner.choices.alike import alike_yarns
from planner.colour import ALIKE, EYES, IN_GREY, apart
from tests.helpers.knitter import draw_chart

NIGHT, DUSK = "#203050", "#253355"  # alike to any eye
COLOURS = [NIGHT, DUSK, "#4b4a4d", "#f1e9d2", "#b5452c", "#3f8f8b"]


def alike(rows, colours=COLOURS, how=None):
    chart = Chart.from_rows(rows)
    named = zip(sorted(chart.letters), colours, strict=False)
    yarns = {letter: Yarn(letter, colour=colour) for letter, colour in named}
    return alike_yarns(trace_strands(chart, how), yarns)


@pytest.mark.parametrize(
    ("rows", "border", "where"),
    [
        (["AB"], 1, "row 1 (RS), between B1 and A1"),
        (["BA", "AB", "AA"], 2 + 3, "row 2 (WS), between A1 and B1"),
        (["AAB", "AAA"], 2, "row 2 (WS), between A1 and B1"),
        (["B", "A", "A"], 1, "row 3 (RS), B1 upon A1"),
        (["ABA", "ABA"], 4, "row 1 (RS), between A1 and B1"),
    ],
)
def test_where_they_touch(rows, border, where):
    """By eye; row 1 is of the right side, worked from the right."""
    (pair,) = alike(rows)
    assert (pair.first, pair.second, pair.border) == ("A", "B", border)
    assert pair.where == where
    assert f"touch along {border} stitch" in str(pair)


def test_no_stitch_parts_them():
    assert alike(["A.B"]) == []


def test_a_tube_closes():
    rows = ["ACB"]
    assert [(p.first, p.second) for p in alike(rows, [NIGHT, DUSK, "#ffffff"])] == []
    (pair,) = alike(rows, [NIGHT, DUSK, "#ffffff"], Construction(worked="rounds"))
    assert (pair.first, pair.second, pair.border) == ("A", "B", 1)


def test_garter_counts_rows_of_the_chart():
    (pair,) = alike(["BB", "AA"], how=Construction(fabric="garter"))
    assert (pair.border, pair.where) == (2, "row 3 (RS, ridge 2), B1 upon A1")


def test_what_is_said_of_which_eyes():
    (pair,) = alike(["AB"], ["#4b4a4d", "#243b63"])
    assert str(pair).startswith("Yarns A and B: they are hard to tell apart on a grey print; ")
    assert pair.seen == {IN_GREY: pytest.approx(5.1, abs=0.05)}
    assert pair.what_to_do == "On a grey print go by the letters."
    (pair,) = alike(["AB"], [NIGHT, DUSK])
    assert pair.finding.count("hard to tell") == 1  # what nobody can tell apart is said once
    assert " and " not in pair.finding.split(";")[0]
    assert "to any eye" in pair.finding
    assert alike(["AB"], ["#000000", "#ffffff"]) == []


@pytest.mark.parametrize("worked", ["flat", "rounds"])
@pytest.mark.parametrize("number", range(4))
def test_cell_by_cell(number, worked):
    """Random charts: each cell is compared with the one at its left and the one below it."""
    rows = draw_chart(number, stitches=15, rows=12, yarns=5, smooth=1, holes=number % 2 == 1)
    letters = sorted({letter for row in rows for letter in row if letter != "."})
    colour = dict(zip(letters, COLOURS, strict=False))
    borders: dict[tuple[str, str], int] = defaultdict(int)
    for r, row in enumerate(rows):
        for c, letter in enumerate(row):
            left = row[c - 1] if c or worked == "rounds" else "."
            for neighbour in (left, rows[r + 1][c] if r + 1 < len(rows) else "."):
                if "." not in (letter, neighbour) and letter != neighbour:
                    borders[min(letter, neighbour), max(letter, neighbour)] += 1
    expected = {}
    for (a, b), border in borders.items():
        seen = {eye for eye in EYES if apart(colour[a], colour[b], eye=eye) < ALIKE}
        if seen:
            expected[a, b] = (border, seen)
    found = alike(rows, how=Construction(worked=worked))
    assert {tuple(sorted((p.first, p.second))): (p.border, set(p.seen)) for p in found} == expected

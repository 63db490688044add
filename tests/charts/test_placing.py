"""Charts into pieces: what is kept, what is refused; the motif is never changed on the way."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner import Chart, PlanError
from planner.charts.placing import repeat, set_into, set_on
from planner.piece.chart import mirror
from tests.helpers.grids import grids

HEART = Chart.from_rows([".BB.BB.", "BBBBBBB", ".BBBBB.", "...B..."])
exactly = settings(derandomize=True, deadline=None, max_examples=100)
charts = grids().map(Chart.from_rows)
small = st.integers(1, 3)


def rows_of(chart):
    return ["".join(row) for row in chart.to_rows()]


def part(chart, stitch, row, columns, rows):
    """The letters of a part of a piece, top row first; its lower right corner counts from 1."""
    grid = chart.to_rows()
    right = chart.columns - stitch + 1
    return [
        line[right - columns : right]
        for line in grid[chart.rows - row + 1 - rows : chart.rows - row + 1]
    ]


def test_set_in_the_middle_at_the_bottom():
    assert rows_of(set_into(HEART, stitches=11, rows=6, ground="A")) == [
        "A" * 11, "A" * 11, "AAABBABBAAA", "AABBBBBBBAA", "AAABBBBBAAA", "AAAAABAAAAA",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("across", "up", "corner"),
    [
        ("left", "top", (5, 3)),
        ("right", "bottom", (1, 1)),
        ("centre", "centre", (3, 2)),
        (1, 0, (2, 1)),
        (4, 2, (5, 3)),
    ],
)
def test_where_it_is_set(across, up, corner):
    assert set_into(HEART, stitches=11, rows=6, ground="A", across=across, up=up) == set_on(
        Chart.from_rows(["A" * 11] * 6), HEART, stitch=corner[0], row=corner[1]
    )


@pytest.mark.parametrize(
    ("spare_at", "corner"),
    [("left", (2, 1)), ("right", (3, 1)), (("right", "top"), (3, 1)), ("right bottom", (3, 2))],
)
def test_odd_spares_go_where_they_are_told(spare_at, corner):
    rows = 7 if "top" in spare_at or "bottom" in spare_at else 4
    up = "centre" if rows == 7 else "bottom"
    piece = set_into(HEART, stitches=10, rows=rows, ground="A", up=up, spare_at=spare_at)
    row = {4: 1, 7: 3 if "bottom" in spare_at else 2}[rows]
    assert piece == set_on(Chart.from_rows(["A" * 10] * rows), HEART, stitch=corner[0], row=row)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda: set_into(HEART, stitches=10, ground="A"),
            ["3 stitches are spare", "10", "7", "right", "left", "9 or 11"],
        ),
        (lambda: set_into(HEART, stitches=8, ground="A"), ["1 stitch is spare", "7 or 9"]),
        (
            lambda: set_into(HEART, rows=7, ground="A", up="centre"),
            ["3 rows are spare", "bottom", "top", "6 or 8"],
        ),
        (
            lambda: set_into(HEART, stitches=10, ground="A", spare_at="top"),
            ["3 stitches are spare"],
        ),
        (lambda: set_into(HEART, stitches=5, ground="A"), ["7 stitches", "5"]),
        (lambda: set_into(HEART, rows=3, ground="A"), ["4 rows", "3"]),
        (
            lambda: set_into(HEART, stitches=11, ground="A", across="middle"),
            ['"middle"', "left, centre, right"],
        ),
        (
            lambda: set_into(HEART, stitches=11, ground="A", across=5),
            ["5 stitches at the right", "4 are spare"],
        ),
        (lambda: set_into(HEART, stitches=11, ground="A", across=-1), ["-1 stitches", "0 to 4"]),
        (lambda: set_into(HEART, stitches=11, ground="white"), ['"white"', "yarn letter"]),
        (
            lambda: set_on(HEART, HEART, stitch=2, row=1),
            ["stitches 2 to 8", "rows 1 to 4", "7 stitches", "4 rows"],
        ),
        (lambda: set_on(HEART, HEART, stitch=1, row=0), ["rows 0 to 3"]),
        (
            lambda: set_on(HEART, Chart.from_rows(["CC"]), stitch=6, row=4),
            ["1 stitch where the piece has none", "row 4, stitch 7"],
        ),
        (lambda: repeat(HEART, across=0), ["0 times across"]),
    ],
)
def test_refused_with_the_numbers(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)


@exactly
@given(charts, st.integers(0, 4), st.integers(0, 4), st.integers(0, 4), st.integers(0, 4))
def test_set_in_keeps_every_stitch_and_adds_only_ground(chart, left, right, above, below):
    piece = set_into(
        chart,
        stitches=chart.columns + left + right,
        rows=chart.rows + above + below,
        ground="G",
        across=right,
        up=below,
    )
    there = part(piece, right + 1, below + 1, chart.columns, chart.rows)
    assert there == [["G" if cell == "." else cell for cell in row] for row in chart.to_rows()]
    counts = chart.stitches()
    assert {
        letter: number for letter, number in piece.stitches().items() if letter != "G"
    } == counts
    assert piece.letters == tuple(sorted({*chart.letters, *piece.stitches()}))


@exactly
@given(charts, charts, st.integers(0, 3), st.integers(0, 3))
def test_laid_on_a_chart(piece, motif, right, below):
    piece = Chart.from_rows(
        [["P" if cell == "." else cell for cell in row] for row in piece.to_rows()]
    )
    piece = repeat(piece, across=4, up=4)
    assume(motif.columns + right <= piece.columns and motif.rows + below <= piece.rows)
    laid = set_on(piece, motif, stitch=right + 1, row=below + 1)
    for r, (before, after) in enumerate(zip(piece.to_rows(), laid.to_rows(), strict=True)):
        for c, (old, new) in enumerate(zip(before, after, strict=True)):
            i, j = (
                r - (piece.rows - below - motif.rows),
                c - (piece.columns - right - motif.columns),
            )
            above = motif.to_rows()[i][j] if 0 <= i < motif.rows and 0 <= j < motif.columns else "."
            assert new == (old if above == "." else above)


@exactly
@given(charts, small, small)
def test_repeated(chart, across, up):
    many = repeat(chart, across=across, up=up)
    assert (many.columns, many.rows) == (across * chart.columns, up * chart.rows)
    assert many.stitches() == {
        letter: number * across * up for letter, number in chart.stitches().items()
    }
    assert part(many, 1, 1, chart.columns, chart.rows) == chart.to_rows()
    assert (
        part(
            many,
            many.columns - chart.columns + 1,
            many.rows - chart.rows + 1,
            chart.columns,
            chart.rows,
        )
        == chart.to_rows()
    )


@exactly
@given(charts)
def test_mirrored(chart):
    assert mirror(mirror(chart)) == chart
    assert mirror(chart).to_rows() == [row[::-1] for row in chart.to_rows()]


@pytest.mark.parametrize(("columns", "centre", "whole"), [(34, "once", 67), (31, "twice", 62)])
def test_half_charts(columns, centre, whole):
    """Two sock leaflets (published, freevintageknitting.com).

    34 columns with the centre stitch not repeated are 67, 31 mirrored whole are 62.
    """
    half = Chart.from_rows(["A" * (columns - 1) + "B", "B" + "A" * (columns - 1)])
    for centre_at in ("right", "left"):
        chart = half.whole(centre_at=centre_at, centre=centre)
        assert chart.columns == whole
        assert mirror(chart) == chart
        stitch = 1 if centre_at == "left" else whole - columns + 1
        assert part(chart, stitch, 1, columns, 2) == half.to_rows()

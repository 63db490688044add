"""Colour areas: by eye, and against scipy's labels where both mean the same."""

import numpy as np
import pytest
from scipy import ndimage

from planner import Chart, Construction
from planner.strands.areas import area_table, label_areas
from tests.helpers.knitter import draw_chart

ROUNDS = Construction(worked="rounds")


def areas_of(rows, how=None):
    """The areas as they are looked at, top row first."""
    return label_areas(Chart.from_rows(rows), how).tolist()[::-1]


# By eye


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["AAA"], [[1, 1, 1]]),
        # numbered as they are needed: row 1 from the right, row 2 from the left
        (["AAB", "CBB"], [[3, 3, 1], [2, 1, 1]]),
        (["AB", "CD"], [[3, 4], [2, 1]]),
        # one above the other
        (["ABA", "ABA"], [[3, 2, 1], [3, 2, 1]]),
        (["AAA", "ABA"], [[1, 1, 1], [1, 2, 1]]),
        (["ABA", "AAA"], [[1, 2, 1], [1, 1, 1]]),
        # no stitch: none beside the run, none within it, and none holds anything together
        ([".A.", "A.A"], [[0, 1, 0], [1, 0, 1]]),
        (["B.B", "A.A"], [[2, 0, 2], [1, 0, 1]]),
        ([".A", "A."], [[0, 1], [1, 0]]),
        (["A.", "BB", ".A"], [[3, 0], [2, 2], [0, 1]]),
        (["A..", "...", "..A"][::2], [[2, 0, 0], [0, 0, 1]]),
    ],
)
def test_areas_by_eye(rows, expected):
    assert areas_of(rows) == expected


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        # B is rarer than A: it holds together and parts A, be it rising or falling
        (["AAB", "ABA"], [[3, 3, 2], [3, 2, 1]]),
        (["BAA", "ABA"], [[2, 1, 1], [3, 2, 1]]),
        # A is rarer
        (["BBA", "BAB"], [[3, 3, 2], [3, 2, 1]]),
        # as plentiful: both are parted
        (["AB", "BA"], [[3, 4], [2, 1]]),
        # across the corner lie two yarns: A is not parted
        (["AAB", "ACA"], [[1, 1, 3], [1, 2, 1]]),
        (["CA", "AB"], [[3, 2], [2, 1]]),
        (["AC", "BA"], [[1, 3], [2, 1]]),
    ],
)
def test_corners(rows, expected):
    assert areas_of(rows) == expected


def test_a_tube_closes():
    """A at both sides is one area round the tube, with B in between; a corner at the seam too."""
    assert areas_of(["ABBA"], ROUNDS) == [[1, 2, 2, 1]]
    assert areas_of(["ABBA"]) == [[3, 2, 2, 1]]
    assert areas_of(["ABBB", "BBBA"], ROUNDS) == [[1, 2, 2, 2], [2, 2, 2, 1]]
    assert areas_of(["BBBA", "ABBB"], ROUNDS) == [[1, 1, 1, 2], [2, 1, 1, 1]]
    assert areas_of(["BBBA", "ABBB"]) == [[1, 1, 1, 3], [2, 1, 1, 1]]


def test_the_direction_of_work_makes_no_areas():
    """Areas lie on the chart: a left-handed piece in garter has the same."""
    rows = ["AAB", "CBB"]
    left = Construction(hand="left", first_row="WS", fabric="garter")
    assert areas_of(rows, left) == areas_of(rows)


def test_corners_at_the_seam_of_a_tube():
    """A line of single stitches that climbs round the tube is one area; flat it is parted."""
    chart = Chart.from_rows(["BBAB", "BABB", "ABBB", "BBBA", "BBAB"])
    line = chart.cells == chart.letters.index("A")
    for worked, areas in (("flat", 2), ("rounds", 1), ("turned", 1)):
        how = Construction(worked=worked)
        assert len(set(label_areas(chart, how)[line])) == areas


def test_area_table_by_eye():
    """A is 2 stitches wide in row 1, where it is parted by B and a no-stitch cell, and 4 above."""
    chart = Chart.from_rows(["AAAA", "AB.A"])
    table = area_table(chart, label_areas(chart))
    assert table.to_dict("list") == {
        "area": [1, 2],
        "yarn": ["A", "B"],
        "stitches": [6, 1],
        "first_chart_row": [1, 1],
        "last_chart_row": [2, 1],
        "narrowest_stitches": [2, 1],
        "widest_stitches": [4, 1],
    }


# Against scipy.ndimage.label


def labelled(cells, eight=()):
    """Areas by scipy.ndimage.label, yarn by yarn; those in `eight` hold together at corners."""
    labels, count = np.zeros(cells.shape, dtype=int), 0
    for yarn in range(cells.max() + 1):
        structure = np.ones((3, 3)) if yarn in eight else None
        own, n = ndimage.label(cells == yarn, structure)
        labels[own > 0] = own[own > 0] + count
        count += n
    return labels


def parts_alike(areas, labels):
    """Whether two numberings of the cells, 0 left out in both, make the same areas."""
    assert ((areas == 0) == (labels == 0)).all()
    pairs = {
        (a, b) for a, b in zip(areas.ravel().tolist(), labels.ravel().tolist(), strict=True) if a
    }
    return len(pairs) == areas.max() == labels.max()


@pytest.mark.parametrize("seed", range(30))
def test_two_colours_against_scipy(seed):
    """The figure, the rarer yarn, holds together at corners; the ground is parted there."""
    rows = draw_chart(seed, stitches=24, rows=20, yarns=2, smooth=(0, 1, 2)[seed % 3])
    chart = Chart.from_rows(rows)
    counts = np.bincount(chart.cells.ravel())
    assert counts[0] != counts[1]
    areas = label_areas(chart)
    assert parts_alike(areas, labelled(chart.cells, eight={counts.argmin()}))


def corner_contacts(cells):
    """Places where four cells meet and one yarn meets itself only across the corner."""
    a, b, c, d = cells[:-1, :-1], cells[:-1, 1:], cells[1:, :-1], cells[1:, 1:]
    return int((((a == d) & (a != b) & (a != c)) | ((b == c) & (b != a) & (b != d))).sum())


def charts_without_corner_contacts():
    """Twenty charts in three to five yarns, drawn until no areas meet at a corner alone."""
    found = []
    for seed in range(2000):
        drawing = draw_chart(seed, stitches=12, rows=10, yarns=3 + seed % 3, smooth=2)
        chart = Chart.from_rows(drawing)
        if chart.cells.max() >= 2 and not corner_contacts(chart.cells):
            found.append(chart)
        if len(found) == 20:
            break
    return found


def test_more_colours_against_scipy():
    """Without corner contacts every notion of touching gives the same areas."""
    charts = charts_without_corner_contacts()
    assert len(charts) == 20
    for chart in charts:
        areas = label_areas(chart)
        assert parts_alike(areas, labelled(chart.cells)), chart.to_rows()
        assert parts_alike(areas, labelled(chart.cells, eight=range(9))), chart.to_rows()


@pytest.mark.parametrize("seed", range(6))
def test_area_table_by_a_plain_count(seed):
    drawing = draw_chart(seed, stitches=20, rows=16, yarns=3, smooth=1.5, holes=seed % 2 == 0)
    chart = Chart.from_rows(drawing)
    areas = label_areas(chart)
    table = area_table(chart, areas)
    assert table.area.tolist() == list(range(1, areas.max() + 1))
    assert table.stitches.sum() == (chart.cells >= 0).sum()
    for line in table.itertuples():
        inside = areas == line.area
        assert {chart.letters[y] for y in chart.cells[inside]} == {line.yarn}
        in_row = inside.sum(axis=1)
        rows = np.flatnonzero(in_row)
        assert (line.first_chart_row, line.last_chart_row) == (rows[0] + 1, rows[-1] + 1)
        assert (line.narrowest_stitches, line.widest_stitches, line.stitches) == (
            in_row[rows].min(),
            in_row.max(),
            in_row.sum(),
        )
    assert table.first_chart_row.is_monotonic_increasing  # in the order of first need

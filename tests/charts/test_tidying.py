"""Tidying: small charts by eye, any chart by networkx and scipy's labels, the table of levels."""

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from skimage import data
from skimage.color import deltaE_cie76, rgb2lab

from planner import CarryLimits, Construction, Gauge, trace_strands
from planner.charts.palette import from_hex
from planner.charts.picture import Artwork, ChartedPicture, chart_picture
from planner.charts.tidying import LEVELS, compare_levels, tidied

PALETTE = ("#e6d9be", "#1f3a5f", "#31567f", "#b8452d")  # sand A, two blues B and C, rust D


def picture(rows) -> ChartedPicture:
    cells = np.array([["ABCD.".index(cell) for cell in row] for row in rows[::-1]], dtype=np.int16)
    cells[cells == 4] = -1
    return ChartedPicture(cells, PALETTE, from_hex(PALETTE)[cells], ())


def rows_of(level: ChartedPicture) -> list[str]:
    return ["".join("ABCD."[cell] for cell in row) for row in level.cells[::-1]]


def in_ground(rows, *, above=3) -> list[str]:
    """The rows with plain ground above and below, so that nothing else is narrow."""
    ground = ["A" * len(rows[0])] * above
    return [*ground, *rows, *ground]


LONG = 44
WITH_LINE = in_ground(["B" * LONG])
WITH_STEM = in_ground(
    [
        "A" * 4 + "B" * 41 + "DDDD" + "A" * 4,
        "A" * 45 + "DDDD" + "A" * 4,
        *["A" * 45 + "DDDD" + "A" * 4] * 9,
    ]
)


@pytest.mark.parametrize(
    ("rows", "gone"),
    [
        # given up by the level that wants more stitches: from 2, from 8, from 40
        (in_ground(["AAABAAAA"]), 1),
        (in_ground(["AAABBAAA"]), 2),
        (in_ground(["AAABBBAA"]), 2),
        (in_ground(["AAABBAAA", "AAABBAAA"]), 2),
        (in_ground(["AAABBBAA", "AAABBBAA"]), 2),
        (in_ground(["AAABBAA", "AABBBAA", "AABBAAA"]), 2),
        (in_ground(["AABBBBAA", "AABBBBAA"]), 3),
        (in_ground(["AAABBBAAA"] * 3), 3),
        (in_ground(["AAABBBBBBAAA"] * 6), 3),
        (in_ground(["AAABBBAAA"] * 13), 3),
        (in_ground(["AAABBBBBAAA"] * 8), 4),
        # eight, but one of them hangs on by itself, a sliver; then seven are too few
        (in_ground(["AABBBBAA", "AABBBAAA", "AAAABAAA"]), 2),
        # stitches that touch at a corner are single ones
        (in_ground(["AABAAAAA", "AAABAAAA", "AAAABAAA"]), 1),
        # lines stay until there are to be none
        (in_ground(["AAA" + "B" * 7 + "AAA"]), 2),
        (in_ground(["AAA" + "B" * 8 + "AAA"]), 3),
        (WITH_LINE, 3),
        (["AAAABAAAA"] * LONG, 3),
        # a no-stitch cell in a row does not part two stitches, nor one from its neighbour
        (in_ground(["AAB.BAAA"]), 2),
        (in_ground(["AAA.BAAA"]), 1),
    ],
)
def test_when_a_figure_is_given_up(rows, gone):
    levels = [rows_of(level) for level in tidied(picture(rows))]
    ground = [row.replace("B", "A") for row in rows]
    assert levels == [rows] * gone + [ground] * (len(LEVELS) - gone)


@pytest.mark.parametrize(("tail", "gone"), [(7, 2), (8, 3)])
def test_a_sliver_is_cut_from_its_area(tail, gone):
    """A tail on an area of 7 × 8 stays where slivers of 8 are wanted, not where there are none."""
    bare_row = "A" * 9 + "B" * 8 + "AA"
    tail_row = "A" * (9 - tail) + "B" * (tail + 8) + "AA"
    block = in_ground([bare_row] * 3 + [tail_row] + [bare_row] * 3)
    bare = in_ground([bare_row] * 7)
    levels = [rows_of(level) for level in tidied(picture(block))]
    assert levels == [block] * gone + [bare] * (len(LEVELS) - gone)


def test_a_long_stem_stays_until_there_are_to_be_no_lines():
    levels = [rows_of(level) for level in tidied(picture(WITH_STEM))]
    assert levels[:-1] == [WITH_STEM] * 3  # a stem of 41 on a block of 4 × 11
    assert levels[-1] == [row.replace("B", "A") for row in WITH_STEM]


@pytest.mark.parametrize(
    ("rows", "first_level"),
    [
        (["AAADDD", "AABDDD", "AAADDD"], ["AAADDD", "AAADDD", "AAADDD"]),  # sand on three sides
        (
            ["AAAA", "ABCC", "CCCC"],
            ["AAAA", "ACCC", "CCCC"],
        ),  # two and two: blue is nearer to blue than sand
        (
            ["AAAA", "ADCC", "CCCC"],
            ["AAAA", "AACC", "CCCC"],
        ),  # and rust nearer to sand (ΔE*ab 66) than to blue (80)
        (["BAD", "AAA"], ["AAA", "AAA"]),
        (
            ["AB", "CD"],
            ["AA", "AA"],
        ),  # the lower left first, to sand (ΔE*ab 66) rather than rust (80)
        (["B"], ["B"]),  # nothing beside it
        (["B.", ".D"], ["B.", ".D"]),  # nor here: no stitch lies between
        (["B.D"], ["D.D"]),
    ],
)
def test_who_takes_a_single_stitch(rows, first_level):
    assert rows_of(tidied(picture(rows))[1]) == first_level


def test_equally_near_yarns_the_first_takes_it():
    cells = np.array([[0, 0, 0], [0, 1, 2], [2, 2, 2]], dtype=np.int16)
    for palette in (("#ffffff", "#808080", "#ffffff"), ("#1f3a5f", "#808080", "#1f3a5f")):
        level = tidied(ChartedPicture(cells, palette, from_hex(palette)[cells], ()))[1]
        assert level.cells.tolist() == [[0, 0, 0], [0, 0, 2], [2, 2, 2]]


def test_round_a_tube_the_sides_are_neighbours():
    rows = in_ground(["BAAAAAAB"])
    flat, tube = (tidied(picture(rows), tube=tube) for tube in (False, True))
    assert rows_of(flat[1]) == in_ground(["AAAAAAAA"])
    assert [rows_of(level) for level in tube[1:3]] == [rows, in_ground(["AAAAAAAA"])]
    block = in_ground(["BAAAAAAB"] * 4)  # two wide round the tube, so no sliver
    flat, tube = (rows_of(tidied(picture(block), tube=tube)[2]) for tube in (False, True))
    assert flat != block
    assert tube == block


# On any chart


@st.composite
def charts(draw):
    """Charts of up to 9 × 9 in up to four yarns, with no-stitch cells but in no row alone."""
    columns = draw(st.integers(1, 9))
    cell = st.sampled_from("AAABBCD." if draw(st.booleans()) else "AAAAAAB")
    row = st.lists(cell, min_size=columns, max_size=columns).filter(lambda row: set(row) != {"."})
    return ["".join(row) for row in draw(st.lists(row, min_size=1, max_size=9))]


def neighbours(cells: np.ndarray, tube: bool) -> nx.Graph:
    """Worked cells, joined to the next worked one in the row and to the one above."""
    worked = [[(i, j) for j in np.flatnonzero(row >= 0).tolist()] for i, row in enumerate(cells)]
    graph = nx.Graph()
    for row in worked:
        graph.add_nodes_from(row)
        graph.add_edges_from(pairwise(row))
        graph.add_edges_from([(row[-1], row[0])] if tube and len(row) > 2 else [])
        graph.add_edges_from(
            (cell, (cell[0] - 1, cell[1]))
            for cell in row
            if cell[0] and cells[cell[0] - 1, cell[1]] >= 0
        )
    return graph


def parts(graph: nx.Graph, key) -> list[set]:
    """Connected parts of one key (networkx, BSD-3-Clause)."""
    same = nx.subgraph_view(graph, filter_edge=lambda a, b: key(a) == key(b))
    return list(nx.connected_components(same))


def thin(cells: np.ndarray, tube: bool) -> np.ndarray:
    """Cells in no two-by-two square of their yarn: what an opening takes away (scipy)."""
    wide = np.hstack([cells] * 3) if tube else cells
    kept = np.any(
        [ndimage.binary_opening(wide == yarn, np.ones((2, 2))) for yarn in range(4)], axis=0
    )
    return ~(kept[:, cells.shape[1] : 2 * cells.shape[1]] if tube else kept)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(charts(), st.booleans())
def test_no_area_or_sliver_too_small_is_left(rows, tube):
    drawn = picture(rows)
    levels = tidied(drawn, tube=tube)
    graph = neighbours(drawn.cells, tube)
    assert rows_of(levels[0]) == rows
    borders = []
    for (least, sliver, _), level in zip(LEVELS, levels, strict=True):
        cells, narrow = level.cells, thin(level.cells, tube)
        assert np.array_equal(cells < 0, drawn.cells < 0)
        assert set(cells[cells >= 0].tolist()) <= set(drawn.cells.ravel().tolist())
        assert level.shown is drawn.shown
        for area in parts(graph, lambda cell, cells=cells: cells[cell]):
            assert len(area) >= least or not list(nx.edge_boundary(graph, area))
        for part in parts(
            graph, lambda cell, cells=cells, narrow=narrow: (cells[cell], narrow[cell])
        ):
            if len(part) < sliver and sliver > 1 and narrow[next(iter(part))]:
                beside = [cells[b] for _, b in nx.edge_boundary(graph, part)]
                own = beside.count(cells[next(iter(part))])
                assert all(beside.count(yarn) <= own for yarn in set(beside))
        borders.append(sum(cells[a] != cells[b] for a, b in graph.edges))
    assert borders == sorted(borders, reverse=True)


# The table


def test_table_by_eye():
    """30 rows of 5 sand, one blue, 5 sand: three strands, until 40 stitches are wanted."""
    table = compare_levels(
        tidied(picture(["AAAAABAAAAA"] * 30)), by_yarn={"B": CarryLimits(across=1)}
    )
    assert table.index.name == "level"
    assert table.tidied.tolist() == [words for _, _, words in LEVELS]
    assert table.stitches_changed.tolist() == [0] * 3 + [30]
    assert table.changed_percent.tolist() == [0] * 3 + [9.1]  # of 330
    assert table[["yarns", "strands", "ends", "most_at_once"]].to_numpy().tolist() == [
        [2, 3, 6, 3]
    ] * 3 + [[1, 1, 2, 1]]
    assert table.difference_from_picture.tolist()[:3] == [0] * 3


def test_no_stitch_counts_for_nothing_in_the_table():
    line = compare_levels(tidied(picture(["A.A", "ABA", "A.A"]))).iloc[1]
    assert (line.stitches_changed, line.changed_percent) == (1, 14.3)  # of 7
    assert line.difference_from_picture == pytest.approx(74.6 / 7, abs=0.01)  # blue beside sand


@pytest.mark.parametrize("how", [Construction(), Construction(worked="rounds")])
def test_table_of_a_photograph_by_other_counts(how):
    # scikit-image's cat (CC0); areas by scipy, ΔE*ab by scikit-image (both BSD-3-Clause)
    charted = chart_picture(Artwork(data.chelsea(), "cat.png"), 60, 50, 0.8, count=4)
    levels = tidied(charted, tube=how.is_tube)
    gauge, limits = Gauge(stitches=20, rows=25), CarryLimits(sideways=3)
    table = compare_levels(levels, how, gauge, limits)
    for level, line, (least, _, _) in zip(levels, table.itertuples(), LEVELS, strict=True):
        strands = trace_strands(level.chart(), how, gauge, limits)
        assert (line.strands, line.ends, line.most_at_once) == (
            strands.count,
            strands.ends,
            strands.live.max(),
        )
        assert line.stitches_changed == (level.cells != charted.cells).sum()
        assert line.changed_percent == pytest.approx(line.stitches_changed / 30, abs=0.051)
        apart = deltaE_cie76(
            rgb2lab(charted.shown), rgb2lab(from_hex(charted.palette))[level.cells]
        )
        assert line.difference_from_picture == pytest.approx(apart.mean(), abs=0.03)
        assert line.yarns == len(np.unique(level.cells))
        if not how.is_tube:
            areas = [ndimage.label(level.cells == yarn)[0] for yarn in range(4)]
            assert min(np.bincount(area.ravel())[1:].min(initial=9999) for area in areas) >= least
    assert (np.diff(table.strands) < 0).all()

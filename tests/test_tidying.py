"""Tidying: against a plain slow algorithm on small charts, by what must hold on real ones, and its price against the tracing."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import label
from skimage import data

from planner import CarryLimits, Construction, Gauge, trace_strands
from planner.artwork import ChartedPicture, chart_picture, open_artwork
from planner.palette import from_hex, lab_of
from planner.tidying import LEVELS, compare_levels, tidied
from tests.pictures import encoded

COLOURS = ("#eeeeee", "#22426a", "#c8402f", "#5a8c50")
WORDS = [words for _, _, words in LEVELS]


def picture(*rows: str) -> ChartedPicture:
    """A chart of letters, top row first, '.' no stitch, as if it came from a picture of it."""
    cells = np.array([["ABCD".find(letter) for letter in row] for row in rows[::-1]], dtype=np.int16)
    return ChartedPicture(cells, COLOURS, from_hex(COLOURS)[cells], ())


def drawn(charted: ChartedPicture) -> list[str]:
    return ["".join(row) for row in charted.chart().to_rows()]


def plainly(cells: np.ndarray, least: int) -> np.ndarray:
    """Small areas given up one by one, all areas and borders found anew each time."""
    cells = cells.copy()
    lab = lab_of(from_hex(COLOURS))
    while True:
        found = []
        for yarn in range(4):
            areas, count = label(cells == yarn)
            found += [(int((areas == i).sum()), int(np.flatnonzero(areas == i)[0]), yarn, areas == i) for i in range(1, count + 1)]
        small = [area for area in sorted(found, key=lambda area: area[:2]) if area[0] < least and area[0] < cells.size]
        if not small:
            return cells
        _, _, yarn, here = small[0]
        beside = [0] * 4
        for row, column in np.argwhere(here):
            for r, c in ((row - 1, column), (row + 1, column), (row, column - 1), (row, column + 1)):
                if 0 <= r < cells.shape[0] and 0 <= c < cells.shape[1] and not here[r, c]:
                    beside[cells[r, c]] += 1
        cells[here] = min(
            (y for y in range(4) if beside[y]), key=lambda y: (-beside[y], float(np.linalg.norm(lab[y] - lab[yarn])), y)
        )


def borders(cells: np.ndarray) -> int:
    return int((cells[1:] != cells[:-1]).sum() + (cells[:, 1:] != cells[:, :-1]).sum())


@pytest.fixture(scope="module")
def coffee():
    return chart_picture(open_artwork(encoded(data.coffee()), "coffee"), 90, 80, 22 / 30, count=6)


@pytest.mark.parametrize("seed", range(30))
def test_areas_against_a_plain_algorithm(seed):
    rng = np.random.default_rng(seed)
    cells = rng.integers(0, int(rng.integers(2, 5)), (int(rng.integers(1, 12)), int(rng.integers(2, 12)))).astype(np.int16)
    levels = tidied(ChartedPicture(cells, COLOURS, from_hex(COLOURS)[cells], ()))
    assert (levels[0].cells == cells).all()
    assert (levels[1].cells == plainly(cells, 2)).all()
    assert (levels[2].cells == plainly(cells, 3)).all()


@pytest.mark.parametrize(
    ("patch", "level"), [(["B"], 1), (["BB"], 2), (["BB", "BB"], 3), (["BBB", "BBB"], 4), (["BBB"] * 3, 5), (["BBBB"] * 4, 6)]
)
def test_small_areas_go_at_their_level(patch, level):
    ground = "AA" + "A" * len(patch[0]) + "AA"
    rows = [ground] * 2 + [f"AA{row}AA" for row in patch] + [ground] * 2
    levels = [drawn(charted) for charted in tidied(picture(*rows))]
    assert levels[:level] == [rows] * level
    assert levels[level] == [ground] * len(rows)


def test_the_longest_border_takes_and_the_nearest_colour_on_ties():
    assert drawn(tidied(picture("AAAA", "ABCC", "CCCC"))[1])[1] == "AACC"
    # B beside A above and at the left, C below and at the right: both two; B (dark blue) is nearer to D (green) than to A.
    grey = replace(picture("AAA", "ABC", "CCC"), palette=("#eeeeee", "#22426a", "#22506a"))
    assert drawn(tidied(grey)[1])[1] == "ACC"


def test_a_line_stays_until_the_last_level_and_then_goes():
    line = ["AAAABAAAA"] * 45
    levels = tidied(picture(*line))
    assert all(drawn(level) == line for level in levels[:-1])
    assert drawn(levels[-1]) == ["A" * 9] * 45
    assert "lines" in WORDS[-1]


def test_spurs_and_bumps_go_and_corners_stay():
    levels = tidied(picture(*["AAAAAAAA"] * 3, "AABAAAAA", "AABAAAAA", "BBBBBBAA", *["BBBBBBBB"] * 6))
    assert drawn(levels[2])[3] == "AABAAAAA"
    # Both stitches of the spur are given up; the step at the right is no sliver.
    assert drawn(levels[3]) == ["AAAAAAAA"] * 5 + ["BBBBBBAA"] + ["BBBBBBBB"] * 6


def test_places_without_a_stitch_stay_and_part_nothing_within_a_row():
    rows = ["B...B", "AAAAA", "AAAAA"]
    levels = tidied(picture(*rows))
    assert all(np.array_equal(level.cells == -1, levels[0].cells == -1) for level in levels)
    assert drawn(levels[1]) == rows  # two stitches, side by side when worked
    assert drawn(levels[2])[0] == "A...A"
    assert drawn(tidied(picture("AAAA", "A..B", "AAAA"))[1])[1] == "A..A"
    assert drawn(tidied(picture("AAA..", "...BB"))[-1]) == ["AAA..", "...BB"]  # nobody to give it to


def test_round_a_tube_the_edges_are_neighbours():
    rows = ["BAAAAAAAB"] * 2 + ["AAAAAAAAA"] * 4
    flat, tube = tidied(picture(*rows)), tidied(picture(*rows), tube=True)
    assert drawn(flat[2])[0] == "A" * 9  # two areas of two stitches
    assert drawn(tube[2])[0] == rows[0]  # one of four
    assert drawn(tube[3])[0] == "A" * 9


def test_on_a_photograph(coffee):
    levels = tidied(coffee)
    changed = [int((level.cells != coffee.cells).sum()) for level in levels]
    assert changed[0] == 0
    assert changed == sorted(changed)
    assert [borders(level.cells) for level in levels] == sorted((borders(level.cells) for level in levels), reverse=True)
    for (least, _, _), level in zip(LEVELS, levels, strict=True):
        for yarn in range(6):
            areas, count = label(level.cells == yarn)
            assert count == 0 or np.bincount(areas.ravel())[1:].min() >= least
    assert all((a.cells == b.cells).all() for a, b in zip(levels, tidied(coffee), strict=True))
    # No stitch at the last level stands on its own in its row and in its column.
    cells = np.pad(levels[-1].cells, 1, constant_values=-1)
    middle = cells[1:-1, 1:-1]
    alone = (middle != cells[:-2, 1:-1]) & (middle != cells[2:, 1:-1]) | (middle != cells[1:-1, :-2]) & (middle != cells[1:-1, 2:])
    assert alone.sum() < 0.002 * alone.size


def test_the_price_is_what_the_tracing_says(coffee):
    how, gauge, limits = Construction(first_row="WS"), Gauge(20, 28), CarryLimits(across=1, up=1)
    levels, by_yarn = tidied(coffee), {"F": CarryLimits(across=3), "A": CarryLimits(sideways=2)}
    table = compare_levels(levels, how, gauge, limits, by_yarn=by_yarn)
    assert table.tidied.tolist() == WORDS
    for row, level in zip(table.itertuples(), levels, strict=True):
        strands = trace_strands(level.chart(), how, gauge, limits, by_yarn=by_yarn)
        assert (row.strands, row.ends, row.most_at_once) == (strands.count, strands.ends, strands.live.max())
        assert row.stitches_changed == (level.cells != coffee.cells).sum()
        assert row.changed_percent == pytest.approx(100 * row.stitches_changed / coffee.cells.size, abs=0.05)
        apart = np.linalg.norm(lab_of(coffee.shown) - lab_of(from_hex(coffee.palette))[level.cells], axis=-1)
        assert row.difference_from_picture == pytest.approx(apart.mean(), abs=0.006)
    assert table.strands.iloc[-1] < table.strands.iloc[0] / 3


def test_a_yarn_that_is_tidied_away_needs_no_limits_of_its_own():
    table = compare_levels(tidied(picture("AAAA", "AABA", "AAAA")), by_yarn={"B": CarryLimits(across=1)})
    assert table.yarns.tolist() == [2] + [1] * (len(LEVELS) - 1)
    assert table.strands.tolist()[1:] == [1] * (len(LEVELS) - 1)
    assert table.strands[0] > 1


def test_own_letters_are_kept(coffee):
    table = compare_levels(tidied(coffee), letters="UVWXYZ", by_yarn={"U": CarryLimits(across=9)})
    assert table.strands[0] < compare_levels(tidied(coffee)).strands[0]

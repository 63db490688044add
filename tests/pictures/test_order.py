"""The order of the strands: what lies in the lanes, by eye, and what the picture says of it."""

import pytest
from matplotlib.collections import LineCollection

from planner import CarryLimits, Chart, Construction, Project, make_plan
from planner.pictures import draw_strand_order
from planner.pictures.canvas import INK
from planner.pictures.order import (
    BEGUN,
    ENDS,
    STARTS,
    Bar,
    Path,
    Place,
    lay_bars,
    lay_paths,
    place_labels,
    places_marked,
    rows_shown,
)
from planner.strands import ACROSS, MIDDLE, ON, UP
from tests.helpers.drawn import PATCH, piece_plan, words_in, written

WHITE_AND_BLACK = ["#ffffff", "#000000"]


@pytest.mark.parametrize(
    ("first", "last", "shown"),
    [
        (1, None, (1, 12)),
        (5, None, (5, 16)),
        (5, 8, (5, 8)),
        (15, 40, (15, 20)),
        (40, 50, (20, 20)),
        (-3, 4, (1, 4)),
        (9, 4, (4, 4)),
    ],
)
def test_rows_that_the_piece_has_not_are_left_out(first, last, shown):
    rows = rows_shown(first, last, 20)
    assert (rows[0] + 1, rows[-1] + 1) == shown


def bars_of(rows=range(4)):
    return lay_bars(piece_plan("patch").traced, WHITE_AND_BLACK, rows)


def test_runs_lie_in_their_lanes():
    """By eye: the patch's second row, worked to the right. A2 starts there, and so does B1."""
    ground, patch, rest = bars_of(range(1, 2))
    assert ground == Bar(1, 0, 2, 0, 2, "#ffffff", "A1", starts=False, ends=False)
    assert patch == Bar(1, 2, 4, 2, 4, "#000000", "B1", starts=True, ends=False)
    assert rest == Bar(1, 4, 6, 4, 6, "#ffffff", "A2", starts=True, ends=False)


def test_starts_and_ends_are_marked():
    """By eye: A1 from the right edge of row 1 to the right edge of row 4, the others as above."""
    assert places_marked(bars_of(), []) == {
        STARTS: [(6, -0.24), (2, 0.76), (4, 0.76)],
        BEGUN: [],
        ENDS: [(4, 2.24), (2, 2.24), (6, 3.24)],
    }


def test_paths_join_the_runs():
    """By eye: three links of A1, one each of B1 and A2, all straight upwards."""
    paths = lay_paths(piece_plan("patch").traced, WHITE_AND_BLACK, range(4))
    assert sorted((path.start, path.stop, path.colour) for path in paths) == [
        ((0, 0), (0, 1), INK),  # white would not be seen
        ((0, 2), (0, 3), INK),
        ((2, 1), (2, 2), INK),
        ((4, 1), (4, 2), "#000000"),
        ((6, 1), (6, 2), INK),
    ]
    assert {path.kind for path in paths} == {ON}
    assert not any(path.carried or path.behind for path in paths)


@pytest.mark.parametrize(("rows", "count"), [(range(1), 1), (range(2, 3), 4), (range(3, 4), 1)])
def test_paths_from_and_to_rows_outside_are_drawn(rows, count):
    assert len(lay_paths(piece_plan("patch").traced, WHITE_AND_BLACK, rows)) == count


def test_a_carry_past_rows_is_drawn_in_the_rows_between():
    """By eye: A waits for two rows of B."""
    limits = CarryLimits(up=2, middle_start=False)
    plan = make_plan(Project("wait", Chart.from_rows(["A", "B", "B", "A"]), limits=limits))
    paths = lay_paths(plan.traced, WHITE_AND_BLACK, range(1, 2))
    assert {(path.kind, path.start.row, path.stop.row) for path in paths} == {
        (UP, 0, 3),
        (ON, 1, 2),
    }


def test_a_middle_start_lies_between_two_entering_edges():
    """By eye: row 1 is entered at the right edge, the ground beside the patch at its right."""
    strands = make_plan(Project("patch", Chart.from_rows(PATCH))).traced
    bars = lay_bars(strands, WHITE_AND_BLACK, range(2))
    # Each half has its name.
    names = {bar.name for bar in bars}
    halves = {strands.labels[n] for n in range(strands.count) if strands.has_middle[n]}
    assert halves
    assert names == (set(strands.labels) - halves) | {h + x for h in halves for x in "ab"}
    paths = lay_paths(strands, WHITE_AND_BLACK, range(2))
    assert Path(MIDDLE, Place(6, 0), Place(4, 1), INK) in paths
    marks = places_marked(bars, paths)
    assert marks == {STARTS: [(2, 0.76)], BEGUN: [(5, 0.5)], ENDS: []}


@pytest.mark.parametrize(
    ("path", "corners"),
    [
        (Path(ON, Place(4, 1), Place(4, 2), INK), ((4, 1.24), (4, 1.76))),
        (Path(MIDDLE, Place(3, 1), Place(4, 2), INK), ((3, 1), (4, 1.76))),
        (
            Path(ACROSS, Place(3, 1), Place(5, 1), INK),
            ((3, 0.76), (3, 0.62), (5, 0.62), (5, 0.76)),
        ),
    ],
)
def test_the_line_of_a_path(path, corners):
    """By eye: from the top of a run to the bottom of the next, below the row within a row."""
    assert path.corners == tuple(pytest.approx(corner) for corner in corners)


@pytest.mark.parametrize(
    ("kind", "shift", "rows", "carried", "behind"),
    [
        (ON, 0, 1, False, False),
        (ON, 1, 1, False, False),
        (ON, -2, 1, True, False),
        (UP, 0, 2, True, True),
        (ACROSS, 1, 0, True, True),
        (MIDDLE, 1, 0, False, True),
        (MIDDLE, 3, 1, True, False),
    ],
)
def test_what_is_carried_and_what_runs_behind(kind, shift, rows, carried, behind):
    path = Path(kind, Place(5, 1), Place(5 + shift, 1 + rows), INK)
    assert (path.carried, path.behind) == (carried, behind)
    assert path.middle == (5 + shift / 2, 1 + rows / 2)


def bar(left, right, row=0, name="A1", colour="#000000"):
    return Bar(row, left, right, left, right, colour, name, starts=False, ends=False)


def test_labels_stand_inside_where_there_is_room_else_above():
    """Two letters of 0.68 × 7 points are 9.52 wide, at half a column a point 4.76 (computed)."""
    wide, narrow = place_labels([bar(0, 5), bar(5, 9)], point=0.5)
    assert (wide.inside, wide.x, wide.ink) == (True, 2.5, "white")
    assert (narrow.inside, narrow.x, narrow.ink) == (False, 7, "black")


def test_labels_above_do_not_run_into_each_other():
    """Three narrow runs side by side: the second label would cover the first."""
    bars = [bar(0, 3, name="A1"), bar(3, 6, name="B1"), bar(6, 9, name="C1")]
    assert [label.text for label in place_labels(bars, point=0.5)] == ["A1", "C1"]
    above = [bar(0, 3, row=1, name="D1")]
    assert [label.text for label in place_labels(bars + above, point=0.5)] == ["A1", "C1", "D1"]


@pytest.mark.parametrize(
    ("how", "names"),
    [
        (Construction(), ["◄ row 1 (RS)", "row 2 (WS) ►"]),
        (Construction(hand="left"), ["row 1 (RS) ►", "◄ row 2 (WS)"]),
        (Construction(worked="rounds"), ["◄ round 1", "◄ round 2"]),
        (Construction(fabric="garter"), ["◄ row 1 (RS\nridge 1)", "row 2 (WS\nridge 1) ►"]),
    ],
)
def test_rows_are_named_where_they_begin(how, names):
    plan = make_plan(Project("patch", Chart.from_rows(PATCH), how=how))
    figure = draw_strand_order(plan, 1, 2)
    named = {text: place for text, place in written(figure.axes[0]) if "r" in text}
    assert sorted(named, key=lambda name: named[name][1]) == names
    for name, (x, _) in named.items():
        assert x == (6.6 if "◄" in name else -0.6)


def test_the_picture_has_all_that_is_laid_out():
    plan = piece_plan("patch")
    figure = draw_strand_order(plan)
    ax = figure.axes[0]
    assert ax.get_title("left") == "Order of the strands, rows 1 to 4 (work upwards)"
    assert len(ax.collections[0].get_paths()) == plan.traced.runs.count
    marks = {line.get_label(): line.get_xydata().tolist() for line in ax.lines[:3]}
    assert [len(places) for places in marks.values()] == [3, 0, 3]
    paths = [lines for lines in ax.collections if isinstance(lines, LineCollection)]
    # Each has a rim below it.
    assert sum(len(lines.get_segments()) for lines in paths) == 2 * plan.traced.links.count
    assert {"A1", "A2", "B1", "goes on", "carried", *marks} <= set(words_in(figure))

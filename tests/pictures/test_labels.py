"""Labels of strands: the parts of a strand, and where the label of each goes."""

from itertools import combinations

import numpy as np
import pytest

from planner.pictures.labels import (
    LABEL_PT,
    MOST_CALLOUTS,
    Box,
    Label,
    Page,
    Part,
    parts_of,
    place_labels,
)


def page(rows=20, columns=20, *, cell=10.0, marked=()) -> Page:
    """A page of square cells."""
    cells = np.zeros((rows, columns), dtype=bool)
    for place in marked:
        cells[place] = True
    return Page(cells, stitch_pt=cell, row_pt=cell)


def part(rows, columns, *, row=5, column=5, name="A12", strand=0) -> Part:
    """A part that fills so many rows and columns."""
    return Part(strand, name, 240, np.ones((rows, columns), dtype=bool), row, column)


def test_a_strand_lies_in_parts_that_touch_nowhere():
    """By eye: A1 touches itself at a corner at the right, and so does B1."""
    grid = np.array([[0, -1, 1, 0], [-1, 1, 0, 0], [0, -1, 1, 1]])
    found = parts_of(grid, ["A1", "B1"])
    told = [(each.name, each.row, each.column, each.size, each.stitches) for each in found]
    assert told == [("B1", 0, 1, 4, 4), ("A1", 0, 2, 3, 5), ("A1", 0, 0, 1, 5), ("A1", 2, 0, 1, 5)]


def test_no_stitch_is_no_part():
    assert parts_of(np.full((2, 3), -1), []) == []


def test_parts_add_up_to_the_grid():
    grid = np.random.default_rng(4).integers(-1, 6, (30, 40))
    seen = np.full_like(grid, -1)
    for each in parts_of(grid, [f"A{n}" for n in range(6)]):
        assert (seen[each.place][each.mask] == -1).all()
        seen[each.place][each.mask] = each.strand
    assert (seen == grid).all()


def test_a_box_goes_to_the_middle_of_its_part():
    """By eye: rows 5 to 8 and columns 5 to 10, so that the middle is (80, 70)."""
    assert page().place_in(part(4, 6), 20, 20) == (80, 70)
    # Two cells of three have no middle one.
    assert page().place_in(part(1, 3), 20, 10) == (60, 55)
    assert page().place_in(part(1, 3), 31, 10) is None
    assert page().place_in(part(1, 3), 20, 11) is None


def test_a_box_lies_all_in_its_part():
    """By eye: an L, two rows high below and two columns wide at the left."""
    mask = np.zeros((6, 6), dtype=bool)
    mask[:2] = mask[:, :2] = True
    shaped = Part(0, "A1", 20, mask, 0, 0)
    assert page().place_in(shaped, 20, 20) in [(20, 20), (10, 20), (20, 10), (10, 10)]
    assert page().place_in(shaped, 30, 20) == (25, 10)
    assert page().place_in(shaped, 30, 30) is None


def test_a_box_keeps_away_from_marks_where_it_can():
    row = part(1, 5, row=0, column=0)
    assert page(marked=[(0, 2)]).place_in(row, 20, 10) == (10, 5)
    everywhere = [(0, column) for column in range(5)]
    assert page(marked=everywhere).place_in(row, 10, 10) == (25, 5)


@pytest.mark.parametrize(
    ("x", "y", "free"),
    [(50, 50, True), (50, 68, False), (50, 70, True), (69, 50, False), (70, 50, True)],
)
def test_a_place_is_free_if_nothing_is_covered(x, y, free):
    """A label of 20 × 20 lies at (50, 50) or beside it; those that only touch are free."""
    whole = page()
    if (x, y) != (50, 50):
        whole.take(Box(50, 50, 20, 20))
    assert whole.is_free(Box(x, y, 20, 20)) is free


@pytest.mark.parametrize(("x", "free"), [(9, False), (10, True), (190, True), (191, False)])
def test_a_place_is_free_within_the_page(x, free):
    assert page().is_free(Box(x, 100, 20, 20)) is free


@pytest.mark.parametrize(("x", "hides"), [(39, False), (41, True), (89, True), (91, False)])
def test_what_is_to_be_kept_clear_is_not_hidden(x, hides):
    """The part reaches from 50 to 80, and the box ten to each side."""
    whole = page()
    whole.keep_clear(part(1, 3))
    assert whole.hides_nothing(Box(x, 55, 20, 20)) is not hides


@pytest.mark.parametrize(
    ("rows", "columns", "text"),
    [(4, 4, "A12\n240"), (2, 2, "A12\n240"), (1, 2, "A12"), (1, 1, "A12 240"), (4, 1, "A12 240")],
)
def test_a_label_says_as_much_as_there_is_room_for(rows, columns, text):
    """Cells of 10 points: a letter is 4.8 wide and a line 8.4 high (computed)."""
    (label,) = place_labels([part(rows, columns)], page())
    assert label.text == text
    assert (label.tip is None) == (text != "A12 240")


def test_every_part_has_its_label_and_the_largest_the_stitches():
    parts = [part(4, 4), part(3, 3, row=12), part(1, 1, row=18)]
    labels = place_labels(parts, page())
    assert [(label.text, label.tip is None) for label in labels] == [
        *(("A12\n240", True), ("A12", True), ("A12", False))
    ]


def test_a_label_beside_its_part_has_a_line_to_it():
    """The first ring is 14 points high and as many times 1.4 wide; there the box would hide the
    part at its right, so it goes to the right of the next ring."""
    (label,) = place_labels([part(1, 1)], page())
    assert label.tip == (55, 55)
    box = Box(label.x, label.y, 0.62 * LABEL_PT * 7 + 4, 1.3 * LABEL_PT)
    assert box.is_clear_of(Box(55, 55, 10, 10))
    assert abs(label.x - 55) + abs(label.y - 55) < 60


def test_labels_do_not_cover_each_other():
    parts = [part(1, 1, row=n % 12, column=n, name=f"A1{n:02}", strand=n) for n in range(24)]
    labels = place_labels(parts, page(40, 40))
    assert len(labels) == len(parts)
    for first, second in combinations(labels, 2):
        aside, above = abs(first.x - second.x), abs(first.y - second.y)
        assert aside > 0.6 * LABEL_PT * 2 or above > LABEL_PT


def test_where_there_is_no_room_a_label_lies_on_its_part():
    tiny = page(1, 1, cell=8)
    assert place_labels([part(1, 1, row=0, column=0)], tiny) == [
        Label("A12 240", 4, 4, 0, tip=(4, 4))
    ]


@pytest.mark.parametrize(("strands", "labels"), [(MOST_CALLOUTS, 150), (MOST_CALLOUTS + 1, 0)])
def test_of_very_many_strands_small_ones_go_without_a_label(strands, labels):
    small = [part(1, 1, name=f"B{n:03}", strand=n + 1) for n in range(strands)]
    found = place_labels([part(5, 5), *small], page(400, 400))
    assert found[0].text == "A12\n240"
    assert len(found) == 1 + labels


def test_of_very_many_parts_those_are_named_whose_strand_has_no_label():
    small = [part(1, 1) for _ in range(MOST_CALLOUTS)]
    found = place_labels([part(5, 5), *small, part(1, 1, name="B10", strand=1)], page(400, 400))
    assert [label.text for label in found] == ["A12\n240", "B10 240"]

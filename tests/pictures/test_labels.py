"""Labels of strands: where a strand is widest, and where its label goes."""

from itertools import combinations

import numpy as np
import pytest

from planner.pictures.labels import (
    LABEL_PT,
    MOST_CALLOUTS,
    Box,
    Label,
    Page,
    Spot,
    place_labels,
    widest_spots,
)


def test_where_a_strand_is_widest():
    """By eye: a square of 3 × 3 with a tail; its middle cell is one and a half cells from edges."""
    grid = np.array([[1, 1, 1, 1, 1], [0, 0, 0, 1, 1], [0, 0, 0, 0, 0], [0, 0, 0, 1, 1]])
    square, rest = widest_spots(grid, ["A1", "B1"], stitch_pt=10, row_pt=10)
    assert square == Spot(x=15, y=25, room=30, name="A1", stitches=11)
    assert rest.stitches == 9


def test_no_stitch_is_no_part_of_a_strand():
    (spot,) = widest_spots(np.array([[0, -1, 0]]), ["A1"], stitch_pt=8, row_pt=6)
    assert (spot.room, spot.stitches) == (6, 2)  # a row is 6 points high


@pytest.mark.parametrize(
    ("x", "y", "free"),
    [(50, 50, True), (50, 68, False), (50, 70, True), (69, 50, False), (70, 50, True)],
)
def test_a_place_is_free_if_nothing_is_covered(x, y, free):
    """A label of 20 × 20 lies at (50, 50) or beside it; those that only touch are free."""
    page = Page(200, 200)
    if (x, y) != (50, 50):
        page.take(Box(50, 50, 20, 20))
    assert page.is_free(Box(x, y, 20, 20)) is free


@pytest.mark.parametrize(("x", "free"), [(9, False), (10, True), (190, True), (191, False)])
def test_a_place_is_free_within_the_page(x, free):
    assert Page(200, 200).is_free(Box(x, 100, 20, 20)) is free


def spot(room, x=100.0, name="A1"):
    return Spot(x, 100.0, room, name, stitches=240)


@pytest.mark.parametrize(
    ("room", "text"),
    [(40, "A1\n240"), (15.2, "A1\n240"), (15, "A1"), (7.6, "A1"), (7.5, "A1 240")],
)
def test_a_label_says_as_much_as_there_is_room_for(room, text):
    """A line is 1.12 × 7.5 = 8.4 points high, and must have nine tenths of it (computed)."""
    (label,) = place_labels([spot(room)], Page(200, 200))
    assert label.text == text
    assert (label.tip is None) == (text != "A1 240")


def test_a_label_beside_its_strand_has_a_line_to_it():
    """The first ring is 14 points high and as many times 1.4 wide; its first place is the right."""
    (label,) = place_labels([spot(1)], Page(200, 200))
    assert label == Label("A1 240", x=pytest.approx(119.6), y=100, tip=(100, 100))


def test_labels_do_not_cover_each_other():
    spots = [spot(room, x=90 + room, name=f"A{room}") for room in range(1, 25)]
    labels = place_labels(spots, Page(400, 400))
    assert len(labels) == len(spots)
    assert labels[0].text.startswith("A24")
    for one, another in combinations(labels, 2):
        lines = max(label.text.count("\n") for label in (one, another)) + 1
        aside, above = abs(one.x - another.x), abs(one.y - another.y)
        assert aside > 0.6 * LABEL_PT * 2 or above > LABEL_PT * lines / 2


def test_where_there_is_no_room_a_label_lies_on_its_strand():
    assert place_labels([spot(1, x=4)], Page(8, 8)) == [Label("A1 240", 4, 100, tip=(4, 100))]


@pytest.mark.parametrize("more", [0, 1])
def test_of_very_many_strands_small_ones_go_without_a_label(more):
    small = [spot(1, name=f"A{n}") for n in range(MOST_CALLOUTS - 1 + more)]
    labels = place_labels([spot(40, name="B1"), *small], Page(4000, 4000))
    assert len(labels) == (1 if more else MOST_CALLOUTS)
    assert labels[0].text == "B1\n240"

"""Choices told by what lies beside them, and the stitches they are about."""

from planner import Chart, Construction, Project, make_plan
from planner.choices import Spots, tell_choices
from planner.piece import OwnChoice, Yarn
from tests.helpers.choices import embroider, piece

# A door of K, two stitches wide and three rows high, in a wall of W; a dot of Y beside it.
WALL = ["WWWWWWWY", "WWWKKWWW", "WWWKKWWW", "WWWKKWWW", "WWWWWWWW"]
NAMED = {"W": Yarn("W", "Cream"), "K": Yarn("K", "Rock")}


def carry(row, stitch, to_row, to_stitch, choice="yes"):
    part = f"to row {to_row} stitch {to_stitch}"
    return OwnChoice("carry", "W", row, stitch, part, choice)


# Rows 2 to 4; a RS row is worked from the right, so a carry leads to the left.
BEHIND = (carry(3, 1, 3, 6), carry(2, 8, 2, 3), carry(4, 8, 4, 3))


def told(*choices, rows=WALL, **asked):
    project = piece(rows, yarns=NAMED, **asked)
    plan = make_plan(project)
    return [each.words for each in tell_choices(choices, project, plan.traced, plan.drawn_areas)]


def spots(rows=WALL, how=None):
    project = Project("wall", Chart.from_rows(rows), how=how or Construction())
    plan = make_plan(project)
    return Spots(project.chart, project.how, plan.drawn_areas, plan.traced.runs)


def test_carries_behind_one_area_are_told_together():
    assert told(*BEHIND) == ["carry W Cream behind K Rock: rows 2–4, stitches 4–5 (3 times)"]


def test_rows_apart_are_told_apart():
    assert told(BEHIND[1], BEHIND[2]) == [
        "carry W Cream behind K Rock: row 2, stitches 4–5",
        "carry W Cream behind K Rock: row 4, stitches 4–5",
    ]


def test_in_rounds_they_are_rounds():
    rounds = Construction(worked="rounds")
    assert told(carry(2, 1, 2, 6), carry(3, 1, 3, 6), how=rounds) == [
        "carry W Cream behind K Rock: rounds 2–3, stitches 4–5 (2 times)"
    ]


def test_an_embroidery_is_told_first_and_in_what_it_lies():
    assert told(*BEHIND, embroider("K", 2, 4))[0] == (
        "embroider K Rock in W Cream: 6 stitches, rows 2–4, stitches 4–5"
    )
    assert told(embroider("Y", 5, 1)) == ["embroider Y in W Cream: 1 stitch, row 5, stitch 1"]


def test_what_leaves_its_row_and_what_is_cut_is_told_alone():
    assert told(carry(1, 1, 3, 1), carry(2, 1, 3, 1, "no")) == [
        "carry W Cream from row 1, stitch 1, to row 3, 8 stitches aside",
        "do not carry W Cream from row 2, stitch 1, to row 3",
    ]


def test_what_is_gone_is_told_as_it_stands():
    assert told(embroider("Y", 1, 1)) == ["embroider Y, row 1, stitch 1: by itself"]


def test_stitches_of_an_area_and_of_a_carry():
    """Cells from the lower left: the door lies over the columns 3 and 4 of the rows 1 to 3."""
    door = spots().cells(embroider("K", 2, 4))
    assert door.tolist() == [11, 12, 19, 20, 27, 28]
    # Both runs of row 3, and the door between them: the whole row.
    assert spots().cells(carry(3, 1, 3, 6)).tolist() == list(range(16, 24))
    assert spots().behind(carry(3, 1, 3, 6)).tolist() == [19, 20]
    assert spots().way(carry(3, 1, 3, 6)) == (5, 2, 3, 2)


def test_places_that_are_gone_have_no_stitches():
    for choice in (embroider("Y", 1, 1), embroider("Y", 99, 1), carry(2, 4, 3, 1)):
        assert len(spots().cells(choice)) == 0
        assert spots().way(choice) is None


def test_round_a_tube_the_shorter_way():
    """A leaves edge 7 of 8 and enters edge 1: two stitches beyond the side, not six back."""
    rounds = spots(["ABBBBBBB", "BBBBBBBA"], Construction(worked="rounds"))
    way = rounds.way(OwnChoice("carry", "A", 1, 1, "to row 2 stitch 8", "yes"))
    assert way == (7, 0, 9, 1)


def test_garter_counts_both_rows_of_a_ridge():
    garter = Construction(fabric="garter")
    assert told(embroider("K", 3, 4), how=garter) == [
        "embroider K Rock in W Cream: 12 stitches, rows 3–8, stitches 4–5"
    ]

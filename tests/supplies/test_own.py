"""The knitter's own choices: which strand each is about, and what becomes of one that fits none."""

import pytest

from planner import CarryLimits, Chart, trace_strands
from planner.piece import BALL, BUTTERFLY, LOOSE, OwnChoice
from planner.supplies import own_supplies
from tests.helpers.parts import supplies_of
from tests.helpers.plans import V, plan_of

# B is begun from its middle in row 1 at stitch 16; A begins at the right-hand edge.
STRANDS = trace_strands(Chart.from_rows(V), limits=CarryLimits(across=1))


def about(yarn, row, stitch, part, choice=BUTTERFLY, what="supply"):
    """One choice, and what comes of it."""
    return own_supplies(STRANDS, [OwnChoice(what, yarn, row, stitch, part, choice)])


@pytest.mark.parametrize("part", ["whole", "first half", "second half"])
def test_a_choice_is_known_by_where_its_strand_begins(part):
    assert about("B", 1, 16, part) == ({("B1", part): BUTTERFLY}, [])


def test_a_choice_for_a_strand_without_halves():
    assert about("A", 1, 1, "whole") == ({("A1", "whole"): BUTTERFLY}, [])
    assert about("A", 1, 1, "first half") == (
        {},
        [
            "Your choice of a butterfly for the strand of A that began in row 1 at stitch 1 is "
            "kept, but A1 has no first half."
        ],
    )


@pytest.mark.parametrize(("yarn", "row", "stitch"), [("B", 1, 1), ("A", 2, 1), ("A", 1, 16)])
def test_a_choice_where_no_strand_begins_now_is_kept(yarn, row, stitch):
    own, (note,) = about(yarn, row, stitch, "whole")
    assert own == {}
    assert note == (
        f"Your choice of a butterfly for the strand of {yarn} that began in row {row} at stitch "
        f"{stitch} is kept, but no strand begins there now."
    )


def test_other_choices_are_no_matter_of_supplies():
    assert about("A", 1, 1, "whole", "yes", what="embroider") == ({}, [])


@pytest.mark.parametrize("part", ["second half", "third half"])
def test_choice_for_a_half_that_is_not_there_is_noted(part):
    """A choice is never dropped without a word: the strand is no longer begun from its middle, or
    the part is a slip."""
    plan = plan_of(["AAAA"] * 4, choices=(OwnChoice("supply", "A", 1, 1, part, BALL),))
    assert supplies_of(plan) == {"A1": LOOSE}
    assert [note for note in plan.notes if "A" in note and "kept" in note], plan.notes

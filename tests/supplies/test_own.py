"""The knitter's own choices: which strand each is about, and what becomes of one that fits none."""

import pytest

from planner.piece import BALL, LOOSE, OwnChoice
from tests.helpers.parts import supplies_of
from tests.helpers.plans import plan_of


@pytest.mark.parametrize("part", ["second half", "third half"])
def test_choice_for_a_half_that_is_not_there_is_noted(part):
    """A choice is never dropped without a word: the strand is no longer begun from its middle, or
    the part is a slip."""
    plan = plan_of(["AAAA"] * 4, choices=(OwnChoice("supply", "A", 1, 1, part, BALL),))
    assert supplies_of(plan) == {"A1": LOOSE}
    assert [note for note in plan.notes if "A" in note and "kept" in note], plan.notes

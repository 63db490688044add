"""What speaks against a supply, and where a middle start suits none."""

from planner import CarryLimits
from planner.piece import BALL, Habits, OwnChoice
from tests.helpers.plans import plan_of


def test_middle_start_that_suits_no_supply():
    """Both halves too long for one piece, or both from one ball: said, with the way out."""
    wide = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    for asked, words in (
        ({"habits": Habits(10, 20, 120, table=False)}, "both halves are too long for one piece"),
        ({"choices": (OwnChoice("supply", "B", 1, 63, "whole", BALL),)}, "fed from one ball"),
    ):
        plan = plan_of(wide, **asked)
        assert plan.strands.set_index("strand").middle_start["B1"]
        notes = [note for note in plan.notes if note.startswith("B1 is begun from its middle")]
        assert len(notes) == 1
        assert words in notes[0]
        assert "Switch middle starts off for B" in notes[0]
    off = plan_of(wide, by_yarn={"B": CarryLimits(middle_start=False)}, **asked)
    assert not off.traced.has_middle.any()
    both = plan_of(wide, **(asked | {"habits": Habits(both_ends=True)}))
    assert not [note for note in both.notes if "middle" in note]

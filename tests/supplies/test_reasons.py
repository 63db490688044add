"""What speaks against a supply, and where a middle start suits none."""

import pytest

from planner import CarryLimits, Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits, OwnChoice
from tests.helpers.plans import FEW_THEN_MANY, WS_FIRST, plan_of


def test_middle_start_that_suits_no_supply():
    """Both halves too long for one piece, or both from one ball: said, with the way out."""
    wide = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    for asked, words in (
        ({"habits": Habits(10, 20, 120, place="train")}, "both halves are too long for one length"),
        (
            {"choices": (OwnChoice("supply", "B", 1, 63, "whole", BALL),)},
            "a ball cannot feed both halves: one has to be measured off and wound first",
        ),
    ):
        plan = plan_of(wide, **asked)
        assert plan.strands.set_index("strand").middle_start["B1"]
        notes = [note for note in plan.notes if note.startswith("B1 is begun from its middle")]
        assert len(notes) == 1
        assert words in notes[0]
        assert "Switch middle starts off for B" in notes[0]
    off = plan_of(wide, by_yarn={"B": CarryLimits(middle_start=False)}, **asked)
    assert not off.traced.has_middle.any()
    # Nor do both ends of a ball have a middle between them.
    both = plan_of(wide, **(asked | {"habits": Habits(both_ends=True)}))
    assert [note for note in both.notes if words in note]


def against(rows, supply, yarn=None, **habits):
    """What speaks against holding A so, as its knitter chose; A begins at the right-hand edge."""
    own = (OwnChoice("supply", "A", 1, 1, "whole", supply),)
    plan = plan_of(rows, {"A": yarn or Yarn("A")}, habits=Habits(**habits), choices=own)
    return plan.supplies.set_index("strand").against["A1"]


THREE = ["CCCCCCBBBBBBAAAAAA"] * 20  # each 2.7 m long


@pytest.mark.parametrize(
    ("rows", "supply", "habits", "words"),
    [
        # Bobbins: narrow areas, crowded rows, rewinding; 2 cm to the stitch and tails of 15 cm.
        (["AAAA"] * 20, BOBBIN, {"narrow_stitches": 4}, "swings on an area of 4 stitches"),
        (["AAAA"] * 20, BOBBIN, {"narrow_stitches": 3}, ""),
        (["AAAA"] * 20, BUTTERFLY, {"narrow_stitches": 4}, ""),
        (["AAAAAA"] * 20, BOBBIN, {"rewinding": False}, "you would rather not rewind"),
        (["AAAAAA"] * 20, BUTTERFLY, {"rewinding": False}, ""),
        (THREE, BOBBIN, {"comfortable": 1, "crowded": 2}, "hangs among up to 2 others"),
        (THREE, BUTTERFLY, {"comfortable": 1, "crowded": 2}, "hangs among up to 2 others"),
        (THREE, LOOSE, {"comfortable": 1, "crowded": 2}, ""),
        (THREE, BALL, {"comfortable": 1, "crowded": 2}, ""),
        (THREE, BOBBIN, {"comfortable": 1, "crowded": 3}, ""),
        # Butterflies: drops.
        (
            ["AAAAAA"] * 20,
            BUTTERFLY,
            {"drop": "long"},
            "cannot be rewound, long drops wrap each other",
        ),
        (["AAAAAA"] * 20, BOBBIN, {"drop": "long"}, ""),
        # Lengths: 20 rows of 40 stitches are 16.30 m, 10 rows of 21 stitches 4.50 m.
        (["A" * 40] * 20, BUTTERFLY, {}, "longer than you like for a butterfly (16.30 m)"),
        (["A" * 40] * 20, BUTTERFLY, {"butterfly_up_to_cm": 1630}, ""),
        (["A" * 40] * 20, BOBBIN, {"bobbin_up_to_cm": 1400}, "1 refill (2 more ends)"),
        # Overfull rather than joined.
        (
            ["A" * 40] * 20,
            BOBBIN,
            {"bobbin_up_to_cm": 1500},
            "longer than you like for a bobbin (16.30 m)",
        ),
        (["A" * 40] * 20, LOOSE, {}, "long to draw free (16.30 m)"),
        (["A" * 21] * 10, LOOSE, {}, ""),
        # Balls.
        (["AAAAAA"] * 20, BALL, {"place": "train"}, "no ball or no place for it"),
        (["AAAAAA"] * 20, BALL, {}, ""),
        (["AAAAAA"] * 20, BOBBIN, {"place": "train"}, ""),
    ],
)
def test_reasons_by_eye(rows, supply, habits, words):
    assert against(rows, supply, **habits) == words


@pytest.mark.parametrize(
    ("surface", "supply", "words"),
    [
        ("hairy", LOOSE, "hairy strands cling to each other"),
        ("hairy", BUTTERFLY, ""),
        ("slippery", BUTTERFLY, "slippery yarn slides out of it"),
        ("slippery", LOOSE, ""),
        ("slippery", BOBBIN, ""),
    ],
)
def test_surfaces(surface, supply, words):
    assert against(["AAAAAA"] * 20, supply, Yarn("A", surface=surface)) == words


def test_what_hangs_later_is_what_is_judged():
    """From the ball for 29 rows, where two are at work, then on a bobbin among five others: what
    hangs among them is the bobbin."""
    habits = Habits(crowded=5, loose_up_to_cm=100, butterfly_up_to_cm=300)
    plan = plan_of(FEW_THEN_MANY, how=WS_FIRST, habits=habits)
    held = next(each for each in plan.held if each.part.label == "A1")
    assert [stage.supply for stage in held.stages] == [BALL, BOBBIN]
    assert held.against == "hangs among up to 5 others"


def test_a_yarn_that_should_not_be_cut():
    yarn = Yarn("A", may_be_cut=False)
    assert against(["AAAAAA"] * 20, BOBBIN, yarn) == "A should not be cut"
    assert against(["AAAAAA"] * 20, BALL, yarn) == ""


def test_reasons_stand_in_one_order():
    """A bobbin of 14 m for 32.28 m in a narrow stripe that must not be cut: three are filled."""
    words = against(
        ["AAA"] * 533, BOBBIN, Yarn("A", may_be_cut=False), bobbin_up_to_cm=1400, rewinding=False
    )
    assert words == (
        "2 refills (4 more ends); swings on an area of 3 stitches; you would rather not rewind; "
        "A should not be cut"
    )

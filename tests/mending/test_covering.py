"""Duplicate stitch over what is wrong: the yarn that the plan's own embroidery takes, and tails."""

from dataclasses import replace

import pytest

from planner import Yarn, make_plan
from planner.mending import COVER, SPLIT, WRONG_YARN, Stitch, Work, cures, places_to_cover
from planner.mending.covering import cover, touching
from planner.piece import OwnChoice
from tests.helpers.mending import cure_named, fault, with_rows
from tests.helpers.plans import GAUGE, plan_of

from planner.units import rounded_up, show  # isort: skip

# A patch of 2 × 2 B in a ground of A, far from any edge.
PATCH = ["A" * 20] * 6 + ["A" * 9 + "BB" + "A" * 9] * 2 + ["A" * 20] * 6
CELLS = [Stitch(row, column) for row in (6, 7) for column in (9, 10)]


def covered(plan, *stitches, in_yarn="A"):
    return cover(Work(plan), fault(WRONG_YARN, *stitches, in_yarn=in_yarn))


def test_it_takes_what_the_plan_takes_to_embroider_the_same_stitches():
    """The patch is embroidered by the plan; the same stitches were knitted in A by mistake."""
    choice = OwnChoice("embroider", "B", 7, 11, "whole", "by itself")
    project = plan_of(PATCH).project
    embroidered = make_plan(replace(project, choices=(choice,)))
    (length_cm,) = embroidered.to_embroider.length_cm.tolist()
    cure = covered(with_rows(plan_of(PATCH), 12), *CELLS)
    assert cure.ends == embroidered.to_embroider.ends == 2
    assert cure.yarn_cm == rounded_up(length_cm, "cm")
    # By hand: 4 stitches at 2 cm, a tenth more, and two tails of 15 cm.
    assert length_cm == pytest.approx(4 * 2 * 1.1 + 30)


def test_a_tail_nearby_saves_both_ends():
    """B1 begins at the first stitch of row 7; one stitch beside it takes 2.2 cm of its 15 cm."""
    plan = with_rows(plan_of(PATCH), 12)
    cure = covered(plan, Stitch(7, 10))
    assert (cure.ends, cure.yarn_cm) == (0, 0)
    assert "with the tail of B1" in " ".join(cure.steps)


def test_how_far_a_tail_reaches_by_hand():
    """15 cm of tail, 2.2 cm in the stitch, 8 cm to sew it in: 4.8 cm are left for the way.

    Row 1 of ten B ends at the left edge; a stitch is 0.5 cm wide, so 9 stitches lie in reach and
    10 do not.
    """
    plan = with_rows(plan_of(["B" * 40] * 4, {"C": Yarn("C")}), 1)
    assert GAUGE.stitch_cm == 0.5
    # The one end that is there begins at column 39; nothing has stopped yet.
    # Two of the ends are those of the wrong C, which the plan has nowhere.
    assert covered(plan, Stitch(0, 30), in_yarn="C").ends == 0 + 2
    assert covered(plan, Stitch(0, 29), in_yarn="C").ends == 2 + 2


def test_stitches_in_one_place_are_counted_together():
    plan = with_rows(plan_of(["A" * 60] * 10, {"B": Yarn("B")}), 9)
    together = [Stitch(5, 30), Stitch(6, 31), Stitch(5, 32)]
    apart = Stitch(5, 40)
    groups = touching(Work(plan), [*together, apart])
    assert sorted(map(len, groups)) == [1, 3]
    cure = covered(plan, *together, apart, in_yarn="B")
    assert cure.worked == 4
    # Of each group two of what covers it and two of the wrong B, which the plan has nowhere.
    assert cure.ends == 8
    assert "sew in its 4 ends too" in cure.steps[-1]
    assert cure.yarn_cm == rounded_up(3 * 2.2 + 30, "cm") + rounded_up(2.2 + 30, "cm")


def test_what_is_kept_says_the_length_and_the_ends():
    """One stitch takes 2.2 cm, and two tails take 15 cm each: 32.2 cm, rounded up."""
    plan = with_rows(plan_of(["A" * 60] * 10, {"B": Yarn("B")}), 9)
    wrong = fault(WRONG_YARN, Stitch(5, 30), in_yarn="B")
    (kept,) = places_to_cover(plan, wrong)
    cut = show(rounded_up(2.2 + 30, "cm"), "cm")
    assert kept.takes == f"cut {cut}, 2 ends to sew in, and the 2 of B"
    assert any(f"cut {cut} of A" in step for step in cover(Work(plan), wrong).steps)


def test_what_is_kept_says_which_tail_covers_it():
    plan = with_rows(plan_of(PATCH), 12)
    (kept,) = places_to_cover(plan, fault(WRONG_YARN, Stitch(7, 10), in_yarn="A"))
    assert kept.takes.startswith("with the tail of B1 where it ")
    assert "cut" not in kept.takes


def test_light_over_dark_shows_the_ground():
    """Common practice, no source: the dark yarn is seen between the light stitches."""
    yarns = {"A": Yarn("A", colour="#f4f0e6"), "B": Yarn("B", colour="#101018")}
    plan = with_rows(plan_of(["A" * 20] * 6, yarns), 5)
    light = covered(plan, Stitch(2, 9), in_yarn="B")
    assert [each for each in light.mind if "B will show between the stitches" in each]
    dark = with_rows(plan_of(["B" * 20] * 6, yarns), 5)
    assert covered(dark, Stitch(2, 9), in_yarn="A").mind == ()


def test_a_row_and_a_large_patch_lie_badly():
    plan = with_rows(plan_of(["A" * 20] * 8, {"B": Yarn("B")}), 7)
    row = covered(plan, *(Stitch(2, column) for column in range(5, 9)), in_yarn="B")
    assert [each for each in row.mind if "lies unevenly" in each]
    patch = [Stitch(row, column) for row in range(1, 5) for column in range(5, 9)]
    assert [each for each in covered(plan, *patch, in_yarn="B").mind if "stiff" in each]


def test_it_mends_no_loop_and_comes_after_blocking():
    plan = with_rows(plan_of(PATCH), 12)
    assert cure_named(cures(plan, fault(SPLIT, CELLS[0])), COVER).barred
    assert "when the piece is blocked" in covered(plan, CELLS[0]).steps[0]


def test_what_is_embroidered_anyway_is_left():
    choice = OwnChoice("embroider", "B", 7, 11, "whole", "by itself")
    project = plan_of(PATCH).project
    embroidered = make_plan(replace(project, choices=(choice,)))
    cure = covered(with_rows(embroidered, 12), CELLS[0], in_yarn="B")
    assert cure.steps == (
        "It is embroidered over anyway, as the plan says: leave it, and knit on.",
    )
    assert (cure.ends, cure.yarn_cm) == (0, 0)

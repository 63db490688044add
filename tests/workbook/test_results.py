"""What the plan comes to in a line, and what a change has made of it."""

from dataclasses import replace

from planner import CarryLimits, Yarn, open_project
from planner.piece import Habits, MultiplierChoice
from planner.workbook import Desk, result_pane
from planner.workbook.results import result_html, result_of
from tests.conftest import DEMO
from tests.helpers.forms import small, words_of


def line_of(pane) -> str:
    return words_of(pane.value).strip()


def test_a_result_in_a_line():
    plan = Desk(open_project(DEMO)).plan
    assert result_html(plan) == (
        "33 strands · 66 ends to sew in · at most 9 hang at once · 169.3 m of yarn, margin and "
        "tails in it · 1 ball to buy"
    )
    assert sum(piece.to_measure_cm("cm") for piece in plan.pieces) == 16930


def test_a_single_one_is_called_so():
    figures = result_of(small(rows=["AAA"] * 3).plan)
    assert str(figures["strands"]) == "1 strand"
    assert str(figures["ends"]) == "2 ends to sew in"
    assert str(figures["to buy"]) == "balls to buy of A: not known"
    in_hand = {"A": Yarn("A", metres_per_ball=100, balls_in_hand=1)}
    figures = result_of(small(rows=["AAA"] * 3, yarns=in_hand).plan)
    assert str(figures["to buy"]) == "nothing to buy"


def test_a_change_is_shown_before_and_after():
    """By eye: a ground that runs behind the patch of two is one strand, not two."""
    desk = small()
    pane = result_pane(desk)
    assert "→" not in line_of(pane)
    desk.change(limits=CarryLimits(across=2))
    assert "<b>3 → 2 strands</b> · <b>6 → 4 ends to sew in</b>" in pane.value
    assert "at most 3 → 2 hang at once" in pane.value
    desk.change(limits=CarryLimits(middle_start=False))
    assert "2 → 3 strands" in pane.value


def test_how_pieces_are_held_is_said_only_where_it_changes():
    desk = small(rows=["B" * 5 + "A" * 40] * 20)
    pane = result_pane(desk)
    assert "bobbin" not in pane.value
    desk.change(habits=Habits(place="train"))
    assert "2 → 0 from the ball" in pane.value
    assert line_of(pane).startswith("2 strands · ")
    desk.change(multiplier=MultiplierChoice("rule of three"))
    assert "from the ball" not in pane.value


def test_a_change_that_changes_no_figure_says_so():
    desk = small()
    pane = result_pane(desk)
    desk.change(name="Another name")
    assert line_of(pane).startswith("Unchanged: 3 strands · ")


def test_what_is_shown_once_more_leaves_the_change_to_be_read():
    desk = small()
    pane = result_pane(desk)
    desk.change(limits=CarryLimits(across=2))
    before = pane.value
    desk.show_all()
    desk.seen = replace(desk.seen, project=replace(desk.project))
    desk.show_all()
    assert pane.value == before


def test_other_units_or_another_piece_are_no_change(demo_copy):
    desk = small()
    pane = result_pane(desk)
    desk.change(units="in")
    assert "→" not in pane.value
    assert "yd of yarn" in pane.value
    desk.go_to(demo_copy)
    assert line_of(pane) == result_html(desk.plan)

"""What the settings of a piece say to a wrong argument."""

import pytest

from planner import PlanError
from planner.piece import Allowances, Habits, MultiplierChoice


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: MultiplierChoice("guess"), ['"guess"', "estimate", "own", "rule of three"]),
        (lambda: MultiplierChoice("own"), ["value is missing"]),
        (lambda: MultiplierChoice("own", 0.9), ["0.9", "as short as the row is wide"]),
        (lambda: MultiplierChoice("own", 1), ["1", "Divide the length of yarn by the width"]),
        (lambda: Allowances(tail_cm=-1), ["tail (cm)", "-1", "0 or more"]),
        (lambda: Allowances(cast_on=-4), ["cast on", "-4"]),
        (lambda: Allowances(bind_off=float("nan")), ["bind off", "nan"]),
        (lambda: Allowances(short_once_in=1), ["short once in", "1", "2 or more"]),
        (lambda: Allowances(swatch_cm=-12), ["swatch (cm)", "-12"]),
        (lambda: Allowances(swatch_in="grey"), ['"grey"', "the ground yarn, no yarn"]),
        (lambda: Allowances(spare=-0.05), ["spare", "-0.05"]),
        (lambda: Allowances(label_error=10), ["label_error", "10", "0.10 for 10 %"]),
        (lambda: Allowances(label_error=-0.1), ["label error", "-0.1"]),
        (
            lambda: Habits(loose_up_to_cm=1200),
            ["loose strand is the shortest", "not in this order"],
        ),
        (
            lambda: Habits(butterfly_up_to_cm=3000),
            ["bobbin the longest", "Give the bobbin the longest"],
        ),
        (lambda: Habits(loose_up_to_cm=-1), ["-1"]),
        (lambda: Habits(0, 0, 0), ["all are 0"]),
        (lambda: Habits(drop="middling"), ['"middling"', "short or long"]),
        (lambda: Habits(balls_on_table=-1), ["balls on table", "-1", "0 or more"]),
        (lambda: Habits(place="beach"), ['"beach"', "one of table, sofa, train"]),
        (lambda: Habits(elsewhere="30-60 beach"), ['"beach"', "one of table, sofa, train"]),
        (lambda: Habits(elsewhere="train"), ['"train"', "rows and the place", "30-60 train"]),
        (lambda: Habits(elsewhere="30-60"), ['"30-60"', "rows and the place"]),
        (lambda: Habits(elsewhere="60-30 train"), ['"60-30 train"']),
        (lambda: Habits(comfortable=0), ["comfortable"]),
        (lambda: Habits(comfortable=12), ["comfortable", "crowded"]),
        (lambda: Habits(wrap_cm=0), ["a wrap more than 0"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


def test_room_for_balls():
    """At the table as many as the knitter says, on a sofa two at the most, in a train none; a later
    stretch goes before an earlier one, and rows beyond the piece are none."""
    assert Habits(balls_on_table=4).room(3) == [4, 4, 4]
    assert Habits(place="sofa").room(2) == [2, 2]
    assert Habits(place="sofa", balls_on_table=1).room(2) == [1, 1]
    assert Habits(place="train").room(2) == [0, 0]
    elsewhere = Habits(elsewhere="2-3 train, rows 3–9 Sofa")
    assert elsewhere.room(5) == [4, 0, 2, 2, 2]
    assert [tuple(sitting) for sitting in elsewhere.sittings] == [(2, 3, "train"), (3, 9, "sofa")]
    assert Habits(place="train", elsewhere=" 1 - 1 table ; ").room(2) == [4, 0]

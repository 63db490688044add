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

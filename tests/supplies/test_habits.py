"""What each supply holds, and in how many pieces a length is wound: by hand."""

import math

import pytest

from planner import Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits
from planner.supplies import capacity_cm, pieces_needed, usable_cm


def test_what_each_supply_holds():
    habits, yarn = Habits(100, 200, 300), Yarn("A", metres_per_ball=50)
    held = [capacity_cm(habits, supply, yarn) for supply in (LOOSE, BUTTERFLY, BOBBIN, BALL)]
    assert held == [100, 200, 300, 5000]
    # A tenth less than the band says; what the band does not say may be any length.
    assert capacity_cm(habits, BALL, yarn, 0.1) == pytest.approx(4500)
    assert capacity_cm(habits, BALL, Yarn("A")) == math.inf
    assert capacity_cm(habits, BOBBIN, yarn, 0.1) == 300


def test_what_a_piece_between_two_joins_works():
    assert usable_cm(100, 15) == 70
    # Of a piece that is little more than its tails a quarter is still worked, and 1 cm at least.
    assert usable_cm(36, 15) == 9
    assert usable_cm(2, 15) == 1


@pytest.mark.parametrize(
    ("wound_cm", "pieces"),
    [(100, 1), (100.1, 2), (170, 2), (170.1, 3), (240, 3), (240.1, 4)],
)
def test_pieces_of_a_metre(wound_cm, pieces):
    """Tails of 15 cm: two pieces of 100 cm hold 170 with the two tails of their join, three 240."""
    assert pieces_needed(wound_cm, 100, 15) == pieces


def test_what_does_not_fit_is_two_pieces_at_least():
    """A length of tails alone: nothing is left to work, and still it is too long for one piece."""
    assert pieces_needed(30, 20, 15) == 2

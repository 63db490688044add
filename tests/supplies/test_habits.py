"""What each supply holds, and in how many pieces a length is wound: by hand."""

import math

import pytest

from planner import Yarn
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits
from planner.supplies import capacity_cm, pieces_needed, usable_cm, way_to_wind


def test_what_each_supply_holds():
    """A ball has no length in general: each has its own."""
    habits = Habits(100, 200, 300)
    held = [capacity_cm(habits, supply) for supply in (LOOSE, BUTTERFLY, BOBBIN, BALL)]
    assert held == [100, 200, 300, math.inf]


@pytest.mark.parametrize(
    ("length_cm", "surface", "crowded", "drop", "supply"),
    [
        (275, "smooth", False, "short", LOOSE),
        (275.1, "smooth", False, "short", BUTTERFLY),
        (457, "smooth", True, "short", LOOSE),
        (457, "smooth", False, "long", LOOSE),
        (457.1, "smooth", True, "long", BUTTERFLY),
        (1100, "smooth", True, "long", BUTTERFLY),
        (1100.1, "smooth", False, "short", BOBBIN),
        # What is longer than a bobbin holds is for a bobbin and its refills.
        (9000, "smooth", False, "short", BOBBIN),
        # Hairy yarn is never loose, slippery yarn never a butterfly.
        (30, "hairy", True, "long", BUTTERFLY),
        (1100.1, "hairy", False, "short", BOBBIN),
        (275, "slippery", False, "short", LOOSE),
        (275.1, "slippery", False, "short", BOBBIN),
        (457, "slippery", True, "short", LOOSE),
    ],
)
def test_the_best_way_to_wind(length_cm, surface, crowded, drop, supply):
    yarn, habits = Yarn("A", surface=surface), Habits(drop=drop)
    way, why = way_to_wind(length_cm, yarn, habits, crowded=crowded)
    assert way == supply
    assert why


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

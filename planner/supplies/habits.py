"""What each supply holds, and in how many pieces a length is wound."""

from __future__ import annotations

import math

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits, Yarn
from planner.units import ROUNDING_ERROR

# 5 yd: practitioners draw loose strands of 1 to 5 yd free of the others (shared/sources.csv).
LONGEST_LOOSE_CM = 457

# A piece that is little more than two tails still works this share of its length, and 1 cm at the
# least: a floor, so that the number of pieces stays finite (judgement).
LEAST_USABLE_SHARE = 0.25
LEAST_USABLE_CM = 1.0

# Lengths are sums of floats: what differs by less than this is equal.
SLACK_CM = 1e-6


def capacity_cm(habits: Habits, supply: str, yarn: Yarn, label_error: float = 0.0) -> float:
    """The longest piece held this way, cm.

    A ball holds what its band says, less the band's error; without end if the band does not say.
    """
    if supply == BALL:
        if not yarn.metres_per_ball:
            return math.inf
        return 100 * yarn.metres_per_ball * (1 - label_error)
    longest = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    return longest[supply]


def usable_cm(capacity_cm: float, tail_cm: float) -> float:
    """What a piece between two joins works: its length without the tail at either end."""
    without_tails = capacity_cm - 2 * tail_cm
    return max(without_tails, LEAST_USABLE_SHARE * capacity_cm, LEAST_USABLE_CM)


def pieces_needed(wound_cm: float, capacity_cm: float, tail_cm: float) -> int:
    """Pieces in which a length is wound: each but the whole loses two tails to its joins."""
    if wound_cm <= capacity_cm + SLACK_CM:
        return 1
    # The length brings the two tails of its own; each piece works what it holds between two tails.
    to_work = wound_cm - 2 * tail_cm
    pieces = to_work / usable_cm(capacity_cm, tail_cm)
    # Longer than one piece, so two at the least, whatever the floor above says.
    return max(2, math.ceil(pieces - ROUNDING_ERROR))

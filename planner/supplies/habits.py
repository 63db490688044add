"""What each supply holds, and in how many pieces a length is wound."""

from __future__ import annotations

import math

from planner.piece import BOBBIN, BUTTERFLY, HAIRY, LOOSE, SLIPPERY, Habits, Yarn
from planner.units import ROUNDING_ERROR

# 5 yd: practitioners draw loose strands of 1 to 5 yd free of the others (shared/sources.csv).
LONGEST_LOOSE_CM = 457

# A piece that is little more than two tails still works this share of its length, and 1 cm at the
# least: a floor, so that the number of pieces stays finite (judgement).
LEAST_USABLE_SHARE = 0.25
LEAST_USABLE_CM = 1.0

# "Up to about" so much: rather than for a join a bobbin is filled by a tenth more (judgement).
OVERFULL = 1.1

# Lengths are sums of floats: what differs by less than this is equal.
SLACK_CM = 1e-6


def capacity_cm(habits: Habits, supply: str) -> float:
    """The longest piece wound this way, cm; a ball has no end here, for each has its own."""
    longest = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    return longest.get(supply, math.inf)


def fullest_cm(habits: Habits, supply: str) -> float:
    """The longest piece wound this way if a longer one has to be joined, cm."""
    return capacity_cm(habits, supply) * (OVERFULL if supply == BOBBIN else 1)


def suits(yarn: Yarn, supply: str) -> bool:
    """Whether a yarn behaves when it is held so (common practice, no source)."""
    # Hairy strands cling to each other; slippery yarn slides out of a butterfly.
    return (supply, yarn.surface) not in ((LOOSE, HAIRY), (BUTTERFLY, SLIPPERY))


def way_to_wind(length_cm: float, yarn: Yarn, habits: Habits, *, crowded: bool) -> tuple[str, str]:
    """The best way to hold a length that is wound, and why; what nothing holds is for a bobbin."""
    # From the shortest to the longest: each way is good for what the one before cannot hold.
    if suits(yarn, LOOSE):
        if length_cm <= habits.loose_up_to_cm + SLACK_CM:
            return LOOSE, "short: drawn free of the others when needed"
        # Longer than the knitter likes for a loose strand, but here it is the lesser evil.
        if length_cm <= min(LONGEST_LOOSE_CM, habits.butterfly_up_to_cm):
            if habits.drop == "long":
                return LOOSE, "long drops wrap each other, a loose strand is drawn free"
            if crowded:
                return LOOSE, "crowded rows: a loose strand is drawn free of the others"
    if length_cm <= habits.butterfly_up_to_cm + SLACK_CM and suits(yarn, BUTTERFLY):
        return BUTTERFLY, "weighs next to nothing and feeds from its middle"
    if length_cm <= habits.bobbin_up_to_cm + SLACK_CM:
        return BOBBIN, "holds it all and can be rewound"
    return BOBBIN, "too long for anything else that is wound"


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

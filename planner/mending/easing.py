"""Easing: what a stitch lacks that is made anew of the yarn behind it, and which stitches give it.

The right yarn went straight past a wrong stitch: it is as long there as the stitch is wide, and a
stitch takes several times its width. The rest is eased out of the stitches beside it in its row.
That it is done so is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from planner.mending.spots import Stitch, Work
from planner.units import ROUNDING_ERROR, counted, show_measured

# A tenth of its yarn hardly shows in a stitch; farther than eight stitches nobody eases, for the
# yarn drags; and of three wrong ones together the middle one reaches neither side (judgement).
GIVES = 0.1
MOST_EASED = 8
MOST_BESIDE = 2


@dataclass(frozen=True)
class Easing:
    """What a stitch lacks, cm, and how many on its left and right, seen from the RS, give it.

    `barred` says why it cannot be made anew, "" where it can.
    """

    lacks_cm: float = 0.0
    left: int = 0
    right: int = 0
    barred: str = ""

    @property
    def places(self) -> str:
        """Which stitches give it: "4 on its left and 3 on its right"."""
        told = []
        if self.left:
            told.append(f"{self.left} on its left")
        if self.right:
            told.append(f"{self.right} on its right")
        return " and ".join(told)


def easing_of(work: Work, wrong: Collection[Stitch], stitch: Stitch) -> Easing:
    """How a wrong stitch is made anew of its own yarn, given all that are wrong."""
    letter, name = work.letter(stitch), work.how.row_name(stitch.row)
    columns = sorted(work.columns_of(stitch))
    is_wrong = [Stitch(stitch.row, column) in wrong for column in columns]
    place = columns.index(stitch.column)
    first = last = place
    while first and is_wrong[first - 1]:
        first -= 1
    while last + 1 < len(is_wrong) and is_wrong[last + 1]:
        last += 1

    on_left, on_right = is_wrong[:first][::-1], is_wrong[last + 1 :]
    # Only between two of its own stitches did the right yarn go past; at the end of its run it
    # turned upwards before the wrong ones.
    if all(on_left) or all(on_right):
        return Easing(barred=f"No {letter} lies behind it in {name} that it could be made anew of.")
    beside = last - first + 1
    if beside > MOST_BESIDE:
        return Easing(
            barred=f"The {letter} that lies behind {counted(beside, 'stitch')} in {name} is only "
            "as long as they are wide: too short to make them anew."
        )

    left, right = _that_give(on_left), _that_give(on_right)
    # Of two together each has its yarn from its own side: past the other nothing slides.
    if beside == MOST_BESIDE:
        left, right = (left, 0) if place == first else (0, right)
    return _shared_out(work, stitch, left, right)


def _that_give(side: Sequence[bool]) -> int:
    """How many stitches on a side, the nearest first, can give yarn; True is a wrong one."""
    if True not in side:
        return min(len(side), MOST_EASED)
    # As many on the far half are kept for the next wrong one.
    return min(side.index(True) // 2, MOST_EASED)


def _shared_out(work: Work, stitch: Stitch, left: int, right: int) -> Easing:
    """What a stitch lacks, shared by both sides as evenly as these numbers of stitches allow."""
    plan, letter = work.plan, work.letter(stitch)
    stitch_cm = plan.project.gauge.stitch_cm
    takes_cm = plan.multipliers[letter].value * stitch_cm
    lacks_cm = takes_cm - stitch_cm
    gives_cm = GIVES * takes_cm
    needed = math.ceil(lacks_cm / gives_cm - ROUNDING_ERROR)
    if left + right < needed:
        lacks = show_measured(lacks_cm, plan.project.units)
        return Easing(
            barred=f"In {work.how.row_name(stitch.row)} the {letter} behind it is {lacks} too "
            f"short for a stitch. {needed} stitches beside it could give that, a tenth each, and "
            f"there are {left + right}: it would draw tight."
        )
    # Half from each side; what one side has not, the other gives.
    half = math.ceil(needed / 2)
    from_left = min(left, max(half, needed - right))
    return Easing(lacks_cm, from_left, needed - from_left)

"""What speaks against a supply, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, Habits
from planner.supplies.habits import LONGEST_LOOSE_CM, capacity_cm
from planner.units import counted, show

# The choice asks this file for its reasons, so here its records are only named.
if TYPE_CHECKING:
    from planner.supplies.choose import Held, PartAtWork

WOUND = (BUTTERFLY, BOBBIN)


def against(part: PartAtWork, supply: str, refills: int, habits: Habits, units: str) -> str:
    """What speaks against holding a part this way, with so many refills."""
    reasons = []
    yarn, length_cm = part.yarn, part.part.wound_cm
    # Joins come first: they are the only reason that costs ends.
    if refills:
        ends = "spliced, no ends" if yarn.feltable else f"{2 * refills} more ends"
        reasons.append(f"{counted(refills, 'refill')} ({ends})")
    reasons += _of_its_kind(part, supply, habits)
    # Held in one piece though it is too long, as the knitter chose.
    if supply in WOUND and not refills and length_cm > capacity_cm(habits, supply, yarn):
        reasons.append(f"longer than you like for a {supply} ({show(length_cm, units)})")
    if supply == LOOSE and length_cm > LONGEST_LOOSE_CM:
        reasons.append(f"long to draw free ({show(length_cm, units)})")
    # Loose strands hang as well, but are drawn free; balls lie on the table.
    if supply in WOUND and part.busiest > habits.crowded:
        reasons.append(f"hangs among up to {part.busiest - 1} others")
    if supply != BALL and not yarn.may_be_cut:
        reasons.append(f"{yarn.letter} should not be cut")
    if supply == BALL and not habits.table:
        reasons.append("no table to lay it on")
    return "; ".join(reasons)


def _of_its_kind(part: PartAtWork, supply: str, habits: Habits) -> list[str]:
    """What a bobbin or a butterfly is not good at."""
    reasons = []
    narrowest = part.part.narrowest
    # A few stitches cannot hold the weight of a bobbin still.
    if supply == BOBBIN and narrowest <= habits.narrow_stitches:
        reasons.append(f"swings on an area of {counted(narrowest, 'stitch')}")
    if supply == BOBBIN and not habits.rewinding:
        reasons.append("you would rather not rewind")
    if supply == BUTTERFLY and habits.drop == "long":
        reasons.append("cannot be rewound, long drops wrap each other")
    return reasons


def middle_start_notes(held: Sequence[Held], habits: Habits) -> list[str]:
    """Where a strand begun from its middle suits no supply."""
    halves: dict[str, list[Held]] = defaultdict(list)
    for each in held:
        if not each.part.is_whole:
            halves[each.part.label].append(each)

    notes = []
    for strand, pair in halves.items():
        # A middle start makes one length of two. Nothing is gained by it where that length has to
        # come from both ends of a ball, or is so long that it is joined all the same.
        if all(half.supply == BALL for half in pair) and not habits.both_ends:
            why = "both halves would be fed from one ball, which takes both of its ends"
        elif all(half.refill_rows for half in pair):
            why = "both halves are too long for one piece, so it is joined all the same"
        else:
            continue
        yarn = pair[0].part.yarn
        notes.append(
            f"{strand} is begun from its middle, but {why}. Switch middle starts off for {yarn} "
            "(its own carry limits), or allow both ends of a ball."
        )
    return notes

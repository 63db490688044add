"""What speaks against a supply, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.piece import BALL, BOBBIN, BUTTERFLY, HAIRY, LOOSE, SLIPPERY, Habits, Project, Yarn
from planner.supplies.habits import LONGEST_LOOSE_CM, SLACK_CM, capacity_cm
from planner.units import counted, show

# The choice asks this file for its reasons, so here its records are only named.
if TYPE_CHECKING:
    from planner.supplies.held import Held

WOUND = (BUTTERFLY, BOBBIN)


def against(held: Held, yarn: Yarn, project: Project) -> str:
    """What speaks against holding a part as it is held."""
    habits, units = project.habits, project.units
    # What is wound later is what hangs; what is fed from a ball lies on the table till then.
    last = held.stages[-1]
    supply, refills = last.supply, held.refills
    reasons = []
    # Joins come first: they are the only reason that costs ends.
    if refills:
        ends = "spliced, no ends" if held.spliced else f"{held.refill_ends} more ends"
        reasons.append(f"{counted(refills, 'refill')} ({ends})")
    reasons += _of_its_kind(held, supply, yarn, habits)
    # Held in one piece though it is too long, as the knitter chose.
    too_long = last.length_cm > capacity_cm(habits, supply) + SLACK_CM
    if supply in WOUND and not refills and too_long:
        reasons.append(f"longer than you like for a {supply} ({show(last.length_cm, units)})")
    if supply == LOOSE and last.length_cm > LONGEST_LOOSE_CM:
        reasons.append(f"long to draw free ({show(last.length_cm, units)})")
    # Loose strands hang as well, but are drawn free; balls lie on the table.
    if supply in WOUND and held.live > habits.crowded:
        reasons.append(f"hangs among up to {held.live - 1} others")
    if supply != BALL and not yarn.may_be_cut:
        reasons.append(f"{yarn.letter} should not be cut")
    if supply == BALL and not any(stage.ball for stage in held.stages):
        reasons.append("no ball or no place for it")
    return "; ".join(reasons)


def _of_its_kind(held: Held, supply: str, yarn: Yarn, habits: Habits) -> list[str]:
    """What a way of holding yarn is not good at."""
    reasons = []
    # A few stitches cannot hold the weight of a bobbin still.
    if supply == BOBBIN and held.typical <= habits.narrow_stitches:
        reasons.append(f"swings on an area of {counted(round(held.typical), 'stitch')}")
    if supply == BOBBIN and not habits.rewinding:
        reasons.append("you would rather not rewind")
    if supply == BUTTERFLY and habits.drop == "long":
        reasons.append("cannot be rewound, long drops wrap each other")
    if supply == BUTTERFLY and yarn.surface == SLIPPERY:
        reasons.append("slippery yarn slides out of it")
    if supply == LOOSE and yarn.surface == HAIRY:
        reasons.append("hairy strands cling to each other")
    return reasons


def middle_start_notes(held: Sequence[Held]) -> list[str]:
    """Where a strand begun from its middle suits no supply."""
    halves: dict[str, list[Held]] = defaultdict(list)
    for each in held:
        if not each.part.is_whole:
            halves[each.part.label].append(each)

    notes = []
    for strand, pair in halves.items():
        # A middle start makes one length of two. Nothing is gained by it where that length is so
        # long that it is joined all the same; and a ball has no middle to begin from.
        if all(half.supply == BALL for half in pair):
            why = "a ball cannot feed both halves: one has to be measured off and wound first"
        elif all(half.refill_rows for half in pair):
            why = "both halves are too long for one length, so it is joined all the same"
        else:
            continue
        yarn = pair[0].part.yarn
        notes.append(
            f"{strand} is begun from its middle, but {why}. Switch middle starts off for {yarn} "
            "(its own carry limits), or hold one half another way."
        )
    return notes

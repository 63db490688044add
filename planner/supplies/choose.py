"""The supply of each part of a strand: loose strand, butterfly, bobbin, or fed from the ball.

Length is one reason among several; the knitter's ways are the others, and a choice made by hand
always wins. Balls are the scarce thing: they go to the longest parts first, as long as the table
has room in every row and the yarn has a ball to spare. What finds no ball is wound on bobbins and
refilled. Supplies never change strands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.errors import PlanError
from planner.piece import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    PARTS,
    SUPPLIES,
    Allowances,
    Habits,
    Project,
    Yarn,
)
from planner.strands import Strands
from planner.supplies.balls import Table
from planner.supplies.habits import LONGEST_LOOSE_CM, capacity_cm, pieces_needed, usable_cm
from planner.supplies.lengths import Part, run_lengths
from planner.supplies.reasons import against, middle_start_notes

# A bobbin with fewer would hold little but the two tails of its joins.
LEAST_TAILS_ON_A_BOBBIN = 4


@dataclass(frozen=True, eq=False)  # as parts are
class Held:
    """How a part is held, and why.

    `capacity_cm` is the longest piece held this way; `refill_rows` are the worked rows, from 0, in
    which a piece runs out and the next is joined; `spliced` says whether the joins leave no ends.
    """

    part: Part
    supply: str
    why: str
    by_hand: bool
    capacity_cm: float
    refill_rows: tuple[int, ...]
    spliced: bool
    against: str

    @property
    def refills(self) -> int:
        return len(self.refill_rows)

    @property
    def refill_ends(self) -> int:
        """Ends to sew in that its joins leave: two each, unless they are spliced."""
        return 0 if self.spliced else 2 * self.refills


@dataclass(frozen=True, eq=False)
class PartAtWork:
    """A part with its yarn, and the most strands live at once in any of its rows."""

    part: Part
    yarn: Yarn
    busiest: int


@dataclass(frozen=True)
class Choice:
    """A supply for a part, before it is known what that means for it."""

    supply: str
    why: str
    by_hand: bool = False


def choose_supplies(
    strands: Strands,
    parts: Sequence[Part],
    project: Project,
    *,
    balls: Mapping[str, int],
    own: Mapping[tuple[str, str], str] | None = None,
) -> tuple[tuple[Held, ...], list[str]]:
    """How each part is held, in the order of the parts, and notes for the knitter.

    `parts` comes from `measure_parts`; `balls` says how many of each yarn are in hand or to be
    bought; `own` holds the knitter's choices by (strand, part), "whole" standing for both halves.

    Raises PlanError where a bobbin holds little more than its tails, or an own choice is no supply.
    """
    habits, allow, yarns = project.habits, project.allow, project.all_yarns
    _check_bobbins(parts, habits, allow)
    at_work = []
    for part in parts:
        # Its fullest row: what hangs well elsewhere may tangle there.
        busiest = int(strands.live[part.rows].max())
        at_work.append(PartAtWork(part, yarns[part.yarn], busiest))
    choices = [_first_choice(part, habits, own or {}) for part in at_work]

    # What the knitter laid on the table lies there before anything is suggested, even if it is too
    # much; the suggestions share what room is left.
    table = Table(habits, balls, strands.runs.rows)
    for part, choice in zip(parts, choices, strict=True):
        if choice.by_hand and choice.supply == BALL:
            table.lay(part.yarn, part.rows)
    notes = table.overfull(strands.how.row_name)
    notes += _share_balls(at_work, choices, table)

    used_cm = run_lengths(strands, parts, allow)
    held = []
    for part_at_work, choice in zip(at_work, choices, strict=True):
        held.append(_hold(part_at_work, choice, strands, used_cm, project))
    return tuple(held), notes + middle_start_notes(held, habits)


def _check_bobbins(parts: Sequence[Part], habits: Habits, allow: Allowances) -> None:
    """Refuse bobbins so small that they would hold little but tails, if any part needs one."""
    capacity = habits.bobbin_up_to_cm
    # Small bobbins do no harm as long as nothing has to be joined.
    too_small = capacity < LEAST_TAILS_ON_A_BOBBIN * allow.tail_cm
    if too_small and any(part.wound_cm > capacity for part in parts):
        raise PlanError(
            "A bobbin as long as you allow holds little more than the tails of its joins. Give "
            "bobbins at least four tails of yarn."
        )


def _first_choice(
    at_work: PartAtWork, habits: Habits, own: Mapping[tuple[str, str], str]
) -> Choice:
    """What a part would have if there were balls and room for all."""
    part = at_work.part
    # A choice for one half goes before one for the whole strand.
    supply = own.get((part.label, part.name)) or own.get((part.label, PARTS[0]))
    if not supply:
        return _by_length(at_work, habits)
    if supply not in SUPPLIES:
        raise PlanError(
            f'The supply chosen for {part.label} is "{supply}"; it is one of {", ".join(SUPPLIES)}.'
        )
    return Choice(supply, "your own choice", by_hand=True)


def _by_length(at_work: PartAtWork, habits: Habits) -> Choice:
    """The supply for a part of this length, by the knitter's ways."""
    length_cm = at_work.part.wound_cm
    # From the shortest to the longest: each way is good for what the one before cannot hold.
    if not at_work.yarn.may_be_cut:
        return Choice(BALL, f"{at_work.yarn.letter} must not be cut")
    if length_cm <= habits.loose_up_to_cm:
        return Choice(LOOSE, "short: drawn free of the others when needed")
    if length_cm <= min(LONGEST_LOOSE_CM, habits.butterfly_up_to_cm):
        # Longer than the knitter likes for a loose strand, but here it is the lesser evil.
        if habits.drop == "long":
            return Choice(LOOSE, "long drops wrap each other, a loose strand is drawn free")
        if at_work.busiest > habits.crowded:
            return Choice(LOOSE, "crowded rows: a loose strand is drawn free of the others")
    if length_cm <= habits.butterfly_up_to_cm:
        return Choice(BUTTERFLY, "weighs next to nothing and feeds from its middle")
    if length_cm <= habits.bobbin_up_to_cm:
        if habits.rewinding:
            return Choice(BOBBIN, "holds it all and can be rewound")
        return Choice(BALL, "you would rather not rewind")
    return Choice(BALL, "too long to wind: a ball needs no refill")


def _share_balls(at_work: Sequence[PartAtWork], choices: list[Choice], table: Table) -> list[str]:
    """Give balls to the parts that want one, as far as they go; the others get bobbins.

    Yarn that must not be cut comes first, then the longest. Changes `choices`; returns notes.
    """
    wishes = []
    for wish, choice in zip(at_work, choices, strict=True):
        if choice.supply == BALL and not choice.by_hand:
            wishes.append(wish)
    # The longest would need the most refills; equal ones in working order, so that the same piece
    # has the same plan on every machine.
    wishes.sort(key=lambda wish: (wish.yarn.may_be_cut, -wish.part.wound_cm, wish.part.number))

    notes = []
    for wish in wishes:
        part, letter = wish.part, wish.yarn.letter
        obstacle = table.obstacle(letter, part.rows)
        if not obstacle:
            table.lay(letter, part.rows)
            continue
        # Of what is wound, bobbins hold the most: here they are refilled.
        why = choices[part.number].why
        choices[part.number] = Choice(BOBBIN, f"{why}, but {obstacle}")
        if not wish.yarn.may_be_cut:
            notes.append(
                f"{part.label} should be fed from the ball, because {letter} must not be cut, "
                f"but {obstacle}."
            )
    return notes


def _hold(
    at_work: PartAtWork, choice: Choice, strands: Strands, used_cm: np.ndarray, project: Project
) -> Held:
    """What a choice means for its part: refills and when they fall due, and what speaks against it.

    `used_cm` is the yarn planned by run.
    """
    part, yarn, allow = at_work.part, at_work.yarn, project.allow
    capacity = capacity_cm(project.habits, choice.supply, yarn, allow.label_error)
    pieces = pieces_needed(part.wound_cm, capacity, allow.tail_cm)
    # Neither has a refill: the knitter has decided to hold it in one piece, however long.
    if choice.by_hand and choice.supply in (LOOSE, BUTTERFLY):
        pieces = 1
    refill_rows: tuple[int, ...] = ()
    if pieces > 1:
        runs_out_in = _runs_out_in(part, used_cm[part.runs], pieces, capacity, allow.tail_cm)
        refill_rows = tuple(strands.runs.row[runs_out_in].tolist())
    return Held(
        part=part,
        supply=choice.supply,
        why=choice.why,
        by_hand=choice.by_hand,
        capacity_cm=capacity,
        refill_rows=refill_rows,
        spliced=yarn.feltable,
        against=against(at_work, choice.supply, pieces - 1, project.habits, project.units),
    )


def _runs_out_in(
    part: Part, used_cm: np.ndarray, pieces: int, capacity_cm: float, tail_cm: float
) -> np.ndarray:
    """The runs in which each piece but the last runs out, at the planned length."""
    # A half has no tail where it begins, for there it goes on as the other half: so its first piece
    # works one tail more than the others, which have a tail at either end.
    more_of_first = 0 if part.is_whole else tail_cm
    runs_out_at = usable_cm(capacity_cm, tail_cm) * np.arange(1, pieces) + more_of_first
    # "right": a piece that lasts just to the end of a run is out in the next one. Rounding must not
    # take the last one beyond the last run.
    run = np.searchsorted(np.cumsum(used_cm), runs_out_at, "right")
    return part.runs[np.minimum(run, len(part.runs) - 1)]


def supplies_table(held: Sequence[Held]) -> pd.DataFrame:
    """One row a part: its supply, refills and when they fall due, why, and what speaks against it.

    Rows are worked rows from 1; lengths are in cm.
    """
    lines = []
    for each in held:
        part = each.part
        lines.append(
            {
                "strand": part.label,
                "yarn": part.yarn,
                "part": part.name,
                "supply": each.supply,
                "chosen": "by you" if each.by_hand else "suggested",
                "wound_cm": part.wound_cm,
                "refills": each.refills,
                "refill_rows": ", ".join(str(row + 1) for row in each.refill_rows),
                "refill_ends": each.refill_ends,
                "first_row": part.first_row + 1,
                "last_row": part.last_row + 1,
                "narrowest_stitches": part.narrowest,
                "why": each.why,
                "against": each.against,
            }
        )
    return pd.DataFrame(lines)

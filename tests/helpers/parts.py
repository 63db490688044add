"""Parts, pieces and balls as tables, to be added up in tests by other roads than the planner's."""

import math
from dataclasses import asdict

import pandas as pd

from planner.supplies import measure_parts


def parts_table(strands, multipliers, allow):
    """One row a part: strand, part and yarn, and its lengths in cm."""
    parts = measure_parts(strands, multipliers, allow)
    lines = [{**asdict(part), "wound_cm": part.wound_cm} for part in parts]
    table = pd.DataFrame(lines).drop(columns=["strand", "runs"])
    return table.rename(columns={"label": "strand", "name": "part"})


def supplies_of(plan):
    """How each strand is held, by its name; of a strand with halves the second."""
    return dict(zip(plan.supplies.strand, plan.supplies.supply, strict=True))


def why(plan, strand="A1"):
    """Why a strand is held as it is, in words."""
    return plan.supplies.set_index("strand").why[strand]


def exact_parts(plan):
    """The parts of the strands with their lengths unrounded, beside their supplies."""
    parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
    held = plan.supplies
    assert parts.strand.tolist() == held.strand.tolist()
    assert parts.part.tolist() == held.part.tolist()
    return held.assign(cm=parts.wound_cm, tails=parts.tails_cm, stitches=parts.stitches)


def pieces_of(plan):
    """The pieces to wind with their lengths unrounded, and the strand of each."""
    pieces = pd.DataFrame(plan.pieces).astype({"half_cm": float})
    return pieces.assign(refill=pieces.label.str.contains("refill"))


def fewest_pieces(cm, holds, tail):
    """So many pieces that, with two tails more for each join, they make up the length."""
    return next(n for n in range(1, 1000) if n * holds >= cm + 2 * tail * (n - 1) - 1e-6)


def balls_to_be_had(plan):
    """Balls of each yarn in hand or to be bought, at least one."""
    table = plan.shopping_list.set_index("yarn")
    balls = {}
    for letter in table.index:
        in_all = math.ceil(table.balls_in_hand[letter]) + int(table.balls_to_buy[letter])
        balls[letter] = max(1, in_all)
    return balls

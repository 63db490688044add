"""Parts, pieces and balls as tables, to be added up in tests by other roads than the planner's."""

import math
from dataclasses import asdict

import pandas as pd

from planner.supplies import measure_parts

# What is measured off is a whole number of these: 5 cm, or a quarter of a yard.
STEP_CM = {"cm": 5.0, "in": 22.86}
HALF_LETTER = {"whole": "", "first half": "a", "second half": "b"}


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
    """The parts of the strands with their lengths unrounded, beside their supplies.

    `hangs_from` is the first row of its strand: there both halves of one begun from its middle hang
    already. `title` is what a part is called, "W7" or "W7a".
    """
    parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
    held = plan.supplies
    assert parts.strand.tolist() == held.strand.tolist()
    assert parts.part.tolist() == held.part.tolist()
    return held.assign(
        cm=parts.wound_cm,
        tails=parts.tails_cm,
        stitches=parts.stitches,
        hangs_from=held.groupby("strand").first_row.transform("min"),
        title=held.strand + held.part.map(HALF_LETTER),
    )


def names_of(parts):
    """What each part, (strand, half), is called: "W7", or "W7a" and "W7b" where there are two."""
    halved = {strand for strand, half in parts if half}
    names = {}
    for strand, half in parts:
        names[strand, half] = strand + "ab"[half] if strand in halved else strand
    return names


def measured_cm(cm, units):
    """A length as it is measured off: as few whole steps as hold it."""
    step = step_cm(cm, units)
    return math.ceil(cm / step - 1e-9) * step


def bought_cm(cm, units):
    """A length as it is bought, in whole steps however short it is."""
    return math.ceil(cm / STEP_CM[units] - 1e-9) * STEP_CM[units]


def step_cm(cm, units):
    """The step that a length is measured off by; up to a yard that is an inch."""
    return 2.54 if units == "in" and cm <= 91.44 + 1e-6 else STEP_CM[units]


def measured_halves_cm(piece, units):
    """What is measured off for a piece of `pieces_of`: each half, if it is begun in its middle."""
    halves = piece.halves_cm if piece.from_middle else (piece.length_cm,)
    return [measured_cm(cm, units) for cm in halves]


def pieces_of(plan):
    """The pieces to wind with their lengths unrounded and as they are measured off, and the strand
    of each."""
    pieces = pd.DataFrame(plan.pieces)
    pieces["refill"] = pieces.label.str.contains("refill")
    pieces["from_middle"] = pieces.halves_cm.notna()
    units = plan.project.units
    to_measure = [sum(measured_halves_cm(piece, units)) for piece in pieces.itertuples()]
    return pieces.assign(to_measure_cm=to_measure)


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

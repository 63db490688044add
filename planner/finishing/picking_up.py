"""Stitches to pick up along an edge, by the colours that lie there.

Along what is cast on or bound off it is a stitch for a stitch. Along a side it is as many stitches
as the rows are high: rows × stitches in a length ÷ rows in that length. At 20 stitches and 28 rows
that is 5 stitches in 7 rows (arithmetic of the gauge; common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, islice, pairwise

from planner.finishing.edges import BIND_OFF, CAST_ON, LEFT, OPENING, RIGHT, edge_stitches
from planner.piece import Yarn
from planner.plan import Plan
from planner.units import counted, exact, to_cm

HALF = Fraction(1, 2)
FEWEST_ROWS = 9  # in how many rows, at most, a rhythm is told that the hand can keep
# Which way an edge is gone along, by the hand that works.
WAYS = {
    RIGHT: {"right": "from the cast-on edge up", "left": "from the bind-off edge down"},
    LEFT: {"right": "from the bind-off edge down", "left": "from the cast-on edge up"},
    CAST_ON: {"right": "from its left corner to its right", "left": "from its right to its left"},
    BIND_OFF: {"right": "from its right corner to its left", "left": "from its left to its right"},
    OPENING: {
        "right": "down its right side, along its bottom and up its left side",
        "left": "down its left side, along its bottom and up its right side",
    },
}


@dataclass(frozen=True)
class PickUp:
    """Stitches to pick up in one colour: how many, over how many rows and edge stitches."""

    yarn: str
    stitches: int
    rows: int
    edge_stitches: int

    def in_words(self, yarn: Yarn, row_word: str) -> str:
        """What is picked up: "12 K Sea green over 17 rows"."""
        over = []
        if self.rows:
            over.append(counted(self.rows, row_word))
        if self.edge_stitches:
            over.append(counted(self.edge_stitches, "edge stitch"))
        return f"{self.stitches or 'none'} {yarn.title} over {' and '.join(over)}"


def ratio_of(plan: Plan, band_stitches: float = 0) -> Fraction:
    """Stitches to pick up in a row's height, exactly.

    `band_stitches` are those of the band in 10 cm, or in 4 in where the piece is counted in inches;
    0 where it has the gauge of the piece.
    """
    gauge = plan.project.gauge
    if not band_stitches:
        return gauge.stitches_per_cm / gauge.rows_per_cm
    length = {"cm": to_cm(10, "cm"), "in": to_cm(4, "in")}[plan.project.units]
    per_cm = exact(band_stitches, "The stitches of the band") / length
    return per_cm / gauge.rows_per_cm


def spread(total: int, places: int) -> list[int]:
    """So many stitches laid over places as evenly as whole numbers can be.

    This is how a straight line is drawn in steps (Bresenham 1965, from memory).
    """
    reached = [0]
    for place in range(1, places + 1):
        share = Fraction(place * total, places)
        reached.append(math.floor(share + HALF))
    return [after - before for before, after in pairwise(reached)]


def pick_up(plan: Plan, edge: str, *, band_stitches: float = 0) -> list[PickUp]:
    """What to pick up along an edge, colour by colour in the order of the hand.

    The sum is the rows of the edge × the ratio, to the nearest stitch, and what is cast on or bound
    off. Raises PlanError for an edge that the piece does not have.
    """
    stitches = edge_stitches(plan, edge)
    rows = sum(each.is_row for each in stitches)
    in_all = math.floor(rows * ratio_of(plan, band_stitches) + HALF)
    in_rows = iter(spread(in_all, rows))
    found = []
    for yarn, group in groupby(stitches, key=lambda each: each.yarn):
        of_colour = list(group)
        rows = sum(each.is_row for each in of_colour)
        edge_ones = len(of_colour) - rows
        # A stitch of the edge is a stitch; a row is what falls to it.
        picked = edge_ones + sum(islice(in_rows, rows))
        found.append(PickUp(yarn, picked, rows, edge_ones))
    return found


def in_rhythm(ratio: Fraction, row_word: str = "row") -> str:
    """The ratio as the hand keeps it: "about 5 stitches in 7 rows, that is: miss 2 rows in 7"."""
    simple = ratio.limit_denominator(FEWEST_ROWS)
    if not simple:
        simple = Fraction(1, FEWEST_ROWS)
    stitches, rows = simple.as_integer_ratio()
    told = f"{counted(stitches, 'stitch')} in {counted(rows, row_word)}"
    about = "" if simple == ratio else "about "
    if stitches == rows:
        return f"{about}a stitch in each {row_word}"
    if stitches < rows:
        return f"{about}{told}, {counted(rows - stitches, row_word)} in {rows} missed, evenly"
    return f"{about}{told}, some {row_word}s take two"


def pick_up_in_words(plan: Plan, edge: str, *, band_stitches: float = 0) -> list[str]:
    """What to pick up along an edge, a line each: how many in all, which way, then by colour."""
    how, yarns = plan.traced.how, plan.project.all_yarns
    picked = pick_up(plan, edge, band_stitches=band_stitches)
    total = sum(each.stitches for each in picked)
    way = WAYS[edge][how.hand]
    lines = [f"{counted(total, 'stitch')} in all, the right side facing you, {way}."]
    if any(each.rows for each in picked):
        lines.append(f"Along the rows: {in_rhythm(ratio_of(plan, band_stitches), how.row_word)}.")
        if how.selvedge:
            lines.append("Pick up beside the selvedge, which turns to the back.")
    lines += [each.in_words(yarns[each.yarn], how.row_word) for each in picked]
    return lines

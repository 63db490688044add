"""The back of the piece, with the ends of one colour area where they hang."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure

from planner.pictures.canvas import GREY, INK, Sheet, by_worked_row, in_style, yarn_colours
from planner.plan import Plan

NO_STITCH = "#dddddd"
PALE = 0.6  # how far towards white what is not looked at is drawn
NUMBER_PT = 8
WIDTH_IN = 6.4


class Spot(NamedTuple):
    """Where an end hangs: its number, its worked row and its column on the chart, from 0.

    With `or_here` it may hang there instead, as its words say; its number is then in brackets.
    """

    number: int
    row: int
    column: int
    is_sewn: bool
    or_here: bool = False


@in_style
def draw_back(plan: Plan, area: int, spots: Sequence[Spot]) -> Figure:
    """The knitted chart as its back shows it, this colour area in full, with the ends in it.

    An end that is sewn in has its number in grey. Area 0 is none.
    """
    strands = plan.traced
    sheet = Sheet(strands, "The back, cast-on edge below", width_in=WIDTH_IN, back=True)
    cells = by_worked_row(strands, strands.chart.cells)
    is_other = by_worked_row(strands, plan.area_of_cell) != area
    colours = yarn_colours(plan)
    # Each yarn twice: full, then pale.
    pale = [_pale(colour) for colour in colours]
    shades = np.where(is_other, cells + len(colours), cells)
    sheet.paint(np.where(cells >= 0, shades, -1), [*colours, *pale, NO_STITCH])
    sheet.rule()
    sheet.part(cells, width=0.9)
    _write_numbers(sheet, spots)
    return sheet.figure


def _pale(colour: str) -> str:
    red, green, blue = (share + (1 - share) * PALE for share in to_rgb(colour))
    return to_hex((red, green, blue))


def _write_numbers(sheet: Sheet, spots: Sequence[Spot]) -> None:
    """Write each end's number where it hangs; those of one place together."""
    by_place: dict[tuple[int, int], list[Spot]] = defaultdict(list)
    for spot in spots:
        by_place[spot.row, spot.column].append(spot)
    for (row, column), at_place in by_place.items():
        each = (f"({spot.number})" if spot.or_here else str(spot.number) for spot in at_place)
        numbers = ", ".join(each)
        all_sewn = all(spot.is_sewn for spot in at_place)
        sheet.ax.text(
            column + 0.5,
            row + 0.5,
            numbers,
            size=NUMBER_PT,
            color=GREY if all_sewn else INK,
            ha="center",
            va="center",
            bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": INK, "lw": 0.6},
            zorder=6,
        )

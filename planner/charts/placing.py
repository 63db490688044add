"""A chart into a piece: set in a ground, laid on another chart, repeated."""

from __future__ import annotations

import numpy as np

from planner.errors import PlanError
from planner.piece import NO_STITCH, Chart
from planner.units import counted

ACROSS, UP = ("left", "centre", "right"), ("bottom", "centre", "top")


def _grid(chart: Chart) -> np.ndarray:
    """The letters of a chart as rows × columns, top row first."""
    return np.array(chart.to_rows(), dtype=object)


def set_into(
    chart: Chart,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    ground: str,
    across: str | int = "centre",
    up: str | int = "bottom",
    spare_at: str | tuple[str, ...] = (),
) -> Chart:
    """The chart in a piece of so many stitches and rows of the ground yarn; '.' cells of the chart become ground.

    `across` is left, centre, right or the stitches free at its right; `up` is bottom, centre, top or the rows free below it. An
    odd number to halve is refused unless `spare_at` says which sides ("left" or "right", "bottom" or "top") get one more."""
    stitches, rows = stitches or chart.columns, rows or chart.rows
    right = _free_before(
        chart.columns, stitches, across, ("right", "left"), ACROSS, "stitch", spare_at
    )
    below = _free_before(chart.rows, rows, up, ("bottom", "top"), UP, "row", spare_at)
    return set_on(
        Chart.from_rows([[ground] * stitches] * rows), chart, stitch=right + 1, row=below + 1
    )


def _free_before(
    own: int, whole: int, where: str | int, sides: tuple[str, str], words, noun: str, spare_at
) -> int:
    """Stitches free at the right of the chart, or rows below it: at the first of two sides."""
    spare = whole - own
    if spare < 0:
        raise PlanError(
            f"The chart has {counted(own, noun)}, the piece only {whole}. Make the piece larger, or the chart smaller."
        )
    if isinstance(where, int):
        if not 0 <= where <= spare:
            raise PlanError(
                f"{counted(where, noun)} at the {sides[0]} were asked for; {spare} are spare, so give 0 to {spare}."
            )
        return where
    if where not in words:
        raise PlanError(
            f'The chart is to be set at the "{where}"; give {", ".join(words)} or a number.'
        )
    if where != "centre":
        return 0 if where == sides[0] else spare
    if spare % 2 and not (sides[0] in spare_at or sides[1] in spare_at):
        raise PlanError(
            f"{counted(spare, noun)} {'is' if spare == 1 else 'are'} spare, the piece's {whole} less the chart's {own}, and cannot "
            f"be halved. Say whether the {sides[0]} or the {sides[1]} gets one more, or make the piece {whole - 1} or {whole + 1}."
        )
    return spare // 2 + (spare % 2 and sides[0] in spare_at)


def set_on(piece: Chart, motif: Chart, *, stitch: int, row: int) -> Chart:
    """The motif laid on a piece, its lower right corner on this stitch (from the right) and row, both from 1. Its '.' cells leave
    what is below; a stitch where the piece has none is refused."""
    last_stitch, last_row = stitch + motif.columns - 1, row + motif.rows - 1
    if stitch < 1 or row < 1 or last_stitch > piece.columns or last_row > piece.rows:
        raise PlanError(
            f"The motif would cover stitches {stitch} to {last_stitch} and rows {row} to {last_row}; the piece has "
            f"{counted(piece.columns, 'stitch')} and {counted(piece.rows, 'row')}. Move the motif, or make the piece larger first."
        )
    cells, above = _grid(piece), _grid(motif)
    under = cells[
        piece.rows - last_row : piece.rows - row + 1,
        piece.columns - last_stitch : piece.columns - stitch + 1,
    ]
    bare = np.argwhere(((above != NO_STITCH) & (under == NO_STITCH))[::-1, ::-1])
    if len(bare):
        at_row, at_stitch = bare[0] + (row, stitch)
        raise PlanError(
            f"The motif has {counted(len(bare), 'stitch')} where the piece has none, first in row {at_row}, stitch {at_stitch} "
            "from the right. Move the motif."
        )
    under[above != NO_STITCH] = above[above != NO_STITCH]
    return Chart.from_rows(cells)


def repeat(chart: Chart, *, across: int = 1, up: int = 1) -> Chart:
    """The chart so many times side by side and one above the other."""
    if across < 1 or up < 1:
        raise PlanError(
            f"The chart is to stand {across} times across and {up} times up; give 1 or more."
        )
    return Chart.from_rows(np.tile(_grid(chart), (up, across)))

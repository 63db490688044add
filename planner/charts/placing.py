"""A chart into a piece: set in a ground, laid on another chart, repeated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.errors import PlanError
from planner.guards import check_chart
from planner.piece import NO_STITCH, Chart
from planner.units import counted

ACROSS = ("left", "centre", "right")
UP = ("bottom", "centre", "top")

Place = str | int  # one of these, or how many are free before the chart
SpareAt = str | tuple[str, ...]  # the sides that get one more


def set_into(
    chart: Chart,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    ground: str,
    across: Place = "centre",
    up: Place = "bottom",
    spare_at: SpareAt = (),
) -> Chart:
    """The chart in a piece of so many stitches and rows of the ground yarn.

    '.' cells of the chart become ground. `across` is left, centre, right or the stitches free at
    its right; `up` is bottom, centre, top or the rows free below it. An odd number to halve is
    refused unless `spare_at` says which sides ("left" or "right", "bottom" or "top") get one more.
    """
    stitches = stitches or chart.columns
    rows = rows or chart.rows
    check_chart(stitches, rows, "The piece")
    at_right = SIDEWAYS.free_before(
        chart.columns,
        stitches,
        at=across,
        spare_at=spare_at,
    )
    below = UPWARDS.free_before(
        chart.rows,
        rows,
        at=up,
        spare_at=spare_at,
    )
    # A piece of nothing but ground, for the chart to be laid on.
    row = [ground] * stitches
    piece = Chart.from_rows([row] * rows)
    return set_on(piece, chart, stitch=at_right + 1, row=below + 1)


@dataclass(frozen=True)
class _Way:
    """A way in which a chart is placed in a piece: from which side, and where it may stand."""

    noun: str  # what is counted this way
    first: str  # the side that it is counted from
    last: str
    places: tuple[str, ...]

    def free_before(self, own: int, whole: int, *, at: Place, spare_at: SpareAt) -> int:
        """How many of the piece are free between the first side and the chart."""
        spare = whole - own
        if spare < 0:
            chart = counted(own, self.noun)
            raise PlanError(
                f"The chart has {chart}, the piece only {whole}. "
                "Make the piece larger, or the chart smaller."
            )
        if isinstance(at, int):
            if not 0 <= at <= spare:
                asked = counted(at, self.noun)
                raise PlanError(
                    f"{asked} at the {self.first} were asked for; "
                    f"{spare} are spare, so give 0 to {spare}."
                )
            return at
        if at not in self.places:
            places = ", ".join(self.places)
            raise PlanError(f'The chart is to be set at the "{at}"; give {places} or a number.')
        if at == "centre":
            return self._half(own, whole, spare_at=spare_at)
        return 0 if at == self.first else spare

    def _half(self, own: int, whole: int, *, spare_at: SpareAt) -> int:
        """Half of what is spare, at the first side; an odd one goes where it is told to."""
        spare = whole - own
        half, odd = divmod(spare, 2)
        if not odd:
            return half
        # Nobody can see from here which side a knitter wants wider, so she is asked.
        if self.first in spare_at:
            return half + 1
        if self.last in spare_at:
            return half
        are = "is" if spare == 1 else "are"
        left_over = counted(spare, self.noun)
        raise PlanError(
            f"{left_over} {are} spare, the piece's {whole} less the chart's {own}, "
            "and cannot be halved. "
            f"Say whether the {self.first} or the {self.last} gets one more, "
            f"or make the piece {whole - 1} or {whole + 1}."
        )


SIDEWAYS = _Way("stitch", first="right", last="left", places=ACROSS)
UPWARDS = _Way("row", first="bottom", last="top", places=UP)


def set_on(piece: Chart, motif: Chart, *, stitch: int, row: int) -> Chart:
    """The motif laid on a piece, its lower right corner on this stitch and row, both from 1.

    Stitches are counted from the right. '.' cells of the motif leave what is below; a stitch where
    the piece has none is refused.
    """
    last_stitch = stitch + motif.columns - 1
    last_row = row + motif.rows - 1
    fits_across = stitch >= 1 and last_stitch <= piece.columns
    fits_up = row >= 1 and last_row <= piece.rows
    if not (fits_across and fits_up):
        stitches = counted(piece.columns, "stitch")
        rows = counted(piece.rows, "row")
        raise PlanError(
            f"The motif would cover stitches {stitch} to {last_stitch} "
            f"and rows {row} to {last_row}; the piece has {stitches} and {rows}. "
            "Move the motif, or make the piece larger first."
        )
    cells = _letters(piece)
    # Letters are top row first and from the left, stitches and rows are counted from below and
    # from the right.
    top = piece.rows - last_row
    left = piece.columns - last_stitch
    bottom = top + motif.rows
    right = left + motif.columns
    below = cells[top:bottom, left:right]
    above = _letters(motif)
    worked = above != NO_STITCH
    bare = worked & (below == NO_STITCH)
    if bare.any():
        # The first that a knitter comes to, from below and from the right.
        as_counted = bare[::-1, ::-1]
        rows_on, stitches_on = np.argwhere(as_counted)[0].tolist()
        stitches = counted(int(bare.sum()), "stitch")
        raise PlanError(
            f"The motif has {stitches} where the piece has none, "
            f"first in row {row + rows_on}, stitch {stitch + stitches_on} from the right. "
            "Move the motif."
        )
    below[worked] = above[worked]  # a part of `cells`
    return Chart.from_rows(cells)


def repeat(chart: Chart, *, across: int = 1, up: int = 1) -> Chart:
    """The chart so many times side by side and one above the other."""
    if across < 1 or up < 1:
        raise PlanError(
            f"The chart is to stand {across} times across and {up} times up; give 1 or more."
        )
    check_chart(across * chart.columns, up * chart.rows, "The chart repeated")
    tiled = np.tile(_letters(chart), (up, across))
    return Chart.from_rows(tiled)


def _letters(chart: Chart) -> np.ndarray:
    """The letters of a chart as rows × columns, top row first."""
    return np.array(chart.to_rows(), dtype=object)

"""What is knitted beneath an embroidery: its ground, found stitch by stitch.

Each embroidered stitch is knitted in the yarn beside it in its row, so that no strand arises for
it. Where another yarn lies on its other side, the one that shares the longer border with the area
is taken. A row embroidered from edge to edge takes the yarn with the longest border. The knitter
may name one ground for the whole area instead.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from planner.errors import PlanError
from planner.piece import Chart, Construction
from planner.strands import Knitted

# A cell that is no stitch, and one whose ground is still to be found.
NO_STITCH, OPEN = -1, -2
# The four neighbours of a stitch: rows up, columns to the right.
NEIGHBOURS = (
    (0, 1),
    (0, -1),
    (1, 0),
    (-1, 0),
)


def knit_beneath(
    chart: Chart,
    how: Construction,
    areas: np.ndarray,
    on: Mapping[int, int | None],
    knitted: Knitted | None = None,
) -> Chart:
    """The chart as it is knitted.

    `on` gives by area to embroider the ground that the knitter named, an index into the chart's
    letters, or None. What is `knitted` already stays as it is, on the ground or not.
    """
    cells = chart.cells.copy()
    # By area what its cells become; area 0 is no stitch.
    becomes = np.full(areas.max() + 1, NO_STITCH, dtype=cells.dtype)
    for area, ground in on.items():
        becomes[area] = OPEN if ground is None else ground
    cells_become = becomes[areas]
    embroidered = cells_become != NO_STITCH
    cells[embroidered] = cells_become[embroidered]
    if knitted is not None:
        as_knitted = _as_knitted(chart, how, knitted)
        stays = embroidered & (as_knitted >= 0)
        cells[stays] = as_knitted[stays]

    # Borders are counted before any stitch is filled, or the order of filling would matter.
    border = _borders(cells, areas, embroidered, yarns=len(chart.letters), tube=how.is_tube)
    is_open = cells == OPEN
    open_rows = np.flatnonzero(is_open.any(axis=1))
    for row in open_rows.tolist():
        _fill_row(cells, areas, row, border, tube=how.is_tube)
    cells.setflags(write=False)
    return Chart(cells, chart.letters)


def _fill_row(
    cells: np.ndarray,
    areas: np.ndarray,
    row: int,
    border: Mapping[int, np.ndarray],
    *,
    tube: bool,
) -> None:
    """Fill the open cells of a chart row in place, each with its ground."""
    # Places count worked stitches only: the yarn passes by where there is none.
    columns = np.flatnonzero(cells[row] != NO_STITCH)
    line = cells[row, columns]
    settled = np.flatnonzero(line != OPEN)
    for place in np.flatnonzero(line == OPEN).tolist():
        column = columns[place]
        area = int(areas[row, column])
        edges = border[area]
        beside = _beside(settled, place, tube=tube)
        grounds = set(line[beside].tolist())
        if not grounds:
            # The whole row is embroidered.
            grounds = set(np.flatnonzero(edges).tolist())
        if not grounds:
            raise PlanError(
                f"Nothing is knitted beside row {row + 1} of the chart. "
                "Leave some of it unembroidered."
            )
        # In their order, so that of equal borders the first letter is taken.
        cells[row, column] = max(sorted(grounds), key=edges.__getitem__)


def _beside(
    settled: np.ndarray,
    place: int,
    *,
    tube: bool,
) -> np.ndarray:
    """The nearest settled places on both sides of a place."""
    after = int(np.searchsorted(settled, place))
    # Round a tube the row has no end, so there are always two.
    if tube and len(settled):
        return settled.take([after - 1, after], mode="wrap")
    before = max(after - 1, 0)
    return settled[before : after + 1]


def _as_knitted(
    chart: Chart,
    how: Construction,
    knitted: Knitted,
) -> np.ndarray:
    """The yarn of each cell of the rows that are knitted.

    It is −1 elsewhere, for a yarn that is no longer on the chart, and where the log does not fit.
    """
    number = {letter: y for y, letter in enumerate(chart.letters)}
    as_knitted = np.full(chart.cells.shape, -1)
    for row, runs in enumerate(knitted.rows):
        chart_row = row // how.rows_per_chart_row
        if chart_row >= chart.rows:
            break
        yarns: list[int] = []
        for run in runs:
            yarn = number.get(run.yarn, -1)
            yarns += [yarn] * run.stitches
        # The log has the runs in working order, the chart from left to right.
        if how.runs_leftwards(row):
            yarns.reverse()
        is_worked = chart.cells[chart_row] >= 0
        if len(yarns) == is_worked.sum():
            as_knitted[chart_row, is_worked] = yarns
    return as_knitted


def _borders(
    cells: np.ndarray,
    areas: np.ndarray,
    embroidered: np.ndarray,
    *,
    yarns: int,
    tube: bool,
) -> dict[int, np.ndarray]:
    """By embroidered area, how many edges of stitches it shares with each yarn."""
    height, width = cells.shape
    own_rows, own_columns = np.divmod(np.flatnonzero(embroidered), width)
    numbers, place = np.unique(areas[own_rows, own_columns], return_inverse=True)
    edges = np.zeros(len(numbers) * yarns, dtype=int)
    for up, right in NEIGHBOURS:
        rows = own_rows + up
        columns = own_columns + right
        if tube:
            columns %= width
        on_chart = (rows >= 0) & (rows < height)
        on_chart &= (columns >= 0) & (columns < width)
        beside = cells[rows[on_chart], columns[on_chart]]
        area = place[on_chart]
        # Neither open cells nor places without a stitch are of a yarn.
        of_a_yarn = beside >= 0
        shared = area[of_a_yarn] * yarns + beside[of_a_yarn]
        edges += np.bincount(shared, minlength=len(edges))
    return dict(zip(numbers.tolist(), edges.reshape(-1, yarns), strict=True))

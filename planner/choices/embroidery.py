"""Embroidery afterwards, in duplicate stitch: what is knitted beneath it, and the yarn it takes.

Each embroidered stitch is knitted in the yarn beside it in its row, so that no strand arises for it. Where another yarn lies
on its other side, the one that shares the longer border with the area is taken; a row embroidered from edge to edge takes
the yarn with the longest border. The knitter may name one ground for the whole area instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.errors import PlanError
from planner.piece import Allowances, Chart, Construction, Gauge
from planner.strands import Knitted
from planner.supplies import Planned
from planner.units import counted

OPEN = -2  # a cell whose ground is still to be found; −1 is no stitch


def knit_beneath(
    chart: Chart,
    how: Construction,
    areas: np.ndarray,
    on: Mapping[int, int | None],
    knitted: Knitted | None = None,
) -> Chart:
    """The chart as it is knitted. `on` gives the areas to embroider the ground that the knitter named, an index into the
    chart's letters, or None. What is `knitted` stays, on the ground or not."""
    cells = chart.cells.copy()
    for area, ground in on.items():
        cells[areas == area] = OPEN if ground is None else ground
    if knitted is not None:
        there = _as_knitted(chart, how, knitted)
        frozen = np.isin(areas, list(on)) & (there >= 0)
        cells[frozen] = there[frozen]
    border = {
        area: _border(cells, areas == area, len(chart.letters), how.in_rounds)
        for area in np.unique(areas[cells == OPEN])
    }
    for row in np.flatnonzero((cells == OPEN).any(axis=1)):
        worked = np.flatnonzero(cells[row] != -1)
        line, area = cells[row, worked], areas[row, worked]
        settled = np.flatnonzero(line != OPEN)
        for i in np.flatnonzero(line == OPEN):
            after = np.searchsorted(settled, i)
            if how.in_rounds:
                beside = settled.take([after - 1, after], mode="wrap") if len(settled) else settled
            else:
                beside = settled[max(after - 1, 0) : after + 1]
            count = border[area[i]]
            choice = line[beside] if len(beside) else np.flatnonzero(count)
            if not len(choice):
                raise PlanError(
                    f"Nothing is knitted beside row {row + 1} of the chart. Leave some of it unembroidered."
                )
            cells[row, worked[i]] = max(sorted(set(choice.tolist())), key=lambda yarn: count[yarn])
    cells.setflags(write=False)
    return Chart(cells, chart.letters)


def _as_knitted(chart: Chart, how: Construction, knitted: Knitted) -> np.ndarray:
    """The yarn of each cell of the rows that are knitted, −1 elsewhere and where the log does not fit the chart."""
    there = np.full(chart.cells.shape, -1)
    for row, runs in enumerate(knitted.rows):
        yarns = [
            chart.letters.index(run.yarn) if run.yarn in chart.letters else -1
            for run in runs
            for _ in range(run.stitches)
        ]
        line = row // how.rows_per_chart_row
        worked = np.flatnonzero(chart.cells[line] >= 0) if line < chart.rows else []
        if len(yarns) == len(worked):
            there[line, worked] = yarns[::-1] if how.runs_leftwards(row) else yarns
    return there


def _border(cells: np.ndarray, mine: np.ndarray, yarns: int, tube: bool) -> np.ndarray:
    """How many edges of stitches an area shares with each yarn."""
    count = np.zeros(yarns, dtype=int)
    rows, columns = np.nonzero(mine)
    for down, right in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        r, c = rows + down, columns + right
        if tube:
            c = c % cells.shape[1]
        inside = (r >= 0) & (r < cells.shape[0]) & (c >= 0) & (c < cells.shape[1])
        beside = cells[r[inside], c[inside]]
        count += np.bincount(beside[beside >= 0], minlength=yarns)
    return count


@dataclass(frozen=True, eq=False)
class Embroidery:
    """What is embroidered where the knitted chart differs from the one drawn: one entry an area in every array, with its
    number, its yarn, its worked stitches, and the yarn it takes in cm, two tails included. A duplicate stitch is taken to use
    `embroider_factor` times the yarn of a knitted one: an assumption."""

    area: np.ndarray
    yarn: np.ndarray
    stitches: np.ndarray
    length_cm: np.ndarray

    @classmethod
    def between(
        cls,
        drawn: Chart,
        knit: Chart,
        areas: np.ndarray,
        how: Construction,
        gauge: Gauge,
        planned: Planned,
        allow: Allowances,
    ) -> Embroidery:
        different = knit.cells != drawn.cells
        area, first, count = np.unique(areas[different], return_index=True, return_counts=True)
        yarn, stitches = drawn.cells[different][first], count * how.rows_per_chart_row
        length = np.zeros(len(area))
        for y in np.unique(yarn):
            length[yarn == y] = planned.cm(drawn.letters[y], stitches[yarn == y] * gauge.stitch_cm)
        return cls(area, yarn, stitches, length * allow.embroider_factor + 2 * allow.tail_cm)

    @property
    def ends(self) -> int:
        return 2 * len(self.area)

    def table(self, drawn: Chart, knit: Chart, areas: np.ndarray) -> pd.DataFrame:
        """One row an area, in working order: its yarn and the ground beneath, where it lies, worked stitches, yarn, ends."""
        out = []
        for area, yarn, stitches, length in zip(
            self.area, self.yarn, self.stitches, self.length_cm, strict=True
        ):
            rows, columns = np.nonzero((knit.cells != drawn.cells) & (areas == area))
            ground = ", ".join(knit.letters[y] for y in np.unique(knit.cells[rows, columns]))
            first_stitch = drawn.columns - columns[rows == rows[0]].max()
            out.append(
                (
                    area,
                    drawn.letters[yarn],
                    ground,
                    rows[0] + 1,
                    rows[-1] + 1,
                    first_stitch,
                    stitches,
                    length,
                    2,
                )
            )
        names = (
            "area",
            "yarn",
            "ground",
            "first_chart_row",
            "last_chart_row",
            "first_stitch",
            "stitches",
            "length_cm",
            "ends",
        )
        return pd.DataFrame(out, columns=names).astype(
            {"length_cm": float, "ends": int, "stitches": int}
        )


def embroidery_in_words(embroidery: pd.DataFrame) -> str:
    """The embroidery in a few words: "3 areas, 15 stitches"."""
    return (
        f"{counted(len(embroidery), 'area')}, {counted(int(embroidery.stitches.sum()), 'stitch')}"
    )

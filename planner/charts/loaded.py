"""What a file turned out to hold: a chart, and what is to be said, asked, looked at again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.charts.palette import Mask, Rgb
from planner.charts.picture import ChartedPicture
from planner.charts.questions import Question
from planner.charts.tidying import compare_levels
from planner.piece import CarryLimits, Chart, Project
from planner.strands import Strands, trace_strands

Words = np.ndarray  # rows × columns from the bottom; "" where there is nothing to say
Part = tuple[float, float, float, float]  # left, top, right, bottom, each a share of the picture


class Doubt(NamedTuple):
    """A cell to look at again, by the chart's own numbers, both from 1: stitches from the right."""

    row: int
    stitch: int
    why: str


@dataclass(frozen=True)
class Loaded:
    """What a file turned out to hold.

    `taken` says as what it was read and `said` what was done; `colours` of its letters (#rrggbb) as
    far as it shows them; `asks` what is in doubt; `why` a cell is to be looked at again.
    A picture has its chart at each of the `levels` of tidying, `seen` draws the part of it that the
    chart was read from, and `parts` are where other charts lie in it, by words.
    """

    chart: Chart
    taken: str
    colours: Mapping[str, str] = field(default_factory=dict)
    said: tuple[str, ...] = ()
    asks: tuple[Question, ...] = ()
    why: Words | None = None
    levels: tuple[ChartedPicture, ...] = ()
    letters: tuple[str, ...] = ()
    parts: Mapping[str, Part] = field(default_factory=dict)
    seen: Callable[[], Rgb] | None = None
    # Names of letters, as far as the file tells them; letters that it does not have but was given.
    names: Mapping[str, str] = field(default_factory=dict)
    given: frozenset[str] = frozenset()
    # Height of a cell ÷ its width as it was drawn; None where that is not seen.
    aspect: float | None = None

    @property
    def doubtful(self) -> Mask | None:
        """The cells to look at again, rows × columns from the bottom; None where there are none."""
        return None if self.why is None else self.why != ""

    @property
    def doubts(self) -> list[Doubt]:
        """The cells to look at again in the order of work: row by row from the bottom."""
        if self.why is None:
            return []
        found = []
        for row, column in np.argwhere(np.fliplr(self.why != "")).tolist():
            found.append(Doubt(row + 1, column + 1, self.why[row, -1 - column]))
        return found

    def mended(self, doubt: Doubt, letter: str) -> Loaded:
        """The same with a cell that was in doubt in the yarn it is said to be of."""
        rows = self.chart.to_rows()
        rows[-doubt.row][-doubt.stitch] = letter
        why = None if self.why is None else self.why.copy()
        if why is not None:
            why[doubt.row - 1, -doubt.stitch] = ""
        return replace(self, chart=Chart.from_rows(rows), why=why)

    def lettered(self, letters: Mapping[str, str]) -> Loaded:
        """The same with other letters for the yarns of its chart."""
        rows = [[letters.get(letter, letter) for letter in row] for row in self.chart.to_rows()]
        return replace(
            self,
            chart=Chart.from_rows(rows),
            colours={letters.get(letter, letter): each for letter, each in self.colours.items()},
            names={letters.get(letter, letter): name for letter, name in self.names.items()},
        )

    def traced(self, project: Project) -> Strands:
        """The strands that its chart takes, worked as a piece is."""
        return trace_strands(
            self.chart,
            project.how,
            project.gauge,
            project.limits,
            by_yarn=_own_limits(project, self.chart),
        )

    def prices(self, project: Project) -> pd.DataFrame:
        """What each level of tidying costs and saves, one row a level; of a picture only."""
        return compare_levels(
            self.levels,
            project.how,
            project.gauge,
            project.limits,
            by_yarn=project.by_yarn,
            letters=self.letters,
        )


def _own_limits(project: Project, chart: Chart) -> dict[str, CarryLimits]:
    # Limits of a yarn that is not on the chart would be refused.
    own = project.by_yarn.items()
    return {letter: limits for letter, limits in own if letter in chart.letters}

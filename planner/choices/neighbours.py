"""Neighbours: which runs can feel a choice, so that only they are traced anew.

Runs feel each other if a link may join them, or if one lies where the yarn of the other hangs, so
that it cannot be carried on past it. What hangs together so is a group, and the best links of a
group are the same whatever is done elsewhere. A choice changes some runs. A link that it makes or
takes away begins or ends at one of these, or is carried past it; so both its runs lie no farther
off than a yarn may be carried. Only the groups with a run that near can feel the choice.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.choices.asked import Asked
from planner.piece import Project
from planner.strands import Runs, Strands, connected_parts


class Felt(NamedTuple):
    """Which runs feel a choice: of those `before` it, and of those `after`.

    All others are the same runs, in the same order. `near` are the runs before that lie so near, of
    whatever yarn: what becomes of the choice hangs on no others.
    """

    before: np.ndarray
    after: np.ndarray
    near: np.ndarray

    def by_all(self) -> Felt:
        """The same, felt by all runs."""
        return Felt(*map(np.ones_like, self))


class Neighbours:
    """The groups of the runs of some strands, as asked of a project."""

    def __init__(self, project: Project, asked: Asked, strands: Strands):
        self.asked = asked
        self.runs = strands.runs
        self.times = project.how.rows_per_chart_row
        # How far any yarn may be carried: stitches aside, rows up.
        self.aside = 0
        self.up = 0
        for limits in (project.limits, *project.by_yarn.values()):
            across, sideways, up, _ = limits.at(project.gauge)
            self.aside = max(self.aside, across, sideways)
            self.up = max(self.up, up)
        self.group = self._groups(strands)
        self.decided = _decided(asked, strands.runs)

    def _groups(self, strands: Strands) -> np.ndarray:
        """The group of each run."""
        runs = strands.runs
        over = runs.over_cells()
        first = [strands.possible.a]
        second = [strands.possible.b]
        for step in range(1, self.up + 1):
            is_there = runs.row + step < runs.rows
            hangs = np.flatnonzero(is_there)
            row = runs.row[hangs] + step
            # An edge lies between two cells. Those at the sides of the piece stand for each other,
            # as they do in a tube; elsewhere that makes a group larger than need be, no more.
            for beside in (-1, 0):
                column = runs.leave[hangs] + beside
                column %= runs.columns
                lies = over[row, column]
                alike = runs.yarn[lies] == runs.yarn[hangs]
                alike &= lies >= 0
                first.append(hangs[alike])
                second.append(lies[alike])
        a = np.concatenate(first)
        b = np.concatenate(second)
        return connected_parts(a, b, runs.count)

    def that_feel(self, asked: Asked, runs: Runs) -> Felt:
        """Which runs feel that this is asked instead, so that the piece has the runs `runs`."""
        gone, new = self._changed(asked, runs)
        runs_gone = self.runs.only(gone)
        runs_new = runs.only(new)
        near = self._near(runs_gone, runs_new)
        groups = self.group.max() + 1
        feels = np.zeros(groups, dtype=bool)
        feels[self.group[near]] = True
        # Strands of different yarns never share a link.
        yarns = np.union1d(runs_gone.yarn, runs_new.yarn)
        before = np.isin(self.runs.yarn, yarns)
        before &= feels[self.group]
        before |= gone
        after = new.copy()
        after[~new] = before[~gone]
        return Felt(before, after, near | before)

    def _near(self, *changed: Runs) -> np.ndarray:
        """Which runs lie no farther from those that are changed than a yarn may be carried."""
        runs = self.runs
        row = np.concatenate([each.row for each in changed])
        left = np.concatenate([each.lo for each in changed])
        right = np.concatenate([each.hi for each in changed])
        if not len(row):
            return np.zeros(runs.count, dtype=bool)
        lowest = row.min() - self.up - 1
        highest = row.max() + self.up + 1
        near = runs.row >= lowest
        near &= runs.row <= highest
        # Round a tube it may be carried either way.
        if not runs.tube:
            leftmost = left.min() - self.aside - 1
            rightmost = right.max() + self.aside + 1
            near &= runs.hi >= leftmost
            near &= runs.lo <= rightmost
        return near

    def _changed(self, asked: Asked, runs: Runs) -> tuple[np.ndarray, np.ndarray]:
        """Which of the runs before are gone or decided otherwise, and which of `runs` are new."""
        gone = np.zeros(self.runs.count, dtype=bool)
        new = np.zeros(runs.count, dtype=bool)
        knit, knit_before = asked.chart.cells, self.asked.chart.cells
        if knit is not knit_before:
            is_changed = knit != knit_before
            in_chart_row = is_changed.any(axis=1)
            in_row = np.repeat(in_chart_row, self.times)
            in_before = np.flatnonzero(in_row[self.runs.row])
            in_after = np.flatnonzero(in_row[runs.row])
            runs_before = self.runs.only(in_before)
            runs_after = runs.only(in_after)
            before = _names(runs_before)
            after = _names(runs_after)
            gone[in_before] = np.isin(before, after, invert=True)
            new[in_after] = np.isin(after, before, invert=True)
        # What was decided before may have lost its place.
        places: list[int] = []
        for _, *of_choice in self.decided ^ _decided(asked, runs):
            places += of_choice
        if places:
            gone |= np.isin(self.runs.place, places)
            new |= np.isin(runs.place, places)
        return gone, new


def _names(runs: Runs) -> np.ndarray:
    """A number for each run that tells its place, its yarn and its width."""
    edges = runs.columns + 1
    places = runs.rows * edges
    width = runs.hi - runs.lo
    yarn_and_width = runs.yarn * edges + width
    return yarn_and_width * places + runs.place


def _decided(asked: Asked, runs: Runs) -> set[tuple[int, ...]]:
    """What is decided about links: what it is about, and the places of its runs."""
    decided: set[tuple[int, ...]] = set()
    if not (asked.carries or asked.cuts or asked.no_middle):
        return decided
    place = runs.place.tolist()
    begun = [(run,) for run in asked.no_middle]
    for about, named in enumerate((asked.carries, asked.cuts, begun)):
        for of_choice in named:
            decided.add((about, *(place[run] for run in of_choice)))
    return decided

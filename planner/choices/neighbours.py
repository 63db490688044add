"""Neighbours: which runs can feel a choice, so that only they are traced anew.

Runs feel each other if a link may join them, or if one lies where the yarn of the other hangs, so
that it cannot be carried on past it. What hangs together so is a group, and the best links of a
group are the same whatever is done elsewhere. A choice changes some rows. Whatever it makes or
takes away begins or ends no farther from them than a yarn may be carried up. So only the groups
with a run that near can feel it.
"""

from __future__ import annotations

import numpy as np

from planner.choices.asked import Asked
from planner.piece import Project
from planner.strands import Runs, Strands, connected_parts


class Neighbours:
    """The groups of the runs of some strands, as asked of a project."""

    def __init__(self, project: Project, asked: Asked, strands: Strands):
        self.asked = asked
        self.runs = strands.runs
        self.times = project.how.rows_per_chart_row
        limits = [project.limits, *project.by_yarn.values()]
        self.up = max(own.at(project.gauge)[2] for own in limits)
        self.group = self._groups(strands)
        self.decided = _decided(asked, strands.runs)

    def _groups(self, strands: Strands) -> np.ndarray:
        """The group of each run."""
        runs = strands.runs
        over = runs.over_cells()
        first, second = [strands.possible.a], [strands.possible.b]
        for step in range(1, self.up + 1):
            hangs = np.flatnonzero(runs.row + step < runs.rows)
            # An edge lies between two cells. Those at the sides of the piece stand for each other,
            # as they do in a tube; elsewhere that makes a group larger than need be, no more.
            for beside in (-1, 0):
                column = (runs.leave[hangs] + beside) % runs.columns
                lies = over[runs.row[hangs] + step, column]
                alike = (lies >= 0) & (runs.yarn[lies] == runs.yarn[hangs])
                first.append(hangs[alike])
                second.append(lies[alike])
        return connected_parts(np.concatenate(first), np.concatenate(second), runs.count)

    def that_feel(self, asked: Asked, runs: Runs) -> tuple[np.ndarray, np.ndarray]:
        """Which runs feel that this is asked instead: of those before, and of `runs`, those after.

        All others are the same runs, in the same order.
        """
        rows, yarns = self._changed(asked, runs)
        near = rows.copy()
        for step in range(1, self.up + 2):
            near[step:] |= rows[:-step]
            near[:-step] |= rows[step:]
        feels = np.zeros(self.group.max() + 1, dtype=bool)
        feels[self.group[near[self.runs.row]]] = True
        before = feels[self.group] & yarns[self.runs.yarn]

        # In the rows that are changed the runs are others, which all feel it.
        after = yarns[runs.yarn]
        after[~rows[runs.row]] = before[~rows[self.runs.row]]
        return before, after

    def _changed(self, asked: Asked, runs: Runs) -> tuple[np.ndarray, np.ndarray]:
        """By worked row and by yarn, whether something is changed there."""
        rows = np.zeros(runs.rows, dtype=bool)
        yarns = np.zeros(len(asked.chart.letters), dtype=bool)
        knit, knit_before = asked.chart.cells, self.asked.chart.cells
        if knit is not knit_before:
            is_changed = knit != knit_before
            rows |= np.repeat(is_changed.any(axis=1), self.times)
            yarns[knit[is_changed]] = True
            yarns[knit_before[is_changed]] = True
        # What was decided before may have lost its place.
        for yarn, _, *places in self.decided ^ _decided(asked, runs):
            yarns[yarn] = True
            rows[[place // (runs.columns + 1) for place in places]] = True
        return rows, yarns


def _decided(asked: Asked, runs: Runs) -> set[tuple[int, ...]]:
    """What is decided about links: its yarn, what it is about, and the places of its runs."""
    decided: set[tuple[int, ...]] = set()
    if not (asked.carries or asked.cuts or asked.no_middle):
        return decided
    place, yarn = runs.place.tolist(), runs.yarn.tolist()
    begun = [(run,) for run in asked.no_middle]
    for about, named in enumerate((asked.carries, asked.cuts, begun)):
        for of_choice in named:
            places = [place[run] for run in of_choice]
            decided.add((yarn[of_choice[0]], about, *places))
    return decided

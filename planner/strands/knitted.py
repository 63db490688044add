"""What is knitted already: which strand worked each run, and where the yarns hang, as the progress log keeps it.

A worked row is noted run by run, in working order: "9 N3, 11 W6, 1 W7 second half, 3 Y1 cut, 3 Y3 to 17". *Cut* says that
the yarn does not go on, *to* that it was woven along to that edge, counted from the left. From these notes the links within
the knitted rows can be told again, whatever has become of the plan since.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import PlanError
from planner.piece import Project, notes_by_row, rows_worked
from planner.strands.links import ACROSS, MIDDLE, ON, UP, Links
from planner.strands.runs import Runs
from planner.strands.walk import Walk

if TYPE_CHECKING:
    from planner.strands.trace import Strands

MIDDLE_START, SECOND = "from its middle", "second half"
NOTE = re.compile(
    r"(\d+) ([^\W\d_]{1,3})(\d+)(?: (from its middle|second half))?(?: (cut)| to (\d+))?"
)


@dataclass(frozen=True)
class KnittedRun:
    """One run as it was knitted."""

    stitches: int
    yarn: str
    strand: str
    half: str
    cut: bool
    hangs_at: int | None


@dataclass(frozen=True)
class Knitted:
    """The rows that are knitted, each as its runs in working order."""

    rows: tuple[tuple[KnittedRun, ...], ...]

    @classmethod
    def from_notes(cls, notes: Mapping[int, str]) -> Knitted | None:
        """From the notes by worked row, counted from 1 without a gap; None if nothing is knitted."""
        missing = next(
            (row for row in range(1, max(notes, default=0) + 1) if row not in notes), None
        )
        if missing is not None:
            raise PlanError(
                f"progress.csv has later rows worked, but not row {missing}. Put its line back, or take the later ones out."
            )
        rows = []
        for row in range(1, len(notes) + 1):
            runs = []
            for text in filter(None, (part.strip() for part in notes[row].split(","))):
                match = NOTE.fullmatch(text)
                if not match:
                    raise PlanError(
                        f'progress.csv, row {row}: "{text}" cannot be read. It should be like "9 N3" or "3 Y1 cut".'
                    )
                stitches, yarn, number, half, cut, edge = match.groups("")
                runs.append(
                    KnittedRun(
                        int(stitches),
                        yarn,
                        yarn + number,
                        half,
                        bool(cut),
                        int(edge) if edge else None,
                    )
                )
            rows.append(tuple(runs))
        return cls(tuple(rows)) if rows else None

    def hold(self, runs: Runs, letters: tuple[str, ...]) -> tuple[Runs, Links, np.ndarray]:
        """The runs with their yarns hanging where they were left, the links that are knitted in, and which ports may still
        be used: 2 × runs booleans, the leaving edges and, of lengths begun from their middle, the entering ones."""
        done = int(np.searchsorted(runs.row, len(self.rows)))
        flat = [(row, run) for row, runs_ in enumerate(self.rows) for run in runs_]
        for i, (row, was) in enumerate(flat):
            now = (
                (int(runs.row[i]), int(runs.stitches[i]), letters[int(runs.yarn[i])])
                if i < done
                else None
            )
            if now != (row, was.stitches, was.yarn):
                raise PlanError(
                    f"Row {row + 1} is knitted with {was.stitches} {was.yarn} where the plan would now have something else. "
                    "What is knitted stays: put back what was changed for those rows (chart, way of working, embroidery), or take "
                    "the rows back."
                )
        if len(flat) != done:
            raise PlanError(
                f"The chart's first {len(self.rows)} rows are not as they were knitted. Put them back, or take the rows back first."
            )
        leave, parts = runs.leave.copy(), {}
        links, open_ports = [], np.zeros((2, runs.count), dtype=bool)
        firsts: dict[str, int] = {}
        for i, (row, run) in enumerate(flat):
            key = (run.strand, run.half == SECOND)
            before = parts.get(key)
            if before is not None:
                skipped = max(int(runs.row[i] - runs.row[before]) - 1, 0)
                kind = ACROSS if runs.row[i] == runs.row[before] else UP if skipped else ON
                links.append(
                    (kind, before, i, self._apart(runs, leave[before], before, i), skipped)
                )
            elif run.half == SECOND:
                a = firsts.get(run.strand)
                if a is None or flat[a][1].half != MIDDLE_START:
                    wrong = f"{run.strand} has a second half but was not begun from its middle."
                    raise PlanError(f"progress.csv, row {row + 1}: {wrong}")
                links.append((MIDDLE, a, i, self._apart(runs, runs.enter[a], a, i), 0))
            else:
                firsts[run.strand] = i
            parts[key] = i
            if run.hangs_at is not None and runs.row[i] == len(self.rows) - 1:
                leave[i] = run.hangs_at
        taken_up = {strand for strand, second in parts if second}
        for (strand, _), i in parts.items():
            open_ports[0, i] = not flat[i][1].cut
            begun = firsts[strand]
            open_ports[1, begun] = flat[begun][1].half == MIDDLE_START and strand not in taken_up
        held = Links(*np.array(links, dtype=int).reshape(-1, 5).T)
        return replace(runs, leave=leave), held, open_ports

    @staticmethod
    def _apart(runs: Runs, edge: int, a: int, b: int) -> int:
        """From an edge of run a to where run b is entered; in rounds, from round to round, the shorter way."""
        shift = abs(int(edge) - int(runs.enter[b]))
        return (
            min(shift, runs.columns - shift) if runs.tube and runs.row[a] != runs.row[b] else shift
        )


def knitted_of(project: Project) -> Knitted | None:
    """What is knitted already of a piece, as its progress log has it; None if nothing is."""
    rows_worked(project.progress, project.row_totals())
    return Knitted.from_notes(notes_by_row(project.progress))


def note_row(strands: Strands, row: int) -> str:
    """How a worked row (from 1) of these strands is noted once it is knitted."""
    walk, runs = Walk(strands), strands.runs
    noted = []
    for run in np.flatnonzero(runs.row == row - 1).tolist():
        text = f"{runs.stitches[run]} {walk.label(run)}"
        if run in walk.middle:
            text += f" {SECOND if run == strands.links.b[walk.middle[run]] else MIDDLE_START}"
        elif strands.half[run]:
            text += f" {SECOND}"
        link = walk.out.get(run)
        if link is None:
            text += " cut"
        elif walk.woven(link):
            text += f" to {runs.enter[strands.links.b[link]]}"
        noted.append(text)
    return ", ".join(noted)

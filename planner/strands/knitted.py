"""What is knitted already: which strand worked each run, and where the yarns hang.

The progress log notes a worked row run by run, in working order:

    9 N3, 11 W6, 1 W7 second half, 3 Y1 cut, 3 Y3 to 17

*Cut* says that the yarn does not go on, *to* that it was woven along to that edge, counted from the
left. From these notes the links within the knitted rows can be told again, whatever has become of
the plan since.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import PlanError
from planner.piece import Project, notes_by_row, rows_worked
from planner.strands.arrays import Flags, Numbers
from planner.strands.links import Links, link_middles, link_pairs
from planner.strands.runs import Runs
from planner.strands.walk import Walk

if TYPE_CHECKING:
    from planner.strands.trace import Strands

MIDDLE_START, SECOND = "from its middle", "second half"
Part = tuple[str, bool]  # a strand, and whether its second half

NOTE = re.compile(
    r"(\d{1,4}) ([^\W\d_]{1,3})(\d{1,6})"  # stitches, yarn, number of the strand
    rf"(?: ({MIDDLE_START}|{SECOND}))?"
    r"(?: (cut)| to (\d{1,4}))?"
)


@dataclass(frozen=True)
class KnittedRun:
    """One run as it was knitted.

    `half` is MIDDLE_START where a strand was begun from its middle, SECOND in its second half, else
    "". `hangs_at` is the edge that the yarn was woven along to, None if it was left where it was.
    """

    stitches: int
    yarn: str
    strand: str
    half: str
    cut: bool
    hangs_at: int | None

    @property
    def in_second_half(self) -> bool:
        return self.half == SECOND

    @property
    def begins_from_middle(self) -> bool:
        return self.half == MIDDLE_START


@dataclass(frozen=True, eq=False)
class Hanging:
    """What the knitted rows leave to the rows above.

    runs
        The runs of the piece; in the last knitted row each yarn leaves where it hangs now.
    links
        The links that are knitted in.
    may_leave
        By run, whether its leaving edge may still take a link.
    may_begin
        By run, whether its entering edge may still take a middle start: the second half of a
        length that was begun from its middle there.
    """

    runs: Runs
    links: Links
    may_leave: Flags
    may_begin: Flags


@dataclass(frozen=True)
class Knitted:
    """The rows that are knitted, each as its runs in working order."""

    rows: tuple[tuple[KnittedRun, ...], ...]

    @classmethod
    def from_notes(cls, notes: Mapping[int, str]) -> Knitted | None:
        """From the notes by worked row, counted from 1; None if nothing is knitted.

        Raises PlanError where a row is missing or a note cannot be read.
        """
        rows = []
        for row in range(1, max(notes, default=0) + 1):
            if row not in notes:
                raise PlanError(
                    f"progress.csv has later rows worked, but not row {row}. Put its line back, or "
                    "take the later ones out."
                )
            rows.append(_read_note(notes[row], row))
        return cls(tuple(rows)) if rows else None

    @cached_property
    def runs(self) -> tuple[KnittedRun, ...]:
        """The knitted runs in working order, numbered as the runs of the piece are."""
        return tuple(run for row in self.rows for run in row)

    def hold(self, runs: Runs, letters: tuple[str, ...]) -> Hanging:
        """What the knitted rows leave to the rows above.

        `runs` are those of the piece as it is planned now, `letters` its yarns. Raises PlanError
        where its first rows are not as they were knitted, or the notes contradict each other.
        """
        self._check_against(runs, letters)
        hanging = replace(runs, leave=self._edges_left(runs))
        links = self._links(hanging)
        may_leave, may_begin = self._open_ports(runs.count)
        return Hanging(hanging, links, may_leave, may_begin)

    def _check_against(self, runs: Runs, letters: tuple[str, ...]) -> None:
        """Refuse a piece whose first rows are not as they were knitted."""
        # A chart may have grown above; only the rows that are knitted are compared.
        rows = len(self.rows)
        first = runs.only(runs.row < rows)
        first_yarns = [letters[yarn] for yarn in first.yarn]
        planned = zip(first.row, first.stitches, first_yarns, strict=True)
        noted = []
        for row, knitted_runs in enumerate(self.rows):
            for run in knitted_runs:
                noted.append((row, run.stitches, run.yarn))
        for was, now in zip_longest(noted, planned):
            # Runs are left over that nobody knitted: the row is wider now.
            if was is None:
                raise PlanError(
                    f"The chart's first {rows} rows are not as they were knitted. Put them back, "
                    "or take the rows back first."
                )
            if was != now:
                row, stitches, yarn = was
                raise PlanError(
                    f"Row {row + 1} is knitted with {stitches} {yarn} where the plan would now "
                    "have something else. What is knitted stays: put back what was changed for "
                    "those rows (chart, way of working, embroidery), or take the rows back."
                )

    def _edges_left(self, runs: Runs) -> Numbers:
        """The edge where each run's yarn was left; woven along in the last row, where it hangs."""
        leave = runs.leave.copy()
        last_row = len(self.rows) - 1
        for number, run in enumerate(self.runs):
            # In earlier rows it has been worked since, and the carry counts from the run itself.
            is_last = runs.row[number] == last_row
            if is_last and run.hangs_at is not None:
                if run.hangs_at > runs.columns:
                    raise PlanError(
                        f"progress.csv, row {last_row + 1}: {run.strand} hangs at an edge beyond "
                        f"the {runs.columns} stitches of the chart. Correct it in the note."
                    )
                leave[number] = run.hangs_at
        return leave

    def _links(self, runs: Runs) -> Links:
        """The links that are knitted in, from each run to the next that its strand worked."""
        # The first run of each strand, and the last so far of each strand or half.
        first: dict[str, int] = {}
        last: dict[Part, int] = {}
        carries, middles = [], []
        for number, run in enumerate(self.runs):
            part = (run.strand, run.in_second_half)
            if part in last:
                carries.append((last[part], number))
            elif run.in_second_half:
                # Its other half must have left the entering edge free.
                begun = first.get(run.strand)
                if begun is None or not self.runs[begun].begins_from_middle:
                    raise PlanError(
                        f"progress.csv, row {runs.row[number] + 1}: {run.strand} has a second half "
                        "but was not begun from its middle."
                    )
                middles.append((begun, number))
            else:
                first[run.strand] = number
            last[part] = number
        links = Links.joined(
            link_pairs(runs, carries),
            link_middles(runs, middles),
        )
        in_working_order = np.argsort(links.b)
        return links[in_working_order]

    def _open_ports(self, count: int) -> tuple[Flags, Flags]:
        """By run, whether the yarn may go on from it, and whether a second half may begin there."""
        first: dict[str, int] = {}
        last: dict[Part, int] = {}
        for number, run in enumerate(self.runs):
            first.setdefault(run.strand, number)
            last[run.strand, run.in_second_half] = number

        # Only the last run of a strand, or of a half, has its yarn hanging.
        may_leave = np.zeros(count, dtype=bool)
        for number in last.values():
            may_leave[number] = not self.runs[number].cut
        # A length begun from its middle waits for its second half until that is worked.
        may_begin = np.zeros(count, dtype=bool)
        for strand, number in first.items():
            begun = self.runs[number].begins_from_middle
            taken_up = (strand, True) in last
            may_begin[number] = begun and not taken_up
        return may_leave, may_begin


def _read_note(note: str, row: int) -> tuple[KnittedRun, ...]:
    """The runs of a worked row from its note."""
    # A note may end with a comma.
    texts = [text.strip() for text in note.split(",")]
    return tuple(_read_run(text, row) for text in texts if text)


def _read_run(text: str, row: int) -> KnittedRun:
    """One run from its words, "9 N3" or "3 Y1 cut"."""
    match = NOTE.fullmatch(text)
    if not match:
        raise PlanError(
            f'progress.csv, row {row}: "{text}" cannot be read. It should be like "9 N3" or '
            '"3 Y1 cut".'
        )
    stitches, yarn, number, half, cut, edge = match.groups("")
    return KnittedRun(
        stitches=int(stitches),
        yarn=yarn,
        strand=yarn + number,
        half=half,
        cut=bool(cut),
        hangs_at=int(edge) if edge else None,
    )


def knitted_of(project: Project) -> Knitted | None:
    """What is knitted already of a piece, as its progress log has it; None if nothing is.

    Raises PlanError where the log does not fit the chart.
    """
    # Refuses a log of another piece before its notes are read.
    rows_worked(project.progress, project.row_totals())
    return Knitted.from_notes(notes_by_row(project.progress))


def note_row(strands: Strands, row: int) -> str:
    """How a worked row (from 1) of these strands is noted once it is knitted."""
    walk = Walk(strands)
    runs = np.flatnonzero(strands.runs.row == row - 1)
    notes = [_note_run(walk, run) for run in runs.tolist()]
    return ", ".join(notes)


def _note_run(walk: Walk, run: int) -> str:
    """How a run is noted: "9 N3", "1 W7 second half", "3 Y1 cut", "3 Y3 to 17"."""
    stitches = walk.runs.stitches[run]
    words = [f"{stitches} {walk.label(run)}"]

    # How the run's yarn comes: from the middle of its strand, or on the way in its second half.
    if run in walk.middle:
        second_run = walk.links.b[walk.middle[run]]
        words.append(SECOND if run == second_run else MIDDLE_START)
    elif walk.strands.half[run]:
        words.append(SECOND)

    # How it goes on.
    link = walk.out.get(run)
    if link is None:
        words.append("cut")
    elif walk.woven(link):
        next_run = walk.links.b[link]
        words.append(f"to {walk.runs.enter[next_run]}")
    return " ".join(words)

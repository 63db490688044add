"""Row cards: what the hands do in each worked row, and one row ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.piece import Project
from planner.rows.load import RowLoad
from planner.rows.phrases import Phrases, embroidered_in_words, how_to_cross, refills_in_words
from planner.strands import Strands
from planner.supplies import Held
from planner.units import counted


@dataclass(frozen=True)
class Card:
    """One worked row, counted from 1.

    `runs` are (strand, yarn, stitches, stitches so far) in working order; `steps` what to do at
    them; `ahead` what to do now, or to leave, for the next row; `hanging` (strand, edge from the
    left) as the yarns hang after it.
    """

    row: int
    chart_row: int
    name: str
    side: str
    works: str
    runs: tuple[tuple[str, str, int, int], ...]
    cross: str
    steps: tuple[str, ...]
    ahead: tuple[str, ...]
    hanging: tuple[tuple[str, int], ...]
    live: int
    load: str

    @property
    def title(self) -> str:
        """The row's name as a line begins with it: "Row 5 (RS)"."""
        return self.name[0].upper() + self.name[1:]

    def aloud(self) -> str:
        """The runs as they are read aloud: "3 A1, 12 B1, 7 A2"."""
        return ", ".join(f"{count} {strand}" for strand, _, count, _ in self.runs)

    def written(self) -> str:
        """The row as a pattern writes it: "Row 5 (RS): 10 A, 3 B, 19 A"."""
        return f"{self.title}: " + ", ".join(f"{count} {yarn}" for _, yarn, count, _ in self.runs)

    def __str__(self) -> str:
        in_all = self.runs[-1][3]
        lines = [f"{self.title}, {self.works}: {self.aloud()} ({in_all} stitches)"]
        if len(self.runs) > 1:
            lines.append(f"At each border: {self.cross}")
        lines += [f"- {step}" for step in self.steps]
        lines += [f"- One row ahead: {word}" for word in self.ahead]
        lines.append(f"{counted(self.live, 'strand')} live: {self.load}")
        return "\n".join(lines)


def make_cards(
    strands: Strands,
    held: Sequence[Held],
    loads: Sequence[RowLoad],
    project: Project,
    *,
    embroidered: np.ndarray,
) -> tuple[Card, ...]:
    """The card of each worked row, in order.

    `loads` comes from `load_by_row`; `embroidered` is the yarn to embroider each cell of the chart
    in, an index into its letters, −1 where there is none.
    """
    how, runs = strands.how, strands.runs
    phrases = Phrases(strands, held, project)
    hanging = phrases.walk.hanging()
    at_the_end = refills_in_words(held)
    afterwards = embroidered_in_words(embroidered, project.chart.letters, how)

    cards = []
    starts = np.searchsorted(runs.row, np.arange(runs.rows + 1))
    for load in loads:
        row = load.row
        in_row = range(int(starts[row]), int(starts[row + 1]))
        counted_runs = _count_stitches(strands, in_row)
        steps, ahead = _steps(phrases, in_row, counted_runs)
        if row == 0 and len(counted_runs) > 1:
            steps.insert(0, _cast_on(counted_runs, leftwards=bool(runs.leftwards[0])))
        steps += at_the_end.get(row, [])
        if row in afterwards:
            steps.append(afterwards[row])
        cards.append(
            Card(
                row=row + 1,
                chart_row=load.chart_row + 1,
                name=how.row_name(row),
                side=load.side,
                works=load.works,
                runs=tuple(counted_runs),
                cross=how_to_cross(how, load.side),
                steps=tuple(steps),
                ahead=tuple(ahead),
                hanging=tuple(sorted(hanging.get(row, []), key=lambda yarn: (yarn[1], yarn[0]))),
                live=load.live,
                load=load.load,
            )
        )
    return tuple(cards)


def _count_stitches(strands: Strands, in_row: range) -> list[tuple[str, str, int, int]]:
    """The runs of a row as the card has them, selvedge stitches at both ends of it included."""
    counted_runs = []
    so_far = 0
    for run in in_row:
        edges = (run == in_row[0]) + (run == in_row[-1])
        count = int(strands.runs.stitches[run]) + strands.how.selvedge * edges
        so_far += count
        label = strands.labels[int(strands.of_run[run])]
        letter = strands.chart.letters[int(strands.runs.yarn[run])]
        counted_runs.append((label, letter, count, so_far))
    return counted_runs


def _steps(
    phrases: Phrases, in_row: range, counted_runs: Sequence[tuple[str, str, int, int]]
) -> tuple[list[str], list[str]]:
    """What to do at the runs of a row, and for the next row, in working order."""
    steps, ahead = [], []
    for run, (label, _, count, _) in zip(in_row, counted_runs, strict=True):
        after, next_row = phrases.leaving(run)
        at_run = [words for words in (phrases.entering(run), after) if words]
        if at_run:
            steps.append(f"at {count} {label}: {'; then '.join(at_run)}")
        if next_row:
            ahead.append(next_row)
    return steps, ahead


def _cast_on(first_row: Sequence[tuple[str, str, int, int]], *, leftwards: bool) -> str:
    """How a first row of several strands is cast on; `leftwards` says which way it is worked."""
    from_right = first_row if leftwards else first_row[::-1]
    sections = ", ".join(f"{count} {label}" for label, _, count, _ in from_right)
    return f"cast on in sections, from the right: {sections}"

"""Row cards: what the hands do in each worked row, and one row ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from planner.piece import Project
from planner.rows.load import RowLoad, runs_by_row
from planner.rows.phrases import (
    Phrases,
    embroidered_in_words,
    how_to_cross,
    measured_off_in_words,
    refills_in_words,
)
from planner.strands import Strands, Walk
from planner.supplies import Held, Piece
from planner.units import counted


class CardRun(NamedTuple):
    """A run as a card has it, selvedge stitches counted in; `so_far` counts from the row's edge."""

    strand: str
    yarn: str
    stitches: int
    so_far: int


@dataclass(frozen=True)
class Card:
    """One worked row, counted from 1.

    `runs` are in working order; `cross` says how yarns are crossed at a border, and `join` how a
    turned round is closed ("" where nothing is joined); `steps` what to do at the runs; `ahead`
    what to do now, or to leave, for the next row; `hanging` (strand, edge from the left) as the
    yarns hang after it.
    """

    row: int
    chart_row: int
    name: str
    side: str
    works: str
    runs: tuple[CardRun, ...]
    cross: str
    join: str
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
        return ", ".join(f"{run.stitches} {run.strand}" for run in self.runs)

    def written(self) -> str:
        """The row as a pattern writes it: "Row 5 (RS): 10 A, 3 B, 19 A"."""
        runs = ", ".join(f"{run.stitches} {run.yarn}" for run in self.runs)
        return f"{self.title}: {runs}"

    def __str__(self) -> str:
        in_all = self.runs[-1].so_far
        lines = [f"{self.title}, {self.works}: {self.aloud()} ({in_all} stitches)"]
        # A row in one yarn has no border to cross at.
        if len(self.runs) > 1:
            lines.append(f"At each border: {self.cross}")
        if self.join:
            lines.append(f"At the join: {self.join}")
        lines += [f"- {step}" for step in self.steps]
        lines += [f"- One row ahead: {word}" for word in self.ahead]
        live = counted(self.live, "length")
        lines.append(f"{live} hanging: {self.load}")
        return "\n".join(lines)


def make_cards(
    strands: Strands,
    held: Sequence[Held],
    loads: Sequence[RowLoad],
    project: Project,
    *,
    pieces: Sequence[Piece],
    embroidered: np.ndarray,
) -> tuple[Card, ...]:
    """The card of each worked row, in order.

    `loads` comes from `load_by_row` and `pieces` from `winding_pieces`; `embroidered` is the yarn
    to embroider each cell of the chart in, an index into its letters, −1 where there is none.
    """
    how = strands.how
    phrases = Phrases(strands, pieces, project)
    hanging = phrases.walk.hanging()
    run_out = refills_in_words(held, project.units)
    measured_off = measured_off_in_words(pieces, project.units)
    afterwards = embroidered_in_words(embroidered, project.chart.letters, how)

    cards = []
    by_row = runs_by_row(strands.runs)
    runs_by_card = _count_stitches(strands, phrases.walk, by_row)
    for load, in_row, on_card in zip(loads, by_row, runs_by_card, strict=True):
        row = load.row
        steps, ahead = _steps(phrases, in_row, on_card)
        # What stands before the first stitch comes first; where in its row a piece runs out nobody
        # can tell, so that comes after what is done at known places.
        if row == 0 and len(on_card) > 1:
            leftwards = bool(strands.runs.leftwards[0])
            steps.insert(0, _cast_on(on_card, leftwards=leftwards))
        steps = measured_off.get(row, []) + steps + run_out.get(row, [])
        if row in afterwards:
            steps.append(afterwards[row])
        from_the_left = sorted(hanging.get(row, []), key=itemgetter(1, 0))
        cards.append(
            Card(
                row=row + 1,
                chart_row=load.chart_row + 1,
                name=how.row_name(row),
                side=load.side,
                works=load.works,
                runs=on_card,
                cross=how_to_cross(how, load.side),
                join=phrases.closing(row),
                steps=tuple(steps),
                ahead=tuple(ahead),
                hanging=tuple(from_the_left),
                live=load.live,
                load=load.load,
            )
        )
    return tuple(cards)


def _count_stitches(
    strands: Strands, walk: Walk, by_row: Sequence[range]
) -> list[tuple[CardRun, ...]]:
    """The runs of each row as its card has them."""
    letters = strands.chart.letters
    yarns = strands.runs.yarn.tolist()
    stitches = strands.runs.stitches.tolist()
    # The chart has no selvedge: it is worked in the yarn beside it, at both ends of the row. A run
    # from edge to edge has both.
    for in_row in by_row:
        stitches[in_row[0]] += strands.how.selvedge
        stitches[in_row[-1]] += strands.how.selvedge

    cards = []
    for in_row in by_row:
        on_card = []
        so_far = 0
        for run in in_row:
            so_far += stitches[run]
            letter = letters[yarns[run]]
            on_card.append(CardRun(walk.title(run), letter, stitches[run], so_far))
        cards.append(tuple(on_card))
    return cards


def _steps(
    phrases: Phrases, in_row: range, on_card: Sequence[CardRun]
) -> tuple[list[str], list[str]]:
    """What to do at the runs of a row, and for the next row, in working order."""
    steps, ahead = [], []
    for run, counted_run in zip(in_row, on_card, strict=True):
        before = phrases.entering(run)
        after, for_next_row = phrases.leaving(run)
        if before or after:
            # A knitter finds the place by the run as it was read aloud.
            place = f"at {counted_run.stitches} {counted_run.strand}"
            words = "; then ".join(filter(None, [before, after]))
            steps.append(f"{place}: {words}")
        if for_next_row:
            ahead.append(for_next_row)
    return steps, ahead


def _cast_on(first_row: Sequence[CardRun], *, leftwards: bool) -> str:
    """How a first row of several strands is cast on; `leftwards` says which way it is worked."""
    # The chart is read from the right, whichever way the first row will be worked.
    from_right = first_row if leftwards else first_row[::-1]
    sections = ", ".join(f"{run.stitches} {run.strand}" for run in from_right)
    return f"cast on in sections, from the right: {sections}"

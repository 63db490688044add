"""Choices told by what lies beside them: "Cream (W) behind Rust (R), rows 35–39".

A knitter finds "behind the rust" on the chart faster than "stitch 16". Carries of one yarn behind
the same yarns, in rows that follow each other, are told together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices.places import choice_in_words
from planner.choices.spots import Spots
from planner.piece import OwnChoice, Project
from planner.strands import Strands
from planner.units import counted, listed, stretches

BESIDE = ((0, 1), (0, -1), (1, 0), (-1, 0))  # rows up and columns aside of what touches a cell


@dataclass(frozen=True)
class Told:
    """Choices that are told together, in words."""

    words: str
    choices: tuple[OwnChoice, ...]


@dataclass
class _Carries:
    """Carries of one yarn behind the same yarns, in rows that follow each other."""

    yarn: str
    behind: tuple[str, ...]
    rows: list[int]  # worked rows, from 1
    columns: set[int]
    choices: list[OwnChoice]

    def is_followed_by(self, carry: _Carries) -> bool:
        """Whether a carry, in the same row or the next one, belongs to these."""
        if carry.yarn != self.yarn or carry.behind != self.behind:
            return False
        follows = carry.rows[0] - self.rows[-1] <= 1
        return follows and not carry.columns.isdisjoint(self.columns)

    def add(self, carry: _Carries) -> None:
        """Tell a carry together with these."""
        self.rows += carry.rows
        self.columns |= carry.columns
        self.choices += carry.choices


def tell_choices(
    choices: Sequence[OwnChoice],
    project: Project,
    strands: Strands,
    areas: np.ndarray,
) -> list[Told]:
    """The choices in words, by what lies beside them: what is embroidered first, then carries.

    `strands` are those the choices are about, `areas` the colour areas of the chart as drawn.
    """
    telling = _Telling(project, strands, areas)
    told, behind = [], []
    for choice in choices:
        if choice.about == "embroider":
            told.append(Told(telling.embroidery(choice), (choice,)))
        elif choice.choice == "yes" and len(telling.spots.behind(choice)):
            behind.append(choice)
    for carries in telling.together(behind):
        told.append(Told(telling.carries(carries), tuple(carries.choices)))
    # What is left is told one by one: carries to another row, and what is cut.
    already = {choice for each in told for choice in each.choices}
    for choice in choices:
        if choice not in already:
            told.append(Told(telling.single(choice), (choice,)))
    return told


class _Telling:
    def __init__(self, project: Project, strands: Strands, areas: np.ndarray):
        self.project = project
        self.strands = strands
        self.chart = project.chart
        self.spots = Spots(project.chart, project.how, areas, strands.runs)

    def embroidery(self, choice: OwnChoice) -> str:
        """An area to embroider, and the yarns that it lies among."""
        cells = self.spots.cells(choice)
        if not len(cells):
            return choice_in_words(choice, self.strands)
        rows, columns = np.divmod(cells, self.chart.columns)
        times = self.project.how.rows_per_chart_row
        worked: list[int] = []
        for row in np.unique(rows).tolist():
            first = row * times + 1
            worked += range(first, first + times)
        what = f"embroider {self._title(choice.yarn)}"
        beside = self._yarns_beside(rows, columns)
        if beside:
            what += f" in {self._titles(beside)}"
        size = counted(len(cells) * times, "stitch")
        return f"{what}: {size}, {self._rows(worked)}, {self._stitches(columns)}"

    def together(self, carries: Iterable[OwnChoice]) -> list[_Carries]:
        """Carries within a row, those that belong together together."""
        found: list[_Carries] = []
        for carry in sorted(carries, key=lambda carry: carry.row):
            cells = self.spots.behind(carry)
            yarns = np.unique(self.chart.cells.ravel()[cells])
            # In one order, from whichever side they are met.
            behind = tuple(self.chart.letters[yarn] for yarn in yarns.tolist())
            columns = set((cells % self.chart.columns).tolist())
            alone = _Carries(carry.yarn, behind, [carry.row], columns, [carry])
            before = [each for each in found if each.is_followed_by(alone)]
            if before:
                before[0].add(alone)
            else:
                found.append(alone)
        return found

    def carries(self, carries: _Carries) -> str:
        """Carries behind the stitches of a row, in rows that follow each other."""
        columns = np.array(sorted(carries.columns))
        rows = sorted(set(carries.rows))
        number = len(carries.choices)
        times = f" ({number} times)" if number > 1 else ""
        what = f"carry {self._title(carries.yarn)} behind {self._titles(carries.behind)}"
        return f"{what}: {self._rows(rows)}, {self._stitches(columns)}{times}"

    def single(self, choice: OwnChoice) -> str:
        """A carry to another row, a carry that is cut, or a middle start given up."""
        way = self.spots.way(choice)
        if way is None:
            return choice_in_words(choice, self.strands)
        verb = "do not carry" if choice.choice == "no" else "carry"
        shift = abs(way.to_edge - way.from_edge)
        aside = f", {counted(shift, 'stitch')} aside" if shift else ""
        goes_to = choice.part.split()[2]  # "to row 9 stitch 4"
        word = self.project.how.row_word
        from_where = f"from {word} {choice.row}, stitch {choice.stitch}"
        return f"{verb} {self._title(choice.yarn)} {from_where}, to {word} {goes_to}{aside}"

    def _title(self, letter: str) -> str:
        return self.project.all_yarns[letter].title

    def _titles(self, letters: Sequence[str]) -> str:
        """Yarns in a row: "R Rust", "N Midnight, W Cream and R Rust"."""
        return listed([self._title(letter) for letter in letters])

    def _yarns_beside(self, rows: np.ndarray, columns: np.ndarray) -> list[str]:
        """The yarns of the cells that touch these, the most frequent first."""
        # Beyond its edges the chart has no stitch, which is −1 in it.
        framed = np.pad(self.chart.cells, 1, constant_values=-1)
        own = self.chart.cells[rows[0], columns[0]]
        met: Counter[int] = Counter()
        for up, aside in BESIDE:
            yarns = framed[rows + 1 + up, columns + 1 + aside]
            met.update(yarns.tolist())
        return [self.chart.letters[yarn] for yarn, _ in met.most_common() if yarn not in (own, -1)]

    def _rows(self, rows: Sequence[int]) -> str:
        """These rows or rounds, from 1: "rows 35–39"."""
        word = self.project.how.row_word
        plural = "" if len(rows) == 1 else "s"
        return f"{word}{plural} {', '.join(stretches(rows))}"

    def _stitches(self, columns: np.ndarray) -> str:
        """Which stitches these columns are, from the right."""
        first = self.chart.columns - int(columns.max())
        last = self.chart.columns - int(columns.min())
        return f"stitch {first}" if first == last else f"stitches {first}–{last}"

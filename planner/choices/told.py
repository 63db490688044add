"""Choices told by what lies beside them: "Cream (W) behind Rust (R), rows 35–39".

A knitter finds "behind the rust" on the chart faster than "stitch 16". Carries of one yarn behind
the same yarns, in rows that follow each other, are told together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices.places import choice_in_words
from planner.choices.spots import Spots
from planner.piece import OwnChoice, Project
from planner.strands import Strands
from planner.units import counted, stretches


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

    def goes_on(self, yarn: str, behind: tuple[str, ...], row: int, columns: set[int]) -> bool:
        """Whether a carry in this row, behind these columns, belongs to these."""
        is_alike = (yarn, behind) == (self.yarn, self.behind)
        follows = row - self.rows[-1] in (0, 1)
        return is_alike and follows and not columns.isdisjoint(self.columns)


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
        worked = sorted({row * times + working + 1 for row in rows for working in range(times)})
        beside = self._yarns_beside(rows, columns)
        among = f" in {_and(map(self._title, beside))}" if beside else ""
        size = counted(len(cells) * times, "stitch")
        return (
            f"embroider {self._title(choice.yarn)}{among}: {size}, {self._rows(worked)}, "
            f"{self._stitches(columns)}"
        )

    def together(self, carries: Iterable[OwnChoice]) -> list[_Carries]:
        """Carries within a row, those that belong together together."""
        found: list[_Carries] = []
        for carry in sorted(carries, key=lambda carry: carry.row):
            rows, columns = np.divmod(self.spots.behind(carry), self.chart.columns)
            yarns = self.chart.cells[rows, columns]
            behind = tuple(self.chart.letters[yarn] for yarn in dict.fromkeys(yarns.tolist()))
            # From the other side the same yarns are met in the other order.
            behind = tuple(sorted(behind))
            spans = set(columns.tolist())
            place = carry.yarn, behind, carry.row, spans
            before = next((each for each in found if each.goes_on(*place)), None)
            if before is None:
                found.append(_Carries(carry.yarn, behind, [carry.row], spans, [carry]))
                continue
            before.rows.append(carry.row)
            before.columns |= spans
            before.choices.append(carry)
        return found

    def carries(self, carries: _Carries) -> str:
        """Carries behind the stitches of a row, in rows that follow each other."""
        behind = _and(map(self._title, carries.behind))
        columns = np.array(sorted(carries.columns))
        times = ""
        if len(carries.choices) > 1:
            times = f" ({len(carries.choices)} times)"
        return (
            f"carry {self._title(carries.yarn)} behind {behind}: "
            f"{self._rows(sorted(set(carries.rows)))}, {self._stitches(columns)}{times}"
        )

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

    def _yarns_beside(self, rows: np.ndarray, columns: np.ndarray) -> list[str]:
        """The yarns of the cells that touch these, the most frequent first."""
        cells = self.chart.cells
        own = cells[rows[0], columns[0]]
        met: dict[int, int] = {}
        for up, aside in ((0, 1), (0, -1), (1, 0), (-1, 0)):
            beside_rows, beside_columns = rows + up, columns + aside
            inside = (beside_rows >= 0) & (beside_rows < self.chart.rows)
            inside &= (beside_columns >= 0) & (beside_columns < self.chart.columns)
            for yarn in cells[beside_rows[inside], beside_columns[inside]].tolist():
                if yarn not in (own, -1):
                    met[yarn] = met.get(yarn, 0) + 1
        often_first = sorted(met, key=lambda yarn: (-met[yarn], yarn))
        return [self.chart.letters[yarn] for yarn in often_first]

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


def _and(words: Iterable[str]) -> str:
    """Words in a row: "Rust (R)", "Rust (R) and Cream (W)"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last

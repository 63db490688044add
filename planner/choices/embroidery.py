"""Embroidery afterwards, in duplicate stitch: what is embroidered, and the yarn it takes."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.choices.asked import Asked
from planner.piece import Construction, Project
from planner.supplies import TO_EMBROIDER, Piece, Planned
from planner.units import counted, show_total

ENDS = 2  # of each embroidered area: it is worked with a length of its own


@dataclass(frozen=True, eq=False)
class Embroidery:
    """What is embroidered, one entry an area in every array, in working order.

    area
        Its number on the chart as drawn.
    yarn, grounds
        Its yarn, and the yarns knitted beneath it, in alphabetical order.
    first_chart_row, last_chart_row, first_stitch
        Where it lies, from 1; the first stitch from the right.
    stitches
        Worked stitches: in garter both rows of a ridge count.
    length_cm
        The yarn it takes, cm, two tails included.
    """

    area: np.ndarray
    yarn: np.ndarray
    grounds: tuple[tuple[str, ...], ...]
    first_chart_row: np.ndarray
    last_chart_row: np.ndarray
    first_stitch: np.ndarray
    stitches: np.ndarray
    length_cm: np.ndarray

    def __len__(self) -> int:
        return len(self.area)

    @property
    def ends(self) -> int:
        """Ends of all areas together."""
        return ENDS * len(self)

    def pieces(self, how: Construction) -> list[Piece]:
        """A length to cut for each area, after all that is knitted with."""
        numbers: Counter[str] = Counter()
        pieces = []
        for area, letter in enumerate(self.yarn.tolist()):
            numbers[letter] += 1
            name = f"embroidery {letter}{numbers[letter]}"
            row = int(self.first_chart_row[area] - 1) * how.rows_per_chart_row
            pieces.append(
                Piece(
                    label=name,
                    part=name,
                    strand=name,
                    yarn=letter,
                    supply=TO_EMBROIDER,
                    length_cm=float(self.length_cm[area]),
                    halves_cm=None,
                    rule_cm=None,
                    row=row,
                    side=how.side(row),
                    stitch=int(self.first_stitch[area]),
                    place=f"at stitch {int(self.first_stitch[area])}",
                    # It is cut when the piece is finished, and hangs in no row.
                    order=math.inf,
                    refill=0,
                    begins=math.inf,
                    done=math.inf,
                )
            )
        return pieces

    def table(self) -> pd.DataFrame:
        """One row an area, in working order; lengths in cm."""
        return pd.DataFrame(
            {
                "area": self.area,
                "yarn": self.yarn,
                "ground": [", ".join(letters) for letters in self.grounds],
                "first_chart_row": self.first_chart_row,
                "last_chart_row": self.last_chart_row,
                "first_stitch": self.first_stitch,
                "stitches": self.stitches,
                "length_cm": self.length_cm,
                "ends": np.full(len(self), ENDS),
            }
        )


def measure_embroidery(
    project: Project,
    asked: Asked,
    planned: Planned,
) -> Embroidery:
    """What is embroidered: the areas in which the chart to be knitted differs from the one drawn.

    A duplicate stitch is taken to use `embroider_factor` times the yarn of a knitted one: an
    assumption.
    """
    # What differs is what is embroidered; there is no other list of it.
    drawn, knit = project.chart, asked.chart
    differs = np.flatnonzero(knit.cells != drawn.cells)
    rows, columns = np.divmod(differs, drawn.columns)
    # By area its number, its first cell and how many it has; by cell the place of its area.
    area, first, place, cells = np.unique(
        asked.areas[rows, columns],
        return_index=True,
        return_inverse=True,
        return_counts=True,
    )
    # Cells come row by row from the bottom: the first of an area is in its first row, and of all
    # rows written into one place the last one stays.
    first_row = rows[first]
    last_row = np.zeros_like(first_row)
    last_row[place] = rows
    rightmost = np.zeros_like(first_row)
    in_first_row = rows == first_row[place]
    np.maximum.at(rightmost, place[in_first_row], columns[in_first_row])

    letters = np.array(drawn.letters, dtype=object)
    yarn = drawn.cells[first_row, columns[first]]
    grounds = letters[knit.cells[rows, columns]]
    stitches = cells * project.how.rows_per_chart_row
    return Embroidery(
        area=area,
        yarn=letters[yarn],
        grounds=_grounds(place, grounds, len(area)),
        first_chart_row=first_row + 1,
        last_chart_row=last_row + 1,
        first_stitch=drawn.columns - rightmost,
        stitches=stitches,
        length_cm=lengths_to_embroider(project, planned, letters[yarn], stitches),
    )


def _grounds(
    place: np.ndarray,
    letters: np.ndarray,
    count: int,
) -> tuple[tuple[str, ...], ...]:
    """The letters beneath each of so many areas, from the letter beneath each cell."""
    beneath: list[set[str]] = [set() for _ in range(count)]
    cells = zip(place.tolist(), letters.tolist(), strict=True)
    for area, letter in set(cells):
        beneath[area].add(letter)
    return tuple(tuple(sorted(of_area)) for of_area in beneath)


def lengths_to_embroider(
    project: Project,
    planned: Planned,
    letters: np.ndarray,
    stitches: np.ndarray,
) -> np.ndarray:
    """The yarn that each area takes, two tails included, cm: its letter and stitches by area."""
    width_cm = stitches * project.gauge.stitch_cm
    knitted_cm = np.zeros(len(letters))
    # All areas of a yarn at once: plans are priced by the hundred.
    for letter in np.unique(letters).tolist():
        of_yarn = letters == letter
        knitted_cm[of_yarn] = planned.cm(letter, width_cm[of_yarn])
    allow = project.allow
    tails_cm = ENDS * allow.tail_cm
    return knitted_cm * allow.embroider_factor + tails_cm


def embroidery_in_words(embroidery: Embroidery | pd.DataFrame) -> str:
    """The embroidery, or its table, in a few words: "3 areas, 15 stitches"."""
    areas = counted(len(embroidery), "area")
    stitches = counted(int(embroidery.stitches.sum()), "stitch")
    return f"{areas}, {stitches}"


def embroidery_in_full(embroidery: Embroidery, length_cm: float, project: Project) -> str:
    """What is embroidered afterwards, and its yarn, refills of it included, in a sentence."""
    length = show_total(length_cm, project.units)
    return (
        f"Embroidered after blocking: {embroidery_in_words(embroidery)}, {length} of yarn if a "
        f"duplicate stitch takes {project.allow.embroider_factor:g} times as much as a knitted one "
        "(assumption: measure yours)."
    )

"""The practice piece: a small chart of the techniques that a class is to try, one above another.

Each technique has a band of rows between plain rows of the ground, so that the piece is cast on and
bound off in one yarn. Where one band ends and the next begins, yarns go on as far as they can.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from planner.charts import LINE, MIDDLE_START, SLANT, VERTICAL
from planner.errors import PlanError
from planner.piece import (
    SWATCH_IN,
    Allowances,
    CarryLimits,
    Chart,
    Construction,
    Habits,
    Project,
    Yarn,
)

PATCH = "small patch"
# In the order in which they are met from the cast-on: each needs a little more than the one before.
TECHNIQUES = (VERTICAL, SLANT, MIDDLE_START, LINE, PATCH)
IN_WORDS = {
    VERTICAL: "vertical border",
    SLANT: "slant",
    MIDDLE_START: "V from the middle",
    LINE: "ground behind a line",
    PATCH: "small patch",
}
STITCHES, ROWS = 24, 30
PLAIN_ROWS = 2  # of the ground, below the bands and above them
MIDDLE = STITCHES // 2
# How far the slant leans to either side, how high a V is, and the side of a patch.
LEAN, HIGHEST_V, PATCH_SIDE = 5, 8, 4
SWATCH_CM = 6  # enough to find one's figure for a stitch
_, IN_GROUND, _ = SWATCH_IN
LINE_AT = 16  # the column, from the left, of the line of single stitches
GROUND, FIRST, SECOND = LETTERS = ("A", "B", "C")

# Of three lightnesses, so that they are told apart by any eye and on a grey print.
COLOURS = {
    GROUND: ("Pale", "#eee3c8"),
    FIRST: ("Middle", "#3f8f8b"),
    SECOND: ("Dark", "#3a2a4d"),
}


def practice_piece(like: Project, techniques: Collection[str] = TECHNIQUES) -> Project:
    """The practice piece of these techniques as a project of its own, flat, in stockinette.

    Gauge, needle, units, tails and working hand are those of the project `like`; its yarns are
    pale, middle and dark, all of the weight of the project's first yarn. Raises PlanError where no
    technique is chosen.
    """
    chart = practice_chart(techniques)
    usual = CarryLimits()
    # The ground runs behind a line of one stitch, and nothing else does. What is begun from its
    # middle is the V alone, so that the ground beside it asks for no thought.
    ground = replace(usual, across=int(LINE in techniques), middle_start=False)
    return Project(
        name="Practice piece",
        chart=chart,
        yarns={letter: _yarn_like(like, letter) for letter in chart.letters},
        gauge=like.gauge,
        how=Construction(hand=like.how.hand),
        limits=usual,
        by_yarn={GROUND: ground},
        allow=Allowances(
            tail_cm=like.allow.tail_cm,
            swatch_cm=SWATCH_CM,
            swatch_in=IN_GROUND,
        ),
        habits=Habits(),
        units=like.units,
        needle=like.needle,
    )


def _yarn_like(like: Project, letter: str) -> Yarn:
    """A yarn of the practice piece, its band as that of the first yarn of a project."""
    name, colour = COLOURS[letter]
    first = like.all_yarns[like.chart.letters[0]]
    return Yarn(
        letter,
        name,
        colour,
        metres_per_ball=first.metres_per_ball,
        grams_per_ball=first.grams_per_ball,
        label_stitches_10cm=first.label_stitches_10cm,
    )


def practice_chart(techniques: Collection[str]) -> Chart:
    """The chart of these techniques, each in its band, 24 stitches × 30 rows."""
    unknown = [each for each in techniques if each not in TECHNIQUES]
    if unknown or not techniques:
        raise PlanError(
            "A practice piece is made of one technique or more; they are "
            f"{', '.join(IN_WORDS.values())}. Choose from them."
        )
    cells = np.zeros((ROWS, STITCHES), dtype=int)
    for technique, (first, last) in bands_of(techniques).items():
        _DRAWN[technique](cells[first - 1 : last])
    letters = [[LETTERS[cell] for cell in row] for row in cells]
    # A chart is given top row first.
    return Chart.from_rows(letters[::-1], source="The practice piece")


def bands_of(techniques: Collection[str]) -> dict[str, tuple[int, int]]:
    """The first and the last row, from 1, of each technique, in the order in which they come."""
    chosen = [each for each in TECHNIQUES if each in techniques]
    edges = np.linspace(PLAIN_ROWS, ROWS - PLAIN_ROWS, len(chosen) + 1).round().astype(int)
    bands = {}
    for number, technique in enumerate(chosen):
        bands[technique] = (int(edges[number]) + 1, int(edges[number + 1]))
    return bands


def rows_drawn(techniques: Collection[str]) -> dict[str, tuple[int, int]]:
    """The first and the last row, from 1, in which each technique is seen in its band."""
    seen = {}
    for technique, (first, last) in bands_of(techniques).items():
        band = np.zeros((last - first + 1, STITCHES), dtype=int)
        _DRAWN[technique](band)
        # A plain row of the ground below or above belongs to the band alone.
        rows = np.flatnonzero(band.any(axis=1)) + first
        seen[technique] = (int(rows[0]), int(rows[-1]))
    return seen


# ---- the bands: arrays of rows × stitches, bottom row first, in places of LETTERS


def _vertical(band: np.ndarray) -> None:
    """Left half and right half."""
    band[:, :MIDDLE] = 1


def _slant(band: np.ndarray) -> None:
    """A border that moves a stitch in each row, to and fro."""
    border, step = MIDDLE, 1
    for row in band:
        border += step
        row[:border] = 1
        if abs(border - MIDDLE) == LEAN:
            step = -step


def _v(band: np.ndarray) -> None:
    """A V of two branches, two stitches wide; in a high band one above another."""
    for number, row in enumerate(band):
        place = number % (HIGHEST_V + 1)
        # A plain row parts two of them.
        if place == HIGHEST_V:
            continue
        for branch in (MIDDLE - 2 - place, MIDDLE + place):
            row[branch : branch + 2] = 2


def _line(band: np.ndarray) -> None:
    """A line of single stitches in the ground."""
    # Below it a row of one length of the ground: so there is one that can run behind the line.
    band[1:, LINE_AT] = 1


def _patch(band: np.ndarray) -> None:
    """A square of a few stitches; in a high band one above another, to and fro."""
    step = PATCH_SIDE + 1
    for number, first in enumerate(range(0, len(band), step)):
        left = (MIDDLE - 6, MIDDLE + 2)[number % 2]
        band[first : first + PATCH_SIDE, left : left + PATCH_SIDE] = 2


_DRAWN: dict[str, Callable[[np.ndarray], None]] = {
    VERTICAL: _vertical,
    SLANT: _slant,
    MIDDLE_START: _v,
    LINE: _line,
    PATCH: _patch,
}

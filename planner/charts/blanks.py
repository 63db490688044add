"""Cells of a picture that are no stitches, and headings beside the chart that are none of it.

Where a piece is shaped a chart leaves cells out: bare, or grey, hatched, crossed. They lie at the
rim of the chart, at corners of it, and nothing like them lies within. Whether a pale yarn looks so
only the knitter knows, so she is asked.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.ndimage import label

from planner.charts.palette import Lab, Mask, Numbers, Rgb, delta_e, lab_of
from planner.charts.picture import Box
from planner.charts.questions import CHOICES, Question
from planner.charts.signs import Signs
from planner.units import counted

ARE_BLANKS = "are they stitches of the ground, or no stitches?"

AS_PAPER = 4.0  # ΔE*ab
NEUTRAL = 7.0  # chroma (C*ab) of a grey
GREYS = (50.0, 93.0)  # L* of a grey that says "no stitch"
MOST_LEFT_OUT = 0.5  # of all cells
FEWEST_CORNERS = 2
MARKED = 0.04  # of a cell; more ink than this is a mark
MOSTLY = 0.8  # of the cells of a heading hold a number or a letter
CORNER = 4  # cells, at most, where two headings meet
NEAR_HEADING = 14.0  # L*: what an edge of the picture adds
UNMARKED = -2
ELSEWHERE = 0.3  # of the chart's own cells do, at most


class Blanks(NamedTuple):
    """Cells (rows × stitches) that may be no stitches, what they look like, whether it is sure."""

    cells: Mask
    words: str
    is_likely: bool


def find_blanks(shown: Rgb, signs: Signs, *, bare: Mask | None, paper: Rgb) -> Blanks | None:
    """The cells that may be no stitches; None where there are none.

    `shown` are their colours, `bare` those without lines.
    """
    lab = lab_of(shown)
    as_paper = delta_e(lab, lab_of(paper)) < AS_PAPER
    if bare is not None:
        clear = bare & as_paper
        if clear.any() and clear.mean() <= MOST_LEFT_OUT:
            return Blanks(clear, "without lines around them", True)
    marked = signs.ink > MARKED
    for look, words, is_likely in _looks(lab, as_paper, marked, signs):
        if not look.any() or look.mean() > MOST_LEFT_OUT:
            continue
        if _is_all_at_the_rim(look) and _corners(look) >= FEWEST_CORNERS:
            return Blanks(look, words, is_likely)
    return None


def _looks(lab: Lab, as_paper: Mask, marked: Mask, signs: Signs) -> list[tuple[Mask, str, bool]]:
    """How cells without a stitch may look, each with the words for it, the clearest first."""
    lightness = lab[..., 0]
    is_grey = (np.hypot(lab[..., 1], lab[..., 2]) < NEUTRAL) & ~as_paper
    is_grey &= (lightness > GREYS[0]) & (lightness < GREYS[1])
    looks = []
    # Strokes on paper, where the rest of the chart has none: crossed out or hatched.
    crossed = as_paper & marked
    if crossed.any() and marked[~crossed].mean() < ELSEWHERE:
        looks.append((crossed, "crossed out or hatched", True))
    looks.append((is_grey & ~marked, "grey", True))
    looks.append((as_paper & ~marked, "white as the paper", False))
    return looks


def _is_all_at_the_rim(look: Mask) -> bool:
    """Whether every stretch of these cells reaches the rim of the chart."""
    numbered, count = label(look)
    rim = np.zeros_like(look)
    rim[0] = rim[-1] = True
    rim[:, 0] = rim[:, -1] = True
    at_rim = set(np.unique(numbered[rim])) - {0}
    return len(at_rim) == count


def _corners(look: Mask) -> int:
    return int(look[0, 0]) + int(look[0, -1]) + int(look[-1, 0]) + int(look[-1, -1])


def are_no_stitches(
    left_out: Blanks, told: str | None, notes: list[str], asks: list[Question]
) -> bool:
    """Whether cells are no stitches, as it is told or likely; what is asked of it."""
    cells = counted(int(left_out.cells.sum()), "cell")
    what = f"{cells} at the rim, {left_out.words}"
    taken = told or ("no stitch" if left_out.is_likely else "ground")
    if told is None:
        asks.append(Question("blanks", f"{what}: {ARE_BLANKS}", CHOICES["blanks"], taken))
    if taken == "no stitch":
        notes.append(f"{what}, are taken as no stitch")
    return taken == "no stitch"


def paper_around(pixels: Rgb, box: Box) -> Rgb:
    """The colour around a grid; white where nothing is around it."""
    left, top, right, bottom = (round(each) for each in box)
    width = pixels.shape[1]
    strips = [
        pixels[max(0, top - 6) : max(0, top - 2), left:right],
        pixels[bottom + 3 : bottom + 7, left:right],
        pixels[top:bottom, max(0, left - 6) : max(0, left - 2)],
        pixels[top:bottom, right + 3 : right + 7],
    ]
    around = np.concatenate([strip.reshape(-1, 3) for strip in strips])
    if not len(around) or not (left > 0 and right < width):
        return np.full(3, 255, np.uint8)
    return np.median(around, axis=0).astype(np.uint8)


class Headings(NamedTuple):
    """How many lines of cells at each side of a chart are headings."""

    top: int
    bottom: int
    left: int
    right: int


def find_headings(shown: Rgb, signs: Signs) -> Headings:
    """Rows and columns at the rim that hold numbers or letters on one ground, unlike the chart."""
    marked = signs.ink > MARKED
    sign = np.where(marked, signs.sign, UNMARKED)
    lab = lab_of(shown)
    top = _headings(sign, lab)
    bottom = _headings(sign[::-1], lab[::-1])
    across, colours = sign.T, lab.swapaxes(0, 1)
    left = _headings(across, colours)
    right = _headings(across[::-1], colours[::-1])
    if (top or bottom) and not left:
        head = marked[0 if top else -1]
        left = _wide_heading(colours, head)
    return Headings(top, bottom, left, right)


def _wide_heading(lab: Lab, head: Mask) -> int:
    """How many of the first lines are a heading that is wider than a cell, beside another one.

    Its numbers lie across the lines of the grid, so that they may not be seen; but the corner where
    it meets the other heading holds no letter, as all cells of that do over the chart.
    """
    found = 0
    while found < 3 and not head[found]:
        line = lab[found, 2:-2]
        is_one_ground = np.ptp(line, axis=0).max() < NEAR_HEADING
        is_neutral = np.hypot(*np.median(line, axis=0)[1:]) < NEUTRAL
        if not is_one_ground or not is_neutral:
            break
        found += 1
    return found


def _headings(sign: Numbers, lab: Lab) -> int:
    """How many of the first rows are headings; `sign` is that of each cell, or UNMARKED."""
    marked = sign != UNMARKED
    found = 0
    while found < min(3, len(marked) - 2):
        row, rest = marked[found], marked[found + 1 :]
        # The corner where two headings meet is empty.
        is_one_ground = np.ptp(lab[found, 1:-1], axis=0).max() < AS_PAPER
        is_neutral = np.hypot(*np.median(lab[found], axis=0)[1:]) < NEUTRAL
        inner = rest[:, 2:] if rest.shape[1] > 4 else rest
        if not (is_one_ground and is_neutral) or inner.mean() > ELSEWHERE:
            break
        is_full = _is_full(row) and _are_its_own(sign, found)
        # A wide heading takes up several columns, of which some hold no number.
        goes_on = found > 0 and (delta_e(lab[found], lab[found - 1]).max() < AS_PAPER)
        if not is_full and not goes_on and not _ahead(sign, lab, found):
            break
        found += 1
    return found


def _is_full(row: Mask) -> bool:
    """Whether nearly all cells of a heading hold something, the corner left out."""
    corner = int(row[:CORNER].argmax()) if row[:CORNER].any() else 1
    return bool(row[max(1, corner) :].mean() >= MOSTLY)


def _are_its_own(sign: Numbers, row: int) -> bool:
    """Whether what stands in a row is not what stands in the chart, as numbers are not."""
    marks = sign[row][sign[row] != UNMARKED]
    # The chart has headings at its other sides, too, perhaps.
    chart = sign[row + 1 : -3, 2:-2]
    return np.isin(marks, chart).mean() < MOSTLY


def _ahead(sign: Numbers, lab: Lab, row: int) -> bool:
    """Whether the next row is a full heading on the same ground."""
    if row + 1 >= len(sign):
        return False
    is_alike = delta_e(lab[row + 1, 1:], lab[row, 1:]).max() < AS_PAPER
    is_full = _is_full(sign[row + 1] != UNMARKED)
    return bool(is_alike and is_full and _are_its_own(sign, row + 1))

"""What tells the yarns of a chart in a picture apart: the colours of its cells, or their signs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.charts.palette import (
    MOST_COLOURS_IN_A_PICTURE,
    Mask,
    Numbers,
    Rgb,
    delta_e,
    flat_colours,
    from_hex,
    has_few,
    lab_of,
    pick_colours,
    rgb_of_lab,
)
from planner.charts.questions import Question
from planner.charts.signs import Signs
from planner.units import counted

# ΔE*ab, by eye on scans: what is nearer is one colour with what the scanner or JPEG added to it.
SAME_COLOUR = 10
SURE_OF_A_SIGN = 0.75  # how far it covers the others of its kind
FEWEST_SIGNS = 0.1  # of the cells, for signs to be what tells yarns apart
NEAR_ANOTHER = 28.0  # ΔE*ab between a colour of hardly any cells and one of many
DARKEST_INK = 40.0  # L* of what counts as ink
ARE_SIGNS = "Cells of one colour hold different signs. Do the signs tell the yarns apart?"

Words = np.ndarray


def palette_of(shown: Rgb, yarns: Sequence[str], count: int | None) -> Rgb:
    """The yarns given, else the colours of what is shown in the cells (rows × stitches × 3)."""
    if len(yarns) > 0:
        return from_hex(yarns)
    colours = shown.reshape(-1, 3)
    if count is not None:
        return pick_colours(colours, count, flat=True)
    if has_few(shown, MOST_COLOURS_IN_A_PICTURE):
        # Drawn by a program: what differs is meant, in one cell as well.
        palette = flat_colours(colours, apart=3, least=0)
    else:
        # Scanned or packed: alike ones are one, and those of one or two cells are none.
        fewest = 2.5 / len(colours)
        palette = flat_colours(colours, apart=SAME_COLOUR, least=fewest)
    if len(palette) > MOST_COLOURS_IN_A_PICTURE:
        return pick_colours(colours, MOST_COLOURS_IN_A_PICTURE, flat=True)
    return palette


def goes_by_signs(
    signs: Signs,
    cells: Numbers,
    is_blank: Mask,
    told: str | None,
    asks: list[Question],
    *,
    is_black_on_white: bool,
) -> bool:
    """Whether yarns are told by signs: as it is told, or where colours tell less than they do."""
    worked = ~is_blank
    if told is not None:
        return told == "signs"
    kinds, count = np.unique(signs.sign[worked], return_counts=True)
    kinds = kinds[count > 2]
    inked = (signs.sign[worked] >= 0).mean()
    colours = len(np.unique(cells[worked]))
    if len(kinds) < 2 or len(kinds) > MOST_COLOURS_IN_A_PICTURE or inked < FEWEST_SIGNS:
        return False
    one_colour = colours == 1 or (is_black_on_white and len(kinds) > colours)
    if not one_colour and not _signs_part_a_colour(signs, cells, worked):
        return False
    taken = "signs" if one_colour else "colours"
    asks.append(Question("by", ARE_SIGNS, ("signs", "colours"), taken))
    return one_colour


def black_on_white(palette: Rgb, paper: Rgb) -> bool:
    """Whether all is drawn in dark ink on the paper."""
    lab = lab_of(palette)
    is_ink = (lab[:, 0] < DARKEST_INK) & (np.hypot(lab[:, 1], lab[:, 2]) < 12)
    is_paper = delta_e(lab, lab_of(paper)) < 12
    return bool((is_ink | is_paper).all() and is_paper.any())


def _signs_part_a_colour(signs: Signs, cells: Numbers, worked: Mask) -> bool:
    """Whether cells of one colour hold different signs, many of each."""
    for colour in np.unique(cells[worked]):
        of_it = signs.sign[worked & (cells == colour)]
        kinds, count = np.unique(of_it, return_counts=True)
        many = kinds[(count >= 6) & (count >= 0.1 * len(of_it))]
        # With empty cells among them it may be a mark here and there.
        if len(many[many >= 0]) >= 2:
            return True
    return False


def by_signs(signs: Signs, is_blank: Mask, notes: list[str]) -> tuple[Numbers, Rgb, Words]:
    """Each cell's place among signs, a colour for each of these, and what is in doubt."""
    kinds, cells = np.unique(signs.sign, return_inverse=True)
    cells = cells.reshape(signs.sign.shape)
    notes.append(
        f"black on white: {counted(len(kinds), 'kind')} of cell by their signs, in colours that "
        "are only there to tell them apart"
    )
    # Far from each other in hue, light and dark by turns.
    turn = np.arange(len(kinds)) * 137.5
    light = np.where(np.arange(len(kinds)) % 2, 45.0, 75.0)
    lab = np.stack((light, 45 * np.cos(np.radians(turn)), 45 * np.sin(np.radians(turn))), axis=-1)
    why = np.full(cells.shape, "", dtype=object)
    why[signs.sure < SURE_OF_A_SIGN] = "its sign is not clear"
    rare = np.bincount(cells.ravel(), minlength=len(kinds)) <= 2
    why[rare[cells]] = "hardly any other cell has its sign"
    return cells, rgb_of_lab(lab), why


def rare_cells(cells: Numbers, palette: Rgb, is_blank: Mask) -> Mask:
    """Which cells are of a colour that hardly any other has, near to one that many have."""
    worked = ~is_blank
    count = np.bincount(cells[worked], minlength=len(palette))
    rare = (count > 0) & (count <= max(3, 0.004 * worked.sum()))
    if rare.all() or not rare.any():
        return np.zeros(cells.shape, bool)
    lab = lab_of(palette)
    apart = np.array([delta_e(lab[~rare], each).min() for each in lab])
    return (rare & (apart < NEAR_ANOTHER))[cells]

"""What tells the yarns of a chart in a picture apart: the colours of its cells, or their signs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

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
    nearest_rgb,
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
# ΔE*ab that JPEG adds at most; the part of the way between two colours that is neither of them; and
# how many cells lie there, of those of the rarer one, where it is none.
MOST_DRIFT, BETWEEN, LEAST_BETWEEN = 18.0, (0.35, 0.65), 0.25
# Of all cells: those under a watermark; and how much less of such a cell has its colour.
MOST_UNDER, PATCHY = 0.06, 0.1
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
        palette = _without_drifts(colours, palette)
    if len(palette) > MOST_COLOURS_IN_A_PICTURE:
        return pick_colours(colours, MOST_COLOURS_IN_A_PICTURE, flat=True)
    return palette


def _without_drifts(colours: Rgb, palette: Rgb) -> Rgb:
    """The palette without colours into which a commoner one only drifts, as strong JPEG makes it.

    Two yarns, however much alike, have hardly a cell between them.
    """
    kept = list(range(len(palette)))
    seen, lab = lab_of(colours), lab_of(palette)
    for rare in range(len(palette) - 1, 0, -1):
        common = min(range(rare), key=lambda other: delta_e(lab[other], lab[rare]))
        way = lab[rare] - lab[common]
        if np.linalg.norm(way) > MOST_DRIFT:
            continue
        place, _ = nearest_rgb(colours, palette)
        of_both = (place == rare) | (place == common)
        # 0 where it is as the commoner one, 1 as the rarer one.
        along = (seen[of_both] - lab[common]) @ way / (way @ way)
        between = (along > BETWEEN[0]) & (along < BETWEEN[1])
        if between.sum() > LEAST_BETWEEN * (place == rare).sum():
            kept.remove(rare)
    return palette[kept]


class Under(NamedTuple):
    """The cells over which something lies, and each cell's place in the palette without that."""

    marked: Mask
    cells: Numbers


def under_a_watermark(cells: Numbers, palette: Rgb, alike: Numbers, worked: Mask) -> Under:
    """Cells of a few colours that are a commoner one with grey over it, and are not of one colour.

    `alike` is the share of each cell that has its colour. A drawn yarn fills its cells.
    """
    count = np.bincount(cells[worked], minlength=len(palette))
    beneath = np.arange(len(palette))
    lab = lab_of(palette)
    for rare in np.flatnonzero((count > 0) & (count <= MOST_UNDER * worked.sum())):
        commoner = np.flatnonzero(count > 3 * count[rare])
        commoner = commoner[delta_e(lab[commoner], lab[rare]) < NEAR_ANOTHER]
        greyed = [each for each in commoner if _is_greyed(palette[rare], palette[each])]
        if greyed:
            beneath[rare] = max(greyed, key=lambda each: count[each])
    marked = worked & (beneath != np.arange(len(palette)))[cells]
    if not marked.any() or alike[marked].mean() > alike[worked & ~marked].mean() - PATCHY:
        return Under(np.zeros(cells.shape, bool), cells)
    return Under(marked, beneath[cells])


def only_used(cells: Numbers, palette: Rgb, is_blank: Mask) -> tuple[Numbers, Rgb]:
    """The cells, and the colours of the palette that some of them have."""
    used = np.unique(cells[~is_blank])
    if not len(used):
        return cells, palette
    return np.searchsorted(used, np.where(is_blank, used[0], cells)), palette[used]


def _is_greyed(seen: Rgb, yarn: Rgb) -> bool:
    """Whether a colour is that of a yarn with some grey over it."""
    # So much of the yarn, and as much of all three channels beside.
    made_of = np.column_stack((yarn.astype(float), np.ones(3)))
    shares, *_ = np.linalg.lstsq(made_of, seen.astype(float), rcond=None)
    off = np.abs(made_of @ shares - seen)
    return bool(0.2 < shares[0] < 0.99 and off.max() < 6)


def goes_by_signs(
    signs: Signs,
    cells: Numbers,
    is_blank: Mask,
    told: str | None,
    asks: list[Question],
    *,
    is_black_on_white: bool,
) -> bool:
    """Whether yarns are told by signs: as it is told, or where colours tell less than they do.

    `cells` are the colours of the cells; black on white only whether they are ink or paper.
    """
    worked = ~is_blank
    if told is not None:
        return told == "signs"
    kinds, count = np.unique(signs.sign[worked], return_counts=True)
    kinds = kinds[count > 2]
    inked = (signs.sign[worked] >= 0).mean()
    colours = len(np.unique(cells[worked]))
    fewest = 0 if is_black_on_white else FEWEST_SIGNS
    if len(kinds) < 2 or len(kinds) > MOST_COLOURS_IN_A_PICTURE or inked < fewest:
        return False
    one_colour = colours == 1 or (is_black_on_white and len(kinds) > colours)
    if not one_colour and not _signs_part_a_colour(signs, cells, worked):
        return False
    taken = "signs" if one_colour else "colours"
    asks.append(Question("by", ARE_SIGNS, ("signs", "colours"), taken))
    return one_colour


def black_on_white(palette: Rgb, paper: Rgb) -> bool:
    """Whether all is drawn in dark ink on the paper."""
    is_paper = delta_e(lab_of(palette), lab_of(paper)) < 12
    return bool((are_ink(palette) | is_paper).all() and is_paper.any())


def are_ink(palette: Rgb) -> Mask:
    """Which colours are those of ink: dark, and hardly of any hue."""
    lab = lab_of(palette)
    return (lab[:, 0] < DARKEST_INK) & (np.hypot(lab[:, 1], lab[:, 2]) < 12)


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

"""Cells at the rim of a sheet's chart that may be no stitches: blank, grey or hatched ones.

Where a piece is shaped its chart leaves cells out, and nothing like them lies within. Whether grey
is a yarn only the knitter knows, so she is asked.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy import ndimage

from planner.charts.pages import Grid, Page
from planner.charts.palette import from_hex, lab_of
from planner.charts.questions import Answers, Remarks
from planner.piece import NO_STITCH
from planner.units import counted

MOST_LEFT_OUT = 0.5  # of all cells
FEWEST_CORNERS = 2
# Signs that are often written where there is no stitch.
CROSSES = {"X", "x", "×", "-", "–", "/", "#", "*", "ns", "NS", "▒", "░", "▨", "~", "_"}
MOST_CROSSED = 0.35
SIGNED = ""
NEUTRAL = 7.0  # chroma (C*ab) of a grey
GREYS = (50.0, 93.0)  # L* of a grey that says "no stitch"


def settle_left_out(
    part: Page,
    settled: Answers,
    remarks: Remarks,
    *,
    yarns: set[str],
) -> tuple[Page, Answers]:
    """The chart without its grey, hatched or crossed cells, if they are taken as no stitches, and
    the answers with what that says of its blank cells.

    Fills that are `yarns` are none of them.
    """
    for mask, look in _looks(part, yarns):
        is_whole = mask.mean() > MOST_LEFT_OUT
        if not mask.any() or is_whole:
            continue
        is_shaped = is_shaping(mask)
        if look == SIGNED and not is_shaped:
            continue
        if look == "grey" and not is_shaped and not _corners(mask):
            continue
        sign = f' with "{part.text[mask][0]}"' if look == SIGNED else ""
        cells = counted(int(mask.sum()), f"{look} cell".strip()) + sign
        is_likely = is_shaped and not (look == SIGNED and _leaves_one_sign(part, mask))
        taken = settled.blanks or ("no stitch" if is_likely else "ground")
        if settled.blanks is None:
            remarks.ask("blanks", f"{cells}: are they stitches, or no stitches?", taken)
        if taken == "no stitch":
            remarks.note(f"Taken as no stitches: {cells}.")
            return left_out(part, mask), replace(settled, blanks="ground")
        remarks.note(f"Taken as a yarn: {cells}.")
        return part, replace(settled, blanks=settled.blanks)
    return part, settled


def _leaves_one_sign(part: Page, mask: Grid) -> bool:
    """Whether the cells beside these are all alike, so that these are the other yarn."""
    rest = ~mask
    return len(set(zip(part.text[rest], part.fill[rest], strict=True))) == 1


def _looks(part: Page, yarns: set[str]) -> list[tuple[Grid, str]]:
    """How cells without a stitch may look, with a word for it, the clearest first."""
    bare = part.text == ""
    fills = set(part.fill.ravel().tolist()) - {"", *yarns}
    greys = [fill for fill in fills if is_grey(fill)]
    grey = np.isin(part.fill, greys) & ~part.hatched & bare
    hatched = part.hatched & bare & ~np.isin(part.fill, list(yarns))
    looks = [(hatched, "hatched"), (grey, "grey")]
    for sign in sorted(CROSSES & set(part.text.ravel().tolist())):
        crossed = part.text == sign
        if crossed.mean() <= MOST_CROSSED:
            looks.append((crossed, SIGNED))
    return looks


def is_grey(fill: str) -> bool:
    """Whether a fill is neither white, nor dark, nor coloured."""
    lightness, red, yellow = lab_of(from_hex([fill]))[0].tolist()
    is_neutral = math.hypot(red, yellow) < NEUTRAL
    return is_neutral and GREYS[0] < lightness < GREYS[1]


def left_out(part: Page, mask: Grid) -> Page:
    """The chart with some of its cells as no stitches."""
    return replace(
        part,
        text=np.where(mask, NO_STITCH, part.text).astype(object),
        fill=np.where(mask, "", part.fill).astype(object),
        hatched=part.hatched & ~mask,
    )


def is_shaping(mask: Grid) -> bool:
    """Whether cells lie as those that a shaped piece leaves out.

    All reach the rim, at two of its corners or in steps like a neck, and leave no line without a
    stitch.
    """
    if not mask.any() or mask.all(axis=0).any() or mask.all(axis=1).any():
        return False
    stretches, count = ndimage.label(mask)
    rim = np.ones_like(mask)
    rim[1:-1, 1:-1] = False
    at_rim = set(stretches[rim].tolist()) - {0}
    if len(at_rim) < count:
        return False
    if _corners(mask) >= FEWEST_CORNERS:
        return True
    return all(_narrows(stretches == number) for number in at_rim)


def _corners(mask: Grid) -> int:
    ends = mask[:: max(1, len(mask) - 1)]
    return int(ends[:, 0].sum() + ends[:, -1].sum())


def _narrows(stretch: Grid) -> bool:
    """Whether a stretch that begins at the top or bottom of a chart grows narrower in steps."""
    for from_edge in (stretch, stretch[::-1]):
        widths = from_edge.sum(axis=1)
        depth = int((widths > 0).sum())
        if not widths[0] or depth < 2:
            continue
        steps = np.diff(widths[:depth])
        if (widths[depth:] == 0).all() and (steps <= 0).all() and (steps < 0).any():
            return True
    return False

"""The signs that stand in the cells of a chart, told apart by how they look.

A sign is what is drawn in a cell on its ground. Cells whose signs cover each other, a pixel more or
less, hold the same sign. Nothing is read: which yarn a sign means the knitter says.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.ndimage import gaussian_filter

from planner.charts.palette import Mask, Numbers, Rgb, delta_e, lab_of

PLACES = 14  # a side of each cell at which its sign is looked at
MIDDLE = 0.72  # of a cell's width and height, clear of its lines
INK = 22.0  # ΔE*ab from the ground of the cell
LEAST_INK, MOST_INK = 0.03, 0.75  # of a cell, for a sign to stand in it
SAME = 0.75  # how far two signs cover each other, from 0 to 1
MOST_SIGNS = 40
SMALLEST = 12.0  # pixels a side of a cell, for its sign to be told


class Signs(NamedTuple):
    """`sign` of each cell (rows × stitches), −1 where it is empty; how `sure` each is, 0 to 1;
    `ink` is the share of the cell that is drawn on."""

    sign: Numbers
    sure: Numbers
    ink: Numbers


def signs_in(seen: Rgb, ground: Rgb) -> Signs:
    """The signs of cells seen at PLACES² places (rows × stitches × places × 3) on their grounds."""
    rows, stitches = seen.shape[:2]
    lab = lab_of(seen)
    drawn: Mask = delta_e(lab, lab_of(ground)[:, :, None]) > INK
    ink = drawn.mean(axis=2)
    masks = drawn.reshape(rows * stitches, PLACES, PLACES).astype(np.float32)
    # A pixel more or less is the same sign.
    soft = gaussian_filter(masks, (0, 0.9, 0.9)).reshape(len(masks), -1)
    # So that empty places count as much as drawn ones.
    soft = soft - soft.mean(axis=1, keepdims=True)
    length = np.linalg.norm(soft, axis=1, keepdims=True)
    soft = soft / np.maximum(length, 1e-6)
    # What fills its cell has no shape of its own.
    is_full = ink.ravel() > MOST_INK
    has_sign = (ink.ravel() > LEAST_INK) & ~is_full
    sign = np.full(len(masks), -1)
    sure = np.ones(len(masks))
    kinds = _kinds(soft[has_sign])
    if len(kinds):
        cover = soft[has_sign] @ kinds.T
        sign[has_sign] = cover.argmax(axis=1)
        sure[has_sign] = cover.max(axis=1)
    sign[is_full] = len(kinds)
    return Signs(sign.reshape(rows, stitches), sure.reshape(rows, stitches), ink)


def _kinds(soft: Numbers) -> Numbers:
    """One of each kind of sign, those of most cells first; each is the mean of its kind."""
    leaders: list[Numbers] = []
    left = np.ones(len(soft), bool)
    while left.any() and len(leaders) < MOST_SIGNS:
        leader = soft[np.flatnonzero(left)[0]]
        # The mean of what is like the first one; then what is like that.
        for _ in range(2):
            like = soft @ leader > SAME
            if not like.any():
                break
            leader = soft[like].mean(axis=0)
            leader = leader / np.linalg.norm(leader)
        before = left.sum()
        left &= soft @ leader <= SAME
        if left.sum() == before:
            left[np.flatnonzero(left)[0]] = False
        leaders.append(leader)
    kinds = np.array(leaders)
    if not len(kinds):
        return kinds
    count = np.bincount((soft @ kinds.T).argmax(axis=1), minlength=len(kinds))
    most_first = np.argsort(-count, kind="stable")
    return kinds[most_first[count[most_first] > 0]]

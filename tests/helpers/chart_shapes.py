"""Charts of shapes that nobody here drew: icons, and the bitmaps of the X Window System.

Icons: Font Awesome Free Solid, from the PyPI package fontawesomefree (font under the SIL Open Font
License 1.1, icons CC BY 4.0). Bitmaps: Debian's package xbitmaps (MIT), where it is installed;
Pillow reads them. Both are rasterised to the cells of a chart, by what covers most of each.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

from tests.helpers.photographs import patches
from tests.helpers.pictures import ICONS

Rng = np.random.Generator
Source = Callable[[Rng, int], np.ndarray]  # cells in so many yarns, top row first

BITMAPS = Path("/usr/include/X11/bitmaps")
# Rows and stitches.
SIZES = ((10, 10), (14, 18), (20, 16), (24, 32), (40, 30), (48, 48), (60, 80))
# How many shapes stand beside and above each other.
LAYOUTS = ((1, 1), (1, 2), (2, 1), (2, 2))
LEAST_DRAWN, MOST_DRAWN = 0.08, 0.8  # of the cells of a shape
SMALLEST_SHAPE = 8  # cells a side
FINE = 8  # dots a side of a cell, by which an icon is rasterised


def areas(rng: Rng, count: int) -> np.ndarray:
    """Areas of yarns, lines and single stitches by chance, 14 to 40 stitches and rows."""
    rows, stitches = rng.integers(14, 40, 2).tolist()
    return patches(rng, rows, stitches, count)


def icons(rng: Rng, count: int) -> np.ndarray:
    """One icon or up to four, each in one of the yarns, on a ground."""
    return _laid_out(rng, count, _icon)


def bitmaps(rng: Rng, count: int) -> np.ndarray:
    """One bitmap or up to four, each in one of the yarns, on a ground; else icons."""
    return _laid_out(rng, count, _bitmap if bitmap_files() else _icon)


SOURCES: tuple[Source, ...] = (areas, icons, bitmaps)


@cache
def bitmap_files() -> tuple[Path, ...]:
    """The bitmaps on this computer that are large enough to show something."""
    found = []
    for path in sorted(BITMAPS.glob("*")):
        with Image.open(path) as image:
            if min(image.size) >= SMALLEST_SHAPE:
                found.append(path)
    return tuple(found)


@cache
def _glyphs() -> tuple[str, ...]:
    characters = TTFont(ICONS).getBestCmap()
    return tuple(chr(code) for code in sorted(characters) if code >= 0xE000)


def _laid_out(rng: Rng, count: int, shape: Callable[[Rng, int, int], np.ndarray]) -> np.ndarray:
    rows, stitches = SIZES[rng.integers(len(SIZES))]
    fitting = [
        (down, across)
        for down, across in LAYOUTS
        if min(rows // down, stitches // across) >= SMALLEST_SHAPE
    ]
    down, across = fitting[rng.integers(len(fitting))]
    high, wide = rows // down, stitches // across
    cells = np.zeros((rows, stitches), int)
    for place in range(down * across):
        top, left = place // across * high, place % across * wide
        inked = shape(rng, high, wide)
        # As many yarns as there are shapes, or stripes of the yarns that are left over.
        stripe = 1 + np.arange(high) * max(1, count - 1) // high
        yarn = stripe[:, None] if down * across == 1 else 1 + place % max(1, count - 1)
        part = cells[top : top + high, left : left + wide]
        part[inked] = np.broadcast_to(yarn, part.shape)[inked]
    # Yarns are numbered as far as they are there.
    return np.unique(cells, return_inverse=True)[1].reshape(cells.shape)


def _icon(rng: Rng, rows: int, stitches: int) -> np.ndarray:
    while True:
        glyph = _glyphs()[rng.integers(len(_glyphs()))]
        side = FINE * min(rows, stitches)
        picture = Image.new("L", (FINE * stitches, FINE * rows))
        font = ImageFont.truetype(str(ICONS), 0.75 * side)
        middle = picture.width / 2, picture.height / 2
        ImageDraw.Draw(picture).text(middle, glyph, font=font, fill=255, anchor="mm")
        inked = np.asarray(picture.reduce(FINE)) > 127
        if LEAST_DRAWN < inked.mean() < MOST_DRAWN:
            return inked


def _bitmap(rng: Rng, rows: int, stitches: int) -> np.ndarray:
    while True:
        path = bitmap_files()[rng.integers(len(bitmap_files()))]
        with Image.open(path) as image:
            dots = image.convert("L").point(lambda grey: 255 - grey)
        # Small ones are repeated, as borders are; large ones are made smaller.
        if dots.width < stitches / 2 or dots.height < rows / 2:
            inked = np.asarray(dots) > 127
            times = -(-rows // len(inked)), -(-stitches // inked.shape[1])
            inked = np.tile(inked, times)[:rows, :stitches]
        else:
            inked = np.asarray(dots.resize((stitches, rows), Image.Resampling.BOX)) > 127
        if LEAST_DRAWN < inked.mean() < MOST_DRAWN:
            return inked

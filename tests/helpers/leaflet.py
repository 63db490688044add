"""A leaflet of three pages as PDF: a title, a chart, and two charts on one page."""

from __future__ import annotations

import io

import numpy as np
from reportlab.pdfgen import canvas

COLOURS = ["#a4243b", "#5b8c5a", "#e69f00"]
PAGE = (220, 300)  # points
SIDE = 6  # of a cell


def cells_of(seed, rows, stitches):
    """Cells of a chart, top row first, by the place of their colour."""
    return np.random.default_rng(seed).integers(0, len(COLOURS), (rows, stitches))


CUSHION, SLEEVE, POCKET = cells_of(1, 24, 30), cells_of(2, 20, 24), cells_of(3, 12, 15)
# Around the pocket on page 3, with a margin: shares of the page from the left and from the top.
AROUND_POCKET = (0.05, 0.52, 0.55, 0.85)


def draw(page, cells, left, top):
    for (row, stitch), colour in np.ndenumerate(cells):
        page.setFillColor(COLOURS[colour])
        page.rect(left + SIDE * stitch, top - SIDE * (row + 1), SIDE, SIDE, stroke=1, fill=1)


def leaflet(first: int = 1) -> bytes:
    """The leaflet from its first page, or from a later one."""
    file = io.BytesIO()
    page = canvas.Canvas(file, pagesize=PAGE)
    if first == 1:
        page.drawString(20, 250, "A cushion and a cardigan")
        page.showPage()
    if first <= 2:
        draw(page, CUSHION, 20, 250)
        page.showPage()
    draw(page, SLEEVE, 20, 290)
    draw(page, POCKET, 20, 130)
    page.save()
    return file.getvalue()


def same_but_for_letters(rows, cells) -> bool:
    """Whether rows show these cells, whatever their yarns are called."""
    shown = np.array([list(row) for row in rows])
    if shown.shape != cells.shape:
        return False
    pairs = set(zip(shown.ravel().tolist(), cells.ravel().tolist(), strict=True))
    return len(pairs) == len({pair[0] for pair in pairs}) == len({pair[1] for pair in pairs})

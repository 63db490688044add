"""Pictures of charts on squared paper read back, drawn here by Pillow and matplotlib: cells, lines, numbers, signs, noise."""

import io

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image, ImageDraw, ImageFont

from planner import PlanError
from planner.artwork import open_artwork
from planner.gridpicture import read_grid_picture

COLOURS = ((246, 240, 226), (31, 58, 95), (200, 60, 40), (90, 150, 90))
FONT = ImageFont.load_default(10)


def cells_of(rows: int, stitches: int, yarns: int = 3, seed: int = 7) -> np.ndarray:
    """Blotches of so many yarns, top row first."""
    rng = np.random.default_rng(seed)
    blocks = rng.integers(0, yarns, (rows // 2 + 1, stitches // 3 + 1))
    return blocks.repeat(2, 0).repeat(3, 1)[:rows, :stitches]


def draw(cells, wide, high, *, lines=True, heavy=0, margin=(0, 0), numbers=False, signs=False) -> Image.Image:
    """A chart as a page shows it; `heavy`: a thicker line at every so many cells."""
    rows, stitches = cells.shape
    left, top = margin
    image = Image.new("RGB", (round(stitches * wide) + 2 * left + 1, round(rows * high) + 2 * top + 1), "white")
    pen = ImageDraw.Draw(image)
    for r in range(rows):
        for c in range(stitches):
            box = [left + round(c * wide), top + round(r * high), left + round((c + 1) * wide), top + round((r + 1) * high)]
            pen.rectangle(box, fill=COLOURS[cells[r, c]])
            if signs and cells[r, c] == 1:
                middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
                pen.text(middle, "x", fill="white", font=FONT, anchor="mm")
    if lines:
        for c in range(stitches + 1):
            x = left + round(c * wide)
            thick = 3 if heavy and (stitches - c) % heavy == 0 else 1
            pen.line([x, top, x, top + round(rows * high)], fill=(70, 70, 70), width=thick)
        for r in range(rows + 1):
            y = top + round(r * high)
            thick = 3 if heavy and (rows - r) % heavy == 0 else 1
            pen.line([left, y, left + round(stitches * wide), y], fill=(70, 70, 70), width=thick)
    if numbers:
        for r in range(rows):
            pen.text((left + stitches * wide + 4, top + (r + 0.5) * high), str(rows - r), fill="black", font=FONT, anchor="lm")
        for c in range(4, stitches, 5):
            at = (left + (stitches - c - 0.5) * wide, top + rows * high + 8)
            pen.text(at, str(c + 1), fill="black", font=FONT, anchor="mm")
    return image


def read(image: Image.Image, kind: str = "PNG", **ways):
    out = io.BytesIO()
    image.save(out, kind, **({"quality": 80} if kind == "JPEG" else {}))
    return read_grid_picture(open_artwork(out.getvalue(), f"chart.{kind.lower()}"), **ways)


def same(reading, cells) -> bool:
    """Whether the reading parts the cells as they were drawn, whatever it calls its colours."""
    pairs = set(zip(reading.cells[::-1].ravel().tolist(), cells.ravel().tolist(), strict=True))
    return reading.cells.shape == cells.shape and len(pairs) == len(np.unique(cells)) == len({a for a, _ in pairs})


PAGES = {
    "thin lines": {"wide": 17, "high": 17},
    "cells at the gauge's aspect": {"wide": 19, "high": 14},
    "cells of odd size": {"wide": 15.3, "high": 11.7},
    "heavy lines at every tenth": {"wide": 16, "high": 16, "heavy": 10},
    "heavy lines at every fifth": {"wide": 14, "high": 14, "heavy": 5},
    "a margin": {"wide": 16, "high": 16, "margin": (37, 22)},
    "numbers beside and below": {"wide": 16, "high": 16, "margin": (40, 30), "numbers": True},
    "signs in the cells": {"wide": 20, "high": 20, "signs": True},
    "all at once": {"wide": 18.4, "high": 15.2, "heavy": 10, "margin": (44, 31), "numbers": True, "signs": True},
    "no lines": {"wide": 12, "high": 12, "lines": False},
}


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
@pytest.mark.parametrize("page", PAGES)
def test_read_back_as_it_was_drawn(page, kind):
    # Without lines only the cells themselves can tell their size, so some must be single.
    cells = cells_of(30, 24) if page != "no lines" else np.random.default_rng(2).integers(0, 3, (30, 24))
    assert same(read(draw(cells, **PAGES[page]), kind), cells)


def test_cell_size_is_found_to_a_fraction_of_a_pixel():
    reading = read(draw(cells_of(40, 50), wide=13.6, high=9.8))
    assert reading.cell_pixels == pytest.approx((13.6, 9.8), abs=0.05)


def test_a_chart_drawn_by_matplotlib():
    """matplotlib (PSF licence) draws the cells and its own lines, ticks, numbers and a title."""
    cells = cells_of(20, 28)
    figure = Figure(figsize=(9, 7), dpi=100)
    ax = figure.subplots()
    ax.pcolormesh(np.array(COLOURS)[cells[::-1]] / 255, edgecolors="#555555", linewidth=0.7)
    ax.set(title="A chart", xlabel="stitches", ylabel="rows")
    out = io.BytesIO()
    figure.savefig(out, format="png")
    assert same(read(Image.open(out).convert("RGB")), cells)


def test_the_colours_are_those_drawn():
    reading = read(draw(cells_of(20, 20), wide=16, high=16))
    drawn = {f"#{r:02x}{g:02x}{b:02x}" for r, g, b in COLOURS[:3]}
    assert set(reading.palette) == drawn


def test_given_yarns_are_used():
    yarns = ["#000000", "#ff0000", "#ffffff"]
    cells = cells_of(20, 20)
    reading = read(draw(cells, wide=16, high=16), yarns=yarns)
    assert reading.palette == tuple(yarns)
    nearest = np.array([2, 0, 1])  # cream is nearest to white, navy to black, rust to red
    assert np.array_equal(reading.cells[::-1], nearest[cells])


def test_a_doubtful_cell_is_marked_and_said_why():
    image = draw(cells_of(20, 20), wide=20, high=20)
    for i, colour in enumerate(COLOURS):  # one cell is of four colours
        ImageDraw.Draw(image).rectangle([61, 61 + 5 * i, 79, 65 + 5 * i], fill=colour)
    reading = read(image)
    assert reading.doubtful[20 - 1 - 3, 3]
    assert reading.doubtful.sum() <= 3
    assert reading.why[20 - 1 - 3, 3]
    assert not read(draw(cells_of(20, 20), wide=20, high=20)).doubtful.any()


def test_stitches_and_rows_can_be_said():
    cells = cells_of(20, 24)
    assert same(read(draw(cells, wide=16, high=16), stitches=24, rows=20), cells)
    with pytest.raises(PlanError, match="whole number"):
        read(draw(cells, wide=16, high=16), stitches=0, rows=20)


@pytest.mark.parametrize("what", ["noise", "one colour", "a slope"])
def test_where_there_is_no_grid_that_is_said(what):
    rng = np.random.default_rng(1)
    pixels = {
        "noise": rng.integers(0, 255, (200, 220, 3)),
        "one colour": np.full((200, 220, 3), 120),
        "a slope": np.linspace(0, 255, 220)[None, :, None].repeat(200, 0).repeat(3, 2),
    }[what]
    with pytest.raises(PlanError, match="No regular grid was found in chart"):
        read(Image.fromarray(pixels.astype(np.uint8)))


def test_the_same_picture_is_read_the_same():
    image = draw(cells_of(30, 24), **PAGES["all at once"])
    one, other = read(image), read(image)
    assert np.array_equal(one.cells, other.cells)
    assert one.palette == other.palette

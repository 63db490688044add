"""Photographs of printed charts, simulated: drawn, laid askew, lit from a side, blurred, packed."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter
from skimage.transform import ProjectiveTransform, warp

PAPER = (250, 248, 242)


@dataclass(frozen=True)
class Photograph:
    """A photograph as JPEG, the cells of its chart (top row first), and the chart's corners."""

    data: bytes
    cells: np.ndarray
    palette: np.ndarray
    corners: tuple[tuple[float, float], ...]
    size: tuple[int, int]


def patches(rng, rows, stitches, count):
    """A chart of areas, lines and single stitches; every yarn is in it."""
    smooth = gaussian_filter(rng.standard_normal((count, rows, stitches)), (0, 3, 3))
    cells = smooth.argmax(axis=0)
    stray = rng.random(cells.shape) < 0.01
    cells[stray] = rng.integers(0, count, int(stray.sum()))
    cells[:count, 0] = np.arange(count)
    return cells


def colours(rng, count, apart=40):
    """Colours that differ by this much in RGB at least."""
    found = []
    while len(found) < count:
        colour = rng.integers(25, 240, 3)
        if all(np.linalg.norm(colour - each) > apart for each in found):
            found.append(colour)
    return np.array(found)


def printed(cells, palette, *, cell=(22, 20), line=1, shade=60, tens=True):
    """A page with the chart on it, and where its corners are on the page."""
    rows, stitches = cells.shape
    wide, high = cell
    margin = 60
    size = stitches * wide + 2 * margin, rows * high + 2 * margin
    page = Image.new("RGB", size, PAPER)
    draw = ImageDraw.Draw(page)
    for (row, column), each in np.ndenumerate(cells):
        x, y = margin + column * wide, margin + row * high
        draw.rectangle((x, y, x + wide, y + high), fill=tuple(map(int, palette[each])))
    ink = (shade,) * 3
    for column in range(stitches + 1):
        x = margin + column * wide
        thick = line + (tens and column % 10 == 0)
        draw.line((x, margin, x, margin + rows * high), fill=ink, width=thick)
    for row in range(rows + 1):
        y = margin + row * high
        thick = line + (tens and row % 10 == 0)
        draw.line((margin, y, margin + stitches * wide, y), fill=ink, width=thick)
    for row in range(0, rows, 5):
        draw.text((size[0] - margin + 8, margin + row * high), str(rows - row), fill=ink)
    left, top = margin, margin
    right, bottom = margin + stitches * wide, margin + rows * high
    return np.asarray(page), [(left, top), (right, top), (right, bottom), (left, bottom)]


def photographed(rng, cells, palette, *, size=(1200, 900), lean=0.1, **look) -> Photograph:
    """The chart printed and photographed."""
    page, corners = printed(cells, palette, **look)
    height, width = page.shape[:2]
    # The page fills most of the photograph, leaning some way.
    scale = 0.85 * min(size[0] / width, size[1] / height)
    wide, high = width * scale, height * scale
    left, top = (size[0] - wide) / 2, (size[1] - high) / 2
    target = np.array(
        [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]
    )
    target += rng.uniform(-lean, lean, (4, 2)) * (wide, high) / 2
    source = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    seen = ProjectiveTransform.from_estimate(source, target)
    table = np.array([0.35, 0.28, 0.2])
    flat = page / 255
    pixels = warp(flat, seen.inverse, output_shape=size[::-1], order=1, cval=-1)
    pixels = np.where(pixels < 0, table, pixels)
    pixels = pixels * light(rng, size)
    pixels = gaussian_filter(pixels, (rng.uniform(0.4, 1.3),) * 2 + (0,))
    pixels += rng.normal(0, 0.012, pixels.shape)
    picture = Image.fromarray((np.clip(pixels, 0, 1) * 255).astype(np.uint8))
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=int(rng.integers(70, 93)))
    on_photograph = seen(np.array(corners, float)) / size
    return Photograph(
        file.getvalue(), cells, palette, tuple(map(tuple, on_photograph.tolist())), size
    )


def light(rng, size):
    """Light that falls from a side, a little coloured: rows × columns × 3."""
    y, x = np.mgrid[-1 : 1 : size[1] * 1j, -1 : 1 : size[0] * 1j]
    turn = rng.uniform(0, 2 * np.pi)
    along = np.cos(turn) * x + np.sin(turn) * y
    strength = 0.85 + rng.uniform(0.1, 0.25) * along - rng.uniform(0, 0.12) * (x * x + y * y)
    tint = 1 + rng.uniform(-0.06, 0.06, 3)
    return strength[..., None] * tint


def moved(rng, photograph, pixels=2):
    """The corners as a hand sets them, off by so many pixels."""
    off = rng.uniform(-1, 1, (4, 2))
    off *= pixels / np.linalg.norm(off, axis=1, keepdims=True)
    return tuple(map(tuple, (np.array(photograph.corners) + off / photograph.size).tolist()))

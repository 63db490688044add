"""Pictures for the tests: photographs and icons nobody here drew, charts drawn on grids, and files
made of them.

Photographs: scikit-image's "coffee" (Rachel Michetti, CC0) and "chelsea", a cat (Stéfan van der
Walt, CC0). Icons: Font Awesome Free Solid, from the PyPI package fontawesomefree (font under the
SIL Open Font License 1.1, icons CC BY 4.0). A drawing with shading: matplotlib's sample
"Minduka_Present_Blue_Pack".
"""

import io
from pathlib import Path

import fontawesomefree
import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter

ICONS = next(Path(fontawesomefree.__file__).parent.rglob("fa-solid-900.ttf"))
LETTERS = Path(matplotlib.get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")
HEART, CAT, LEAF, ANCHOR, SNOWFLAKE = "\uf004", "\uf6be", "\uf06c", "\uf13d", "\uf2dc"
CREAM, RED = (240, 230, 210), (180, 40, 60)
FOUR = np.array([[235, 225, 205], [40, 70, 120], [200, 60, 50], [90, 140, 80]], np.uint8)


def encoded(picture, format="PNG", **how) -> bytes:
    """The bytes of a picture file."""
    out = io.BytesIO()
    (picture if isinstance(picture, Image.Image) else Image.fromarray(picture)).save(
        out, format, **how
    )
    return out.getvalue()


def icon(which: str, size: int = 400) -> Image.Image:
    picture = Image.new("RGB", (size, size), CREAM)
    font = ImageFont.truetype(str(ICONS), size * 2 // 3)
    ImageDraw.Draw(picture).text((size / 2, size / 2), which, font=font, fill=RED, anchor="mm")
    return picture


def areas(
    rows: int, stitches: int, *, yarns: int = 4, wide: float = 2, seed: int = 1
) -> np.ndarray:
    """A chart of yarns in areas about so wide, top row first."""
    fields = np.random.default_rng(seed).standard_normal((yarns, rows, stitches))
    return gaussian_filter(fields, (0, wide, wide)).argmax(axis=0)


def grid_picture(
    cells,
    wide: float,
    high: float,
    *,
    colours=FOUR,
    line=1,
    heavy=3,
    every=10,
    grey=90,
    margin=(0, 0, 0, 0),
    marks="",
    numbers=False,
    title="",
) -> Image.Image:
    """A chart on squared paper: cells of `wide` × `high` pixels, lines, heavier ones, a mark for
    each yarn, numbers at two sides, a title. `margin`: left, top, right, bottom."""
    rows, stitches = cells.shape
    left, top, right, bottom = margin
    x, y = (
        np.round(start + np.arange(n + 1) * size).astype(int)
        for start, n, size in ((left, stitches, wide), (top, rows, high))
    )
    picture = Image.new(
        "RGB", (int(x[-1] + right + bool(line)), int(y[-1] + bottom + bool(line))), "white"
    )
    draw, font = (
        ImageDraw.Draw(picture),
        ImageFont.truetype(str(LETTERS), max(6, int(0.65 * min(wide, high)))),
    )
    for i, j in np.ndindex(*cells.shape):
        draw.rectangle(
            (x[j], y[i], x[j + 1] - 1, y[i + 1] - 1), fill=tuple(colours[cells[i, j]].tolist())
        )
        if marks:
            draw.text(
                ((x[j] + x[j + 1]) / 2, (y[i] + y[i + 1]) / 2),
                marks[cells[i, j]],
                font=font,
                fill="black",
                anchor="mm",
            )
    for i, at in enumerate(x if line else ()):
        draw.line((at, y[0], at, y[-1]), fill=(grey,) * 3, width=heavy if i % every == 0 else line)
    for i, at in enumerate(y if line else ()):
        draw.line((x[0], at, x[-1], at), fill=(grey,) * 3, width=heavy if i % every == 0 else line)
    if numbers:
        for i in range(rows):
            draw.text(
                (x[-1] + 4, (y[i] + y[i + 1]) / 2),
                str(rows - i),
                font=font,
                fill="black",
                anchor="lm",
            )
        for j in range(stitches):
            draw.text(
                ((x[j] + x[j + 1]) / 2, y[-1] + 4),
                str((stitches - j) % 10),
                font=font,
                fill="black",
                anchor="mt",
            )
    draw.text((left, 4), title, font=ImageFont.truetype(str(LETTERS), 22), fill="black")
    return picture

"""Pictures made into charts: artwork, palettes, tidying, pictures of charts on squared paper."""

from __future__ import annotations

import io
from itertools import product

import numpy as np
from PIL import Image, ImageCms, ImageDraw

from tests.net.names import house
from tests.net.pieces import patches
from tests.net.sections import section
from tests.net.text import Titled, answer


def encoded(picture, kind: str = "PNG", **how) -> bytes:
    """The bytes of a picture file, of a picture or of an array of its pixels."""
    data = io.BytesIO()
    if isinstance(picture, np.ndarray):
        picture = Image.fromarray(picture)
    picture.save(data, kind, **how)
    return data.getvalue()


def flat_art() -> Image.Image:
    """A disc, a bar and a triangle in flat colours."""
    picture = Image.new("RGB", (120, 90), "#f0e6d2")
    draw = ImageDraw.Draw(picture)
    draw.ellipse((10, 10, 60, 60), fill="#b5452c")
    draw.rectangle((50, 50, 115, 70), fill="#243b63")
    draw.polygon(((70, 8), (110, 8), (90, 45)), fill="#3f8f8b")
    return picture


def photograph() -> Image.Image:
    """Soft colours with grain."""
    y, x = np.mgrid[0:160, 0:200]
    grain = np.random.default_rng(8).integers(-6, 7, (160, 200, 3))
    soft = np.stack((x, y * 3 // 2, 255 - (x + y) // 2), axis=-1) + grain
    return Image.fromarray(np.clip(soft, 0, 255).astype(np.uint8))


def speckled() -> Image.Image:
    """Many small areas, a pixel or two each, in six flat colours."""
    random = np.random.default_rng(12)
    colours = random.integers(0, 256, (6, 3)).astype(np.uint8)
    blocks = random.integers(0, 6, (15, 20)).repeat(2, 0).repeat(2, 1)
    spots = random.integers(0, 6, (30, 40))
    cells = np.where(random.random((30, 40)) < 0.2, spots, blocks)
    return Image.fromarray(colours[cells].repeat(4, 0).repeat(4, 1))


def see_through() -> Image.Image:
    """Flat art with a transparent corner."""
    picture = flat_art().convert("RGBA")
    picture.paste((0, 0, 0, 0), (0, 0, 40, 30))
    return picture


def profiles():
    """A colour profile of the usual kind, one by another name, and one that is none."""
    usual = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    yield "usual", usual
    yield "other", usual.replace("sRGB".encode("utf-16-be"), "wide".encode("utf-16-be"))
    yield "odd", b"no profile at all"


def turned() -> bytes:
    """Flat art as a camera held upright notes it."""
    exif = Image.Exif()
    exif[0x0112] = 6
    return encoded(flat_art(), exif=exif)


def picture_files():
    """Picture files of every kind, by name."""
    yield "flat", encoded(flat_art())
    yield "photograph", encoded(photograph())
    yield "jpeg", encoded(photograph(), "JPEG", quality=90)
    yield "see-through", encoded(see_through())
    yield "palette", encoded(flat_art().quantize(8))
    yield "grey", encoded(flat_art().convert("L"))
    yield "deep grey", encoded((np.arange(5400).reshape(60, 90) * 12).astype(np.uint16))
    yield "black and white", encoded(flat_art().convert("1"))
    yield "print", encoded(flat_art().convert("CMYK"), "JPEG")
    yield "turned", turned()
    yield "see-through grey", encoded(see_through().convert("LA"))
    for name, profile in profiles():
        yield f"{name} profile", encoded(flat_art(), icc_profile=profile)
    yield "large", encoded(flat_art().resize((3000, 2400), Image.Resampling.NEAREST))
    yield "cut short", encoded(flat_art())[:300]
    yield "empty", b""
    yield "gif", encoded(flat_art(), "GIF")


@section
def artwork() -> Titled:
    """Picture files opened and made into charts, flat or as photographs, placed and in yarns."""
    for name, data in picture_files():
        art = answer(house.open_artwork, data, f"{name}.png")
        if isinstance(art, str):
            yield name, art
            continue
        shape = [*art.pixels.shape, int(art.pixels.sum())]
        yield name, [shape, list(art.notes), art.looks_flat, art.suggested_yarns]
        yield "rows", [art.rows_for(40, 0.73), art.rows_for(7, 1.3)]
        given = {"count": 4} if name == "photograph" else {}
        yield "chart", charted(art, 24, 22, 0.75, **given)
    art = house.open_artwork(encoded(flat_art()), "flat.png")
    for given in (
        {"flat": False, "count": 3},
        {"yarns": ("#f0e6d2", "#b5452c", "navy")},
        {"across": 0, "up": 1, "zoom": 2},
        {"across": 1, "up": 0.2, "zoom": 3.3},
        {"count": 0},
        {"count": 27},
        {"yarns": ("#12",)},
        {"across": 2},
        {"zoom": 0.5},
    ):
        yield f"{given}", charted(art, 30, 20, 0.8, **given)
    for stitches, rows, aspect in ((0, 4, 1), (3000, 4, 1), (4, 4, 0), (1.5, 2, 1)):
        yield f"{stitches} {rows} {aspect}", charted(art, stitches, rows, aspect)
    yield "too few letters", answer(house.chart_picture(art, 9, 9, 1).chart, "A")


def charted(art, *size, **given) -> list:
    """A picture as a chart."""
    picture = answer(house.chart_picture, art, *size, **given)
    if isinstance(picture, str):
        return [picture]
    far = picture.difference
    parts = [picture.palette, picture.cells, list(picture.notes)]
    return [
        *parts,
        [float(far.mean()), float(far.max())],
        int(picture.shown.sum()),
        picture.chart(),
    ]


@section
def palettes() -> Titled:
    """Colours as the eye sees them, and those picked from pictures."""
    colours = house.from_hex(("#000000", "#ffffff", "#b5452c", "teal", "#808080", "#010203"))
    lab = house.lab_of(colours)
    yield "lab", [lab, house.rgb_of(lab), house.rgb_of(lab * 1.4), house.to_hex(colours)]
    yield "no colour", answer(house.from_hex, ("nothing",))
    for picture in (flat_art(), photograph()):
        pixels = np.asarray(picture).reshape(-1, 3)
        for count, flat in product((2, 5, 9), (True, False)):
            picked = house.pick_colours(pixels, count, flat=flat)
            yield f"{count} {flat}", house.to_hex(picked)
        yield (
            "flat colours",
            [house.to_hex(house.flat_colours(pixels, apart=a)) for a in (3, 10, 30)],
        )


@section
def tidying() -> Titled:
    """Pictures' charts tidied level by level, flat and in a tube, and what each level costs."""
    drawn = (flat_art(), photograph(), see_through(), speckled())
    arts = [house.open_artwork(encoded(picture), "x.png") for picture in drawn]
    for number, art in enumerate(arts):
        picture = house.chart_picture(art, 40, 30, 0.75 + number // 3 / 4, count=6)
        for tube in (False, True):
            levels = house.tidied(picture, tube=tube)
            yield f"picture {number} {tube}", [level.cells for level in levels]
            how = house.Construction("rounds" if tube else "flat")
            limits = {"A": house.CarryLimits(2, 3, 1)}
            yield "levels", house.compare_levels(levels, how, by_yarn=limits)


def on_squares(cells, wide: int, high: int, *, line: int = 1, margin: int = 0, marks=False):
    """A chart on squared paper: flat cells, grid lines, a margin with strokes like numbers."""
    colours = ("#ebe1cd", "#284678", "#c83c32", "#5a8c50")
    rows, stitches = cells.shape
    size = (stitches * wide + 2 * margin + line, rows * high + 2 * margin + line)
    picture = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(picture)
    for i, j in np.ndindex(*cells.shape):
        x, y = margin + j * wide, margin + i * high
        draw.rectangle((x, y, x + wide - 1, y + high - 1), fill=colours[cells[i, j]])
        if marks and cells[i, j]:
            draw.line((x + 3, y + 3, x + wide - 4, y + high - 4), fill="black", width=3)
    for at in range(stitches + 1) if line else ():
        x = margin + at * wide
        draw.line(
            (x, margin, x, margin + rows * high), fill="#5a5a5a", width=line + 2 * (at % 10 == 0)
        )
    for at in range(rows + 1) if line else ():
        y = margin + at * high
        draw.line(
            (margin, y, margin + stitches * wide, y),
            fill="#5a5a5a",
            width=line + 2 * (at % 10 == 0),
        )
    for at in range(rows) if margin else ():
        y = margin + at * high + high // 2
        draw.line((size[0] - margin + 5, y, size[0] - margin + 9, y), fill="black")
    return picture


@section
def grid_pictures() -> Titled:
    """Pictures of charts on squared paper read back."""
    cells = np.asarray(patches(160, stitches=24, rows=18, yarns=4, strays=9).cells)[::-1]
    for wide, high, line, margin, marks in (
        (12, 12, 1, 0, False),
        (14, 10, 1, 40, True),
        (9, 12, 0, 0, False),
        (16, 12, 2, 25, False),
        (10, 10, 0, 30, False),
    ):
        made = on_squares(cells, wide, high, line=line, margin=margin, marks=marks)
        kind = "JPEG" if margin == 25 else "PNG"
        art = house.open_artwork(encoded(made, kind), "grid.png")
        yield f"{wide} {high} {line} {margin} {marks}", reading(art)
    yield "in yarns", reading(art, yarns=("#ebe1cd", "#284678", "#c83c32"))
    yield "three colours", reading(art, count=3)
    yield "said", reading(art, stitches=20, rows=12)
    for picture in (flat_art(), photograph()):
        art = house.open_artwork(encoded(picture), "picture.png")
        yield "no grid", reading(art)
        yield "no grid, said", reading(art, stitches=12, rows=9)


def reading(art, **given) -> list:
    """What a picture of a chart was read as."""
    read = answer(house.read_grid_picture, art, **given)
    if isinstance(read, str):
        return [read]
    doubts = [int(read.doubtful.sum()), *sorted(set(read.why.ravel().tolist()))]
    return [read.chart(), read.palette, list(read.notes), doubts, list(map(float, read.box))]

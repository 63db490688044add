"""Pictures to charts: pictures nobody here drew, the crop, and every bad file.

Checked by plain NumPy and scikit-image. Icons: Font Awesome Free 6 (PyPI fontawesomefree; font SIL
OFL 1.1, icons CC BY 4.0), no brands. Pictures: matplotlib's sample data (matplotlib's licence; a
present, and a map's heights), scikit-image's coffee cup and cat (both CC0).
"""

import hashlib
import io
import os
import struct
import subprocess
import sys
import tracemalloc
import zlib
from contextlib import suppress
from pathlib import Path

import fontawesomefree
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import cbook, colormaps
from PIL import Image, ImageCms, ImageDraw, ImageFont
from scipy import ndimage
from scipy.spatial.distance import cdist
from skimage import data
from skimage.color import deltaE_cie76, rgb2lab

from planner import Chart, Gauge, PlanError
from planner.charts.palette import from_hex, to_hex
from planner.charts.picture import (
    Artwork,
    ChartedPicture,
    chart_picture,
    open_artwork,
    stitches_for,
)

often = settings(derandomize=True, deadline=None, max_examples=150)
INK, RUST, SAGE, SAND = "#1f3a5f", "#b8452d", "#7a8c6a", "#e6d9be"
FONT = (
    Path(fontawesomefree.__file__).parent
    / "static/fontawesomefree/otfs/Font Awesome 6 Free-Solid-900.otf"
)
ICONS = {
    "heart": 0xF004,
    "star": 0xF005,
    "anchor": 0xF13D,
    "snowflake": 0xF2DC,
    "fish": 0xF578,
    "tree": 0xF1BB,
    "cat": 0xF6BE,
}


def file(image: Image.Image | np.ndarray, kind: str = "PNG", **how) -> bytes:
    out = io.BytesIO()
    (image if isinstance(image, Image.Image) else Image.fromarray(image)).save(out, kind, **how)
    return out.getvalue()


def opened(image, kind: str = "PNG", **how) -> Artwork:
    return open_artwork(file(image, kind, **how), f"picture.{kind.lower()}")


def icon(name: str, width: int = 480, height: int = 400) -> Image.Image:
    """An icon in ink on sand, its edges blended as Pillow draws them."""
    image = Image.new("RGB", (width, height), SAND)
    font = ImageFont.truetype(FONT, height * 3 // 4)
    ImageDraw.Draw(image).text((width / 2, height / 2), chr(ICONS[name]), INK, font, anchor="mm")
    return image


def photographs() -> dict[str, Image.Image]:
    heights = cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"]
    shaded = colormaps["gist_earth"]((heights - heights.min()) / np.ptp(heights), bytes=True)[
        ..., :3
    ]
    return {
        "coffee": Image.fromarray(data.coffee()),
        "cat": Image.fromarray(data.chelsea()),
        "map": Image.fromarray(shaded),
    }


def cell_of(pixels: np.ndarray, box, stitches: int, rows: int) -> np.ndarray:
    """The cell that the middle of each pixel lies in; 0 outside the box.

    Cells are numbered from 1, row by row from the bottom.
    """
    left, top, right, bottom = box
    y, x = np.indices(pixels.shape[:2]) + 0.5
    row, stitch = (bottom - y) / (bottom - top) * rows, (x - left) / (right - left) * stitches
    inside = (row >= 0) & (row < rows) & (stitch >= 0) & (stitch < stitches)
    return np.where(inside, row.astype(int) * stitches + stitch.astype(int) + 1, 0)


def nearest_yarn(pixels: np.ndarray, palette) -> np.ndarray:
    """The yarn that each colour is nearest to, by scikit-image's CIELAB and scipy's distances."""
    lab = rgb2lab(pixels).reshape(-1, 3)
    return cdist(lab, rgb2lab(from_hex(palette))).argmin(axis=1).reshape(pixels.shape[:-1])


# Flat art


@pytest.mark.parametrize("name", ICONS)
@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_an_icon_keeps_its_colours_shape_and_stitches(name, kind):
    image = icon(name)
    art = opened(image, kind, **({"quality": 92} if kind == "JPEG" else {}))
    assert (art.looks_flat, art.suggested_yarns) == (True, 2)
    gauge = Gauge(stitches=20, rows=25)
    stitches, rows = 60, art.rows_for(60, gauge.aspect)
    assert rows == 62  # 60 × 400 ÷ 480 ÷ 0.8 = 62.5
    charted = chart_picture(art, stitches, rows, gauge.aspect)
    assert deltaE_cie76(
        rgb2lab(from_hex(charted.palette)), rgb2lab(from_hex([SAND, INK]))
    ).max() < (2 if kind == "JPEG" else 1e-9)

    # the majority of the pixels in each cell, by scipy (BSD-3-Clause): only near ties may differ
    box = art.box(stitches, rows, gauge.aspect)
    ink, cell = nearest_yarn(art.pixels, charted.palette), cell_of(art.pixels, box, stitches, rows)
    share = ndimage.mean(ink, cell, np.arange(stitches * rows) + 1).reshape(rows, stitches)
    differs = charted.cells != (share > 0.5)
    assert differs.mean() < 0.01
    assert np.abs(share[differs] - 0.5).max(initial=0) < 0.1

    # where the ink begins and ends, and how much of the picture it takes
    drawn, knitted = np.asarray(image.convert("L")) < 140, charted.cells[::-1] == 1
    for axis, (start, stop, cells) in enumerate(
        ((box[0], box[2], stitches), (box[1], box[3], rows))
    ):
        inked, worked = (
            np.flatnonzero(each.any(axis=axis))[[0, -1]] + (0, 1) for each in (drawn, knitted)
        )
        assert worked == pytest.approx((inked - start) / (stop - start) * cells, abs=1.1)
    assert knitted.mean() == pytest.approx(drawn.mean(), abs=0.01)


def test_the_vote_where_every_pixel_counts():
    """12 × 9 pixels a cell, so exactly the majority; among three yarns in hand."""
    art, yarns = opened(icon("cat")), [RUST, SAND, INK]
    charted = chart_picture(art, 40, 44, 9 / 12, yarns=yarns, up=1)
    votes = nearest_yarn(art.pixels[: 44 * 9], yarns).reshape(44, 9, 40, 12)
    expected = np.argmax([(votes == yarn).sum(axis=(1, 3)) for yarn in range(3)], axis=0)
    assert charted.palette == tuple(yarns)
    assert np.array_equal(charted.cells[::-1], expected)


def test_a_transparent_present():
    art = open_artwork(
        Path(cbook.get_sample_data("Minduka_Present_Blue_Pack.png", asfileobj=False)).read_bytes(),
        "present.png",
    )
    assert (art.pixels.shape, art.notes) == (
        (128, 128, 3),
        ("transparent parts are taken as white",),
    )
    assert art.pixels[0, 0].tolist() == [255] * 3
    charted = chart_picture(art, 32, 32, 1, yarns=["white", "#1e90ff", "#303030"])
    blue = charted.cells == 1
    assert 0.3 < blue.mean() < 0.6  # a blue box with a silver ribbon on white
    assert (charted.cells[0] == 0).all() or not blue[0].any()


@pytest.mark.parametrize(
    ("row", "cells"),
    [
        ("abbbaaa", "ba"),  # 3.5 pixels a cell: a 1, b 2.5; b 0.5, a 3
        ("abaaba", "aaaa"),  # 1.5: a 1, b 0.5, and so on
        ("abbabb", "abab"),
        ("ab", "aaabbb"),  # a third of a pixel
    ],
)
def test_cells_that_cut_pixels_through(row, cells):
    pixels = np.tile(from_hex([{"a": SAND, "b": INK}[pixel] for pixel in row]), (len(row), 1, 1))
    charted = chart_picture(
        Artwork(pixels, "stripes.png"), len(cells), 2, len(cells) / 2, yarns=[SAND, INK]
    )
    assert ["".join("ab"[cell] for cell in row) for row in charted.cells] == [cells] * 2


def test_a_pixel_and_a_half_a_cell_both_ways():
    """Of a cell's 2.25 pixels its corner is 1, so the rest has the majority."""
    tile = from_hex([INK, SAND, INK, SAND, SAND, SAND, INK, SAND, INK]).reshape(3, 3, 3)
    charted = chart_picture(
        Artwork(np.tile(tile, (5, 5, 1)), "dots.png"), 10, 10, 1, yarns=[INK, SAND]
    )
    assert (charted.cells == 1).all()


PIXELS_A_CELL = [(1, 1), (2, 1), (3, 2), (5, 4), (12, 9), (13, 17)]


@pytest.mark.parametrize(("wide", "high"), PIXELS_A_CELL)
@pytest.mark.parametrize("yarns", [1, 2, 5, 26])
def test_a_chart_drawn_with_whole_pixels_comes_back(wide, high, yarns):
    random = np.random.default_rng(yarns)
    colours = random.permutation(
        [(r, g, b) for r in (0, 120, 240) for g in (0, 120, 240) for b in (0, 120, 240)]
    )[:yarns]
    drawn = colours.astype(np.uint8)[random.integers(0, yarns, (30, 41))]
    art = opened(drawn.repeat(high, axis=0).repeat(wide, axis=1))
    aspect = high / wide
    assert (art.looks_flat, art.suggested_yarns, art.rows_for(41, aspect)) == (True, yarns, 30)
    for wish in ({}, {"yarns": to_hex(colours)}):
        charted = chart_picture(art, 41, 30, aspect, **wish)
        assert np.array_equal(from_hex(charted.palette)[charted.cells[::-1]], drawn)
        assert np.array_equal(charted.shown[::-1], drawn)
        assert charted.difference.max() == 0


# Photographs


@pytest.mark.parametrize("name", ["coffee", "cat", "map"])
def test_a_photograph_is_averaged(name):
    art = opened(photographs()[name])
    assert (art.looks_flat, art.suggested_yarns) == (False, 6)
    placed = {"across": 0.3, "up": 0.8, "zoom": 1.3}
    charted = chart_picture(art, 70, 53, 0.77, **placed)
    cell = cell_of(art.pixels, art.box(70, 53, 0.77, **placed), 70, 53)
    mean = [
        ndimage.mean(art.pixels[..., i], cell, np.arange(70 * 53) + 1).reshape(53, 70)
        for i in range(3)
    ]
    assert np.abs(charted.shown - np.stack(mean, axis=-1)).max() <= 1
    yarn = nearest_yarn(charted.shown, charted.palette)
    apart = deltaE_cie76(rgb2lab(charted.shown), rgb2lab(from_hex(charted.palette))[charted.cells])
    assert (charted.cells != yarn).mean() < 0.002  # where two yarns are equally near
    assert np.abs(charted.difference - apart).max() < 0.05
    assert len(set(charted.palette)) == 6
    assert np.unique(charted.cells).tolist() == list(range(6))


def test_two_thousand_colours():
    random = np.random.default_rng(2)
    colours = random.integers(0, 256, (2000, 3), dtype=np.uint8)
    art = opened(colours[np.arange(200 * 200) % 2000].reshape(200, 200, 3))
    assert (art.looks_flat, art.suggested_yarns) == (False, 6)
    for count in (1, 26):
        for flat in (True, False):
            charted = chart_picture(art, 50, 50, 1, count=count, flat=flat)
            assert len(charted.palette) == count
            assert charted.cells.max() < count


def test_letters_and_no_stitch():
    cells = np.array([[0, 1], [-1, 2]], dtype=np.int16)
    charted = ChartedPicture(
        cells, (INK, RUST, SAND), from_hex([INK, INK, RUST, SAND]).reshape(2, 2, 3), ()
    )
    assert charted.chart() == Chart.from_rows([".C", "AB"])
    assert charted.chart("XYZ") == Chart.from_rows([".Z", "XY"])
    assert (charted.difference > 0).tolist() == [[False, True], [False, False]]
    with pytest.raises(PlanError, match="has 3 yarns but only 2 letters were given"):
        charted.chart("AB")


# The crop, on a picture 400 pixels wide and 300 high

ART = Artwork(np.zeros((300, 400, 3), dtype=np.uint8), "plain.png")
CM = Gauge(stitches=20, rows=25)  # 20 stitches are 10 cm wide, 25 rows 10 cm high


@pytest.mark.parametrize(
    ("piece", "placed", "box"),
    [
        ((20, 25), {}, (50, 0, 350, 300)),  # 10 × 10 cm: a square
        ((20, 25), {"across": 0}, (0, 0, 300, 300)),
        ((20, 25), {"across": 1, "up": 0}, (100, 0, 400, 300)),
        ((40, 25), {}, (0, 50, 400, 250)),  # 20 × 10 cm
        ((40, 25), {"up": 0}, (0, 100, 400, 300)),
        ((40, 25), {"up": 1, "across": 0}, (0, 0, 400, 200)),
        ((20, 25), {"zoom": 2}, (125, 75, 275, 225)),
        ((20, 25), {"zoom": 3, "across": 1, "up": 0.25}, (300, 150, 400, 250)),
        ((40, 75), {}, (100, 0, 300, 300)),  # 20 × 30 cm
    ],
)
def test_crop(piece, placed, box):
    assert ART.box(*piece, CM.aspect, **placed) == pytest.approx(box)


@often
@given(
    st.integers(1, 1000),
    st.integers(1, 2000),
    st.floats(0.2, 5),
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(1, 1000),
)
def test_any_crop_lies_in_the_picture_and_has_the_shape_of_the_piece(
    stitches, rows, aspect, across, up, zoom
):
    left, top, right, bottom = ART.box(stitches, rows, aspect, across=across, up=up, zoom=zoom)
    assert 0 <= left < right <= 400
    assert 0 <= top < bottom <= 300
    assert (right - left) / (bottom - top) == pytest.approx(stitches / (rows * aspect))
    assert max((right - left) / 400, (bottom - top) / 300) == pytest.approx(1 / zoom)


def test_counts_for_a_size():
    assert [ART.rows_for(48, aspect) for aspect in (0.8, 1, CM.aspect)] == [45, 36, 45]
    assert Artwork(np.zeros((1, 500, 3), dtype=np.uint8), "line.png").rows_for(20, 0.8) == 1
    assert [stitches_for(width, CM) for width in (10, 12.3, "7.7", 0.1)] == [20, 25, 15, 1]
    assert stitches_for(4, Gauge(stitches=22, rows=30, over=4, unit="in"), "in") == 22
    assert stitches_for(20, CM, "in") == 102  # 50.8 cm


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"stitches": 0}, "The chart has 0 stitches; a whole number from 1 to 1,000"),
        ({"stitches": 2001}, "2001 stitches"),
        ({"stitches": 40.5}, "40.5 stitches"),
        ({"rows": -3}, "-3 rows"),
        ({"rows": True}, "True rows"),
        (
            {"aspect": 0},
            "The height of a chart row over the width of a stitch is 0; it must be more than 0",
        ),
        (
            {"across": 1.2},
            "The place across in the picture is 1.2; it must be 0 or more, and at most 1",
        ),
        ({"up": -0.1}, "The place up in the picture is -0.1"),
        ({"zoom": 0.5}, "The zoom is 0.5; it must be 1 or more"),
        ({"zoom": float("nan")}, "The zoom is nan"),
        ({"count": 0}, "The number of yarns is 0; a whole number from 1 to 26"),
        ({"yarns": ["#1f3a5f", "woolly"]}, 'the colour "woolly"; write it as #rrggbb'),
    ],
)
def test_wrong_wishes_are_refused(wrong, words):
    asked = {"stitches": 40, "rows": 50, "aspect": 0.8} | wrong
    with pytest.raises(PlanError, match=words):
        chart_picture(ART, asked.pop("stitches"), asked.pop("rows"), asked.pop("aspect"), **asked)
    with pytest.raises(PlanError, match='The width has the unit "ell"'):
        stitches_for(10, CM, "ell")


@pytest.mark.parametrize("zoom", [1, 1000])
@pytest.mark.parametrize("flat", [True, False])
def test_one_pixel(flat, zoom):
    art = opened(Image.new("RGB", (1, 1), RUST))
    charted = chart_picture(art, 30, 40, 0.8, flat=flat, zoom=zoom)
    assert (charted.palette, charted.cells.shape, charted.cells.max()) == ((RUST,), (40, 30), 0)


# Files of every kind

CORNERS = (
    from_hex([INK, RUST, SAGE, SAND]).reshape(2, 2, 3).repeat(20, axis=0).repeat(30, axis=1)
)  # 60 × 40 pixels


def corners(art: Artwork) -> list[list[int]]:
    """The colours a quarter in from each corner, as they are read."""
    h, w = art.pixels.shape[:2]
    return [art.pixels[y, x].tolist() for y in (h // 4, 3 * h // 4) for x in (w // 4, 3 * w // 4)]


AS_DRAWN = CORNERS[[10, 10, 30, 30], [15, 45, 15, 45]].tolist()
FADED = [[255, 255, 255], [184, 69, 45], [122, 140, 106], [230, 217, 190]]  # ink taken out: white


def exif(orientation: int) -> Image.Exif:
    noted = Image.Exif()
    noted[0x0112] = orientation
    return noted


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
@pytest.mark.parametrize("orientation", range(10))
def test_turned_photographs(orientation, kind):
    """Exif 2.32, 4.6.4 (published): where row 0 and column 0 of what is stored lie in the scene.

    0 and 9 say nothing.
    """
    stored = {
        2: CORNERS[:, ::-1],  # top, right
        3: CORNERS[::-1, ::-1],  # bottom, right
        4: CORNERS[::-1],  # bottom, left
        5: CORNERS.transpose(1, 0, 2),  # left, top
        6: CORNERS.transpose(1, 0, 2)[::-1],  # right, top
        7: CORNERS.transpose(1, 0, 2)[::-1, ::-1],  # right, bottom
        8: CORNERS.transpose(1, 0, 2)[:, ::-1],  # left, bottom
    }.get(orientation, CORNERS)
    art = opened(
        stored,
        kind,
        exif=exif(orientation),
        **({"quality": 100, "subsampling": 0} if kind == "JPEG" else {}),
    )
    assert art.pixels.shape == CORNERS.shape
    assert np.abs(np.array(corners(art)) - AS_DRAWN).max() <= (3 if kind == "JPEG" else 0)
    assert art.notes == (("turned upright, as the camera noted",) if 2 <= orientation <= 8 else ())


def in_palette(**how) -> bytes:
    return file(Image.fromarray(CORNERS).quantize(4, Image.Quantize.FASTOCTREE), **how)


def see_through(mode: str) -> Image.Image:
    alpha = Image.fromarray(np.where(CORNERS[..., 0] == 31, 0, 255).astype(np.uint8))
    image = Image.fromarray(CORNERS).convert(mode[:-1])
    image.putalpha(alpha)
    return image


def swapped_profile() -> bytes:
    """A colour profile in which red and blue have changed places."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    at = {
        tag: 132 + 12 * i
        for i in range(profile[131])
        for tag in [bytes(profile[132 + 12 * i :][:4])]
    }
    red, blue = (slice(at[tag] + 4, at[tag] + 12) for tag in (b"rXYZ", b"bXYZ"))
    profile[red], profile[blue] = profile[blue], profile[red]
    return bytes(profile).replace("sRGB".encode("utf-16-be"), "swap".encode("utf-16-be"))


@pytest.mark.parametrize(
    ("data", "expected", "notes"),
    [
        (file(see_through("RGBA")), FADED, "transparent parts are taken as white"),
        (
            file(see_through("LA")),
            [[255] * 3, [101] * 3, [131] * 3, [218] * 3],
            "transparent parts are taken as white",
        ),
        (file(CORNERS), AS_DRAWN, ""),
        (
            file(Image.fromarray(CORNERS), transparency=(31, 58, 95)),
            FADED,
            "transparent parts are taken as white",
        ),
        (in_palette(), AS_DRAWN, ""),
        (file(CORNERS, "GIF"), AS_DRAWN, ""),
        (file(CORNERS, "WEBP", lossless=True), AS_DRAWN, ""),
        (
            file(Image.fromarray(CORNERS).convert("CMYK"), "JPEG", quality=100),
            AS_DRAWN,
            "made for print (CMYK)",
        ),
        (file(Image.fromarray(CORNERS), "JPEG", quality=100, progressive=True), AS_DRAWN, ""),
        (
            file(Image.fromarray(CORNERS).convert("L")),
            [[55] * 3, [101] * 3, [131] * 3, [218] * 3],
            "",
        ),
        (
            file(CORNERS[..., 0].astype(np.uint16) * 256 + 9),
            [[31] * 3, [184] * 3, [122] * 3, [230] * 3],
            "",
        ),  # 16-bit grey
        (
            file(Image.fromarray(CORNERS[..., 0] > 150)),
            [[0] * 3, [255] * 3, [0] * 3, [255] * 3],
            "",
        ),  # 1 bit
        (
            file(CORNERS, save_all=True, append_images=[Image.new("RGB", (60, 40))]),
            AS_DRAWN,
            "the first of 2 pictures in the file",
        ),  # animated: its first
        *(
            (
                file(Image.fromarray(CORNERS).convert(mode), icc_profile=swapped_profile()),
                [colour[::-1] for colour in AS_DRAWN],
                "colours by the picture's own profile, swap",
            )
            for mode in ("RGB", "RGBA")
        ),
        (
            file(CORNERS, icc_profile=b"nonsense" * 40),
            AS_DRAWN,
            "its colour profile cannot be used",
        ),
    ],
)
def test_kinds_of_pictures(data, expected, notes):
    art = open_artwork(data, "picture.png")
    assert np.abs(np.array(corners(art)) - expected).max() <= 3
    assert " ".join(art.notes).startswith(notes)
    assert len(art.notes) == bool(notes)


def test_a_palette_with_a_transparent_colour():
    image = Image.fromarray(CORNERS).quantize(4, Image.Quantize.FASTOCTREE)
    art = open_artwork(file(image, transparency=image.getpixel((15, 10))), "picture.png")
    assert corners(art) == FADED


def test_a_broken_note_of_the_camera_does_not_keep_a_picture_out():
    data = file(CORNERS, "JPEG", quality=100, exif=b"Exif\0\0II*\0\x08\0\0\0\xff\xff\x12\x01\x03\0")
    with pytest.warns(UserWarning, match="Corrupt EXIF"):
        art = open_artwork(data, "picture.jpg")
    assert np.abs(np.array(corners(art)) - AS_DRAWN).max() <= 3


@pytest.mark.parametrize("mode", ["RGBA", "P", "1", "CMYK"])
def test_a_picture_20_000_pixels_wide(mode):
    art = opened(Image.new(mode, (20_000, 900)), "JPEG" if mode == "CMYK" else "PNG")
    assert art.pixels.shape == (450, 10_000, 3)
    assert art.notes[0] == "20,000 × 900 pixels, reduced to 10,000 × 450"
    assert chart_picture(art, 200, art.rows_for(200, 0.75), 0.75).cells.shape == (12, 200)


# Files that are refused

PICTURE = file(data.coffee())
PHOTOGRAPH = file(data.coffee(), "JPEG")


def chunk(kind: bytes, content: bytes) -> bytes:
    return (
        struct.pack(">I", len(content))
        + kind
        + content
        + struct.pack(">I", zlib.crc32(kind + content))
    )


def header(width: int, height: int) -> bytes:
    return PICTURE[:8] + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))


def with_chunk(kind: bytes, before: bytes) -> bytes:
    """A sound picture with a chunk of 200 MB packed into 200 kB put in after its header."""
    return PICTURE[:33] + chunk(kind, before + zlib.compress(bytes(200_000_000), 1)) + PICTURE[33:]


def says_it_is_huge(photograph: bytes) -> bytes:
    at = photograph.index(b"\xff\xc0") + 5
    return photograph[:at] + struct.pack(">HH", 65_000, 64_000) + photograph[at + 4 :]


NO_PICTURE, DAMAGED, HUGE = (
    "is not a PNG, JPEG, WebP or GIF picture, whatever its name",
    "is damaged or was cut short",
    "It was not opened",
)


@pytest.mark.parametrize(
    ("what", "content", "words"),
    [
        ("nothing", b"", r"is empty\. Save or export the picture as PNG or JPEG"),
        ("a text", b"Cast on 44 stitches.\n", NO_PICTURE),
        (
            "an SVG",
            b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
            NO_PICTURE,
        ),
        ("a TIFF", file(CORNERS, "TIFF"), NO_PICTURE),
        ("the first bytes of a PNG", PICTURE[:8], DAMAGED),
        ("a PNG's header", PICTURE[:33], DAMAGED),
        ("half a PNG", PICTURE[: len(PICTURE) // 2], DAMAGED),
        ("a PNG of no size", header(0, 0) + chunk(b"IEND", b""), DAMAGED),
        ("a text after a PNG's signature", PICTURE[:8] + b"Cast on 44 stitches.\n" * 9, DAMAGED),
        ("the first bytes of a JPEG", PHOTOGRAPH[:3], DAMAGED),
        ("a JPEG's header", PHOTOGRAPH[:400], DAMAGED),
        ("half a JPEG", PHOTOGRAPH[: len(PHOTOGRAPH) // 2], DAMAGED),
        (
            "a huge PNG",
            header(60_000, 50_000) + chunk(b"IDAT", zlib.compress(bytes(99))),
            r"60,000 × 50,000 pixels.*" + HUGE,
        ),
        ("the hugest PNG", header(2**31 - 1, 2**31 - 1) + chunk(b"IDAT", b""), HUGE),
        ("a huge JPEG", says_it_is_huge(PHOTOGRAPH), "64,000 × 65,000 pixels.*" + HUGE),
        ("a huge text in a PNG", with_chunk(b"zTXt", b"Comment\0\0"), DAMAGED),
        ("a huge international text", with_chunk(b"iTXt", b"Comment\0\1\0\0\0"), DAMAGED),
        ("a huge colour profile", with_chunk(b"iCCP", b"own\0\0"), DAMAGED),
    ],
)
def test_refused_in_words(what, content, words):
    with pytest.raises(PlanError, match=f"^sheep.png .*{words}"):
        open_artwork(content, "sheep.png")


def test_what_is_huge_is_refused_before_it_is_decoded():
    tracemalloc.start()
    for content in (
        header(60_000, 50_000) + chunk(b"IDAT", zlib.compress(bytes(99))),
        with_chunk(b"zTXt", b"Comment\0\0"),
    ):
        tracemalloc.reset_peak()
        before = tracemalloc.get_traced_memory()[0]
        with pytest.raises(PlanError):
            open_artwork(content, "sheep.png")
        assert tracemalloc.get_traced_memory()[1] - before < 10_000_000
    tracemalloc.stop()


@often
@given(st.integers(0, len(PHOTOGRAPH) - 1), st.binary(min_size=1, max_size=4))
def test_a_photograph_with_damaged_bytes_is_read_or_refused(at, put):
    with suppress(PlanError):
        assert (
            open_artwork(
                PHOTOGRAPH[:at] + put + PHOTOGRAPH[at + len(put) :], "sheep.jpg"
            ).pixels.ndim
            == 3
        )


# The same bytes everywhere


def test_the_same_chart_in_another_process(tmp_path):
    code = """if True:
        import hashlib, pathlib, sys
        from planner.charts import chart_picture, open_artwork

        for name in sys.argv[1:]:
            art = open_artwork(pathlib.Path(name).read_bytes(), name)
            charted = chart_picture(art, 60, 60, 0.75, count=5)
            drawn = charted.cells.tobytes() + charted.shown.tobytes()
            print(charted.palette, hashlib.sha256(drawn).hexdigest())
    """
    files = {"coffee.jpg": PHOTOGRAPH, "anchor.png": file(icon("anchor"))}
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    told = subprocess.run(
        [sys.executable, "-c", code, *(str(tmp_path / name) for name in files)],
        cwd=Path(__file__).parents[2],
        env=os.environ | {"PYTHONHASHSEED": "1"},
        capture_output=True,
        check=True,
        text=True,
    ).stdout.splitlines()
    here = [
        chart_picture(open_artwork(content, name), 60, 60, 0.75, count=5)
        for name, content in files.items()
    ]
    expected = [
        f"{c.palette} {hashlib.sha256(c.cells.tobytes() + c.shown.tobytes()).hexdigest()}"
        for c in here
    ]
    assert told == expected

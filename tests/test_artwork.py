"""Pictures made into charts: shape, average and majority vote against NumPy, real pictures, and every bad file."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from matplotlib import cbook
from PIL import Image, ImageCms
from scipy.spatial.distance import cdist
from skimage import color, data

from planner import Gauge, PlanError
from planner.artwork import ChartedPicture, chart_picture, open_artwork, stitches_for
from planner.palette import from_hex, lab_of, to_hex
from tests.pictures import ANCHOR, CAT, CREAM, FOUR, HEART, LEAF, RED, SNOWFLAKE, areas, encoded, icon

ASPECT = float(Gauge().aspect)
COFFEE = data.coffee()
SMALL = COFFEE[:60, :90]


def opened(picture, format="PNG", **how):
    return open_artwork(encoded(picture, format, **how), "picture")


# Files


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (b"", ["empty", "PNG or JPEG"]),
        (b"not a picture at all\n", ["not a PNG or JPEG"]),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", ["not a PNG or JPEG"]),
        (encoded(SMALL, "GIF"), ["not a PNG or JPEG"]),
        (encoded(SMALL)[:3000], ["damaged or was cut short"]),
        (encoded(SMALL, "JPEG")[:900], ["damaged or was cut short"]),
        (encoded(SMALL)[:20], ["damaged or was cut short"]),
        (encoded(SMALL).replace(b"IDAT", b"IDAX"), ["damaged or was cut short"]),
    ],
)
def test_files_that_are_no_pictures(file, words):
    with pytest.raises(PlanError) as said:
        open_artwork(file, "heart.png")
    assert all(word in str(said.value) for word in ["heart.png", *words])


@pytest.mark.parametrize("size", [(100_000, 100_000), (20_000, 10_001), (2**31 - 1, 1)])
def test_a_bomb_is_refused_by_what_its_header_says(size):
    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", *size, 8, 2, 0, 0, 0))
    bomb = b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    with pytest.raises(PlanError, match="It was not opened"):
        open_artwork(bomb, "bomb.png")


def test_broken_files_are_refused_in_words_or_read():
    rng, read = np.random.default_rng(2), 0
    files = [encoded(SMALL), encoded(SMALL, "JPEG"), encoded(Image.fromarray(SMALL).convert("P"))]
    for number in range(300):
        file = bytearray(files[number % 3])
        for _ in range(4):
            file[rng.integers(8, len(file))] = rng.integers(256)
        kept = len(file) if number % 2 else rng.integers(len(file))
        try:
            read += open_artwork(bytes(file[:kept]), "x").pixels.ndim == 3
        except PlanError:
            pass
    assert read > 0


@pytest.mark.parametrize(("format", "size"), [("PNG", (20_000, 900)), ("JPEG", (20_000, 4_000)), ("PNG", (20_000, 4))])
def test_very_wide_pictures_are_reduced(format, size):
    shade = np.arange(size[0]) * 200 // size[0]
    art = opened(np.broadcast_to(shade.astype(np.uint8)[:, None], (size[1], size[0], 3)), format)
    height, width = art.pixels.shape[:2]
    assert height * width < 16_000_000
    assert size[0] / size[1] == pytest.approx(width / height, rel=0.01)
    assert bool(art.notes) == (width < size[0])
    assert np.abs(art.pixels[height // 2, ::100, 0] - np.arange(0, width, 100) * 200 / width).max() < 3


def test_one_pixel_makes_a_chart():
    art = opened(np.array([[RED]], np.uint8))
    for flat in (True, False):
        picture = chart_picture(art, 30, 40, ASPECT, count=5, flat=flat)
        assert picture.palette == to_hex(np.array([RED], np.uint8))
        assert picture.cells.shape == (40, 30)
        assert not picture.cells.any()
    assert chart_picture(art, 3, 4, ASPECT, zoom=50, across=1, up=0).chart().stitches() == {"A": 12}


def test_transparent_is_white_and_said():
    rgba = np.dstack((SMALL, np.full(SMALL.shape[:2], 255, np.uint8)))
    assert opened(rgba).notes == ()
    assert (opened(rgba).pixels == SMALL).all()
    rgba[:20, :, 3] = 0
    rgba[20:30, :, 3] = 128
    art = opened(rgba)
    assert art.notes == ("transparent parts are taken as white",)
    assert (art.pixels[:20] == 255).all()
    assert np.abs(art.pixels[20:30] - (SMALL[20:30] * (128 / 255) + 255 * (127 / 255))).max() <= 1
    grey = Image.fromarray(rgba).convert("LA")
    assert (opened(grey).pixels[:20] == 255).all()
    pale = Image.fromarray(np.array([[0, 1], [1, 0]], np.uint8))
    pale.putpalette([10, 20, 30, 200, 100, 50])
    assert opened(pale, transparency=1).pixels.tolist() == [[[10, 20, 30], [255] * 3], [[255] * 3, [10, 20, 30]]]


@pytest.mark.parametrize("mode", ["1", "L", "P"])
def test_grey_and_palette_pictures(mode):
    picture = Image.fromarray(SMALL).convert(mode)
    assert (opened(picture).pixels == np.asarray(picture.convert("RGB"))).all()


def test_sixteen_bits_are_scaled_not_clipped():
    grey = np.linspace(0, 65535, 60 * 90).reshape(60, 90).astype(np.uint16)
    assert (opened(grey).pixels == (grey >> 8)[..., None]).all()


def test_print_colours_are_said_to_be_off():
    art = opened(Image.fromarray(SMALL).convert("CMYK"), "JPEG", quality=95)
    assert "CMYK" in art.notes[0]
    assert np.abs(art.pixels.astype(int) - SMALL).mean() < 8


def test_a_profile_of_its_own_is_followed():
    swapped = ImageCms.createProfile("LAB")
    art = opened(SMALL, "JPEG", icc_profile=ImageCms.ImageCmsProfile(swapped).tobytes(), quality=95)
    assert "cannot be used" in art.notes[0]
    same = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert (opened(SMALL, icc_profile=same).pixels == SMALL).all()


@pytest.mark.parametrize("format", ["PNG", "JPEG"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_phone_photographs_stand_upright(format, orientation):
    turned = {1: lambda a: a, 2: np.fliplr, 3: lambda a: np.rot90(a, 2), 4: np.flipud}
    turned |= {5: lambda a: a.swapaxes(0, 1), 6: lambda a: np.rot90(a, -1), 7: lambda a: a.swapaxes(0, 1)[::-1, ::-1]}
    turned |= {8: lambda a: np.rot90(a, 1)}
    exif = Image.Exif()
    exif[0x0112] = orientation
    art = opened(SMALL, format, exif=exif)
    plain = opened(SMALL, format)
    assert (art.pixels == turned[orientation](plain.pixels)).all()
    assert bool(art.notes) == (orientation > 1)


# The piece's shape


@pytest.mark.parametrize(("stitches", "rows", "aspect"), [(40, 30, 0.75), (20, 90, 0.7), (100, 20, 1.4), (1, 1, 1)])
@pytest.mark.parametrize("zoom", [1, 1.7, 4])
def test_the_box_is_the_largest_of_the_pieces_shape(stitches, rows, aspect, zoom):
    art = opened(COFFEE)
    for across, up in ((0, 0), (0.5, 0.5), (1, 1), (0.2, 0.9)):
        left, top, right, bottom = art.box(stitches, rows, aspect, across=across, up=up, zoom=zoom)
        assert (right - left) / (bottom - top) == pytest.approx(stitches / (rows * aspect))
        assert max((right - left) / 600, (bottom - top) / 400) * zoom == pytest.approx(1)
        assert 0 <= left < right <= 600
        assert 0 <= top < bottom <= 400
        assert left == pytest.approx(across * (600 - (right - left)))
        assert 400 - bottom == pytest.approx(up * (400 - (bottom - top)))


def test_sizes_from_the_picture_and_the_gauge():
    art = opened(COFFEE)
    rows = art.rows_for(60, ASPECT)
    assert rows == round(60 / 600 * 400 / (22 / 30))
    assert art.box(60, rows, 60 / rows * 400 / 600) == pytest.approx((0, 0, 600, 400))
    assert stitches_for(45, Gauge()) == 99
    assert stitches_for(10, Gauge(20, 28, 4, "in"), "in") == 50


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stitches": 0}, "0 stitches"),
        ({"stitches": 5000}, "5000 stitches"),
        ({"rows": 2.5}, "2.5 rows"),
        ({"rows": True}, "True rows"),
        ({"aspect": 0}, "height of a chart row"),
        ({"across": 1.5}, "across"),
        ({"up": -0.1}, "up"),
        ({"zoom": 0.5}, "zoom"),
        ({"count": 40}, "number of yarns"),
        ({"yarns": ["mauve-ish"]}, "mauve-ish"),
    ],
)
def test_wrong_arguments(change, words):
    asked = {"stitches": 20, "rows": 20, "aspect": ASPECT} | change
    with pytest.raises(PlanError, match=words):
        chart_picture(opened(SMALL), **asked)


# Averages and votes against NumPy


def inside(start: float, stop: float, cells: int, pixels: int) -> np.ndarray:
    """Which pixels have their centres in each cell, cells × pixels, as shares of the cell."""
    ends, centres = start + np.arange(cells + 1) * (stop - start) / cells, np.arange(pixels) + 0.5
    lies = (centres >= ends[:-1, None]) & (centres < ends[1:, None])
    return lies / lies.sum(axis=1, keepdims=True)


@pytest.mark.parametrize("zoom", [1, 1.3, 3])
def test_photographs_are_averaged_and_get_the_nearest_yarn(zoom):
    art, yarns = opened(COFFEE), ["#230803", "#ad2f11", "#d3a277", "#f4e5d5", "#00ff00"]
    picture = chart_picture(art, 37, 41, ASPECT, yarns=yarns, flat=False, zoom=zoom, across=0.3, up=0.8)
    left, top, right, bottom = art.box(37, 41, ASPECT, zoom=zoom, across=0.3, up=0.8)
    mean = np.einsum("ry,yxc,sx->rsc", inside(top, bottom, 41, 400), COFFEE, inside(left, right, 37, 600), optimize=True)
    assert np.abs(picture.shown[::-1] - mean).max() < 1.6  # rounded to whole levels twice
    lab = color.rgb2lab(picture.shown)
    apart = cdist(lab.reshape(-1, 3), color.rgb2lab(from_hex(yarns)[None])[0])
    close = np.sort(apart, axis=1)
    clear = close[:, 1] - close[:, 0] > 0.1
    assert (picture.cells.ravel() == apart.argmin(axis=1))[clear].all()
    assert picture.difference.ravel() == pytest.approx(close[:, 0], abs=0.05)
    assert picture.palette == tuple(yarns)
    assert "E" not in picture.chart().letters  # asked for and not used


@pytest.mark.parametrize("pixels", [1, 2, 3, 5, 8, 11])
def test_flat_art_goes_by_the_vote_of_its_pixels(pixels):
    rows, stitches = 24, 30
    art = np.array(icon(CAT, 400).resize((stitches * pixels, rows * pixels)))
    yarns = np.array([CREAM, RED, (10, 10, 10)], np.uint8)
    picture = chart_picture(opened(art), stitches, rows, 1.0, yarns=to_hex(yarns), flat=True)
    votes = cdist(lab_of(art).reshape(-1, 3), lab_of(yarns)).argmin(axis=1).reshape(rows, pixels, stitches, pixels)
    counts = np.stack([(votes == yarn).sum(axis=(1, 3)) for yarn in range(3)], axis=-1)
    assert (picture.cells[::-1] == counts.argmax(axis=-1)).all()


@pytest.mark.parametrize(("wide", "high"), [(1, 1), (2, 3), (7, 5), (13, 10), (40, 33)])
def test_a_chart_drawn_in_whole_pixels_comes_back(wide, high):
    cells = areas(35, 50, wide=1)
    drawn = FOUR[np.repeat(np.repeat(cells, high, axis=0), wide, axis=1)]
    art = opened(drawn)
    picture = chart_picture(art, 50, art.rows_for(50, high / wide), high / wide)
    assert art.looks_flat
    assert (from_hex(picture.palette)[picture.cells[::-1]] == FOUR[cells]).all()
    assert not picture.difference.any()
    order = np.argsort(-np.bincount(cells.ravel()))
    letters = dict(zip(order.tolist(), "ABCD", strict=True))
    assert picture.chart().to_rows() == [[letters[cell] for cell in row] for row in cells.tolist()]


# Real pictures


@pytest.mark.parametrize("which", [HEART, CAT, LEAF, ANCHOR, SNOWFLAKE])
@pytest.mark.parametrize("format", ["PNG", "JPEG"])
def test_icons_come_out_in_their_two_colours(which, format):
    art = opened(icon(which), format)
    rows = art.rows_for(60, ASPECT)
    picture = chart_picture(art, 60, rows, ASPECT)
    assert art.looks_flat
    assert art.suggested_yarns == 2
    assert np.abs(from_hex(picture.palette).astype(int) - [CREAM, RED]).max() <= 3
    # Each clear stitch is what most of its pixels are, by their average.
    mean = icon(which).convert("L").resize((60, rows), Image.Resampling.BOX, box=art.box(60, rows, ASPECT))
    mean = np.asarray(mean)[::-1].astype(float)
    ink = (mean.max() - mean) / np.ptp(mean)
    clear = np.abs(ink - 0.5) > 0.2
    assert ((ink > 0.5) == picture.cells)[clear].all()
    assert clear.mean() > 0.9


@pytest.mark.parametrize("picture", [COFFEE, data.chelsea()])
def test_photographs_are_told_from_flat_art(picture):
    for format in ("PNG", "JPEG"):
        art = opened(picture, format)
        assert not art.looks_flat
        assert art.suggested_yarns == 6
        charted = chart_picture(art, 50, art.rows_for(50, ASPECT), ASPECT)
        assert len(charted.chart().letters) == 6
        assert charted.difference.mean() < 12


def test_more_yarns_come_nearer_to_the_picture():
    art = opened(COFFEE)
    far = [chart_picture(art, 60, 55, ASPECT, count=count).difference.mean() for count in (2, 4, 8, 16)]
    assert far == sorted(far, reverse=True)


def test_a_shaded_drawing_is_no_flat_art():
    file = Path(cbook.get_sample_data("Minduka_Present_Blue_Pack.png", asfileobj=False))
    art = open_artwork(file.read_bytes(), file.name)
    assert art.notes == ("transparent parts are taken as white",)
    assert not art.looks_flat


def test_the_same_picture_gives_the_same_chart():
    first, second = (chart_picture(opened(COFFEE, "JPEG"), 60, 70, ASPECT, count=7) for _ in range(2))
    assert first.palette == second.palette
    assert (first.cells == second.cells).all()


def test_letters_and_places_without_a_stitch():
    picture = ChartedPicture(np.array([[0, 1], [-1, 1]]), ("#000000", "#ffffff"), np.zeros((2, 2, 3), np.uint8), ())
    assert picture.chart("XY").to_rows() == [[".", "Y"], ["X", "Y"]]
    assert picture.difference == pytest.approx(np.array([[0, 100], [0, 100]]))
    with pytest.raises(PlanError, match="2 yarns but only 1"):
        picture.chart("X")


def test_a_file_is_read_from_memory_only():
    art = open_artwork(io.BytesIO(encoded(SMALL)).getvalue(), "../../somewhere/else.png")
    assert (art.pixels == SMALL).all()
    assert not art.pixels.flags.writeable

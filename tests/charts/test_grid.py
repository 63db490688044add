"""Pictures of charts on squared paper, read back stitch by stitch; and what is refused.

They are drawn by Pillow and by matplotlib.
"""

import io
from functools import partial

import numpy as np
import pytest
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from PIL import Image
from skimage import data

from planner import PlanError
from planner.charts.grid import read_grid_picture
from planner.charts.palette import from_hex, lab_of, nearest, to_hex
from planner.charts.picture import open_artwork
from tests.helpers.pictures import FOUR, LEAF, areas, encoded, grid_picture, icon

CHART = areas(40, 50)
MARGINS = (37, 61, 50, 44)
INK = np.array([[255, 255, 255], [0, 0, 0]], np.uint8)


def reading(picture, format="PNG", *, read=read_grid_picture, **how):
    return read(open_artwork(encoded(picture, format, **how), "my chart"))


def yarns_read(grid, colours=FOUR) -> np.ndarray:
    """Which of the colours each cell was read as, top row first."""
    return nearest(lab_of(from_hex(grid.palette)), lab_of(colours))[0][grid.cells[::-1]]


def cell_size(grid) -> tuple[float, float]:
    """Width and height of a cell, in pixels of the picture."""
    left, top, right, bottom = grid.box
    rows, stitches = grid.cells.shape
    return (right - left) / stitches, (bottom - top) / rows


def plotted(cells) -> Image.Image:
    """The same chart drawn by matplotlib, with blended edges, a title and numbered axes."""
    figure = Figure(figsize=(7.3, 6.1), dpi=113)
    axes = figure.add_subplot()
    axes.pcolormesh(
        cells[::-1], cmap=ListedColormap(FOUR / 255), edgecolors="#444444", linewidth=0.7
    )
    axes.set(
        title="A chart from a plotting library",
        xticks=np.arange(0, 50, 5) + 0.5,
        xticklabels=range(1, 51, 5),
    )
    out = io.BytesIO()
    figure.savefig(out)
    return Image.open(out).convert("RGB")


def scanned(picture: Image.Image) -> Image.Image:
    """Greyer, speckled and a little askew."""
    pixels = np.array(picture)
    noise = np.random.default_rng(3).normal(0, 5, pixels.shape)
    paper = Image.fromarray(np.clip(0.93 * pixels + 6 + noise, 0, 255).astype(np.uint8))
    return paper.rotate(0.08, fillcolor=(243, 243, 243), resample=Image.Resampling.BILINEAR)


DRAWN = {
    "whole pixels": (CHART, 13, 13, {}),
    "odd sizes": (CHART, 13.37, 9.81, {}),
    "small": (CHART, 7, 6, {"heavy": 1}),
    "thick lines": (CHART, 11.4, 9.4, {"heavy": 4, "every": 5, "margin": (20, 20, 20, 20)}),
    "black lines": (CHART, 12.2, 9.3, {"grey": 0, "heavy": 2}),
    "faint lines": (CHART, 11.4, 11.4, {"grey": 215, "heavy": 1, "margin": (20, 20, 20, 20)}),
    "numbers and a title": (
        CHART,
        13.37,
        9.81,
        {"margin": MARGINS, "numbers": True, "title": "For the front"},
    ),
    "letters": (
        CHART,
        17.3,
        13.2,
        {"margin": MARGINS, "numbers": True, "marks": "ABXO", "title": "With letters"},
    ),
    "symbols": (CHART, 17.3, 13.2, {"margin": MARGINS, "numbers": True, "marks": "·+/●"}),
    "slightly off": (CHART, 13.37, 9.81, {"margin": (7, 3, 9, 5)}),
    "large": (areas(150, 150, wide=4), 14.2, 11.1, {"margin": (60, 60, 60, 60), "numbers": True}),
    "few stitches": (areas(12, 9, wide=1), 31, 27, {}),
    "one square": (np.pad(np.ones((10, 10), int), 10), 13, 11, {}),
    "flat cells, no lines": (CHART, 13, 11, {"line": 0}),
    "no lines, odd sizes": (CHART, 13.37, 9.81, {"line": 0}),
    "no lines, on a page": (
        CHART,
        13.37,
        9.81,
        {"line": 0, "margin": (31, 52, 17, 40), "title": "No lines"},
    ),
}


@pytest.mark.parametrize("which", DRAWN)
def test_every_stitch_comes_back(which):
    cells, wide, high, how = DRAWN[which]
    grid = reading(grid_picture(cells, wide, high, **how))
    assert (FOUR[cells] == from_hex(grid.palette)[grid.cells[::-1]]).all()  # the very colours
    assert cell_size(grid) == pytest.approx((wide, high), rel=0.01)
    assert not grid.doubtful.any()
    left, top, _, _ = how.get("margin", (0, 0, 0, 0))
    assert grid.box[:2] == pytest.approx((left, top), abs=1.6)
    assert f"{cells.shape[1]} stitches × {cells.shape[0]} rows" in " ".join(grid.notes)


@pytest.mark.parametrize("which", [name for name in DRAWN if name != "small"])
def test_every_stitch_comes_back_from_a_jpeg(which):
    cells, wide, high, how = DRAWN[which]
    grid = reading(grid_picture(cells, wide, high, **how), "JPEG", quality=80)
    assert grid.cells.shape == cells.shape
    wrong = yarns_read(grid) != cells
    assert not (wrong & ~grid.doubtful[::-1]).any()
    assert wrong.mean() < 0.01


@pytest.mark.parametrize("format", ["PNG", "JPEG"])
def test_a_chart_from_a_plotting_library(format):
    grid = reading(plotted(CHART), format)
    assert (yarns_read(grid) == CHART).all()


def test_a_scan_with_noise_and_a_little_askew():
    drawn = grid_picture(CHART, 13.37, 9.81, margin=MARGINS, numbers=True, title="A scan")
    assert (yarns_read(reading(scanned(drawn))) == CHART).all()


def test_black_stitches_between_black_lines():
    cells = areas(40, 40, yarns=2)
    grid = reading(
        grid_picture(cells, 9.7, 9.7, colours=INK, grey=0, margin=(20, 30, 25, 17), numbers=True)
    )
    assert (yarns_read(grid, INK) == cells).all()


def test_a_motif_without_lines_on_a_page_of_its_ground_ends_where_it_ends():
    rows = np.abs(np.arange(13) - 6)
    diamond = (np.arange(27) >= 7 + rows[:, None]) & (np.arange(27) < 20 - rows[:, None])
    picture = grid_picture(
        np.pad(diamond.astype(int), ((9, 9), (0, 0))),
        13,
        11,
        colours=INK,
        line=0,
        margin=(20, 30, 25, 17),
    )
    grid = reading(picture)
    assert (yarns_read(grid, INK) == diamond[:, 7:20]).all()
    assert any("nothing closes the chart" in note for note in grid.notes)
    # Cropped to the chart, it goes on to the edges.
    tight = picture.crop((20, 30, 20 + 27 * 13, 30 + 31 * 11))
    assert (yarns_read(reading(tight), INK) == np.pad(diamond, ((9, 9), (0, 0)))).all()


PICTURES = [
    data.coffee(),
    data.chelsea(),
    data.brick(),
    data.grass(),
    data.page(),
    data.coins(),
    np.asarray(icon(LEAF)),
]
PICTURES += [
    np.full((200, 300, 3), 7, np.uint8),
    np.zeros((1, 1), np.uint8),
    np.zeros((15, 400), np.uint8),
    np.where(np.arange(20)[:, None] == 7, 0, 255).repeat(100, axis=1).astype(np.uint8),  # 20 high
    np.eye(200, dtype=np.uint8),
]
PICTURES += [
    np.random.default_rng(5).integers(0, 256, (200, 300, 3)).astype(np.uint8),
    np.tri(90, 120, 20, dtype=np.uint8) * 200,
]


@pytest.mark.parametrize("picture", PICTURES)
def test_what_is_no_chart_is_refused(picture):
    for format in ("PNG", "JPEG"):
        with pytest.raises(
            PlanError,
            match=r"No regular grid was found in my chart.*say how many stitches and rows",
        ):
            reading(picture, format)


def test_frames_and_stripes_are_refused_or_read_but_never_break():
    rng = np.random.default_rng(8)
    for _ in range(60):
        picture = np.full((int(rng.integers(20, 200)), int(rng.integers(20, 200))), 255, np.uint8)
        for _ in range(int(rng.integers(1, 9))):
            a, b = np.sort(rng.integers(0, 200, 2)), np.sort(rng.integers(0, 200, 2))
            picture[a[0] : a[1] + 1, b[0] : b[0] + 2 if rng.random() < 0.5 else b[1]] = (
                rng.integers(256)
            )
        try:
            grid = reading(picture)
        except PlanError:
            continue
        assert grid.cells.shape == grid.doubtful.shape


def test_stitches_and_rows_divide_the_outline_evenly():
    drawn = grid_picture(CHART, 13, 11, margin=(20, 30, 25, 17))
    half = reading(drawn, read=partial(read_grid_picture, stitches=25, rows=20))
    whole = reading(drawn)
    assert half.box == whole.box
    assert cell_size(half) == pytest.approx((26, 22), rel=0.01)
    # Where no grid is found, the whole picture is divided.
    photograph = reading(
        data.coffee(), read=partial(read_grid_picture, stitches=30, rows=20, count=5)
    )
    assert photograph.box == (0, 0, 600, 400)
    assert photograph.cells.shape == (20, 30)
    assert len(photograph.palette) == 5
    assert photograph.doubtful.mean() > 0.1
    with pytest.raises(PlanError, match="0 rows"):
        reading(drawn, read=partial(read_grid_picture, rows=0))


def test_given_yarns_are_kept_in_their_order():
    yarns = ["#101010", *to_hex(FOUR[::-1])]
    grid = reading(
        grid_picture(CHART, 13, 11), "JPEG", read=partial(read_grid_picture, yarns=yarns)
    )
    assert grid.palette == tuple(yarns)
    assert (grid.cells[::-1] == 4 - CHART).all()
    assert not grid.doubtful.any()


def test_doubtful_stitches_are_marked_and_say_why():
    picture = grid_picture(CHART, 16, 16)
    pixels = np.array(picture)
    row, stitch = 7, 9  # from the top and from the left
    spot = (slice(row * 16, row * 16 + 16), slice(stitch * 16, stitch * 16 + 16))
    pixels[spot] = np.random.default_rng(1).integers(0, 256, (16, 16, 3))
    grid = reading(pixels)
    assert np.argwhere(grid.doubtful).tolist() == [[40 - 1 - row, stitch]]
    assert grid.why[39 - row, stitch]
    assert (grid.why == "").sum() == CHART.size - 1
    assert "1 cell to look at again" in grid.notes
    pixels = np.array(picture)
    pixels[spot] = FOUR[:2].mean(axis=0)
    between = reading(pixels, read=partial(read_grid_picture, yarns=to_hex(FOUR)))
    assert between.why[39 - row, stitch] == "no yarn is near its colour"
    assert between.doubtful.sum() == 1


def test_symbols_are_said_not_to_be_read():
    for marks, said in (("", False), ("ABXO", True)):
        notes = reading(grid_picture(CHART, 17.3, 13.2, marks=marks)).notes
        assert any("only their colours were read" in note for note in notes) == said


def test_the_same_picture_gives_the_same_reading():
    drawn = grid_picture(CHART, 13.37, 9.81, margin=MARGINS, numbers=True)
    first, second = (reading(drawn, "JPEG") for _ in range(2))
    assert first.box == second.box
    assert first.palette == second.palette
    assert (first.cells == second.cells).all()

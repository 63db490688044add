"""Photographs of printed charts, simulated, read by their corners."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment
from skimage.transform import ProjectiveTransform

from planner.charts import find_corners, open_artwork, photograph, read_photograph, straightened
from planner.errors import PlanError
from tests.helpers.chart_shapes import icons
from tests.helpers.photographs import colours, moved, patches, photographed


def taken(seed):
    """A photograph, the hand that sets its corners, and how many yarns it has."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 7))
    rows, stitches = rng.integers(20, 60, 2).tolist()
    chart = patches(rng, rows, stitches, count)
    line, shade = int(rng.integers(1, 3)), int(rng.choice([40, 90, 150]))
    return photographed(rng, chart, colours(rng, count), line=line, shade=shade), rng, count


def wrong_cells(read, cells):
    """Which cells of a reading are not those of the chart, each colour for the yarn it is most."""
    top_first = read.cells[::-1]
    yarns = max(top_first.max(), cells.max()) + 1
    together = np.zeros((yarns, yarns))
    np.add.at(together, (top_first.ravel(), cells.ravel()), 1)
    colour, yarn = linear_sum_assignment(-together)
    return yarn[np.argsort(colour)][top_first] != cells


def test_ten_photographs_by_corners_that_are_two_pixels_off():
    right = 0
    for seed in range(10):
        photo, rng, count = taken(seed)
        read = read_photograph(open_artwork(photo.data, "page.jpg"), moved(rng, photo), count=count)
        assert read.cells.shape == photo.cells.shape
        wrong = wrong_cells(read, photo.cells)
        # What is wrong is marked, all but a few cells in a thousand.
        assert (wrong & ~read.doubtful[::-1]).mean() <= 0.005
        right += wrong.mean() <= 0.01
    assert right >= 8


def test_corners_are_found():
    found = 0
    for seed in range(20, 26):
        photo, *_ = taken(seed)
        corners = find_corners(open_artwork(photo.data, "page.jpg"))
        off = (np.array(corners) - photo.corners) * photo.size
        found += np.abs(off).max() < 6
    assert found >= 5


def test_no_corners_where_there_is_no_chart():
    rng = np.random.default_rng(1)
    noise = photograph.Artwork(rng.integers(0, 255, (300, 400, 3)).astype(np.uint8), "noise.png")
    plain = photograph.Artwork(np.full((300, 400, 3), 200, np.uint8), "plain.png")
    assert find_corners(noise) is None
    assert find_corners(plain) is None


def test_straightened_against_a_general_library():
    """The map from the corners, against scikit-image's."""
    points = np.array([(40.0, 30.0), (310.0, 55.0), (290.0, 260.0), (20.0, 240.0)])
    own = np.append(photograph._map_from((200, 100), points), 1).reshape(3, 3)
    rectangle = np.array([(0, 0), (200, 0), (200, 100), (0, 100)], float)
    others = ProjectiveTransform.from_estimate(rectangle, points).params
    assert own == pytest.approx(others / others[2, 2], abs=1e-9)


def test_a_picture_square_to_its_corners_stays_as_it_is():
    pixels = np.random.default_rng(2).integers(0, 255, (60, 90, 3)).astype(np.uint8)
    art = photograph.Artwork(pixels, "page.png")
    flat = straightened(art, ((0, 0), (1, 0), (1, 1), (0, 1)))
    assert flat.pixels.tolist() == pixels.tolist()


@pytest.mark.parametrize(
    "corners",
    [
        ((0, 0), (1, 0), (0, 1), (1, 1)),  # crossed
        ((0, 0), (0, 1), (1, 1), (1, 0)),  # the other way round
        ((0, 0), (0.5, 0.5), (1, 1), (0, 1)),  # three in a line
        ((0, 0), (1, 0), (1, 1)),
    ],
)
def test_corners_that_are_none(corners):
    art = photograph.Artwork(np.zeros((60, 90, 3), np.uint8), "page.png")
    with pytest.raises(PlanError, match="four corners must go round"):
        straightened(art, corners)


def test_what_cannot_be_counted_is_asked():
    art = photograph.Artwork(np.full((200, 200, 3), 130, np.uint8), "page.png")
    with pytest.raises(PlanError, match=r"stitches in page\.png could not be counted"):
        read_photograph(art, ((0, 0), (1, 0), (1, 1), (0, 1)), count=2)


def test_the_size_may_be_told_and_yarns_given():
    photo, rng, count = taken(4)
    rows, stitches = photo.cells.shape
    given = [f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in photo.palette]
    read = read_photograph(
        open_artwork(photo.data, "page.jpg"),
        moved(rng, photo),
        count=count,
        stitches=stitches,
        rows=rows,
        yarns=given,
    )
    assert sorted(read.palette) == sorted(given)
    by_colour = np.array(read.palette)[read.cells[::-1]]
    assert (by_colour == np.array(given)[photo.cells]).mean() > 0.99


def small(seed, *, count, ground):
    """A photograph of 800 × 600 pixels, with areas of chance or an icon on a ground."""
    rng = np.random.default_rng([seed, 77])
    rows, stitches = rng.integers(15, 50, 2).tolist()
    chart = icons(rng, count) if ground else patches(rng, rows, stitches, count)
    count = int(chart.max()) + 1
    photo = photographed(rng, chart, colours(rng, count), size=(800, 600))
    return photo, moved(rng, photo), count


@pytest.mark.parametrize("ground", [True, False])
def test_small_photographs_are_right_or_say_that_they_are_not_sure(ground):
    """With the size told right or marked; without it, a size that is not sure is asked."""
    right = 0
    for seed in range(4):
        photo, corners, count = small(seed, count=2 + seed, ground=ground)
        art = open_artwork(photo.data, "page.jpg")
        rows, stitches = photo.cells.shape
        told = read_photograph(art, corners, count=count, stitches=stitches, rows=rows)
        wrong = wrong_cells(told, photo.cells)
        assert told.asks or (wrong & ~told.doubtful[::-1]).mean() <= 0.005
        right += wrong.mean() <= 0.01
        counted = read_photograph(art, corners, count=count)
        settings = {ask.setting for ask in counted.asks}
        assert counted.cells.shape == photo.cells.shape or settings & {"grid_stitches", "grid_rows"}
    assert right >= 3

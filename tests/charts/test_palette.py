"""Colours by scikit-image and scipy's distances, and the colours picked from a picture."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image
from scipy.spatial.distance import cdist
from skimage.color import lab2rgb, rgb2lab
from skimage.data import brick

from planner import PlanError
from planner.charts.palette import (
    MOST_COLOURS_IN_A_PICTURE,
    distinct,
    flat_colours,
    flat_pixels,
    from_hex,
    has_few,
    lab_of,
    lies_flat,
    nearest,
    pick_colours,
    rgb_of_lab,
    to_hex,
)

STEPS = np.arange(0, 256, 15, dtype=np.uint8)
EVERY_15TH = np.stack(np.meshgrid(STEPS, STEPS, STEPS), axis=-1)
INK, RUST, SAGE, SAND = (31, 58, 95), (184, 69, 45), (122, 140, 106), (230, 217, 190)


def painted(*parts) -> np.ndarray:
    """Pixels (n, 3): so many of each colour, such as (3, INK)."""
    return np.repeat(
        np.array([colour for _, colour in parts], dtype=np.uint8),
        [many for many, _ in parts],
        axis=0,
    )


def test_cielab_as_scikit_image_has_it():
    # published: CIE 15 and IEC 61966-2-1 as scikit-image (BSD-3-Clause) works them, D65; its matrix
    # has six digits, ours four
    lab = lab_of(EVERY_15TH)
    assert np.abs(lab - rgb2lab(EVERY_15TH, illuminant="D65")).max() < 0.04
    assert (
        np.abs(rgb_of_lab(lab) - 255 * lab2rgb(lab)).max() < 0.6
    )  # half a step is the rounding to whole numbers
    assert np.array_equal(rgb_of_lab(lab), EVERY_15TH)


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((0, 0, 0), (0, 0, 0)),
        ((255, 255, 255), (100, 0, 0)),
        ((119, 119, 119), (50.03, 0, 0)),  # the rest from memory, to one place
        ((255, 0, 0), (53.2, 80.1, 67.2)),
        ((0, 255, 0), (87.7, -86.2, 83.2)),
        ((0, 0, 255), (32.3, 79.2, -107.9)),
    ],
)
def test_cielab_of_known_colours(rgb, lab):
    assert lab_of(np.array(rgb)) == pytest.approx(lab, abs=0.06)
    assert tuple(rgb_of_lab(np.array(lab))) == pytest.approx(rgb, abs=1)


def test_what_a_screen_cannot_show_is_clipped():
    assert rgb_of_lab(np.array([[120.0, 0, 0], [-5, 0, 0], [50, 150, 0]])).tolist()[:2] == [
        [255] * 3,
        [0] * 3,
    ]
    assert rgb_of_lab(np.array([50.0, 150, 0])).tolist()[:2] == [255, 0]


@settings(derandomize=True, deadline=None)
@given(
    arrays(float, (30, 3), elements=st.floats(-100, 100)),
    arrays(float, (7, 3), elements=st.floats(-100, 100)),
)
def test_nearest_by_scipys_distances(lab, palette):
    index, distance = nearest(lab.reshape(5, 6, 3), palette)
    every = cdist(lab, palette)  # scipy (BSD-3-Clause)
    assert index.shape == distance.shape == (5, 6)
    assert distance.ravel() == pytest.approx(every.min(axis=1))
    assert every[np.arange(30), index.ravel()] == pytest.approx(every.min(axis=1))


def test_the_first_of_equals_is_nearest():
    assert nearest(np.array([[50.0, 0, 0]]), np.array([[60, 0, 0], [40, 0, 0], [60, 0, 0]]))[
        0
    ].tolist() == [0]


def test_colours_in_words_and_numbers():
    assert from_hex(["#1f3a5f", "white", "#F00"]).tolist() == [[31, 58, 95], [255] * 3, [255, 0, 0]]
    assert to_hex(from_hex(["#1f3a5f", "white"])) == ("#1f3a5f", "#ffffff")
    assert from_hex([]).shape == (0, 3)
    for wrong in ("1f3a5", "", "sheep", "#12345"):
        with pytest.raises(PlanError, match=f'the colour "{wrong}"; write it as #rrggbb'):
            from_hex(["#1f3a5f", wrong])


def test_what_lies_flat():
    """One letter a pixel; flat are those that equal a neighbour in their row and column."""
    rows = ["aaab", "aaab", "aacb", "dddd"]
    flat = ["xxx.", "xxx.", "xx..", "...."]
    pixels = np.array([[[ord(pixel)] * 3 for pixel in row] for row in rows], dtype=np.uint8)
    assert ["".join(".x"[int(cell)] for cell in row) for row in lies_flat(pixels)] == flat


@pytest.mark.parametrize("colours", [1, 26, 27, 2000])
def test_how_many_colours(colours):
    number = np.arange(80 * 50) % colours
    pixels = (
        np.stack((number % 256, number // 256, 0 * number), axis=-1)
        .astype(np.uint8)
        .reshape(80, 50, 3)
    )
    assert [has_few(pixels, most) for most in (colours - 1, colours, colours + 1)] == [
        False,
        True,
        True,
    ]
    assert len(distinct(pixels.reshape(-1, 3))[0]) == colours


def test_flat_colours_are_the_ones_really_there():
    # 2 of 1,000 pixels are a colour, 1 is not; what is nearer than 10 to a commoner one counts
    # with that
    pixels = painted(
        (600, SAND), (200, INK), (100, (230, 217, 192)), (97, RUST), (2, SAGE), (1, (0, 255, 0))
    )
    assert flat_colours(pixels).tolist() == [list(colour) for colour in (SAND, INK, RUST, SAGE)]
    assert flat_colours(pixels, least=0.15).tolist() == [list(SAND), list(INK)]


def test_blended_edges_tell_no_colours():
    """A rust disc on sand, drawn four times as large and averaged, so that its edge blends."""
    row, column = np.mgrid[:240, :240]
    large = np.where(((row - 120) ** 2 + (column - 115) ** 2 < 90**2)[..., None], RUST, SAND)
    small = large.reshape(60, 4, 60, 4, 3).mean(axis=(1, 3)).round().astype(np.uint8)
    assert len(distinct(small.reshape(-1, 3))[0]) > 10
    small[0, :30, 0] = range(30)  # more than 26 colours
    assert {tuple(colour) for colour in flat_pixels(small).tolist()} == {SAND, RUST}


@pytest.mark.parametrize("flat", [True, False])
def test_picked_colours_of_few_are_those(flat):
    pixels = painted((50, SAND), (20, INK), (10, RUST))
    assert pick_colours(pixels, 3, flat=flat).tolist() == [list(SAND), list(INK), list(RUST)]
    assert len(pick_colours(pixels, 26, flat=flat)) == 3


def test_few_colours_are_all_heeded_wherever_they_lie():
    pixels = np.full((20, 20, 3), SAND, dtype=np.uint8)
    pixels[5, 5] = INK
    assert len(flat_pixels(pixels)) == 400


def test_of_a_group_flat_art_takes_the_commonest_and_a_photograph_the_mean():
    pixels = painted((60, SAND), (20, (230, 217, 194)), (30, INK), (10, (31, 58, 99)))
    assert pick_colours(pixels, 2, flat=True).tolist() == [list(SAND), list(INK)]
    assert pick_colours(pixels, 2, flat=False).tolist() == [[230, 217, 191], [31, 58, 96]]


def test_picked_colours_of_many():
    """Three clouds of colour far apart: each mean, to a step, whatever the order of the pixels."""
    random = np.random.default_rng(3)
    clouds = [
        np.clip(random.normal(colour, 3, (many, 3)), 0, 255)
        for colour, many in ((SAND, 4000), (INK, 2000), (RUST, 900))
    ]
    pixels = np.round(np.vstack(clouds)).astype(np.uint8)
    picked = pick_colours(pixels, 3, flat=False)
    assert np.abs(picked - [SAND, INK, RUST]).max() <= 1
    assert np.array_equal(pick_colours(pixels, 3, flat=False), picked)
    assert (
        np.abs(pick_colours(random.permutation(pixels), 3, flat=False).astype(int) - picked).max()
        <= 1
    )
    real = {tuple(colour) for colour in pixels.tolist()}
    for count in (1, 2, 7, MOST_COLOURS_IN_A_PICTURE):
        assert len(pick_colours(pixels, count, flat=False)) == count
        flat = [tuple(colour) for colour in pick_colours(pixels, count, flat=True).tolist()]
        assert len(set(flat)) == count
        assert set(flat) <= real


def test_picked_colours_are_nearer_than_a_median_cut():
    # a brick wall nobody here drew (scikit-image's sample, CC0), tinted; Pillow's median cut
    # (MIT-CMU) beside it
    grey, tint = brick()[::4, ::4].astype(float), np.linspace(0.4, 1, 128)
    pixels = np.stack((grey, grey * tint, grey * tint[::-1]), axis=-1).astype(np.uint8)
    cut = Image.fromarray(pixels).quantize(6, Image.Quantize.MEDIANCUT).getpalette()[:18]
    ours, theirs = (
        (nearest(lab_of(pixels), lab_of(palette))[1] ** 2).mean()
        for palette in (
            pick_colours(pixels.reshape(-1, 3), 6, flat=False),
            np.array(cut, dtype=np.uint8).reshape(-1, 3),
        )
    )
    assert ours < theirs


@pytest.mark.parametrize("count", [0, -1, 27, 2.5, True, "6", None])
def test_number_of_yarns_refused(count):
    with pytest.raises(
        PlanError, match=r"The number of yarns is .*; a whole number from 1 to 26 was expected"
    ):
        pick_colours(painted((3, INK)), count, flat=True)

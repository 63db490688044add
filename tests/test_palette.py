"""Colours: CIELAB and ΔE against scikit-image, nearest and picked colours against SciPy, flat colours of known art."""

import numpy as np
import pytest
from scipy.cluster.vq import kmeans2
from scipy.spatial.distance import cdist
from skimage import color, data

from planner import PlanError
from planner.palette import (
    flat_colours,
    flat_pixels,
    from_hex,
    has_few,
    lab_of,
    lies_flat,
    look_alikes,
    nearest,
    pick_colours,
    rgb_of,
    to_hex,
)
from tests.pictures import CREAM, FOUR, RED, SNOWFLAKE, areas, icon

ANY = np.random.default_rng(1).integers(0, 256, (50_000, 3)).astype(np.uint8)
COFFEE = data.coffee().reshape(-1, 3)


def test_cielab_against_scikit_image():
    # Its matrix has more digits than the standard's, which is worth 0.02.
    assert np.abs(lab_of(ANY) - color.rgb2lab(ANY)).max() < 0.03
    assert lab_of(np.array([255, 255, 255], np.uint8)) == pytest.approx([100, 0, 0], abs=1e-6)


def test_every_colour_comes_back_from_cielab():
    assert (rgb_of(lab_of(ANY)) == ANY).all()
    assert rgb_of(np.array([50.0, 200, -200])).tolist() == np.clip(rgb_of(np.array([50.0, 200, -200])), 0, 255).tolist()


def test_hex_and_back():
    assert to_hex(from_hex(["#1f3a5f", "white"])) == ("#1f3a5f", "#ffffff")
    assert (from_hex(to_hex(ANY[:200])) == ANY[:200]).all()
    assert from_hex([]).shape == (0, 3)
    with pytest.raises(PlanError, match='"sky"'):
        from_hex(["sky"])


def test_nearest_against_scipy():
    palette = lab_of(ANY[:9])
    index, distance = nearest(lab_of(ANY[100:1100].reshape(20, 50, 3)), palette)
    theirs = cdist(lab_of(ANY[100:1100]), palette)
    assert (index.ravel() == theirs.argmin(axis=1)).all()
    assert distance.ravel() == pytest.approx(theirs.min(axis=1))


@pytest.mark.parametrize("count", [2, 5, 12])
def test_picked_colours_are_as_good_as_the_best_of_many_k_means(count):
    picked = pick_colours(COFFEE, count, flat=False)
    assert len(picked) == count
    lab = lab_of(COFFEE)
    ours = (nearest(lab, lab_of(picked))[1] ** 2).mean()
    starts = [kmeans2(lab[::50], count, minit="++", seed=seed, missing="raise")[0] for seed in range(20)]
    assert ours < 1.03 * min((cdist(lab, centres).min(axis=1) ** 2).mean() for centres in starts)


def test_the_same_pixels_give_the_same_colours():
    assert (pick_colours(COFFEE, 7, flat=False) == pick_colours(COFFEE.copy(), 7, flat=False)).all()


def test_colours_of_flat_art_are_its_own_and_not_those_of_its_edges():
    art = np.asarray(icon(SNOWFLAKE))
    assert not has_few(art, 26)  # the edges are blended
    assert to_hex(pick_colours(flat_pixels(art), 2, flat=True)) == to_hex(np.array([CREAM, RED], np.uint8))
    assert to_hex(flat_colours(flat_pixels(art))) == to_hex(np.array([CREAM, RED], np.uint8))


def test_flat_pixels_against_shifted_pictures():
    art = np.asarray(icon(SNOWFLAKE))
    side = np.pad((art[:, 1:] == art[:, :-1]).all(axis=-1), ((0, 0), (1, 1)))
    upright = np.pad((art[1:] == art[:-1]).all(axis=-1), ((1, 1), (0, 0)))
    assert (lies_flat(art) == (side[:, 1:] | side[:, :-1]) & (upright[1:] | upright[:-1])).all()


def test_flat_colours_of_a_chart_are_all_its_yarns_however_rare():
    cells = areas(60, 80)
    cells[cells == 3] = 0
    cells[5, 5:20] = 3
    counts = np.bincount(cells.ravel())
    found = flat_colours(FOUR[cells].reshape(-1, 3))
    assert to_hex(found) == to_hex(FOUR[np.argsort(-counts)])
    assert len(pick_colours(FOUR[cells].reshape(-1, 3), 9, flat=True)) == 4  # no more than there are


@pytest.mark.parametrize("count", [0, 27, 2.5, True, "3"])
def test_a_number_of_yarns_that_cannot_be(count):
    with pytest.raises(PlanError, match="number of yarns"):
        pick_colours(COFFEE, count, flat=False)


def test_look_alikes_against_scikit_image():
    colours = to_hex(ANY[:60])
    lab = color.rgb2lab(ANY[:60][None])[0]
    theirs = color.deltaE_ciede2000(lab[:, None], lab[None])
    ours = {(a, b): distance for a, b, distance in look_alikes(colours)}
    assert set(ours) == {(a, b) for a, b in np.argwhere(theirs < 10).tolist() if a < b}
    assert ours
    assert all(distance == pytest.approx(theirs[pair], abs=0.05) for pair, distance in ours.items())

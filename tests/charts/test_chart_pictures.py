"""Pictures of charts in many styles: nearly all right, and none silently wrong."""

from __future__ import annotations

import os

import numpy as np
import pytest

from planner.charts import open_artwork, read_grid_picture
from planner.errors import PlanError
from tests.helpers.chart_pictures import STYLES, by_pillow, shaped, signs_alone
from tests.helpers.chart_screens import screen_styles, taken_by
from tests.helpers.chart_shapes import areas, bitmap_files, bitmaps, icons
from tests.helpers.chart_survey import RIGHT, SILENT, read_in_style, wrong_cells

TIMES = 2


def read_all(styles):
    """Pictures in all these styles; from areas, icons and bitmaps by turns."""
    readings = {}
    for place, (name, style) in enumerate(styles.items()):
        for number in range(place, place + TIMES):
            readings[name, number] = read_in_style(name, style, number)
    return readings


@pytest.fixture(scope="module")
def drawn_here():
    return read_all(STYLES)


@pytest.fixture(scope="module")
def drawn_by_chromium(browser):
    """Pages of HTML; skipped, with a reason, where there is no Chromium, but not in CI."""
    return read_all(screen_styles(taken_by(browser)))


@pytest.fixture(params=["drawn_here", "drawn_by_chromium"])
def readings(request):
    return request.getfixturevalue(request.param)


def test_none_is_silently_wrong(readings):
    assert not [key for key, reading in readings.items() if reading.outcome == SILENT]


def test_nearly_all_are_right(readings):
    right = [reading.outcome == RIGHT for reading in readings.values()]
    assert np.mean(right) >= 0.92 - 0.05  # two of fifty styles leave open what only a knitter knows
    clear = [each.outcome == RIGHT for each in readings.values() if not each.drawn.asks]
    assert np.mean(clear) >= 0.92


def test_few_that_are_right_are_asked_about(readings):
    right = [reading for reading in readings.values() if reading.outcome == RIGHT]
    assert np.mean([reading.is_needless for reading in right]) <= 0.05
    cells = sum(reading.drawn.cells.size for reading in right)
    assert sum(reading.marked for reading in right) <= 0.01 * cells


def test_bitmaps_are_there_in_ci():
    """Else the survey is of icons alone."""
    if not bitmap_files():
        if os.environ.get("CI"):
            pytest.fail("CI must have the X bitmaps: apt install xbitmaps")
        pytest.skip("there are no X bitmaps on this computer")
    cells = bitmaps(np.random.default_rng(1), 3)
    assert len(np.unique(cells)) > 1


@pytest.mark.parametrize("blank", ["blank", "grey", "crossed"])
def test_a_shaped_piece_keeps_its_shape(blank):
    """What is no stitch is asked once, and may be told to be the ground."""
    drawn = by_pillow(np.random.default_rng(3), cells=shaped, blank=blank)
    art = open_artwork(drawn.data, "front.png")
    read = read_grid_picture(art)
    assert not wrong_cells(read.cells[::-1].astype(int), drawn.cells).any()
    assert ((read.cells[::-1] == -1) == (drawn.cells == -1)).all()
    (asked,) = read.asks
    assert (asked.setting, asked.taken) == ("blanks", "no stitch")
    told = read_grid_picture(art, blanks="ground")
    assert not told.asks
    assert (told.cells >= 0).all()


def test_signs_are_grouped_and_what_is_asked_can_be_told():
    drawn = signs_alone(np.random.default_rng(8))
    art = open_artwork(drawn.data, "signs.png")
    read = read_grid_picture(art)
    assert not wrong_cells(read.cells[::-1].astype(int), drawn.cells).any()
    (asked,) = read.asks
    assert (asked.setting, asked.taken) == ("by", "signs")
    assert len(set(read.palette)) == len(np.unique(drawn.cells))
    by_colours = read_grid_picture(art, by="colours")
    assert len(by_colours.palette) < len(read.palette)


def test_another_chart_on_the_page_is_told():
    drawn = STYLES["two on a page"](np.random.default_rng(2), areas)
    read = read_grid_picture(open_artwork(drawn.data, "page.png"))
    assert len(read.others) == 1
    assert [ask.setting for ask in read.asks] == ["part"]
    assert any("1 other chart in the picture" in note for note in read.notes)


def test_a_told_size_is_that_of_the_chart_without_headings():
    """A spreadsheet on the screen: told its size, the letters and numbers at its rim stay out."""
    drawn = STYLES["screen of a spreadsheet"](np.random.default_rng(1), areas)
    rows, stitches = drawn.cells.shape
    read = read_grid_picture(open_artwork(drawn.data, "a.png"), stitches=stitches, rows=rows)
    assert not wrong_cells(read.cells[::-1].astype(int), drawn.cells).any()


def test_of_two_charts_the_told_size_chooses():
    """One that has it is read and not asked about; where none has it, nothing is divided."""
    rng = np.random.default_rng(2)
    drawn = STYLES["two on a page"](rng, areas)
    art = open_artwork(drawn.data, "page.png")
    largest = read_grid_picture(art)
    for rows, stitches in (drawn.cells.shape, largest.cells.shape):
        read = read_grid_picture(art, stitches=stitches, rows=rows)
        assert read.cells.shape == (rows, stitches)
        assert not read.asks
        assert len(read.others) == 1
    with pytest.raises(PlanError, match="None of the 2 charts"):
        read_grid_picture(art, stitches=9, rows=9)


@pytest.mark.parametrize("style", ["no lines", "shaped, hatched", "matplotlib, blocks", "discs"])
def test_a_told_size_fits_a_whole_grid_and_a_mistaken_one_is_asked(style):
    for number, source in enumerate((areas, icons)):
        drawn = STYLES[style](np.random.default_rng([5, number]), source)
        rows, stitches = drawn.cells.shape
        art = open_artwork(drawn.data, "a.png")
        read = read_grid_picture(art, stitches=stitches, rows=rows)
        assert not wrong_cells(read.cells[::-1].astype(int), drawn.cells).any()
        mistaken = read_grid_picture(art, stitches=stitches + 1, rows=rows)
        assert "Is the size that you say right?" in " ".join(ask.words for ask in mistaken.asks)

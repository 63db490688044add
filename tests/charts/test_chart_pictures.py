"""Pictures of charts in many styles: nearly all right, and none silently wrong."""

from __future__ import annotations

import numpy as np
import pytest

from planner.charts import open_artwork, read_grid_picture
from tests.helpers.chart_pictures import STYLES, by_pillow, shaped, signs_alone
from tests.helpers.chart_survey import RIGHT, SILENT, read_in_style, wrong_cells

TIMES = 2


@pytest.fixture(scope="module")
def outcomes():
    return {
        (name, number): read_in_style(name, number) for name in STYLES for number in range(TIMES)
    }


def test_none_is_silently_wrong(outcomes):
    silent = [key for key, (_, outcome, _) in outcomes.items() if outcome == SILENT]
    assert not silent


def test_nearly_all_are_right(outcomes):
    right = [outcome == RIGHT for _, outcome, _ in outcomes.values()]
    assert np.mean(right) >= 0.92 - 0.05  # two of fifty styles leave open what only a knitter knows
    clear = [outcome == RIGHT for drawn, outcome, _ in outcomes.values() if not drawn.asks]
    assert np.mean(clear) >= 0.92


def test_few_that_are_right_are_asked_about(outcomes):
    needless = [asked for drawn, outcome, asked in outcomes.values() if outcome == RIGHT]
    assert np.mean(needless) <= 0.05


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
    drawn = STYLES["two on a page"](np.random.default_rng(2))
    read = read_grid_picture(open_artwork(drawn.data, "page.png"))
    assert len(read.others) == 1
    assert [ask.setting for ask in read.asks] == ["part"]
    assert any("1 other chart in the picture" in note for note in read.notes)


def test_a_told_size_is_that_of_the_chart_without_headings():
    """A spreadsheet on the screen: told its size, the letters and numbers at its rim stay out."""
    drawn = STYLES["screen of a spreadsheet"](np.random.default_rng(1))
    rows, stitches = drawn.cells.shape
    read = read_grid_picture(open_artwork(drawn.data, "a.png"), stitches=stitches, rows=rows)
    assert not wrong_cells(read.cells[::-1].astype(int), drawn.cells).any()

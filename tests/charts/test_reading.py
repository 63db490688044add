"""A file read as what it is: by bytes and settings alone, the same each time."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from planner import Chart, PlanError, Project, Yarn
from planner.charts import (
    FLAT,
    GRID,
    PHOTO,
    PictureSettings,
    RowsFile,
    SheetFile,
    letters_of_colours,
    open_file,
)
from planner.piece import CarryLimits

NAVY, SAND = (31, 58, 95), (217, 210, 195)
SETTINGS = PictureSettings(what=GRID, stitches=12)


def png(pixels) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.array(pixels, np.uint8)).save(out, "PNG")
    return out.getvalue()


def cells(rows=10, stitches=12):
    return np.random.default_rng(3).integers(0, 2, (rows, stitches))


def chart_picture(lines: bool):
    """A chart of two yarns in cells of 16 pixels, with printed lines between them or without."""
    pixels = np.array([NAVY, SAND], np.uint8)[cells()].repeat(16, 0).repeat(16, 1)
    if lines:
        pixels[::16] = pixels[:, ::16] = 60
    return png(pixels)


def disc():
    """A disc on a ground: two flat colours, and no cells."""
    y, x = np.mgrid[-60:60, -80:80]
    return png(np.where((x**2 + y**2 < 50**2)[..., None], NAVY, SAND))


def photograph():
    """Light that falls off to one side, with a camera's noise."""
    y, x = np.mgrid[0:240, 0:320]
    noise = np.random.default_rng(0).normal(0, 6, (240, 320, 3))
    return png((x[..., None] * [0.5, 0.4, 0.3] + y[..., None] * 0.3 + noise + 40).clip(0, 255))


def piece(**asked):
    return Project("Piece", Chart.from_rows(["AB"]), **asked)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (chart_picture(lines=True), GRID),
        (chart_picture(lines=False), GRID),
        (disc(), FLAT),
        (photograph(), PHOTO),
    ],
    ids=["printed chart", "chart without lines", "flat art", "photograph"],
)
def test_a_picture_opens_as_what_it_is(data, what):
    assert open_file(data, "picture.png", {}).what == what


def test_a_chart_on_a_grid_is_counted_and_read():
    file = open_file(chart_picture(lines=True), "chart.png", {})
    loaded = file.read(SETTINGS, piece(), {})
    shown = np.array(loaded.chart.to_rows())
    assert np.array_equal(shown == shown[0, 0], cells() == cells()[0, 0])
    assert loaded.taken == GRID
    assert set(loaded.colours.values()) == {"#1f3a5f", "#d9d2c3"}
    # The same bytes and settings give the same chart.
    again = open_file(chart_picture(lines=True), "chart.png", {}).read(SETTINGS, piece(), {})
    assert again.chart == loaded.chart


def test_what_tidying_costs_is_told_of_a_picture():
    """With limits of a yarn's own that is not on the picture's chart, which are left alone."""
    wide = CarryLimits(sideways=9)
    project = piece(by_yarn={"Q": wide})
    file = open_file(chart_picture(lines=True), "chart.png", {})
    loaded = file.read(SETTINGS, project, {})
    prices = loaded.prices(project)
    assert prices.strands.iloc[0] == loaded.traced(project).count
    assert prices.strands.is_monotonic_decreasing


def test_files_are_told_by_what_they_hold():
    assert isinstance(open_file(b"A,B\nB,A\n", "chart.csv", {}), SheetFile)
    assert isinstance(open_file(b"A\tB\nB\tA\n", "rows.txt", {}), SheetFile)
    assert isinstance(open_file(b"Row 1: 2 A\n", "rows.txt", {}), RowsFile)
    # A picture by its first bytes, whatever it is called.
    assert open_file(disc(), "chart.csv", {}).what == FLAT
    with pytest.raises(PlanError, match="not a PNG, JPEG"):
        open_file(b"just some words", "words.png", {})


def test_a_sheet_is_read_by_what_is_told():
    file = open_file(b"A,A\nA,B\n", "chart.csv", {})
    found = file.read({})
    assert found.chart == Chart.from_rows(["AA", "AB"])
    assert found.taken.startswith("Taken from cells A1 to B2")
    assert [ask.setting for ask in found.asks] == ["row_1"]
    told = file.read({}, row_1="top")
    assert told.chart == Chart.from_rows(["AB", "AA"])
    assert told.asks == ()


def test_letters_of_colours():
    """A yarn that looks the same gives its letter, once; what is new gets a free one."""
    yarns = {"N": Yarn("N", colour="#1f3a5f"), "A": Yarn("A", colour="#d9d2c3")}
    assert letters_of_colours(["#1f3a5f", "#1f3a60", "#ff0000"], yarns) == ["N", "B", "C"]


def yoke():
    """A chart that is narrower in its upper half: no lines are drawn round what is no stitch."""
    page = np.full((14 * 16, 16 * 16), 255, np.uint8)
    for row, column in np.argwhere(np.ones((12, 14), bool)).tolist():
        if row < 6 and not 3 <= column < 11:
            continue
        top, left = (row + 1) * 16, (column + 1) * 16
        page[top : top + 17, left : left + 17] = 90
        page[top + 1 : top + 16, left + 1 : left + 16] = 230 if (row + column) % 3 else 160
    return png(np.stack([page] * 3, -1))


@pytest.mark.parametrize(("answer", "worked"), [("no stitch", False), ("ground", True)])
def test_what_a_chart_on_a_grid_leaves_open_is_asked(answer, worked):
    """Told what cells without lines are, it is asked no more."""
    file = open_file(yoke(), "yoke.png", {})
    assert file.what == GRID
    assert [ask.setting for ask in file.read(SETTINGS, piece(), {}).asks] == ["blanks"]
    told = file.read(replace(SETTINGS, blanks=answer), piece(), {})
    assert told.asks == ()
    assert (told.chart.rows, told.chart.columns) == (12, 14)
    assert (told.chart.to_rows()[0][0] != ".") == worked

"""A chart handed out as CSV, workbook and picture, and taken back exactly."""

import io
import re
import zipfile

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from planner import Chart, Construction, Yarn
from planner.charts.handout import chart_pixels, chart_png, chart_xlsx
from planner.charts.sheets import read_sheet
from planner.folder.project import chart_csv, open_project, read_chart
from tests.conftest import DEMO
from tests.helpers.grids import grids

COLOURS = ("#243b63", "#f1e9d2", "#b5452c", "#3f8f8b")


def yarns_of(chart: Chart) -> dict[str, Yarn]:
    return {letter: Yarn(letter, f"Yarn {i}", COLOURS[i]) for i, letter in enumerate(chart.letters)}


def by_vote(png: bytes, yarns, columns: int, rows: int) -> list[list[str]]:
    """The letters of a picture of a chart, by the commonest colour in each cell.

    Transparent is no stitch.
    """
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGBA"))
    height, width = pixels.shape[0] // rows, pixels.shape[1] // columns
    letters = {(*bytes.fromhex(yarn.colour[1:]), 255): letter for letter, yarn in yarns.items()} | {
        (0, 0, 0, 0): "."
    }
    grid = []
    for r in range(rows):
        row = []
        for c in range(columns):
            cell = pixels[r * height : (r + 1) * height, c * width : (c + 1) * width].reshape(-1, 4)
            colours, counts = np.unique(cell, axis=0, return_counts=True)
            row.append(letters[tuple(colours[counts.argmax()].tolist())])
        grid.append(row)
    return grid


HOWS = st.builds(
    Construction,
    st.sampled_from(["flat", "rounds", "turned"]),
    st.sampled_from(["RS", "WS"]),
    st.sampled_from(["right", "left"]),
)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(grids(), HOWS, st.floats(0.3, 2))
def test_out_and_back(grid, how, aspect):
    chart = Chart.from_rows(grid)
    yarns = yarns_of(chart)
    assert read_sheet(chart_csv(chart).encode(), "chart.csv").chart == chart
    assert read_sheet(chart_xlsx(chart, yarns, aspect, how), "chart.xlsx").chart == chart
    for picture in (chart_png(chart, yarns, aspect), chart_pixels(chart, yarns)):
        assert by_vote(picture, yarns, chart.columns, chart.rows) == grid
    pixels = Image.open(io.BytesIO(chart_pixels(chart, yarns)))
    assert pixels.size == (chart.columns, chart.rows)


def test_csv_as_the_project_folder_keeps_it(tmp_path):
    for rows in (["AB.", "BBA"], [["AB"], ["A"]]):
        (tmp_path / "chart.csv").write_text(chart_csv(Chart.from_rows(rows)))
        assert read_chart(tmp_path / "chart.csv") == Chart.from_rows(rows)


def test_the_demo_out_and_back_by_letters_and_by_fills():
    project = open_project(DEMO)
    data = chart_xlsx(project.chart, project.all_yarns, float(project.gauge.aspect), project.how)
    colours = {letter: yarn.colour for letter, yarn in project.all_yarns.items()}
    read = read_sheet(data, "cushion.xlsx", yarns=colours)
    assert (read.chart, read.colours, read.asks) == (project.chart, colours, ())
    assert read_sheet(data, "cushion.xlsx", by="fills", yarns=colours).chart == project.chart


@pytest.mark.parametrize(
    ("how", "left", "right"),
    [
        (Construction(), [4, 2], [3, 1]),
        (Construction(first_row="WS"), [3, 1], [4, 2]),
        (Construction(hand="left"), [3, 1], [4, 2]),
        (Construction(worked="rounds"), [], [4, 3, 2, 1]),
        (Construction(worked="turned"), [4, 2], [3, 1]),
        (Construction(fabric="garter"), [], [4, 3, 2, 1]),
    ],
)
def test_rows_are_numbered_where_they_begin(how, left, right):
    """By eye: flat and in turned rounds, RS rows begin at the right, left-handed at the left.

    Rounds that are not turned, and ridges of garter, always begin at the right.
    """
    chart = Chart.from_rows(["AB", "BA", "AA", "BB"])
    sheet = openpyxl.load_workbook(io.BytesIO(chart_xlsx(chart, yarns_of(chart), 0.75, how)))[
        "Chart"
    ]
    columns = [
        [cell.value for cell in column if cell.value is not None]
        for column in sheet.iter_cols(values_only=False)
    ]
    assert (columns[0], columns[3]) == (left, right)
    assert [cell.value for cell in sheet[5]][1:3] == [2, 1]


@pytest.mark.parametrize("aspect", [0.5, 11 / 15, 0.8, 1.0, 1.31, 1.9])
def test_true_aspect_in_whole_pixels(aspect):
    chart = Chart.from_rows(["AB" * 10, "BA" * 10] * 8)
    yarns = yarns_of(chart)
    width, height = Image.open(io.BytesIO(chart_png(chart, yarns, aspect))).size
    assert (width % 20, height % 16) == (0, 0)
    assert (height / 16) / (width / 20) == pytest.approx(aspect, rel=0.015)
    sheet = openpyxl.load_workbook(io.BytesIO(chart_xlsx(chart, yarns, aspect, Construction())))[
        "Chart"
    ]
    across = (
        sheet.column_dimensions["B"].width * 7
    )  # pixels, a character being 7 wide (ECMA-376 18.3.1.13)
    assert sheet.row_dimensions[1].height / 0.75 / across == pytest.approx(aspect, rel=0.015)


def test_large_charts_stay_within_bounds():
    chart = Chart.from_rows(["A" * 200] * 2000)
    image = Image.open(io.BytesIO(chart_png(chart, yarns_of(chart), 0.75)))
    assert max(image.size) <= 8000


def test_the_same_chart_gives_the_same_bytes():
    chart = Chart.from_rows(["AB.", "BBA"])
    first = chart_xlsx(chart, yarns_of(chart), 0.75, Construction())
    assert chart_xlsx(chart, yarns_of(chart), 0.75, Construction()) == first
    # no time is left in them, neither of the parts nor in what the workbook says of itself
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert {part.date_time for part in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        texts = b"".join(archive.read(part) for part in archive.namelist())
    assert set(re.findall(rb"\d{4}-\d\d-\d\dT[\d:.]+Z?", texts)) == {b"2000-01-01T00:00:00Z"}
    assert chart_png(chart, yarns_of(chart), 0.75) == chart_png(chart, yarns_of(chart), 0.75)


@pytest.mark.parametrize(
    "name",
    [
        '=HYPERLINK("http://example.com")',
        "+1+1",
        "@SUM(A1)",
        "-2",
        "<script>alert(1)</script>",
        "a\0\x07b",
    ],
)
def test_texts_are_never_formulas(name):
    chart = Chart.from_rows(["AB"])
    yarns = yarns_of(chart) | {"A": Yarn("A", name, "#243b63")}
    book = openpyxl.load_workbook(io.BytesIO(chart_xlsx(chart, yarns, 0.75, Construction())))
    cell = book["Yarns"]["B2"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == (
        name.replace("\0", "").replace("\x07", ""),
        "s",
        True,
    )
    assert {cell.data_type for sheet in book for row in sheet for cell in row} <= {"s", "n"}
    assert [[cell.value for cell in row][::3] for row in book["Yarns"]] == [
        ["Letter", "Stitches"],
        ["A", 1],
        ["B", 1],
    ]

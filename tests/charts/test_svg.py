"""A chart as a drawing, read back from its rectangles, letters and numbers."""

from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import Chart, Construction, Yarn, open_project
from planner.charts import chart_svg, open_artwork, read_grid_picture
from planner.plan import make_plan
from planner.workbook.written_out import chart_file
from tests.conftest import DEMO
from tests.helpers.grids import grids

SVG = "{http://www.w3.org/2000/svg}"
COLOURS = ("#243b63", "#f1e9d2", "#b5452c", "#3f8f8b")


def yarns_of(chart):
    return {letter: Yarn(letter, f"Yarn {i}", COLOURS[i]) for i, letter in enumerate(chart.letters)}


def drawn(chart, yarns=None, aspect=0.75, how=None):
    return ElementTree.fromstring(
        chart_svg(chart, yarns or yarns_of(chart), aspect, how or Construction())
    )


def read_back(root, columns, rows, aspect):
    """The letters of the cells, from the rectangles of each yarn's group."""
    grid = [["" for _ in range(columns)] for _ in range(rows)]
    for group in root.iter(f"{SVG}g"):
        letter = group.get("data-yarn")
        for rectangle in group.findall(f"{SVG}rect") if letter else ():
            x, y, width = (float(rectangle.get(name)) for name in ("x", "y", "width"))
            line = round(y / (10 * aspect))
            for column in range(round(x / 10), round((x + width) / 10)):
                assert not grid[line][column]
                grid[line][column] = letter
    return grid


@settings(derandomize=True, deadline=None, max_examples=60)
@given(grids(), st.floats(0.3, 2))
def test_out_and_back(grid, aspect):
    chart = Chart.from_rows(grid)
    root = drawn(chart, aspect=aspect)
    assert read_back(root, chart.columns, chart.rows, aspect) == grid
    letters = [text.text for text in root.iter(f"{SVG}text") if text.get("class") is None]
    runs = sum(
        letter != "." and (column == 0 or row[column - 1] != letter)
        for row in grid
        for column, letter in enumerate(row)
    )
    assert len(letters) == runs


@pytest.mark.parametrize(
    ("how", "left", "right"),
    [
        (Construction(), [2, 4], [1, 3]),
        (Construction(hand="left"), [1, 3], [2, 4]),
        (Construction(worked="rounds"), [], [1, 2, 3, 4]),
    ],
)
def test_rows_are_numbered_where_they_begin(how, left, right):
    root = drawn(Chart.from_rows(["AB", "BA", "AA", "BB"]), how=how)
    numbers = [text for text in root.iter(f"{SVG}text") if text.get("class") == "number"]
    rows, stitches = numbers[:4], numbers[4:]
    sides = {False: [], True: []}
    for text in rows:
        sides[float(text.get("x")) > 0].append(int(text.text))
    assert (sides[False], sides[True]) == (left, right)
    heights = [float(text.get("y")) for text in rows]
    assert heights == sorted(heights, reverse=True)  # row 1 lies lowest
    assert [text.text for text in stitches] == ["1", "2"]
    assert float(stitches[0].get("x")) > float(stitches[1].get("x"))


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a\"&'b", "a\0\x07b", "כחול", "🐑"])
def test_names_are_text(name):
    chart = Chart.from_rows(["AB"])
    root = drawn(chart, yarns_of(chart) | {"A": Yarn("A", name)})
    names = [text.text for text in root.iter(f"{SVG}text") if text.get("class") == "name"]
    assert names[0] == f"A {name}, 1 stitch".replace("\0", "").replace("\x07", "")
    assert {each.tag.removeprefix(SVG) for each in root.iter()} == {
        *("svg", "style", "rect", "g", "path", "text")
    }


def test_the_same_chart_gives_the_same_bytes():
    chart = Chart.from_rows(["AB.", "BBA"])
    first = chart_svg(chart, yarns_of(chart), 0.75, Construction())
    assert chart_svg(chart, yarns_of(chart), 0.75, Construction()) == first


def cells_in(png, project):
    """The cells of a picture of a chart on a grid, whose size nobody tells."""
    colours = [yarn.colour for yarn in project.all_yarns.values()]
    reading = read_grid_picture(open_artwork(png, "chart.png"), yarns=colours)
    return reading.chart([*project.all_yarns]).to_rows()


@pytest.mark.browser
def test_the_drawing_as_it_is_seen_reads_back(browser):
    """The demo, drawn by a browser at twice its size."""
    project = open_project(DEMO)
    svg = chart_svg(project.chart, project.all_yarns, float(project.gauge.aspect), project.how)
    page = browser.new_page(device_scale_factor=2)
    page.set_content(f"<body style='margin: 0'>{svg.decode()}")
    png = page.screenshot(full_page=True)
    page.close()
    assert cells_in(png, project) == project.chart.to_rows()


def test_the_picture_with_grid_reads_back():
    """The demo's PNG, its title and its yarns below among it."""
    project = open_project(DEMO)
    png = chart_file(make_plan(project), "chart.png")
    assert cells_in(png, project) == project.chart.to_rows()

"""What is written here and read again is the same, stitch by stitch."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from planner.charts import (
    carried,
    carried_chart,
    chart_pixels,
    chart_png,
    chart_xlsx,
    open_artwork,
    read_sheet,
)
from planner.charts.picture import CARRIED
from planner.piece import Chart, Construction, Yarn

LETTERS = ("A", "B", "WS", "RS", "St", "K", "x", "MC", "no", ".")


@st.composite
def charts(draw):
    """A chart in letters that mean something else elsewhere, with yarns of any colours."""
    names = draw(st.lists(st.sampled_from(LETTERS), min_size=1, max_size=6, unique=True))
    wide, high = draw(st.integers(1, 12)), draw(st.integers(1, 9))
    cell = st.sampled_from(names)
    rows = draw(
        st.lists(st.lists(cell, min_size=wide, max_size=wide), min_size=high, max_size=high)
    )
    # Every row has a stitch that is worked.
    for row in rows:
        if set(row) == {"."}:
            row[0] = "A"
    chart = Chart.from_rows(rows)
    # Colours that are alike, and white on white, tell nothing.
    colours = st.sampled_from(["#ffffff", "#fefefe", "#1f3a5f", "#000000", "#a4243b"])
    return chart, {letter: Yarn(letter, colour=draw(colours)) for letter in chart.letters}


@settings(derandomize=True, deadline=None, max_examples=150)
@given(charts(), st.sampled_from([0.6, 0.75, 1.0, 1.4]))
def test_pictures_and_workbooks_come_back(made, aspect):
    chart, yarns = made
    for data in (chart_png(chart, yarns, aspect), chart_pixels(chart, yarns)):
        back = carried_chart(open_artwork(data, "chart.png"))
        assert back.chart == chart
        assert back.colours == {letter: yarn.colour for letter, yarn in yarns.items()}
        assert not back.painted.any()
    sheet = read_sheet(chart_xlsx(chart, yarns, aspect, Construction()), "chart.xlsx")
    assert sheet.chart == chart
    assert not sheet.asks


def painted(data, box, colour):
    """The picture with a part painted over in a picture program that keeps its texts."""
    with Image.open(io.BytesIO(data)) as image:
        text = image.info[CARRIED]
        pixels = np.array(image.convert("RGB"))
    left, top, right, bottom = box
    pixels[top:bottom, left:right] = colour
    info = PngImagePlugin.PngInfo()
    info.add_itxt(CARRIED, text)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG", pnginfo=info)
    return file.getvalue()


CHART = Chart.from_rows(["AAAB", "AABB", "ABBB"])
YARNS = {"A": Yarn("A", colour="#1f3a5f"), "B": Yarn("B", colour="#f2e8cf")}


def test_what_is_painted_over_counts():
    """By eye: of three rows of four stitches the upper left corner is painted, in B and in red."""
    data = chart_pixels(CHART, YARNS)
    back = carried_chart(open_artwork(painted(data, (0, 0, 1, 1), (0xF2, 0xE8, 0xCF)), "c.png"))
    assert ["".join(row) for row in back.chart.to_rows()] == ["BAAB", "AABB", "ABBB"]
    assert np.argwhere(back.painted).tolist() == [[2, 0]]
    assert back.notes[-1].endswith("1 stitch were painted over since; that counts")
    red = carried_chart(open_artwork(painted(data, (0, 0, 2, 1), (200, 20, 30)), "c.png"))
    assert ["".join(row) for row in red.chart.to_rows()] == ["CCAB", "AABB", "ABBB"]
    assert red.colours == {"A": "#1f3a5f", "B": "#f2e8cf", "C": "#c8141e"}


def test_another_picture_carries_nothing():
    other = painted(chart_pixels(CHART, YARNS), (0, 0, 4, 3), (10, 200, 30))
    assert carried_chart(open_artwork(other, "c.png")) is None
    assert carried_chart(open_artwork(painted(other, (0, 0, 4, 3), (9, 9, 9)), "c.png")) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[" * 100_000,
        "nonsense",
        json.dumps({"rows": "AB", "colours": {"A": "#000000"}}),
        json.dumps({"rows": ["A B"], "colours": {"A": "#000000"}}),
        json.dumps({"rows": ["A B"], "colours": {"A": "#000000", "B": "blueish"}}),
        json.dumps({"rows": ["A B", "A"], "colours": {"A": "#000000", "B": "#ffffff"}}),
        json.dumps({"rows": ["A 1"], "colours": {"A": "#000000", "1": "#ffffff"}}),
        json.dumps({"rows": ["A"], "colours": ["A"]}),
    ],
)
def test_what_is_no_chart_is_not_carried(text):
    assert carried._from_text(text) is None


def test_a_chart_too_long_for_a_picture_is_left_out():
    rows = [["AAA", "BBB"] * 250] * 400
    chart = Chart.from_rows(rows)
    yarns = {letter: Yarn(letter, colour="#1f3a5f") for letter in chart.letters}
    art = open_artwork(chart_pixels(chart, yarns), "c.png")
    assert art.carries == ""
    assert carried_chart(art) is None

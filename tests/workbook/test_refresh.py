"""Refreshing notebooks: pictures are made small there, the same each time, and nothing else is."""

import base64
import io

import numpy as np
from nbformat.v4 import new_output
from PIL import Image

from planner.pictures import draw_load
from planner.workbook import picture_html, picture_png
from planner.workbook.refresh import WIDGET, _tidy_output, reduced
from tests.helpers.forms import small


def pixels(png):
    with Image.open(io.BytesIO(base64.b64decode(png))) as picture:
        return np.asarray(picture.convert("RGB")).astype(int)


def test_a_picture_is_made_small_and_looks_the_same():
    png = picture_png(draw_load(small().plan))
    less = reduced(png)
    assert less == reduced(png)
    assert len(less) < 0.7 * len(png)
    assert np.abs(pixels(less) - pixels(png)).mean() < 1


def test_pictures_in_what_a_cell_shows_are_made_small_and_words_stay():
    png, html = (make(draw_load(small().plan)) for make in (picture_png, _in_words))
    data = {WIDGET: {}, "text/html": f"<b>1 &lt; 2</b>{html}and{html}", "image/png": png}
    output = new_output("display_data", data=data, metadata={"a": 1})
    _tidy_output(output)
    assert output["data"] == {
        "text/html": f"<b>1 &lt; 2</b>{html}and{html}".replace(png, reduced(png)),
        "image/png": reduced(png),
    }
    assert output["metadata"] == {}


def _in_words(figure):
    return picture_html(figure, "a load")

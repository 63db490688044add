"""All pictures: each draws, the same every time, in its own style, and none by pyplot."""

import io
import re

import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure

from planner.pictures import draw_chart, draw_load, draw_strand_order, draw_strands
from tests.conftest import ROOT
from tests.helpers.drawn import PIECES, piece_plan, pixels_of

PICTURES = [draw_chart, draw_strands, draw_strand_order, draw_load]
DRAWN = [(name, draw) for name in PIECES for draw in PICTURES]


@pytest.mark.parametrize(
    ("name", "draw"), DRAWN, ids=[f"{name}, {draw.__name__}" for name, draw in DRAWN]
)
def test_pictures_draw(name, draw):
    """Each is a Figure with its own canvas, draws without a warning, and is not blank."""
    figure = draw(piece_plan(name))
    assert isinstance(figure, Figure)
    pixels = pixels_of(figure)
    ink = (pixels != pixels[0, 0]).any(axis=-1)
    assert 0.01 < ink.mean() < 1
    assert len(np.unique(pixels[ink], axis=0)) > 3


def test_pictures_keep_away_from_pyplot():
    """Widgets call them while a cell runs, which pyplot cannot bear; so nothing imports it."""
    modules = list((ROOT / "planner").rglob("*.py"))
    assert len(modules) > 20
    assert [
        path.name
        for path in modules
        if re.search(r"^\s*(from|import) .*\b(pyplot|pylab)\b", path.read_text(), re.MULTILINE)
    ] == []


def test_a_picture_is_the_same_every_time():
    plan, files = piece_plan("rounds"), []
    for _ in range(2):
        files.append(io.BytesIO())
        draw_strands(plan).savefig(files[-1], format="png", dpi=50, metadata={"Software": None})
    assert files[0].getvalue() == files[1].getvalue()


@pytest.mark.parametrize("draw", PICTURES)
def test_a_picture_has_its_own_style_and_leaves_the_callers(draw):
    plan = piece_plan("patch")
    expected = pixels_of(draw(plan))
    with matplotlib.rc_context({"font.size": 20, "axes.titlesize": 30, "axes.labelcolor": "red"}):
        before = dict(matplotlib.rcParams)
        figure = draw(plan)
        assert dict(matplotlib.rcParams) == before
    assert (pixels_of(figure) == expected).all()

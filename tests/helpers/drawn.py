"""Pieces to draw, and what is seen in a picture: its pixels and its words."""

from functools import cache

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from planner import CarryLimits, Chart, Construction, Project, Yarn, make_plan
from planner.pictures.words import Words
from tests.helpers.knitter import draw_chart as random_chart

PATCH = ["AAAAAA", "AABBAA", "AABBAA", "AAAAAA"]
NOISE = random_chart(3, stitches=18, rows=14, yarns=4, smooth=0)
PIECES = {
    "1 × 1": Project("dot", Chart.from_rows(["A"])),
    "one colour": Project("plain", Chart.from_rows(["AAAA"] * 5)),
    # A patch in a ground of two strands.
    "patch": Project("patch", Chart.from_rows(PATCH), limits=CarryLimits(middle_start=False)),
    "garter": Project("ridges", Chart.from_rows(PATCH), how=Construction(fabric="garter")),
    "rounds": Project(
        "tube", Chart.from_rows(["ABBA", "BBAA", "BAAB"]), how=Construction(worked="rounds")
    ),
    "no-stitch cells": Project("neck", Chart.from_rows([".AA.", "ABBA", "AB.A"])),
    "many strands": Project(
        "noise", Chart.from_rows(NOISE), limits=CarryLimits(sideways=1, middle_start=False)
    ),
    "big": Project(
        "panel", Chart.from_rows(random_chart(5, stitches=40, rows=50, yarns=4, smooth=3))
    ),
    "money": Project("$a_$ and $b^$", Chart.from_rows(["AB"]), {"A": Yarn("A", "$x_$")}),
}


@cache
def piece_plan(name: str):
    """The plan of one of the pieces."""
    return make_plan(PIECES[name])


def pixels_of(figure: Figure, dpi: float = 50) -> np.ndarray:
    """The figure as it is drawn: rows × columns × red, green and blue."""
    figure.set_dpi(dpi)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3]


def words_in(figure: Figure) -> list[str]:
    """All that is written in the figure, once it is drawn."""
    FigureCanvasAgg(figure).draw()
    texts = [text.get_text() for text in figure.findobj(Text) if text.get_text()]
    return texts + [text for words in figure.findobj(Words) for text in words.texts]


def written(ax: Axes) -> list[tuple[str, tuple[float, float]]]:
    """The words in the axes that are drawn together, each text with its place."""
    found = []
    for words in ax.findobj(Words):
        places = words.get_offsets().tolist()
        # A rim has a place of its own.
        own = places[:: max(1, len(places) // len(words.texts))] if words.texts else []
        found += [(text, tuple(place)) for text, place in zip(words.texts, own, strict=True)]
    return found

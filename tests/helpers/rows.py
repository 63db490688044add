"""Random pieces for what is told row by row, and their worked rows cell by cell."""

from __future__ import annotations

from functools import cache

import pytest

from planner import Chart, Construction, Gauge, Project, Yarn, make_plan
from planner.piece import Habits
from tests.helpers.knitter import draw_chart

HOW = [
    Construction(),
    Construction(first_row="WS", hand="left"),
    Construction(worked="rounds"),
    Construction(fabric="garter"),
    Construction(worked="rounds", hand="left", fabric="garter"),
    Construction(worked="turned"),
]


@cache
def random_case(number):
    """A random chart's rows, top row first, and its plan, with refills and, in every other chart,
    no-stitch cells."""
    rows = draw_chart(
        number, stitches=22, rows=24, yarns=3, smooth=(1, 2, 3.5)[number % 3], holes=number % 2 == 1
    )
    yarns = {"A": Yarn("A", feltable=True), "B": Yarn("B"), "C": Yarn("C", metres_per_ball=50)}
    habits = Habits(
        loose_up_to_cm=60,
        butterfly_up_to_cm=90,
        bobbin_up_to_cm=136,
        balls_on_table=number % 3,
        comfortable=3,
        crowded=6,
    )
    piece = Project(
        f"random {number}",
        Chart.from_rows(rows),
        yarns,
        Gauge(),
        HOW[number % len(HOW)],
        habits=habits,
    )
    return rows, make_plan(piece)


every_random_case = pytest.mark.parametrize("number", range(12))


def worked_rows(rows, how):
    """The cells of each worked row, bottom row first; a ridge is worked twice."""
    return [line for line in reversed(rows) for _ in range(2 if how.fabric == "garter" else 1)]

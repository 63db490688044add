"""Plans for tests: the demo's, small ones at 2 cm of yarn to the stitch, and random ones."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from planner import make_plan, open_project
from planner.piece import (
    SUPPLIES,
    SURFACES,
    Allowances,
    CarryLimits,
    Chart,
    Construction,
    Gauge,
    Habits,
    MultiplierChoice,
    OwnChoice,
    Project,
    Yarn,
)
from planner.plan import Plan
from tests.conftest import DEMO
from tests.helpers.knitter import draw_chart

GAUGE = Gauge(20, 28)  # a stitch is 5 mm wide: with a multiplier of 4 it takes 2 cm
PLAIN = Allowances(tail_cm=15, cast_on=0, bind_off=0)
FOUR = MultiplierChoice("own", 4, 0)

SMALL = Habits(loose_up_to_cm=60, butterfly_up_to_cm=90, bobbin_up_to_cm=150)
LONGER = Habits(loose_up_to_cm=90, butterfly_up_to_cm=180, bobbin_up_to_cm=400, comfortable=8)
# What a random piece asks for beside its chart and yarns.
ASKED: list[dict[str, Any]] = [
    {"habits": SMALL},
    {"habits": replace(SMALL, balls_on_table=1, comfortable=12, crowded=14)},
    {"habits": replace(SMALL, balls_on_table=5, both_ends=True, comfortable=12, crowded=12)},
    {"habits": replace(LONGER, rewinding=False, place="sofa", elsewhere="13-24 table")},
    {"habits": replace(SMALL, place="train")},
    {"habits": replace(SMALL, drop="long", crowded=7), "how": Construction(worked="rounds")},
    {
        "habits": replace(LONGER, elsewhere="30-45 train, 50-60 sofa"),
        "how": Construction(fabric="garter"),
        "limits": CarryLimits(middle_start=False),
    },
    {
        "habits": replace(LONGER, balls_on_table=3, elsewhere="16-30 train"),
        "units": "in",
        "how": Construction(first_row="WS", hand="left"),
    },
    {"habits": replace(LONGER, balls_on_table=8, comfortable=12, crowded=12)},
    {"habits": replace(LONGER, elsewhere="11-20 train", comfortable=12, crowded=12)},
    {"habits": replace(SMALL, balls_on_table=9, comfortable=12, crowded=12)},
    {"habits": replace(LONGER, balls_on_table=3, both_ends=True)},
]


@cache
def demo(way: str = "estimate") -> Plan:
    """The plan of the demo, its multiplier found in this way."""
    project = open_project(DEMO)
    return make_plan(replace(project, multiplier=MultiplierChoice(way)))


def plan_of(rows, yarns=None, **asked) -> Plan:
    """A plan without cast-on and margin, 2 cm of yarn to the stitch."""
    settings = {"gauge": GAUGE, "allow": PLAIN, "multiplier": FOUR} | asked
    return make_plan(Project("piece", Chart.from_rows(rows), yarns or {}, **settings))


RANDOM_PLANS = len(ASKED)
every_random_plan = pytest.mark.parametrize("number", range(RANDOM_PLANS))


@cache
def random_plan(number: int) -> Plan:
    """A chart of blobs and wandering lines, planned with some habits or other.

    The same one for the same number.
    """
    rows = draw_chart(number, stitches=28, rows=30, yarns=4, smooth=(1.5, 2.5, 4)[number % 3])
    chart = Chart.from_rows(rows)
    rng = np.random.default_rng(number)
    yarns = {
        letter: Yarn(
            letter,
            metres_per_ball=float(rng.integers(*((2, 6) if number > 7 else (15, 60)))),
            grams_per_ball=25,
            balls_in_hand=float(rng.integers(0, 9)) / 2,
            feltable=bool(rng.integers(2)),
            may_be_cut=letter != "D" or number % 4 != 1,
            superwash=bool(rng.integers(2)),
            surface=str(rng.choice(SURFACES)),
            part_balls_g=tuple(rng.uniform(5, 20, size=rng.integers(3)).tolist()),
        )
        for letter in "ABCD"
    }
    asked = ASKED[number % len(ASKED)]
    own = ()
    # In every third piece some strands are held as the knitter says.
    if number % 3 == 2:
        before = make_plan(Project("before", chart, yarns, GAUGE, **asked)).strands
        own = tuple(
            OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", SUPPLIES[i % 4])
            for i, s in enumerate(before[::5].itertuples())
        )
    return make_plan(Project(f"random {number}", chart, yarns, GAUGE, choices=own, **asked))


def stripes(*widths, rows, letters="ABCDEFGH"):
    """Upright stripes, each a strand of its own from the first row to the last."""
    return ["".join(letter * width for letter, width in zip(letters, widths, strict=False))] * rows


# A V of single stitches: one length of B, begun from its middle.
V = ["".join("B" if x in (15 - y, 15 + y) else "A" for x in range(31)) for y in reversed(range(10))]


# Two at work for 29 rows, then six for 20. The piece begins on a WS row, so that A and B, at the
# edges, go on as they are.
SIX_AT_WORK = "".join(letter * 10 for letter in "BCDEFA")
FEW_THEN_MANY = [SIX_AT_WORK] * 20 + ["B" * 10 + "A" * 50] * 29
WS_FIRST = Construction(first_row="WS")

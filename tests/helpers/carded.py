"""Random pieces with their cards, and a walk from stretch to stretch of each strand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict
from functools import cache

import pytest

from planner import CarryLimits, Chart, Construction, Gauge, Project, make_plan
from tests.helpers.knitter import draw_chart, stretches

HOW = {
    "flat": Construction(),
    "flat, WS first": Construction(first_row="WS"),
    "flat, left-handed": Construction(hand="left", selvedge=1),
    "garter": Construction(fabric="garter", selvedge=2),
    "garter, left-handed": Construction(fabric="garter", hand="left", first_row="WS"),
    "rounds": Construction(worked="rounds"),
    "garter in rounds": Construction(worked="rounds", fabric="garter"),
    "turned": Construction(worked="turned"),
    "garter in turned rounds, left-handed": Construction("turned", "WS", "left", "garter"),
}


LIMITS = (
    CarryLimits(),
    CarryLimits(across=4, sideways=7, up=3),
    CarryLimits(across=1, sideways=3, up=1, middle_start=False),
)


CASES = [(name, number) for name in HOW for number in range(3)]


every_case = pytest.mark.parametrize(("name", "number"), CASES)


def plan_of(rows, how=None, limits=None, **asked):
    """A plan of these rows, top row first."""
    asked |= {"how": how or Construction(), "limits": limits or CarryLimits()}
    return make_plan(Project("piece", Chart.from_rows(rows), gauge=Gauge(20, 25), **asked))


@cache
def case(name, number):
    """A random chart's rows, top row first, and its plan; one in three has no-stitch cells."""
    rows = draw_chart(
        number, stitches=18, rows=14, yarns=3, smooth=(1, 0.7, 0.5)[number], holes=number % 2 == 1
    )
    return rows, plan_of(rows, HOW[name], LIMITS[number])


@cache
def walk(name, number):
    """Each part of a strand, (label, half), with its stretches in working order."""
    rows, plan = case(name, number)
    how, traced = asdict(HOW[name]), plan.traced
    piece = [run for row in stretches(rows, **how) for run in row]
    parts = defaultdict(list)
    for run, strand, half in zip(piece, traced.of_run.tolist(), traced.half.tolist(), strict=True):
        parts[traced.labels[strand], half].append(run)
    return dict(parts)


def over_the_join(first, after, how, columns):
    """Whether a yarn goes over the join of turned rounds: less than half of the tube lies there."""
    if how.worked != "turned" or first.row == after.row:
        return False
    along = abs(first.leave - after.enter)
    return columns - along < along


def woven_by(first, after, how, columns):
    """Stitches by which the next row starts the yarn earlier, seen in the direction of the row it
    leaves; 0 if it does not."""
    if how.worked == "rounds" or after.row != first.row + 1:
        return 0
    if over_the_join(first, after, how, columns):
        return 0
    leftwards = first.enter > first.leave
    on = first.leave - after.enter if leftwards else after.enter - first.leave
    return max(on, 0)

"""Pieces with some rows knitted, and a knitter who finds places by the words of a cure alone."""

from __future__ import annotations

import re
from dataclasses import asdict, replace
from functools import cache
from itertools import pairwise

import pytest

from planner import make_plan
from planner.mending import Fault, Stitch, Work
from planner.piece import Entry
from planner.plan import Plan
from tests.helpers.card_reader import CardReader, Knit, Way
from tests.helpers.carded import CASES, case
from tests.helpers.progress import knitted

every_knitted_case = pytest.mark.parametrize(("name", "number"), CASES)


def with_rows(plan: Plan, done: int) -> Plan:
    """The plan with its first rows worked, so many of them, as they are knitted by it."""
    return make_plan(replace(plan.project, progress=knitted(plan, done)))


def noted(plan: Plan, entry: Entry) -> Plan:
    """The plan with one more line in its log."""
    number = len(plan.project.progress) + 1
    log = (*plan.project.progress, replace(entry, number=number))
    return make_plan(replace(plan.project, progress=log))


@cache
def knitted_case(name: str, number: int) -> Plan:
    """A random piece of which all but a quarter is knitted."""
    _, plan = case(name, number)
    return with_rows(plan, 3 * len(plan.cards) // 4)


def read_cards(plan: Plan, texts: list[str]) -> Knit:
    """What comes of knitting from these cards of rows, by a knitter who has their words alone."""
    cast_on, bind_off = plan.all_cards.cast_on, plan.all_cards.bind_off
    before, after = cast_on and str(cast_on), bind_off and str(bind_off)
    return CardReader(Way(**asdict(plan.project.how))).read(before, texts, after)


def stitches_before(place: str, needle: list[str]) -> int:
    """After how many stitches a yarn hangs, by the words of its place.

    `needle` has the runs in the order in which the next row meets them, such as "9 Cream W2".
    """
    widths = [int(run.split()[0]) for run in needle]
    if place == "where the next row begins":
        return 0
    if place == "where the next row ends":
        return sum(widths)
    if between := re.fullmatch(r"between (.+) and (.+)", place):
        pairs = list(pairwise(needle))
        (found,) = [i for i, pair in enumerate(pairs) if pair == between.groups()]
        return sum(widths[: found + 1])
    behind = re.fullmatch(r"behind (.+), after (\d+) of them", place)
    assert behind, place
    (found,) = [i for i, run in enumerate(needle) if run == behind[1]]
    return sum(widths[:found]) + int(behind[2])


def at(plan: Plan, row: int, number: int) -> Stitch:
    """The stitch of a row (from 1) that its card counts as this one."""
    return Work(plan).at(row - 1, number)


def fault(what: str, *stitches: Stitch, in_yarn: str = "") -> Fault:
    return Fault(what, stitches, in_yarn)


def cure_named(cures, name: str):
    (found,) = [cure for cure in cures if cure.name == name]
    return found

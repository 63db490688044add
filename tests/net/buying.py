"""What to own and to buy: bobbins, balls, copies, dye lots."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from tests.net.names import house, pieces_table
from tests.net.pieces import demo, patches, piece, project, yarns
from tests.net.sections import section
from tests.net.text import Titled, answer

SHORT = house.Habits(
    loose_up_to_cm=40, butterfly_up_to_cm=80, bobbin_up_to_cm=200, balls_on_table=2
)


def plans():
    """Plans with bobbins, refills and balls."""
    chart = patches(111, stitches=30, rows=24, yarns=4, strays=6)
    yield "patches", house.make_plan(project(chart, habits=SHORT))
    limits = house.CarryLimits(0, 5, 2, False)
    yield "plain", house.make_plan(project(chart, habits=SHORT, limits=limits, units="in"))
    how = house.Construction("rounds")
    yield "rounds", house.make_plan(project(patches(112), habits=SHORT, how=how))
    yield "demo", house.make_plan(demo())
    yield "shaped", house.make_plan(piece("shaped"))


@section
def bobbins() -> Titled:
    """How many bobbins, which carries what when, stops to wind, and what else saves."""
    for title, plan in plans():
        yield f"{title}: pieces", pieces_table(plan)
        yield "most at once", house.most_at_once(house.pieces_of(plan))
        for kinds in (("bobbin",), ("bobbin", "butterfly")):
            stops = house.winding_stops(plan, kinds=kinds)
            yield f"stops {kinds}", stops
            for owned in (None, 1, 2, 4, 9):
                table = answer(house.bobbin_table, plan, kinds=kinds, owned=owned)
                yield f"{owned} owned", table
        yield "both ends", house.both_ends(plan)
        yield "splices", house.splices(plan)
        yield "left-overs", house.reuse_leftovers(plan)
        for sure in (0.25, 0.9):
            yield f"left-overs {sure}", house.reuse_leftovers(plan, sure)
    measured = replace(demo(), multiplier=house.MultiplierChoice("measured"))
    yield "measured", house.reuse_leftovers(house.make_plan(measured))


@section
def balls() -> Titled:
    """The chances of so many balls, odd metres, copies and mirrored ones."""
    for title, plan in plans():
        several = answer(house.copies, plan, 3, mirrored_count=1)
        for some in ([plan], several):
            yield f"{title}, {len(some)}", house.balls_table(some)
            yield "odd metres", house.odd_metres(some)
            yield "shop for", house.shop_for(some)
            yield "copies", house.copies_table(some)
        other = house.mirrored(plan)
        yield "mirrored", [repr(other), other.project.chart, other.notes]
    measured = replace(demo(), multiplier=house.MultiplierChoice("measured"), units="in")
    yield "measured", house.balls_table([house.make_plan(measured)])
    for count, turned in ((0, 0), (2, 3), (1, -1)):
        yield f"{count} {turned}", answer(house.copies, plan, count, mirrored_count=turned)
    own = house.OwnChoice("supply", "A", 1, 3, "whole", "bobbin")
    chosen = replace(piece("tiny"), choices=(own,))
    yield "choices mirrored", house.mirrored(house.make_plan(chosen)).project.choices
    lengths = [house.make_plan(odd_ball(cm)) for cm in range(55, 110, 9)]
    yield "odd balls", [house.odd_metres([plan]) for plan in lengths]


def odd_ball(metres: float):
    """The demo with other balls, so that a last one is hardly begun."""
    some = {k: replace(y, metres_per_ball=metres) for k, y in demo().yarns.items()}
    return replace(demo(), yarns=some)


@section
def lots() -> Titled:
    """Which strands come from which dye lot."""
    chart = patches(121, stitches=24, rows=18, yarns=2, strays=5)
    short = {k: replace(y, metres_per_ball=12.0) for k, y in yarns().items() if k in "AB"}
    limits = house.CarryLimits(0, 1, 0)
    plan = house.make_plan(project(chart, yarns=short, limits=limits, habits=SHORT))
    inches = house.make_plan(project(chart, yarns=short, units="in"))
    for given in (None, {"114": 1, "131": 1}, {"x": 0.5, "y": 0.5, "z": 1}, {}):
        for plans_ in ([plan], [plan, plan], [inches]):
            share = answer(house.share_lots, plans_, "B", given)
            yield f"{given} {len(plans_)}", share
    for letter in ("Z", "C"):
        wild = replace(project(patches(122)), yarns={})
        yield f"no {letter}", answer(house.share_lots, [house.make_plan(wild)], letter)
    random = np.random.default_rng(5)
    rooms = ({"a": 300, "b": 260}, {"a": 90, "b": 90, "c": 400}, {"a": 200, "b": 190})
    for pieces, room in product((4, 5, 6, 7), rooms):
        length, begins = random.integers(20, 90, pieces), np.sort(random.integers(1, 9, pieces))
        done = begins + random.integers(1, 8, pieces)
        areas = [{int(area)} for area in random.integers(0, 3, pieces)]
        yield f"best share {room}", answer(house.best_share, length, begins, done, areas, room)

"""Choices: made by hand, found by offers, the trade-off and the ceiling."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

from tests.net.knitting import worked_to
from tests.net.names import cards_of, house
from tests.net.pieces import demo, patches, piece, project
from tests.net.plans import planned
from tests.net.sections import section
from tests.net.text import Titled, answer

STRICT = {"limits": house.CarryLimits(0, 1, 0)}


def asked_of(name: str):
    """Projects with much to choose."""
    if name == "patches":
        return project(patches(71, stitches=26, rows=20, yarns=4, strays=14), **STRICT)
    if name == "rounds":
        how = house.Construction("rounds")
        return project(patches(72, strays=8), how=how, **STRICT)
    if name == "garter":
        how = house.Construction("flat", "WS", "left", "garter", selvedge=1)
        return project(patches(73, strays=6, shaped=True), how=how, units="in", **STRICT)
    return piece("tiny")


NAMES = ("patches", "rounds", "garter", "tiny")


def priced(offers) -> Titled:
    """Each offer with its price and what accepts and refuses it."""
    for offer in offers:
        yield offer.what, [offer.about, offer.price, list(offer.choices), list(offer.refusal)]


@section
def offers() -> Titled:
    """All offers and their prices; in words; with work on the needles; and beyond the limits."""
    for name in NAMES:
        asked = asked_of(name)
        found = house.find_offers(asked)
        yield f"offers of {name}", [house.offer_table(found, units) for units in ("cm", "in")]
        yield from priced(found)
        near = house.Weighing(3, 1, 2, 1, 4, 1.5)
        nearer = house.find_offers(replace(asked, weighing=near))
        yield f"near offers of {name}", house.offer_table(nearer, "cm")
        begun = worked_to(asked, 6)
        yield f"offers of {name}, begun", house.offer_table(house.find_offers(begun), "cm")
    yield "offers of the demo", house.offer_table(house.find_offers(demo()), "cm")


@section
def own_choices() -> Titled:
    """Offers taken one by one and together, refused, and choices whose place is gone."""
    for name in NAMES:
        asked = asked_of(name)
        found = house.find_offers(asked)
        for offer in found[:: max(1, len(found) // 5)]:
            taken = replace(asked, choices=offer.choices)
            refused = replace(asked, choices=offer.refusal)
            plan = house.make_plan(taken)
            yield offer.what, [repr(plan), plan.strands, plan.embroidery, plan.notes]
            words = [house.choice_in_words(choice, plan.traced) for choice in offer.choices]
            yield "in words", words
            fewer = house.find_offers(refused)
            yield "once refused", [len(fewer), house.make_plan(refused).summary()]
        every = tuple(choice for offer in found[:6] for choice in offer.choices)
        yield from planned(f"{name}, six offers taken", replace(asked, choices=every))


@section
def choices_by_hand() -> Titled:
    """Carries yes and no, middle starts given up, grounds named; what is gone or wrong."""
    asked = asked_of("patches")
    strands = house.make_plan(asked).traced
    runs, letters = strands.runs, strands.chart.letters
    for yarn, row, stitch, choice in (
        ("A", 3, 4, "by itself"),
        ("B", 9, 8, "on C"),
        ("C", 9, 8, "on C"),
        ("D", 5, 20, "on Z"),
        ("A", 90, 3, "by itself"),
        ("A", 3, 4, "somehow"),
        ("A", 3, 4, "refused"),
    ):
        for spot in places_of(strands, yarn)[:2] or [(row, stitch)]:
            line = house.OwnChoice("embroider", yarn, *spot, "whole", choice)
            yield from brief(f"embroider {yarn} {spot} {choice}", replace(asked, choices=(line,)))
        gone = house.OwnChoice("embroider", yarn, row, stitch, "whole", choice)
        yield from brief(f"gone {yarn} {choice}", replace(asked, choices=(gone,)))
    for link in range(0, strands.possible.count, 15):
        a, b = int(strands.possible.a[link]), int(strands.possible.b[link])
        yarn, to = letters[runs.yarn[a]], (int(runs.row[b]) + 1, int(strands.stitch_number(b)))
        at = (int(runs.row[a]) + 1, int(strands.stitch_number(a)))
        for about, part, choice in (
            ("carry", f"to row {to[0]} stitch {to[1]}", "yes"),
            ("carry", f"to row {to[0]} stitch {to[1]}", "no"),
            ("carry", f"to row {to[0]} stitch {to[1] + 40}", "yes"),
            ("middle", "whole", "no"),
        ):
            line = house.OwnChoice(about, yarn, *at, part, choice)
            yield from brief(f"{about} {choice} {at} {part}", replace(asked, choices=(line,)))
    for yarn in letters:
        begun = worked_to(asked, 9)
        for spot in places_of(strands, yarn)[:6]:
            line = house.OwnChoice("embroider", yarn, *spot, "whole", "by itself")
            yield from brief(f"begun, {yarn} {spot}", replace(begun, choices=(line,)))
    for about, part, choice in (
        ("carry", "whole", "yes"),
        ("carry", "to row 2 stitch 2", "perhaps"),
        ("middle", "whole", "yes"),
        ("middle", "whole", "refused"),
    ):
        line = house.OwnChoice(about, "A", 1, 1, part, choice)
        yield from brief(f"{about} {part} {choice}", replace(asked, choices=(line,)))


def places_of(strands, yarn: str) -> list[tuple[int, int]]:
    """Row and stitch at which the strands of a yarn begin, the shortest strands first."""
    table = strands.table()
    some = table[table.yarn == yarn].sort_values(["stitches", "first_row"], kind="stable")
    return list(zip(some.first_row.tolist(), some.first_stitch.tolist(), strict=True))


def brief(title: str, asked) -> Titled:
    """What choices do to a plan, in short."""
    plan = answer(house.make_plan, asked)
    if isinstance(plan, str):
        yield title, plan
        return
    strands = plan.traced
    yield title, [repr(plan), list(plan.notes), plan.embroidery, strands.of_run, strands.half]
    yield "words", [house.choice_in_words(c, strands) for c in asked.choices if c.about != "supply"]
    told = house.ask(asked)
    yield "asked", [told.carries, told.cuts, told.no_middle, told.refused, told.notes]
    yield "again", repr(house.trace_asked(asked, told))
    embroidered = [said for card in cards_of(plan) for said in card.foot if "embroid" in said]
    yield "cards", embroidered


@section
def trade_off() -> Titled:
    """Limits from strict to relaxed, for all yarns and for one, and their words."""
    for name in NAMES:
        asked = asked_of(name)
        for yarn in (None, "A", asked.chart.letters[-1]):
            table = house.tradeoff(asked, yarn)
            yield f"{name} {yarn}", table
            yield "words", [house.limits_in_words(rung) for rung in table.itertuples()]
    begun = replace(worked_to(asked_of("patches"), 5), by_yarn={"B": house.CarryLimits(1, 2, 3)})
    yield "begun", [house.tradeoff(begun), house.tradeoff(begun, "B")]
    yield "no such yarn", answer(house.tradeoff, asked_of("tiny"), "Z")


def kept_under(title: str, asked, most: int) -> Titled:
    """A ceiling: what it says, its choices, and the plan with them."""
    ceiling = answer(house.keep_under, asked, most)
    yield f"{title}, at most {most}", str(ceiling)
    if isinstance(ceiling, str):
        return
    figures = (ceiling.bound, ceiling.carries, ceiling.stitches, ceiling.cuts, ceiling.cost)
    yield "figures", [figures, ceiling.first_row, ceiling.rows, list(ceiling.choices)]
    yield "price", ceiling.price
    plan = house.make_plan(replace(asked, choices=(*asked.choices, *ceiling.choices)))
    yield "plan", [repr(plan), plan.traced.live, plan.notes]


@section
def ceiling() -> Titled:
    """Fewer at once: what keeps each row under so many, and where nothing does."""
    for name in NAMES:
        asked = asked_of(name)
        peak = int(house.make_plan(asked).traced.live.max())
        for most in range(max(0, peak - 4), peak + 1):
            yield from kept_under(name, asked, most)
    begun = worked_to(asked_of("patches"), 7)
    for most in (4, 5, 6):
        yield from kept_under("begun", begun, most)
    sewn = house.Weighing(carry_stitches=0, carry_rows=0, embroider_stitches=6)
    for seed, worked in product((74, 75), ("flat", "rounds")):
        chart = patches(seed, stitches=16, rows=9, yarns=3, strays=9)
        given = {"weighing": sewn, "how": house.Construction(worked)} | STRICT
        for most in (3, 4, 5, 6):
            yield from kept_under(f"embroidered {worked}", project(chart, **given), most)
    known = asked_of("patches")
    taken = tuple(o.choices[0] for o in house.find_offers(known) if o.about == "embroider")
    for most in (3, 4, 5):
        yield from kept_under("some embroidered", replace(known, choices=taken[::2]), most)
    relaxed = replace(asked_of("patches"), limits=house.CarryLimits(1, 4, 3))
    for most in (4, 5, 6):
        yield from kept_under("relaxed", relaxed, most)

"""With work on the needles: progress, what is knitted, measurements, used yarn, twists."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from tests.net.names import calibration_of, house, knitted_of, multipliers_of, note_row
from tests.net.pieces import demo, patches, piece, project
from tests.net.plans import planned
from tests.net.sections import section
from tests.net.text import Titled, answer

DAY = "2026-03-14"


def noted(asked, plan, row: int):
    """The project with one more row worked as the plan says."""
    total = asked.row_totals()[row - 1]
    note = note_row(plan, row)
    number = len(asked.progress) + 1
    entry = house.Entry(number, DAY, "row worked", row, total, note)
    return replace(asked, progress=(*asked.progress, entry))


def worked_to(asked, last: int):
    """The project worked up to a row as its plan says."""
    plan = house.make_plan(asked)
    for row in range(1, last + 1):
        asked = noted(asked, plan, row)
    return asked


def with_entry(asked, what: str, row: int, strand: str, length_cm: float, part: str = "whole"):
    """The project with a supply measured or joined."""
    number = len(asked.progress) + 1
    entry = house.Entry(number, DAY, what, row, strand=strand, part=part, length_cm=length_cm)
    return replace(asked, progress=(*asked.progress, entry))


def lasting(title: str, asked) -> Titled:
    """What is left and whether it lasts."""
    plan = house.make_plan(asked)
    yield f"{title}: supplies", house.will_it_last(plan, asked.progress)
    yield f"{title}: yarns", house.will_yarns_last(plan, asked.progress)


def begun_pieces():
    """Pieces to work some rows of, in several ways of working."""
    limits = house.CarryLimits(2, 4, 2)
    for number, (worked, hand, fabric) in enumerate(
        product(("flat", "rounds"), ("right", "left"), ("stockinette", "garter"))
    ):
        how = house.Construction(worked, "RS", hand, fabric, number % 2)
        chart = patches(80 + number, stitches=22, rows=16, yarns=4, strays=7)
        units = "in" if number % 3 == 0 else "cm"
        yield f"{worked} {hand} {fabric}", project(chart, how=how, limits=limits, units=units)


@section
def progress() -> Titled:
    """Rows noted and the plan made anew; limits changed after it; supplies measured and joined."""
    for title, asked in begun_pieces():
        plan = house.make_plan(asked)
        rows = plan.traced.runs.rows
        yield f"{title}: notes", [note_row(plan, row) for row in range(1, rows + 1)]
        begun = worked_to(asked, 7)
        yield "knitted", knitted_of(begun)
        yield from planned(title, begun)
        stricter = replace(begun, limits=house.CarryLimits(0, 0, 0, False))
        yield "stricter", [house.make_plan(stricter).strands, note_row(plan, 8)]
        freer = replace(begun, limits=house.CarryLimits(4, 8, 4))
        yield "freer", house.make_plan(freer).strands
        for row in (8, 9, 10):
            freer = noted(freer, house.make_plan(freer), row)
        again = replace(freer, limits=house.CarryLimits(0, 1, 0))
        yield "once more", [house.make_plan(again).strands, knitted_of(again)]
        yield from lasting(title, again)
        yield from supplies_logged(title, again)


def supplies_logged(title: str, asked) -> Titled:
    """Supplies measured and joined in the rows worked, for those still live."""
    plan = house.make_plan(asked)
    live = house.will_it_last(plan, asked.progress)
    parts = {part.title: part for part in plan.parts}
    for number, supply in enumerate(live.itertuples()):
        what = ("left", "joined")[number % 2]
        length = 12.0 + 31 * number
        part = parts[supply.strand]
        asked = with_entry(asked, what, 8 + number % 3, part.label, length, part.name)
    yield from lasting(f"{title}, measured", asked)
    measured = replace(asked, multiplier=house.MultiplierChoice("own", 3.2, 0.1))
    yield from lasting(f"{title}, own multiplier", measured)


@section
def progress_of_the_demo() -> Titled:
    """The demo worked to row 40, its yarns and supplies, and a crowd of them."""
    begun = worked_to(demo(), 40)
    yield from lasting("demo", begun)
    yield from supplies_logged("demo", begun)
    begun = worked_to(piece("shaped"), 12)
    yield from planned("shaped", begun)
    yield from lasting("shaped", begun)


LOGS = (
    {},
    {1: "3 A1, 4 B1"},
    {1: "3 A1", 3: "3 A1"},
    {1: "3 A1", 2: "3A1"},
    {1: "three A1"},
    {1: "14 A1 second half, 6 B1"},
    {1: "20 A1", 2: "20 A1 cut"},
    {1: "5 A1 from its middle, 2 B1 cut, 3 A1 second half to 17"},
)


@section
def logs_and_what_fits() -> Titled:
    """Logs read, out of turn, of another piece; rows that may not be marked."""
    for log in LOGS:
        yield f"notes {log}", answer(house.Knitted.from_notes, log)
    asked = worked_to(project(patches(90)), 3)
    plan = house.make_plan(project(patches(90)))
    fits = note_row(plan, 4)
    halved = fits.replace(",", " second half,", 1)
    for number, note in enumerate(("20 A1", "5 A1, 15 B1", fits, halved)):
        entry = house.Entry(4, DAY, "row worked", 4, 20, note)
        yield (
            f"row 4 {number}",
            repr(answer(house.make_plan, replace(asked, progress=(*asked.progress, entry)))),
        )
    shorter = replace(asked, chart=patches(91))
    yield "another chart", answer(house.make_plan, shorter)
    yield "narrower", answer(house.make_plan, replace(asked, chart=patches(90, stitches=18)))
    cut = house.Chart.from_rows(patches(90).to_rows()[-2:])
    yield "fewer rows", answer(house.make_plan, replace(asked, chart=cut))
    undone = house.Entry(4, DAY, "row undone", 3)
    back = replace(asked, progress=(*asked.progress, undone))
    yield "one taken back", [house.rows_worked(back.progress), house.make_plan(back).strands]
    for what, row in product(("row worked", "row undone"), (1, 2, 3, 4, 5, 14)):
        yield f"{what} {row}", answer(house.check_mark, asked.progress, what, row, 14)
    yield "all worked", answer(house.check_mark, asked.progress, "row worked", 4, 3)
    yield "none worked", answer(house.check_mark, (), "row undone", 1, 3)


BASIC = {"date": DAY, "yarn": "A", "gauge_stitches": 20}
MEASURED = (
    {"way": "marked length", "stitches": 59, "length_cm": 100, "length_step_cm": 0.5},
    {"way": "unravelled", "stitches": 12, "length_cm": 31, "gauge_over_cm": 12},
    {
        "way": "weighed swatch",
        "stitches": 884,
        "grams": 8.3,
        "grams_step": 0.1,
        "metres_per_gram": 2,
        "edges_cm": 130,
        "tails_cm": 30,
    },
    {
        "way": "weighed swatch",
        "stitches": 400,
        "grams": 9,
        "metres_per_gram": 1.9,
        "metres_per_gram_from": "weighed length",
        "fabric": "garter",
        "state": "blocked",
    },
    {"way": "needle wraps", "length_cm": 14, "wraps": 8, "needle_mm": 4.5},
    {
        "way": "supply",
        "stitches": 595,
        "wound_cm": 1260,
        "left_cm": 168,
        "carried_cm": 7,
        "tails_cm": 30,
        "strand": "A1",
        "planned_cm": 1084.4,
        "planned_low_cm": 912.65,
        "planned_high_cm": 1256.37,
        "edges_cm": 20,
    },
    {"way": "marked length", "stitches": 59, "length_cm": 260},
    {"way": "marked length", "stitches": 59, "length_cm": 60},
    {"way": "marked length", "stitches": 59, "length_cm": 28},
    {"way": "marked length", "stitches": 20, "length_cm": 430},
    {"way": "supply", "stitches": 9, "wound_cm": 60, "left_cm": 8, "tails_cm": 30, "strand": "B2"},
    {"way": "supply", "stitches": 90, "wound_cm": 60, "left_cm": 8, "tails_cm": 52},
)


@section
def measurements() -> Titled:
    """Each way of measuring: its evidence, its sum, what it asks, and the same one twice."""
    log = demo().measurements
    for number, values in enumerate(MEASURED, 20):
        for more in ({}, {"yarn": "W", "note": "again"}):
            new = house.Measurement(**({"number": number} | BASIC | values | more))
            yield f"measurement {number}", [new, answer(house.evidence_in, new)]
            if isinstance(answer(house.evidence_in, new), str):
                continue
            yield "sum", [house.arithmetic(new), number_line(house.ratio_of(new)), new.stitch_cm]
            for known in ((), log):
                yield "judged", answer(house.judge, new, known)
            yield "remarks", house.remarks(new)
            twice = (*log, replace(new, number=99))
            yield "same", repr(house.same_as(new, log)) + str(bool(house.same_as(new, twice)))
    fixed = replace(log[0], number=50, corrects=1, length_cm=104)
    unused = replace(log[1], number=51, corrects=2, use="no")
    longer = (*log, fixed, unused)
    yield "in force", [m.number for m in house.in_force(longer)]
    yield "evidence", house.evidence_of(longer)


def number_line(value: float) -> list[float]:
    """One number, so that it is written like all others."""
    return [float(value)]


@section
def calibration() -> Titled:
    """What measurements say of each yarn and fabric, how surely, and what one more would."""
    for log in ((), demo().measurements[:1], demo().measurements[:5], demo().measurements):
        asked = replace(demo(), measurements=log)
        known = calibration_of(asked)
        yield f"{len(log)} measurements", [known.noise, known.kinds]
        for kind in known.kinds[:8]:
            multiplier = known.multiplier(*kind)
            yield f"{kind}", [str(multiplier), multiplier.basis, multiplier.spread]
            widths = np.array([1.0, 30.0, 420.0])
            for chance in (0.05, 0.5, 0.95):
                yield f"length at {chance}", multiplier.length_at(widths, chance)
            over = multiplier.chance_over(widths, widths * 3.7 + 2, 1.5)
            yield "over, margin", [over, multiplier.margin_cm(widths, 20), multiplier.margin(50)]
        yield "after one more", known.spreads_after("N", "stockinette", 27.0, 0.03)
    yield "prior", house.prior_covariance([("A", "garter"), ("A", "stockinette"), ("B", "garter")])
    yield "noise", house.noise_variance(np.array([1.0, 30.0, 420.0]), 0.04)
    plain = house.Multiplier(3.5, 0.2)
    widths, lengths = np.array([10, 20]), np.array([36, 69])
    yield "plain", [plain.length_at(widths, 0.9), plain.chance_over(widths, lengths, 1.0)]
    for way, value, spread in product(("estimate", "own"), (3.1, 6.2), (None, 0.2)):
        choice = house.MultiplierChoice(way, value, spread)
        multiplier = house.Multiplier.chosen(choice)
        yield "choice", [multiplier.value, multiplier.spread, multiplier.basis, multiplier.query]


@section
def planned_and_used() -> Titled:
    """Planned against used, before and after a change, and what to measure next."""
    log = demo().measurements
    for units in ("cm", "in"):
        estimated = house.make_plan(replace(demo(), units=units))
        by_log = replace(demo(), units=units, multiplier=house.MultiplierChoice("measured"))
        measured = house.make_plan(by_log)
        used = house.planned_against_used(log, units)
        yield f"used {units}", [used, house.used_by_yarn(used), house.used_in_words(used)]
        empty = house.planned_against_used((), units)
        yield "none", [empty, house.used_in_words(empty)]
        yield "before and after", house.before_and_after(estimated, measured)
        yield "the other way", house.before_and_after(measured, estimated)
        yield "balls", house.balls_before_and_after(estimated, measured)
        yield "next", house.most_useful_next(measured, calibration_of(by_log))
        for strand in ("N1", "K1", "W6"):
            yield f"interval {strand}", house.planned_interval(measured, strand)
    few = replace(demo(), habits=replace(demo().habits, balls_on_table=1), units="in")
    other = house.make_plan(few)
    yield "fewer balls", house.before_and_after(house.make_plan(demo()), other)
    yield "more balls", house.before_and_after(other, house.make_plan(demo()))
    new = house.make_plan(replace(demo(), limits=house.CarryLimits(0, 0, 0)))
    yield "new strands", house.before_and_after(house.make_plan(demo()), new)


@section
def quick_sums() -> Titled:
    """Yarn for so many stitches, and yarn by weight, with the sums."""
    own = house.Multiplier.own(3.4)
    rule = house.Multiplier.rule_of_three()
    gauges = (house.Gauge(), house.Gauge(18, 26, 4, "in"))
    for stitches, gauge, units in product((1, 144), gauges, ("cm", "in")):
        for multiplier in (None, own, rule):
            given = {"multiplier": multiplier, "units": units, "tail_cm": 10 + stitches / 100}
            yield f"{stitches} {gauge} {units}", house.quick_sum(stitches, gauge, **given)
    for stitches, tail in ((0, 15), (2.5, 15), (10, -1), (10, 0)):
        yield f"{stitches} {tail}", answer(house.quick_sum, stitches, gauges[0], tail_cm=tail)
    for grams, source, wool in product((8.3, 50), ("label", "weighed length"), (True, False)):
        given = {"source": source, "wool": wool, "step": 0.1, "grams_per_ball": 50}
        yield f"{grams} g", house.weighed(grams, 2.1, **given, units="in" if wool else "cm")
    for grams, per_gram, more in (
        (0, 2, {}),
        (5, 0, {}),
        (5, 2, {"step": 0}),
        (5, 2, {"source": "guess"}),
        (5, 2, {"grams_per_ball": -1}),
    ):
        yield f"{grams} {per_gram} {more}", answer(house.weighed, grams, per_gram, **more)


def fed_from_balls():
    """Plans with several balls on the table."""
    many = house.Habits(
        loose_up_to_cm=30, butterfly_up_to_cm=60, bobbin_up_to_cm=90, balls_on_table=9
    )
    rich = {letter: house.Yarn(letter, metres_per_ball=100, balls_in_hand=9) for letter in "ABCD"}
    for number, (worked, hand, fabric, first) in enumerate(
        (
            ("flat", "right", "stockinette", "RS"),
            ("flat", "left", "garter", "WS"),
            ("rounds", "right", "stockinette", "RS"),
            ("flat", "left", "stockinette", "WS"),
        )
    ):
        how = house.Construction(worked, first, hand, fabric)
        chart = patches(100 + number, stitches=18, rows=14, yarns=4, strays=1)
        limits = house.CarryLimits(3, 6, 1)
        asked = project(chart, yarns=rich, how=how, habits=many, limits=limits)
        yield f"{worked} {hand} {fabric} {first}", house.make_plan(asked)
    yield "demo", house.make_plan(demo())


@section
def advice_on_balls() -> Titled:
    """What is said of balls, row by row, turned alternately and one way."""
    for title, plan in fed_from_balls():
        for turning in ("alternate", "same way"):
            habits = replace(plan.project.habits, turning=turning, twists_allowed=2)
            asked = house.make_plan(replace(plan.project, habits=habits))
            for each in house.advise(asked):
                yield f"{title} {turning} {each.row}", [str(each), each.what, each.log, each.clear]


@section
def braid_words() -> Titled:
    """Braid words reduced, half twists, linking numbers."""
    random = np.random.default_rng(11)
    for strands, letters in product((3, 4, 6), (4, 9, 20, 40)):
        word = random.integers(1, strands, letters) * random.choice((-1, 1), letters)
        word = word.tolist()
        undone = [*word, *(-letter for letter in reversed(word))]
        mixed = [1, *word, -1, *(-letter for letter in reversed(word[:-1]))]
        reduced = [house.reduce_word(each) for each in (word, undone, mixed)]
        yield f"{strands} strands, {letters} letters", [word, *map(str, reduced)]
    for order in ("AB", "ABC", "ABCDE"):
        crossings = house.half_twist(order, 1)
        yield order, [crossings, house.as_word(order, crossings), house.linking(crossings)]


@section
def rules_of_multipliers() -> Titled:
    """The multiplier of each yarn by each way, in each fabric."""
    for fabric, way in product(("stockinette", "garter"), ("estimate", "measured", "own")):
        choice = house.MultiplierChoice(way, 3.3 if way == "own" else None)
        how = replace(demo().how, fabric=fabric)
        asked = replace(demo(), how=how, multiplier=choice, progress=())
        for letter, multiplier in multipliers_of(asked).items():
            yield f"{fabric} {way} {letter}", [str(multiplier), multiplier.basis]

"""Plans whole: strands, lengths, supplies, rows, ends, cards, notes, in all ways of working."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from tests.net.names import cards_of, house, multipliers_of
from tests.net.pieces import SIX, demo, patches, piece, project, yarns
from tests.net.sections import section
from tests.net.text import Titled, answer

TABLES = (
    *("strands", "supplies", "ways", "winding_list", "shopping_list", "rows", "ends"),
    *("ends_by_area", "areas", "findings", "embroidery"),
)
OLD_TABLES = ("supplies", "ways", "winding_list", "shopping_list", "rows", "ends", "strands")


def everything(plan) -> Titled:
    """All that a plan says."""
    yield "summary", plan.summary()
    yield "in a line", repr(plan)
    yield "notes", list(plan.notes)
    yield "embroidery in words", plan.embroidery_in_words() if len(plan.embroidery) else ""
    yield "ends, yarn, balls", [plan.ends_in_all, plan.yarn_cm, plan.balls]
    for table in TABLES:
        yield table, getattr(plan, table)
    yield "areas of cells", plan.area_of_cell
    for card in cards_of(plan):
        yield f"card {card.row}", card
        yield "as shown", f"{card}\n{card.aloud()}\n{card.written()}"


def planned(name: str, asked) -> Titled:
    """All that the plan of a project says, each under the project's name."""
    plan = answer(house.make_plan, asked)
    told = [("refused", plan)] if isinstance(plan, str) else everything(plan)
    for title, value in told:
        yield f"{name}: {title}", value


def first_28() -> list:
    """The projects of the first net."""
    base, projects = demo(), [demo()]
    for ways in (
        {"rewinding": False},
        {"drop": "long"},
        {"balls_on_table": 1},
        {"both_ends": True, "rewinding": False},
        {"place": "train"},
        {"loose_up_to_cm": 60, "butterfly_up_to_cm": 90, "bobbin_up_to_cm": 150},
        {"crowded": 3, "comfortable": 2},
    ):
        habits = replace(base.habits, **ways)
        by_rule = replace(base.multiplier, way="rule of three", value=None, spread=None)
        in_inches = replace(base, units="in", habits=habits, multiplier=by_rule)
        projects += [replace(base, habits=habits), in_inches]
    not_cut = {k: replace(y, may_be_cut=k != "N") for k, y in base.all_yarns.items()}
    projects.append(replace(base, yarns=not_cut))
    random = np.random.default_rng(3)
    lengths = {"loose_up_to_cm": 100, "butterfly_up_to_cm": 300, "bobbin_up_to_cm": 700}
    for number in range(12):
        cells = random.integers(0, 4, size=(30, 40)).repeat(3, 0).repeat(4, 1)
        chart = house.Chart.from_rows([["ABCD"[k] for k in row] for row in cells])
        habits = replace(base.habits, rewinding=bool(number % 2), **lengths)
        projects.append(house.Project(f"r{number}", chart, habits=habits))
    return projects


def old_text() -> str:
    """What the first net digested, to the letter; its line was 32926004046ca648a4f60631."""
    parts = []
    for asked in first_28():
        plan = house.make_plan(asked)
        parts += [getattr(plan, name).to_csv(index=False) for name in OLD_TABLES]
        parts.append(repr(plan.notes))
        parts.append("\n".join(map(str, cards_of(plan))))
    return "".join(parts)


@section
def first_net() -> Titled:
    """The 28 plans of the first net; the only section whose text has no titles."""
    yield "", old_text()


@section
def demo_piece() -> Titled:
    """The demo in centimetres and in inches, as estimated, as measured, by the knitter's own."""
    yield from planned("cm", demo())
    yield from planned("in", replace(demo(), units="in"))
    for way, value in (("measured", None), ("own", 3.4), ("own", 6.0), ("rule of three", None)):
        choice = house.MultiplierChoice(way, value)
        plan = house.make_plan(replace(demo(), multiplier=choice))
        yield f"by {way} {value}", [plan.summary(), plan.strands, plan.shopping_list, plan.notes]


@section
def six_pieces() -> Titled:
    """Six small pieces in which ordinary things go wrong, in their own units and in the others."""
    for name in SIX:
        yield from planned(name, piece(name))
        if name != "argyle":
            yield from planned(f"{name}, inches", replace(piece(name), units="in"))


@section
def ways_of_working() -> Titled:
    """Flat or rounds, either hand, either first row, either fabric, selvedge, shaped or not."""
    ways = product(("flat", "rounds"), ("right", "left"), ("RS", "WS"), ("stockinette", "garter"))
    for number, (worked, hand, first_row, fabric) in enumerate(ways):
        selvedge = number % 3
        how = house.Construction(worked, first_row, hand, fabric, selvedge)
        chart = patches(number, shaped=bool(number % 2))
        limits = house.CarryLimits(number % 3, 4, 1 + number % 2, number % 4 > 0)
        asked = project(chart, how=how, limits=limits, units="in" if number % 5 == 0 else "cm")
        yield from planned(f"{worked} {hand} {first_row} {fabric} {selvedge}", asked)


@section
def turned_rounds() -> Titled:
    """Turned rounds, either hand, either first row, either fabric; the cowl in all three ways."""
    ways = product(("right", "left"), ("RS", "WS"), ("stockinette", "garter"))
    for number, (hand, first_row, fabric) in enumerate(ways):
        how = house.Construction("turned", first_row, hand, fabric)
        chart = patches(60 + number, shaped=bool(number % 2))
        limits = house.CarryLimits(number % 3, 4, 1 + number % 2, number % 4 > 0)
        asked = project(chart, how=how, limits=limits, units="in" if number % 3 == 0 else "cm")
        yield from planned(f"turned {hand} {first_row} {fabric}", asked)
    for worked in ("flat", "rounds", "turned"):
        yield from planned(f"cowl {worked}", replace(piece("cowl"), how=house.Construction(worked)))


@section
def carry_limits() -> Titled:
    """Limits in stitches and as lengths, at several gauges, for all yarns and for one."""
    chart = patches(31, stitches=30, rows=24, yarns=4, strays=12)
    gauges = (house.Gauge(), house.Gauge(20, 28), house.Gauge(18, 26.5, 4, "in"))
    limits = (
        house.CarryLimits(0, 0, 0, False),
        house.CarryLimits(0, 0, 0, True),
        house.CarryLimits(3, 2.5, 1),
        house.CarryLimits("1 in", "2.5 cm", "1/2 in"),
        house.CarryLimits(7, 10, 6),
        house.CarryLimits(50, 50, 50),
    )
    for worked, gauge, general in product(("flat", "rounds"), gauges, limits):
        how = house.Construction(worked)
        title = f"{worked}, {gauge}, {general.at(gauge)}"
        for by_yarn in ({}, {"B": house.CarryLimits(2, "3 cm", 0, False)}):
            strands = house.trace_strands(chart, how, gauge, general, by_yarn=by_yarn)
            yield title, [repr(strands), strands.table(), strands.live, strands.half]
            yield "possible", strands.possible
            yield "taken", strands.links
    strange = project(chart, by_yarn={"Z": house.CarryLimits()})
    yield "limits of a yarn that is not there", house.make_plan(strange).notes
    yield "refused", answer(house.trace_strands, chart, by_yarn={"Z": house.CarryLimits()})


@section
def runs_and_links() -> Titled:
    """Runs, links and ports as arrays."""
    for number, (worked, fabric) in enumerate(
        product(("flat", "rounds"), ("stockinette", "garter"))
    ):
        for hand in ("right", "left"):
            how = house.Construction(worked, "RS", hand, fabric)
            chart = patches(40 + number, strays=9, shaped=True)
            runs = house.find_runs(chart, how)
            yield f"{worked} {fabric} {hand}", [runs, runs.place, runs.rows]
            count = len(chart.letters)
            given = [np.arange(count) + 1, np.full(count, 6), np.full(count, 3), [True] * count]
            links = house.find_links(runs, *given)
            yield "links", [links, *links.ports]
            yield "areas", house.label_areas(chart, how)


def random_links(seed: int, ports: int, count: int):
    """Links between ports at random, with costs small enough to tie."""
    random = np.random.default_rng(seed)
    u, v = random.integers(0, ports, (2, count))
    apart = u != v
    major, minor = random.integers(0, 2, count), random.integers(0, 9, count)
    return u[apart], v[apart], major[apart], minor[apart]


@section
def areas() -> Titled:
    """Colour areas that hang together only round the tube, at corners, or across no stitches."""
    for rows in (
        ["AAAAA", "BAAAB", "AAAAA"],
        ["BAAAA", "AAAAB", "AAAAA"],
        ["ABAB", "BABA", "ABAB"],
        ["AAAAAA", "AAABBA", "ABBAAA", "AAAAAA"],
        ["A..A", "AB.A", "A.BA"],
        ["CAAC", "ACCA", "ACCA", "CAAC"],
        ["ABBBB", "BABBB", "CCABB", "CCCAB"],
    ):
        chart = house.Chart.from_rows(rows)
        for worked in ("flat", "rounds"):
            how = house.Construction(worked)
            yield f"{rows} {worked}", house.label_areas(chart, how)
            yield "table", house.make_plan(house.Project("areas", chart, how=how)).areas


@section
def matching() -> Titled:
    """The exact choice of links among random ones, small and hanging together."""
    for seed, (ports, count) in enumerate(product((6, 20, 60), (8, 40, 200))):
        links = random_links(seed, ports, count)
        yield f"{ports} ports, {count} links", house.cheapest_matching(*links)
        place = np.random.default_rng(seed).permutation(ports)
        yield "by place", house.cheapest_matching(*links, place=place)
    for seed in range(60):
        u, v, major, minor = random_links(seed, 14, 40)
        yield f"ties {seed}", house.cheapest_matching(u, v, major, minor // 3)
    said: list[str] = []
    links = random_links(9, 60, 3400)
    yield "a large group", [house.cheapest_matching(*links, say=said.append), said]


HABITS = (
    {},
    {"rewinding": False},
    {"drop": "long"},
    {"balls_on_table": 1},
    {"both_ends": True, "balls_on_table": 2},
    {"place": "train"},
    {"comfortable": 2, "crowded": 3},
    {"narrow_stitches": 0, "wrap_cm": 7.5, "sew_every": 4},
)
SHORT = {"loose_up_to_cm": 90, "butterfly_up_to_cm": 160, "bobbin_up_to_cm": 240}


@section
def supplies_and_habits() -> Titled:
    """How parts are held under the knitter's ways, with short supplies and many refills."""
    chart = patches(51, stitches=36, rows=30, yarns=4, strays=8)
    for number, ways in enumerate(HABITS):
        for lengths in (SHORT, {}):
            habits = house.Habits(**(lengths | ways))
            units = "in" if number % 3 == 1 else "cm"
            limits = house.CarryLimits(2, 5, 2, number % 2 == 0)
            asked = project(chart, habits=habits, units=units, limits=limits)
            yield from planned(f"{ways} {lengths}", asked)
            chosen = tuple(own_supplies(house.make_plan(asked)))
            own = house.make_plan(replace(asked, choices=chosen))
            yield "own supplies", [own.supplies, own.winding_list, own.ways, own.notes]
    tiny = house.Habits(loose_up_to_cm=10, butterfly_up_to_cm=20, bobbin_up_to_cm=50)
    yield "bobbins too small", answer(house.make_plan, project(chart, habits=tiny))
    wrong = house.OwnChoice("supply", "A", *first_place(chart), "whole", "basket")
    yield "no such supply", answer(house.make_plan, project(chart, choices=(wrong,)))


def first_place(chart) -> tuple[int, int]:
    """Row and stitch at which the first strand of yarn A begins."""
    strands = house.trace_strands(chart).table()
    first = strands[strands.yarn == "A"].iloc[0]
    return int(first.first_row), int(first.first_stitch)


def own_supplies(plan):
    """A supply by hand for every other strand, whole and by halves; the last one is gone."""
    kinds = house.SUPPLIES
    for number, strand in enumerate(plan.strands.iloc[::2].itertuples()):
        part = ("whole", "first half", "second half")[number % 3]
        place = (strand.yarn, strand.first_row, strand.first_stitch)
        yield house.OwnChoice("supply", *place, part, kinds[number % 4])
    yield house.OwnChoice("supply", "A", 99, 1, "whole", kinds[0])


ALLOWED = (
    {},
    {"tail_cm": 8, "cast_on": 0, "bind_off": 0},
    {"short_once_in": 100, "spare": 0.2, "label_error": 0},
    {"swatch_cm": 0, "embroider_factor": 1.4, "tail_cm": 21.5},
)


@section
def lengths_and_shopping() -> Titled:
    """Yarn of each strand and the balls it takes, by allowances, multipliers and gauges."""
    chart = patches(61, stitches=24, rows=20, yarns=4)
    choices = (("estimate", None, None), ("own", 3.3, None), ("own", 4.2, 0.3))
    for allowed, (way, value, spread) in product(ALLOWED, choices):
        asked = project(
            chart,
            allow=house.Allowances(**allowed),
            multiplier=house.MultiplierChoice(way, value, spread),
            gauge=house.Gauge(19.5, 27, 4, "in") if value else house.Gauge(),
            how=house.Construction(selvedge=1),
        )
        plan = house.make_plan(asked)
        yield f"{allowed} {way} {value}", [plan.strands, plan.shopping_list, plan.summary()]
        for multiplier in multipliers_of(asked).values():
            yield "multiplier", [str(multiplier), multiplier.basis, multiplier.query]


@section
def findings() -> Titled:
    """The check before cast-on: letters, strays, shapes, gauges, colours."""
    rows = ["AAAAAAaAAAAA", "AAAIAAAAAAAA", "AABBAAAAlAA.", "AAAAAAAAAA..", "AAAABBAAAAAA"]
    chart = house.Chart.from_rows(rows)
    listed = {
        "A": replace(yarns()["A"], label_stitches_10cm=40),
        "B": replace(yarns()["D"], letter="B", label_stitches_10cm=22),
        "Q": house.Yarn("Q", "for the edging"),
    }
    gauges = ((22, 30), (22, 22), (30, 22), (3, 4), (60, 90), (22, 60))
    for (stitches, rows_), fabric in product(gauges, ("stockinette", "garter")):
        how = house.Construction("rounds" if stitches == 60 else "flat", fabric=fabric)
        asked = house.Project("odd", chart, listed, gauge=house.Gauge(stitches, rows_), how=how)
        yield f"{stitches} {rows_} {fabric}", house.make_plan(asked).findings
    strands = house.make_plan(asked).traced
    yield "place", [house.place_in_words(strands, run) for run in range(strands.runs.count)]


@section
def words_and_units() -> Titled:
    """Units, gauges, rows' names, yarns' lots: small values and their words."""
    for hand, worked, first, fabric in product(
        ("right", "left"), ("flat", "rounds"), ("RS", "WS"), ("stockinette", "garter")
    ):
        how = house.Construction(worked, first, hand, fabric)
        yield "rows", [how.row_name(row) for row in range(4)]
        yield "sides", [how.side(row) + str(how.runs_leftwards(row)) for row in range(3)]
        yield "crossing", [house.how_to_cross(how, side) for side in ("RS", "WS")]
    for gauge in (house.Gauge(), house.Gauge(18, 26.5, 4, "in"), house.Gauge(7, 9, 3.3)):
        measures = [gauge.stitch_cm, gauge.row_cm, str(gauge.aspect), str(gauge)]
        two_inches = house.parse_length("2 in")
        counts = [str(gauge.stitches_in(two_inches)), str(gauge.rows_in(two_inches))]
        yield "gauge", [*map(str, measures[2:]), measures[:2], counts]
        yield "for", [house.rows_for(43.2, gauge), house.stitches_for(17.1, gauge, "in")]
    counted = house.Gauge("23 over 10.2, 40 over 18", "31 over 10, 15.5 over 5.2")
    yield "several counts", [str(counted), str(counted.stitches_in(1)), str(counted.aspect)]
    for units, cm in product(("cm", "in"), (0, 4.99, 5, 22.86, 95, 1234.5678)):
        yield f"{cm} {units}", [house.show(cm, units), number(house.rounded_up(cm, units))]
    nouns = ("stitch", "row", "1", "loss", "wish")
    yield "counted", [house.counted(n, noun) for n in (0, 1, 2, 1234) for noun in nouns]
    yield "in words", [house.units_in_words(name) for name in ("length_cm", "short_once_in")]
    for lots in ("114", "2 of 114, 1 of 131", "2 of lot 9; 1 of 9", ""):
        yarn = answer(house.Yarn, "A", "Grey", balls_in_hand=3, dye_lot=lots)
        yield f"lots {lots}", [yarn.lots, yarn.title]


def number(value: float) -> list[float]:
    """One number, so that it is written like all others."""
    return [float(value)]

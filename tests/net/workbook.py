"""What the workbook says beside its widgets: tables, headings, cards and previews as HTML."""

from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd

from tests.net.knitting import worked_to
from tests.net.names import cards_of, house
from tests.net.pieces import demo, patches, piece, project
from tests.net.plans import TABLES
from tests.net.sections import section
from tests.net.text import Titled


@section
def workbook_words() -> Titled:
    """Tables and cards as HTML, headlines, packed charts, the log's tables."""
    asked = project(patches(190, yarns=4), units="in")
    for plan in (house.make_plan(asked), house.make_plan(piece("tiny"))):
        for name in TABLES:
            table = getattr(plan, name)
            yield name, [house.table_html(table), [house.heading(column) for column in table]]
        for card in cards_of(plan)[:5]:
            yield "card", house.card_html(card, plan.project.all_yarns, after=["pass A & B"])
        yield "winding", house.how_to_wind(plan)
        yield "headline", house.headline(plan)
    odd = pd.DataFrame({"share_percent": [0.04, None], "so": [True, False], "grams": [2.4, -0.2]})
    yield "odd", house.table_html(odd)
    chart = patches(191, shaped=True)
    packed = house.pack(chart, ["C", "A", "B"])
    yield "packed", [packed.hex(), house.unpack(packed, ["C", "A", "B"])]
    shown = house.preview_html(chart, project(chart).all_yarns, 0.7)
    yield "preview", re.sub(r"base64,[^\"]*", "", shown)


@section
def workbook_of_measurements() -> Titled:
    """The log and the multipliers as the workbook tables them, and what is known of a strand."""
    fixed = replace(demo().measurements[1], number=40, corrects=2, use="no")
    asked = replace(demo(), measurements=(*demo().measurements, fixed))
    desk = house.Desk(asked)
    yield "log", house.log_table(desk)
    yield "multipliers", house.multiplier_table(desk)
    for strand in desk.plan.traced.labels:
        yield strand, house.supply_values(desk, strand)
    yield "desk", repr(desk)
    begun = house.Desk(worked_to(piece("tiny"), 5))
    yield "begun", [repr(begun), repr(begun.plan)]

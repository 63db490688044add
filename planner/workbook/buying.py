"""What to own, to use again, and to buy: bobbins, left-overs, balls and their dye lots."""

from __future__ import annotations

import html

import ipywidgets as widgets
import pandas as pd

from planner.buying import (
    LIST,
    balls_table,
    bobbin_table,
    both_ends,
    copies,
    copies_table,
    odd_metres,
    reuse_leftovers,
    share_lots,
    shop_for,
    splices,
    winding_stops,
)
from planner.pictures import draw_bobbins
from planner.piece import BOBBIN, BUTTERFLY
from planner.plan import Plan
from planner.supplies import NOT_KNOWN, yarns_not_known
from planner.units import counted, shown_totals, whole_percent
from planner.workbook.asking import asking
from planner.workbook.basket import others_html
from planner.workbook.desk import Desk
from planner.workbook.fields import labelled, listed, whole
from planner.workbook.panes import Form, Pane, picture_html, table_html
from planner.workbook.what_follows import shopping_in_words

NO_LOTS = "none"
OF_YOUR_HAND = (
    "What is not known of your hand is the same for all strands of a yarn and does not average "
    "out; a measured swatch narrows it."
)


def bobbins_html(plan: Plan, *, owned: int, butterflies: bool) -> str:
    """Which bobbin carries which piece when; `owned` 0 stands for as few as will do."""
    kinds = (BOBBIN, BUTTERFLY) if butterflies else (BOBBIN,)
    table = bobbin_table(plan, kinds=kinds, owned=owned or None)
    if not len(table):
        return "Nothing in the plan is held on a bobbin."
    in_use = counted(int(table.bobbin.max()), "bobbin")
    picture = picture_html(draw_bobbins(plan, table), f"{in_use}, row by row")
    named = table.rename(columns={"piece": "strand"})
    held = table_html(named, first=8, yarns=plan.project.all_yarns)
    # What more bobbins would save stands beside it, before they are bought.
    more = "<br>To own more saves stopping to wind; all at once needs the last line:"
    stops = table_html(winding_stops(plan, kinds=kinds), first=5)
    return f"<p>{in_use} in use.</p>{picture}{held}{more}{stops}"


def bobbins_form(desk: Desk) -> Form:
    """Which bobbin carries which piece when, for as many bobbins as are owned."""
    return asking(
        lambda **typed: bobbins_html(desk.plan, **typed),
        desk=desk,
        owned=whole("bobbins owned (0: as few as will do)", most=500),
        butterflies=labelled(widgets.Checkbox, "butterflies too", value=False),
    )


def savings_html(plan: Plan) -> str:
    """Both ends of one ball, splices, and left-overs that serve again."""
    joins = splices(plan)
    tables = (
        (
            "One ball, both ends",
            both_ends(plan),
            "no two strands of a yarn could be fed from the two ends of one ball.",
        ),
        (
            "Left-overs that serve again",
            reuse_leftovers(plan),
            "no left-over is likely to be long enough for a later strand.",
        ),
        (
            "Joins and splices",
            joins[joins.joins > 0],
            "no yarn is refilled, however it is held.",
        ),
    )
    return "<br>".join(_titled(plan, *each) for each in tables)


def _titled(plan: Plan, title: str, table: pd.DataFrame, nothing: str) -> str:
    """A table under its title; of an empty one, why it is empty."""
    content = f": {nothing}"
    if len(table):
        content = table_html(table, first=5, yarns=plan.project.all_yarns)
    return f"<b>{title}</b>{content}"


def savings_pane(desk: Desk) -> Pane:
    """Both ends of one ball, splices, and left-overs that serve again."""
    return desk.pane(savings_html)


def buying_html(plan: Plan, *, pieces: int, mirrored: int, lots: str) -> str:
    """Balls for so many pieces alike, with their chances; `lots` is a yarn to share two lots of."""
    plans = copies(plan, pieces, mirrored_count=mirrored)
    units = plan.project.units
    metre = "metre" if units == "cm" else "yard"

    def shown(table: pd.DataFrame, nothing: str = "") -> str:
        return table_html(table, yarns=plan.project.all_yarns) if len(table) else nothing

    # So sure the plan is of each strand; here it is asked of the balls together.
    sure = whole_percent(1 - 1 / plan.project.allow.short_once_in)
    to_buy = shown(shopping_in_words(shown_totals(shop_for(plans), units)))
    # The basket and the yarn in hand are asked about for one piece.
    others = others_html(plan, LIST) if pieces == 1 and not mirrored else ""
    nothing = ": no yarn is only just into a ball."
    if yarns_not_known(plan.needed):
        nothing = ": none, as far as is known."
    odd_ones = shown(odd_metres(plans), nothing)
    chances = shown(balls_table(plans), ": of no ball is known what it holds.<br>")
    parts = [
        "<b>What to buy</b>: in all is the piece, the swatch and what is to spare; each band at "
        f"its worst{to_buy}{others}",
        "<b>Chance that so many balls suffice</b>, swatch included, nothing to spare; "
        f"enough is {sure} times in 100{chances}{OF_YOUR_HAND}",
        f"<b>The odd {metre}</b> that takes one ball more, and what would save it{odd_ones}",
    ]
    unknown = yarns_not_known(plan.needed)
    if unknown:
        parts.insert(1, f"<b>{html.escape(', '.join(unknown))}: {NOT_KNOWN}</b>")
    if pieces > 1:
        parts.insert(0, f"<b>The pieces</b>{shown(copies_table(plans))}")
    if lots != NO_LOTS:
        share = share_lots(plans, lots)
        title = f"<b>Dye lots of {html.escape(lots)}</b>"
        parts.append(f"{title}<br>{html.escape(share.said)}{shown(share.table)}")
    return "<br>".join(parts)


def buying_form(desk: Desk) -> Form:
    """Balls for one piece or several, with their chances; the odd metre; dye lots kept apart."""
    pieces = whole("pieces alike", 1, least=1, most=60)
    mirrored = whole("of these, mirrored", most=60)

    def begin_anew() -> None:
        mirrored.value, pieces.value = 0, 1

    desk.on_arrival(begin_anew)
    return asking(
        lambda **typed: buying_html(desk.plan, **typed),
        desk=desk,
        pieces=pieces,
        mirrored=mirrored,
        lots=listed("share two dye lots of", desk, lambda: (NO_LOTS, *desk.project.chart.letters)),
    )

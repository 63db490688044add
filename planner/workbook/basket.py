"""Notebook 5: what is in the basket, used up: which strand from which scrap, and what to buy."""

from __future__ import annotations

import html

from planner.buying import basket_table, fill_baskets
from planner.plan import Plan
from planner.workbook.asking import asking
from planner.workbook.desk import Desk
from planner.workbook.fields import number, yes
from planner.workbook.panes import Form, table_html

HOW_COUNTED = (
    "Each strand lies whole on one scrap or ball, at the length to wind: nothing is joined. A "
    "scrap counts at the least it may hold: the band's error, the scale's step, and for wool a "
    "tenth more or less water by the weather. Fewest balls to buy come first, "
    "then fewest whole balls opened, then fewest scraps touched, then least left of those."
)
WHERE_FROM = "Balls begun and their weights stand with the yarns in notebook 1."
NOT_THE_LIST = (
    "The shopping list adds up lengths and something to spare; here each strand has to fit as it "
    "is, with nothing to spare, so the two may differ."
)


def basket_html(plan: Plan, *, step: float, wool: bool) -> str:
    """Which strand lies on which scrap, and what is to be bought, yarn by yarn."""
    baskets = fill_baskets(plan, step=step, wool=wool)
    words = "<br>".join(html.escape(basket.in_words) for basket in baskets)
    table = basket_table(baskets, plan.project.units)
    lines = table_html(table, first=12, yarns=plan.project.all_yarns)
    notes = " ".join((HOW_COUNTED, WHERE_FROM, NOT_THE_LIST))
    return f'<p>{words}</p>{lines}<div class="plan-note">{notes}</div>'


def basket_form(desk: Desk) -> Form:
    """The basket used up, for the scale on which part balls were weighed."""
    return asking(
        lambda **typed: basket_html(desk.plan, **typed),
        desk=desk,
        step=number("the scale shows steps of (g)", 1),
        wool=yes("it is wool", True),
    )

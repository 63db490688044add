"""Notebook 5: what is in the basket, used up: which strand from which scrap, and what to buy."""

from __future__ import annotations

import html
from collections.abc import Sequence

from planner.buying import BASKET, Basket, basket_table, enough_of, fill_baskets
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
ELSEWHERE = "Elsewhere it comes out otherwise, for other things are counted there:"
WHERE_FROM = "Balls begun and their weights stand with the yarns in notebook 1."
AT_CAST_ON = (
    "What is in hand is what was there at cast-on, so that strands begun since lie on it with the "
    "others. Where you took one from another scrap than is told here, see first what that holds."
)


def basket_html(plan: Plan, *, step: float, wool: bool) -> str:
    """Which strand lies on which scrap, and what is to be bought, yarn by yarn."""
    baskets = fill_baskets(plan, step=step, wool=wool)
    words = "<br>".join(html.escape(basket.in_words) for basket in baskets)
    table = basket_table(baskets, plan.project.units)
    lines = table_html(table, first=12, yarns=plan.project.all_yarns)
    notes = [HOW_COUNTED, WHERE_FROM]
    if any(basket.begun for basket in baskets):
        notes.append(AT_CAST_ON)
    others = others_html(plan, BASKET, baskets)
    return f'<p>{words}</p>{others}{lines}<div class="plan-note">{" ".join(notes)}</div>'


def others_html(plan: Plan, view: str, baskets: Sequence[Basket] | None = None) -> str:
    """Where the other lists say otherwise than this view whether there is enough, and why."""
    lines = []
    for each in enough_of(plan, baskets):
        for words in each.why_others_differ(view, plan.project.units):
            lines.append(f"<li>{html.escape(words)}</li>")
    if not lines:
        return ""
    return f'<div class="plan-note">{ELSEWHERE}<ul>{"".join(lines)}</ul></div>'


def basket_form(desk: Desk) -> Form:
    """The basket used up, for the scale on which part balls were weighed."""
    return asking(
        lambda **typed: basket_html(desk.plan, **typed),
        desk=desk,
        step=number("the scale shows steps of (g)", 1),
        wool=yes("it is wool", True),
    )

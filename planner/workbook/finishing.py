"""Notebook 6: finishing. What is left to do when the piece is off the needles."""

from __future__ import annotations

import html

from planner.plan import Plan
from planner.units import counted, show_measured
from planner.workbook.desk import Desk
from planner.workbook.panes import Form, Pane


def to_finish(plan: Plan) -> str:
    """The size to block to, and the ends to sew in."""
    gauge, chart, units = plan.project.gauge, plan.project.chart, plan.project.units
    width = show_measured(chart.columns * gauge.stitch_cm, units, 1)
    height = show_measured(plan.traced.runs.rows * gauge.row_cm, units, 1)
    areas = counted(len(plan.ends_by_area), "colour area")
    return f"Block to {width} × {height}. {plan.ends_in_all} ends to sew in, in {areas}."


def finishing_form(desk: Desk) -> Form:
    """What is left to do when the piece is off the needles."""
    headline = Pane()

    def show() -> None:
        headline.value = f'<p class="plan-headline">{html.escape(to_finish(desk.plan))}</p>'

    show()
    desk.on_change(show)
    return Form([headline, desk.table(lambda plan: plan.ends, first=8)])

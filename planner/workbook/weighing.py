"""What is looked for, where the round begins, and how what is embroidered is done."""

from __future__ import annotations

import html

from planner.choices import (
    begun_at,
    best_start,
    cautions_in_full,
    find_starts,
    starts_in_words,
)
from planner.errors import PlanError
from planner.plan import Plan
from planner.workbook.asking import fields_form, heard, number_setting, whole_setting
from planner.workbook.desk import Desk
from planner.workbook.fields import button
from planner.workbook.offered import AFTER_BLOCKING, HOW_KNOWN, without_grade
from planner.workbook.panes import Form, Pane, notice, table_html
from planner.workbook.trade_off import PLANNED_SO

HOW_TO_EMBROIDER = (
    "Duplicate stitch: with a blunt needle up through the foot of a stitch, behind both legs of "
    "the stitch above, and down where you came up; as loose as the knitting."
)


def weighing_form(desk: Desk) -> Form:
    """How far the tool looks for choices, and what an end costs."""
    weights = [
        whole_setting("embroider_stitches", "embroider patches of up to (stitches)"),
        whole_setting("embroider_wide", "or up to so many stitches wide"),
        whole_setting("carry_stitches", "carries offered: up to (stitches)"),
        whole_setting("carry_rows", "and up to (rows)"),
        whole_setting("most_live", "mark rows with more at once than"),
        number_setting("minutes_per_end", "minutes to sew in an end (assumed: time yours)"),
    ]
    factor = number_setting(
        "embroider_factor", "duplicate stitch ÷ knitted stitch (assumed: measure yours)"
    )
    return Form([fields_form(desk, "weighing", weights), fields_form(desk, "allow", [factor])])


def start_form(desk: Desk) -> Form:
    """Whether another start of the round saves strands; shown for a piece worked in rounds."""
    message, answer = Pane(), Pane()
    find, take = button("Try every start of the round"), button("Begin the round there")
    better: int | None = None

    @heard(message)
    def look() -> None:
        nonlocal better
        answer.value = "Trying every start …"  # which may take some seconds
        starts = find_starts(desk.project)
        answer.value = "<br>".join(map(html.escape, starts_in_words(desk.project, starts)))
        best = best_start(starts)
        better = best.stitch if best != starts[0] else None
        take.disabled = better is None

    @heard(message)
    def begin_there() -> None:
        if better is None:
            raise PlanError("The plan has changed since. Try every start once more.")
        stitch = better
        desk.change(
            chart=begun_at(desk.project.chart, stitch), doing="beginning the round elsewhere"
        )
        message.value = notice(f"the round begins at what was stitch {stitch}: {PLANNED_SO}")

    def forget() -> None:
        # What was found for another plan must not be taken for this one.
        nonlocal better
        better, take.disabled, answer.value = None, True, ""
        form.layout.display = "" if desk.project.how.is_tube else "none"

    form = Form([find, answer, take, message])
    forget()
    find.on_click(look)
    take.on_click(begin_there)
    desk.on_arrival(lambda: message.set_trait("value", ""))
    desk.on_change(forget)
    return form


def embroidery_pane(desk: Desk) -> Pane:
    """What is embroidered after blocking, area by area, and what to mind about it."""
    nothing = "Nothing is embroidered, as the choices stand."

    def content(plan: Plan) -> str:
        if not plan.to_embroider:
            return nothing
        project = plan.project
        cautions = map(without_grade, cautions_in_full(project, plan.to_embroider))
        mind = "<br>".join(map(html.escape, cautions))
        table = table_html(plan.embroidery, first=8, yarns=project.all_yarns)
        return f"{AFTER_BLOCKING} {HOW_TO_EMBROIDER}{table}{mind}{HOW_KNOWN}"

    return desk.pane(content)

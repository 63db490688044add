"""Notebook 1: a quick sum, a new piece, its gauge, how it is worked, the chart set into a piece."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as widgets

from planner import charts
from planner.buying import quick_sum
from planner.charts import ACROSS, UP
from planner.choices import rows_for
from planner.colour import ALIKE
from planner.piece import Chart, Gauge, mirror
from planner.plan import Plan
from planner.units import CM_PER, LENGTH_OF_A_GAUGE, counted
from planner.workbook.asking import Setting, asking, fields_form, whole_setting
from planner.workbook.common import gauge_form, words_form
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    length,
    listed,
    number,
    one_of,
    text,
    unit_box,
    whole,
)
from planner.workbook.panes import Form, Pane, lines_html, notice

USUAL_STITCHES = 20  # over the usual length of a gauge, where nobody has counted
COUNT_A_GAUGE = (
    "Count on a swatch laid flat, as knitted or blocked, whichever size you want to know. Several "
    "counts are added up: a wide one counts for more."
)
ABOUT_WORKING = (
    "Direction of work is the way a row grows, not the hand that holds the yarn. In garter a row "
    "of the chart is one ridge. A tube is best worked in turned rounds: each yarn then waits where "
    "the next round wants it."
)
ABOUT_THE_CHECK = (
    "It says whether letters, totals, yarns and gauge agree with each other, not whether the "
    "design is right."
)
ABOUT_COLOURS = (
    '<details class="plan-note"><summary>When do two colours look alike?</summary>'
    f"How far apart they look is reckoned as printers and dyers do (CIEDE2000). Two yarns nearer "
    f"than {ALIKE} are named; so are those that touch and are as near to red-blind, green-blind or "
    "blue-blind eyes, or in grey print.</details>"
)
ABOUT_THE_PLAN = (
    "No choice of carries within your limits gives fewer strands. Notebook 2 measures what your "
    "rows take."
)
# What is done with the chart on the desk to make it fit a piece.
SET, REPEATED = "set into a larger piece", "repeated"
MIRRORED, WHOLE = "mirrored", "made whole from its half"
USUAL_TAIL = {"cm": 15, "in": 6}


# ---- sums without a chart, and the height of it


def quick_sum_html(*, stitches: int, count: float, over: float, tail: float, unit: str) -> str:
    """How long a piece to wind for so many stitches, with the arithmetic, as HTML."""
    # Rows have no part in the sum, so that any number of them will do.
    gauge = Gauge(count, count, over, unit)
    total = quick_sum(stitches, gauge, tail_cm=tail * float(CM_PER[unit]), units=unit)
    return lines_html(str(total))


def quick_sum_form(desk: Desk) -> Form:
    """Stitches in a motif, gauge and tails; how long a piece to wind, with the arithmetic."""
    # It needs no piece: of the desk it takes nothing but the unit to begin in.
    units = desk.project.units
    return asking(
        quick_sum_html,
        unit=unit_box(desk),
        stitches=whole("stitches in the motif", 60),
        count=number("gauge: stitches", USUAL_STITCHES),
        over=length("over", unit=units, usual=LENGTH_OF_A_GAUGE),
        tail=length("each tail", unit=units, usual=USUAL_TAIL),
    )


# ---- the gauge, and the height that it gives


def size_in_words(plan: Plan) -> str:
    """How large the chart comes out, in the units of the piece: "36 × 34 cm"."""
    project, rows = plan.project, plan.traced.runs.rows
    unit_cm = float(CM_PER[project.units])
    width = project.chart.columns * project.gauge.stitch_cm / unit_cm
    height = rows * project.gauge.row_cm / unit_cm
    return f"{width:.0f} × {height:.0f} {project.units}"


def gauge_title(plan: Plan) -> str:
    """The gauge and the size that it gives, for a heading."""
    project = plan.project
    needle = f", needle {project.needle}" if project.needle else ""
    return f"Gauge: {project.gauge.in_words(project.units)}{needle}; {size_in_words(plan)}"


def gauge_and_height_form(desk: Desk) -> Form:
    """The gauge as it was counted, on which needle, and how many rows a height takes."""
    needle = text("needle", placeholder="4 mm", continuous_update=False)
    needle_form = words_form(desk, "needle", needle)
    return with_note(COUNT_A_GAUGE, gauge_form(desk), needle_form, height_form(desk))


def height_in_words(plan: Plan, height: float, unit: str) -> str:
    """How many rows a height takes, and how that compares with the chart."""
    # Compared in worked rows: in garter a row of the chart is two of them.
    need, have = rows_for(height, plan.project.gauge, unit), plan.traced.runs.rows
    if need == have:
        compared = "just as many"
    else:
        word = "more" if need > have else "fewer"
        compared = f"{abs(need - have)} {word} than the chart's {have}"
    return f"{height:g} {unit} takes {need} worked rows at this gauge: {compared}."


def height_form(desk: Desk) -> Form:
    """How many rows a height takes, and how that compares with the chart.

    The height is in the units of the piece, as all that is made.
    """
    height, is_new = length("wanted height"), False
    unit, begun = "", 0.0

    # It is the chart's own until another is typed, so that what is typed is compared with that.
    def begin() -> None:
        nonlocal unit, begun
        unit = desk.project.units
        height_cm = desk.plan.traced.runs.rows * desk.project.gauge.row_cm
        height.put(round(height_cm / float(CM_PER[unit]), 1), unit, unit)
        height.say_unit(unit)
        begun = height.value

    def arrive() -> None:
        nonlocal is_new
        is_new = True

    def follow() -> None:
        nonlocal is_new, unit
        if is_new or height.value == begun:
            is_new = False
            begin()
        elif desk.project.units != unit:
            before, unit = unit, desk.project.units
            height.other_unit(before, unit)

    def in_words(height: float) -> str:
        if height != begun:
            return height_in_words(desk.plan, height, unit)
        rows = counted(desk.plan.traced.runs.rows, "worked row")
        return f"The chart is {height:g} {unit} high, {rows}. Type another height to compare."

    begin()
    desk.on_arrival(arrive)
    desk.on_change(follow)
    return asking(in_words, desk=desk, height=height)


# ---- how it is worked

WORKED = {
    "flat": "flat, turned after each row",
    "turned": "in rounds, turned after each round",
    "rounds": "in rounds, never turned",
}
IN_A_HEADING = {"flat": "Flat", "turned": "In turned rounds", "rounds": "In rounds"}


def how_title(plan: Plan) -> str:
    """How the piece is worked, for a heading: "Flat, RS first, right-handed, stockinette"."""
    how = plan.project.how
    words = [IN_A_HEADING[how.worked], f"{how.side(0)} first", f"{how.hand}-handed", how.fabric]
    if how.selvedge:
        words.append(f"{counted(how.selvedge, 'selvedge stitch')} at each side")
    return f"How it is worked: {', '.join(words)}"


def construction_form(desk: Desk) -> Form:
    """How the piece is worked."""
    worked = [(words, way) for way, words in WORKED.items()]
    first_row = (("right side (RS)", "RS"), ("wrong side (WS)", "WS"))
    hand = (("right-handed", "right"), ("left-handed", "left"))
    settings = [
        Setting("worked", one_of("worked", worked)),
        Setting("first_row", one_of("first row of the chart", first_row)),
        Setting("hand", one_of("direction of work", hand)),
        Setting("fabric", one_of("fabric", ("stockinette", "garter"))),
        whole_setting("selvedge", "selvedge stitches at each side"),
    ]
    return with_note(ABOUT_WORKING, fields_form(desk, "how", settings))


# ---- check before cast-on, and what it comes to


def check_title(plan: Plan) -> str:
    """How many things are worth a second look, for a heading."""
    found = len(plan.findings)
    words = f"{counted(found, 'thing')} to look at" if found else "nothing to mend"
    return f"Check before cast-on: {words}"


def check_form(desk: Desk) -> Form:
    """What in chart, yarns and gauge is worth a second look, and where."""
    findings = desk.table(lambda plan: plan.findings)
    return with_note(ABOUT_THE_CHECK, findings, Pane(value=ABOUT_COLOURS))


def comes_to_title(plan: Plan) -> str:
    """Strands and ends, for a heading."""
    strands = counted(plan.traced.count, "strand")
    return f"What it comes to: {strands}, {plan.ends_in_all} ends"


def comes_to_form(desk: Desk) -> Form:
    """The plan in a few lines."""
    return with_note(ABOUT_THE_PLAN, desk.words(lambda plan: plan.summary()))


def with_note(note: str, *children: widgets.Widget) -> Form:
    """A form with a short explanation above it."""
    above = widgets.HTML(note)
    above.add_class("plan-note")
    return Form([above, *children])


# ---- the chart set into a piece

# What is asked for each of them.
PLACING = {
    SET: ("stitches", "rows", "ground", "across", "up", "spare_stitch", "spare_row"),
    REPEATED: ("times_across", "times_up"),
    MIRRORED: (),
    WHOLE: ("centre_at", "centre"),
}


def placed(chart: Chart, what: str, typed: Mapping[str, Any]) -> Chart:
    """The chart set into a piece, repeated, mirrored or made whole, by what was typed for it."""
    if what == SET:
        return charts.set_into(
            chart,
            stitches=typed["stitches"],
            rows=typed["rows"],
            ground=typed["ground"],
            across=typed["across"],
            up=typed["up"],
            spare_at=(typed["spare_stitch"], typed["spare_row"]),
        )
    if what == REPEATED:
        return charts.repeat(chart, across=typed["times_across"], up=typed["times_up"])
    if what == MIRRORED:
        return mirror(chart)
    return chart.whole(centre_at=typed["centre_at"], centre=typed["centre"])


def followed(desk: Desk, box: widgets.IntText, of: Callable[[Chart], int]) -> widgets.IntText:
    """A box that shows a number of the chart, as long as nobody types another one."""
    shown = box.value = of(desk.project.chart)

    def follow() -> None:
        nonlocal shown
        if box.value == shown:
            shown = box.value = of(desk.project.chart)

    # What was typed for another piece is not meant for this one.
    def arrive() -> None:
        nonlocal shown
        shown = box.value

    desk.on_arrival(arrive)
    desk.on_change(follow)
    return box


def place_form(desk: Desk) -> Form:
    """The chart set into a larger piece, repeated, mirrored, or made whole from a half."""

    def place(what: str, **typed: Any) -> str:
        new = placed(desk.project.chart, what, typed)
        desk.change(chart=new, doing=f"making the chart {what}", much=True)
        size = f"{new.columns} stitches × {new.rows} rows"
        return notice(f"the chart is {what}: {size}. Undo is beside the chart.")

    # Where an odd stitch or row goes is asked only when there is one.
    def spare(noun: str, *sides: str) -> widgets.Dropdown:
        at = [(f"at the {side}", side) for side in sides]
        return one_of(f"an odd {noun} more", [("ask me", ""), *at])

    return asking(
        place,
        button="Do it",
        shown=lambda values: ("what", *PLACING[values["what"]]),
        what=one_of("the chart is to be", PLACING),
        stitches=followed(desk, whole("stitches of the piece"), lambda chart: chart.columns),
        rows=followed(desk, whole("rows of the piece"), lambda chart: chart.rows),
        ground=listed("ground", desk, lambda: desk.project.all_yarns),
        across=one_of("it stands at the", ACROSS, "centre"),
        up=one_of("and at the", UP, "centre"),
        spare_stitch=spare("stitch", "right", "left"),
        spare_row=spare("row", "bottom", "top"),
        times_across=whole("times side by side", 2),
        times_up=whole("times one above the other", 1),
        centre_at=one_of("its centre is at the", ("left", "right")),
        centre=one_of("its centre stitch is worked", ("once", "twice")),
    )

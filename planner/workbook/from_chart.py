"""Notebook 2: a swatch from the chart, and what is measured in it, logged where it came from."""

from __future__ import annotations

import html
from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets

from planner import pictures
from planner.charts import SIDE, WEIGHTS_IN_WORDS, Window, find_window, swatch_piece
from planner.errors import PlanError
from planner.folder import change_piece, see, start_project, with_measurement
from planner.piece import SUPPLY, Measurement, Project, in_force
from planner.plan import Plan, make_plan
from planner.workbook import desk as desks
from planner.workbook.asking import heard
from planner.workbook.desk import Desk, own_copy
from planner.workbook.fields import button, labelled, whole
from planner.workbook.panes import Form, Pane, notice, picture_html
from planner.workbook.pieces import go_to_piece

MOST = 1000  # stitches or rows; larger ones are the whole chart anyway
FROM_HERE = (
    "It opens in all notebooks, with its own winding list and cards; the menu at the top leads "
    "back. What you measure in it is also logged in this piece."
)
MUCH = 0.6  # of the chart's stitches, from which on a swatch is nearly the piece
MUCH_OF_IT = (
    "It is {:.0f} % of the whole chart: set fewer stitches or rows for less to knit beforehand. "
)
IS_GONE = "The piece of this swatch, {}, is not beside it any more."


# ---- from the chart


def swatch_in_words(plan: Plan) -> str:
    """What the fold offers: a swatch of this chart, or the way back from one."""
    if plan.project.swatch_of:
        return f"This is a swatch of {plan.project.swatch_of}"
    return "Swatch from this chart: where it is hardest"


def window_html(plan: Plan, window: Window) -> str:
    """Where the hardest window lies, what it holds, and how it was found."""
    held = ", ".join(f"{number} × {kind}" for kind, number in window.held.items())
    tube = " It is worked flat, as a window of a tube has no round." * plan.project.how.is_tube
    chart = plan.traced.chart
    share = window.rows * window.stitches / (chart.rows * chart.columns)
    much = MUCH_OF_IT.format(100 * share) if share >= MUCH else ""
    lines = (
        f'<div class="plan-headline">{html.escape(window.place(chart))}: '
        f"{html.escape(window.in_words)}</div>",
        f'<div class="plan-note">{html.escape(held or "Nothing hard")}. {WEIGHTS_IN_WORDS}</div>',
        f'<div class="plan-note">{much}{FROM_HERE}{tube}</div>',
    )
    return "".join(lines)


def where_it_lies(plan: Plan, window: Window) -> str:
    """A small picture of the window in its chart."""
    rows = window.row, window.row + window.rows
    columns = window.column, window.column + window.stitches
    figure = pictures.draw_window(plan, rows, columns)
    return picture_html(figure, f"The swatch in the chart: {window.place(plan.traced.chart)}")


def make_swatch(plan: Plan, *, stitches: int, rows: int, data: Path) -> Path:
    """The folder, in `data`, of the swatch as a piece of its own.

    Raises PlanError where there is one of its name.
    """
    window = find_window(plan.traced, stitches=stitches, rows=rows)
    swatch = swatch_piece(plan.project, plan.traced, window)
    make_plan(swatch)  # nothing is kept that cannot be planned
    return start_project(data, swatch)


def swatch_form(desk: Desk) -> Form:
    """A window of the size set, and a button that makes a piece of it; of a swatch the way back."""
    message, found = Pane(), Pane()
    stitches = whole("stitches", SIDE, least=1, most=MOST)
    rows = whole("rows", SIDE, least=1, most=MOST)
    make, back = button("Make the swatch", icon="scissors"), button("Back to its piece")
    give = button("Give its piece this gauge")
    fields = widgets.HBox([stitches, rows])
    fields.add_class("plan-fields")
    actions = widgets.HBox([make, back, give])
    actions.add_class("plan-actions")

    def show() -> None:
        is_swatch = bool(desk.project.swatch_of)
        fields.layout.display = make.layout.display = "none" if is_swatch else ""
        back.layout.display = give.layout.display = "" if is_swatch else "none"
        if is_swatch:
            found.value = html.escape(gauges_in_words(desk.project))
        else:
            plan = desk.plan
            window = find_window(plan.traced, stitches=stitches.value, rows=rows.value)
            found.value = window_html(plan, window) + where_it_lies(plan, window)

    @heard(message)
    def made() -> None:
        plan = desk.plan
        folder = make_swatch(
            plan,
            stitches=stitches.value,
            rows=rows.value,
            data=desk.folder().parent,
        )
        go_to_piece(desk, folder, news=f"{folder.name} is made, and open in all notebooks.")

    @heard(message)
    def go_back() -> None:
        go_to_piece(desk, piece_of(desk.project))

    @heard(message)
    def give_gauge() -> None:
        gauge = desk.project.gauge
        folder = own_copy(piece_of(desk.project))
        change_piece(see(folder), lambda held: replace(held, gauge=gauge), check=make_plan)
        message.value = notice(f"{folder.name} goes by {gauge.in_words(desk.project.units)} now.")

    def begin_anew() -> None:
        message.value = ""
        stitches.value = rows.value = SIDE

    look = heard(found)(show)
    for box in (stitches, rows):
        box.observe(look, names="value")
    make.on_click(made)
    back.on_click(go_back)
    give.on_click(give_gauge)
    desk.on_arrival(begin_anew)
    desk.on_change(look, later=True)
    look()
    return Form([found, fields, actions, message])


# ---- where it came from


def piece_of(swatch: Project) -> Path:
    """The folder of the piece that a swatch is of. Raises PlanError if it is not there."""
    name = swatch.swatch_of
    # It stands in a file that may come from anywhere, and names a folder beside its own.
    if swatch.folder is None or Path(name).name != name or name in ("", ".", ".."):
        raise PlanError(IS_GONE.format(name or "which is not named"))
    data = swatch.folder.parent
    # Who has a copy of the demo goes on with that.
    folder = desks.folder_of(name) if data == desks.DATA else data / name
    if not folder.is_dir():
        raise PlanError(IS_GONE.format(name))
    return folder


def gauges_in_words(swatch: Project) -> str:
    """The gauge of a swatch beside that of its piece."""
    piece = see(piece_of(swatch)).project
    here, there = (each.gauge.in_words(each.units) for each in (swatch, piece))
    if swatch.gauge == piece.gauge:
        return f"Its gauge is {here}, as that of {piece.name}."
    return f"Its gauge is {here}; that of {piece.name} is {there}."


def also_box(desk: Desk) -> widgets.Checkbox:
    """Whether what is measured in a swatch is also logged in its piece; not shown for a piece."""
    # With a layout of its own, for it alone is hidden.
    own = widgets.Layout()
    box = labelled(widgets.Checkbox, "also log it in its piece", value=True, layout=own)

    def follow() -> None:
        of = desk.project.swatch_of
        box.layout.display = "" if of else "none"
        box.description = f"also log it in {of}" if of else "also log it in its piece"

    desk.on_arrival(lambda: box.set_trait("value", True))
    desk.on_change(follow)
    follow()
    return box


def log_in_piece(swatch: Project, line: Measurement) -> str:
    """Log a line of a swatch's log in the log of its piece too; what was done, in words.

    A strand of the swatch is named as such. A line that takes the place of an older one does so
    there as well. Of a piece that is no swatch "".
    """
    if not swatch.swatch_of:
        return ""
    try:
        folder = own_copy(piece_of(swatch))
        change_piece(
            see(folder),
            lambda held: replace(held, measurements=_with_line(held, swatch, line)),
            check=make_plan,
        )
    except PlanError as error:
        # Here it is logged, whatever there is.
        return f" It is not logged in {swatch.swatch_of}: {error}"
    return f" It is logged in {folder.name} too."


def _with_line(piece: Project, swatch: Project, line: Measurement) -> tuple[Measurement, ...]:
    """The log of a piece with a line of its swatch's log."""
    older = [each for each in swatch.measurements if each.number == line.corrects]
    known = [_as_logged_there(each, swatch) for each in older]
    corrects = None
    for held in in_force(piece.measurements):
        if replace(held, number=0, corrects=None) in known:
            corrects = held.number
    there = _as_logged_there(line, swatch)
    return with_measurement(
        piece.measurements,
        lambda number: replace(there, number=number, corrects=corrects),
    )


def _as_logged_there(line: Measurement, swatch: Project) -> Measurement:
    """A line of a swatch's log as its piece's log has it, without a number."""
    # Its own strands are called W1 and so on too.
    strand = f"{line.strand} of the swatch" if line.way == SUPPLY else line.strand
    return replace(line, number=0, corrects=None, strand=strand)

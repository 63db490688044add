"""Forms for getting a chart in and out: a new piece, its yarns, painting, files, and a chart set into a piece."""

from __future__ import annotations

from dataclasses import replace

import ipywidgets as widgets

from planner.chart import Chart
from planner.desk import DATA, Desk, Form, Pane, notice
from planner.errors import PlanError
from planner.folder import start_piece
from planner.forms import heard, labelled
from planner.painting import Painting
from planner.yarn import Yarn

ANOTHER = "another yarn"


def new_piece_form(folder=DATA) -> Form:
    """A name, a size and a first yarn; makes the piece's folder."""
    message = Pane()
    name = labelled(widgets.Text, "name of the piece", placeholder="such as hill scarf")
    stitches = labelled(widgets.IntText, "stitches", value=60)
    rows = labelled(widgets.IntText, "rows (garter: ridges)", value=80)
    letter = labelled(widgets.Text, "letter of its ground", value="A")
    colour = labelled(widgets.ColorPicker, "colour of it", value="#d9d2c3")
    button = widgets.Button(description="Make the piece", layout=widgets.Layout(width="210px"))

    @heard(message)
    def start():
        if not (1 <= stitches.value <= 1000 and 1 <= rows.value <= 2000):
            raise PlanError(f"{stitches.value} stitches × {rows.value} rows: give 1 to 1,000 stitches and 1 to 2,000 rows.")
        chart = Chart.from_rows([[letter.value.strip()] * stitches.value] * rows.value)
        made = start_piece(folder, name.value, chart, {letter.value.strip(): Yarn(letter.value.strip(), colour=colour.value)})
        message.value = notice(f'{made.name} is made. Write PIECE = "{made.name}" in the cell below and run the cells again.')

    button.on_click(start)
    return Form([name, stitches, rows, letter, colour, button, message])


def yarns_form(desk: Desk) -> Form:
    """What is known of a yarn, to be changed; or one yarn more."""
    message = Pane()
    which = labelled(widgets.Dropdown, "yarn", options=(ANOTHER,))
    boxes = {
        "letter": labelled(widgets.Text, "its letter on the chart"),
        "name": labelled(widgets.Text, "name"),
        "colour": labelled(widgets.ColorPicker, "colour"),
        "metres_per_ball": labelled(widgets.FloatText, "metres in a ball (0: not known)"),
        "grams_per_ball": labelled(widgets.FloatText, "grams in a ball (0: not known)"),
        "balls_in_hand": labelled(widgets.FloatText, "balls in hand"),
        "dye_lot": labelled(widgets.Text, "dye lot"),
        "feltable": labelled(widgets.Checkbox, "it felts, so it can be spliced"),
        "may_be_cut": labelled(widgets.Checkbox, "it may be cut"),
    }
    button = widgets.Button(description="Put this yarn down", layout=widgets.Layout(width="210px"))

    def show(_=None):
        yarn = desk.project.all_yarns.get(which.value, Yarn(""))
        for name, box in boxes.items():
            box.value = getattr(yarn, name) or type(box.value)()
        boxes["letter"].disabled = which.value != ANOTHER

    def follow():
        options = (*desk.project.all_yarns, ANOTHER)
        if which.options != options:
            kept = which.value
            which.options = options
            which.value = kept if kept in options else options[0]

    @heard(message)
    def put_down():
        values = {name: box.value.strip() if isinstance(box.value, str) else box.value for name, box in boxes.items()}
        for name in ("metres_per_ball", "grams_per_ball"):
            values[name] = values[name] or None
        letter = values["letter"]
        if which.value == ANOTHER and letter in desk.project.all_yarns:
            raise PlanError(f"There is a yarn {letter} already. Choose it above to change it, or take another letter.")
        for name in ("name", "dye_lot"):
            if values[name][:1] in tuple("=+-@"):
                raise PlanError(f'"{values[name]}" begins with {values[name][0]}, which a spreadsheet would take for a formula.')
        Chart.from_rows([[letter]], source="The letter:")  # said in words if it is none
        yarn = replace(desk.project.all_yarns.get(letter, Yarn(letter)), **values)
        desk.change(yarns=dict(desk.project.yarns) | {letter: yarn})
        which.value = letter
        message.value = notice(f"yarn {yarn.title} is put down; it is written into yarns.csv when you keep what you see.")

    which.observe(show, names="value")
    desk.on_change(follow)
    follow()
    which.value = which.options[0]
    show()
    button.on_click(put_down)
    return Form([which, *boxes.values(), button, message])


def paint_form(desk: Desk) -> Painting:
    """The chart, to paint on."""
    return Painting(desk)


__all__ = ["new_piece_form", "paint_form", "yarns_form"]

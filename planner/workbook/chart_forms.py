"""Forms for getting a chart in and out: a new piece, its yarns, painting, files, and a chart set into a piece."""

from __future__ import annotations

import base64
import html
from dataclasses import replace

import ipywidgets as widgets

from planner.charts import ACROSS, UP, chart_png, chart_xlsx, repeat, set_into, write_rows
from planner.errors import PlanError
from planner.folder import chart_csv, locked, replace_bytes, start_piece
from planner.piece import Chart, Yarn, mirror
from planner.workbook.desk import DATA, Desk, Form, Pane, notice
from planner.workbook.forms import heard, labelled
from planner.workbook.load_forms import load_form
from planner.workbook.painting import Painting

ANOTHER = "another yarn"
SET, REPEATED, MIRRORED, WHOLE = (
    "set into a larger piece",
    "repeated",
    "mirrored",
    "made whole from its half",
)


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
            raise PlanError(
                f"{stitches.value} stitches × {rows.value} rows: give 1 to 1,000 stitches and 1 to 2,000 rows."
            )
        chart = Chart.from_rows([[letter.value.strip()] * stitches.value] * rows.value)
        made = start_piece(
            folder,
            name.value,
            chart,
            {letter.value.strip(): Yarn(letter.value.strip(), colour=colour.value)},
        )
        message.value = notice(
            f'{made.name} is made. Write PIECE = "{made.name}" in the cell below and run the cells again.'
        )

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
        values = {
            name: box.value.strip() if isinstance(box.value, str) else box.value
            for name, box in boxes.items()
        }
        for name in ("metres_per_ball", "grams_per_ball"):
            values[name] = values[name] or None
        letter = values["letter"]
        if which.value == ANOTHER and letter in desk.project.all_yarns:
            raise PlanError(
                f"There is a yarn {letter} already. Choose it above to change it, or take another letter."
            )
        for name in ("name", "dye_lot"):
            if values[name][:1] in tuple("=+-@"):
                raise PlanError(
                    f'"{values[name]}" begins with {values[name][0]}, which a spreadsheet would take for a formula.'
                )
        Chart.from_rows([[letter]], source="The letter:")  # said in words if it is none
        yarn = replace(desk.project.all_yarns.get(letter, Yarn(letter)), **values)
        desk.change(yarns=dict(desk.project.yarns) | {letter: yarn})
        which.value = letter
        message.value = notice(
            f"yarn {yarn.title} is put down; it is written into yarns.csv when you keep what you see."
        )

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


def place_form(desk: Desk) -> Form:
    """The chart on the desk set into a larger piece, repeated, mirrored, or made whole from a half."""
    message = Pane()
    project = desk.project
    what = labelled(
        widgets.Dropdown, "the chart is to be", options=(SET, REPEATED, MIRRORED, WHOLE)
    )
    stitches = labelled(widgets.IntText, "stitches of the piece", value=project.chart.columns)
    rows = labelled(widgets.IntText, "rows of the piece", value=project.chart.rows)
    ground = labelled(widgets.Dropdown, "ground", options=tuple(project.all_yarns))
    across = labelled(widgets.Dropdown, "it stands at the", options=ACROSS, value="centre")
    up = labelled(widgets.Dropdown, "and at the", options=UP, value="centre")
    spare = [
        labelled(
            widgets.Dropdown,
            f"an odd {noun} more",
            options=[("ask me", ""), *((f"at the {side}", side) for side in sides)],
        )
        for noun, sides in (("stitch", ("right", "left")), ("row", ("bottom", "top")))
    ]
    times_across = labelled(widgets.IntText, "times side by side", value=2)
    times_up = labelled(widgets.IntText, "times one above the other", value=1)
    centre_at = labelled(widgets.Dropdown, "its centre is at the", options=("left", "right"))
    centre = labelled(widgets.Dropdown, "its centre stitch is worked", options=("once", "twice"))
    boxes = {
        SET: (stitches, rows, ground, across, up, *spare),
        REPEATED: (times_across, times_up),
        MIRRORED: (),
        WHOLE: (centre_at, centre),
    }
    chosen = widgets.VBox(boxes[SET])
    button = widgets.Button(description="Do it", layout=widgets.Layout(width="210px"))

    def choose(_):
        chosen.children = boxes[what.value]

    def follow():
        if ground.options != tuple(desk.project.all_yarns):
            ground.options = tuple(desk.project.all_yarns)

    @heard(message)
    def do():
        chart = desk.project.chart
        if what.value == SET:
            size = {"stitches": stitches.value, "rows": rows.value, "ground": ground.value}
            new = set_into(
                chart,
                **size,
                across=across.value,
                up=up.value,
                spare_at=tuple(box.value for box in spare),
            )
        elif what.value == REPEATED:
            new = repeat(chart, across=times_across.value, up=times_up.value)
        else:
            new = (
                mirror(chart)
                if what.value == MIRRORED
                else chart.whole(centre_at=centre_at.value, centre=centre.value)
            )
        desk.change(chart=new)
        message.value = notice(
            f"the chart is {what.value}: {new.columns} stitches × {new.rows} rows. Undo is above the chart."
        )

    what.observe(choose, names="value")
    desk.on_change(follow)
    button.on_click(do)
    return Form([what, chosen, button, message])


def out_form(desk: Desk) -> Form:
    """Buttons that write the chart into the piece's folder, as a spreadsheet, a table, a picture or written rows."""
    message = Pane()

    def write(ending: str):
        project = desk.project
        chart, yarns, how = project.chart, project.all_yarns, project.how
        aspect = float(project.gauge.aspect) * how.rows_per_chart_row
        made = {
            "xlsx": lambda: chart_xlsx(chart, yarns, aspect, how),
            "csv": lambda: chart_csv(chart).encode(),
            "png": lambda: chart_png(chart, yarns, aspect),
            "txt": lambda: write_rows(chart, how).encode(),
        }[ending]()
        if project.folder is None:
            raise PlanError("This piece has no folder to write into. Open one that has.")
        path = project.folder / "out" / f"{project.folder.name}-chart.{ending}"
        path.parent.mkdir(exist_ok=True)
        with locked(path):
            replace_bytes(path, made)
        message.value = notice(f"written to {project.folder.name}/out/{path.name}.") + _link(
            made, path.name
        )

    buttons = []
    for ending, what in {
        "xlsx": "Spreadsheet",
        "csv": "Table",
        "png": "Picture",
        "txt": "Written rows",
    }.items():
        button = widgets.Button(
            description=f"{what} (.{ending})", layout=widgets.Layout(width="180px")
        )
        button.on_click(heard(message)(lambda ending=ending: write(ending)))
        buttons.append(button)
    return Form([widgets.HBox(buttons), message])


def _link(data: bytes, name: str) -> str:
    """A link that saves the file where the browser keeps downloads."""
    code = base64.b64encode(data).decode()
    return f' <a download="{html.escape(name)}" href="data:application/octet-stream;base64,{code}">Save a copy from the browser</a>'


# What a notebook needs.
__all__ = ["load_form", "new_piece_form", "out_form", "paint_form", "place_form", "yarns_form"]

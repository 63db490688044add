"""Notebook 1: the chart and the tables of the plan, written into the piece's folder."""

from __future__ import annotations

import base64
import html
from functools import partial

import ipywidgets as widgets

from planner import charts
from planner.folder import chart_csv, locked_folder, write_together
from planner.paper import csv_of, tables_of
from planner.pictures import draw_chart, png_of
from planner.plan import Plan
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button
from planner.workbook.panes import Form, Pane, notice

NO_PLACE_TO_WRITE = "This piece has no folder to write into. Open one that has."
# What is written out, by the end of its name, with the words on its button. The picture of one
# pixel a stitch is for programs: it shows no grid, and knows no gauge.
CHART_FILES = {
    "chart.xlsx": "Spreadsheet (.xlsx)",
    "chart.csv": "Table (.csv)",
    "chart.png": "Picture with grid (.png)",
    "chart.svg": "Drawing with grid (.svg)",
    "chart-one-pixel-a-stitch.png": "One pixel a stitch (.png)",
    "chart.txt": "Written rows (.txt)",
}
PLAN_FILES = {"tables.xlsx": "All in one (.xlsx)", "tables": "One by one (.csv)"}
PICTURE_DPI = 300  # with fewer, letters hide the colour of a single stitch


def chart_file(plan: Plan, name: str) -> bytes:
    """The chart of the plan's project, as the file of `CHART_FILES` with this name holds it."""
    project = plan.project
    chart, yarns, how = project.chart, project.all_yarns, project.how
    # Height of a chart row ÷ width of a stitch, so that the chart looks as it will be knitted.
    aspect = float(project.gauge.aspect) * how.rows_per_chart_row
    if name == "chart.xlsx":
        return charts.chart_xlsx(chart, yarns, aspect, how)
    if name == "chart.svg":
        return charts.chart_svg(chart, yarns, aspect, how)
    if name == "chart.png":
        return png_of(draw_chart(plan), dpi=PICTURE_DPI)
    if name == "chart-one-pixel-a-stitch.png":
        return charts.chart_pixels(chart, yarns)
    if name == "chart.csv":
        return chart_csv(chart).encode()
    return charts.write_rows(chart, how).encode()


def plan_files(plan: Plan, name: str) -> dict[str, bytes]:
    """All tables of the plan as one workbook, or each as a CSV file, by their names."""
    tables = tables_of(plan)
    if name == "tables.xlsx":
        return {name: charts.tables_xlsx(tables)}
    return {f"{name}/{table}.csv": csv_of(tables[table]) for table in tables}


def out_form(desk: Desk) -> Form:
    """Buttons that write the chart, and the plan's tables, into the piece's folder."""
    message = Pane()

    def write(name: str) -> None:
        plan = desk.plan
        folder = desk.folder(NO_PLACE_TO_WRITE)
        is_chart = name in CHART_FILES
        files = {name: chart_file(plan, name)} if is_chart else plan_files(plan, name)
        named = {f"{folder.name}-{end}": data for end, data in files.items()}
        with locked_folder(folder):
            write_together(folder, {f"out/{end}": data for end, data in named.items()})
        written = notice(f"written to {folder.name}/out/{folder.name}-{name}.")
        links = "".join(_link(data, end) for end, data in named.items()) if len(named) == 1 else ""
        message.value = written + links

    rows = []
    for title, files in (("The chart", CHART_FILES), ("The plan's tables", PLAN_FILES)):
        buttons = []
        for name, what in files.items():
            press = button(what)
            press.on_click(heard(message)(partial(write, name)))
            buttons.append(press)
        actions = widgets.HBox(buttons)
        actions.add_class("plan-actions")
        rows += [widgets.HTML(f"<b>{title}</b>"), actions]
    return Form([*rows, message])


def _link(data: bytes, name: str) -> str:
    """A link that saves the file where the browser keeps downloads."""
    # The file travels inside the link, which works wherever the notebook is shown.
    source = f"data:application/octet-stream;base64,{base64.b64encode(data).decode()}"
    words = "Save a copy from the browser"
    return f' <a download="{html.escape(name)}" href="{source}">{words}</a>'

"""Notebook 1: a quick sum, a new piece and its yarns, the chart painted, set and written out."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import ipywidgets as widgets

from planner import charts
from planner.buying import quick_sum
from planner.charts import ACROSS, UP
from planner.choices import rows_for
from planner.errors import PlanError
from planner.folder import (
    chart_csv,
    locked_folder,
    weights_in,
    weights_text,
    write_together,
)
from planner.paper import csv_of, tables_of
from planner.pictures import draw_chart, png_of
from planner.piece import SURFACES, Chart, Gauge, Project, Yarn, mirror
from planner.plan import Plan
from planner.units import CM_PER, LENGTH_OF_A_GAUGE, LONG_UNIT, check_number, to_cm
from planner.workbook.asking import Setting, asking, fields_form, heard, whole_setting
from planner.workbook.common import units_form
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    UNITS,
    YARN_UNIT_IN_WORDS,
    button,
    labelled,
    length,
    listed,
    number,
    offer,
    one_of,
    text,
    unit_box,
    whole,
)
from planner.workbook.painting import Painting
from planner.workbook.panes import Form, Pane, lines_html, notice

# What is done with the chart on the desk to make it fit a piece.
SET, REPEATED = "set into a larger piece", "repeated"
MIRRORED, WHOLE = "mirrored", "made whole from its half"
FORMULA_SIGNS = ("=", "+", "-", "@")  # a spreadsheet takes a text that begins so for a formula
USUAL_TAIL = {"cm": 15, "in": 6}
NO_PLACE_TO_WRITE = "This piece has no folder to write into. Open one that has."


# ---- sums without a chart, and the height of it


def quick_sum_html(*, stitches: int, count: float, over: float, tail: float, unit: str) -> str:
    """How long a piece to wind for so many stitches, with the arithmetic, as HTML."""
    # Rows have no part in the sum, so that any number of them will do.
    gauge = Gauge(count, count, over, unit)
    total = quick_sum(stitches, gauge, tail_cm=tail * float(CM_PER[unit]), units=unit)
    return lines_html(str(total))


def quick_sum_form(*, units: str = "cm", gauge: Gauge | None = None) -> Form:
    """Stitches in a motif, gauge and tails; how long a piece to wind, with the arithmetic."""
    over = LENGTH_OF_A_GAUGE[units]
    count = float((gauge or Gauge(over=over, unit=units)).stitches_in(to_cm(over, units)))
    # Round where nobody has counted a gauge.
    usual_over = None if gauge else LENGTH_OF_A_GAUGE
    return asking(
        quick_sum_html,
        unit=one_of("lengths in", UNITS, units),
        stitches=whole("stitches in the motif", 60),
        count=number("gauge: stitches", round(count, 2)),
        over=length("over", over, unit=units, usual=usual_over),
        tail=length("each tail", unit=units, usual=USUAL_TAIL),
    )


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
    """How many rows a height takes, and how that compares with the chart."""
    project = desk.project
    high = desk.plan.traced.runs.rows * project.gauge.row_cm / float(CM_PER[project.units])
    # It begins at the height of the chart, so that what is typed next is compared with that.
    return asking(
        lambda unit, height: height_in_words(desk.plan, height, unit),
        desk=desk,
        unit=unit_box(desk),
        height=length("wanted height", round(high)),
    )


def construction_form(desk: Desk) -> Form:
    """How the piece is worked."""
    worked = (
        ("flat, turned after each row", "flat"),
        ("in rounds, turned after each round", "turned"),
        ("in rounds, never turned", "rounds"),
    )
    first_row = (("right side (RS)", "RS"), ("wrong side (WS)", "WS"))
    hand = (("right-handed", "right"), ("left-handed", "left"))
    settings = [
        Setting("worked", one_of("worked", worked)),
        Setting("first_row", one_of("first row of the chart", first_row)),
        Setting("hand", one_of("direction of work", hand)),
        Setting("fabric", one_of("fabric", ("stockinette", "garter"))),
        whole_setting("selvedge", "selvedge stitches at each side"),
    ]
    return fields_form(desk, "how", settings)


# ---- yarns

ANOTHER = "another yarn"

IN_A_BALL = "{} in a ball (0: not known)"  # metres or yards, as the piece is shown

# The boxes of a yarn by the names of its fields; each form makes its own.
YARN_BOXES: dict[str, Callable[[], widgets.Widget]] = {
    "letter": lambda: text("its letter on the chart"),
    "name": lambda: text("name"),
    "colour": lambda: labelled(widgets.ColorPicker, "colour"),
    "metres_per_ball": lambda: number(IN_A_BALL.format("metres")),
    "grams_per_ball": lambda: number("grams in a ball (0: not known)"),
    "balls_in_hand": lambda: number("balls in hand"),
    "dye_lot": lambda: text("dye lot"),
    "feltable": lambda: labelled(widgets.Checkbox, "it felts, so it can be spliced"),
    "superwash": lambda: labelled(widgets.Checkbox, "superwash: it does not felt"),
    "may_be_cut": lambda: labelled(widgets.Checkbox, "it may be cut"),
    "surface": lambda: one_of("its surface", SURFACES),
    "part_balls_g": lambda: text("balls begun, weighed (g): 34; 12"),
}
WEIGHTS = "part_balls_g"
UNKNOWN_AS_ZERO = ("metres_per_ball", "grams_per_ball")


def yarn_of(project: Project, chosen: str, typed: Mapping[str, Any]) -> Yarn:
    """The yarn that is meant by what was typed: the one chosen, changed, or another one.

    `typed` holds what was touched, by the names of a Yarn's fields.
    """
    # Blanks before and after are slips; a letter with one would be none.
    values: dict[str, Any] = {
        name: value.strip() if isinstance(value, str) else value for name, value in typed.items()
    }
    letter = values.setdefault("letter", chosen)
    if chosen == ANOTHER and letter in project.all_yarns:
        raise PlanError(
            f"There is a yarn {letter} already. Choose it above to change it, or take another "
            "letter."
        )
    for name in ("name", "dye_lot"):
        if values.get(name, "").startswith(FORMULA_SIGNS):
            raise PlanError(
                f'"{values[name]}" begins with {values[name][0]}, which a spreadsheet would take '
                "for a formula."
            )
    for name in UNKNOWN_AS_ZERO:
        if name in values:
            values[name] = values[name] or None
    if WEIGHTS in values:
        values[WEIGHTS] = weights_in(values[WEIGHTS], f"Yarn {letter}: the weight of a part ball")
    # A chart of one stitch says in words what is wrong with a letter that is none.
    Chart.from_rows([[letter]], source="The letter:")
    return replace(project.all_yarns.get(letter, Yarn(letter)), **values)


class _YarnBoxes:
    """The boxes of one yarn, and what they showed before they were touched."""

    def __init__(self) -> None:
        self.boxes = {name: make() for name, make in YARN_BOXES.items()}
        self._shown: dict[str, Any] = {}
        self._units = "cm"

    def show(self, yarn: Yarn, units: str) -> None:
        """Show a yarn, whatever was typed."""
        # With nothing shown before, every box is set.
        self._shown = {}
        self.follow(yarn, units)

    def follow(self, yarn: Yarn, units: str) -> None:
        """Show what has changed in the yarn, and leave what is typed beside it."""
        length = self.boxes["metres_per_ball"]
        is_typed = length.value != self._shown.get("metres_per_ball", length.value)
        if units != self._units and is_typed:
            # What is typed and not put down yet goes into the new units, too.
            length.value = round(length.value * _metres_in(self._units) / _metres_in(units), 4)
            self._shown["metres_per_ball"] = self._written("metres_per_ball", yarn, units)
        self._units = units
        length.description = IN_A_BALL.format(YARN_UNIT_IN_WORDS[units])
        for name, box in self.boxes.items():
            value = self._written(name, yarn, units)
            if name not in self._shown or value != self._shown[name]:
                box.value = self._shown[name] = value

    def _written(self, name: str, yarn: Yarn, units: str) -> Any:
        # A box shows what is not known as 0, or as nothing.
        value = getattr(yarn, name) or type(self.boxes[name].value)()
        if name == "metres_per_ball":
            return round(value / _metres_in(units), 4)
        return weights_text(yarn.part_balls_g) if name == WEIGHTS else value

    def typed(self, names: Iterable[str] = YARN_BOXES) -> dict[str, Any]:
        """What stands in the boxes of these names."""
        values = {name: self.boxes[name].value for name in names}
        if "metres_per_ball" in values:
            length = self.boxes["metres_per_ball"]
            check_number(length.value, length.description)
            # Six digits of a metre, so that yards come back as they were typed.
            values["metres_per_ball"] = round(length.value * _metres_in(self._units), 6)
        return values

    def touched(self) -> dict[str, Any]:
        """What stands in the boxes that were touched."""
        return self.typed(
            name for name, box in self.boxes.items() if box.value != self._shown[name]
        )


def _metres_in(units: str) -> float:
    """The metre or the yard, in metres."""
    return float(CM_PER[LONG_UNIT[units]]) / 100


def yarns_form(desk: Desk) -> Form:
    """What is known of a yarn, to be changed; or one yarn more."""
    message, one_yarn = Pane(), _YarnBoxes()
    which = one_of("yarn", (*desk.project.all_yarns, ANOTHER))
    put_down_button = button("Put this yarn down")

    def chosen() -> Yarn:
        return desk.project.all_yarns.get(which.value, Yarn(""))

    def show(_: Any = None) -> None:
        one_yarn.show(chosen(), desk.project.units)
        one_yarn.boxes["letter"].disabled = which.value != ANOTHER

    def follow() -> None:
        offer(which, (*desk.project.all_yarns, ANOTHER))
        one_yarn.follow(chosen(), desk.project.units)

    @heard(message)
    def put_down() -> None:
        # Of a yarn that is known only what was touched is written: another form may have changed
        # the rest of it meanwhile.
        is_new = which.value == ANOTHER
        typed = one_yarn.typed() if is_new else one_yarn.touched()
        yarn = yarn_of(desk.project, which.value, typed)
        desk.change(yarns={**desk.project.yarns, yarn.letter: yarn})
        which.value = yarn.letter
        message.value = notice(
            f"yarn {yarn.title} is put down; it is written into yarns.csv when you keep what you "
            "see."
        )

    which.observe(show, names="value")
    desk.on_change(follow)
    show()
    put_down_button.on_click(put_down)
    return Form(
        [units_form(desk, "lengths in"), which, *one_yarn.boxes.values(), put_down_button, message]
    )


def paint_form(desk: Desk) -> Painting:
    """The chart, to paint on."""
    return Painting(desk)


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


def place_form(desk: Desk) -> Form:
    """The chart set into a larger piece, repeated, mirrored, or made whole from a half."""
    chart = desk.project.chart

    def place(what: str, **typed: Any) -> str:
        new = placed(desk.project.chart, what, typed)
        desk.change(chart=new, doing=f"making the chart {what}", much=True)
        size = f"{new.columns} stitches × {new.rows} rows"
        return notice(f"the chart is {what}: {size}. Undo is above the chart.")

    # Where an odd stitch or row goes is asked only when there is one.
    def spare(noun: str, *sides: str) -> widgets.Dropdown:
        at = [(f"at the {side}", side) for side in sides]
        return one_of(f"an odd {noun} more", [("ask me", ""), *at])

    return asking(
        place,
        button="Do it",
        shown=lambda values: ("what", *PLACING[values["what"]]),
        what=one_of("the chart is to be", PLACING),
        stitches=whole("stitches of the piece", chart.columns),
        rows=whole("rows of the piece", chart.rows),
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


# ---- the chart written out

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
            press = button(what, width="200px")
            press.on_click(heard(message)(partial(write, name)))
            buttons.append(press)
        wrapped = widgets.Layout(flex_flow="row wrap")
        rows += [widgets.HTML(f"<b>{title}</b>"), widgets.HBox(buttons, layout=wrapped)]
    return Form([*rows, message])


def _link(data: bytes, name: str) -> str:
    """A link that saves the file where the browser keeps downloads."""
    # The file travels inside the link, which works wherever the notebook is shown.
    source = f"data:application/octet-stream;base64,{base64.b64encode(data).decode()}"
    words = "Save a copy from the browser"
    return f' <a download="{html.escape(name)}" href="{source}">{words}</a>'

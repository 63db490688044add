"""Forms: the widgets with which a knitter asks for something else, and is told at once what is wrong with it."""

from __future__ import annotations

import html
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as widgets

from planner.errors import PlanError
from planner.folder import keep_choice
from planner.multiplier import quick_sum
from planner.pictures import draw_chart, draw_load, draw_strand_order, draw_strands
from planner.piece import (
    SUPPLIES,
    WAYS_TO_A_MULTIPLIER,
    CarryLimits,
    Gauge,
    MultiplierChoice,
    OwnChoice,
)
from planner.strands import rows_for
from planner.supplies import HOW_TO
from planner.units import CM_PER, LONG_UNIT, exact
from planner.workbook.desk import Desk, Form, Pane, notice, picture_html

WIDE, LOOSELY = {"description_width": "265px"}, {"description_width": "initial"}
LINE = widgets.Layout(width="480px")


def labelled(kind: type[widgets.Widget], label: str, **more) -> widgets.Widget:
    """A widget with its label before it, as all forms lay them out."""
    return kind(description=label, style=WIDE, layout=LINE, **more)


@dataclass(frozen=True)
class Field:
    """One field of a form: the setting it stands for, what it is called, and how it is shown and read back."""

    setting: str
    label: str
    kind: str = "number"  # number, whole, yes, choice, text, length
    options: tuple = ()
    unit_cm: float = 1.0

    def widget(self, value) -> widgets.Widget:
        if self.kind == "yes":
            return widgets.Checkbox(value=value, description=self.label, indent=False, layout=LINE)
        if self.kind == "choice":
            return labelled(widgets.Dropdown, self.label, options=self.options, value=value)
        if self.kind == "whole":
            return labelled(widgets.IntText, self.label, value=value)
        if self.kind == "text":
            return labelled(widgets.Text, self.label, value=str(value), continuous_update=False)
        return labelled(widgets.FloatText, self.label, value=round(value / self.unit_cm, 2))

    def read(self, value) -> Any:
        if self.kind == "length":
            return round(value * self.unit_cm, 2)
        if self.kind == "text":  # a number of stitches or rows, or a length with its unit
            return (
                value.strip()
                if any(c.isalpha() for c in value)
                else float(exact(value, self.label))
            )
        return value


def heard(message: Pane):
    """Make a callback of an action: it is done, or `message` says in words why it cannot be."""

    def callback(act: Callable[[], None]):
        def call(_=None):
            message.value = ""
            try:
                act()
            except PlanError as error:
                message.value = notice(str(error), trouble=True)

        return call

    return callback


def fields_form(desk: Desk, name: str, fields: list[Field], *, note: str = "") -> Form:
    """A form for the settings in `desk.project.NAME`; each change is planned and shown at once."""
    message = Pane()
    start = getattr(desk.project, name)
    boxes = {field.setting: field.widget(getattr(start, field.setting)) for field in fields}
    as_shown = {setting: box.value for setting, box in boxes.items()}

    @heard(message)
    def take():
        values = {}
        for (
            field
        ) in fields:  # what is not typed in keeps its exact value, which the field may show rounded
            value, untouched = boxes[field.setting].value, as_shown[field.setting]
            values[field.setting] = (
                getattr(start, field.setting) if value == untouched else field.read(value)
            )
        try:
            desk.change(**{name: replace(getattr(desk.project, name), **values)})
        except PlanError as error:
            raise PlanError(f"{error} The plan still goes by what was set before.") from None

    for box in boxes.values():
        box.observe(take, names="value")
    return Form([*([widgets.HTML(note)] if note else []), *boxes.values(), message])


def gauge_form(desk: Desk) -> Form:
    """Stitches and rows, each counted over any length, once or several times; several are averaged."""
    message, answer, lines = Pane(), Pane(), widgets.VBox()
    gauge = desk.project.gauge
    short = {"style": LOOSELY, "layout": widgets.Layout(width="190px")}
    unit = widgets.Dropdown(
        options=("cm", "in"), value=gauge.unit, description="measured in", **short
    )
    counted: dict[str, list[tuple[widgets.FloatText, widgets.FloatText]]] = {
        "stitches": [],
        "rows": [],
    }

    @heard(message)
    def take():
        if (
            all(len(pairs) == 1 for pairs in counted.values())
            and counted["stitches"][0][1].value == counted["rows"][0][1].value
        ):
            (stitches, over), (rows, _) = counted["stitches"][0], counted["rows"][0]
            new = Gauge(stitches.value, rows.value, over.value, unit.value)
        else:
            # A line counts once both of its boxes are filled in.
            pairs = [
                [
                    (count.value, over.value)
                    for count, over in counted[what]
                    if count.value and over.value
                ]
                for what in counted
            ]
            new = Gauge.averaged(*pairs, unit=unit.value)
        desk.change(gauge=new)

    def add(what: str, count: float = 0.0, over: float = 0.0):
        pair = (
            widgets.FloatText(value=count, description=what, **short),
            widgets.FloatText(value=over, description="over", **short),
        )
        counted[what].append(pair)
        for box in pair:
            box.observe(take, names="value")
        lines.children = [widgets.HBox(list(pair)) for pairs in counted.values() for pair in pairs]

    add("stitches", gauge.stitches, gauge.over)
    add("rows", gauge.rows, gauge.over)
    unit.observe(take, names="value")
    buttons = []
    for what in counted:
        button = widgets.Button(
            description=f"Another count of {what}", layout=widgets.Layout(width="210px")
        )
        button.on_click(lambda _, what=what: add(what))
        buttons.append(button)

    def show():
        gauge, chart = desk.project.gauge, desk.project.chart
        per = float(CM_PER[gauge.unit])
        width = chart.columns * gauge.stitch_cm / per
        height = desk.plan.traced.runs.rows * gauge.row_cm / per
        answer.value = (
            f"Gauge: {gauge}. A stitch is {gauge.stitch_cm * 10:.2f} mm wide and a row {gauge.row_cm * 10:.2f} mm high "
            f"(aspect {float(gauge.aspect):.3f}). The chart comes out {width:.1f} × {height:.1f} {gauge.unit}."
        )

    desk.on_change(show)
    show()
    return Form([unit, lines, widgets.HBox(buttons), answer, message])


def construction_form(desk: Desk) -> Form:
    return fields_form(
        desk,
        "how",
        [
            Field(
                "worked",
                "worked",
                "choice",
                (("flat, turned after each row", "flat"), ("in rounds", "rounds")),
            ),
            Field(
                "first_row",
                "first row of the chart",
                "choice",
                (("right side (RS)", "RS"), ("wrong side (WS)", "WS")),
            ),
            Field(
                "hand",
                "direction of work",
                "choice",
                (("right-handed", "right"), ("left-handed", "left")),
            ),
            Field("fabric", "fabric", "choice", ("stockinette", "garter")),
            Field("selvedge", "selvedge stitches at each side", "whole"),
        ],
    )


LIMIT_FIELDS = [
    Field("across", "across, in the same row", "text"),
    Field("sideways", "sideways, to the next row", "text"),
    Field("up", "up, rows skipped", "text"),
    Field("middle_start", "a length may be begun from its middle", "yes"),
]


def limits_form(desk: Desk) -> Form:
    """How far yarns may be carried: all of them, and single yarns that have limits of their own."""
    general = fields_form(
        desk,
        "limits",
        LIMIT_FIELDS,
        note="Longest carry in stitches (rows for up) or as a length such as 2.5 cm or 1 in; 0 is never.",
    )
    message, letters = Pane(), desk.project.chart.letters
    which = labelled(widgets.Dropdown, "limits of its own for yarn", options=letters)
    own = widgets.Checkbox(description="this yarn has limits of its own", indent=False, layout=LINE)
    boxes = [field.widget(getattr(CarryLimits(), field.setting)) for field in LIMIT_FIELDS]
    filling = False

    def fill(_=None):
        nonlocal filling
        filling = True
        limits = desk.project.by_yarn.get(which.value)
        own.value = limits is not None
        for field, box in zip(LIMIT_FIELDS, boxes, strict=True):
            value = getattr(limits or desk.project.limits, field.setting)
            box.value = (
                value
                if field.kind == "yes"
                else f"{value:g}"
                if isinstance(value, float)
                else str(value)
            )
            box.disabled = not own.value
        filling = False

    @heard(message)
    def take():
        if filling:
            return
        by_yarn = {
            letter: limits
            for letter, limits in desk.project.by_yarn.items()
            if letter != which.value
        }
        if own.value:
            values = {
                field.setting: field.read(box.value)
                for field, box in zip(LIMIT_FIELDS, boxes, strict=True)
            }
            by_yarn[which.value] = CarryLimits(**values)
        for box in boxes:
            box.disabled = not own.value
        desk.change(by_yarn=by_yarn)

    fill()
    which.observe(fill, names="value")
    for box in (own, *boxes):
        box.observe(take, names="value")
    return Form([general, which, own, *boxes, message])


def ways_form(desk: Desk) -> Form:
    """The knitter's ways of holding yarn."""
    unit = LONG_UNIT[desk.project.units]
    per = float(CM_PER[unit])
    return fields_form(
        desk,
        "habits",
        [
            Field("loose_up_to_cm", f"loose strand up to ({unit})", "length", unit_cm=per),
            Field("butterfly_up_to_cm", f"butterfly up to ({unit})", "length", unit_cm=per),
            Field("bobbin_up_to_cm", f"bobbin up to ({unit})", "length", unit_cm=per),
            Field("table", "there is a table to lay balls on", "yes"),
            Field("balls_on_table", "balls on the table at most", "whole"),
            Field("both_ends", "both ends of a ball may be used", "yes"),
            Field("rewinding", "rewinding is no bother", "yes"),
            Field("drop", "yarn between hand and work is kept", "choice", ("short", "long")),
            Field("comfortable", "comfortable up to (strands at once)", "whole"),
            Field("crowded", "crowded above (strands at once)", "whole"),
            Field(
                "wrap_cm",
                f"wraps go round ({desk.project.units})",
                "length",
                unit_cm=float(CM_PER[desk.project.units]),
            ),
            Field("sew_every", "ends are sewn in every (rows)", "whole"),
        ],
    )


def lengths_form(desk: Desk) -> Form:
    """Tails, cast-on, bind-off and the chance to fall short; and which multiplier to go by."""
    project = desk.project
    per = float(CM_PER[project.units])
    allowances = fields_form(
        desk,
        "allow",
        [
            Field("tail_cm", f"each tail ({project.units})", "length", unit_cm=per),
            Field("cast_on", "cast-on, widths of the first row", "number"),
            Field("bind_off", "bind-off, widths of the last row", "number"),
            Field("short_once_in", "a strand may fall short once in", "number"),
            Field(
                "swatch_cm",
                f"side of a swatch in each yarn ({project.units})",
                "length",
                unit_cm=per,
            ),
            Field("spare", "spare, as a share (0.05 is 5 %)", "number"),
            Field("label_error", "error of the bands, as a share", "number"),
        ],
        note="Put 0 for cast-on and bind-off if the chart is set into a larger piece.",
    )
    message = Pane()
    way = labelled(
        widgets.Dropdown, "multiplier", options=WAYS_TO_A_MULTIPLIER, value=project.multiplier.way
    )
    value = labelled(
        widgets.FloatText, "your own multiplier", value=project.multiplier.value or 3.7, step=0.05
    )

    @heard(message)
    def take():
        value.disabled = way.value != "own"
        spread = project.multiplier.spread if value.value == project.multiplier.value else None
        desk.change(
            multiplier=MultiplierChoice("own", value.value, spread)
            if way.value == "own"
            else MultiplierChoice(way.value)
        )

    value.disabled = way.value != "own"
    for box in (way, value):
        box.observe(take, names="value")
    return Form([allowances, way, value, message])


def units_form(desk: Desk) -> Form:
    """Centimetres and metres, or inches and yards, in all tables."""
    message, units = Pane(), (("cm and m", "cm"), ("in and yd", "in"))
    box = labelled(widgets.Dropdown, "show", options=units, value=desk.project.units)
    box.observe(heard(message)(lambda: desk.change(units=box.value)), names="value")
    return Form([box, message])


def keep_form(desk: Desk) -> Form:
    """A button that writes the settings into piece.toml, and whether they have been."""
    message, button = (
        Pane(),
        widgets.Button(
            description="Keep these settings", icon="save", layout=widgets.Layout(width="210px")
        ),
    )

    def show(kept: str = ""):
        if desk.unsaved:
            message.value = notice("the settings have changed and are not kept yet.", trouble=True)
        else:
            message.value = notice(kept or "what you see is what is kept in the piece's folder.")

    @heard(message)
    def keep():
        path = desk.keep()
        show(
            f"kept in {path.parent.name}/{path.name}. Other notebooks take it up when you run them again."
        )

    button.on_click(keep)
    desk.on_change(show)
    show()
    return Form([widgets.HBox([button, message])])


def quick_sum_form(*, units: str = "cm", gauge: Gauge | None = None) -> Form:
    """Stitches in a motif, gauge and tails; how long a piece to wind, with the arithmetic."""
    gauge, answer = gauge or Gauge(), Pane()
    stitches = labelled(widgets.IntText, "stitches in the motif", value=60)
    count = labelled(widgets.FloatText, "gauge: stitches", value=gauge.stitches)
    over = labelled(widgets.FloatText, "over", value=gauge.over)
    unit = labelled(widgets.Dropdown, "lengths in", options=("cm", "in"), value=units)
    tail = labelled(widgets.FloatText, "each tail", value=15 if units == "cm" else 6)

    @heard(answer)
    def show():
        g = Gauge(count.value, count.value, over.value, unit.value)
        total = quick_sum(
            stitches.value, g, tail_cm=tail.value * float(CM_PER[unit.value]), units=unit.value
        )
        answer.value = "<br>".join(map(html.escape, total.lines))

    def other_unit(change):
        # Lengths already typed keep their meaning when the unit changes.
        factor = float(CM_PER[change.old] / CM_PER[change.new])
        over.value, tail.value = round(over.value * factor, 2), round(tail.value * factor, 2)

    unit.observe(other_unit, names="value")
    for box in (stitches, count, over, unit, tail):
        box.observe(show, names="value")
    show()
    return Form([stitches, count, over, tail, unit, answer])


def height_form(desk: Desk) -> Form:
    """How many rows a height takes, and how that compares with the chart."""
    answer, unit = Pane(), desk.project.gauge.unit
    rows = desk.plan.traced.runs.rows
    start = round(rows * desk.project.gauge.row_cm / float(CM_PER[unit]))
    height = labelled(widgets.FloatText, f"wanted height ({unit})", value=start)

    @heard(answer)
    def show():
        need, have = rows_for(height.value, desk.project.gauge, unit), desk.plan.traced.runs.rows
        word = "more" if need > have else "fewer"
        more = (
            "just as many" if need == have else f"{abs(need - have)} {word} than the chart's {have}"
        )
        answer.value = f"{height.value:g} {unit} takes {need} worked rows at this gauge: {more}."

    height.observe(show, names="value")
    desk.on_change(show)
    show()
    return Form([height, answer])


def strand_order_form(desk: Desk, *, rows: int = 14) -> Form:
    """The order of the strands for a stretch of rows, moved with a slider or its arrow keys."""
    last = desk.plan.traced.runs.rows
    peak = int(desk.plan.rows.live.idxmax()) + 1
    first = widgets.IntSlider(
        value=max(1, peak - rows // 2), min=1, max=max(1, last - rows + 1), description="from row", continuous_update=False,
        style=WIDE, layout=widgets.Layout(width="620px"),
    )  # fmt: skip

    def draw(plan):
        end = first.value + rows - 1
        return picture_html(
            draw_strand_order(plan, first.value, end),
            f"Order of the strands in rows {first.value} to {end}",
        )

    pane = desk.pane(draw, slow=True)

    def move(_):
        with desk.lock:
            pane.value = draw(desk.plan)

    first.observe(move, names="value")

    class WithPicture(Form):
        def words(self):
            return pane.value

    return WithPicture([first, pane])


def strand_box(desk: Desk) -> widgets.Dropdown:
    """A choice among the plan's strands, which follows when others are traced."""
    box = labelled(widgets.Dropdown, "strand", options=desk.plan.traced.labels)

    def follow():
        if box.options != desk.plan.traced.labels:
            box.options = desk.plan.traced.labels

    desk.on_change(follow)
    return box


def choice_form(desk: Desk) -> Form:
    """The knitter's own choice of supply for a strand, kept in choices.csv."""
    message, strand = Pane(), strand_box(desk)
    supply = labelled(widgets.Dropdown, "held as", options=("as suggested", *SUPPLIES))
    button = widgets.Button(description="Keep this choice", layout=widgets.Layout(width="210px"))

    @heard(message)
    def keep():
        if desk.project.folder is None:
            raise PlanError("this piece has no folder to keep a choice in.")
        traced, i = desk.plan.traced, desk.plan.traced.labels.index(strand.value)
        yarn, run = traced.chart.letters[traced.yarn[i]], int(traced.first_run[i])
        kept = "" if supply.value == "as suggested" else supply.value
        choice = OwnChoice(
            "supply",
            yarn,
            int(traced.runs.row[run]) + 1,
            int(traced.stitch_number(run)),
            "whole",
            kept,
        )
        keep_choice(desk.project.folder, choice, strand_then=strand.value)
        desk.read_choices_again()
        message.value = notice(f"{strand.value}: {supply.value}. Kept in choices.csv.")

    button.on_click(keep)
    return Form([strand, supply, button, message])


def how_to_wind(plan) -> str:
    """How each kind of supply in the plan is wound and hung."""
    kinds = [kind for kind in SUPPLIES if (plan.supplies.supply == kind).any()]
    return "".join(
        f"<p><b>{kind.capitalize()}.</b> {html.escape(HOW_TO[kind])}</p>" for kind in kinds
    )


# What a notebook needs: the forms, and the pictures that go into the desk's panes.
__all__ = [
    "choice_form", "construction_form", "draw_chart", "draw_load", "draw_strand_order", "draw_strands", "gauge_form", "height_form",
    "how_to_wind", "keep_form", "lengths_form", "limits_form", "quick_sum_form", "strand_order_form", "units_form", "ways_form",
]  # fmt: skip

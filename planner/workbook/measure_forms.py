"""Forms for measuring: the log of measurements, what they say, and planning anew with it."""

from __future__ import annotations

import html
from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import ipywidgets as widgets
import pandas as pd

from planner.errors import PlanError
from planner.folder import log_measurement
from planner.knitting import (
    balls_before_and_after,
    before_and_after,
    by_yarn,
    comparison_in_words,
    most_useful_next,
    planned_against_used,
    planned_interval,
)
from planner.multiplier import (
    arithmetic,
    calibration_of,
    evidence_in,
    judge,
    ratio_of,
    remarks,
    same_as,
    weighed,
)
from planner.pictures import draw_multipliers, draw_used_against_planned
from planner.piece import (
    MARKED,
    SUPPLY,
    UNRAVELLED,
    WAYS,
    WEIGHED,
    WRAPS,
    Measurement,
    MultiplierChoice,
    in_force,
)
from planner.plan import Plan, make_plan
from planner.units import CM_PER, rounded_up
from planner.workbook.desk import Desk, Form, Pane, notice, table_html
from planner.workbook.forms import LINE, heard, labelled, strand_box

HINTS = {
    MARKED: "Mark a length of yarn, knit it in the middle of a row, count the stitches it makes.",
    UNRAVELLED: "Count stitches, unravel them, straighten the yarn without stretching it, measure it.",
    WEIGHED: "Weigh a swatch. Count its stitches over all rows; say how wide its cast-on and bind-off are, if it has them.",
    WRAPS: "Wrap yarn round the needle and measure it: only a guess, taken as ±20 %.",
    SUPPLY: "After a supply of the plan is used: cut the end with its tail, lay what is left straight but unstretched, measure it.",
}


def log_table(desk: Desk) -> pd.DataFrame:
    """The log as a table, each line with the multiplier it gives and whether it counts."""
    held = {m.number for m in in_force(desk.project.measurements)}
    out = []
    for m in desk.project.measurements:
        e = evidence_in(m)
        counts = "corrected" if m.number not in held else "yes" if m.use == "yes" else "left out"
        row = {
            "number": m.number,
            "date": m.date,
            "way": m.way,
            "yarn": m.yarn,
            "fabric": m.fabric,
            "stitches": round(e.stitches),
        }
        row |= {
            "multiplier": f"{ratio_of(m):.2f}",
            "read_to_within": f"±{e.error_cm / e.width_cm:.2f}",
            "counts": counts,
        }
        out.append(row | {"strand": m.strand, "note": m.note})
    return pd.DataFrame(out)


def multiplier_table(desk: Desk) -> pd.DataFrame:
    """What the measurements say of each yarn's multiplier in the piece's fabric, and how much evidence there is."""
    calibration, fabric = calibration_of(desk.project), desk.project.how.fabric
    out = []
    for yarn in desk.project.chart.letters:
        m = calibration.multiplier(yarn, fabric)
        low, high = (float(m.length_at(100.0, p)[0]) / 100 for p in (0.05, 0.95))
        row = {"yarn": yarn, "name": desk.project.all_yarns[yarn].name}
        row |= {"multiplier": f"{m.value:.2f}", "spread": f"±{m.spread:.2f}"}
        row |= {
            "nine_in_ten_rows_of_1_m_take": f"{low:.2f} to {high:.2f} m",
            "stitches_of_evidence": round(m.stitches),
        }
        out.append(row | {"from": m.basis.removeprefix("from ")})
    return pd.DataFrame(out)


def measured_plan(desk: Desk) -> Plan:
    """The plan as it would be with the multipliers measured."""
    if desk.project.multiplier.way == "measured":
        return desk.plan
    return make_plan(replace(desk.project, multiplier=MultiplierChoice("measured")))


def numbers(desk: Desk) -> list[tuple[str, int]]:
    """The lines of the log that a new one may take the place of."""
    return [("none", 0), *((f"number {m.number}", m.number) for m in desk.project.measurements)]


# What each way asks for, by the names of a Measurement, and what all ask for after it.
ASKED = {
    MARKED: ("yarn", "length_cm", "length_step_cm", "stitches"),
    UNRAVELLED: ("yarn", "stitches", "length_cm", "length_step_cm"),
    WEIGHED: (
        "yarn",
        "grams",
        "grams_step",
        "metres_per_gram",
        "metres_per_gram_from",
        "stitches",
        "edge",
        "tails_cm",
    ),
    WRAPS: ("yarn", "wraps", "length_cm"),
    SUPPLY: ("strand", "wound_cm", "left_cm", "length_step_cm"),
}
OF_ITS_GAUGE = ("gauge_stitches", "gauge_over_cm", "gauge_state", "state", "fabric", "needle_mm")
OF_EVERY_WAY = ("way", "date", "length_step_cm", "corrects", "note")
MAY_LACK = ("needle_mm", "metres_per_gram", "corrects")  # 0 is not known, or none


def measuring_fields(desk: Desk) -> SimpleNamespace:
    """The widgets of the measuring form, by the name of what they stand for; lengths are in the unit chosen."""
    choice, number, text = widgets.Dropdown, widgets.FloatText, widgets.Text
    project, states = desk.project, ("as knitted", "blocked")
    over = float(project.gauge.over_cm / CM_PER[project.units])
    return SimpleNamespace(
        units=labelled(choice, "lengths in", options=("cm", "in"), value=project.units),
        way=labelled(choice, "way of measuring", options=WAYS),
        yarn=labelled(choice, "yarn", options=project.chart.letters),
        strand=strand_box(desk),
        fabric=labelled(
            choice, "fabric", options=("stockinette", "garter"), value=project.how.fabric
        ),
        state=labelled(choice, "measured", options=states),
        gauge_state=labelled(choice, "its gauge was counted", options=states),
        needle_mm=labelled(number, "needle (mm), 0 if not known"),
        gauge_stitches=labelled(
            number, "gauge of the same fabric: stitches", value=round(project.gauge.stitches, 4)
        ),
        gauge_over_cm=labelled(number, "over", value=round(over, 4)),
        stitches=labelled(number, "stitches"),
        length_cm=labelled(number, "length of yarn"),
        length_step_cm=labelled(number, "read to the nearest", value=0.1),
        wraps=labelled(number, "wraps", value=10),
        grams=labelled(number, "weight (g)"),
        grams_step=labelled(number, "the scale shows steps of (g)", value=1),
        metres_per_gram=labelled(number, "metres in a gram"),
        metres_per_gram_from=labelled(
            choice, "metres in a gram are from", options=("label", "weighed length")
        ),
        edge=labelled(number, "cast-on and bind-off: stitches wide"),
        tails_cm=labelled(number, "tails, together"),
        wound_cm=labelled(number, "wound"),
        left_cm=labelled(number, "left over"),
        date=labelled(text, "date", value=date.today().isoformat()),
        note=labelled(text, "note"),
        corrects=labelled(choice, "takes the place of", options=numbers(desk)),
        sure=widgets.Checkbox(
            value=False, description="I have checked it: let it count", indent=False, layout=LINE
        ),
    )


def measure_form(desk: Desk) -> Form:
    """One measurement, by any of the ways, with the sum worked out as it is typed; then into the log."""
    fields, hint, answer, message, of_band = measuring_fields(desk), Pane(), Pane(), Pane(), 0.0
    button = widgets.Button(
        description="Log this measurement", icon="pencil", layout=widgets.Layout(width="240px")
    )
    boxes, asked = vars(fields), widgets.VBox()
    lengths = [name for name in boxes if name.endswith("_cm")]

    def made(number: int) -> Measurement:
        allow, way, per = desk.project.allow, fields.way.value, float(CM_PER[fields.units.value])
        names = {*ASKED[way], *OF_ITS_GAUGE, *OF_EVERY_WAY}
        values = {name: boxes[name].value for name in names}
        values |= {name: values[name] * per for name in lengths if name in names}
        values |= {name: values.get(name) or None for name in MAY_LACK}
        if way == SUPPLY:
            measured = {name: values[name] for name in ("wound_cm", "left_cm")}
            values |= supply_values(desk, fields.strand.value) | measured
        if way == WEIGHED:
            if not fields.gauge_stitches.value:
                raise PlanError("The gauge of the same fabric is missing.")
            width = values.pop("edge") * values["gauge_over_cm"] / values["gauge_stitches"]
            values["edges_cm"] = round(width * (allow.cast_on + allow.bind_off), 2)
        return Measurement(**values | {"number": number, "date": fields.date.value.strip()})

    @heard(answer)
    def show():
        hint.value = html.escape(HINTS[fields.way.value])
        needed = {
            WRAPS: [fields.length_cm],
            WEIGHED: [fields.grams, fields.stitches],
            SUPPLY: [fields.wound_cm],
        }
        if not all(
            box.value for box in needed.get(fields.way.value, [fields.length_cm, fields.stitches])
        ):
            answer.value = "The sum appears here when the fields are filled in."
            return
        new = made(max((m.number for m in desk.project.measurements), default=0) + 1)
        questions = judge(new, desk.project.measurements)
        lines = [*map(html.escape, arithmetic(new)), *(notice(q, trouble=True) for q in questions)]
        answer.value = "<br>".join([*lines, *map(html.escape, remarks(new))])

    def choose(_=None):
        nonlocal of_band
        if (
            fields.way.value == WEIGHED and fields.metres_per_gram.value == of_band
        ):  # the band's figure, until another is typed
            yarn = desk.project.all_yarns[fields.yarn.value]
            known = yarn.metres_per_ball and yarn.grams_per_ball
            of_band = fields.metres_per_gram.value = (
                round(yarn.metres_per_ball / yarn.grams_per_ball, 4) if known else 0.0
            )
        if fields.way.value == SUPPLY:
            wound = supply_values(desk, fields.strand.value)["wound_cm"]
            fields.wound_cm.value = round(wound / float(CM_PER[fields.units.value]), 2)
        asked.children = [boxes[name] for name in (*ASKED[fields.way.value], *OF_ITS_GAUGE)]
        show()

    def other_unit(change):
        factor = float(CM_PER[change.old] / CM_PER[change.new])  # what is typed keeps its length
        for name in lengths:
            boxes[name].value = round(boxes[name].value * factor, 4)

    @heard(message)
    def log():
        if desk.project.folder is None:
            raise PlanError("this piece has no folder to keep a log in.")
        new = made(1 + max((m.number for m in desk.project.measurements), default=0))
        questions = judge(new, desk.project.measurements)
        use = "yes" if fields.sure.value or not questions else "no"
        twice = same_as(new, desk.project.measurements)
        if twice:
            raise PlanError(
                f"number {twice.number} says the same already; change something, or let this take its place."
            )
        kept = log_measurement(desk.project.folder, lambda number: replace(made(number), use=use))
        desk.read_measurements_again()
        fields.corrects.options = numbers(desk)
        aside = " It is left out of the multiplier until you have checked it: tick the box and log it once more."
        message.value = notice(
            f"logged as number {kept.number}, multiplier {ratio_of(kept):.2f}.{aside if use == 'no' else ''}"
        )
        # Logged once more after a second look, it takes the place of the line that was left out.
        fields.corrects.value = kept.number if use == "no" else 0
        fields.sure.value = False

    for box in boxes.values():
        box.observe(
            choose if box in (fields.way, fields.strand, fields.yarn) else show, names="value"
        )
    fields.units.observe(other_unit, names="value")
    button.on_click(log)
    desk.on_change(show)
    choose()
    return Form(
        [
            fields.units,
            fields.way,
            hint,
            asked,
            fields.date,
            fields.note,
            fields.corrects,
            answer,
            fields.sure,
            button,
            message,
        ]
    )


def supply_values(desk: Desk, strand: str) -> dict:
    """What the plan knows of a strand: stitches, carries, tails, edges, what it planned, and the length it said to wind."""
    plan = desk.plan
    parts = [part for part in plan.parts if part.label == strand]

    def total(name: str) -> float:
        return sum(getattr(part, name) for part in parts)

    likely, low, high = planned_interval(plan, strand)
    return {
        "strand": strand,
        "yarn": parts[0].yarn,
        "fabric": plan.project.how.fabric,
        "stitches": float(total("stitches")),
        "carried_cm": round(total("carried_cm"), 2),
        "edges_cm": round(total("cast_on_cm") + total("bind_off_cm"), 2),
        "tails_cm": round(total("tails_cm"), 2),
        "wound_cm": rounded_up(total("wound_cm"), plan.project.units),
        "planned_cm": round(likely, 2),
        "planned_low_cm": round(low, 2),
        "planned_high_cm": round(high, 2),
    }


def log_pane(desk: Desk) -> Pane:
    """The log, oldest first."""
    nothing = "Nothing is logged yet. Measure once, and it starts here."
    return desk.pane(
        lambda plan: table_html(log_table(desk)) if plan.project.measurements else nothing
    )


def apply_form(desk: Desk) -> Form:
    """What changes if the plan goes by what was measured, and a button that does so."""
    message, table, balls, opened = Pane(), Pane(), Pane(), desk.plan
    button = widgets.Button(
        description="Plan with what was measured",
        icon="check",
        layout=widgets.Layout(width="260px"),
    )
    once = labelled(
        widgets.FloatText, "a supply may fall short once in", value=desk.project.allow.short_once_in
    )

    def show():
        after = measured_plan(desk)
        table.value = table_html(before_and_after(opened, after))
        balls.value = table_html(balls_before_and_after(opened, after))

    @heard(message)
    def apply():
        desk.change(multiplier=MultiplierChoice("measured"))
        path = desk.keep()
        message.value = notice(
            f"the plan goes by your measurements now; kept in {path.parent.name}/{path.name}. "
            "Run the other notebooks again to see the new lengths there."
        )

    @heard(message)
    def level():
        desk.change(allow=replace(desk.project.allow, short_once_in=once.value))

    once.observe(level, names="value")
    button.on_click(apply)
    desk.on_change(show)
    show()
    return Form([once, table, balls, button, message])


def weigh_form(desk: Desk) -> Form:
    """Metres from grams: a part ball, or all there is of a yarn."""
    answer = Pane()
    yarn = labelled(widgets.Dropdown, "yarn", options=desk.project.chart.letters)
    grams = labelled(widgets.FloatText, "weight (g)", value=50)
    scale = labelled(widgets.FloatText, "the scale shows steps of (g)", value=1)
    wool = widgets.Checkbox(value=True, description="it is wool", indent=False, layout=LINE)

    @heard(answer)
    def show():
        y, units = desk.project.all_yarns[yarn.value], desk.project.units
        if not (y.metres_per_ball and y.grams_per_ball):
            raise PlanError(
                f"Yarn {y.letter} has no metres and grams per ball in yarns.csv. Weigh a measured length instead."
            )
        per_gram, ball = y.metres_per_ball / y.grams_per_ball, y.grams_per_ball
        total = weighed(
            grams.value,
            per_gram,
            step=scale.value,
            grams_per_ball=ball,
            wool=wool.value,
            units=units,
        )
        answer.value = "<br>".join(map(html.escape, total.lines))

    for box in (yarn, grams, scale, wool):
        box.observe(show, names="value")
    desk.on_change(show)
    show()
    return Form([yarn, grams, scale, wool, answer])


def used_pane(desk: Desk) -> Pane:
    """Planned against used: by supply, by yarn, in words."""

    def content(plan: Plan) -> str:
        table = planned_against_used(plan.project.measurements, plan.project.units)
        words = f"<p>{html.escape(comparison_in_words(table))}</p>"
        return words + (
            table_html(table, tall_px=340) + "<br>" + table_html(by_yarn(table))
            if len(table)
            else ""
        )

    return desk.pane(content)


def advice_pane(desk: Desk) -> Pane:
    """Which measurement would narrow the winding list most."""

    def content(plan: Plan) -> str:
        table = most_useful_next(plan, calibration_of(plan.project))
        unit = next(name for name in table if name.startswith("taken_off"))
        best = table.iloc[0]
        saved = f"{best[unit]:.2f} {unit.split('_')[-1]}"
        said = f"Most useful next: {best.measure} in yarn {best.yarn}. It would take about {saved} off all margins."
        return f"<p>{html.escape(said)}</p>" + table_html(table)

    return desk.pane(content)


def used_picture(desk: Desk) -> Pane:
    def used(plan: Plan) -> pd.DataFrame:
        return planned_against_used(plan.project.measurements, plan.project.units)

    return desk.picture(
        lambda plan: draw_used_against_planned(used(plan)),
        lambda plan: comparison_in_words(used(plan)),
    )


def multipliers_picture(desk: Desk) -> Pane:
    return desk.picture(
        lambda plan: draw_multipliers(plan.project.measurements, plan.project.how.fabric),
        lambda plan: "The multiplier of each yarn, measurement by measurement",
    )


__all__ = [
    "advice_pane", "apply_form", "log_pane", "log_table", "measure_form", "multiplier_table", "multipliers_picture", "table_html",
    "used_pane", "used_picture", "weigh_form",
]  # fmt: skip

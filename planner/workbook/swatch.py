"""Notebook 2: what was measured, what it says of the multiplier, and planning anew with it."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import ipywidgets as widgets
import pandas as pd

from planner import pictures
from planner.buying import weighed
from planner.errors import PlanError
from planner.folder import next_number, with_measurement
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
)
from planner.piece import (
    MARKED,
    SUPPLY,
    UNRAVELLED,
    WAYS,
    WEIGHED,
    WRAPS,
    Allowances,
    Measurement,
    MultiplierChoice,
    Project,
    in_force,
)
from planner.plan import Plan, make_plan
from planner.units import (
    CM_PER,
    LENGTH_OF_A_GAUGE,
    LONG_UNIT,
    check_number,
    in_words,
    rounded_up,
    show_total,
    to_cm,
)
from planner.workbook.asking import (
    DeskBoxes,
    asking,
    bind,
    heard,
    number_setting,
    put_all,
    typed_values,
)
from planner.workbook.common import metres_per_gram
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    button,
    length,
    letter_box,
    listed,
    number,
    one_of,
    strand_box,
    text,
    unit_box,
    unit_changes,
    yarn_length,
    yes,
)
from planner.workbook.panes import Form, Pane, lines_html, notice, table_html

HINTS = {
    MARKED: "Mark a length of yarn, knit it in the middle of a row, count the stitches it makes.",
    UNRAVELLED: (
        "Count stitches, unravel them, straighten the yarn without stretching it, measure it."
    ),
    WEIGHED: (
        "Weigh a swatch. Count its stitches over all rows; say how wide its cast-on and bind-off "
        "are, if it has them."
    ),
    WRAPS: "Wrap yarn round the needle and measure it: only a guess, taken as ±20 %.",
    SUPPLY: (
        "After a supply of the plan is used: cut the end with its tail, lay what is left straight "
        "but unstretched, measure it."
    ),
}
# What each way asks for, by the names of a Measurement, and what all of them ask for after it.
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
# What must be filled in before there is a sum to show.
NEEDED = {
    MARKED: ("length_cm", "stitches"),
    UNRAVELLED: ("length_cm", "stitches"),
    WEIGHED: ("grams", "stitches"),
    WRAPS: ("length_cm",),
    SUPPLY: ("wound_cm",),
}
NOTHING_TO_SUM = "The sum appears here when the fields are filled in."
USUAL_STEP = {"cm": 0.1, "in": 0.125}  # a millimetre, or an eighth of an inch
NO_LOG = "this piece has no folder to keep a log in."
NINE_IN_TEN = (0.05, 0.95)


# ---- what was measured, as tables


def log_table(desk: Desk) -> pd.DataFrame:
    """The log as a table, each line with the multiplier it gives and whether it counts."""
    log = desk.project.measurements
    held = {line.number for line in in_force(log)}
    return pd.DataFrame([_log_row(line, line.number in held) for line in log])


def _log_row(line: Measurement, holds: bool) -> dict[str, Any]:
    evidence = evidence_in(line)
    # A line that another one corrects stays in the log, whatever it says of its use.
    counts = "yes" if line.use == "yes" else "left out"
    if not holds:
        counts = "corrected"
    return {
        "number": line.number,
        "date": line.date,
        "way": line.way,
        "yarn": line.yarn,
        "fabric": line.fabric,
        "stitches": round(evidence.stitches),
        "multiplier": f"{ratio_of(line):.2f}",
        "read_to_within": f"±{evidence.error_cm / evidence.width_cm:.2f}",
        "counts": counts,
        "strand": line.strand,
        "note": line.note,
    }


def multiplier_table(desk: Desk) -> pd.DataFrame:
    """One row a yarn of the chart: its multiplier in the piece's fabric, and on what evidence."""
    project = desk.project
    # What was measured, whether the plan goes by it or not yet.
    calibration, fabric = calibration_of(project), project.how.fabric
    unit = LONG_UNIT[project.units]
    rows = []
    for letter in project.chart.letters:
        multiplier = calibration.multiplier(letter, fabric)
        # Metres for a row of one metre, which is a length that a knitter can picture; or yards.
        cm = float(CM_PER[unit])
        low, high = (float(multiplier.length_at(cm, p)[0]) / cm for p in NINE_IN_TEN)
        row = {
            "yarn": letter,
            "name": project.all_yarns[letter].name,
            "multiplier": f"{multiplier.value:.2f}",
            "spread": f"±{multiplier.spread:.2f}",
            f"nine_in_ten_rows_of_1_{unit}_take": f"{low:.2f} to {high:.2f} {unit}",
            "stitches_of_evidence": round(multiplier.stitches),
            "from": multiplier.basis.removeprefix("from "),
        }
        rows.append(row)
    return pd.DataFrame(rows)


def log_pane(desk: Desk) -> Pane:
    """The log, oldest first."""
    nothing = "Nothing is logged yet. Measure once, and it starts here."
    return desk.pane(
        lambda plan: table_html(log_table(desk)) if plan.project.measurements else nothing
    )


def multipliers_picture(desk: Desk) -> Pane:
    """The multiplier of each yarn, measurement by measurement."""
    return desk.picture(
        lambda plan: pictures.draw_multipliers(plan.project.measurements, plan.project.how.fabric),
        lambda plan: "The multiplier of each yarn, measurement by measurement",
    )


def advice_html(plan: Plan) -> str:
    """Which measurement would narrow the winding list most."""
    table = most_useful_next(plan, calibration_of(plan.project))
    unit = LONG_UNIT[plan.project.units]
    best = table.iloc[0]  # they are listed with the most useful one first
    saved = show_total(best[f"taken_off_{unit}"] * float(CM_PER[unit]), plan.project.units)
    advice = (
        f"Most useful next: {best.measure} in yarn {best.yarn}. It would take about {saved} off "
        "all margins."
    )
    return f"<p>{html.escape(advice)}</p>{table_html(table)}"


def advice_pane(desk: Desk) -> Pane:
    """Which measurement would narrow the winding list most."""
    return desk.pane(advice_html)


# ---- planned against used


def used_table(plan: Plan) -> pd.DataFrame:
    """Planned against used, one row a supply that was measured after it was used."""
    return planned_against_used(plan.project.measurements, plan.project.units)


def used_html(plan: Plan) -> str:
    """Planned against used: in words, by supply, by yarn."""
    table = used_table(plan)
    words = f"<p>{html.escape(comparison_in_words(table))}</p>"
    # Without a supply that was measured the words say that there is none yet.
    if not len(table):
        return words
    return f"{words}{table_html(table, tall_px=340)}<br>{table_html(by_yarn(table))}"


def used_pane(desk: Desk) -> Pane:
    """Planned against used: in words, by supply, by yarn."""
    return desk.pane(used_html)


def used_picture(desk: Desk) -> Pane:
    """Planned against used, supply by supply."""
    return desk.picture(
        lambda plan: pictures.draw_used_against_planned(used_table(plan)),
        lambda plan: comparison_in_words(used_table(plan)),
    )


# ---- measuring


def numbers(desk: Desk) -> list[tuple[str, int]]:
    """The lines of the log that a new one may take the place of."""
    lines = [(f"number {line.number}", line.number) for line in desk.project.measurements]
    return [("none", 0), *lines]


def supply_values(desk: Desk, strand: str) -> dict[str, Any]:
    """What the plan knows of a strand, by the names of a Measurement.

    Its stitches, carries, tails and edges, what the plan said it uses, and the length it said to
    wind, in cm.
    """
    # A strand that is begun from its middle has two parts, which were wound as one length.
    plan = desk.plan
    parts = [part for part in plan.parts if part.label == strand]

    def total(name: str) -> float:
        return float(sum(getattr(part, name) for part in parts))

    likely, low, high = planned_interval(plan, strand)
    return {
        "strand": strand,
        "yarn": parts[0].yarn,
        "fabric": plan.project.how.fabric,
        "stitches": total("stitches"),
        "carried_cm": round(total("carried_cm"), 2),
        "edges_cm": round(total("cast_on_cm") + total("bind_off_cm"), 2),
        "tails_cm": round(total("tails_cm"), 2),
        # Each half is measured off rounded up.
        "wound_cm": sum(rounded_up(part.wound_cm, plan.project.units) for part in parts),
        "planned_cm": round(likely, 2),
        "planned_low_cm": round(low, 2),
        "planned_high_cm": round(high, 2),
    }


def measuring_fields(desk: Desk) -> dict[str, widgets.Widget]:
    """The boxes of the measuring form by the names of a Measurement; lengths in the unit chosen."""
    project, states = desk.project, ("as knitted", "blocked")
    gauge, fabrics = project.gauge, ("stockinette", "garter")
    # The gauge of the piece is where that of the swatch begins, until another is counted.
    unit = project.units
    over = LENGTH_OF_A_GAUGE[gauge.unit]
    stitches = float(gauge.stitches_in(to_cm(over, gauge.unit)))
    gauge_over = length("over", over, unit=gauge.unit)
    gauge_over.other_unit(gauge.unit, unit)
    sources = ("label", "weighed length")
    return {
        "units": unit_box(desk),
        "way": one_of("way of measuring", WAYS),
        "yarn": letter_box(desk),
        "strand": strand_box(desk),
        "fabric": one_of("fabric", fabrics, project.how.fabric),
        "state": one_of("measured", states),
        "gauge_state": one_of("its gauge was counted", states),
        "needle_mm": number("needle (mm), 0 if not known"),
        "gauge_stitches": number("gauge of the same fabric: stitches", round(stitches, 4)),
        "gauge_over_cm": gauge_over,
        "stitches": number("stitches"),
        "length_cm": length("length of yarn"),
        "length_step_cm": length("read to the nearest", unit=unit, usual=USUAL_STEP),
        "wraps": number("wraps", 10),
        "grams": number("weight (g)"),
        "grams_step": number("the scale shows steps of (g)", 1),
        "metres_per_gram": yarn_length("{} in a gram", unit=unit),
        "metres_per_gram_from": one_of("length in a gram is from", sources),
        "edge": number("cast-on and bind-off: stitches wide"),
        "tails_cm": length("tails, together"),
        "wound_cm": length("wound"),
        "left_cm": length("left over"),
        "date": text("date", date.today().isoformat()),
        "note": text("note"),
        "corrects": listed("takes the place of", desk, lambda: numbers(desk)),
        "sure": yes("I have checked it: let it count"),
    }


def measurement_of(
    typed: Mapping[str, Any], number: int, allow: Allowances, of_strand: Mapping[str, Any]
) -> Measurement:
    """The measurement with this number that was typed into the measuring form.

    `of_strand` is what the plan knows of the strand chosen (see `supply_values`).
    """
    way, unit = typed["way"], typed["units"]
    values: dict[str, Any] = {}
    # Boxes that another way asks for may still be filled in; they are left alone.
    for name in {*ASKED[way], *OF_ITS_GAUGE, *OF_EVERY_WAY}:
        is_length = name.endswith("_cm")
        if is_length:
            check_number(typed[name], f"{in_words(name.removesuffix('_cm'))} ({unit})")
        values[name] = _in_metric(typed[name], unit) if is_length else typed[name]
    if "metres_per_gram" in values:
        values["metres_per_gram"] = _in_metric(typed["metres_per_gram"], LONG_UNIT[unit]) / 100
    for name in MAY_LACK:
        values[name] = values.get(name) or None
    if way == SUPPLY:
        # The plan knows its strand better than the boxes do, except for what was measured.
        measured = {name: values[name] for name in ("wound_cm", "left_cm")}
        values |= {**of_strand, **measured}
    if way == WEIGHED:
        # Said here, before it is divided by; the other ways leave it to the measurement.
        if not values["gauge_stitches"]:
            raise PlanError("The gauge of the same fabric is missing.")
        width = values.pop("edge") * values["gauge_over_cm"] / values["gauge_stitches"]
        values["edges_cm"] = round(width * (allow.cast_on + allow.bind_off), 2)
    values["number"], values["date"] = number, typed["date"].strip()
    return Measurement(**values)


def _in_metric(length: float, unit: str) -> float:
    """A length in cm, without the last wrong digits of a float: 2 m shown in yards are 2 m."""
    return round(length * float(CM_PER[unit]), 6)


def sum_html(new: Measurement, log: Sequence[Measurement], units: str = "cm") -> str:
    """The sum that leads to a measurement's multiplier, and what is to be asked or known of it."""
    # Sum, questions, remarks: what is wrong stands below what it is about.
    questions = [notice(question, trouble=True) for question in judge(new, log)]
    sums = [html.escape(line) for line in arithmetic(new, units)]
    worth_knowing = [html.escape(remark) for remark in remarks(new, log)]
    return "<br>".join(sums + questions + worth_knowing)


class _Measuring:
    """The measuring form at work: its boxes, the sum as it is typed, the line that is logged."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.boxes = measuring_fields(desk)
        self.hint, self.answer, self.message = Pane(), Pane(), Pane()
        self.asked = widgets.VBox()
        # The length in a gram that was filled in from a yarn's band, not typed, and its unit.
        self._from_band = 0.0, desk.project.units
        self._watch()

    def _watch(self) -> None:
        # First, so that every sum is made of lengths in the unit that is chosen.
        unit_changes(self.boxes["units"], self.boxes.values())
        show = heard(self.answer)(self.show)
        for name, box in self.boxes.items():
            changes_more = name in ("way", "strand", "yarn")
            box.observe(self._chosen if changes_more else show, names="value")
        self.desk.on_change(show)
        self._chosen()

    def typed(self) -> dict[str, Any]:
        """What stands in the boxes."""
        return typed_values(self.boxes, "units")

    def measurement(self, number: int) -> Measurement:
        """The measurement as it is typed."""
        # The plan is asked each time: it may know another length of the strand by now.
        typed, of_strand = self.typed(), {}
        if typed["way"] == SUPPLY:
            of_strand = supply_values(self.desk, typed["strand"])
        return measurement_of(typed, number, self.desk.project.allow, of_strand)

    def show(self) -> None:
        """Show the sum for what is typed so far."""
        typed, log = self.typed(), self.desk.project.measurements
        self.hint.value = html.escape(HINTS[typed["way"]])
        # With nothing filled in, every sum would be refused and look like a mistake.
        if all(typed[name] for name in NEEDED[typed["way"]]):
            new = self.measurement(next_number(log))
            self.answer.value = sum_html(new, log, typed["units"])
        else:
            self.answer.value = NOTHING_TO_SUM

    def _chosen(self, _: Any = None) -> None:
        """Another way, strand or yarn: ask what belongs to it, and fill in what is known of it."""
        way = self.boxes["way"].value
        if way == WEIGHED:
            self._fill_in_band()
        if way == SUPPLY:
            self._fill_in_wound()
        self.asked.children = [self.boxes[name] for name in (*ASKED[way], *OF_ITS_GAUGE)]
        heard(self.answer)(self.show)()

    def _fill_in_band(self) -> None:
        box = self.boxes["metres_per_gram"]
        unit = self.boxes["units"].value
        if box.typed(unit) == self._from_band:  # until another figure is typed
            yarn = self.desk.project.all_yarns[self.boxes["yarn"].value]
            # In metres, as the band has it: what is weighed by one band is known by this figure.
            self._from_band = round(metres_per_gram(yarn) or 0.0, 4), "cm"
            box.put(*self._from_band, unit)

    def _fill_in_wound(self) -> None:
        wound_cm = supply_values(self.desk, self.boxes["strand"].value)["wound_cm"]
        self.boxes["wound_cm"].put(round(wound_cm, 2), "cm", self.boxes["units"].value)

    def log(self) -> None:
        """Put what is typed into the log; what raises a question counts only once it is ticked."""
        desk, sure, corrects = self.desk, self.boxes["sure"], self.boxes["corrects"]
        desk.folder(NO_LOG)
        log = desk.project.measurements
        new = self.measurement(next_number(log))
        # What is impossible is refused by now; what is only odd is asked about.
        use = "yes" if sure.value or not judge(new, log) else "no"
        twice = same_as(new, log)
        if twice:
            raise PlanError(
                f"number {twice.number} says the same already; change something, or let this take "
                "its place."
            )
        # The number is given once more: another notebook may have logged a line.
        desk.act(
            lambda held: replace(
                held,
                measurements=with_measurement(
                    held.measurements, lambda number: replace(self.measurement(number), use=use)
                ),
            )
        )
        logged = desk.project.measurements[-1]
        words = f"logged as number {logged.number}, multiplier {ratio_of(logged):.2f}."
        if use == "no":
            words += (
                " It is left out of the multiplier until you have checked it: tick the box and log "
                "it once more."
            )
        self.message.value = notice(words)
        # Logged once more after a second look, it takes the place of the line that was left out.
        corrects.value = logged.number if use == "no" else 0
        sure.value = False


def measure_form(desk: Desk) -> Form:
    """One measurement, by any of the ways, the sum worked out as it is typed; then into the log."""
    measuring = _Measuring(desk)
    boxes = measuring.boxes
    log_button = button("Log this measurement", icon="pencil", width="240px")
    log_button.on_click(heard(measuring.message)(measuring.log))
    return Form(
        [
            boxes["units"],
            boxes["way"],
            measuring.hint,
            measuring.asked,
            boxes["date"],
            boxes["note"],
            boxes["corrects"],
            measuring.answer,
            boxes["sure"],
            log_button,
            measuring.message,
        ]
    )


# ---- planning with what was measured


def measured_plan(desk: Desk) -> Plan:
    """The plan as it would be with the multipliers measured."""
    # The plan on the desk is that plan already; it need not be made twice.
    if desk.project.multiplier.way == "measured":
        return desk.plan
    return make_plan(replace(desk.project, multiplier=MultiplierChoice("measured")))


def apply_form(desk: Desk) -> Form:
    """What changes if the plan goes by what was measured, and a button that does so."""
    # What changes is told against the plan as it was opened, also after it was applied.
    message, table, balls, opened = Pane(), Pane(), Pane(), desk.plan
    apply_button = button("Plan with what was measured", icon="check", width="260px")
    once = number_setting("short_once_in", "a supply may fall short once in")

    def show(project: Project) -> None:
        put_all([once], project.allow, project)
        after = measured_plan(desk)
        table.value = table_html(before_and_after(opened, after))
        balls.value = table_html(balls_before_and_after(opened, after))

    @heard(message)
    def apply() -> None:
        desk.change(multiplier=MultiplierChoice("measured"))
        message.value = notice(
            "the plan goes by your measurements now. The other notebooks take it up by themselves."
        )

    boxes = DeskBoxes(desk, message, show)
    bind(boxes, [once], lambda project: project.allow, lambda _, allow: {"allow": allow})
    boxes.follow()
    apply_button.on_click(apply)
    return Form([once.box, table, balls, apply_button, message])


# ---- by weight


def weighed_html(project: Project, *, letter: str, grams: float, scale: float, wool: bool) -> str:
    """Metres from grams of a yarn, weighed on a scale that shows steps of so many grams."""
    yarn = project.all_yarns[letter]
    per_gram = metres_per_gram(yarn)
    if per_gram is None:
        raise PlanError(
            f"Yarn {letter} has no length and weight of a ball in yarns.csv. Weigh a measured "
            "length instead."
        )
    total = weighed(
        grams,
        per_gram,
        step=scale,
        grams_per_ball=yarn.grams_per_ball,
        wool=wool,
        units=project.units,
    )
    return lines_html("\n".join(total.lines))


def weigh_form(desk: Desk) -> Form:
    """Metres from grams: a part ball, or all there is of a yarn."""
    return asking(
        lambda **typed: weighed_html(desk.project, **typed),
        desk=desk,
        letter=letter_box(desk),
        grams=number("weight (g)", 50),
        scale=number("the scale shows steps of (g)", 1),
        wool=yes("it is wool", True),
    )

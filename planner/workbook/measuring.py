"""Notebook 2: the form to measure, which shows the sum as it is typed, checks it and logs it."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import ipywidgets as widgets

from planner.errors import PlanError
from planner.folder import next_number, with_measurement
from planner.knitting import (
    planned_interval,
)
from planner.multiplier import (
    arithmetic,
    calibration_of,
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
    Project,
    in_force,
)
from planner.units import (
    CM_PER,
    LENGTH_OF_A_GAUGE,
    LONG_UNIT,
    check_number,
    in_words,
    rounded_up,
    to_cm,
)
from planner.workbook.asking import (
    heard,
    typed_values,
)
from planner.workbook.common import BY_WHAT_WAS_MEASURED, metres_per_gram
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    LengthBox,
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
    values_of,
    yarn_length,
)
from planner.workbook.folds import Fold
from planner.workbook.from_chart import also_box, log_in_piece
from planner.workbook.labels import with_help
from planner.workbook.panes import Form, Pane, notice

HINTS = {
    MARKED: "Mark a length of yarn, knit it in the middle of a row, count the stitches it makes.",
    UNRAVELLED: (
        "Count stitches, unravel them, straighten the yarn without stretching it, measure it."
    ),
    WEIGHED: (
        "Weigh a swatch. Count its stitches over all rows; say how wide its cast-on and bind-off "
        "are, if it has them."
    ),
    WRAPS: "Wrap yarn round the needle and measure it: only a guess, which may be out by a fifth.",
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
# What of it is out of sight until it is wanted.
SELDOM_ASKED = ("units", "length_step_cm", "date", "note")
# What the plan knows of a strand, by the names of a Measurement.
OF_A_STRAND = (
    *("strand", "yarn", "fabric", "stitches", "carried_cm", "edges_cm", "tails_cm"),
    *("planned_cm", "planned_low_cm", "planned_high_cm"),
)
OF_EVERY_WAY = ("way", "date", "length_step_cm", "corrects", "note")
MAY_LACK = ("needle_mm", "metres_per_gram", "corrects")  # 0 is not known, or none
# What is of one measurement alone, and is taken out of the form when that is logged.
MEASURED_ONCE = (
    *("stitches", "length_cm", "grams", "edge", "tails_cm", "wound_cm", "left_cm"),
    "note",
)
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
NEW = "a new measurement"
CHECKED = "Yes, I have checked it: log it"
# Not marked as trouble once more: the question itself stands just below.
LOOK_AGAIN = (
    '<span role="status">Not logged yet. Look at the question below: if all is right, say so with '
    "the other button.</span>"
)


def numbers(desk: Desk) -> list[tuple[str, int]]:
    """The lines of the log that a new one may take the place of, the last first."""
    lines = []
    for line in reversed(in_force(desk.project.measurements)):
        left_out = "" if line.use == "yes" else ", does not count yet"
        words = f"{line.number}: {line.strand or line.yarn}, {line.way}, {line.date}{left_out}"
        lines.append((f"in place of {words}", line.number))
    return [(NEW, 0), *lines]


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
    fabrics, unit = ("stockinette", "garter"), project.units
    # The gauge of the piece is where that of the swatch begins, until another is counted.
    begins = _begins_with(project)
    over, its_unit = begins["over"]
    gauge_over = length("over", over, unit=its_unit)
    gauge_over.other_unit(its_unit, unit)
    sources = ("label", "weighed length")
    return {
        "units": unit_box(desk),
        "way": one_of("way of measuring", WAYS),
        "yarn": letter_box(desk),
        "strand": strand_box(desk),
        "fabric": one_of("fabric", fabrics, project.how.fabric),
        "state": one_of("measured", states),
        "gauge_state": one_of("its gauge was counted", states),
        "needle_mm": number("needle, 0 if not known (mm)"),
        "gauge_stitches": number("gauge of the same fabric: stitches", begins["stitches"]),
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
        "corrects": listed("this is", desk, lambda: numbers(desk)),
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
    asked = judge(new, log)
    # One mark for all of them: two marks in a row read as one thing said twice.
    questions = [notice(" ".join(asked), trouble=True)] if asked else []
    sums = [html.escape(line) for line in arithmetic(new, units)]
    worth_knowing = [html.escape(remark) for remark in remarks(new, log)]
    return "<br>".join(sums + questions + worth_knowing)


def typed_before(line: Measurement, allow: Allowances) -> dict[str, Any]:
    """What stood in the boxes when a line was logged, by their names; lengths in cm."""
    of_its_way = {*ASKED[line.way], *OF_ITS_GAUGE, *OF_EVERY_WAY} - {"corrects", "edge"}
    values = {name: getattr(line, name) or 0 for name in of_its_way - {"note"}}
    values["note"] = line.note
    in_edges = allow.cast_on + allow.bind_off
    if line.way == WEIGHED and in_edges:
        edge = line.edges_cm / in_edges * line.gauge_stitches / line.gauge_over_cm
        values["edge"] = round(edge, 1)
    return values


class _Measuring:
    """The measuring form at work: its boxes, the sum as it is typed, the line that is logged."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.boxes = measuring_fields(desk)
        self.hint, self.answer, self.message = Pane(), Pane(), Pane()
        self.hint.add_class("plan-note")
        self.asked = widgets.VBox()
        self.asked.add_class("plan-fields")
        self._fields = {name: with_help(box) for name, box in self.boxes.items()}
        self.its_gauge = Fold("", lambda: self._form(OF_ITS_GAUGE))
        self.more = Fold("", lambda: self._form(SELDOM_ASKED))
        self.also = also_box(desk)
        self.log_button = button("Log this measurement", icon="pencil", width="240px")
        self.checked_button = button(CHECKED, width="auto")
        self.log_button.on_click(heard(self.message)(self.log))
        self.checked_button.on_click(heard(self.message)(self._log_checked))
        # The length in a gram that was filled in from a yarn's band, not typed, and its unit.
        self._from_band = 0.0, desk.project.units
        self._begun = _begins_with(desk.project)
        self._filling_in = False
        self._watch()

    def _watch(self) -> None:
        # First, so that every sum is made of lengths in the unit that is chosen.
        unit_changes(self.boxes["units"], self.boxes.values())
        for name, box in self.boxes.items():
            changes_more = name in ("way", "strand", "yarn")
            box.observe(self._chosen if changes_more else self._typed, names="value")
        # Beside another box its longest words would be cut.
        self.boxes["corrects"].add_class("plan-line")
        self.boxes["corrects"].observe(self._fill_in_line, names="value")
        self.desk.on_change(self._follow)
        self.desk.on_arrival(self._another_piece)
        self._chosen()

    def _form(self, names: Iterable[str]) -> Form:
        return Form([self.boxes[name] for name in names])

    def typed(self) -> dict[str, Any]:
        """What stands in the boxes."""
        return typed_values(self.boxes, "units")

    def measurement(self, number: int) -> Measurement:
        """The measurement as it is typed."""
        typed, of_strand = self.typed(), {}
        if typed["way"] == SUPPLY:
            of_strand = self._known_of(typed["strand"])
        return measurement_of(typed, number, self.desk.project.allow, of_strand)

    def _known_of(self, strand: str) -> dict[str, Any]:
        """What is known of a strand beside what was measured: by the plan as it stands now."""
        corrected = self._corrected()
        # A line that is put right was planned when it was logged, not now.
        if corrected is not None and corrected.strand == strand:
            return {name: getattr(corrected, name) for name in OF_A_STRAND}
        return supply_values(self.desk, strand)

    def _corrected(self) -> Measurement | None:
        """The line of the log that is to be put right, if one is."""
        lines = self.desk.project.measurements
        return next((line for line in lines if line.number == self.boxes["corrects"].value), None)

    def show(self) -> None:
        """Show the sum for what is typed so far."""
        typed, log = self.typed(), self.desk.project.measurements
        self.hint.value = html.escape(HINTS[typed["way"]])
        self.its_gauge.heading.description = gauge_line(typed)
        self.more.heading.description = more_line(typed)
        # With nothing filled in, every sum would be refused and look like a mistake.
        if all(typed[name] for name in NEEDED[typed["way"]]):
            new = self.measurement(next_number(log))
            self.answer.value = sum_html(new, log, typed["units"])
        else:
            self.answer.value = NOTHING_TO_SUM

    def _typed(self, _: Any = None) -> None:
        if not self._filling_in:
            # What is checked is checked as it stands.
            self.checked_button.layout.display = "none"
            heard(self.answer)(self.show)()

    def _chosen(self, _: Any = None) -> None:
        """Another way, strand or yarn: ask what belongs to it, and fill in what is known of it."""
        if self._filling_in:
            return
        way = self.boxes["way"].value
        if way == WEIGHED:
            self._fill_in_band()
        if way == SUPPLY:
            self._fill_in_wound()
        self._ask(way)
        self._typed()

    def _ask(self, way: str) -> None:
        names = [name for name in ASKED[way] if name not in SELDOM_ASKED]
        self.asked.children = [self._fields[name] for name in ("corrects", "way", *names)]

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

    def _fill_in_line(self, _: Any = None) -> None:
        """Fill in what stands in the line that is to be put right, so that little is retyped."""
        line = self._corrected()
        if line is None:
            return
        values, unit = typed_before(line, self.desk.project.allow), self.boxes["units"].value
        self._filling_in = True
        try:
            # The way first, for it is what the others belong to.
            for name in ("way", *values):
                _put(self.boxes[name], values[name], unit)
        finally:
            self._filling_in = False
        self._ask(self.boxes["way"].value)
        self._typed()

    def _follow(self) -> None:
        """Take up another gauge of the piece, where none of the swatch's own was typed."""
        before, now = self._begun, _begins_with(self.desk.project)
        if now != before:
            self._begun = now
            unit = self.boxes["units"].value
            if self.boxes["fabric"].value == before["fabric"]:
                self.boxes["fabric"].value = now["fabric"]
            if self.boxes["gauge_stitches"].value == before["stitches"]:
                self.boxes["gauge_stitches"].value = now["stitches"]
                self.boxes["gauge_over_cm"].put(*now["over"], unit)
        heard(self.answer)(self.show)()

    def _another_piece(self) -> None:
        # Its log has other lines under these numbers.
        self._empty()
        self.message.value = ""

    def _empty(self) -> None:
        """Take out what was measured, so that one press more logs it nowhere a second time."""
        self.checked_button.layout.display = "none"
        unit = self.boxes["units"].value
        self._filling_in = True
        try:
            for name in ("corrects", *MEASURED_ONCE):
                box = self.boxes[name]
                _put(box, "" if name == "note" else 0, unit)
        finally:
            self._filling_in = False
        self._typed()

    def log(self) -> None:
        """Put what is typed into the log; what raises a question is asked about once."""
        self.desk.folder(NO_LOG)
        log = self.desk.project.measurements
        # What is impossible is refused here; what is only odd is asked about.
        new = self.measurement(next_number(log))
        self._refuse_the_same(new)
        if judge(new, log):
            self.checked_button.layout.display = ""
            self.message.value = LOOK_AGAIN
            return
        self._log_checked()

    def _refuse_the_same(self, new: Measurement) -> None:
        twice = same_as(new, self.desk.project.measurements)
        if twice:
            raise PlanError(
                f"number {twice.number} says the same already; change something, or let this take "
                "its place."
            )

    def _log_checked(self) -> None:
        desk = self.desk
        self._refuse_the_same(self.measurement(next_number(desk.project.measurements)))
        # The number is given once more: another notebook may have logged a line.
        desk.act(
            lambda held: replace(
                held, measurements=with_measurement(held.measurements, self.measurement)
            )
        )
        logged = desk.project.measurements[-1]
        also = log_in_piece(desk.project, logged) if self.also.value else ""
        self._empty()
        now = calibration_of(desk.project).multiplier(logged.yarn, logged.fabric)
        self.message.value = notice(
            f"logged as number {logged.number}, multiplier {ratio_of(logged):.2f}. Yarn "
            f"{logged.yarn} is now taken as {now}.{also}{_what_lengths_do(desk.project)}"
        )


def _what_lengths_do(project: Project) -> str:
    """Whether the lengths to wind go by what was logged, in words."""
    if project.multiplier.way == "measured":
        return " The lengths to wind follow."
    return f" The lengths to wind follow once you press “{BY_WHAT_WAS_MEASURED}”."


def _begins_with(project: Project) -> dict[str, Any]:
    """What the boxes for the gauge of a swatch begin with, until another is counted."""
    gauge = project.gauge
    over = LENGTH_OF_A_GAUGE[gauge.unit]
    stitches = round(float(gauge.stitches_in(to_cm(over, gauge.unit))), 4)
    return {
        "fabric": project.how.fabric,
        "stitches": stitches,
        "over": (over, gauge.unit),
    }


def _put(box: widgets.Widget, value: Any, unit: str) -> None:
    """Show a value of a line of the log, lengths in cm, in a box of the form."""
    if isinstance(box, LengthBox):
        box.put(value, "cm", unit)
    elif not hasattr(box, "options") or value in values_of(box):
        box.value = value


def gauge_line(typed: Mapping[str, Any]) -> str:
    """The gauge of what is measured, its fabric and its state, in a line."""
    stitches, over = f"{typed['gauge_stitches']:g}", f"{typed['gauge_over_cm']:.4g}"
    counted_in = typed["gauge_state"]
    state = typed["state"] if typed["state"] == counted_in else f"counted {counted_in}"
    return (
        f"Its gauge: {stitches} stitches over {over} {typed['units']}, {typed['fabric']}, {state}"
    )


def more_line(typed: Mapping[str, Any]) -> str:
    """The date, and how lengths are read, in a line."""
    step = f"{typed['length_step_cm']:g} {typed['units']}"
    return f"Dated: {typed['date']}, lengths read to {step}"


def measure_form(desk: Desk) -> Form:
    """One measurement, by any of the ways, the sum worked out as it is typed; then into the log."""
    measuring = _Measuring(desk)
    actions = widgets.VBox([measuring.log_button, measuring.checked_button, measuring.also])
    actions.add_class("plan-actions")
    # Beside the buttons, for what grows above a button moves it away under the hand: the sum is
    # worked out when the last box is left, which is when the button is pressed.
    said = widgets.VBox([measuring.message, measuring.answer])
    logging = widgets.HBox([actions, said])
    logging.add_class("plan-logging")
    above = [measuring.asked, measuring.hint, measuring.its_gauge, measuring.more]
    return Form([*above, logging])

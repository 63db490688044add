"""Forms that stand in several notebooks: the gauge, carry limits, units; and keeping choices."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from planner.errors import PlanError
from planner.folder import settled
from planner.piece import (
    CarryLimits,
    Gauge,
    MultiplierChoice,
    OwnChoice,
    Project,
    Yarn,
    in_force,
)
from planner.plan import Plan
from planner.strands import Strands
from planner.units import CM_PER, show_measured
from planner.workbook.asking import (
    UNITS_IN_WORDS,
    DeskBoxes,
    Setting,
    bind,
    fields_form,
    hear_unit,
    heard,
    limit_setting,
    put_all,
    title,
    yes_setting,
)
from planner.workbook.desk import Desk
from planner.workbook.fields import (
    UNITS,
    LengthBox,
    button,
    length,
    letter_box,
    number,
    offer,
    one_of,
    yes,
)
from planner.workbook.folds import SideBySide
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.results import result_pane

BY_WHAT_WAS_MEASURED = "Plan with what was measured"
BY_MEASURED = (
    "the plan goes by your measurements now. The other notebooks take it up by themselves."
)
NO_CHOICES = "This piece has no folder to keep a choice in. Open one that has."

# ---- the gauge

Count = tuple[float, float]  # how many, and over which length

COUNTED = ("stitches", "rows")
LENGTH_OF_CARRIES = (
    "The longest carries you allow: a number, or a length such as {}, which holds at any gauge. "
    "0 is never."
)
A_LENGTH = {"cm": "2.5 cm", "in": "1 in"}


def gauge_of_counts(stitches: Sequence[Count], rows: Sequence[Count], unit: str) -> Gauge:
    """The gauge from counts over a length, each kept as it was made.

    One of several lines is left out until both the count and its length are filled in.
    """
    stitches, rows = _that_count(stitches), _that_count(rows)
    # One count of each kind, both over the same length, needs no words.
    if len(stitches) == len(rows) == 1 and stitches[0][1] == rows[0][1]:
        (across, over), (up, _) = stitches[0], rows[0]
        return Gauge(across, up, over, unit)
    return Gauge(_counts_in_words(stitches, "stitches"), _counts_in_words(rows, "rows"), unit=unit)


def _counts_in_words(counts: Sequence[Count], noun: str) -> str:
    if not counts:
        raise PlanError(f"No count of {noun} is filled in. Give how many, and over which length.")
    return ", ".join(f"{count:.10g} over {over:.10g}" for count, over in counts)


def _that_count(counts: Sequence[Count]) -> Sequence[Count]:
    # A single line counts as it is, so that what is wrong with it is said.
    return counts if len(counts) == 1 else _filled_in(counts)


def _filled_in(counts: Sequence[Count]) -> list[Count]:
    return [(count, over) for count, over in counts if count and over]


def gauge_in_words(plan: Plan) -> str:
    """The size of a stitch, and how large the chart comes out."""
    gauge, chart, units = plan.project.gauge, plan.project.chart, plan.project.units
    stitch, row = (_stitch_in_words(cm, units) for cm in (gauge.stitch_cm, gauge.row_cm))
    width = chart.columns * gauge.stitch_cm / float(CM_PER[units])
    height = plan.traced.runs.rows * gauge.row_cm / float(CM_PER[units])
    return (
        f"A stitch is {stitch} wide and a row {row} high. "
        f"The chart comes out {width:.1f} × {height:.1f} {units}."
    )


def _stitch_in_words(length_cm: float, units: str) -> str:
    """The width of a stitch or the height of a row: "5.00 mm", "0.197 in"."""
    return show_measured(length_cm, "in", 3) if units == "in" else f"{length_cm * 10:.2f} mm"


class _GaugeLines:
    """Lines of counts, each with the length it was counted over, and the unit of these lengths.

    Another unit shows the same lengths otherwise; what was typed stays as it is until it is
    touched.
    """

    def __init__(
        self,
        hear: Callable[[widgets.Widget], None],
        quietly: Callable[[Callable[[], None]], None],
    ):
        self._hear = hear
        self.unit = one_of("lengths measured in", UNITS)
        # Stitches beside rows.
        self.columns = {what: widgets.VBox() for what in COUNTED}
        # What stood in the boxes when they last came to the gauge that holds.
        self._accepted: tuple[Gauge | None, dict[widgets.Widget, Any]] = (None, {})
        self.unit.observe(
            lambda change: quietly(lambda: self._other_unit(change.old, change.new)), names="value"
        )

    def add(self, what: str, count: float = 0.0, over: float = 0.0) -> None:
        """One line more, of stitches or of rows."""
        count_box, over_box = number(what, count), length("over", over, unit=self.unit.value)
        line = widgets.HBox([count_box, over_box])
        line.add_class("plan-count")
        self.columns[what].children += (line,)
        for box in line.children:
            self._hear(box)

    def gauge(self) -> Gauge:
        """The gauge that the lines come to."""
        # Lengths that were typed in one unit are the gauge's own; otherwise they are in that shown.
        overs = [box for box in self._boxes() if isinstance(box, LengthBox)]
        typed_in = {over.typed(self.unit.value)[1] for over in overs if over.value}
        unit = typed_in.pop() if len(typed_in) == 1 else self.unit.value
        counts: dict[str, list[Count]] = {}
        for what, column in self.columns.items():
            boxes = [line.children for line in column.children]
            counts[what] = [(count.value, self._meant(over, unit)) for count, over in boxes]
        return gauge_of_counts(counts["stitches"], counts["rows"], unit)

    def _meant(self, over: LengthBox, unit: str) -> float:
        """A length in this unit."""
        number, its_unit = over.typed(self.unit.value)
        return number if its_unit == unit else number * float(CM_PER[its_unit] / CM_PER[unit])

    def _other_unit(self, old: str, new: str) -> None:
        for box in self._boxes():
            if isinstance(box, LengthBox):
                box.other_unit(old, new)
        held, _ = self._accepted
        if held and self._come_to(held):
            self.accept(held)

    def show(self, gauge: Gauge) -> None:
        """Show the gauge that holds; lines that come to it already stay as they were counted."""
        held, values = self._accepted
        # The desk's gauge may be ours, ours before a line was refused, or from elsewhere.
        if self._come_to(gauge):
            self.accept(gauge)
        elif gauge == held:
            for box in self._boxes():
                box.value = values.get(box, box.value)
        else:
            self._start_anew(gauge)

    def accept(self, gauge: Gauge) -> None:
        """Take down what stands in the lines, which come to this gauge."""
        self._accepted = gauge, {box: box.value for box in self._boxes()}

    def _come_to(self, gauge: Gauge) -> bool:
        try:
            return self.gauge() == gauge
        except PlanError:
            return False

    def _start_anew(self, gauge: Gauge) -> None:
        self.unit.value = gauge.unit
        for what, counts in zip(COUNTED, (gauge.stitch_counts, gauge.row_counts), strict=True):
            self.columns[what].children = ()
            for count, over in counts:
                self.add(what, float(count), float(over))
        self.accept(gauge)

    def _boxes(self) -> list[widgets.Widget]:
        lines = [line for column in self.columns.values() for line in column.children]
        return [box for line in lines for box in line.children]


def gauge_form(desk: Desk) -> Form:
    """Stitches and rows, each counted over any length, once or several times."""
    message = Pane()
    boxes = DeskBoxes(desk, message, lambda project: lines.show(project.gauge))

    # Several lines make one gauge, so that all of them are read whichever is touched.
    def changes() -> Mapping[str, Any]:
        gauge = lines.gauge()
        if gauge == desk.project.gauge:
            lines.accept(gauge)  # a line that is filled in by half stays so
            return {}
        return {"gauge": gauge}

    lines = _GaugeLines(lambda box: boxes.hear(box, changes), boxes.quietly)
    boxes.follow()
    columns = [_with_button(lines, what) for what in COUNTED]
    fields = [lines.unit, SideBySide(columns), message, quiet(desk, gauge_in_words)]
    return Form([result_pane(desk), *fields])


def _with_button(lines: _GaugeLines, what: str) -> widgets.VBox:
    """The lines of one kind, and a button for one more."""
    add = button(f"Another count of {what}", icon="plus")
    add.on_click(lambda _: lines.add(what))
    return widgets.VBox([lines.columns[what], add])


# ---- carry limits


def limit_settings() -> list[Setting]:
    """The fields of carry limits, each with a box of its own."""
    return [
        limit_setting("across", "across, in one row", "stitches"),
        limit_setting("sideways", "sideways, to the next row", "stitches"),
        limit_setting("up", "up, past rows without it", "rows"),
        yes_setting("middle_start", "a length may be begun from its middle"),
    ]


def limits_of(project: Project, letter: str) -> CarryLimits:
    """The limits that hold for a yarn: its own, or the general ones."""
    return project.by_yarn.get(letter, project.limits)


def with_own_limits(project: Project, letter: str, limits: CarryLimits | None) -> dict[str, Any]:
    """What to change so that a yarn has limits of its own, or, with None, has none any more."""
    # Copied, for a project is never changed in place.
    by_yarn = {each: own for each, own in project.by_yarn.items() if each != letter}
    if limits is not None:
        by_yarn[letter] = limits
    return {"by_yarn": by_yarn}


def limits_form(desk: Desk) -> Form:
    """How far yarns may be carried: all of them, and single yarns that have limits of their own."""
    general = fields_form(desk, "limits", ["All yarns", *limit_settings()])
    note = quiet(desk, lambda plan: LENGTH_OF_CARRIES.format(A_LENGTH[plan.project.units]))
    return Form([result_pane(desk), note, SideBySide([general, own_limits_form(desk)])])


def own_limits_form(desk: Desk) -> Form:
    """How far a single yarn may be carried, if it has limits of its own."""
    message, settings = Pane(), limit_settings()
    letter = letter_box(desk)
    has_own = yes("this yarn has limits of its own")

    def show(project: Project) -> None:
        has_own.value = letter.value in project.by_yarn
        put_all(settings, limits_of(project, letter.value), project)
        for setting in settings:
            setting.box.disabled = not has_own.value

    def give_or_take() -> Mapping[str, Any]:
        # Its own limits begin as those that have held so far.
        own = limits_of(desk.project, letter.value) if has_own.value else None
        return with_own_limits(desk.project, letter.value, own)

    # Boxes of a yarn without limits of its own show the general ones, and cannot be touched.
    boxes = DeskBoxes(desk, message, show)
    boxes.hear(has_own, give_or_take)
    bind(
        boxes,
        settings,
        held=lambda project: limits_of(project, letter.value),
        put=lambda project, limits: with_own_limits(project, letter.value, limits),
    )

    # A yarn that has limits of its own is looked at first.
    def look_first() -> None:
        offer(letter, desk.project.chart.letters)
        letter.value = next(filter(desk.project.by_yarn.get, letter.options), letter.options[0])

    look_first()
    desk.on_arrival(lambda: boxes.quietly(look_first))
    boxes.follow()
    letter.observe(boxes.show, names="value")
    heads = [title("One yarn by itself"), letter, has_own]
    return Form([*heads, *(setting.box for setting in settings), message])


# ---- words that stand back


def quiet(desk: Desk, words: Callable[[Plan], str]) -> Pane:
    """A pane of plain text that stands back: what is to be known beside the result."""
    pane = desk.words(words)
    pane.add_class("plan-note")
    return pane


# ---- what several notebooks look up


def letter_of(traced: Strands, strand: str) -> str:
    """The yarn of the strand with this label."""
    return traced.chart.letters[traced.yarn[traced.labels.index(strand)]]


def metres_per_gram(yarn: Yarn) -> float | None:
    """Metres in a gram as the band has it, None if it says only one of them or nothing."""
    if not yarn.metres_per_ball or not yarn.grams_per_ball:
        return None
    return yarn.metres_per_ball / yarn.grams_per_ball


# ---- what was measured


def is_measured_unused(project: Project) -> bool:
    """Whether something was measured, and the plan goes by an estimate nevertheless."""
    counts = any(line.use == "yes" for line in in_force(project.measurements))
    return counts and project.multiplier.way == "estimate"


def measured_press(desk: Desk) -> Form:
    """The button that lets the plan go by what was measured, while it does not; what it did."""
    message = Pane()
    press = button(BY_WHAT_WAS_MEASURED, icon="check", width="260px")
    actions = widgets.HBox([press])
    actions.add_class("plan-actions")

    @heard(message)
    def apply() -> None:
        desk.change(multiplier=MultiplierChoice("measured"))
        message.value = notice(BY_MEASURED)

    def follow() -> None:
        project = desk.project
        goes_by_it = project.multiplier.way == "measured"
        actions.layout.display = "none" if goes_by_it or not project.measurements else ""
        # Another way may have been chosen since.
        if not goes_by_it:
            message.value = ""

    def arrived() -> None:
        message.value = ""

    press.on_click(apply)
    desk.on_arrival(arrived)
    desk.on_change(follow)
    follow()
    return Form([actions, message])


# ---- units, and keeping


def units_form(desk: Desk, label: str = "show") -> Form:
    """Centimetres and metres, or inches and yards, in all tables and forms."""
    message = Pane()
    box = one_of(label, UNITS_IN_WORDS)

    def show(project: Project) -> None:
        box.value = project.units

    boxes = DeskBoxes(desk, message, show)
    hear_unit(boxes, box)
    boxes.follow()
    return Form([box, message])


def words_form(desk: Desk, name: str, box: widgets.Text | widgets.Textarea) -> Form:
    """A box for what `desk.project.NAME` says in words."""
    message = Pane()

    def show(project: Project) -> None:
        words = getattr(project, name)
        # A blank at its end may be on its way to a next word.
        if box.value.strip() != words.strip():
            box.value = words

    boxes = DeskBoxes(desk, message, show)
    boxes.hear(box, lambda: {name: box.value.strip()})
    boxes.follow()
    return Form([box, message])


def keep_choices(desk: Desk, choices: Sequence[OwnChoice], why: str) -> None:
    """Keep choices in choices.csv, all of them or none, and plan with them."""
    desk.folder(NO_CHOICES)
    desk.act(
        lambda held: replace(held, choices=settled((*held.choices, *choices))),
        doing=why,
        strand_then=why,
    )

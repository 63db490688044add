"""Forms declared by their fields: what is asked, and a plain function of the answers.

    asking(in_words, yarn=one_of("yarn", letters), grams=number("weight (g)", 50))

calls `in_words(yarn=…, grams=…)` now and whenever a field changes, and shows what it returns. With
a `button` the function is called when that is pressed. The functions know no widgets, so they are
tested as functions.

A field of the desk's own settings listens: it shows what the desk holds, whoever changed it, and
asks for that one setting when it is touched (`DeskBoxes`, `fields_form`). What is refused is said,
and the field falls back to what holds.
"""

from __future__ import annotations

import html
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from IPython import get_ipython

from planner.errors import PlanError
from planner.folder import cannot_write, with_units
from planner.piece import Project
from planner.units import CM_PER, LONG_UNIT, check_number, exact, parse_length
from planner.workbook.desk import Desk, note_trouble
from planner.workbook.fields import LengthBox, number, text, unit_changes, whole, yes
from planner.workbook.fields import button as make_button
from planner.workbook.labels import label_of, put_label, put_unit, with_help
from planner.workbook.panes import WENT_WRONG, Form, Pane, notice
from planner.workbook.waiting import Stopped

STOPPED = "stopped."
BUSY = "plan-busy"  # the class of a button that is being answered
STILL = "The plan still goes by what was set before."
USUAL_FOLLOW = (
    "lengths that are as usual are round ones in this unit now; what you chose yourself is as it "
    "was."
)

Values = dict[str, Any]  # what is filled in, by the names of the fields


# ---- questions, and what is answered


def heard(message: Pane) -> Callable[[Callable[[], None]], Callable[..., None]]:
    """Make a callback of an action: it is done, or `message` says in words why it cannot be.

    Whatever happens, something is said; the details of what nobody foresaw go to trouble.log.
    """

    def callback(act: Callable[[], None]) -> Callable[..., None]:
        answered_at = datetime.min.replace(tzinfo=UTC)
        # Two presses may be heard on two threads.
        pressing = threading.RLock()

        def answer() -> None:
            message.value = ""  # what was said before no longer holds
            try:
                act()
            except PlanError as error:
                message.value = notice(str(error), trouble=True)
            except KeyboardInterrupt:
                message.value = notice(STOPPED, trouble=True)
            except OSError as error:
                note_trouble(error)
                name = Path(str(error.filename or "a file")).name
                message.value = notice(cannot_write(name, error), trouble=True)
            except Exception as error:  # whatever it is: a button that says nothing is no button
                note_trouble(error)
                message.value = notice(WENT_WRONG.format(type(error).__name__), trouble=True)

        def pressed(button: widgets.Button) -> None:
            nonlocal answered_at
            # The second press of a double click was made before anything could be answered. By a
            # clock that was set back since, nothing can be told.
            sent_at = _sent_at()
            if sent_at is not None and sent_at < answered_at <= datetime.now(UTC):
                return
            # By its looks alone: a button that is disabled loses the focus, and who presses it with
            # the space bar, needles in hand, would have to look for it again.
            button.add_class(BUSY)
            try:
                answer()
            finally:
                button.remove_class(BUSY)
                answered_at = datetime.now(UTC)

        # Whether it was pressed or a value has changed, widgets hand over what happened.
        def call(happened: Any = None) -> None:
            if not isinstance(happened, widgets.Button):
                answer()
                return
            with pressing:
                pressed(happened)

        return call

    return callback


def _sent_at() -> datetime | None:
    """When the message that is being answered was sent by the browser; None where there is none."""
    kernel = getattr(get_ipython(), "kernel", None)
    parent = kernel.get_parent() if kernel else {}
    sent_at = parent.get("header", {}).get("date")
    return sent_at if isinstance(sent_at, datetime) and sent_at.tzinfo else None


def asking(
    answer: Callable[..., str],
    *,
    desk: Desk | None = None,
    button: str = "",
    shown: Callable[[Values], Iterable[str]] | None = None,
    **fields: widgets.Widget,
) -> Form:
    """The form of these fields, which shows the HTML that `answer` makes of their values, by name.

    `desk`: answer again when its plan changes. `shown` gives the names of the fields to show for
    the values typed so far. A field called `unit` is the unit of the lengths among the fields.
    """
    answered = Pane()
    shown_as = {name: with_help(box) for name, box in fields.items()}
    column = widgets.VBox(list(shown_as.values()))
    column.add_class("plan-fields")

    def values() -> Values:
        return typed_values(fields, "unit")

    @heard(answered)
    def act() -> None:
        answered.value = answer(**values())

    def arrange(_: Any = None) -> None:
        if shown:
            column.children = [shown_as[name] for name in shown(values())]

    # Lengths are converted before anything is answered, so that no answer mixes two units.
    if "unit" in fields:
        unit_changes(fields["unit"], fields.values())
    for box in fields.values():
        box.observe(arrange, names="value")
        # With a button nothing is done before it is pressed.
        if not button:
            box.observe(act, names="value")
    arrange()
    if button:
        press = make_button(button)
        press.on_click(act)
        return Form([column, press, answered])
    if desk:
        desk.on_change(act, later=True)
    act()
    return Form([column, answered])


def typed_values(fields: Mapping[str, widgets.Widget], unit_field: str) -> Values:
    """What is filled in, by name; lengths in the unit that the field of this name says.

    Without that field they are as they are shown.
    """
    values = {}
    for name, box in fields.items():
        is_length = isinstance(box, LengthBox) and unit_field in fields
        values[name] = box.meant(fields[unit_field].value) if is_length else box.value
    return values


# ---- what the desk holds


class DeskBoxes:
    """Boxes that show what a desk holds, and ask it for something else when they are touched.

    `show` puts what a project holds into all of the boxes. It is called now, whenever the desk has
    changed, and when what was asked for is refused; `message` says why it was.
    """

    def __init__(self, desk: Desk, message: Pane, show: Callable[[Project], None]):
        self.desk, self.message = desk, message
        self._show = show
        self._showing = False

    def hear(
        self, box: widgets.Widget, changes: Callable[[], Mapping[str, Any]], *, done: str = ""
    ) -> None:
        """Ask for these changes of the project when this box, and no other, is touched.

        Where there is nothing to change, `changes` returns an empty mapping. `done` is what the
        message says afterwards.
        """

        def touched(change: Mapping[str, Any]) -> None:
            heard(self.message)(lambda: answer(change["new"]))()

        def answer(typed: Any) -> None:
            with self.desk.lock:
                # A box that is only brought up to date was not touched by anybody. Whoever does
                # so holds the lock, so that no touch on another thread is taken for it.
                if self._showing:
                    return
                # While this touch waited for the lock, boxes may have been brought up to date by
                # what the desk held before it.
                if box.value != typed:
                    self.quietly(lambda: setattr(box, "value", typed))
                self._ask(changes)
                if done:
                    self.message.value = notice(done)

        box.observe(touched, names="value")

    def follow(self, *, later: bool = False) -> None:
        """Show what the desk holds, from now on; `later` what takes its time to be shown."""
        self.desk.on_change(self.show, later=later)
        self.show()

    def show(self, _: Any = None) -> None:
        """Show what the desk holds now."""
        self.quietly(lambda: self._show(self.desk.project))

    def quietly(self, act: Callable[[], None]) -> None:
        """Do something that sets boxes, which nobody has touched thereby."""
        with self.desk.lock:
            # One of the boxes that are brought up to date may call for this once more.
            before, self._showing = self._showing, True
            try:
                act()
            finally:
                self._showing = before

    def _ask(self, changes: Callable[[], Mapping[str, Any]]) -> None:
        try:
            asked = changes()
            if asked:
                self.desk.change(**asked)
        except PlanError as error:
            # Nothing has changed, so that this puts back what was typed over.
            self.show()
            if isinstance(error, Stopped):
                raise
            raise PlanError(f"{error} {STILL}") from None
        except KeyboardInterrupt:
            self.show()
            raise


UNITS_IN_WORDS = (("cm and m", "cm"), ("in and yd", "in"))


def hear_unit(boxes: DeskBoxes, unit: widgets.Dropdown) -> None:
    """Put the piece into other units when another one is chosen, and say what that changed."""

    def changes() -> Mapping[str, Any]:
        chosen = unit.value
        # Which lengths are the usual ones is told by what the folder holds now.
        boxes.desk.look()
        project = boxes.desk.project
        return with_units(project, chosen) if chosen != project.units else {}

    boxes.hear(unit, changes, done=USUAL_FOLLOW)


# ---- single settings


@dataclass(frozen=True)
class Setting:
    """One field of a settings type and the box in which it is changed."""

    name: str
    box: widgets.Widget

    def meant(self, project: Project) -> Any:
        """The value that the box stands for."""
        return self.box.value

    def put(self, value: Any, project: Project) -> None:
        """Put the value into the box, unless the box says so already in words of its own."""
        # "0.50 in" and 2.125 m stay as they were typed, though they would be written otherwise.
        try:
            says_so = self.meant(project) == value
        except PlanError:
            says_so = False  # what stands there means nothing
        if not says_so:
            self.box.value = self.written(value, project)

    def written(self, value: Any, project: Project) -> Any:
        """The value as the box shows it."""
        # It may be rounded: only a box that was touched is read again.
        return round(value, 2) if isinstance(value, float) else value


@dataclass(frozen=True)
class LengthSetting(Setting):
    """A length in cm, shown in the piece's units.

    `label` has a place for the unit; `of_yarn` is shown in metres or yards.
    """

    label: str
    of_yarn: bool

    def unit(self, project: Project) -> str:
        """The unit that the box shows."""
        return LONG_UNIT[project.units] if self.of_yarn else project.units

    def meant(self, project: Project) -> float:
        # Here, where it is named in the unit that was typed.
        check_number(self.box.value, label_of(self.box))
        return round(self.box.value * float(CM_PER[self.unit(project)]), 2)

    def put(self, value: Any, project: Project) -> None:
        # The units may have been changed since the label was written.
        put_label(self.box, self.label.format(self.unit(project)))
        super().put(value, project)

    def written(self, value: Any, project: Project) -> float:
        return round(value / float(CM_PER[self.unit(project)]), 2)


class PercentSetting(Setting):
    """A share, shown in per cent."""

    def meant(self, project: Project) -> float:
        check_number(self.box.value, label_of(self.box))
        return round(self.box.value / 100, 6)

    def written(self, value: Any, project: Project) -> float:
        return round(100 * value, 4)


@dataclass(frozen=True)
class LimitSetting(Setting):
    """A number of stitches or rows, or a length with its unit, such as 2.5 cm.

    A length is shown in the piece's units; what was typed is kept until the box is touched. Behind
    a bare number stands what it counts.
    """

    counts: str

    def meant(self, project: Project) -> float | str:
        typed = self.box.value
        # What has a letter in it has a unit; whether that is one, the limits say themselves.
        if any(character.isalpha() for character in typed):
            return typed.strip()
        return float(exact(typed, self.box.description))

    def put(self, value: Any, project: Project) -> None:
        # The same length may stand there in the units from before.
        if isinstance(value, str) and not self.box.value.endswith(f" {project.units}"):
            self.box.value = self.written(value, project)
        else:
            super().put(value, project)
        put_unit(self.box, "" if isinstance(value, str) else self.counts)

    def written(self, value: Any, project: Project) -> str:
        if not isinstance(value, str):
            return f"{value:g}"
        if value.endswith(project.units):
            return value
        length = float(parse_length(value) / CM_PER[project.units])
        return f"{round(length, 3):g} {project.units}"


def number_setting(name: str, label: str) -> Setting:
    """A setting that is a number."""
    return Setting(name, number(label))


def percent_setting(name: str, label: str) -> Setting:
    """A setting that is a share, asked for in per cent."""
    return PercentSetting(name, number(f"{label} (%)"))


def whole_setting(name: str, label: str) -> Setting:
    """A setting that is a whole number."""
    return Setting(name, whole(label))


def yes_setting(name: str, label: str) -> Setting:
    """A setting that holds or does not."""
    return Setting(name, yes(label))


def length_setting(name: str, label: str, *, of_yarn: bool = False) -> Setting:
    """A setting that is a length; its label has a place for the unit: "each tail ({})"."""
    return LengthSetting(name, number(label), label, of_yarn)


def limit_setting(name: str, label: str, counts: str) -> Setting:
    """A setting that is a count of stitches or rows, or a length with its unit.

    It is heard when it is typed to its end.
    """
    box = text(label, continuous_update=False)
    # As wide as a number is, which it mostly is.
    box.add_class("plan-limit")
    return LimitSetting(name, box, counts)


def bind(
    boxes: DeskBoxes,
    settings: Sequence[Setting],
    held: Callable[[Project], Any],
    put: Callable[[Project, Any], Mapping[str, Any]],
) -> None:
    """Let each box change its one setting in what a project has held, a settings type.

    `held` takes the settings from a project, `put` gives the changes that put others there.
    """

    # A function of its own for each setting, or all of the boxes would change the last one.
    def hear(setting: Setting) -> None:
        def changes() -> Mapping[str, Any]:
            # What the desk holds now, whoever put it there; only one field of it is replaced.
            project = boxes.desk.project
            touched = {setting.name: setting.meant(project)}
            return put(project, replace(held(project), **touched))

        boxes.hear(setting.box, changes)

    for setting in settings:
        hear(setting)


def put_all(settings: Sequence[Setting], values: Any, project: Project) -> None:
    """Put what a settings type says into the boxes."""
    for setting in settings:
        setting.put(getattr(values, setting.name), project)


def title(words: str) -> widgets.HTML:
    """A heading within a form or a fold."""
    return widgets.HTML(f"<h4>{html.escape(words)}</h4>")


def fields_form(desk: Desk, name: str, settings: Sequence[Setting | str]) -> Form:
    """A form for the settings in `desk.project.NAME`; each change is planned and shown at once.

    A text among the settings is the heading of those that follow.
    """
    message = Pane()
    fields = [setting for setting in settings if isinstance(setting, Setting)]

    def held(project: Project) -> Any:
        return getattr(project, name)

    boxes = DeskBoxes(desk, message, lambda project: put_all(fields, held(project), project))
    bind(boxes, fields, held, lambda project, new: {name: new})
    boxes.follow()
    shown = [each.box if isinstance(each, Setting) else title(each) for each in settings]
    return Form([*shown, message])

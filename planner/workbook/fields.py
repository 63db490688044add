"""The boxes that forms are made of: each with its label before it, laid out alike.

A box of `length` keeps its meaning when the form's unit is changed, and what was typed into it
comes back when the unit does. The boxes at the end list what is on a desk, and follow when the desk
has something else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import ipywidgets as widgets

from planner.units import CM_PER, LONG_UNIT
from planner.workbook.colour_box import ColourBox
from planner.workbook.desk import Desk
from planner.workbook.labels import FIELD, put_label, put_unit

# How boxes are laid out stands in looks.css; one for long lines takes both columns of a form.
# Each box makes a layout of its own of this: one that was made with the file may be older than the
# page that shows it, and hiding one box would hide all.
LONG_LINE = {"grid_column": "1 / -1", "max_width": "none"}
UNITS = ("cm", "in")
# What yarn is measured by, in words, where a form is in cm or in inches.
YARN_UNIT_IN_WORDS = {"cm": "metres", "in": "yards"}


def labelled(kind: type[widgets.Widget], label: str, **more: Any) -> widgets.Widget:
    """A widget with its label before it, as all forms lay them out."""
    usual: dict[str, Any] = {"layout": {}}
    if kind is widgets.Checkbox:
        usual["indent"] = False  # its label stands behind it
    # What is given by name comes last, so that it takes the place of the usual look.
    box = kind(**usual | more)
    box.add_class(FIELD)
    put_label(box, label)
    return box


def number(label: str, value: float = 0.0, **more: Any) -> widgets.FloatText:
    """A box for a number."""
    return labelled(widgets.FloatText, label, value=value, **more)


def whole(
    label: str, value: int = 0, *, least: int = 0, most: int | None = None
) -> widgets.IntText | widgets.BoundedIntText:
    """A box for a whole number; with `most` it takes none below `least` or above `most`."""
    # Out of bounds, the box itself puts the nearest number that it takes.
    if most is None:
        return labelled(widgets.IntText, label, value=value)
    return labelled(widgets.BoundedIntText, label, value=value, min=least, max=most)


# A class of its own, so that a form finds its lengths among its boxes.
class LengthBox(widgets.FloatText):
    """A box for a length, in the unit that the form says."""

    value: float
    # Its label, with a place for metres or yards where it is a length of yarn.
    label = ""
    of_yarn = False
    # What it begins at in each unit, where that is a round figure in both.
    usual: Mapping[str, float] | None = None
    # What was typed and in which unit, and how that is shown in another unit.
    _typed: tuple[float, str] = (0.0, "cm")
    _shown: float | None = None

    def typed(self, unit: str) -> tuple[float, str]:
        """The number that was typed last and the form's unit then; `unit` is the form's now."""
        if self.value == self._shown:
            return self._typed
        return self.value, unit

    def meant(self, unit: str) -> float:
        """The length in the form's unit, as exactly as it was typed; the box may show less of
        it."""
        number, its_unit = self.typed(unit)
        return self._converted(number, its_unit, unit)

    def other_unit(self, old: str, new: str) -> None:
        """Show in `new` what stands here in `old`."""
        number, its_unit = self.typed(old)
        if self.usual and number == self.usual[its_unit]:
            number, its_unit = self.usual[new], new
        self.put(number, its_unit, new)
        self.say_unit(new)

    def put(self, number: float, its_unit: str, unit: str) -> None:
        """Show in the form's `unit` what is so much in its own."""
        self._typed = number, its_unit
        # A number typed in this unit comes back as it was typed.
        shown = self._converted(number, its_unit, unit)
        self._shown = number if its_unit == unit else round(shown, 3)
        self.value = self._shown

    def say_unit(self, unit: str) -> None:
        """Name the unit behind the box, or in the label, where that has a place for it."""
        if self.of_yarn:
            self.description = self.label.format(YARN_UNIT_IN_WORDS[unit])
        else:
            put_unit(self, unit)

    def _converted(self, number: float, old: str, new: str) -> float:
        if old == new:
            return number
        if self.of_yarn:
            old, new = LONG_UNIT[old], LONG_UNIT[new]
        # A factor of its own for each way, or the last digit would not come back.
        return number * float(CM_PER[old] / CM_PER[new])


def length(
    label: str, value: float = 0.0, *, unit: str = "cm", usual: Mapping[str, float] | None = None
) -> LengthBox:
    """A box for a length in the form's own unit; with `usual` it begins at a round figure."""
    begins = value if usual is None else usual[unit]
    box = labelled(LengthBox, label, value=begins)
    box.label, box.usual = label, usual
    box.say_unit(unit)
    return box


def yarn_length(label: str, *, unit: str = "cm") -> LengthBox:
    """A box for metres or yards, as the form's unit is; the label has a place for these words."""
    box = labelled(LengthBox, label)
    box.label, box.of_yarn = label, True
    box.say_unit(unit)
    return box


def one_of(label: str, options: Iterable[Any], value: Any = None, **more: Any) -> widgets.Dropdown:
    """A choice among options, which are values or pairs of what is shown and its value."""
    # Without a value the first option is chosen; None would choose nothing at all.
    chosen = {} if value is None else {"value": value}
    return labelled(widgets.Dropdown, label, options=tuple(options), **chosen, **more)


def text(label: str, value: str = "", **more: Any) -> widgets.Text:
    """A box for words."""
    return labelled(widgets.Text, label, value=value, **more)


def colour(label: str, value: str = "#b8b8b8") -> ColourBox:
    """A box for a colour, #rrggbb."""
    return labelled(ColourBox, label, value=value)


def yes(label: str, value: bool = False) -> widgets.Checkbox:
    """A box to tick, its label behind it."""
    return labelled(widgets.Checkbox, label, value=value)


def button(label: str, *, icon: str = "", width: str = "auto") -> widgets.Button:
    """A button."""
    return widgets.Button(description=label, icon=icon, layout=widgets.Layout(width=width))


def unit_changes(unit: widgets.Dropdown, boxes: Iterable[widgets.Widget]) -> None:
    """Let the lengths among these boxes keep their meaning when the choice of unit is changed."""
    lengths = [box for box in boxes if isinstance(box, LengthBox)]

    # Both units are in the change; the box itself holds the new one already.
    def convert(change: Any) -> None:
        for box in lengths:
            box.other_unit(change.old, change.new)

    for box in lengths:
        box.say_unit(unit.value)
    unit.observe(convert, names="value")


def offer(box: widgets.Dropdown, options: Iterable[Any]) -> None:
    """Give a choice other options; what is chosen stays chosen where it is still among them."""
    options = tuple(options)
    # Setting them anew would choose the first one, and everybody who listens would hear of it.
    if box.options == options:
        return
    chosen = box.value
    box.options = options
    if chosen in values_of(box):
        box.value = chosen


def values_of(box: widgets.Dropdown) -> list[Any]:
    """The values that can be chosen in a box."""
    # An option is a value, or a pair of what is shown for it and the value.
    return [option[1] if isinstance(option, tuple) else option for option in box.options]


# ---- what is on a desk


def listed(label: str, desk: Desk, options: Callable[[], Iterable[Any]]) -> widgets.Dropdown:
    """A choice among what is on the desk; it follows when there is something else."""
    box = one_of(label, options())
    desk.on_change(lambda: offer(box, options()))
    return box


def unit_box(desk: Desk) -> widgets.Dropdown:
    """The unit of a form's own lengths; it follows when the units of the piece are changed."""
    shown = desk.project.units
    box = one_of("lengths in", UNITS, shown)

    # Only then: another unit chosen in the form stays while something else is changed.
    def follow() -> None:
        nonlocal shown
        if desk.project.units != shown:
            shown = box.value = desk.project.units

    desk.on_change(follow)
    return box


def strand_box(desk: Desk) -> widgets.Dropdown:
    """A choice among the plan's strands, which follows when others are traced."""
    return listed("strand", desk, lambda: desk.plan.traced.labels)


def letter_box(desk: Desk, label: str = "yarn") -> widgets.Dropdown:
    """A choice among the yarns on the chart, by their letters."""
    return listed(label, desk, lambda: desk.project.chart.letters)

"""The boxes that forms are made of: each with its label before it, laid out alike.

A box of `length` keeps its meaning when the form's unit is changed. The boxes at the end list what
is on a desk, and follow when the desk has something else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import ipywidgets as widgets

from planner.units import CM_PER
from planner.workbook.desk import Desk

# Labels are as wide as the longest of them, so that boxes stand one below the other.
LABEL = {"description_width": "265px"}
LABEL_AS_WIDE_AS_IT_IS = {"description_width": "initial"}
LINE = widgets.Layout(width="480px")
LONG_LINE = widgets.Layout(width="760px")


def labelled(kind: type[widgets.Widget], label: str, **more: Any) -> widgets.Widget:
    """A widget with its label before it, as all forms lay them out."""
    # What is given by name comes last, so that it takes the place of the usual look.
    return kind(description=label, **{"style": LABEL, "layout": LINE} | more)


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

    def other_unit(self, old: str, new: str) -> None:
        """Show in `new` what stands here in `old`."""
        factor = float(CM_PER[old] / CM_PER[new])
        # Four digits are enough to come back to the same length when the unit is changed back.
        self.value = round(self.value * factor, 4)


def length(label: str, value: float = 0.0) -> LengthBox:
    """A box for a length in the form's own unit."""
    return labelled(LengthBox, label, value=value)


def one_of(label: str, options: Iterable[Any], value: Any = None, **more: Any) -> widgets.Dropdown:
    """A choice among options, which are values or pairs of what is shown and its value."""
    # Without a value the first option is chosen; None would choose nothing at all.
    chosen = {} if value is None else {"value": value}
    return labelled(widgets.Dropdown, label, options=tuple(options), **chosen, **more)


def text(label: str, value: str = "", **more: Any) -> widgets.Text:
    """A box for words."""
    return labelled(widgets.Text, label, value=value, **more)


def colour(label: str, value: str) -> widgets.ColorPicker:
    """A box for a colour, #rrggbb."""
    return labelled(widgets.ColorPicker, label, value=value)


def yes(label: str, value: bool = False) -> widgets.Checkbox:
    """A box to tick, its label behind it."""
    # Not indented: its label needs the width that other boxes have for themselves.
    return widgets.Checkbox(value=value, description=label, indent=False, layout=LINE)


def button(label: str, *, icon: str = "", width: str = "210px") -> widgets.Button:
    """A button."""
    return widgets.Button(description=label, icon=icon, layout=widgets.Layout(width=width))


def unit_changes(unit: widgets.Dropdown, boxes: Iterable[widgets.Widget]) -> None:
    """Let the lengths among these boxes keep their meaning when the choice of unit is changed."""
    lengths = [box for box in boxes if isinstance(box, LengthBox)]

    # Both units are in the change; the box itself holds the new one already.
    def convert(change: Any) -> None:
        for box in lengths:
            box.other_unit(change.old, change.new)

    unit.observe(convert, names="value")


def offer(box: widgets.Dropdown, options: Iterable[Any]) -> None:
    """Give a choice other options; what is chosen stays chosen where it is still among them."""
    options = tuple(options)
    # Setting them anew would choose the first one, and everybody who listens would hear of it.
    if box.options == options:
        return
    chosen = box.value
    box.options = options
    if chosen in _values(options):
        box.value = chosen


def _values(options: Iterable[Any]) -> list[Any]:
    # An option is a value, or a pair of what is shown for it and the value.
    return [option[1] if isinstance(option, tuple) else option for option in options]


# ---- what is on a desk


def listed(label: str, desk: Desk, options: Callable[[], Iterable[Any]]) -> widgets.Dropdown:
    """A choice among what is on the desk; it follows when there is something else."""
    box = one_of(label, options())
    desk.on_change(lambda: offer(box, options()))
    return box


def strand_box(desk: Desk) -> widgets.Dropdown:
    """A choice among the plan's strands, which follows when others are traced."""
    return listed("strand", desk, lambda: desk.plan.traced.labels)


def letter_box(desk: Desk, label: str = "yarn") -> widgets.Dropdown:
    """A choice among the yarns on the chart, by their letters."""
    return listed(label, desk, lambda: desk.project.chart.letters)

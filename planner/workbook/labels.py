"""What a field is called: its label before the box, its unit behind it, and help on demand.

A label that ends with a unit in brackets, "each tail (cm)", is shown as "each tail", and the unit
stands behind the number. looks.css writes it there, as a part of the label's own name, so that it
is read out with the label.
"""

from __future__ import annotations

import html
from typing import Any

import ipywidgets as widgets

FIELD = "plan-field"
# A unit as a label writes it, and as its class in looks.css ends.
UNIT_CLASSES = {
    **{unit: unit for unit in ("cm", "in", "m", "yd", "g", "mm", "stitches", "rows")},
    "%": "percent",
    "at once": "at-once",
}


def put_label(box: widgets.Widget, label: str) -> None:
    """Put a label before a box, and its unit, if it ends with one in brackets, behind the box."""
    name, bracket, unit = label.removesuffix(")").rpartition(" (")
    if not bracket or unit not in UNIT_CLASSES:
        name, unit = label, ""
    box.description = name
    put_unit(box, unit)


def put_unit(box: widgets.Widget, unit: str) -> None:
    """Put a unit behind a box, in place of the one that stands there; "" is none."""
    before = unit_of(box)
    if before == unit:
        return
    if before:
        box.remove_class(_unit_class(before))
    if unit:
        box.add_class(_unit_class(unit))


def unit_of(box: widgets.Widget) -> str:
    """The unit that stands behind a box, "" if there is none."""
    classes = getattr(box, "_dom_classes", ())
    units = [unit for unit in UNIT_CLASSES if _unit_class(unit) in classes]
    return units[0] if units else ""


def label_of(box: Any) -> str:
    """The label of a box in full, its unit in brackets: "each tail (cm)"."""
    unit = unit_of(box)
    return f"{box.description} ({unit})" if unit else str(box.description)


def is_field(box: widgets.Widget) -> bool:
    """Whether a widget is a field that forms lay out in columns."""
    return FIELD in getattr(box, "_dom_classes", ())


def with_help(box: widgets.Widget) -> widgets.Widget:
    """The box, with a "?" behind it that opens a sentence where HELP has one for its label."""
    sentence = HELP.get(getattr(box, "description", ""), "") if is_field(box) else ""
    if not sentence:
        return box
    name = html.escape(f"What is meant by: {box.description}")
    summary = f'<summary aria-label="{name}">?</summary>'
    opened = f'<details class="plan-help">{summary}<p>{html.escape(sentence)}</p></details>'
    helped = widgets.VBox([box, widgets.HTML(opened)])
    helped.add_class("plan-helped")
    return helped


def _unit_class(unit: str) -> str:
    return f"plan-unit-{UNIT_CLASSES[unit]}"


# By the labels of fields, without their units.
HELP: dict[str, str] = {}

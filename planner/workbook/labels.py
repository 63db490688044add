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
HELP: dict[str, str] = {
    # how far yarns may be carried
    "across, in one row": (
        "From one area of the yarn to the next in the same row, behind the stitches between them."
    ),
    "sideways, to the next row": (
        "From where the yarn is left in one row to where the next row wants it. A shift of one "
        "stitch cannot be seen; from three on the yarn is caught or woven in."
    ),
    "up, past rows without it": (
        "The yarn waits while so many rows are worked without it, and is then taken up again."
    ),
    "a length may be begun from its middle": (
        "Two areas that begin together can be one length: begin at its middle, and work one of "
        "them with each half. That saves two ends."
    ),
    # how the yarns are held
    "where you sit": (
        "At a table as many balls may lie as you say; on a sofa two, one at either side; in a "
        "train none."
    ),
    "elsewhere in rows": 'Rows that you knit in another place, such as "30-60 train, 80-90 sofa".',
    "both ends of a ball may be used": (
        "One ball then feeds two strands, one from its outside and one from its inside."
    ),
    "wraps go round": (
        "How much yarn goes once round what you wind on: the list in full says how many wraps."
    ),
    "comfortable up to": "A row in which no more lengths hang is called easy.",
    "crowded above": "A row in which more lengths hang is called crowded, one between them busy.",
    "yarn between hand and work is kept": (
        "Kept short, each piece hangs close to the work and is wound up again after its row."
    ),
    "the work is turned": (
        "Back the way it came after each row, or always on in one way. From that follows how the "
        "yarns of the balls turn round each other."
    ),
    "after the first row": "Which edge goes away from you in the first turn.",
    "full turns that two yarns may hold": (
        "So often may the yarns of two balls go round each other before you are asked to clear "
        "them."
    ),
    # how much yarn
    "multiplier": (
        "How many widths of yarn go into a width of knitting: estimated, as you have measured it "
        "in notebook 2, your own figure, or three as the old rule has it, without a margin."
    ),
    "a strand may fall short once in": (
        "The seldomer, the more yarn is wound to spare. It hangs on how well your hand is known."
    ),
    "cast-on, widths of the first row": "Put 0 where the chart is set into a larger piece.",
    "bind-off, widths of the last row": "Put 0 where the chart is set into a larger piece.",
    "cast on all in yarn": (
        "The letter of the yarn in which all stitches are cast on. Left empty, each area of the "
        "first row is cast on in its own yarn."
    ),
    "balls may be short by": "A ball may hold less than its band says, by a tenth or so.",
}

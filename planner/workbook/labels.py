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
    words = html.escape(sentence)
    summary = f'<summary aria-label="{name}" title="{words}">?</summary>'
    opened = f'<details class="plan-help">{summary}<p>{words}</p></details>'
    helped = widgets.VBox([box, widgets.HTML(opened)])
    helped.add_class("plan-helped")
    return helped


def _unit_class(unit: str) -> str:
    return f"plan-unit-{UNIT_CLASSES[unit]}"


# One sentence or two, by the labels of fields without their units.
HELP = {
    # how it is worked, and the yarns
    "selvedge stitches at each side": (
        "Worked beside the chart in the yarn that is next to them; 0 if there are none."
    ),
    "direction of work": "Which way your row grows, not which hand holds the yarn.",
    "dye lot": "As the band says it; of several lots how many balls each: 2 of 114, 1 of 131.",
    "balls begun, each weighed": "What is left of each ball, parted by semicolons: 34; 12.",
    "its surface": "Hairy strands cling to each other; slippery ones slide out of a butterfly.",
    # carrying
    "across, in one row": (
        "Behind how many stitches a yarn may lie to be worked again in the same row; 0 is never."
    ),
    "sideways, to the next row": (
        "How far from where it hangs a yarn may be taken to its stitches in the next row."
    ),
    "up, past rows without it": (
        "How many rows a yarn may wait without being worked before it goes on above them."
    ),
    "a length may be begun from its middle": (
        "One length then serves two parts, each worked from one half of it: two ends fewer."
    ),
    # how the yarns are held
    "where you sit": (
        "At a table as many balls lie as you say; on a sofa two, one at either side; in a train "
        "none."
    ),
    "elsewhere in rows": (
        "Rows that you knit in another place, such as 30-60 train; several parted by commas."
    ),
    "the work is turned": (
        "Back the way it came after each row, or always on in one way. The yarns of the balls turn "
        "round each other accordingly."
    ),
    "goes away from you in the first turn": (
        "Which edge of the work, when you turn after the first row: the one that you have just "
        "reached, or the one at which you began the row."
    ),
    "balls on the table at most": "More balls than these are never to lie beside the work at once.",
    "both ends of a ball may be used": (
        "One ball then feeds two strands at once, from its outside and from its inside."
    ),
    "loose strand up to": "The longest yarn that you let hang free and draw out of the others.",
    "butterfly up to": "The longest yarn that you wind round your fingers into a small bundle.",
    "bobbin up to": "The longest yarn that a bobbin of yours holds.",
    "wraps go round": (
        "The yarn in one turn round what you wind on: measure ten turns and divide by ten."
    ),
    "comfortable up to": "Rows with up to so many lengths hanging at once are called easy.",
    "crowded above": "Rows with more lengths hanging at once than these are called crowded.",
    "yarn between hand and work is kept": (
        "Long drops wrap round each other, and a butterfly cannot be rewound: with long ones "
        "fewer butterflies are suggested."
    ),
    "rewinding is no bother": (
        "Untick it if winding up a bobbin again and again is a nuisance: fewer are suggested then."
    ),
    "full turns that two yarns may hold": (
        "So often the yarns of two balls may lie round each other before they are to be cleared."
    ),
    "tails are caught as they are knitted": (
        "They then lie behind the next stitches of their own yarn and need no sewing in."
    ),
    # mending
    "stitch, as the card counts": (
        "Along the row from where it begins, selvedge stitches too: the sum of the runs before it."
    ),
    "it was knitted in": "The yarn that the wrong stitches are in now.",
    # how much yarn
    "multiplier": (
        "Widths of yarn in a width of knitting: an estimate, what you have measured in notebook 2, "
        "a figure of your own, or plainly three, without a margin."
    ),
    "cast on all in yarn": (
        "The letter of the yarn to cast on all stitches in. Left empty, each area of the first row "
        "is cast on in its own yarn."
    ),
    "each tail": "What hangs free at each end of a strand, to be sewn in: a hand's length.",
    "a strand may fall short once in": (
        "Of so many strands one may turn out too short. The larger the number, the more is wound."
    ),
    "cast-on, widths of the first row": (
        "The yarn for casting on: about 4 widths for a long-tail cast-on, 0 if the chart is set "
        "into a larger piece."
    ),
    "bind-off, widths of the last row": (
        "The yarn for binding off: up to 6 widths, 0 if the chart is set into a larger piece."
    ),
    "side of a swatch": "The yarn of a square swatch of this side is counted in when you buy.",
    "to spare": "Counted in on top of all else when you buy.",
    "balls may be short by": "By so much a ball may hold less than its band says.",
    "your own multiplier": (
        "The length of the yarn in a row ÷ the width of that row. Notebook 2 measures it."
    ),
    # finishing
    "stitches in the band's gauge": (
        "As many as the band has in 10 cm, or in 4 in where lengths are shown in inches; 0 if it "
        "has the gauge of the piece."
    ),
}

"""Sums: lengths in stitches of yarn as a table, and the sum that makes a length of them, in words.

A reader measures how much yarn one of her stitches takes, adds a tenth to be safe, and multiplies.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from planner.edition.amounts import Material
from planner.edition.blocks import Block, Items, Table, Words
from planner.edition.lengths import InStitches
from planner.piece import BALL
from planner.plan import Plan
from planner.units import (
    CM_PER,
    LONG_UNIT,
    ROUNDING_ERROR,
    counted,
    figure,
    rounded_up,
    show,
    show_measured,
    show_short,
)

BLANK = "______"
# Of her figure: what one swatch leaves in doubt (judgement). The plan's own margin on a long length
# is 7 to 10 % after one to three measurements; a short one is helped by rounding up.
SAFE = 1.1
ROUNDED_TO = {"cm": "5 cm", "in": "inch"}
ONE_OF = {"cm": "centimetres", "in": "inches"}


def shown(number: float) -> str:
    """A number of stitches or widths as it is printed: whole, and none too few."""
    return str(math.ceil(number - 1e-6))


def lengths_blocks(
    plan: Plan, lengths: Sequence[InStitches], materials: Sequence[Material]
) -> tuple[Block, ...]:
    """How a reader finds her figure, the sum, an example worked out, and the lengths."""
    figures = {each.letter: each for each in materials}
    example = _example(lengths)
    return (
        Words(
            "Every hand uses its own length of yarn, so lengths are told in stitches of yarn. Find "
            "your figure once for each thickness of yarn; then multiply."
        ),
        Items(_how_to_measure(plan)),
        Words(_formula(plan), is_sum=True),
        # A sum with figures in it shows what the one with blanks asks for.
        Words(_worked_out(plan, example, figures[example.yarn])),
        lengths_table(plan, lengths),
        Words(
            "Stitches, widths and tails are what you reckon with. Our lengths are by our figure "
            "before the tenth, plus our margin; take the tenth instead of the margin, write your "
            "length on the blank, and cut that. What is fed from the ball is not "
            "measured: its length says how much the ball must hold. What is cut as one, such as a "
            "and b, is one piece of both lengths, begun where the first of them ends."
        ),
    )


def _how_to_measure(plan: Plan) -> tuple[str, ...]:
    project = plan.project
    unit, long_unit = project.units, LONG_UNIT[project.units]
    many = ONE_OF[unit]
    # Two digits: a width is multiplied by many stitches, and a wrong millimetre with it.
    width = show_measured(project.gauge.stitch_cm, unit, 2)
    in_long = figure(float(CM_PER[long_unit] / CM_PER[unit]))
    gauge = project.gauge.in_words(unit)
    return (
        f"Knit a swatch in the gauge of the pattern ({gauge}). Tie two knots into the yarn, 1 "
        f"{long_unit} apart, knit on past both, and count the stitches between them.",
        f"Your {many} for one stitch: {in_long} ÷ {BLANK} stitches = {BLANK} {unit}",
        f"To be safe, a tenth more: {BLANK} × {SAFE:g} = {BLANK} {unit}. This is your figure; "
        "the tenth stands in the place of our margin.",
        f"Beside its stitches a length has yarn that is carried, cast on or bound off with. That "
        f"is told in widths of a stitch; at this gauge a width is {width}.",
        f"A tail is {show_short(project.allow.tail_cm, unit)}.",
    )


def _formula(plan: Plan) -> str:
    unit = plan.project.units
    width = show_measured(plan.project.gauge.stitch_cm, unit, 2)
    tail = show_short(plan.project.allow.tail_cm, unit)
    return (
        f"Your figure {BLANK} {unit} × stitches + widths × {width} + tails × {tail} = {BLANK} "
        f"{unit}. Round up to the next {ROUNDED_TO[unit]}."
    )


def _example(lengths: Sequence[InStitches]) -> InStitches:
    """A length whose sum has all in it, if there is one; else the longest that is wound."""
    # Nobody measures off what is fed from the ball.
    wound = [each for each in lengths if each.supply != BALL] or list(lengths)
    whole = [each for each in wound if each.widths and each.stitches and each.tails == 2]
    return max(whole or wound, key=lambda each: each.stitches)


def _worked_out(plan: Plan, each: InStitches, material: Material) -> str:
    """The sum of one length by the designer's figure and margin, and as a reader does it."""
    project = plan.project
    unit = project.units
    one = float(CM_PER[unit])
    a_stitch = material.cm_per_stitch / one
    widths = each.widths * project.gauge.stitch_cm / one
    tails = each.tails * project.allow.tail_cm / one
    margin = each.margin_cm / one
    all_in = each.length_cm / one
    measured = show(each.measured_cm(unit), unit)
    # By the figures as they are printed, so that the sum comes out for whoever follows it.
    printed = figure(a_stitch, 3)
    safe = float(printed) * SAFE
    in_all = each.stitches * safe + widths + tails
    to_cut = show(rounded_up(in_all * one, unit), unit)
    beside = (
        f"{figure(each.widths)} widths = {figure(widths)}; {counted(each.tails, 'tail')} = "
        f"{figure(tails)}"
    )
    of_yarn = f"{figure(each.stitches)} stitches ×"
    return (
        f"An example, {each.label}. Our length, by our figure before the tenth, plus our margin: "
        f"{of_yarn} {printed} = {figure(each.stitches * a_stitch)}; {beside}; our margin = "
        f"{figure(margin)}. Together {figure(all_in)} {unit}, measured off as {measured}. A "
        f"reader's length, with a hand like ours, by the tenth and no margin: {printed} × "
        f"{SAFE:g} = {figure(safe, 4)}; {of_yarn} {figure(safe, 4)} = "
        f"{figure(each.stitches * safe)}; {beside}. Together {figure(in_all)} {unit}, rounded up "
        f"to {to_cut}. Cut the length by your own figure."
    )


def lengths_table(plan: Plan, lengths: Sequence[InStitches]) -> Table:
    """The lengths, those that are alike on one line, in the order in which they are wanted."""
    word = plan.traced.how.row_word
    lines = []
    for group in _alike(lengths, plan.project.units).values():
        lines.append(_line(plan, group))
    heads = ("Strand", "yarn", "how", f"from {word}", "stitches", "widths", "tails")
    return Table(
        heads=(*heads, "ours", "our margin", "yours"),
        lines=tuple(lines),
        right=(4, 5, 6, 7, 8),
        wide=(8, 3, 10, 4, 5, 4, 4, 5, 5, 5),
    )


def _alike(lengths: Sequence[InStitches], units: str) -> Mapping[object, list[InStitches]]:
    lines: dict[object, list[InStitches]] = {}
    for each in lengths:
        # Alike is what reads alike on paper.
        counts = (shown(each.stitches), shown(each.widths), each.tails)
        # By whole numbers, for two equal lengths may differ in their last digit.
        measured = round(each.measured_cm(units) / ROUNDING_ERROR)
        lines.setdefault((each.yarn, each.supply, counts, measured, each.note), []).append(each)
    return lines


def _line(plan: Plan, group: Sequence[InStitches]) -> tuple[str, ...]:
    first = group[0]
    units = plan.project.units
    each = "each " if len(group) > 1 else ""
    held = f"{first.supply} ({first.note})" if first.note else first.supply
    return (
        ", ".join(length.label for length in group),
        first.yarn,
        held,
        str(first.row) if first.row else "cast-on",
        f"{each}{shown(first.stitches)}",
        shown(first.widths),
        str(first.tails),
        show(first.measured_cm(units), units),
        show_measured(first.margin_cm, units),
        BLANK,
    )

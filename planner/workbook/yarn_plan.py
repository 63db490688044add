"""Notebook 3: how yarn is held and how much of it is added, the order of strands, winding."""

from __future__ import annotations

import html
from collections.abc import Mapping
from typing import Any

import ipywidgets as widgets
import pandas as pd

from planner import pictures
from planner.choices import Offer, Price, Pricing, worth_embroidering
from planner.piece import (
    FIRST_TURNS,
    PLACES,
    SUPPLIES,
    SWATCH_IN,
    TURNINGS,
    WAYS_TO_A_MULTIPLIER,
    MultiplierChoice,
    OwnChoice,
    Project,
)
from planner.plan import Plan
from planner.strands import Strands
from planner.supplies import HOW_TO
from planner.units import LONG_UNIT
from planner.workbook.asking import (
    DeskBoxes,
    Setting,
    asking,
    fields_form,
    length_setting,
    number_setting,
    whole_setting,
    yes_setting,
)
from planner.workbook.common import keep_choices, letter_of
from planner.workbook.desk import Desk, pictured, unless_same
from planner.workbook.fields import LABEL, number, one_of, strand_box, text
from planner.workbook.panes import Form, Pane, lines_html, notice, picture_html

USUAL_MULTIPLIER = 3.7  # where a multiplier of one's own begins, before it is typed
ELSEWHERE = "elsewhere in rows (such as 30-60 train)"
CAST_ON_IN = "cast on all in yarn (a letter; empty: in sections)"
AS_SUGGESTED = "as suggested"
SET_INTO_A_PIECE = "Put 0 for cast-on and bind-off if the chart is set into a larger piece."


# ---- how yarn is held


def ways_form(desk: Desk) -> Form:
    """The knitter's ways of holding yarn."""
    drop = one_of("yarn between hand and work is kept", ("short", "long"))
    settings = [
        length_setting("loose_up_to_cm", "loose strand up to ({})", of_yarn=True),
        length_setting("butterfly_up_to_cm", "butterfly up to ({})", of_yarn=True),
        length_setting("bobbin_up_to_cm", "bobbin up to ({})", of_yarn=True),
        Setting("place", one_of("where you sit", PLACES)),
        Setting("elsewhere", text(ELSEWHERE, continuous_update=False)),
        whole_setting("balls_on_table", "balls on the table at most"),
        yes_setting("both_ends", "both ends of a ball may be used"),
        yes_setting("rewinding", "rewinding is no bother"),
        Setting("drop", drop),
        whole_setting("comfortable", "comfortable up to (at once)"),
        whole_setting("crowded", "crowded above (at once)"),
        length_setting("wrap_cm", "wraps go round ({})"),
        Setting("turning", one_of("the work is turned", TURNINGS)),
        Setting("first_turn", one_of("after the first row", FIRST_TURNS)),
        whole_setting("twists_allowed", "full turns that two yarns may hold"),
        whole_setting("sew_every", "ends are sewn in every (rows)"),
        yes_setting("tails_caught", "tails are caught as they are knitted"),
    ]
    return fields_form(desk, "habits", settings)


# ---- how much yarn


def allowances_form(desk: Desk) -> Form:
    """Tails, cast-on, bind-off, the chance to fall short, swatches and what is to spare."""
    settings = [
        length_setting("tail_cm", "each tail ({})"),
        number_setting("cast_on", "cast-on, widths of the first row"),
        Setting("cast_on_in", text(CAST_ON_IN, continuous_update=False)),
        number_setting("bind_off", "bind-off, widths of the last row"),
        number_setting("short_once_in", "a strand may fall short once in"),
        length_setting("swatch_cm", "side of a swatch ({})"),
        Setting("swatch_in", one_of("a swatch is counted in", SWATCH_IN)),
        number_setting("spare", "spare, as a share (0.05 is 5 %)"),
        number_setting("label_error", "error of the bands, as a share"),
    ]
    return fields_form(desk, "allow", settings, note=SET_INTO_A_PIECE)


def multiplier_asked(way: str, value: float, before: MultiplierChoice) -> MultiplierChoice:
    """The multiplier that is asked for; one's own keeps the spread that it had `before`."""
    if way != "own":
        return MultiplierChoice(way)
    spread = before.spread if value == before.value else None
    return MultiplierChoice("own", value, spread)


def multiplier_form(desk: Desk) -> Form:
    """Which multiplier to go by."""
    message = Pane()
    way = one_of("multiplier", WAYS_TO_A_MULTIPLIER)
    value = number("your own multiplier", USUAL_MULTIPLIER, step=0.05)
    # The last multiplier that had a figure of its own: it comes back with its spread.
    own = MultiplierChoice()

    def show(project: Project) -> None:
        nonlocal own
        held = project.multiplier
        # Another way has no figure; the one typed before stays in its box for when it is wanted.
        if held.value:
            own = held
            value.value = held.value
        way.value = held.way
        value.disabled = held.way != "own"

    def changes() -> Mapping[str, Any]:
        return {"multiplier": multiplier_asked(way.value, value.value, own)}

    boxes = DeskBoxes(desk, message, show)
    boxes.hear(way, changes)
    boxes.hear(value, changes)
    boxes.follow()
    return Form([way, value, message])


def lengths_form(desk: Desk) -> Form:
    """Tails, cast-on, bind-off and the chance to fall short; and which multiplier to go by."""
    return Form([allowances_form(desk), multiplier_form(desk)])


def lengths_by_strand(plan: Plan) -> pd.DataFrame:
    """One row a strand, in the order of first need: what its length is made up of, in m or yd."""
    unit = LONG_UNIT[plan.project.units]
    # Whatever else the table says of a strand, its lengths have the unit in their names.
    lengths = [name for name in plan.strands if name.endswith(f"_{unit}")]
    return plan.strands[["strand", "first_row", "stitches", *lengths]]


# ---- the strands


def strands_in_words(plan: Plan) -> str:
    """How many strands the plan has, and which small areas are worth embroidering, as HTML."""
    return lines_html(f"{plan.traced!r}\n{embroider_instead(plan)}")


def embroider_instead(plan: Plan) -> str:
    """The small areas worth embroidering, each with what it saves; "" where nothing is saved."""
    pricing = Pricing(plan.project)
    worth = [_saving_in_words(offer, pricing.now) for offer in worth_embroidering(pricing)]
    if not worth:
        return ""
    each = ", each by itself" if len(worth) > 1 else ""
    return f"Worth embroidering{each}: {'; '.join(worth)}. See notebook 5."


def _saving_in_words(offer: Offer, now: Price) -> str:
    """An offer with what it saves: "a line of 30 stitches in K …: 9 → 7 at once, …"."""
    change = offer.price
    saved = []
    if change.live:
        saved.append(f"{now.live} → {now.live + change.live} at once")
    # Those of the embroidery apart: they come when the piece is finished.
    before, after = 2 * now.strands, 2 * (now.strands + change.strands)
    saved.append(f"ends of strands {before} → {after}")
    words = f"{', '.join(saved)}, and {change.ends - after + before} of the embroidery"
    mind = f" (mind: {offer.mind})" if offer.mind else ""
    return f"{offer.what.removeprefix('embroider ')}: {words}{mind}"


# ---- the order of the strands


class _StrandOrder(Form):
    """A saved notebook keeps only its picture, for the slider is nothing without a kernel."""

    def __init__(self, first_row: widgets.IntSlider, picture: Pane):
        super().__init__([first_row, picture])
        self._picture = picture

    def words(self) -> str:
        return self._picture.value


def strand_order_form(desk: Desk, *, rows: int = 14) -> Form:
    """The order of the strands for a stretch of rows, moved with a slider or its arrow keys."""
    # It opens around the row with most strands, where their order is hardest to see.
    last = desk.plan.traced.runs.rows
    busiest = int(desk.plan.rows.live.idxmax()) + 1
    first_row = widgets.IntSlider(
        value=max(1, busiest - rows // 2),
        min=1,
        max=max(1, last - rows + 1),
        description="from row",
        continuous_update=False,
        style=LABEL,
        layout=widgets.Layout(width="620px"),
    )

    def draw_order(plan: Plan) -> str:
        first = first_row.value
        end = first + rows - 1
        words = f"Order of the strands in rows {first} to {end}"
        return picture_html(pictures.draw_strand_order(plan, first, end), words)

    draw = unless_same(draw_order, lambda plan: (pictured(plan), first_row.value))
    picture = desk.pane(draw, slow=True)

    # A change of the desk on another thread might draw the same pane.
    def move(_: Any) -> None:
        with desk.lock:
            picture.value = draw(desk.plan)

    first_row.observe(move, names="value")
    return _StrandOrder(first_row, picture)


# ---- the knitter's own choice, and winding


def supply_choice(traced: Strands, strand: str, held_as: str) -> OwnChoice:
    """The choice of a supply for the strand with this label; an empty one for what is suggested."""
    index = traced.labels.index(strand)
    # A choice is kept by the place where its strand begins: labels change with the plan.
    row = int(traced.runs.row[traced.first_run][index]) + 1
    stitch = int(traced.stitch_number(traced.first_run)[index])
    supply = "" if held_as == AS_SUGGESTED else held_as
    return OwnChoice("supply", letter_of(traced, strand), row, stitch, "whole", supply)


def choice_form(desk: Desk) -> Form:
    """The knitter's own choice of supply for a strand, kept in choices.csv."""

    def keep(strand: str, held_as: str) -> str:
        choice = supply_choice(desk.plan.traced, strand, held_as)
        keep_choices(desk, [choice], strand)
        return notice(f"{strand}: {held_as}. Kept in choices.csv.")

    return asking(
        keep,
        button="Keep this choice",
        strand=strand_box(desk),
        held_as=one_of("held as", (AS_SUGGESTED, *SUPPLIES)),
    )


def how_to_wind(plan: Plan) -> str:
    """How each kind of supply in the plan is wound and hung."""
    held = set(plan.supplies.supply)
    return "".join(
        f"<p><b>{kind.capitalize()}.</b> {html.escape(HOW_TO[kind])}</p>"
        for kind in SUPPLIES
        if kind in held
    )

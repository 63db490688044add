"""Notebook 3, what changes the plan: how the yarns are held, how much is added to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from planner.choices import Offer, Price, Pricing, worth_embroidering
from planner.piece import (
    FIRST_EDGE,
    LAST_EDGE,
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
from planner.units import counted
from planner.workbook.asking import (
    DeskBoxes,
    Setting,
    asking,
    fields_form,
    length_setting,
    number_setting,
    percent_setting,
    title,
    whole_setting,
    yes_setting,
)
from planner.workbook.common import (
    keep_choices,
    letter_of,
    limits_form,
    measured_press,
    quiet,
)
from planner.workbook.desk import Desk
from planner.workbook.fields import number, one_of, strand_box, text
from planner.workbook.panes import Form, Pane, lines_html, notice
from planner.workbook.results import result_pane
from planner.workbook.what_follows import (
    LINES_OF_A_TABLE,
    how_long,
    sections_table,
    supplies_by_strand,
)

USUAL_MULTIPLIER = 3.7  # where a multiplier of one's own begins, before it is typed
ELSEWHERE = "elsewhere in rows"
CAST_ON_IN = "cast on all in yarn"
ABOUT_SECTIONS = (
    "The rows fall into sections by how many lengths hang. For each stands how they are held as "
    "planned, your own choices among it, and below it the next best way."
)
AS_SUGGESTED = "as suggested"
KEEP, TAKE_BACK = "Keep this choice", "Take your choice back"
FIRST_TURN = "goes away from you in the first turn"
# Which edge: the last of the row, which was just reached, or its first.
FIRST_TURNS_IN_WORDS = [("edge reached", LAST_EDGE), ("edge begun at", FIRST_EDGE)]


# ---- what the folds hold


def carrying_form(desk: Desk) -> Form:
    """The carry limits, what they come to, and what might be embroidered instead."""
    told = desk.pane(lambda plan: lines_html(carried_in_words(plan)), slow=True)
    told.add_class("plan-note")
    return Form([limits_form(desk), told])


def holding_form(desk: Desk) -> Form:
    """The knitter's ways, what follows from them section by section, and her own choices."""
    return Form(
        [
            result_pane(desk),
            ways_form(desk),
            title("Section by section"),
            quiet(desk, lambda plan: ABOUT_SECTIONS),
            desk.table(sections_table),
            title("Strand by strand"),
            result_pane(desk),
            choice_form(desk),
            desk.table(supplies_by_strand, first=LINES_OF_A_TABLE),
        ]
    )


def how_much_form(desk: Desk) -> Form:
    """The multiplier, what is added to the yarn in the stitches, and how sure the lengths are."""
    by_measured = measured_press(desk)
    return Form([result_pane(desk), by_measured, lengths_form(desk), quiet(desk, how_long)])


# ---- how yarn is held


def ways_form(desk: Desk) -> Form:
    """The knitter's ways of holding yarn."""
    settings: list[Setting | str] = [
        "Where you knit",
        Setting("place", one_of("where you sit", PLACES)),
        Setting("elsewhere", text(ELSEWHERE, continuous_update=False)),
        whole_setting("balls_on_table", "balls on the table at most"),
        yes_setting("both_ends", "both ends of a ball may be used"),
        "The longest length",
        length_setting("loose_up_to_cm", "loose strand up to ({})", of_yarn=True),
        length_setting("butterfly_up_to_cm", "butterfly up to ({})", of_yarn=True),
        length_setting("bobbin_up_to_cm", "bobbin up to ({})", of_yarn=True),
        length_setting("wrap_cm", "wraps go round ({})"),
        "How full a row may be",
        whole_setting("comfortable", "comfortable up to (at once)"),
        whole_setting("crowded", "crowded above (at once)"),
        "At the needles",
        Setting("drop", one_of("yarn between hand and work is kept", ("short", "long"))),
        yes_setting("rewinding", "rewinding is no bother"),
        Setting("turning", one_of("the work is turned", TURNINGS)),
        Setting("first_turn", one_of(FIRST_TURN, FIRST_TURNS_IN_WORDS)),
        whole_setting("twists_allowed", "full turns that two yarns may hold"),
        "Ends",
        whole_setting("sew_every", "ends are sewn in every (rows)"),
        yes_setting("tails_caught", "tails are caught as they are knitted"),
    ]
    return fields_form(desk, "habits", settings)


# ---- how much yarn


def allowances_form(desk: Desk) -> Form:
    """Tails, cast-on, bind-off, the chance to fall short, swatches and what is to spare."""
    settings: list[Setting | str] = [
        "Added to the stitches",
        length_setting("tail_cm", "each tail ({})"),
        number_setting("short_once_in", "a strand may fall short once in"),
        number_setting("cast_on", "cast-on, widths of the first row"),
        Setting("cast_on_in", text(CAST_ON_IN, continuous_update=False)),
        number_setting("bind_off", "bind-off, widths of the last row"),
        "Counted when you buy",
        Setting("swatch_in", one_of("a swatch is counted in", SWATCH_IN)),
        length_setting("swatch_cm", "side of a swatch ({})"),
        percent_setting("spare", "to spare"),
        percent_setting("label_error", "balls may be short by"),
    ]
    return fields_form(desk, "allow", settings)


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

    # What was typed for one piece is nothing to another.
    def begin_anew() -> None:
        nonlocal own
        own, value.value = MultiplierChoice(), USUAL_MULTIPLIER

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
    desk.on_arrival(lambda: boxes.quietly(begin_anew))
    boxes.follow()
    return Form([title("Yarn in the stitches"), way, value, message])


def lengths_form(desk: Desk) -> Form:
    """Tails, cast-on, bind-off and the chance to fall short; and which multiplier to go by."""
    return Form([multiplier_form(desk), allowances_form(desk)])


# ---- the strands


def carried_in_words(plan: Plan) -> str:
    """What the limits come to, and which small areas are worth embroidering instead."""
    traced = plan.traced
    begun = counted(traced.middle_starts, "strand")
    carried = counted(round(traced.carried_stitches), "stitch")
    told = f"{begun} begun from the middle; all carries together are as long as {carried}."
    return f"{told}\n{embroider_instead(plan)}"


def embroider_instead(plan: Plan) -> str:
    """The small areas worth embroidering, each with what it saves; "" where nothing is saved."""
    pricing = Pricing(plan.project)
    worth = [_saving_in_words(offer, pricing.now) for offer in worth_embroidering(pricing)]
    if not worth:
        return ""
    each = ", each by itself" if len(worth) > 1 else ""
    return "\n".join([f"Worth embroidering{each} (see notebook 5):", *worth])


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


# ---- the knitter's own choice, and winding


def supply_choice(traced: Strands, strand: str, held_as: str) -> OwnChoice:
    """The choice of a supply for the strand with this label; an empty one for what is suggested."""
    index = traced.labels.index(strand)
    # A choice is kept by the place where its strand begins: labels change with the plan.
    row = int(traced.runs.row[traced.first_run][index]) + 1
    stitch = int(traced.stitch_number(traced.first_run)[index])
    supply = "" if held_as == AS_SUGGESTED else held_as
    return OwnChoice("supply", letter_of(traced, strand), row, stitch, "whole", supply)


def own_supply(plan: Plan, strand: str) -> str:
    """How the knitter wants the strand with this label held, or that it is held as suggested."""
    place = supply_choice(plan.traced, strand, AS_SUGGESTED)
    for choice in plan.project.choices:
        if replace(choice, choice="") == place:
            return choice.choice
    return AS_SUGGESTED


def held_now(plan: Plan, strand: str) -> str:
    """How the strand with this label is held, and why, in words; each half for itself."""
    parts = [each for each in plan.held if each.part.label == strand]
    told = []
    for each in parts:
        why = "by your own choice" if each.by_hand else each.why
        told.append(f"{each.part.title}: {each.in_words} ({why})")
    return "; ".join(told)


def choice_form(desk: Desk) -> Form:
    """The knitter's own choice of supply for a strand, kept in choices.csv."""
    strand, held_as = strand_box(desk), one_of("held as", (AS_SUGGESTED, *SUPPLIES))
    now = quiet(desk, lambda plan: held_now(plan, strand.value))

    def keep(strand: str, held_as: str) -> str:
        choice = supply_choice(desk.plan.traced, strand, held_as)
        keep_choices(desk, [choice], strand)
        if held_as == AS_SUGGESTED:
            return notice(f"{strand}: your choice is taken back; it is held as suggested.")
        return notice(f"{strand}: {held_as}. That is kept, whatever else you change.")

    form = asking(keep, button=KEEP, strand=strand, held_as=held_as)
    press = next(child for child in form.children if isinstance(child, widgets.Button))

    # There is nothing to keep where what is chosen holds already.
    def name_the_press(_: Any = None) -> None:
        holds = own_supply(desk.plan, strand.value)
        press.disabled = held_as.value == holds
        press.description = TAKE_BACK if held_as.value == AS_SUGGESTED != holds else KEEP

    # What the boxes offer is what holds for the strand that is chosen.
    def show(_: Any = None) -> None:
        with desk.lock:
            held_as.value = own_supply(desk.plan, strand.value)
            now.value = lines_html(held_now(desk.plan, strand.value))
            name_the_press()

    strand.observe(show, names="value")
    held_as.observe(name_the_press, names="value")
    desk.on_change(show)
    show()
    return Form([now, form])

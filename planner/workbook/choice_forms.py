"""Forms for weighing choices: limits by their price, offers to accept or refuse, a ceiling, bobbins, and what to buy."""

from __future__ import annotations

import html
from dataclasses import replace

import ipywidgets as widgets

from planner.buying import (
    balls_table,
    bobbin_table,
    both_ends,
    copies,
    copies_table,
    odd_metres,
    reuse_leftovers,
    share_lots,
    shop_for,
    splices,
    winding_stops,
)
from planner.choices import (
    BY_ITSELF,
    Ceiling,
    Offer,
    choice_in_words,
    find_offers,
    keep_under,
    ladder,
    limits_in_words,
    offer_table,
    rows_above,
    tradeoff,
)
from planner.errors import PlanError
from planner.folder import keep_choice
from planner.pictures import draw_bobbins, draw_tradeoff
from planner.piece import BOBBIN, BUTTERFLY, OwnChoice
from planner.plan import Plan
from planner.units import counted, show, shown
from planner.workbook.desk import Desk, Form, Pane, notice, picture_html, table_html
from planner.workbook.forms import LINE, WIDE, Field, fields_form, heard, labelled

ALL_YARNS = "yarns without limits of their own"


def keep_choices(desk: Desk, choices: tuple[OwnChoice, ...], why: str):
    """Write choices into choices.csv, all or none, and plan with them."""
    if desk.project.folder is None:
        raise PlanError("This piece has no folder to keep a choice in. Open one that has.")
    for choice in choices:
        keep_choice(desk.project.folder, choice, strand_then=why)
    desk.read_choices_again()


def tradeoff_form(desk: Desk) -> Form:
    """The price of limits from strict to relaxed, as a curve and a table; the slider plans with one of them."""
    message, seen, state = Pane(), Pane(), {"quiet": False}
    scope = widgets.Dropdown(
        options=(ALL_YARNS, *desk.project.chart.letters),
        description="limits of",
        style=WIDE,
        layout=widgets.Layout(width="600px"),
    )
    slider = widgets.SelectionSlider(
        options=["…"],
        description="plan with line",
        continuous_update=False,
        style=WIDE,
        layout=LINE,
    )

    def yarn() -> str | None:
        return None if scope.value == ALL_YARNS else scope.value

    def show(_=None):
        project = desk.project
        table, rungs = tradeoff(project, yarn()), ladder(project, yarn())
        words = [f"{i}: {limits_in_words(rung)}" for i, rung in enumerate(table.itertuples(), 1)]
        state.update(quiet=True, rungs=rungs)
        slider.options = [(str(i + 1), i) for i in range(len(rungs))]
        slider.value = int(table.present.to_numpy().argmax())
        state["quiet"] = False
        title = f"Carry more, sew in less: {'limits' if yarn() is None else f'limits of yarn {yarn()}'} from strict to relaxed"
        said = table.drop(columns=["present", "beaten", "across", "sideways", "up", "middle_start"])
        said.insert(0, "limits", words)
        said = said.rename(columns={"live": "most_at_once"})
        said["note"] = ["the plan now" if p else "another line beats it" if b else ""
                        for p, b in zip(table.present, table.beaten, strict=True)]  # fmt: skip
        own = [
            letter
            for letter in project.by_yarn
            if yarn() != letter and letter in project.chart.letters
        ]
        note = "Totals are of the whole piece." + (
            f" {', '.join(own)}: limits of its own, left as they are." if own else ""
        )
        seen.value = (
            picture_html(draw_tradeoff(table, title), title)
            + html.escape(note)
            + table_html(said, tall_px=620)
        )

    @heard(message)
    def take():
        if state["quiet"]:
            return
        chosen, project = state["rungs"][slider.value], desk.project
        changes = (
            {"limits": chosen}
            if yarn() is None
            else {"by_yarn": {**project.by_yarn, yarn(): chosen}}
        )
        desk.change(**changes)
        message.value = notice(
            "planned so. Keep these settings, below, to have the other notebooks follow."
        )

    scope.observe(show, names="value")
    slider.observe(take, names="value")
    desk.on_change(show)
    show()
    return Form([scope, slider, message, seen])


def weighing_form(desk: Desk) -> Form:
    """How far the tool looks for choices, and what an end costs."""
    fields = [
        Field("embroider_stitches", "embroider patches of up to (stitches)", "whole"),
        Field("embroider_wide", "or up to so many stitches wide", "whole"),
        Field("carry_stitches", "carries offered: up to (stitches)", "whole"),
        Field("carry_rows", "and up to (rows)", "whole"),
        Field("most_live", "mark rows with more strands at once than", "whole"),
        Field("minutes_per_end", "minutes to sew in an end (assumed: time yours)"),
    ]
    more = [Field("embroider_factor", "duplicate stitch ÷ knitted stitch (assumed: measure yours)")]
    return Form([fields_form(desk, "weighing", fields), fields_form(desk, "allow", more)])


def offers_form(desk: Desk) -> Form:
    """What might be embroidered, carried farther or begun plainly, each with its price; accepted or refused one by one."""
    message, seen, decided_words = Pane(), Pane(), Pane()
    wide = widgets.Layout(width="760px")
    which = widgets.Dropdown(options=["…"], description="offer", style=WIDE, layout=wide)
    ground = labelled(
        widgets.Dropdown,
        "embroidered ones are knitted",
        options=[("in what lies beside them", BY_ITSELF)],
    )
    back = widgets.Dropdown(options=["…"], description="decided", style=WIDE, layout=wide)
    accept, refuse, undo, undo_all = (
        widgets.Button(description=text, layout=widgets.Layout(width="210px"))
        for text in ("Accept", "Refuse", "Take this one back", "Take all of them back")
    )
    state: dict[str, list] = {}

    def show():
        project = desk.project
        offers: list[Offer] = find_offers(project)
        state["offers"] = offers
        which.options = [(f"{i}: {offer.what}", i - 1) for i, offer in enumerate(offers, 1)] or [
            ("nothing to offer", -1)
        ]
        grounds = [(f"in {letter}", f"on {letter}") for letter in project.chart.letters]
        ground.options = [("in what lies beside them", BY_ITSELF), *grounds]
        names = {
            "live": "most_at_once",
            "embroidered": "stitches_to_embroider",
            "carried": "carried_stitches",
        }
        table = offer_table(offers, project.units).rename(columns=names)
        table = table.drop(columns="about").rename(
            columns={"rows_above": f"rows_above_{project.weighing.most_live}"}
        )
        table.insert(0, "offer", range(1, len(table) + 1))
        above = rows_above(desk.plan.traced, project.weighing.most_live)
        too_many = "; ".join(
            f"rows {r.first_row} to {r.last_row}, {r.live} ({r.too_many} too many)"
            for r in above.itertuples()
        )
        seen.value = (
            "What each would change, best first; fewer is written with a minus."
            + table_html(table, tall_px=620)
        )
        if too_many:
            seen.value += f"More than {project.weighing.most_live} strands at once in: {html.escape(too_many)}."
        choices = [
            choice for choice in project.choices if choice.about in ("embroider", "carry", "middle")
        ]
        state["decided"] = choices
        back.options = [
            (choice_in_words(choice, desk.plan.traced), i) for i, choice in enumerate(choices)
        ] or [("nothing yet", -1)]
        decided_words.value = (
            f"{counted(len(choices), 'decision')} kept in choices.csv." if choices else ""
        )

    def chosen() -> Offer:
        if which.value < 0:
            raise PlanError("There is no offer to decide on.")
        return state["offers"][which.value]

    @heard(message)
    def take():
        offer = chosen()
        choices = offer.choices
        if offer.about == "embroider" and ground.value != BY_ITSELF:
            choices = tuple(replace(choice, choice=ground.value) for choice in choices)
        keep_choices(desk, choices, offer.what)
        message.value = notice(f"accepted: {offer.what}.")

    @heard(message)
    def turn_down():
        offer = chosen()
        keep_choices(desk, offer.refusal, offer.what)
        message.value = notice(f"refused, and not offered again: {offer.what}.")

    @heard(message)
    def take_back():
        if back.value < 0:
            raise PlanError("Nothing is decided yet.")
        decided = state["decided"][back.value]
        said = choice_in_words(decided, desk.plan.traced)
        keep_choices(desk, (replace(decided, choice=""),), "taken back")
        message.value = notice(f"taken back: {said}.")

    @heard(message)
    def take_all_back():
        decided = state["decided"]
        if not decided:
            raise PlanError("Nothing is decided yet.")
        keep_choices(desk, tuple(replace(choice, choice="") for choice in decided), "taken back")
        message.value = notice(f"{counted(len(decided), 'decision')} taken back.")

    accept.on_click(take)
    refuse.on_click(turn_down)
    undo.on_click(take_back)
    undo_all.on_click(take_all_back)
    desk.on_change(show)
    show()
    return Form(
        [
            seen,
            which,
            ground,
            widgets.HBox([accept, refuse]),
            message,
            back,
            widgets.HBox([undo, undo_all, decided_words]),
        ]
    )


def ceiling_form(desk: Desk) -> Form:
    """Never more strands at once than so many: the fewest extra carries and embroidered stitches, to be accepted together."""
    message, answer, state = Pane(), Pane(), {}
    most = labelled(
        widgets.BoundedIntText,
        "never more strands at once than",
        value=desk.project.weighing.most_live,
        min=1,
        max=500,
    )
    find, accept = (
        widgets.Button(description=text, layout=widgets.Layout(width="210px"))
        for text in ("Find a way", "Accept all of it")
    )

    @heard(message)
    def look():
        accept.disabled, answer.value = True, "Looking for a way …"
        found: Ceiling = keep_under(desk.project, most.value)
        state["found"] = found
        said = [
            html.escape(str(found)),
            *(
                f"· {html.escape(choice_in_words(choice, desk.plan.traced))}"
                for choice in found.choices
            ),
        ]
        if found.price is not None and found.choices:
            change, plus = found.price, "+" if found.price.yarn_cm >= 0 else ""
            said.append(
                f"Changes: {change.strands:+d} strands, {change.ends:+d} ends, {change.live:+d} most at once, "
                f"{plus}{show(change.yarn_cm, desk.project.units)} of yarn."
            )
        answer.value = "<br>".join(said)
        accept.disabled = not found.choices

    @heard(message)
    def take():
        found = state["found"]
        keep_choices(desk, found.choices, f"never more than {found.most} at once")
        accept.disabled = True
        message.value = notice(
            f"accepted; at most {int(desk.plan.rows.live.max())} strands at once now."
        )

    accept.disabled = True
    find.on_click(look)
    accept.on_click(take)
    return Form([most, find, answer, accept, message])


def embroidery_pane(desk: Desk) -> Pane:
    """What is embroidered afterwards, area by area."""
    nothing = "Nothing is embroidered, as the choices stand."
    return desk.pane(lambda plan: table_html(plan.embroidery) if len(plan.embroidery) else nothing)


def bobbins_form(desk: Desk) -> Form:
    """Which bobbin carries which piece when, for as many bobbins as are owned."""
    message, seen = Pane(), Pane()
    owned = labelled(
        widgets.BoundedIntText, "bobbins owned (0: as few as will do)", value=0, max=500
    )
    too = labelled(widgets.Checkbox, "butterflies too", value=False)

    def kinds():
        return (BOBBIN, BUTTERFLY) if too.value else (BOBBIN,)

    @heard(message)
    def show():
        seen.value = ""
        table = bobbin_table(desk.plan, kinds=kinds(), owned=owned.value or None)
        if not len(table):
            seen.value = "Nothing in the plan is held on a bobbin."
            return
        need, stops = (
            counted(int(table.bobbin.max()), "bobbin"),
            winding_stops(desk.plan, kinds=kinds()),
        )
        pictured = picture_html(draw_bobbins(desk.plan, table), f"{need}, row by row")
        heading = "<br>To own more saves stopping to wind; all at once needs the last line:"
        seen.value = f"{need} in use.{pictured}{table_html(table)}{heading}{table_html(stops)}"

    for box in (owned, too):
        box.observe(show, names="value")
    desk.on_change(show)
    show()
    return Form([owned, too, message, seen])


def savings_pane(desk: Desk) -> Pane:
    """Both ends of one ball, splices, and left-overs that serve again."""

    def content(plan: Plan) -> str:
        parts = []
        for heading, table, nothing in (
            (
                "One ball, both ends",
                both_ends(plan),
                "no two strands of a yarn could be fed from the two ends of one ball.",
            ),
            (
                "Left-overs that serve again",
                reuse_leftovers(plan),
                "no left-over is likely to be long enough for a later strand.",
            ),
            ("Joins and splices", splices(plan), "no yarn is refilled, however it is held."),
        ):
            parts.append(
                f"<b>{heading}</b>"
                + (table_html(table, tall_px=260) if len(table) else f": {nothing}")
            )
        return "<br>".join(parts)

    return desk.pane(content)


def buying_form(desk: Desk) -> Form:
    """Balls for one piece or several, with their chances; the odd metre; dye lots kept apart."""
    message, seen = Pane(), Pane()
    count = labelled(widgets.BoundedIntText, "pieces alike", value=1, min=1, max=60)
    turned = labelled(widgets.BoundedIntText, "of these, mirrored", value=0, max=60)
    lots = widgets.Dropdown(
        options=["none", *desk.project.chart.letters],
        description="share two dye lots of",
        style=WIDE,
        layout=LINE,
    )

    @heard(message)
    def show():
        seen.value = ""
        plans = copies(desk.plan, count.value, mirrored_count=turned.value)
        units = desk.project.units
        said = []
        if count.value > 1:
            said.append("<b>The pieces</b>" + table_html(copies_table(plans)))
        said.append(
            "<b>What to buy</b>, as the shopping list has it"
            + table_html(shown(shop_for(plans), units))
        )
        sure = 100 - 100 / desk.project.allow.short_once_in
        heading = f"<b>Chance that so many balls suffice</b>, swatch included, nothing to spare; enough is {sure:g} times in 100"
        said.append(heading + table_html(balls_table(plans)))
        odd = odd_metres(plans)
        heading = "<b>The odd metre</b> that takes one ball more, and what would save it"
        said.append(
            heading + (table_html(odd) if len(odd) else ": no yarn is only just into a ball.")
        )
        if lots.value != "none":
            share = share_lots(plans, lots.value)
            said.append(
                f"<b>Dye lots of {html.escape(lots.value)}</b><br>{html.escape(share.said)}{table_html(share.table)}"
            )
        seen.value = "<br>".join(said)

    for box in (count, turned, lots):
        box.observe(show, names="value")
    desk.on_change(show)
    show()
    return Form([count, turned, lots, message, seen])


# What a notebook needs.
__all__ = [
    "bobbins_form", "buying_form", "ceiling_form", "embroidery_pane", "offers_form", "savings_pane", "tradeoff_form",
    "weighing_form",
]  # fmt: skip

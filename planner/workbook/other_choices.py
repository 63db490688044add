"""Notebook 5: limits by their price, offers, a ceiling, bobbins, and what to buy."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import ipywidgets as widgets
import pandas as pd

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
    NO_SOURCE,
    Ceiling,
    Offer,
    Pricing,
    begun_at,
    best_start,
    cautions_in_full,
    choice_in_words,
    find_offers,
    find_starts,
    keep_under,
    ladder,
    limits_in_words,
    offer_table,
    rows_above,
    starts_in_words,
    tradeoff,
)
from planner.errors import PlanError
from planner.pictures import draw_bobbins, draw_tradeoff
from planner.piece import BOBBIN, BUTTERFLY, CarryLimits, OwnChoice, Project
from planner.plan import Plan
from planner.strands import Strands
from planner.units import counted, show_total, shown_totals, whole_percent
from planner.workbook.asking import (
    DeskBoxes,
    asking,
    fields_form,
    heard,
    number_setting,
    whole_setting,
)
from planner.workbook.common import keep_choices, with_own_limits
from planner.workbook.desk import Desk
from planner.workbook.fields import LONG_LINE, button, labelled, listed, one_of, whole
from planner.workbook.panes import Form, Pane, notice, picture_html, table_html

ALL_YARNS = "yarns without limits of their own"
TALL = 620  # pixels, for tables that are compared line by line
NO_LOTS = "none"
NOTHING = -1  # the value of a choice among nothing
AS_BESIDE = ("in what lies beside them", BY_ITSELF)
DECIDED = ("embroider", "carry", "middle")  # what is decided about offers, not about supplies
PLANNED_SO = "planned so. Keep these settings, below, to have the other notebooks follow."

# How the table of offers is read.
EXPLAINED = (
    "What each would change, best first; fewer is written with a minus. Ends are those of strands, "
    "two each, and of lengths to embroider with; refills come on top. A small area that is begun "
    "from its middle may be embroidered or begun plainly instead: those offers stand one below the "
    "other. Embroideries are priced on what lies beside them."
)
AFTER_BLOCKING = "What is embroidered is worked last, after blocking (common practice, no source)."
# What an offer changes, as its table says it.
NAMES_OF_CHANGES = {
    "live": "most_at_once",
    "embroidered": "stitches_to_embroider",
    "carried": "carried_stitches",
}


# ---- limits by their price


def tradeoff_html(project: Project, letter: str | None, table: pd.DataFrame) -> str:
    """A `tradeoff` as a curve and a table: what limits from strict to relaxed cost."""
    of_what = "limits" if letter is None else f"limits of yarn {letter}"
    title = f"Carry more, sew in less: {of_what} from strict to relaxed"
    words, notes = [], []
    for line, rung in enumerate(table.itertuples(), start=1):
        words.append(f"{line}: {limits_in_words(rung)}")
        beaten = "another line beats it" if rung.beaten else ""
        notes.append("the plan now" if rung.present else beaten)
    # The four limits are said together in words, which is how they are chosen.
    limits = ["across", "sideways", "up", "middle_start"]
    lines = table.drop(columns=["present", "beaten", *limits])
    lines.insert(0, "limits", words)
    lines = lines.rename(columns={"live": "most_at_once"}).assign(note=notes)
    left_as_they_are = _left_as_they_are(project, letter)
    note = html.escape(f"Totals are of the whole piece, without refills.{left_as_they_are}")
    picture = picture_html(draw_tradeoff(table, title), title)
    return f"{picture}{note}{table_html(lines, tall_px=TALL)}"


def _left_as_they_are(project: Project, letter: str | None) -> str:
    """The yarns whose own limits the trade-off leaves alone, in words."""
    letters = project.chart.letters
    own = [other for other in project.by_yarn if other != letter and other in letters]
    return f" {', '.join(own)}: limits of its own, left as they are." if own else ""


def tradeoff_form(desk: Desk) -> Form:
    """The price of limits from strict to relaxed; the slider plans with one of them."""
    message, seen = Pane(), Pane()
    scope = listed("limits of", desk, lambda: (ALL_YARNS, *desk.project.chart.letters))
    scope.layout = widgets.Layout(width="600px")
    slider = labelled(
        widgets.SelectionSlider, "plan with line", options=["…"], continuous_update=False
    )
    rungs: tuple[CarryLimits, ...] = ()

    def letter() -> str | None:
        return None if scope.value == ALL_YARNS else scope.value

    def show_rungs(project: Project) -> None:
        nonlocal rungs
        # The limits that hold now are one of the rungs, wherever they stand among the others.
        rungs = ladder(project, letter())
        table = tradeoff(project, letter())
        slider.options = [(str(place + 1), place) for place in range(len(rungs))]
        slider.value = int(table.present.to_numpy().argmax())
        seen.value = tradeoff_html(project, letter(), table)

    def changes() -> Mapping[str, Any]:
        chosen, of_yarn = rungs[slider.value], letter()
        if of_yarn is None:
            return {"limits": chosen}
        return with_own_limits(desk.project, of_yarn, chosen)

    boxes = DeskBoxes(desk, message, show_rungs)
    boxes.hear(slider, changes, done=PLANNED_SO)
    boxes.follow(later=True)
    scope.observe(boxes.show, names="value")
    return Form([scope, slider, message, seen])


# ---- offers


def weighing_form(desk: Desk) -> Form:
    """How far the tool looks for choices, and what an end costs."""
    weights = [
        whole_setting("embroider_stitches", "embroider patches of up to (stitches)"),
        whole_setting("embroider_wide", "or up to so many stitches wide"),
        whole_setting("carry_stitches", "carries offered: up to (stitches)"),
        whole_setting("carry_rows", "and up to (rows)"),
        whole_setting("most_live", "mark rows with more at once than"),
        number_setting("minutes_per_end", "minutes to sew in an end (assumed: time yours)"),
    ]
    factor = number_setting(
        "embroider_factor", "duplicate stitch ÷ knitted stitch (assumed: measure yours)"
    )
    return Form([fields_form(desk, "weighing", weights), fields_form(desk, "allow", [factor])])


def offers_html(project: Project, traced: Strands, offers: Sequence[Offer]) -> str:
    """What each offer would change, best first, and where more hangs at once than wanted."""
    most = project.weighing.most_live
    table = offer_table(list(offers), project.units).drop(columns="about")
    table = table.rename(columns={**NAMES_OF_CHANGES, "rows_above": f"rows_above_{most}"})
    # Offers are numbered here as in the choice among them.
    table.insert(0, "offer", range(1, len(table) + 1))
    if not any(offer.mind for offer in offers):
        table = table.drop(columns="mind")
    explained = f"{EXPLAINED} {AFTER_BLOCKING}"
    stretches = [
        f"rows {stretch.first_row} to {stretch.last_row}, {stretch.live} "
        f"({stretch.too_many} too many)"
        for stretch in rows_above(traced, most).itertuples()
    ]
    too_many = ""
    if stretches:
        too_many = f"More than {most} at once in: {html.escape('; '.join(stretches))}."
    return f"{explained}{table_html(table, tall_px=TALL)}{too_many}"


def decisions(project: Project) -> list[OwnChoice]:
    """What was decided about offers, oldest first."""
    return [choice for choice in project.choices if choice.about in DECIDED]


def choices_to_accept(offer: Offer, ground: str) -> tuple[OwnChoice, ...]:
    """The choices that accept an offer, what is embroidered being knitted in this ground."""
    if offer.about != "embroider" or ground == BY_ITSELF:
        return offer.choices
    return tuple(replace(choice, choice=ground) for choice in offer.choices)


class _Offers:
    """The form of offers at work: what is offered and what was decided, as the plan stands."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.message, self.seen, self.count = Pane(), Pane(), Pane()
        self.which = one_of("offer", ["…"], layout=LONG_LINE)
        self.ground = one_of("embroidered ones are knitted", [AS_BESIDE])
        self.back = one_of("decided", ["…"], layout=LONG_LINE)
        self._pricing: Pricing | None = None
        self._offers: list[Offer] = []
        self._decided: list[OwnChoice] = []
        # To price offers takes its time; until then there is none to decide on.
        desk.on_change(self._wait)
        desk.on_change(self.show, later=True)
        self.show()

    def _wait(self) -> None:
        self.which.options = [("… the offers are being priced", NOTHING)]

    def show(self) -> None:
        """Show what is offered and what is decided now."""
        project, traced = self.desk.project, self.desk.plan.traced
        # Only what hangs on what has changed is priced again.
        self._pricing = Pricing(project, self._pricing)
        self._offers = find_offers(project, self._pricing)
        self._decided = decisions(project)
        # Their values are places in the lists, for two offers may be said in the same words.
        what = [(f"{place + 1}: {each.what}", place) for place, each in enumerate(self._offers)]
        self.which.options = what or [("nothing to offer", NOTHING)]
        grounds = [(f"in {letter}", f"on {letter}") for letter in project.chart.letters]
        self.ground.options = [AS_BESIDE, *grounds]
        decided = [
            (choice_in_words(choice, traced), place) for place, choice in enumerate(self._decided)
        ]
        self.back.options = decided or [("nothing yet", NOTHING)]
        kept = counted(len(decided), "decision")
        self.count.value = f"{kept} kept in choices.csv." if decided else ""
        self.seen.value = offers_html(project, traced, self._offers)

    def _chosen(self) -> Offer:
        if self.which.value == NOTHING:
            raise PlanError("There is no offer to decide on.")
        return self._offers[self.which.value]

    def accept(self) -> None:
        """Take the offer chosen, in the ground chosen."""
        chosen = self._chosen()
        keep_choices(self.desk, choices_to_accept(chosen, self.ground.value), chosen.what)
        mind = f" Mind: {chosen.mind} ({NO_SOURCE})." if chosen.mind else ""
        self.message.value = notice(f"accepted: {chosen.what}.{mind}")

    def refuse(self) -> None:
        """Put the offer chosen aside for good."""
        chosen = self._chosen()
        keep_choices(self.desk, chosen.refusal, chosen.what)
        self.message.value = notice(f"refused, and not offered again: {chosen.what}.")

    def take_back(self) -> None:
        """Take back the decision chosen."""
        if self.back.value == NOTHING:
            raise PlanError("Nothing is decided yet.")
        decision = self._decided[self.back.value]
        words = choice_in_words(decision, self.desk.plan.traced)
        self._withdraw([decision])
        self.message.value = notice(f"taken back: {words}.")

    def take_all_back(self) -> None:
        """Take back all that was decided."""
        decided = self._decided
        if not decided:
            raise PlanError("Nothing is decided yet.")
        self._withdraw(decided)
        self.message.value = notice(f"{counted(len(decided), 'decision')} taken back.")

    def _withdraw(self, decided: Sequence[OwnChoice]) -> None:
        # An empty choice withdraws the one that stands at its place.
        empty = tuple(replace(choice, choice="") for choice in decided)
        keep_choices(self.desk, empty, "taken back")


def offers_form(desk: Desk) -> Form:
    """What might be embroidered, carried farther or begun plainly, each with its price.

    Offers are accepted or refused one by one, and what was decided can be taken back.
    """
    offers = _Offers(desk)
    start = start_form(desk)

    def press(label: str, act: Callable[[], None]) -> widgets.Button:
        pressed = button(label)
        pressed.on_click(heard(offers.message)(act))
        return pressed

    decide = [press("Accept", offers.accept), press("Refuse", offers.refuse)]
    take_back = [
        press("Take this one back", offers.take_back),
        press("Take all of them back", offers.take_all_back),
    ]
    return Form(
        [
            offers.seen,
            offers.which,
            offers.ground,
            widgets.HBox(decide),
            offers.message,
            offers.back,
            widgets.HBox([*take_back, offers.count]),
            start,
        ]
    )


def start_form(desk: Desk) -> Form:
    """Whether another start of the round saves strands; shown for a piece worked in rounds."""
    message, answer = Pane(), Pane()
    find, take = button("Try every start of the round"), button("Begin the round there")
    better: int | None = None

    @heard(message)
    def look() -> None:
        nonlocal better
        answer.value = "Trying every start …"  # which may take some seconds
        starts = find_starts(desk.project)
        answer.value = "<br>".join(map(html.escape, starts_in_words(desk.project, starts)))
        best = best_start(starts)
        better = best.stitch if best != starts[0] else None
        take.disabled = better is None

    @heard(message)
    def begin_there() -> None:
        if better is None:
            raise PlanError("The plan has changed since. Try every start once more.")
        stitch = better
        desk.change(
            chart=begun_at(desk.project.chart, stitch), doing="beginning the round elsewhere"
        )
        message.value = notice(f"the round begins at what was stitch {stitch}: {PLANNED_SO}")

    def forget() -> None:
        # What was found for another plan must not be taken for this one.
        nonlocal better
        better, take.disabled, answer.value = None, True, ""
        form.layout.display = "" if desk.project.how.is_tube else "none"

    form = Form([find, answer, take, message])
    forget()
    find.on_click(look)
    take.on_click(begin_there)
    desk.on_change(forget)
    return form


def embroidery_pane(desk: Desk) -> Pane:
    """What is embroidered after blocking, area by area, and what to mind about it."""
    nothing = "Nothing is embroidered, as the choices stand."

    def content(plan: Plan) -> str:
        if not plan.to_embroider:
            return nothing
        mind = cautions_in_full(plan.project, plan.to_embroider)
        words = "<br>".join(map(html.escape, mind))
        return f"{AFTER_BLOCKING}{table_html(plan.embroidery)}{words}"

    return desk.pane(content)


# ---- a ceiling


def ceiling_html(found: Ceiling, traced: Strands, units: str) -> str:
    """A way to keep under a ceiling: what would be done, and what that changes."""
    lines = [str(found)]
    lines += [f"· {choice_in_words(choice, traced)}" for choice in found.choices]
    price = found.price
    if price is not None and found.choices:
        plus = "+" if price.yarn_cm >= 0 else ""
        lines.append(
            f"Changes: {price.strands:+d} strands, {price.ends:+d} ends, {price.live:+d} most at "
            f"once, {plus}{show_total(price.yarn_cm, units)} of yarn."
        )
    return "<br>".join(map(html.escape, lines))


def ceiling_form(desk: Desk) -> Form:
    """Never more at once than so many: what that takes, to be accepted together."""
    message, answer = Pane(), Pane()
    most = whole("never more at once than", desk.project.weighing.most_live, least=1, most=500)
    find, accept = button("Find a way"), button("Accept all of it")
    found: Ceiling | None = None

    @heard(message)
    def look() -> None:
        nonlocal found
        forget()
        answer.value = "Looking for a way …"  # which may take some seconds
        found = keep_under(desk.project, most.value)
        answer.value = ceiling_html(found, desk.plan.traced, desk.project.units)
        accept.disabled = not found.choices

    @heard(message)
    def take() -> None:
        if found is None:
            raise PlanError("The plan has changed since. Find a way once more.")
        keep_choices(desk, found.choices, f"never more than {found.most} at once")
        at_once = int(desk.plan.rows.live.max())
        message.value = notice(f"accepted; at most {at_once} at once now.")

    def forget() -> None:
        # A way that was found for another plan must not be accepted for this one.
        nonlocal found
        found, accept.disabled = None, True

    forget()
    find.on_click(look)
    accept.on_click(take)
    desk.on_change(forget)
    return Form([most, find, answer, accept, message])


# ---- what to own, to use again, and to buy


def bobbins_html(plan: Plan, *, owned: int, butterflies: bool) -> str:
    """Which bobbin carries which piece when; `owned` 0 stands for as few as will do."""
    kinds = (BOBBIN, BUTTERFLY) if butterflies else (BOBBIN,)
    table = bobbin_table(plan, kinds=kinds, owned=owned or None)
    if not len(table):
        return "Nothing in the plan is held on a bobbin."
    in_use = counted(int(table.bobbin.max()), "bobbin")
    picture = picture_html(draw_bobbins(plan, table), f"{in_use}, row by row")
    # What more bobbins would save stands beside it, before they are bought.
    more = "<br>To own more saves stopping to wind; all at once needs the last line:"
    stops = table_html(winding_stops(plan, kinds=kinds))
    return f"{in_use} in use.{picture}{table_html(table)}{more}{stops}"


def bobbins_form(desk: Desk) -> Form:
    """Which bobbin carries which piece when, for as many bobbins as are owned."""
    return asking(
        lambda **typed: bobbins_html(desk.plan, **typed),
        desk=desk,
        owned=whole("bobbins owned (0: as few as will do)", most=500),
        butterflies=labelled(widgets.Checkbox, "butterflies too", value=False),
    )


def savings_html(plan: Plan) -> str:
    """Both ends of one ball, splices, and left-overs that serve again."""
    parts = [
        _titled(
            "One ball, both ends",
            both_ends(plan),
            "no two strands of a yarn could be fed from the two ends of one ball.",
        ),
        _titled(
            "Left-overs that serve again",
            reuse_leftovers(plan),
            "no left-over is likely to be long enough for a later strand.",
        ),
        _titled("Joins and splices", splices(plan), "no yarn is refilled, however it is held."),
    ]
    return "<br>".join(parts)


def _titled(title: str, table: pd.DataFrame, nothing: str) -> str:
    """A table under its title; of an empty one, why it is empty."""
    content = table_html(table, tall_px=260) if len(table) else f": {nothing}"
    return f"<b>{title}</b>{content}"


def savings_pane(desk: Desk) -> Pane:
    """Both ends of one ball, splices, and left-overs that serve again."""
    return desk.pane(savings_html)


def buying_html(plan: Plan, *, pieces: int, mirrored: int, lots: str) -> str:
    """Balls for so many pieces alike, with their chances; `lots` is a yarn to share two lots of."""
    plans = copies(plan, pieces, mirrored_count=mirrored)
    # So sure the plan is of each strand; here it is asked of the balls together.
    sure = whole_percent(1 - 1 / plan.project.allow.short_once_in)
    to_buy = table_html(shown_totals(shop_for(plans), plan.project.units))
    odd, metre = odd_metres(plans), "metre" if plan.project.units == "cm" else "yard"
    odd_ones = table_html(odd) if len(odd) else ": no yarn is only just into a ball."
    parts = [
        f"<b>What to buy</b>, as the shopping list has it{to_buy}",
        "<b>Chance that so many balls suffice</b>, swatch included, nothing to spare; "
        f"enough is {sure} times in 100{table_html(balls_table(plans))}",
        f"<b>The odd {metre}</b> that takes one ball more, and what would save it" + odd_ones,
    ]
    if pieces > 1:
        parts.insert(0, f"<b>The pieces</b>{table_html(copies_table(plans))}")
    if lots != NO_LOTS:
        share = share_lots(plans, lots)
        title = f"<b>Dye lots of {html.escape(lots)}</b>"
        parts.append(f"{title}<br>{html.escape(share.said)}{table_html(share.table)}")
    return "<br>".join(parts)


def buying_form(desk: Desk) -> Form:
    """Balls for one piece or several, with their chances; the odd metre; dye lots kept apart."""
    return asking(
        lambda **typed: buying_html(desk.plan, **typed),
        desk=desk,
        pieces=whole("pieces alike", 1, least=1, most=60),
        mirrored=whole("of these, mirrored", most=60),
        lots=listed("share two dye lots of", desk, lambda: (NO_LOTS, *desk.project.chart.letters)),
    )

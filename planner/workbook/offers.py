"""The chart with the offers on it, and the list of them: taken, refused and taken back in place.

What the browser does stands in offers.mjs, which is sent with shared.mjs. It is told where each
offer lies and what would change, so that stitches light up and figures change at once; only what is
pressed comes here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import traitlets

from planner import pictures
from planner.choices import BY_ITSELF, Offer, Pricing, Spots, find_offers
from planner.errors import PlanError
from planner.piece import OwnChoice
from planner.units import counted
from planner.workbook.asking import heard
from planner.workbook.common import keep_choices
from planner.workbook.desk import Desk
from planner.workbook.offered import (
    AFTER_BLOCKING,
    MARKED,
    Decision,
    Figures,
    Item,
    choices_to_accept,
    decided_items,
    decisions,
    key_of,
    names_of_figures,
    offered,
    offers_html,
    too_many_in_words,
)
from planner.workbook.painting import ChartInBrowser, module_of, pack, yarns_in_browser
from planner.workbook.panes import RUN_TO_CHANGE, Form, Pane, notice, picture_html

AS_BESIDE = [BY_ITSELF, "what lies beside them"]
NOT_YET = "The offers are being priced anew. Press once more when they are there."
GONE = "This is not offered any more, for the plan has changed. Choose from what is listed now."
NOT_DECIDED = "This is not decided any more: it was taken back already."


class SpotChart(ChartInBrowser):
    """The chart on the desk with a list beside it; what is touched in the list lights up on it."""

    _esm = module_of(["shared", "offers"])
    # A byte a cell: whether it is embroidered.
    embroidered = traitlets.CBytes().tag(sync=True)
    row_word = traitlets.Unicode("row").tag(sync=True)
    # Worked rows to a chart row.
    times = traitlets.Int(1).tag(sync=True)
    title = traitlets.Unicode().tag(sync=True)
    # What the plan comes to, figure by figure, and how they are named.
    figures: traitlets.List[str] = traitlets.List().tag(sync=True)
    names: traitlets.List[str] = traitlets.List().tag(sync=True)
    # What is listed, and whether each can be taken and refused by itself.
    items: traitlets.List[Item] = traitlets.List().tag(sync=True)
    singly = traitlets.Bool(True).tag(sync=True)
    taken: traitlets.List[Item] = traitlets.List().tag(sync=True)
    refused: traitlets.List[Item] = traitlets.List().tag(sync=True)
    grounds: traitlets.List[list[str]] = traitlets.List().tag(sync=True)
    pricing = traitlets.Bool(False).tag(sync=True)
    note = traitlets.Unicode().tag(sync=True)
    # What is said about the last press, as HTML, and the number of that press.
    said = traitlets.Unicode().tag(sync=True)
    answered = traitlets.Int(0).tag(sync=True)

    def __init__(self, desk: Desk):
        super().__init__(desk)
        self._show_chart()
        desk.on_change(self._show_chart)

    def _show_chart(self) -> None:
        """Show the chart on the desk, and what its plan comes to."""
        plan = self._desk.plan
        project = plan.project
        yarns = project.all_yarns
        with self.hold_sync():
            self.title = project.name
            self.yarns = list(yarns_in_browser(yarns).values())
            self.times = project.how.rows_per_chart_row
            self.row_word = project.how.row_word
            self._show_construction()
            self.grid = pack(project.chart, list(yarns))
            self.embroidered = (plan.embroidered >= 0).astype(np.uint8).tobytes()
            self.names = names_of_figures(project.units)
            self.figures = Figures.of(plan).shown(project.units)

    def __repr__(self) -> str:
        return f"{self._desk.project.chart!r}. {counted(len(self.items), 'offer')}"


class Offers(SpotChart):
    """The chart with the offers on it.

    Each is taken or refused with one press, and taken back as it was taken.
    """

    def __init__(self, desk: Desk):
        super().__init__(desk)
        self.message = Pane()
        self.message.observe(self._say, names="value")
        self._pricing: Pricing | None = None
        self.offers: list[Offer] = []
        self.decided: list[Decision] = []
        self.on_msg(self._heard)
        # To price offers takes its time; until then there is none to decide on.
        desk.on_arrival(lambda: self.message.set_trait("value", ""))
        desk.on_change(self._wait)
        desk.on_change(self._price, later=True)
        self._wait()
        self._price()

    def _say(self, change: Any) -> None:
        self.said = change.new

    def _wait(self) -> None:
        """Show what is decided now, and that the offers are being priced."""
        project, plan = self._desk.project, self._desk.plan
        self.decided = decisions(project, plan.traced)
        spots = Spots(project.chart, project.how, plan.drawn_areas, plan.traced.runs)
        taken = [each for each in self.decided if not each.is_refused]
        refused = [each for each in self.decided if each.is_refused]
        with self.hold_sync():
            self.pricing = True
            self.taken = decided_items(taken, spots)
            self.refused = decided_items(refused, spots)
            in_letters = [
                [f"on {letter}", yarn.title] for letter, yarn in project.all_yarns.items()
            ]
            on_chart = {f"on {letter}" for letter in project.chart.letters}
            self.grounds = [AS_BESIDE, *(each for each in in_letters if each[0] in on_chart)]

    def _price(self) -> None:
        """Show what is offered now."""
        project, plan = self._desk.project, self._desk.plan
        # Only what hangs on what has changed is priced again.
        self._pricing = Pricing(project, self._pricing)
        self.offers = find_offers(project, self._pricing)
        asked = self._pricing.asked
        spots = Spots(project.chart, project.how, asked.areas, self._pricing.runs)
        notes = [too_many_in_words(plan.traced, project.weighing.most_live)]
        if any(offer.about == "embroider" for offer in self.offers):
            notes.append(AFTER_BLOCKING)
        if any(offer.mind for offer in self.offers):
            notes.append(MARKED)
        with self.hold_sync():
            self.items = offered(self.offers, plan, spots)
            self.note = " ".join(filter(None, notes))
            self.pricing = False

    def _heard(self, _: Any, content: Any, buffers: Any) -> None:
        """Do what was pressed in the browser, which is always answered."""
        acts: dict[str, Callable[[], None]] = {
            "take": lambda: self.take(content["key"], content.get("ground", BY_ITSELF)),
            "refuse": lambda: self.refuse(content["key"]),
            "take back": lambda: self.take_back(content["key"]),
            "take all back": self.take_all_back,
        }
        act = acts.get(content.get("act", ""))
        if act is None:
            return
        with self._desk.lock, self.hold_sync():
            heard(self.message)(act)()
            self.said = self.message.value
            self.answered = content.get("press", 0)

    def take(self, key: str, ground: str = BY_ITSELF) -> None:
        """Take an offer, what is embroidered being knitted in this ground."""
        offer, item = self._offer(key)
        keep_choices(self._desk, choices_to_accept(offer, ground), offer.what)
        mind = f" Mind: {offer.mind}." if offer.mind else ""
        self.message.value = notice(f"Taken: {offer.what}. {item['change']}.{mind}")

    def refuse(self, key: str) -> None:
        """Put an offer aside for good."""
        offer, _ = self._offer(key)
        keep_choices(self._desk, offer.refusal, offer.what)
        self.message.value = notice(f"Refused, and not offered again: {offer.what}.")

    def take_back(self, key: str) -> None:
        """Take back a decision as it was made: what was taken together goes together."""
        found = [each for each in self.decided if key_of(each.choices) == key]
        if not found:
            raise PlanError(NOT_DECIDED)
        [decision] = found
        self._withdraw(decision.choices)
        back = "Brought back" if decision.is_refused else "Taken back"
        self.message.value = notice(f"{back}: {decision.what}.")

    def take_all_back(self) -> None:
        """Take back all that was taken; what was refused stays so."""
        taken = [each for each in self.decided if not each.is_refused]
        if not taken:
            raise PlanError("Nothing is decided yet.")
        self._withdraw([choice for each in taken for choice in each.choices])
        self.message.value = notice(f"{counted(len(taken), 'decision')} taken back.")

    def _offer(self, key: str) -> tuple[Offer, Item]:
        if self.pricing:
            raise PlanError(NOT_YET)
        for offer, item in zip(self.offers, self.items, strict=True):
            if item["key"] == key:
                return offer, item
        raise PlanError(GONE)

    def _withdraw(self, decided: Sequence[OwnChoice]) -> None:
        # An empty choice withdraws the one that stands at its place.
        empty = tuple(replace(choice, choice="") for choice in decided)
        keep_choices(self._desk, empty, "taken back")


class OffersForm(Form):
    """The chart with the offers; a saved notebook has a picture of it, and a table of them."""

    def __init__(self, desk: Desk):
        self._desk = desk
        self.offers = Offers(desk)
        super().__init__([self.offers])

    def words(self) -> str:
        plan = self._desk.plan
        words = f"The chart of {plan.project.name}; embroidered stitches are marked V"
        chart = picture_html(pictures.draw_chart(plan), words)
        return f"{chart}{offers_html(plan.project, self.offers.offers)}{RUN_TO_CHANGE}"


def offers_form(desk: Desk) -> OffersForm:
    """What might be embroidered, carried farther or begun plainly: on the chart, with its price."""
    return OffersForm(desk)

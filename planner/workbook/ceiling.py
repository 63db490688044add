"""Never more at once than so many: what that takes, shown on the chart, to be taken together."""

from __future__ import annotations

import html

import ipywidgets as widgets

from planner.choices import Ceiling, Spots, keep_under, tell_choices
from planner.errors import PlanError
from planner.plan import Plan
from planner.workbook.asking import heard
from planner.workbook.common import keep_choices
from planner.workbook.desk import Desk
from planner.workbook.fields import button, whole
from planner.workbook.offered import Figures, Item, before_and_after, spot_of
from planner.workbook.offers import SpotChart
from planner.workbook.panes import Form, Pane, notice

LOOKING = "Looking for a way …"  # which may take some seconds


def way_in_words(found: Ceiling, plan: Plan) -> str:
    """A way to keep under a ceiling, and what it changes in all."""
    if found.price is None or not found.choices:
        return str(found)
    now = Figures.of(plan)
    changes = before_and_after(now, now.after(found.price), plan.project.units)
    return f"{found} {changes}."


def way_items(found: Ceiling, plan: Plan) -> list[Item]:
    """What a way takes, line by line, for the browser: in words and by its stitches."""
    project = plan.project
    spots = Spots(project.chart, project.how, plan.drawn_areas, plan.traced.runs)
    items = []
    for told in tell_choices(found.choices, project, plan.traced, plan.drawn_areas):
        item = {
            "key": told.words,
            "about": told.choices[0].about,
            "what": told.words,
            "change": "",
            "mind": "",
            "after": [],
        }
        items.append(item | spot_of(told.choices, spots))
    return items


class _Way:
    """The form of a ceiling at work: the way that was found for the plan as it stands."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.proposed = self._one_less()
        self.most = whole("never more at once than", self.proposed, least=1, most=500)
        self.message, self.answer = Pane(), Pane()
        self.chart = SpotChart(desk)
        self.chart.singly = False
        self.find, self.accept = button("Find a way"), button("Take all of it")
        self.found: Ceiling | None = None
        self.find.on_click(heard(self.message)(self.look))
        self.accept.on_click(heard(self.message)(self.take))
        self.forget()
        desk.on_arrival(self.begin_anew)
        desk.on_change(self.follow)

    def look(self) -> None:
        """Look for a way to keep under what was typed."""
        self.forget()
        self.answer.value = LOOKING
        try:
            self.found = keep_under(self.desk.project, self.most.value)
        finally:
            self.answer.value = ""
        plan = self.desk.plan
        self.answer.value = html.escape(way_in_words(self.found, plan))
        self._show(way_items(self.found, plan))

    def take(self) -> None:
        """Take all of the way that was found."""
        if self.found is None:
            raise PlanError("The plan has changed since. Find a way once more.")
        found, taken = self.found, [item["what"] for item in self.chart.items]
        keep_choices(self.desk, found.choices, f"never more than {found.most} at once")
        at_once = int(self.desk.plan.traced.live.max())
        what = "".join(f"<li>{html.escape(each)}</li>" for each in taken)
        done = notice(f"taken, at most {at_once} at once now:")
        self.message.value = f"{done}<ul>{what}</ul>"

    def follow(self) -> None:
        """Forget what was found for another plan; propose anew where nothing else was typed."""
        self.forget()
        if self.most.value == self.proposed:
            self.most.value = self._one_less()
        self.proposed = self._one_less()

    def begin_anew(self) -> None:
        """Propose what fits another piece."""
        self.message.value = ""
        self.proposed = self.most.value = self._one_less()

    def _one_less(self) -> int:
        """One length less than hangs at once now, and no more than the knitter wants."""
        most = int(self.desk.plan.traced.live.max())
        return max(1, min(most - 1, self.desk.project.weighing.most_live))

    def forget(self) -> None:
        """Forget a way: what was found for another plan must not be taken for this one."""
        self.found, self.answer.value = None, ""
        self._show([])

    def _show(self, items: list[Item]) -> None:
        self.chart.items = items
        self.chart.layout.display = self.accept.layout.display = "" if items else "none"
        self.accept.disabled = not items


def ceiling_form(desk: Desk) -> Form:
    """Never more at once than so many: what that takes, to be taken together."""
    way = _Way(desk)
    ask = widgets.HBox([way.most, way.find])
    ask.add_class("plan-actions")
    # What is done, and what has become of it, stand where the hand is: above the chart.
    return Form([ask, way.message, way.answer, way.accept, way.chart])

"""Limits by their price: what carrying farther saves in ends, and what it costs."""

from __future__ import annotations

import html
from collections.abc import Mapping
from typing import Any

import pandas as pd

from planner.choices import ladder, limits_in_words, one_step_more, tradeoff
from planner.pictures import draw_tradeoff
from planner.piece import CarryLimits, Project
from planner.units import counted
from planner.workbook.asking import DeskBoxes
from planner.workbook.common import with_own_limits
from planner.workbook.desk import Desk
from planner.workbook.fields import LONG_LINE, labelled, listed
from planner.workbook.panes import Form, Pane, picture_html, table_html
from planner.workbook.slider import Slider

ALL_YARNS = "yarns without own limits"
PLANNED_SO = "planned so; the other notebooks follow."


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
    reading = html.escape(steps_in_words(project, letter, table))
    return f"{picture}<p>{reading}</p>{note}{table_html(lines)}"


def steps_in_words(project: Project, letter: str | None, table: pd.DataFrame) -> str:
    """Where the most is won, and what one step more than now would win."""
    ends = table.ends.to_numpy()
    saved = ends[:-1] - ends[1:]
    best = int(saved.argmax())
    sentences = []
    if saved[best] > 0:
        sentences.append(
            f"The step that saves most is from line {best + 1} to line {best + 2}: "
            f"{ends[best]} → {ends[best + 1]} ends."
        )
    steps = one_step_more(project) if letter is None else {letter: one_step_more(project)[letter]}
    saving = []
    nothing = []
    for each, price in steps.items():
        if price is not None and price.ends < 0:
            carried = counted(round(price.carried), "stitch")
            saving.append(f"{each} {-price.ends} ends for {carried} carried")
        else:
            nothing.append(each)
    if saving:
        sentences.append(f"One step more for a single yarn saves: {'; '.join(saving)}.")
    if nothing:
        sentences.append(f"It saves no end for {', '.join(nothing)}.")
    return " ".join(sentences)


def _left_as_they_are(project: Project, letter: str | None) -> str:
    """The yarns whose own limits the trade-off leaves alone, in words."""
    letters = project.chart.letters
    own = [other for other in project.by_yarn if other != letter and other in letters]
    return f" {', '.join(own)}: limits of its own, left as they are." if own else ""


def tradeoff_form(desk: Desk) -> Form:
    """The price of limits from strict to relaxed; the slider plans with one of them."""
    message, seen = Pane(), Pane()
    scope = listed("limits of", desk, lambda: (ALL_YARNS, *desk.project.chart.letters))
    scope.layout = LONG_LINE
    slider = labelled(Slider, "plan with line")
    rungs: tuple[CarryLimits, ...] = ()

    def letter() -> str | None:
        return None if scope.value == ALL_YARNS else scope.value

    def show_rungs(project: Project) -> None:
        nonlocal rungs
        # The limits that hold now are one of the rungs, wherever they stand among the others.
        rungs = ladder(project, letter())
        table = tradeoff(project, letter())
        slider.max = len(rungs)
        slider.value = int(table.present.to_numpy().argmax()) + 1
        seen.value = tradeoff_html(project, letter(), table)

    def changes() -> Mapping[str, Any]:
        chosen, of_yarn = rungs[slider.value - 1], letter()
        if of_yarn is None:
            return {"limits": chosen}
        return with_own_limits(desk.project, of_yarn, chosen)

    boxes = DeskBoxes(desk, message, show_rungs)
    boxes.hear(slider, changes, done=PLANNED_SO)
    boxes.follow(later=True)
    scope.observe(boxes.show, names="value")
    desk.on_arrival(lambda: message.set_trait("value", ""))
    return Form([scope, slider, message, seen])

"""What is kept of a piece: news from elsewhere, troubles with their ways out, earlier versions."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable

import ipywidgets as widgets

from planner import charts
from planner.errors import PlanError
from planner.folder import Version, project_of, versions
from planner.piece import Project
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import LONG_LINE, button, offer, one_of
from planner.workbook.panes import PAGE_LOOK, Form, Pane, notice
from planner.workbook.troubles import WayOut

SMALL_PX = 160  # the height of an earlier chart
NONE_YET = [("none yet", "")]


def news_form(desk: Desk) -> Form:
    """What has changed elsewhere, and what is wrong with the piece, with the ways out."""
    news, message, wrong = Pane(), Pane(), widgets.VBox()

    def show() -> None:
        where = f"what you see is kept in the piece's folder as you make it: {desk.place}."
        if desk.project.folder is None:
            where = "this piece has no folder: what you change is not kept."
        if desk.troubles:
            where = "nothing of this piece can be changed before one of the ways out is taken."
        words = desk.news or where
        line = notice(words, trouble=bool(desk.troubles and not desk.news))
        # What is longer than its line is cut there, and read whole when it is pointed at.
        news.value = (
            f'<div class="plan-news" tabindex="0" title="{html.escape(words)}">{line}</div>'
        )
        wrong.children = _troubles(desk, message)

    desk.on_change(show)
    show()
    # It stands at the top of every notebook, so the look of the page is put down here.
    return Form([Pane(value=PAGE_LOOK), news, wrong, message])


def _troubles(desk: Desk, message: Pane) -> list[widgets.Widget]:
    """What is wrong with a piece, each with its ways out as buttons."""

    def taking(way: WayOut) -> Callable[..., None]:
        @heard(message)
        def press() -> None:
            # What the button says may not be so any more.
            if desk.look():
                raise PlanError("The piece has changed meanwhile. Choose once more.")
            way.take()
            desk.look()
            # What has changed is what was asked for here.
            desk.news = ""
            desk.show_all()
            message.value = notice(f"done: {way.words[0].lower()}{way.words[1:]}.")

        return press

    boxes: list[widgets.Widget] = []
    for trouble in desk.troubles:
        boxes.append(Pane(value=notice(trouble.what, trouble=True)))
        for way in trouble.ways:
            press = button(way.words, width="auto")
            press.on_click(taking(way))
            boxes.append(press)
    return boxes


def versions_form(desk: Desk) -> Form:
    """The earlier versions: the one chosen as a small picture, and a button that goes back."""
    which, picture, message = one_of("earlier versions", NONE_YET), Pane(), Pane()
    # Its lines are long: moment and change.
    which.layout, which.style.description_width = LONG_LINE, "initial"
    back = button("Go back to this version", icon="history", width="240px")

    def kept() -> dict[str, Version]:
        folder = desk.project.folder
        return {version.path.name: version for version in versions(folder)} if folder else {}

    def show() -> None:
        names = [(str(version), name) for name, version in kept().items()]
        offer(which, names or NONE_YET)
        back.disabled = not names

    def chosen() -> Version:
        version = kept().get(which.value)
        if version is None:
            raise PlanError("There is no earlier version to go back to yet.")
        return version

    @heard(message)
    def look_at_it() -> None:
        picture.value = ""
        if which.value:
            project = project_of(chosen())
            words = html.escape(f"The chart then: {project.chart!r}")
            picture.value = f"{words}<br>{small_picture(project)}"

    @heard(message)
    def go_back() -> None:
        version = chosen()
        desk.go_back(version)
        message.value = notice(f"back at the version of {version}. What was now is kept, too.")

    which.observe(look_at_it, names="value")
    back.on_click(go_back)
    desk.on_change(show)
    show()
    return Form([which, picture, back, message])


def small_picture(project: Project) -> str:
    """The chart of a piece as a small picture in HTML."""
    aspect = float(project.gauge.aspect) * project.how.rows_per_chart_row
    png = charts.chart_png(project.chart, project.all_yarns, aspect)
    source = f"data:image/png;base64,{base64.b64encode(png).decode()}"
    words = html.escape(repr(project.chart))
    return f'<img src="{source}" alt="{words}" style="height:{SMALL_PX}px">'

"""Folds: what a notebook keeps out of the way until it is asked for, under its present state.

A fold is a heading that says how things stand ("Carrying: sideways 2.5 cm, up 2 rows"). What it
holds is made when it is opened for the first time, so that a notebook opens quickly.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from planner.plan import Plan
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.panes import Form, Pane


class FoldHeading(anywidget.AnyWidget):
    """The button that opens a fold, and says whether it is open, as folds.mjs has it."""

    _esm = Path(__file__).with_name("folds.mjs").read_text(encoding="utf-8")
    description = traitlets.Unicode().tag(sync=True)
    is_open = traitlets.Bool(False).tag(sync=True)

    def click(self) -> None:
        """Open the fold if it is shut, shut it if it is open."""
        self.is_open = not self.is_open


class Fold(Form):
    """A heading that can be pressed, and below it what `make` returns, once it is opened."""

    def __init__(self, title: str, make: Callable[[], widgets.Widget]):
        self._make = make
        self._message = Pane()
        self.heading = FoldHeading(description=title)
        self.body = widgets.VBox([], layout=widgets.Layout(display="none"))
        self.body.add_class("plan-fold-body")
        self.heading.observe(heard(self._message)(self._follow), names="is_open")
        super().__init__([self.heading, self.body])

    @property
    def is_open(self) -> bool:
        """Whether what the fold holds is shown."""
        return bool(self.heading.is_open)

    def _follow(self) -> None:
        self.body.layout.display = "" if self.is_open else "none"
        if self.is_open and self.body.children in ((), (self._message,)):
            # It says why, where what is asked for cannot be made; the next press tries anew.
            self.body.children = [self._message]
            self.body.children = [self._make()]

    def words(self) -> str:
        """The heading, and what is shown below it, as HTML."""
        heading = f"<b>{html.escape(self.heading.description)}</b>"
        return f"{heading}<br>{super().words()}" if self.is_open else heading


def fold(
    desk: Desk,
    title: str | Callable[[Plan], str],
    make: Callable[[], widgets.Widget],
) -> Fold:
    """A fold whose title follows the plan: a text, or a function of the plan that returns one."""
    if isinstance(title, str):
        return Fold(title, make)
    folded = Fold(title(desk.plan), make)

    def follow() -> None:
        folded.heading.description = title(desk.plan)

    desk.on_change(follow, later=True)
    return folded


class SideBySide(Form):
    """Widgets beside each other where the page is wide enough, below each other where it is not."""

    def __init__(self, children: Sequence[widgets.Widget]):
        super().__init__(children)
        self.add_class("plan-side-by-side")

    def words(self) -> str:
        """What stands side by side, one after the other, as HTML."""
        return "<br>".join(_words(child) for child in self.children)


def _words(child: Any) -> str:
    return child.words() if hasattr(child, "words") else str(getattr(child, "value", ""))

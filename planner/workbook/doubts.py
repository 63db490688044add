"""The cells that could not be read for sure, looked at one by one beside the picture."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping

import ipywidgets as widgets
import pandas as pd

from planner.charts import Doubt, Loaded
from planner.piece import NO_STITCH, Yarn
from planner.units import counted
from planner.workbook.fields import button
from planner.workbook.folds import Fold
from planner.workbook.panes import Form, Pane, table_html
from planner.workbook.previews import near_html
from planner.workbook.readers import show_if

MOST_YARNS = 12  # that have a button of their own
FIRST_PLACES = 8  # of the list, before all are asked for
NOW = "Row {} stitch {}: {}. It was read as {}."


class DoubtsFold(Fold):
    """A fold that goes from cell to cell in doubt; what a cell is said to be goes to `mend`."""

    def __init__(self, mend: Callable[[Doubt, str], None]):
        self._mend = mend
        self._loaded: Loaded | None = None
        self._yarns: Mapping[str, Yarn] = {}
        self._place = 0
        self._near, self._all = Pane(), Pane()
        self._before = button("The one before", icon="arrow-left")
        self._next = button("The next one", icon="arrow-right")
        self._before.on_click(lambda _: self._step(-1))
        self._next.on_click(lambda _: self._step(1))
        self._answers = widgets.HBox()
        self._answers.add_class("plan-actions")
        super().__init__("", self._content)
        self.forget()

    def follow(self, loaded: Loaded, yarns: Mapping[str, Yarn]) -> None:
        """Show what is in doubt in what was read; of one that was settled the next stays in sight.

        `yarns` are those of its chart, by letter.
        """
        self._loaded, self._yarns = loaded, yarns
        many = len(loaded.doubts)
        show_if(self, bool(many))
        self.heading.description = f"To look at again: {counted(many, 'cell')}"
        self._step(0)

    def forget(self) -> None:
        """There is nothing to look at."""
        self._loaded, self._place = None, 0
        show_if(self, False)

    def _content(self) -> Form:
        steps = widgets.HBox([self._before, self._next])
        steps.add_class("plan-actions")
        return Form([self._near, self._answers, steps, self._all])

    def _follow(self) -> None:
        super()._follow()
        self._step(0)

    def _step(self, by: int) -> None:
        loaded = self._loaded
        if loaded is None or not loaded.doubts or not self.is_open:
            return
        doubts = loaded.doubts
        # Behind the last one comes the first again.
        self._place = (self._place + by) % len(doubts) if by else min(self._place, len(doubts) - 1)
        doubt = doubts[self._place]
        letter = loaded.chart.to_rows()[-doubt.row][-doubt.stitch]
        words = NOW.format(doubt.row, doubt.stitch, doubt.why, self._name(letter))
        which = f"{self._place + 1} of {len(doubts)}"
        near = near_html(loaded, doubt)
        self._near.value = f"<p><b>{which}</b> · {html.escape(words)}</p>{near}"
        self._answers.children = self._buttons(doubt, letter)
        table = pd.DataFrame(doubts, columns=["row", "stitch", "why"])
        self._all.value = table_html(table, first=FIRST_PLACES)

    def _buttons(self, doubt: Doubt, letter: str) -> list[widgets.Button]:
        """A button for the yarn it was read as, and for each other one of the chart."""
        assert self._loaded is not None
        others = [other for other in self._loaded.chart.letters if other != letter]
        presses = []
        for choice in (letter, *others[: MOST_YARNS - 1]):
            words = f"Yes, {self._name(choice)}" if choice == letter else self._name(choice)
            press = button(words)
            press.on_click(lambda _, choice=choice: self._mend(doubt, choice))
            presses.append(press)
        return presses

    def _name(self, letter: str) -> str:
        if letter == NO_STITCH:
            return "no stitch"
        return self._yarns[letter].title if letter in self._yarns else letter

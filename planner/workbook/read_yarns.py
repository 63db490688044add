"""The yarns of what was read from a file: with those of the piece, and their names.

A key that names its yarns suggests these names; they can be put right before the chart is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from planner.charts import Loaded
from planner.piece import Project, Yarn
from planner.workbook.fields import text
from planner.workbook.folds import Fold
from planner.workbook.readers import show_if
from planner.workbook.yarns import FORMULA_SIGNS

LONGEST_NAME = 60  # letters
SUCH_AS = "such as Leaf green"


def yarns_with(
    project: Project, kept: Mapping[str, Yarn], loaded: Loaded, *, stays: bool
) -> dict[str, Yarn]:
    """The yarns of the piece with those that a file brings along.

    `kept` are those in hand. What an earlier file brought goes again with its chart, unless that
    `stays`.
    """
    new = yarns_read(loaded)
    # Needed are yarns that are kept, new ones, and those of a chart that stays under a motif.
    needed = {*kept, *new}
    if stays:
        needed |= set(project.chart.letters)
    old = {letter: yarn for letter, yarn in project.yarns.items() if letter in needed}
    return old | new | dict(kept)


def yarns_read(loaded: Loaded) -> dict[str, Yarn]:
    """The yarns of what was read, each with the name and the colour that the file tells."""
    yarns = {}
    for letter in loaded.chart.letters:
        name, colour = loaded.names.get(letter, ""), loaded.colours.get(letter)
        if name or colour:
            yarn = Yarn(letter, name=name)
            yarns[letter] = replace(yarn, colour=colour) if colour else yarn
    return yarns


def name_typed(words: str) -> str:
    """A yarn's name as it was typed or stood in a file; "" for what cannot be one."""
    name = " ".join(words.split())[:LONGEST_NAME]
    return "" if name.startswith(FORMULA_SIGNS) else name


class NamesFold(Fold):
    """The names of the yarns of what was read, to be put right before it is taken."""

    def __init__(self, changed: Callable[[], None]):
        self._changed = changed
        self._boxes: dict[str, widgets.Text] = {}
        self._fields = widgets.VBox()
        self._fields.add_class("plan-fields")
        super().__init__("", lambda: self._fields)
        show_if(self, False)

    def begin(self, loaded: Loaded) -> None:
        """Ask for the names of these letters; the file's own stand there to begin with."""
        typed = {letter: box.value for letter, box in self._boxes.items()}
        self._boxes = {}
        for letter in loaded.chart.letters:
            name = typed.get(letter) or name_typed(loaded.names.get(letter, ""))
            box = text(f"name of yarn {letter}", name, placeholder=SUCH_AS, continuous_update=False)
            box.observe(self._typed, names="value")
            self._boxes[letter] = box
        self._fields.children = tuple(self._boxes.values())
        show_if(self, True)
        self._tell()

    def forget(self) -> None:
        """There is nothing to be named."""
        self._boxes, self._fields.children = {}, ()
        show_if(self, False)

    @property
    def names(self) -> dict[str, str]:
        """The names by letter, of those yarns that have one."""
        names = {letter: name_typed(box.value) for letter, box in self._boxes.items()}
        return {letter: name for letter, name in names.items() if name}

    def _typed(self, _: Any) -> None:
        self._tell()
        self._changed()

    def _tell(self) -> None:
        names = self.names
        named = ", ".join(f"{letter} {name}" for letter, name in names.items())
        nameless = ", ".join(letter for letter in self._boxes if letter not in names)
        told = [named] if named else []
        if nameless:
            told.append(f"{nameless} without a name")
        self.heading.description = f"Names of its yarns: {'; '.join(told)}"

"""Driving a form as a browser does: its boxes by their labels, presses, and what it says."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from typing import Any

from planner import CarryLimits, Chart, Gauge, Project
from planner.folder import read_choices
from planner.piece import rows_worked
from planner.workbook import Desk, Pane
from planner.workbook.labels import label_of
from planner.workbook.row_by_row import mark_rows

PATCH = ["AAAAAA", "AABBAA", "AABBAA", "AAAAAA"]


def small(rows=PATCH, **asked) -> Desk:
    """A desk with a small piece, 20 stitches and 28 rows to 10 cm.

    As it is drawn: a patch in a ground of two strands, for nothing is begun from its middle.
    """
    settings = {"gauge": Gauge(20, 28), "limits": CarryLimits(middle_start=False)} | asked
    return Desk(Project("Patch", Chart.from_rows(rows), **settings))


def work_rows(desk: Desk, number: int = 1) -> None:
    """Mark the next rows as worked, so many of them; less than 0 takes rows back."""
    mark_rows(desk, rows_worked(desk.project.progress) + number)


def _all_boxes(widget) -> Iterator[Any]:
    yield widget
    for child in getattr(widget, "children", ()):
        yield from _all_boxes(child)


def boxes(form, kind: type | None = None) -> list:
    """A form and all widgets in it, in the order of the page, or those of one kind."""
    return [child for child in _all_boxes(form) if kind is None or isinstance(child, kind)]


def box(form, label: str, nth: int = 0):
    """The n-th widget whose label begins so."""
    labelled = [child for child in boxes(form) if _label(child).startswith(label)]
    return labelled[nth]


def _label(child) -> str:
    return label_of(child) if hasattr(child, "description") else ""


def by_label(form) -> dict[str, Any]:
    """Every widget of a form by its whole label; of two that are labelled alike the first."""
    found: dict[str, Any] = {}
    for child in boxes(form):
        found.setdefault(_label(child), child)
    return found


def press(form, label: str) -> None:
    """Click the button with this label."""
    by_label(form)[label].click()


def option(dropdown, words: str):
    """The value of the option that has these words in its label."""
    return next(value for label, value in dropdown.options if words in label)


def said_html(form) -> str:
    """What the form's panes say, as the page gets it."""
    return " ".join(pane.value for pane in boxes(form, Pane))


def words_of(text: str) -> str:
    """The words of some HTML, without its tags and looks."""
    return html.unescape(re.sub("<style>.*?</style>|<[^>]+>", " ", text, flags=re.DOTALL))


def said(form) -> str:
    """What the form's panes say, as one plain text."""
    return words_of(said_html(form))


def choose_file(form, name: str, content: bytes) -> None:
    """Choose a file in the form, as a browser sends it."""
    button = by_label(form)["Choose a file"]
    button._handle_custom_msg({"name": name}, [memoryview(content)])


def press_on(chart, act: str, key: str = "", ground: str = "by itself") -> None:
    """Press on the chart with the offers, as a browser sends it."""
    chart._handle_custom_msg({"act": act, "key": key, "ground": ground, "press": 1}, [])


def offer_of(chart, words: str) -> str:
    """The key of the first offer that says this; "" if there is none."""
    return next((item["key"] for item in chart.items if words in item["what"]), "")


def choices_of(folder) -> list[tuple[str, str, str]]:
    """What choices.csv holds about offers."""
    choices = read_choices(folder / "choices.csv")
    return [(each.about, each.yarn, each.choice) for each in choices if each.about != "supply"]

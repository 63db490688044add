"""Panes and forms: what a notebook shows, kept as plain HTML so that a saved notebook has it too.

JupyterLab keeps no widgets in a saved notebook. A pane and a form therefore carry, beside the
widget, the same content as HTML, which is shown where there is no kernel.
"""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
import pandas as pd

from planner import pictures
from planner.piece import Yarn
from planner.workbook.labels import is_field, label_of, with_help

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# The look of everything that a notebook shows; the menu at its top puts it down.
LOOKS = Path(__file__).with_name("looks.css").read_text(encoding="utf-8")
PAGE_LOOK = f"<style>{LOOKS}</style>"
# What stands behind the last underscore in the name of a column, if it has a unit.
UNITS_IN_NAMES = ("m", "yd", "cm", "g", "10cm")
# How the names of columns end whose numbers have no digit behind the point, one at the most, and
# one at the least; others have two at the most. Inches are named one by one: the "in" of "sewn in"
# is no unit.
WHOLE, ONE_DIGIT, LENGTHS = ("grams", "percent", "carried_stitches"), ("_g",), ("_m", "_yd")
WHOLE_INCHES = ("length_in", "rule_of_three_in")
WENT_WRONG = (
    "something went wrong here ({}). What was kept is safe. Run the notebook again; if it comes "
    "back, show trouble.log in the piece's folder to whoever helps you."
)
# How a table's columns look: numbers, and words of few letters.
NUMBER, IN_ONE_LINE, SHORT = ' class="n"', ' class="s"', 9
AS_NUMBER = re.compile(r"[±−+-]?\d+\.\d+")
FEW_MORE = 2  # lines: they are not worth folding
ALL_OR_FEW = (
    '<details><summary><span class="plan-all">all {}</span>'
    '<span class="plan-few">only the first {}</span></summary></details>'
)
RUN_TO_CHANGE = "<small>Run this cell to change it here.</small>"


def _with_html(bundle: Any, text: str) -> dict[str, Any]:
    """What a widget gives a notebook to show, with HTML beside it for where there is no kernel."""
    # Some widgets give what they show alone, others in a pair with metadata.
    data = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
    # No plain text: it would be the widget's code, which says nothing to a knitter.
    return data | {"text/plain": "", "text/html": text}


class Pane(widgets.HTML):
    """Some HTML that a saved notebook keeps."""

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        return _with_html(super()._repr_mimebundle_(**kwargs), self.value)


class Form(widgets.VBox):
    """Fields to fill in; a saved notebook keeps their names and values in words."""

    def __init__(self, children: Sequence[widgets.Widget]):
        super().__init__([with_help(child) for child in children])
        # In two columns where there is room.
        if any(is_field(child) for child in children):
            self.add_class("plan-fields")

    def words(self) -> str:
        """The fields with what is filled in, then what the form's panes say, as HTML."""
        # Fields first, whatever the order on the page: their answers are long.
        shown = list(_shown_in(self))
        fields = [_field_in_words(child) for child in shown if not isinstance(child, Pane)]
        answers = [child.value for child in shown if isinstance(child, Pane) and child.value]
        filled_in = " · ".join(field for field in fields if field)
        return "<br>".join([filled_in, *answers, RUN_TO_CHANGE])

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        return _with_html(super()._repr_mimebundle_(**kwargs), self.words())


def _shown_in(parent: widgets.Widget) -> Iterator[widgets.Widget]:
    """The widgets in a form that are not hidden, in the order of the page."""
    for child in parent.children:
        if child.layout.display == "none":
            continue
        yield child
        if hasattr(child, "children"):
            yield from _shown_in(child)


def _field_in_words(child: widgets.Widget) -> str:
    """The name of a field and its value, a button's name in brackets; "" for anything else."""
    # A file that was chosen is no value to be kept in words.
    if isinstance(child, widgets.Button | widgets.FileUpload):
        return f"[{html.escape(child.description)}]"
    if isinstance(child, widgets.HTML) or not hasattr(child, "value"):
        return ""
    name = label_of(child) or getattr(child, "placeholder", "")
    if not name:
        return ""
    value = child.value
    # Not True and False: those are Python's words.
    if isinstance(value, bool):
        value = "yes" if value else "no"
    # A box for numbers writes 15 as 15.0.
    if isinstance(value, float):
        value = f"{value:.10g}"
    return f"<b>{html.escape(name)}</b> {html.escape(str(value))}"


def heading(column: str) -> str:
    """A table heading in words, its unit in brackets: "length (m)"."""
    words = column.replace("_percent", "_(%)").split("_")
    has_unit = words[-1] in UNITS_IN_NAMES or column in WHOLE_INCHES
    if len(words) == 1 or not has_unit:
        return " ".join(words)
    unit = "per 10 cm" if words[-1] == "10cm" else words[-1]
    return f"{' '.join(words[:-1])} ({unit})"


def _digits(column: pd.Series, name: str) -> int:
    """How many digits behind the point the numbers of a column are shown with."""
    if name.endswith(WHOLE):
        return 0
    if name in WHOLE_INCHES:
        return 0
    # No more than there are: sums of lengths are told to a tenth, balls in hand are mostly whole.
    least = 1 if name.endswith(LENGTHS) else 0
    most = 1 if name.endswith(ONE_DIGIT) else 2
    numbers = column.dropna().astype(float)
    for digits in range(least, most):
        if (numbers.round(digits) == numbers.round(most)).all():
            return digits
    return most


def _number_cell(number: float, digits: int) -> str:
    if pd.isna(number):
        return ""
    # Adding 0 turns −0.00 into 0.00.
    return f"{round(number, digits) + 0.0:.{digits}f}"


def _cells(column: pd.Series, name: str) -> list[str]:
    """A column's cells as people read them."""
    if column.dtype == bool:
        return ["yes" if value else "no" for value in column]
    if pd.api.types.is_float_dtype(column):
        digits = _digits(column, name)
        return [_number_cell(number, digits) for number in column]
    # Text and whole numbers stay as they are, but for what is missing.
    is_missing = column.isna()
    cells = []
    for value, missing in zip(column, is_missing, strict=True):
        cells.append("" if missing else html.escape(str(value).strip(), quote=False))
    return cells


def table_html(
    table: pd.DataFrame,
    *,
    first: int | None = None,
    yarns: Mapping[str, Yarn] | None = None,
) -> str:
    """A table for people as HTML: headings in words, numbers below each other, yes and no.

    A column in which nothing stands is left out. A table of clearly more than `first` lines folds
    to these, under "all 33". With `yarns`, by letter, a column called yarn has their colours.
    """
    shown = {name: _cells(table[name], name) for name in table}
    # Without lines the headings say what there is nothing of.
    columns = {name: cells for name, cells in shown.items() if any(cells) or not cells}
    looks = [_look(table[name], cells) for name, cells in columns.items()]
    if yarns and "yarn" in columns:
        columns["yarn"] = _with_patches(columns["yarn"], yarns)
    headings = [html.escape(heading(name), quote=False) for name in columns]
    # By hand, for pandas takes five times as long.
    head = _line("th", headings, looks)
    lines = [_line("td", cells, looks) for cells in zip(*columns.values(), strict=True)]
    opening, rest = "", ""
    # To hide a line or two would save no room.
    if first is not None and len(lines) > first + FEW_MORE:
        opening = ALL_OR_FEW.format(len(lines), first)
        rest = f'<tbody class="plan-rest">\n{"".join(lines[first:])}</tbody>\n'
        lines = lines[:first]
    body = f"<thead>\n{head}</thead>\n<tbody>\n{''.join(lines)}</tbody>\n{rest}"
    return f'<div class="plan-table">{opening}<table>\n{body}</table></div>'


def _look(column: pd.Series, cells: Sequence[str]) -> str:
    """How a column stands: numbers below each other, and what is short in one line."""
    if pd.api.types.is_numeric_dtype(column) and column.dtype != bool:
        return NUMBER
    # Numbers may be written out, with a sign that is no number's.
    written = [cell for cell in cells if cell]
    if written and all(map(AS_NUMBER.fullmatch, written)):
        return NUMBER
    longest = max(map(len, written), default=0)
    return IN_ONE_LINE if longest <= SHORT else ""


def _line(tag: str, cells: Iterable[str], looks: Iterable[str]) -> str:
    """A line of a table."""
    pairs = zip(cells, looks, strict=True)
    inner = "".join(f"<{tag}{look}>{cell}</{tag}>" for cell, look in pairs)
    return f"<tr>{inner}</tr>\n"


def _with_patches(cells: Iterable[str], yarns: Mapping[str, Yarn]) -> list[str]:
    """Cells that name yarns, each with a patch of its yarn's colour before it."""
    colours = {}
    for letter, yarn in yarns.items():
        # By their letters, by their names, or by both.
        for name in (letter, yarn.name, yarn.title):
            colours[html.escape(name, quote=False)] = yarn.colour
    return [yarn_patch(colours[cell]) + cell if cell in colours else cell for cell in cells]


def yarn_patch(colour: str) -> str:
    """A patch of a yarn's colour as HTML, to stand before the yarn's letter or name."""
    return f'<span class="plan-yarn" style="background: {html.escape(colour)}"></span>'


def picture_png(figure: Figure) -> str:
    """A picture as PNG in base64, packed quickly: it is small where a notebook is committed."""
    png = pictures.png_of(figure, packed=pictures.QUICK)
    return base64.b64encode(png).decode()


def picture_html(figure: Figure, words: str) -> str:
    """A picture as HTML, with the same said in words for who cannot see it."""
    source = f"data:image/png;base64,{picture_png(figure)}"
    return f'<img src="{source}" alt="{html.escape(words)}" style="max-width:100%">'


def notice(text: str, *, trouble: bool = False) -> str:
    """A short message as HTML; trouble is said with a mark as well as a colour."""
    # As a status it is read out by a screen reader when it changes.
    if not text:
        return ""
    # The colour stands beside the text: no one colour of letters is read on light and on dark.
    look = "plan-notice plan-trouble" if trouble else "plan-notice"
    mark = "▲ Please look at this: " if trouble else "✓ "
    return f'<span role="status" class="{look}">{mark}{html.escape(text)}</span>'


def lines_html(text: str) -> str:
    """A plain text as HTML, a line to a line."""
    return "<br>".join(map(html.escape, text.splitlines()))

"""The desk: one open piece in a notebook. Forms change what the knitter asks for, panes show the plan that follows.

A pane is a widget that also carries its content as plain HTML, so that a saved notebook shows it without a kernel.
Callbacks may run while a cell runs, hence one lock, and pictures that never touch pyplot.
"""

from __future__ import annotations

import base64
import html
import io
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import pandas as pd
from matplotlib.figure import Figure
from PIL import Image

from planner.errors import PlanError
from planner.folder import (
    open_project,
    read_choices,
    read_measurements,
    read_progress,
    save_chart,
    save_settings,
    save_yarns,
)
from planner.piece import Chart, Project, rows_worked
from planner.plan import Plan, make_plan

DATA = Path(__file__).resolve().parents[2] / "data"
TABLE_LOOK = (
    "<style>.plan-table {overflow: auto; line-height: 1.35} .plan-table th {position: sticky; top: 0; background: #eee} "
    ".plan-table td, .plan-table th {padding: 3px 8px; vertical-align: top; text-align: left} "
    ".plan-table tr:nth-child(even) td {background: #f7f7f7}</style>"
)
UNITS_IN_NAMES = ("m", "yd", "cm", "g", "10cm")


class Pane(widgets.HTML):
    """Some HTML that a saved notebook keeps."""

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
        return data | {"text/plain": "", "text/html": self.value}


class Form(widgets.VBox):
    """Fields to fill in; a saved notebook keeps their names and values in words."""

    def words(self) -> str:
        said, answers = [], []
        stack = list(self.children)
        while stack:
            child = stack.pop(0)
            if child.layout.display == "none":
                continue
            stack[:0] = getattr(child, "children", ())
            if isinstance(child, Pane) and child.value:
                answers.append(child.value)
            if isinstance(child, widgets.Button | widgets.FileUpload):
                said.append(f"[{html.escape(child.description)}]")
            if isinstance(child, widgets.HTML | widgets.Button | widgets.FileUpload):
                continue
            name = getattr(child, "description", "") or getattr(child, "placeholder", "")
            if name and hasattr(child, "value"):
                value = ("no", "yes")[child.value] if isinstance(child.value, bool) else child.value
                said.append(f"<b>{html.escape(name)}</b> {html.escape(str(value))}")
        return "<br>".join(
            [" · ".join(said), *answers, "<small>Run this cell to change it here.</small>"]
        )

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
        return data | {"text/plain": "", "text/html": self.words()}


def heading(column: str) -> str:
    """A table heading in words, its unit in brackets: "length (m)"."""
    words = column.replace("_percent", "_(%)").split("_")
    if len(words) > 1 and words[-1] in UNITS_IN_NAMES:
        return f"{' '.join(words[:-1])} ({'per 10 cm' if words[-1] == '10cm' else words[-1]})"
    return " ".join(words)


def table_html(table: pd.DataFrame, *, tall_px: int = 420) -> str:
    """A table for people: headings in words, nothing where there is nothing, yes and no."""
    shown = table.copy()
    for name in shown:
        if shown[name].dtype == bool:
            shown[name] = shown[name].map({True: "yes", False: "no"})
        elif pd.api.types.is_float_dtype(shown[name]):
            digits = (
                0
                if name == "grams"
                else 1
                if name.endswith(("_g", "percent", "hand", "carried_stitches"))
                else 2
            )
            shown[name] = shown[name].map(
                lambda x, digits=digits: (
                    "" if pd.isna(x) else f"{round(x, digits) + 0.0:.{digits}f}"
                )
            )
        else:
            shown[name] = shown[name].astype(object).where(shown[name].notna(), "")
    shown.columns = [heading(name) for name in shown]
    body = shown.to_html(index=False, na_rep="", border=0, justify="left")
    return f'<div class="plan-table" style="max-height:{tall_px}px">{TABLE_LOOK}{body}</div>'


def picture_png(figure: Figure) -> str:
    """A picture as PNG in base64."""
    raw, small = io.BytesIO(), io.BytesIO()
    figure.savefig(raw, format="png")
    # 96 colours are plenty for flat areas and lines, and keep the notebook small.
    Image.open(raw).convert("RGB").quantize(96).save(small, "png", optimize=True)
    return base64.b64encode(small.getvalue()).decode()


def picture_html(figure: Figure, words: str) -> str:
    """A picture as HTML, with the same said in words for who cannot see it."""
    code = picture_png(figure)
    return f'<img src="data:image/png;base64,{code}" alt="{html.escape(words)}" style="max-width:100%">'


def notice(text: str, *, trouble: bool = False) -> str:
    """A short message; trouble is said with a mark as well as a colour."""
    colour, mark = ("#a33000", "▲ Please look at this: ") if trouble else ("#2f5d3a", "✓ ")
    return (
        f'<span role="status" style="color:{colour}">{mark}{html.escape(text)}</span>'
        if text
        else ""
    )


class Desk:
    """An open piece: its `project`, the `plan` for it, and the panes that follow the plan."""

    def __init__(self, project: Project):
        self.lock = threading.RLock()
        self.project = self.kept = project
        self.plan: Plan = make_plan(project, say=print)
        self._panes: list[tuple[bool, Pane, Callable[[Plan], str]]] = []
        self._watchers: list[Callable[[], None]] = []

    def change(self, **changes):
        """Ask for something else, plan anew, and show it. PlanError leaves everything as it was."""
        with self.lock:
            project = replace(self.project, **changes)
            _check_worked_rows(self.project, project.chart)
            self.plan, self.project = make_plan(project), project
            self.show_all()

    def show_all(self):
        """Bring everything up to date: first what is in words, then tables, then pictures, which take longest."""
        for watcher in self._watchers:
            watcher()
        for _, pane, content in sorted(self._panes, key=lambda entry: entry[0]):
            pane.value = self._content(content)

    def _content(self, content: Callable[[Plan], str]) -> str:
        try:
            return content(self.plan)
        except PlanError as error:
            return notice(str(error), trouble=True)

    def pane(self, content: Callable[[Plan], str], *, slow: bool = False) -> Pane:
        """A pane whose HTML is made from the plan, now and whenever the plan changes."""
        with self.lock:
            pane = Pane(value=self._content(content))
            self._panes.append((slow, pane, content))
            return pane

    def words(self, content: Callable[[Plan], str]) -> Pane:
        """A pane of plain text, a line to a line."""
        return self.pane(lambda plan: "<br>".join(map(html.escape, content(plan).splitlines())))

    def table(self, content: Callable[[Plan], pd.DataFrame], **kwargs) -> Pane:
        """A pane with a table."""
        return self.pane(lambda plan: table_html(content(plan), **kwargs))

    def picture(self, draw: Callable[[Plan], Figure], words: Callable[[Plan], str] = repr) -> Pane:
        """A pane with a picture."""
        return self.pane(lambda plan: picture_html(draw(plan), words(plan)), slow=True)

    def on_change(self, watcher: Callable[[], None]):
        """Call this whenever the plan has changed or what is kept has."""
        self._watchers.append(watcher)

    @property
    def unsaved(self) -> bool:
        return self.project != self.kept

    def keep(self) -> Path:
        """Write what has changed: settings into piece.toml, yarns into yarns.csv, the chart into chart.csv."""
        with self.lock:
            if self.project.yarns != self.kept.yarns:
                save_yarns(self.project, kept=self.kept)
            if self.project.chart != self.kept.chart:
                save_chart(self.project, kept=self.kept)
            path = save_settings(self.project, kept=self.kept)
            self.kept = self.project
            for watcher in self._watchers:
                watcher()
            return path

    def read_choices_again(self):
        """Take up what choices.csv says now."""
        choices = read_choices(self.project.folder / "choices.csv")
        self.kept = replace(self.kept, choices=choices)
        self.change(choices=choices)

    def read_measurements_again(self):
        """Take up what measurements.csv says now."""
        measurements = read_measurements(self.project.folder)
        self.kept = replace(self.kept, measurements=measurements)
        self.change(measurements=measurements)

    def read_progress_again(self):
        """Take up what progress.csv says now."""
        progress = read_progress(self.project.folder)
        self.kept = replace(self.kept, progress=progress)
        self.change(progress=progress)

    def __repr__(self):
        return repr(self.project)


def _check_worked_rows(project: Project, chart: Chart):
    """Refuse a chart in which a row that is knitted already would look otherwise."""
    worked = -(-rows_worked(project.progress) // project.how.rows_per_chart_row)
    if worked and chart.to_rows()[-worked:] != project.chart.to_rows()[-worked:]:
        raise PlanError(
            f"Rows 1 to {worked} of the chart are worked and stay as they are, but the new chart has them otherwise. Change only "
            "rows above them, or take rows back in notebook 4."
        )


def open_desk(name: str) -> Desk:
    """The piece in data/NAME, or in any folder, laid out on a desk."""
    folder = DATA / name
    if not folder.is_dir() and not Path(name).is_dir():
        there = ", ".join(sorted(path.parent.name for path in DATA.glob("*/chart.csv")))
        raise PlanError(f'There is no piece "{name}" in the folder data. There are: {there}.')
    return Desk(open_project(folder if folder.is_dir() else name))

"""The desk: one open piece in a notebook.

Forms change what the knitter asks for, panes show the plan that follows. Callbacks may run on a
second thread while a cell runs, hence one lock, and pictures that never touch pyplot.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
from matplotlib.figure import Figure

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
from planner.workbook.panes import Pane, lines_html, notice, picture_html, table_html

# Where the pieces lie: beside planner, in the project's own folder.
DATA = Path(__file__).resolve().parents[2] / "data"
NO_FOLDER = "This project has no folder to keep its settings in. Open one with open_project."

Content = Callable[[Plan], str]  # the HTML of a pane, made from a plan


class Desk:
    """An open piece: its `project`, the `plan` for it, and the panes that follow the plan.

    `kept` is the project as its folder has it.
    """

    def __init__(self, project: Project):
        # One thread may take it several times: forms that follow a change set their own boxes.
        self.lock = threading.RLock()
        self.project = self.kept = project
        self.plan: Plan = make_plan(project, say=print)
        # In the order in which they are brought up to date.
        self._watchers: list[Callable[[], None]] = []
        self._quick_panes: list[tuple[Pane, Content]] = []
        self._slow_panes: list[tuple[Pane, Content]] = []

    def change(self, **changes: Any) -> None:
        """Ask for something else, plan anew, and show it. PlanError leaves everything as it was."""
        with self.lock:
            project = replace(self.project, **changes)
            _check_worked_rows(self.project, project.chart)
            # Nothing is put down before the plan is made: it may be refused.
            self.plan, self.project = make_plan(project), project
            self.show_all()

    def show_all(self) -> None:
        """Bring everything up to date: forms, then tables, then pictures, which take longest."""
        # Each pane travels to the browser as soon as it is set; what is quick is seen first.
        self._tell_watchers()
        for pane, content in [*self._quick_panes, *self._slow_panes]:
            pane.value = self._html(content)

    def _tell_watchers(self) -> None:
        for watcher in self._watchers:
            watcher()

    def _html(self, content: Content) -> str:
        # A pane that cannot be made says why in its own place, and the others are made.
        try:
            return content(self.plan)
        except PlanError as error:
            return notice(str(error), trouble=True)

    def pane(self, content: Content, *, slow: bool = False) -> Pane:
        """A pane whose HTML is made from the plan, now and whenever the plan changes."""
        with self.lock:
            pane = Pane(value=self._html(content))
            panes = self._slow_panes if slow else self._quick_panes
            panes.append((pane, content))
            return pane

    def words(self, content: Content) -> Pane:
        """A pane of plain text, a line to a line."""
        return self.pane(lambda plan: lines_html(content(plan)))

    def table(self, content: Callable[[Plan], pd.DataFrame], *, tall_px: int = 420) -> Pane:
        """A pane with a table."""
        return self.pane(lambda plan: table_html(content(plan), tall_px=tall_px))

    def picture(self, draw: Callable[[Plan], Figure], words: Content = repr) -> Pane:
        """A pane with a picture; `words` says the same for who cannot see it."""
        return self.pane(lambda plan: picture_html(draw(plan), words(plan)), slow=True)

    def on_change(self, watcher: Callable[[], None]) -> None:
        """Call this whenever the plan has changed or what is kept has."""
        self._watchers.append(watcher)

    @property
    def unsaved(self) -> bool:
        """Whether something on the desk is not in the piece's folder."""
        return self.project != self.kept

    def folder(self, otherwise: str = NO_FOLDER) -> Path:
        """The piece's folder; a PlanError that says `otherwise` if it has none."""
        if self.project.folder is None:
            raise PlanError(otherwise)
        return self.project.folder

    def keep(self) -> Path:
        """Write what has changed, each thing into its own file; returns the path of piece.toml."""
        with self.lock:
            # Without a folder nothing is written, not even a part.
            self.folder()
            # `kept` tells what was changed here: what somebody else has changed meanwhile stays.
            if self.project.yarns != self.kept.yarns:
                save_yarns(self.project, kept=self.kept)
            if self.project.chart != self.kept.chart:
                save_chart(self.project, kept=self.kept)
            path = save_settings(self.project, kept=self.kept)
            self.kept = self.project
            self._tell_watchers()
            return path

    def read_choices_again(self) -> None:
        """Take up what choices.csv says now."""
        self._take_up(choices=read_choices(self.folder() / "choices.csv"))

    def read_measurements_again(self) -> None:
        """Take up what measurements.csv says now."""
        self._take_up(measurements=read_measurements(self.folder()))

    def read_progress_again(self) -> None:
        """Take up what progress.csv says now."""
        self._take_up(progress=read_progress(self.folder()))

    def _take_up(self, **read: Any) -> None:
        """Plan with what was read from the folder, which is therefore kept already."""
        with self.lock:
            # Before the change, so that forms do not call unsaved what came from the folder.
            before = self.kept
            self.kept = replace(before, **read)
            try:
                self.change(**read)
            except PlanError:
                self.kept = before
                raise

    def __repr__(self) -> str:
        return repr(self.project)


def _check_worked_rows(project: Project, chart: Chart) -> None:
    """Refuse a chart in which a row that is knitted already would look otherwise."""
    rows = rows_worked(project.progress)
    # A ridge of garter that is begun stays as it is, so the count is rounded up.
    worked = -(-rows // project.how.rows_per_chart_row)
    # Charts list their top row first, so that the worked rows are the last ones.
    if worked and chart.to_rows()[-worked:] != project.chart.to_rows()[-worked:]:
        raise PlanError(
            f"Rows 1 to {worked} of the chart are worked and stay as they are, but the new chart "
            "has them otherwise. Change only rows above them, or take rows back in notebook 4."
        )


def open_desk(name: str) -> Desk:
    """The piece in data/NAME, or in any folder, laid out on a desk."""
    # A piece of the workbook's own comes first, whatever the notebook's folder holds.
    folder = DATA / name
    if folder.is_dir():
        return Desk(open_project(folder))
    if Path(name).is_dir():
        return Desk(open_project(name))
    pieces = sorted(path.parent.name for path in DATA.glob("*/chart.csv"))
    raise PlanError(
        f'There is no piece "{name}" in the folder data. There are: {", ".join(pieces)}.'
    )

"""Troubles: a piece always opens. What is wrong with its folder is named, with the ways out.

A file that cannot be read is shown as if it were not there, and a chart that contradicts what is
knitted without what is knitted; until one of the ways out is taken nothing of the piece is changed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from planner.choices import ask
from planner.errors import PlanError
from planner.folder import (
    FILES,
    Seen,
    chart_csv,
    keep,
    locked_folder,
    next_number,
    project_of,
    read_chart,
    read_choices,
    read_measurements,
    read_progress,
    read_settings,
    read_yarns,
    set_aside,
    stamp_of,
    versions,
)
from planner.folder import go_back as go_back_to
from planner.piece import (
    UNDONE,
    CarryLimits,
    Chart,
    Construction,
    Entry,
    Gauge,
    Habits,
    MultiplierChoice,
    Project,
    rows_worked,
)
from planner.plan import Plan, make_plan
from planner.strands import KnittedRun, knitted_of
from planner.workbook.waiting import Stopped

# What may contradict the rest of a piece, and how the piece is without it.
MAY_BE_LEFT_OUT: dict[str, dict[str, Any]] = {
    "progress.csv": {"progress": ()},
    "choices.csv": {"choices": ()},
    "measurements.csv": {"measurements": ()},
    "piece.toml": {
        "multiplier": MultiplierChoice(),
        "how": Construction(),
        "limits": CarryLimits(),
        "by_yarn": {},
        "habits": Habits(),
        "gauge": Gauge(),
    },
}
MOST_VERSIONS = 3  # offered as ways out; all of them stand among the earlier versions
# What stands in a file that was set aside, so that it is not read as damaged again.
NOTHING = dict.fromkeys(FILES, b"") | {"piece.toml": b"format = 1\n"}


@dataclass(frozen=True)
class WayOut:
    """One way out of a trouble: what a button says, and what it does to the folder."""

    words: str
    take: Callable[[], Any]


@dataclass(frozen=True)
class Trouble:
    """What is wrong with a piece, in words, and the ways out."""

    what: str
    ways: tuple[WayOut, ...]


def open_anyway(
    folder: Path, *, plan: Callable[[Project], Plan] = make_plan
) -> tuple[Seen, Plan, tuple[Trouble, ...]]:
    """The piece in a folder as far as it can be shown, its plan, and what is wrong with it.

    `plan` makes the plan. Raises PlanError only where there is nothing to show: no chart, and no
    version with one; and Stopped.
    """
    with locked_folder(folder):
        stamp = stamp_of(folder)
        fields, troubles = _read_piece(folder)
    project, planned, more = _planned(Project(folder=folder, **fields), plan)
    return Seen(project, stamp), planned, (*troubles, *more)


def _planned(
    project: Project, plan: Callable[[Project], Plan]
) -> tuple[Project, Plan, list[Trouble]]:
    """A piece without what keeps it from being planned, its plan, and the troubles of that."""
    try:
        return project, plan(project), []
    except Stopped:
        raise
    except PlanError as error:
        what = str(error)
    for left_out in (*([name] for name in MAY_BE_LEFT_OUT), list(MAY_BE_LEFT_OUT)):
        fewer = project
        for name in left_out:
            fewer = replace(fewer, **MAY_BE_LEFT_OUT[name])
        if fewer != project and _is_fine(fewer):
            return fewer, make_plan(fewer), [_contradiction(project, what, left_out)]
    raise PlanError(what)


def _read_piece(folder: Path) -> tuple[dict[str, Any], list[Trouble]]:
    """The fields of a piece, each read from its file by itself, and the files that cannot be."""
    troubles: list[Trouble] = []

    def read(name: str, how: Callable[[], Any], otherwise: Any) -> Any:
        try:
            return how()
        except PlanError as error:
            troubles.append(_damaged(folder, name, str(error)))
            return otherwise

    settings_path, chart_path = folder / "piece.toml", folder / "chart.csv"
    if not chart_path.exists() and not settings_path.exists():
        raise PlanError(
            f"There is neither chart.csv nor piece.toml in {folder}. Put your chart there, saved "
            "as chart.csv."
        )
    settings: dict[str, Any] = {}
    if settings_path.exists():
        settings = read("piece.toml", lambda: _settings_in(settings_path), {})
    # What is knitted may belong to a chart that cannot be read.
    chart, is_knitted = read("chart.csv", lambda: read_chart(chart_path), None), True
    if chart is None:
        chart, is_knitted = _last_chart(folder, troubles[-1].what), False
    progress = read("progress.csv", lambda: read_progress(folder), ())
    fields = {
        "name": settings.pop("name", folder.name),
        "chart": chart,
        "yarns": read("yarns.csv", lambda: read_yarns(folder / "yarns.csv"), {}),
        "choices": read("choices.csv", lambda: read_choices(folder / "choices.csv"), ()),
        "measurements": read("measurements.csv", lambda: read_measurements(folder), ()),
        "progress": progress if is_knitted else (),
        **settings,
    }
    return fields, troubles


def _settings_in(path: Path) -> dict[str, Any]:
    # An empty file is no file without settings: somebody, or something, has emptied it.
    if not path.read_bytes().strip():
        raise PlanError(f"{path.name} is empty.")
    settings = read_settings(path)
    # Checked here already, since it is this file that says it.
    Project(path.parent.name, Chart.from_rows(["A"]), units=settings.get("units", "cm"))
    return settings


def _last_chart(folder: Path, what: str) -> Chart:
    """The chart of the newest version that has one."""
    for version in versions(folder):
        try:
            return project_of(version).chart
        except PlanError:
            continue
    raise PlanError(what)


def _damaged(folder: Path, name: str, what: str) -> Trouble:
    """The trouble of a file that cannot be read."""

    ways = (_aside(folder, name, what), *_versions_to_go_back_to(folder, damaged=name))
    return Trouble(what if name in what else f"{name}: {what}", ways)


def _aside(folder: Path, name: str, what: str) -> WayOut:
    """The way out of going on without a file."""

    def aside() -> None:
        instead = NOTHING[name]
        if name == "chart.csv":
            instead = chart_csv(_last_chart(folder, what)).encode()
        set_aside(folder, name, instead, datetime.now())

    without = "the last chart kept" if name == "chart.csv" else "none"
    if name == "piece.toml":
        without = "the usual settings"
    return WayOut(f"Set {name} aside, among the history, and go on with {without}", aside)


def _versions_to_go_back_to(folder: Path, damaged: str = "") -> list[WayOut]:
    """The newest versions as ways out."""
    ways = []
    for version in versions(folder)[:MOST_VERSIONS]:

        def back(version: Any = version) -> None:
            was = project_of(version)
            # The damaged file is kept as it is before the folder can be read at all.
            if damaged:
                set_aside(folder, damaged, version.files().get(damaged, b""), datetime.now())
            seen = Seen(replace(was, folder=folder), ())
            go_back_to(seen, version, make_plan)

        ways.append(WayOut(f"Go back to the version of {version}", back))
    return ways


def _contradiction(project: Project, what: str, files: list[str]) -> Trouble:
    """The trouble of a piece that can be planned only without these files."""
    folder = project.folder
    assert folder is not None
    ways = _ways_to_the_needles(project) if files == ["progress.csv"] else []
    if not ways:
        ways = [_aside(folder, name, what) for name in files if (folder / name).exists()]
    return Trouble(what, (*ways, *_versions_to_go_back_to(folder)))


def _ways_to_the_needles(project: Project) -> list[WayOut]:
    """The ways out where the chart is not as it was knitted."""
    ways = []
    knitted = _as_knitted(project)
    if knitted is not None:
        chart = knitted
        ways.append(
            WayOut(
                "Take the chart as it was knitted",
                lambda: keep(
                    project,
                    lambda held: replace(held, chart=chart),
                    doing="taking the chart as it was knitted",
                    much=True,
                ),
            )
        )
    row = _first_wrong_row(project)
    if row is not None:
        ways.append(
            WayOut(
                f"Take row {row} and later back",
                lambda: keep(project, lambda held: replace(held, progress=_back_to(held, row))),
            )
        )
    return ways


def _back_to(project: Project, row: int) -> tuple[Entry, ...]:
    """The progress with all rows from `row` (from 1) on taken back."""
    log, today = project.progress, datetime.now().date().isoformat()
    return (*log, Entry(next_number(log), today, UNDONE, row))


def _first_wrong_row(project: Project) -> int | None:
    """The first worked row, from 1, that has to be taken back so that the rest fits the chart."""
    # With a row less what fits still fits, so halving finds the first.
    fits, wrong = 0, rows_worked(project.progress)
    while fits + 1 < wrong:
        middle = (fits + wrong) // 2
        if _is_fine(replace(project, progress=_back_to(project, middle + 1))):
            fits = middle
        else:
            wrong = middle
    is_fine = wrong and _is_fine(replace(project, progress=_back_to(project, wrong)))
    return wrong if is_fine else None


def _is_fine(project: Project) -> bool:
    try:
        make_plan(project)
    except PlanError:
        return False
    return True


def _as_knitted(project: Project) -> Chart | None:
    """The chart with its knitted rows as they were knitted; None if that cannot be told."""
    try:
        knitted = knitted_of(project)
        asked = ask(project)
    except PlanError:
        return None
    if knitted is None:
        return None
    rows = [list(row) for row in project.chart.to_rows()[::-1]]
    planned = [list(row) for row in asked.chart.to_rows()[::-1]]
    for row, runs in enumerate(knitted.rows):
        chart_row = row // project.how.rows_per_chart_row
        if chart_row >= len(rows):
            return None
        was = _cells_of(runs, leftwards=project.how.runs_leftwards(row))
        worked = [column for column, letter in enumerate(rows[chart_row]) if letter != "."]
        if len(was) != len(worked):
            return None
        for column, letter in zip(worked, was, strict=True):
            # What is embroidered was knitted in another yarn than the chart is drawn in.
            if planned[chart_row][column] != letter:
                rows[chart_row][column] = planned[chart_row][column] = letter
    chart = Chart.from_rows(rows[::-1])
    return chart if _is_fine(replace(project, chart=chart)) else None


def _cells_of(runs: tuple[KnittedRun, ...], *, leftwards: bool) -> list[str]:
    """The yarn of each stitch of a knitted row, from the left."""
    letters = np.repeat([run.yarn for run in runs], [run.stitches for run in runs]).tolist()
    return letters[::-1] if leftwards else letters

"""The knitter's choices, place by place, and what they ask of the plan.

Each line of choices.csv is about a place: a yarn, a worked row and a stitch of it, from the right. It stands for the run of
that yarn that holds the stitch, for an embroidery for its colour area on the chart as drawn.

| about     | the place                              | part               | choice                     |
|-----------|----------------------------------------|--------------------|----------------------------|
| supply    | where a strand begins                  | whole, first half… | how it is held             |
| embroider | any stitch of the area                 | whole              | by itself, on N, refused   |
| carry     | the run that a strand leaves           | to row 9 stitch 4  | yes, no, refused           |
| middle    | the run that is begun from its middle  | whole              | no, refused                |

A carry "yes" is made though it goes beyond the limits, a carry "no" is cut though it is within them. "Refused" turns an
offer down and changes nothing. What is embroidered "by itself" is knitted in the ground beside it. Of several lines about
one place the last holds, and an empty choice takes it back. A choice whose place is gone is kept, and the plan says so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from planner.choices.embroidery import knit_beneath
from planner.errors import PlanError
from planner.piece import Chart, OwnChoice, Project
from planner.strands import MIDDLE, Runs, Strands, find_runs, knitted_of, label_areas, trace_strands
from planner.units import counted

REFUSED, BY_ITSELF = "refused", "by itself"
ALLOWED = {"carry": ("yes", "no", REFUSED), "middle": ("no", REFUSED)}
GOES_TO = re.compile(r"to row (\d+) stitch (\d+)")


@dataclass(frozen=True, eq=False)
class Asked:
    """What the choices ask: `chart` as it is knitted, `areas` of the chart as drawn; `carries` and `cuts` as pairs of runs
    and `no_middle` as runs of the knitted chart; the `refused` by what they are about: areas, pairs of runs, runs; `notes`
    on choices whose place is gone."""

    chart: Chart
    areas: np.ndarray
    on: Mapping[int, int | None]
    carries: tuple[tuple[int, int], ...]
    cuts: tuple[tuple[int, int], ...]
    no_middle: tuple[int, ...]
    refused: Mapping[str, frozenset]
    notes: tuple[str, ...]


def ask(project: Project, *, areas: np.ndarray | None = None, runs: Runs | None = None) -> Asked:
    """What the project's choices ask of its plan. `areas` and `runs` may be given where they are known already."""
    chart, how, notes = project.chart, project.how, []
    areas = label_areas(chart, how) if areas is None else areas
    refused = {about: set() for about in ("embroider", *ALLOWED)}
    on: dict[int, int | None] = {}
    for choice in project.choices:
        if choice.about != "embroider":
            continue
        row, column = (choice.row - 1) // how.rows_per_chart_row, chart.columns - choice.stitch
        inside = row < chart.rows and column >= 0 and chart.cells[row, column] >= 0
        if not inside or chart.letters[chart.cells[row, column]] != choice.yarn:
            notes.append(_gone(choice))
            continue
        area, ground = int(areas[row, column]), choice.choice.removeprefix("on ")
        on.pop(area, None)
        if choice.choice == REFUSED:
            refused["embroider"].add(area)
        elif choice.choice == BY_ITSELF:
            on[area] = None
        elif ground == choice.choice:
            raise PlanError(
                f'{_named(choice)} is "{choice.choice}"; it is {BY_ITSELF}, {REFUSED}, or the ground, such as "on N".'
            )
        elif ground not in chart.letters or ground == choice.yarn:
            notes.append(
                f"{_named(choice)} is kept, but {ground} is {'its own' if ground == choice.yarn else 'not a'} yarn."
            )
        else:
            on[area] = chart.letters.index(ground)
    knitted_chart = knit_beneath(chart, how, areas, on, knitted_of(project)) if on else chart

    if runs is None and any(choice.about in ALLOWED for choice in project.choices):
        runs = find_runs(knitted_chart, how)
    carries, cuts, no_middle = [], [], []
    for choice in project.choices:
        if choice.about not in ALLOWED:
            continue
        if choice.choice not in ALLOWED[choice.about]:
            raise PlanError(
                f'{_named(choice)} is "{choice.choice}"; it is one of {", ".join(ALLOWED[choice.about])}.'
            )
        at = find_run(runs, chart.letters, choice.yarn, choice.row, choice.stitch)
        if choice.about == "carry":
            match = GOES_TO.fullmatch(choice.part)
            if not match:
                raise PlanError(
                    f'{_named(choice)} has the part "{choice.part}"; write where it goes, such as "to row 9 stitch 4".'
                )
            to = find_run(runs, chart.letters, choice.yarn, *map(int, match.groups()))
            at = None if at is None or to is None or to <= at else (at, to)
        if at is None:
            notes.append(_gone(choice))
        elif choice.choice == REFUSED:
            refused[choice.about].add(at)
        else:
            {"carry yes": carries, "carry no": cuts, "middle no": no_middle}[
                f"{choice.about} {choice.choice}"
            ].append(at)
    frozen = {about: frozenset(places) for about, places in refused.items()}
    return Asked(
        knitted_chart,
        areas,
        on,
        tuple(carries),
        tuple(cuts),
        tuple(no_middle),
        frozen,
        tuple(notes),
    )


def trace_asked(
    project: Project,
    asked: Asked,
    *,
    runs: Runs | None = None,
    say: Callable[[str], None] | None = None,
) -> Strands:
    """The strands of the knitted chart under the project's limits, as asked; `runs` and `say` as for `trace_strands`."""
    return trace_strands(
        asked.chart,
        project.how,
        project.gauge,
        project.limits,
        by_yarn={
            letter: limits
            for letter, limits in project.by_yarn.items()
            if letter in asked.chart.letters
        },
        knitted=knitted_of(project),
        carries=asked.carries,
        cuts=asked.cuts,
        no_middle=asked.no_middle,
        runs=runs,
        say=say,
    )


def carries_not_made(asked: Asked, strands: Strands) -> list[str]:
    """A note for each carry that was asked for but has no yarn to make it, or another in its place."""
    links = strands.links
    made = {
        *zip(
            links.a[links.kind != MIDDLE].tolist(),
            links.b[links.kind != MIDDLE].tolist(),
            strict=True,
        )
    }
    carries = [
        choice_at(strands, "carry", a, "yes", b) for a, b in asked.carries if (a, b) not in made
    ]
    return [f"{_named(carry)} is kept, but its yarn is cut or goes elsewhere." for carry in carries]


def find_run(runs: Runs, letters: tuple[str, ...], yarn: str, row: int, stitch: int) -> int | None:
    """The run of a yarn that holds a stitch of a worked row, both from 1, the stitch from the right."""
    column = runs.columns - stitch
    holds = np.flatnonzero((runs.row == row - 1) & (runs.lo <= column) & (column <= runs.hi))
    return int(holds[0]) if len(holds) and letters[runs.yarn[holds[0]]] == yarn else None


def choice_at(
    strands: Strands, about: str, run: int, choice: str, to: int | None = None
) -> OwnChoice:
    """A choice about a run, and for a carry the run it goes to."""
    stitch, row = strands.stitch_number, strands.runs.row
    part = "whole" if to is None else f"to row {row[to] + 1} stitch {stitch(to)}"
    return OwnChoice(
        about,
        strands.chart.letters[strands.runs.yarn[run]],
        int(row[run]) + 1,
        int(stitch(run)),
        part,
        choice,
    )


def choice_in_words(choice: OwnChoice, strands: Strands) -> str:
    """A choice to embroider, to carry or about a middle start, as the knitter reads it; a carry with its length."""
    where = f"{choice.yarn}, row {choice.row}, stitch {choice.stitch}"
    if choice.about == "embroider":
        return f"embroider {where}: {choice.choice}"
    if choice.about == "middle":
        return (
            f"middle start of {where}: {REFUSED if choice.choice == REFUSED else 'begun plainly'}"
        )
    letters, runs, to = strands.chart.letters, strands.runs, GOES_TO.fullmatch(choice.part)
    a = find_run(runs, letters, choice.yarn, choice.row, choice.stitch)
    b = find_run(runs, letters, choice.yarn, *map(int, to.groups())) if to else None
    if a is None or b is None:
        return f"carry {where} {choice.part}: {choice.choice}"
    rows = int(runs.row[b] - runs.row[a])
    far = counted(abs(int(runs.enter[b] - runs.leave[a])), "stitch") + (
        f" and up to row {choice.row + rows}" if rows else ""
    )
    return f"carry {choice.yarn} in row {choice.row} over {far}, from its run at stitch {choice.stitch}: {choice.choice}"


def choice_of_area(
    project: Project, areas: np.ndarray, area: int, choice: str = BY_ITSELF
) -> OwnChoice:
    """The choice to embroider an area, at its first stitch."""
    rows, columns = np.nonzero(areas == area)
    column = int(columns[rows == rows[0]].max())
    row = int(rows[0]) * project.how.rows_per_chart_row + 1
    yarn = project.chart.letters[project.chart.cells[rows[0], column]]
    return OwnChoice("embroider", yarn, row, project.chart.columns - column, "whole", choice)


def _named(choice: OwnChoice) -> str:
    what = {
        "embroider": "to embroider",
        "carry": "about the carry of",
        "middle": "about the middle start of",
    }[choice.about]
    to = f" {choice.part}" if choice.about == "carry" else ""
    return f"Your choice {what} {choice.yarn} at row {choice.row}, stitch {choice.stitch}{to}"


def _gone(choice: OwnChoice) -> str:
    what = "there is no such carry" if choice.about == "carry" else f"there is no {choice.yarn}"
    return f"{_named(choice)} is kept, but {what} there now."

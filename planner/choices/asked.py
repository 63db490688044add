"""The knitter's choices, place by place, and what they ask of the plan.

Each line of choices.csv is about a place (see `places`).

| about     | the place                             | part              | choice                   |
|-----------|---------------------------------------|-------------------|--------------------------|
| supply    | where a strand begins                 | whole, first half | how it is held           |
| embroider | any stitch of the area                | whole             | by itself, on N, refused |
| carry     | the run that a strand leaves          | to row 9 stitch 4 | yes, no, refused         |
| middle    | the run that is begun from its middle | whole             | no, refused              |

A carry "yes" is made though it goes beyond the limits; a carry "no" is cut though it is within
them. "Refused" turns an offer down and changes nothing. What is embroidered "by itself" is knitted
in the ground beside it. Of several lines about one place the last holds, and an empty choice takes
it back. A choice whose place is gone is kept, and the plan says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.choices.beneath import knit_beneath
from planner.choices.places import (
    BY_ITSELF,
    GOES_TO,
    REFUSED,
    find_goal,
    name_of_choice,
    note_on_gone,
    run_of,
)
from planner.errors import PlanError
from planner.piece import Chart, OwnChoice, Project
from planner.strands import Runs, Strands, find_runs, knitted_of, label_areas, trace_strands

Pair = tuple[int, int]  # of runs that a carry joins

# What may be chosen about a link.
LINK_CHOICES = {"carry": ("yes", "no", REFUSED), "middle": ("no", REFUSED)}


@dataclass(frozen=True, eq=False)
class Asked:
    """What the choices ask of the plan.

    chart
        The chart as it is knitted.
    areas
        The colour area of each cell of the chart as drawn.
    on
        By area to embroider its ground: an index into the chart's letters, None what lies beside.
    carries, cuts, no_middle
        Carries to make and to cut as pairs of runs, and runs not to begin from their middle. Runs
        are numbered as in the chart that is knitted.
    refused
        What is refused: areas under "embroider", pairs of runs under "carry", runs under "middle".
    notes
        A note for each choice whose place is gone.
    """

    chart: Chart
    areas: np.ndarray
    on: Mapping[int, int | None]
    carries: tuple[Pair, ...]
    cuts: tuple[Pair, ...]
    no_middle: tuple[int, ...]
    refused: Mapping[str, frozenset[Any]]
    notes: tuple[str, ...]


def ask(project: Project, *, areas: np.ndarray | None = None) -> Asked:
    """What the project's choices ask of its plan; `areas` may be given where they are known."""
    chart, how = project.chart, project.how
    if areas is None:
        areas = label_areas(chart, how)
    # Embroidery comes first, for it decides what is knitted.
    hearing = _Hearing(chart)
    for choice in project.choices:
        if choice.about == "embroider":
            chart_row = (choice.row - 1) // how.rows_per_chart_row
            hearing.embroidery(choice, hearing.area_at(choice, areas, chart_row))

    # Carries and middle starts are about the runs that are left to knit.
    knitted_chart = chart
    if hearing.on:
        knitted = knitted_of(project)
        knitted_chart = knit_beneath(chart, how, areas, hearing.on, knitted)
    about_links = [choice for choice in project.choices if choice.about in LINK_CHOICES]
    # Runs are found only for those who need them: pricing asks by the hundred.
    if about_links:
        runs = find_runs(knitted_chart, how)
        for choice in about_links:
            hearing.link(choice, runs)
    return hearing.asked(knitted_chart, areas)


class _Hearing:
    """Hears the choices one after the other, and holds what they ask so far."""

    def __init__(self, chart: Chart):
        self.chart = chart
        self.letters = chart.letters
        self.on: dict[int, int | None] = {}
        self.carries: list[Pair] = []
        self.cuts: list[Pair] = []
        self.no_middle: list[int] = []
        self.refused: dict[str, set[Any]] = {
            "embroider": set(),
            "carry": set(),
            "middle": set(),
        }
        self.notes: list[str] = []

    def asked(self, knitted_chart: Chart, areas: np.ndarray) -> Asked:
        """All that was heard."""
        refused = {about: frozenset(places) for about, places in self.refused.items()}
        return Asked(
            chart=knitted_chart,
            areas=areas,
            on=self.on,
            carries=tuple(self.carries),
            cuts=tuple(self.cuts),
            no_middle=tuple(self.no_middle),
            refused=refused,
            notes=tuple(self.notes),
        )

    def area_at(
        self,
        choice: OwnChoice,
        areas: np.ndarray,
        chart_row: int,
    ) -> int | None:
        """The area of the choice's yarn at its stitch of a chart row; None if that is gone."""
        # A place beyond the edge is no mistake: the chart may have been larger.
        chart = self.chart
        column = chart.columns - choice.stitch
        if chart_row >= chart.rows or column < 0:
            return None
        yarn = chart.cells[chart_row, column]
        is_stitch = yarn >= 0
        if is_stitch and self.letters[yarn] == choice.yarn:
            return int(areas[chart_row, column])
        return None

    def embroidery(self, choice: OwnChoice, area: int | None) -> None:
        """Hear a choice to embroider an area."""
        if area is None:
            self.notes.append(note_on_gone(choice))
            return
        # Of several choices about an area the last holds.
        self.on.pop(area, None)
        if choice.choice == REFUSED:
            self.refused["embroider"].add(area)
        elif choice.choice == BY_ITSELF:
            self.on[area] = None
        else:
            self._on_a_ground(choice, area)

    def _on_a_ground(self, choice: OwnChoice, area: int) -> None:
        ground = choice.choice.removeprefix("on ")
        name = name_of_choice(choice)
        if ground == choice.choice:
            raise PlanError(
                f'{name} is "{ground}"; it is {BY_ITSELF}, {REFUSED}, or the ground, '
                'such as "on N".'
            )
        # What can be read but not be done is kept: the chart may be changed again.
        if ground == choice.yarn:
            self.notes.append(f"{name} is kept, but {ground} is its own yarn.")
        elif ground not in self.letters:
            self.notes.append(f"{name} is kept, but {ground} is not a yarn.")
        else:
            self.on[area] = self.letters.index(ground)

    def link(self, choice: OwnChoice, runs: Runs) -> None:
        """Hear a choice about a carry or a middle start between these runs."""
        allowed = LINK_CHOICES[choice.about]
        if choice.choice not in allowed:
            name = name_of_choice(choice)
            one_of = ", ".join(allowed)
            raise PlanError(f'{name} is "{choice.choice}"; it is one of {one_of}.')
        run = run_of(runs, self.letters, choice)
        if choice.about == "middle":
            self._middle(choice, run)
        else:
            goal = self._goal(choice, runs)
            self._carry(choice, run, goal)

    def _goal(self, carry: OwnChoice, runs: Runs) -> int | None:
        # A part that cannot be read is a mistake; a run that is not there may come back.
        if not GOES_TO.fullmatch(carry.part):
            raise PlanError(
                f'{name_of_choice(carry)} has the part "{carry.part}"; '
                'write where it goes, such as "to row 9 stitch 4".'
            )
        return find_goal(runs, self.letters, carry)

    def _middle(self, choice: OwnChoice, run: int | None) -> None:
        if run is None:
            self.notes.append(note_on_gone(choice))
        elif choice.choice == REFUSED:
            self.refused["middle"].add(run)
        else:
            self.no_middle.append(run)

    def _carry(
        self,
        choice: OwnChoice,
        a: int | None,
        b: int | None,
    ) -> None:
        # Yarn is carried onwards, so the goal is a later run.
        if a is None or b is None or b <= a:
            self.notes.append(note_on_gone(choice))
        elif choice.choice == REFUSED:
            self.refused["carry"].add((a, b))
        elif choice.choice == "yes":
            self.carries.append((a, b))
        else:
            self.cuts.append((a, b))


def trace_asked(
    project: Project,
    asked: Asked,
    *,
    runs: Runs | None = None,
    say: Callable[[str], None] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Strands:
    """The strands of the knitted chart under the project's limits, as asked.

    `runs`, `say` and `progress` are as for `trace_strands`.
    """
    letters = asked.chart.letters
    # Limits for a yarn that is not on the chart do no harm; the plan asks if its letter is right.
    by_yarn = {y: limits for y, limits in project.by_yarn.items() if y in letters}
    return trace_strands(
        asked.chart,
        project.how,
        project.gauge,
        project.limits,
        by_yarn=by_yarn,
        knitted=knitted_of(project),
        carries=asked.carries,
        cuts=asked.cuts,
        no_middle=asked.no_middle,
        runs=runs,
        say=say,
        progress=progress,
    )

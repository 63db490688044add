"""The swatch from the chart: against trying every window, each technique told by its words."""

from dataclasses import replace

import numpy as np
import pytest

from planner import Chart, Construction, PlanError, Project, make_plan
from planner.charts import find_window, swatch_piece
from planner.charts.swatching import (
    CHANGES,
    LINE,
    MIDDLE_START,
    SLANT,
    VERTICAL,
    WEIGHTS,
)
from planner.piece import CarryLimits, OwnChoice
from planner.strands import MIDDLE, trace_strands
from tests.helpers.knitter import draw_chart
from tests.helpers.plans import V, demo, plan_of

PLAINLY_BEGUN = CarryLimits(middle_start=False)


def told(strands):
    """The places of each technique, each a list of the cells that belong to it, cell by cell."""
    chart = strands.chart
    rows = list(reversed(chart.to_rows()))

    def at(row, column):
        inside = 0 <= row < chart.rows and 0 <= column < chart.columns
        return rows[row][column] if inside else "."

    def border(row, column):
        pair = at(row, column - 1), at(row, column)
        return pair if "." not in pair and pair[0] != pair[1] else None

    def is_thin(row, column):
        yarn = at(row, column)
        return yarn != "." and yarn not in (at(row, column - 1), at(row, column + 1))

    places = {kind: [] for kind in WEIGHTS}
    for row in range(chart.rows):
        for column in range(chart.columns):
            two, pair = [(row, column - 1), (row, column)], border(row, column)
            if pair:
                places[CHANGES].append(two)
                alike = [border(other, column) == pair for other in range(chart.rows)]
                first = last = row
                while first and alike[first - 1]:
                    first -= 1
                while last + 1 < chart.rows and alike[last + 1]:
                    last += 1
                if last - first >= 3:
                    places[VERTICAL].append(two)
                moved = [border(row - 1, column + shift) == pair for shift in (-2, -1, 1, 2)]
                if row and any(moved) and border(row - 1, column) != pair:
                    places[SLANT].append([*two, (row - 1, column)])
            near = [(row + up, column + aside) for up in (-1, 1) for aside in (-1, 0, 1)]
            yarn = at(row, column)
            if is_thin(row, column) and any(is_thin(*n) and at(*n) == yarn for n in near):
                places[LINE].append([(row, column)])
    runs, links = strands.runs, strands.links
    begun = set()
    for link in np.flatnonzero(links.kind == MIDDLE).tolist():
        run = int(links.a[link])
        first = runs.hi[run] if runs.leftwards[runs.row[run]] else runs.lo[run]
        begun.add((int(runs.chart_row[run]), int(first)))
    places[MIDDLE_START] = [[cell] for cell in sorted(begun)]
    return places


def every_window(strands, stitches, rows):
    """The best window and what it holds, by counting in each."""
    chart = strands.chart
    corners = {}
    for kind, places in told(strands).items():
        at = np.array([[*np.min(place, axis=0), *np.max(place, axis=0)] for place in places])
        corners[kind] = at.reshape(-1, 4)
    held = {}
    for row in range(chart.rows - rows + 1):
        for column in range(chart.columns - stitches + 1):
            low, high = (row, column), (row + rows - 1, column + stitches - 1)
            held[row, column] = {
                kind: int(((at[:, :2] >= low) & (at[:, 2:] <= high)).all(axis=1).sum())
                for kind, at in corners.items()
            }
    most = {kind: max(1, *(each[kind] for each in held.values())) for kind in WEIGHTS}

    def score(at):
        return sum(WEIGHTS[kind] * (1000 * held[at][kind] // most[kind]) for kind in WEIGHTS)

    whole = [at for at in held if (chart.cells[at[0] : at[0] + rows, at[1] : at[1] + stitches] >= 0)
             .any(axis=1).all()]  # fmt: skip
    best = max(score(at) for at in whole)
    # The lowest, then the one farthest to the right.
    chosen = min((at for at in whole if score(at) == best), key=lambda at: (at[0], -at[1]))
    return chosen, best, {kind: number for kind, number in held[chosen].items() if number}


@pytest.mark.parametrize("number", range(10))
def test_best_by_trying_every_window(number):
    rng = np.random.default_rng(number)
    rows = draw_chart(number, stitches=18, rows=16, yarns=3, smooth=(1.2, 2, 3)[number % 3])
    grid = [list(row) for row in rows]
    if number % 2:  # with places that have no stitch
        for _ in range(30):
            grid[rng.integers(16)][rng.integers(18)] = "."
    how = Construction(fabric="garter" if number % 4 == 3 else "stockinette")
    strands = trace_strands(Chart.from_rows(grid), how)
    stitches, high = int(rng.integers(3, 12)), int(rng.integers(3, 12))
    window = find_window(strands, stitches=stitches, rows=high)
    found = ((window.row, window.column), window.score, window.held)
    assert found == every_window(strands, stitches, high)


def test_the_demo_by_trying_every_window():
    """At the size that is proposed; its mast, sails and gulls make it hold all four."""
    plan = demo()
    window = find_window(plan.traced)
    assert (window.rows, window.stitches) == (30, 30)
    found = ((window.row, window.column), window.score, window.held)
    assert found == every_window(plan.traced, 30, 30)
    assert set(window.held) == set(WEIGHTS)
    assert window.in_words == "a vertical border, a slant, a one-stitch line, a middle start"


@pytest.mark.parametrize(
    ("rows", "kinds"),
    [
        (["AABB"] * 4, {VERTICAL, CHANGES}),
        (["AABB"] * 3, {CHANGES}),
        (["ABBBBB", "AABBBB", "AAABBB"], {SLANT, CHANGES}),
        (["ABBBBB", "AAAABB"], {CHANGES}),  # three stitches are a step
        (["AAA", "ABA", "ABA", "AAA"], {LINE, CHANGES}),
        (["AAA", "ABA", "AAA"], {CHANGES}),  # a dot is no line
        (["AAA"] * 5, set()),
        (V, {SLANT, LINE, CHANGES}),
    ],
)
def test_each_technique(rows, kinds):
    window = find_window(plan_of(rows, limits=PLAINLY_BEGUN).traced)
    assert set(window.held) == kinds
    # With yarns begun from their middle nothing else is found.
    assert set(find_window(plan_of(rows).traced).held) - {MIDDLE_START} == kinds


def test_a_middle_start_is_marked_where_it_is_begun():
    traced = plan_of(V).traced
    assert find_window(traced).held[MIDDLE_START] == traced.middle_starts
    # That of the V is at its foot, in the first row.
    foot = find_window(traced, stitches=3, rows=2)
    assert foot.row == 0
    assert foot.held[MIDDLE_START] >= 1


def test_ties_go_to_the_lower_right_and_small_charts_are_taken_whole():
    assert find_window(plan_of(["AAAA"] * 5).traced, stitches=2, rows=2).column == 2
    assert find_window(plan_of(["AAAA"] * 5).traced, stitches=2, rows=2).row == 0
    whole = find_window(plan_of(["AB"] * 5).traced)
    assert (whole.rows, whole.stitches) == (5, 2)
    # Counted as the knitter does, from the right.
    chart = plan_of(["AAAAAB"] * 5).traced.chart
    right = find_window(plan_of(["AAAAAB"] * 5).traced, stitches=2, rows=4)
    assert right.place(chart) == "rows 1–4, stitches 1–2"


def test_what_cannot_be():
    strands = plan_of(["AA..", "..AA", "AA.."]).traced
    with pytest.raises(PlanError, match="a row without a stitch"):
        find_window(strands, stitches=1, rows=2)
    with pytest.raises(PlanError, match="give 1 or more"):
        find_window(strands, stitches=0)


def test_the_swatch_is_a_piece_of_its_own():
    plan = demo()
    project = replace(
        plan.project,
        choices=(OwnChoice("supply", "N", 1, 1, "whole", "bobbin"),),
        by_yarn=dict.fromkeys("NT", CarryLimits(across=3)),
        habits=replace(plan.project.habits, elsewhere="30-60 train"),
        allow=replace(plan.project.allow, cast_on=0, bind_off=0, tail_cm=11),
    )
    window = find_window(plan.traced)
    swatch = swatch_piece(project, plan.traced, window)
    assert swatch.name == "Harbour cushion swatch"
    top = plan.traced.chart.rows - window.row - window.rows
    cut = [row[window.column :][:30] for row in project.chart.to_rows()[top : top + 30]]
    assert swatch.chart.to_rows() == cut
    assert (swatch.gauge, swatch.limits, swatch.allow.tail_cm) == (
        project.gauge,
        project.limits,
        11,
    )
    assert set(swatch.yarns) == set(swatch.chart.letters) >= set(swatch.by_yarn)
    assert swatch.swatch_of == "harbour-cushion"
    assert (swatch.choices, swatch.progress, swatch.habits.elsewhere) == ((), (), "")
    assert (swatch.allow.cast_on, swatch.allow.bind_off) == (4, 6)
    # The hand is the same; the strands are not.
    assert [line.number for line in swatch.measurements] == [1, 2, 3]
    made = make_plan(swatch)
    assert len(made.winding_list)
    assert len(made.cards) == 30
    assert not any(needed.swatch_cm for needed in made.needed)


@pytest.mark.parametrize(("fabric", "side"), [("stockinette", "WS"), ("garter", "RS")])
def test_it_begins_on_the_side_that_its_lowest_row_has(fabric, side):
    rows = ["BABA"] * 2 + ["AAAA"]  # so that the window begins at row 2
    project = Project("x", Chart.from_rows(rows), how=Construction("rounds", fabric=fabric))
    flat = replace(project, how=Construction(fabric=fabric))
    for each, expected in ((flat, side), (project, "RS")):
        traced = trace_strands(each.chart, each.how, limits=PLAINLY_BEGUN)
        window = find_window(traced, stitches=4, rows=2)
        assert window.row == 1
        how = swatch_piece(each, traced, window).how
        assert (how.worked, how.first_row) == ("flat", expected)

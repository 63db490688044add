"""The trade-off, rung by rung against whole plans. Grade of every figure: computed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner import (
    CarryLimits,
    Chart,
    PlanError,
    Project,
    make_plan,
    open_project,
)
from planner.choices.pricing import Pricing
from planner.choices.trade_off import WEIGHED, beaten, ladder, one_step_more, tradeoff
from tests.conftest import DEMO
from tests.helpers.choices import hang_by_hand


def test_tradeoff_against_whole_plans():
    project = open_project(DEMO)
    table, rungs = tradeoff(project), ladder(project)
    assert table.present.sum() == 1
    assert rungs[table.present.argmax()] is project.limits
    for row, limits in list(zip(table.itertuples(), rungs, strict=True))[::3]:
        plan = make_plan(replace(project, limits=limits))
        found = row.strands, row.ends, row.live, row.carried_stitches
        expected = (
            plan.traced.count,
            plan.traced.ends,
            max(hang_by_hand(plan.traced)),
            round(plan.traced.carried_stitches, 4),
        )
        assert found == pytest.approx(expected)
        assert plan.refill_ends == 0
        assert row.yarn_m == pytest.approx(plan.yarn_cm / 100, abs=0.05 + 1e-9)
        assert row.minutes_for_ends == row.ends * project.weighing.minutes_per_end
    assert (table.strands.diff().dropna() <= 0).all()
    # The plan now is said to take as much as its summary says: 169.3 m, 169 m.
    now = table[table.present].yarn_m.item()
    assert f"Yarn for the piece: {now:.0f} m." in make_plan(project).summary()


def test_tradeoff_by_yarn():
    project = open_project(DEMO)
    tables = {letter: tradeoff(project, letter) for letter in project.chart.letters}
    now = Pricing(project).now
    assert [table[table.present].strands.tolist() for table in tables.values()] == [
        [now.strands]
    ] * len(tables)
    own = ladder(project, "W")[0]
    strict = make_plan(replace(project, by_yarn={**project.by_yarn, "W": own}))
    assert tables["W"].strands[0] == strict.traced.count
    with pytest.raises(PlanError, match="no yarn Q"):
        ladder(project, "Q")


def test_what_nothing_beats_against_a_double_loop():
    random = np.random.default_rng(5)
    for _ in range(50):
        costs = random.integers(0, 4, (random.integers(1, 12), len(WEIGHED)))
        slow = [any(all(b <= a) and any(b < a) for b in costs) for a in costs]
        assert beaten(costs).tolist() == slow


def test_one_step_more_for_each_yarn():
    """As the yarn's own ladder has it: what its next rung comes to, less what is planned now."""
    project = open_project(DEMO)
    steps = one_step_more(project)
    assert list(steps) == list(project.chart.letters)
    table = tradeoff(project, "N")
    now = int(table.present.to_numpy().argmax())
    ends = table.ends.tolist()
    assert steps["N"].ends == ends[now + 1] - ends[now] == -6


def test_the_last_rung_has_no_step_more():
    widest = CarryLimits(7, 10, 6)
    steps = one_step_more(Project("wide", Chart.from_rows(["AAB", "ABB"]), limits=widest))
    assert steps == {"A": None, "B": None}

"""Prices, each against a whole plan. Grade of every figure: computed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner import (
    make_plan,
    open_project,
)
from planner.multiplier import Multiplier
from planner.piece import MultiplierChoice
from planner.supplies import Planned, measure_parts
from tests.conftest import DEMO


@pytest.mark.parametrize("measured", [False, True])
def test_planned_lengths_add_up_as_the_parts_do(measured):
    project = open_project(DEMO)
    project = replace(project, multiplier=MultiplierChoice("measured" if measured else "estimate"))
    plan, allow = make_plan(project), project.allow
    total = Planned(plan.multipliers, allow).wound_cm(plan.traced)
    assert total == pytest.approx(
        measure_parts(plan.traced, plan.multipliers, allow).wound_cm.sum()
    )
    assert Planned({"A": Multiplier(4, 0)}, allow).cm("A", [1, 2, 1]).tolist() == [4, 8, 4]

"""Plans that are made once for all tests."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from planner import make_plan, open_project
from planner.piece import MultiplierChoice
from planner.plan import Plan
from tests.conftest import DEMO


@cache
def demo(way: str = "estimate") -> Plan:
    """The plan of the demo, its multiplier found in this way."""
    project = open_project(DEMO)
    return make_plan(replace(project, multiplier=MultiplierChoice(way)))

"""Remedies: all cures of a fault, the cheapest sensible one first, and those that are none last."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from planner.mending.closing import close, secure
from planner.mending.covering import cover
from planner.mending.cure import Cure
from planner.mending.laddering import ladder
from planner.mending.ripping import knit_back, rip
from planner.mending.spots import DROPPED, HOLE, Fault, Work, check_fault
from planner.plan import Plan
from planner.supplies import table_of
from planner.units import show


def cures(plan: Plan, fault: Fault) -> list[Cure]:
    """The cures of a fault in what is knitted, the least work first; those barred come last.

    Raises PlanError where the fault cannot be: in what is not knitted yet, or in the chart's yarn.
    """
    work = Work(plan)
    check_fault(work, fault)
    # For each fault one cure leaves all that is knitted as it is, and takes only a needle.
    by_needle = {HOLE: close, DROPPED: secure}.get(fault.what, cover)
    found = [by_needle(work, fault), ladder(work, fault)]
    back = knit_back(work, fault)
    if back is not None:
        found.append(back)
    found.append(rip(work, fault))
    # An end weighs as much as the knitter says it costs her in minutes.
    minutes = plan.project.weighing.minutes_per_end
    return sorted(found, key=lambda cure: (bool(cure.barred), cure.effort(minutes)))


def cures_table(cures: Sequence[Cure], units: str) -> pd.DataFrame:
    """One row a cure: what it costs, or why it is none there; lengths as they are shown."""
    lines = []
    for cure in cures:
        costs = {
            "rows_again": cure.rows,
            "stitches_again": cure.stitches,
            "rungs_picked_up": cure.rungs,
            "more_ends": cure.ends,
            # What is measured off is said exactly, as on the winding list.
            "more_yarn": show(cure.yarn_cm, units) if cure.yarn_cm else "",
        }
        known = {name: None if cure.barred else cost for name, cost in costs.items()}
        lines.append({"cure": cure.name, **known, "why_not": cure.barred})
    counts = ("rows_again", "stitches_again", "rungs_picked_up", "more_ends")
    return table_of(lines, list(lines[0]), dict.fromkeys(counts, "Int64"))

"""The trade-off: what limits from strict to relaxed cost in ends, strands at once, carried yarn and yarn in all."""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.choices.offers import Pricing
from planner.errors import PlanError
from planner.piece import CarryLimits, Project
from planner.units import shown

# Across, sideways, up; from cutting at every shift to the longest floats and rises that practitioners speak of and beyond.
STEPS = (
    (0, 0, 0),
    (0, 1, 0),
    (0, 2, 1),
    (0, 3, 1),
    (0, 5, 2),
    (1, 5, 2),
    (2, 5, 3),
    (3, 6, 4),
    (5, 8, 4),
    (7, 10, 6),
)
LADDER = (CarryLimits(0, 0, 0, False), *(CarryLimits(*step) for step in STEPS))
WEIGHED = ["ends", "live", "carried_stitches", "yarn_cm"]


def ladder(project: Project, yarn: str | None = None) -> tuple[CarryLimits, ...]:
    """Limits from strict to relaxed for all yarns without limits of their own, or for one yarn; the present ones among them."""
    if yarn is not None and yarn not in project.chart.letters:
        raise PlanError(
            f"There is no yarn {yarn} on the chart; its yarns are {', '.join(project.chart.letters)}."
        )
    present = project.by_yarn.get(yarn, project.limits)
    at = present.at(project.gauge)
    others = [limits for limits in LADDER if limits.at(project.gauge) != at]
    return tuple(
        sorted([*others, present], key=lambda limits: _strictness(*limits.at(project.gauge)))
    )


def _strictness(across: int, sideways: int, up: int, middle_start: bool) -> tuple:
    return sideways + across + up, middle_start, across, sideways


def tradeoff(project: Project, yarn: str | None = None) -> pd.DataFrame:
    """One row a rung of the `ladder`, in its order: the limits in whole stitches and rows, and the plan's totals under them.

    Ends leave out those of refills. `minutes_for_ends` is ends × `minutes_per_end`, an assumption. `beaten`: another rung is
    no worse in ends, most at once, carried length and yarn, and better in one.
    """
    pricing, present, out = Pricing(project), project.by_yarn.get(yarn, project.limits), []
    for limits in ladder(project, yarn):
        price = pricing.with_limits(limits, yarn)
        totals = price.strands, price.ends, price.live, round(price.carried, 4), price.yarn_cm
        out.append(
            (
                *limits.at(project.gauge),
                *totals,
                price.ends * project.weighing.minutes_per_end,
                limits is present,
            )
        )
    columns = [
        "across",
        "sideways",
        "up",
        "middle_start",
        "strands",
        *WEIGHED,
        "minutes_for_ends",
        "present",
    ]
    table = pd.DataFrame(out, columns=columns)
    return shown(table.assign(beaten=beaten(table[WEIGHED].round(6).to_numpy())), project.units)


def limits_in_words(rung) -> str:
    """The limits of a row of the table, in words."""
    far = f"across {rung.across}, sideways {rung.sideways}, up {rung.up}"
    carried = far if rung.across or rung.sideways or rung.up else "nothing carried"
    return carried + ("" if rung.middle_start else ", no middle starts")


def beaten(costs: np.ndarray) -> np.ndarray:
    """Whether another row of costs is nowhere higher and somewhere lower, for each row."""
    no_higher = (costs[:, None] <= costs).all(axis=2)
    return (no_higher & (costs[:, None] < costs).any(axis=2)).any(axis=0)

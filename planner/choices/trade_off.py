"""The trade-off: what limits from strict to relaxed cost in ends, strands, carries and yarn."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import pandas as pd

from planner.choices.pricing import Price, Pricing
from planner.errors import PlanError
from planner.piece import CarryLimits, Project
from planner.units import shown_totals

# Across, sideways, up: from cutting at every shift to the longest floats and rises that
# practitioners speak of, and beyond.
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
# Below them all no yarn is begun from its middle either: every run is cut off.
STRICTEST = CarryLimits(0, 0, 0, False)
LADDER = (STRICTEST, *(CarryLimits(*step) for step in STEPS))
# The totals by which one rung may beat another.
WEIGHED = ["ends", "live", "carried_stitches", "yarn_cm"]


class Rung(Protocol):
    """Limits in whole stitches and rows, such as a row of the trade-off's table."""

    across: int
    sideways: int
    up: int
    middle_start: bool


def ladder(project: Project, yarn: str | None = None) -> tuple[CarryLimits, ...]:
    """Limits from strict to relaxed, the present ones among them.

    They are for all yarns without limits of their own, or for one yarn.
    """
    letters = project.chart.letters
    if yarn is not None and yarn not in letters:
        on_chart = ", ".join(letters)
        raise PlanError(f"There is no yarn {yarn} on the chart; its yarns are {on_chart}.")
    gauge = project.gauge
    present = _present(project, yarn)
    # The present limits take the place of a rung that comes to the same at this gauge.
    rungs = [limits for limits in LADDER if limits.at(gauge) != present.at(gauge)]
    rungs.append(present)
    return tuple(sorted(rungs, key=lambda limits: _strictness(*limits.at(gauge))))


def _present(project: Project, yarn: str | None) -> CarryLimits:
    """The limits in force: a yarn's own, or the general ones."""
    if yarn is None:
        return project.limits
    return project.by_yarn.get(yarn, project.limits)


def _strictness(
    across: int,
    sideways: int,
    up: int,
    middle_start: bool,
) -> tuple[int, bool, int, int]:
    """The strictest first."""
    in_all = across + sideways + up
    return in_all, middle_start, across, sideways


def tradeoff(project: Project, yarn: str | None = None) -> pd.DataFrame:
    """One row a rung of the `ladder`, in its order: its limits, and the plan's totals under them.

    Limits are in whole stitches and rows. Ends and yarn leave out refills. `minutes_for_ends` is
    ends × `minutes_per_end`, an assumption. `beaten`: another rung is no worse in ends, most at
    once, carried length and yarn, and better in one.
    """
    pricing = Pricing(project)
    present = _present(project, yarn)
    minutes_per_end = project.weighing.minutes_per_end
    rows = []
    for limits in ladder(project, yarn):
        price = pricing.with_limits(limits, yarn)
        across, sideways, up, middle_start = limits.at(project.gauge)
        row = {
            "across": across,
            "sideways": sideways,
            "up": up,
            "middle_start": middle_start,
            "strands": price.strands,
            "ends": price.ends,
            "live": price.live,
            "carried_stitches": round(price.carried, 4),
            "yarn_cm": price.yarn_cm,
            "minutes_for_ends": round(price.ends * minutes_per_end),
            "present": limits is present,
        }
        rows.append(row)
    table = pd.DataFrame(rows)
    # What differs by rounding alone is no better.
    costs = table[WEIGHED].round(6).to_numpy()
    table = table.assign(beaten=beaten(costs))
    return shown_totals(table, project.units)


def one_step_more(project: Project) -> dict[str, Price | None]:
    """By yarn on the chart, what the next rung of its own would change; None where it has none."""
    pricing = Pricing(project)
    changes: dict[str, Price | None] = {}
    for letter in project.chart.letters:
        rungs = ladder(project, letter)
        present = _present(project, letter)
        farther = rungs[rungs.index(present) + 1 :]
        changes[letter] = None
        if farther:
            changes[letter] = pricing.with_limits(farther[0], letter) - pricing.now
    return changes


def carried_in_words(across: int, sideways: int, up: int) -> str:
    """How far yarns are carried, in whole stitches and rows; what is not carried is left out."""
    limits = (("across", across), ("sideways", sideways), ("up", up))
    return ", ".join(f"{name} {far}" for name, far in limits if far) or "nothing carried"


def limits_in_words(rung: Rung) -> str:
    """The limits of a rung, in words."""
    carried = carried_in_words(rung.across, rung.sideways, rung.up)
    return carried if rung.middle_start else f"{carried}, no middle starts"


def beaten(costs: np.ndarray) -> np.ndarray:
    """Whether another row of costs is nowhere higher and somewhere lower, for each row."""
    # Each row, as the one that beats, against each row.
    beats = costs[:, None]
    no_higher = np.all(beats <= costs, axis=2)
    lower = np.any(beats < costs, axis=2)
    return np.any(no_higher & lower, axis=0)

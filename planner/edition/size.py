"""Size: how wide and how high a piece is, and how it is worked, in words."""

from __future__ import annotations

from planner.plan import Plan
from planner.units import CM_PER, figure

WORKED = {
    "flat": "worked flat",
    "rounds": "worked in rounds",
    "turned": "worked in turned rounds",
}


def size_in_words(plan: Plan) -> str:
    """How wide and how high the piece is: "36 × 34 cm", "14.2 × 13.5 in"."""
    runs, gauge, units = plan.traced.runs, plan.project.gauge, plan.project.units
    cm_per_unit = float(CM_PER[units])
    width = runs.columns * gauge.stitch_cm / cm_per_unit
    height = runs.rows * gauge.row_cm / cm_per_unit
    # Knitted fabric gives: half a centimetre more or less is no information.
    digits = 0 if units == "cm" else 1
    across, up = figure(width, digits), figure(height, digits)
    round_it = " round" if plan.traced.how.is_tube else ""
    return f"{across}{round_it} × {up} {units}"

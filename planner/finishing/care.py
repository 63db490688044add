"""How the piece is blocked, by the labels of its yarns, and what was measured unblocked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.piece import Yarn, in_force
from planner.plan import Plan
from planner.units import show_measured

AS_KNITTED = "as knitted"
SAME_WIDTH = 0.02  # no hand lays a piece flat more exactly (judgement)
BY_THE_LABEL = (
    "Block by the label of the yarn that stands least: its symbols say whether it may be wetted, "
    "how warm, and whether it may be steamed or ironed."
)
SCALDS = (
    "Hot water and steam scald: keep hands away, and children and pets. Count the pins before and "
    "after."
)
PINNED = "Measure between the pins, leave it until it is dry, then measure again."
BLEEDS = (
    "Where strong colours lie beside pale ones, press a wet end of each on white cloth before the "
    "piece gets wet."
)


@dataclass(frozen=True)
class Unblocked:
    """What the piece may measure before it is blocked, by a gauge that was counted as knitted."""

    number: int
    yarn: str
    width_cm: float
    blocked_cm: float

    def in_words(self, units: str) -> str:
        """What to expect, and which line of the log says so."""
        width = f"{show_measured(self.width_cm, units)} wide"
        if abs(self.width_cm - self.blocked_cm) < SAME_WIDTH * self.blocked_cm:
            width = "as wide already"
        return (
            f"Off the needles it may be about {width}, by the gauge as knitted (measurement "
            f"{self.number}, yarn {self.yarn})."
        )


def unblocked(plan: Plan) -> Unblocked | None:
    """The width before blocking, by the latest measurement as knitted; None where there is none."""
    project = plan.project
    lines = [
        line
        for line in in_force(project.measurements)
        if line.use == "yes"
        and line.gauge_state == AS_KNITTED
        and line.fabric == project.how.fabric
    ]
    if not lines:
        return None
    line = lines[-1]
    widest = int((project.chart.cells >= 0).sum(axis=1).max())
    blocked_cm = widest * project.gauge.stitch_cm
    return Unblocked(line.number, line.yarn, widest * line.stitch_cm, blocked_cm)


def how_to_block(plan: Plan) -> list[str]:
    """How the piece is blocked, a sentence each; what is not the label's is common practice."""
    yarns = [plan.project.all_yarns[letter] for letter in plan.project.chart.letters]
    told = [BY_THE_LABEL]
    if plan.traced.how.selvedge:
        told.append("Selvedge stitches are not counted in the width: they go into the seams.")
    felting = [yarn for yarn in yarns if yarn.can_be_spliced]
    if felting:
        verb = "felts" if len(felting) == 1 else "felt"
        told.append(
            f"{_named(felting)} {verb}: no hot water, no rubbing, no sudden change from warm to "
            "cold."
        )
    stretching = [yarn for yarn in yarns if yarn.superwash]
    if stretching:
        told.append(
            f"Superwash wool grows when it is wet ({_named(stretching)}): lift the piece with both "
            "hands under it, and push it to size rather than pull."
        )
    if len(yarns) > 1:
        told.append(BLEEDS)
    return [*told, PINNED, SCALDS]


def _named(yarns: Iterable[Yarn]) -> str:
    return ", ".join(yarn.title for yarn in yarns)

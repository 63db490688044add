"""How the piece is worked: flat or in rounds, from which side, in which direction, in which fabric."""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import PlanError
from planner.units import check_number

CHOICES = {
    "worked": ("flat", "rounds"),
    "first_row": ("RS", "WS"),
    "hand": ("right", "left"),
    "fabric": ("stockinette", "garter"),
}


@dataclass(frozen=True)
class Construction:
    """Flat or in rounds; first row RS or WS; right- or left-handed direction of work; stockinette or garter; selvedge
    stitches at each side outside the chart, worked in the yarn beside them.

    In rounds every round is RS, whatever `first_row` says.
    """

    worked: str = "flat"
    first_row: str = "RS"
    hand: str = "right"
    fabric: str = "stockinette"
    selvedge: int = 0

    def __post_init__(self):
        for name, allowed in CHOICES.items():
            value = getattr(self, name)
            if value not in allowed:
                raise PlanError(
                    f'The construction has {name} = "{value}"; it is {" or ".join(allowed)}.'
                )
        check_number(self.selvedge, "The number of selvedge stitches at each side", most=100)
        if self.selvedge != int(self.selvedge):
            raise PlanError(
                f"There are {self.selvedge} selvedge stitches at each side; give a whole number."
            )

    @property
    def in_rounds(self) -> bool:
        return self.worked == "rounds"

    @property
    def rows_per_chart_row(self) -> int:
        """Worked rows in one row of the chart: two in garter (one ridge), else one."""
        return 2 if self.fabric == "garter" else 1

    def is_right_side(self, row: int) -> bool:
        """Whether worked row `row`, counted from 0, is a RS row."""
        return self.in_rounds or (row % 2 == 0) == (self.first_row == "RS")

    def runs_leftwards(self, row: int) -> bool:
        """Whether worked row `row`, counted from 0, is worked from the right-hand to the left-hand edge of the chart."""
        return self.is_right_side(row) == (self.hand == "right")

    def side(self, row: int) -> str:
        return "RS" if self.is_right_side(row) else "WS"

    def row_name(self, row: int) -> str:
        """Worked row `row`, counted from 0, as it is said aloud: "row 5 (RS)", "round 5", "row 10 (WS, ridge 5)"."""
        ridge = f"ridge {row // 2 + 1}" if self.fabric == "garter" else ""
        if self.in_rounds:
            return f"round {row + 1}" + (f" ({ridge})" if ridge else "")
        return f"row {row + 1} ({self.side(row)}{', ' + ridge if ridge else ''})"

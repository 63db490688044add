"""How the piece is worked: flat, in rounds or in turned rounds, side, direction, fabric.

In *rounds* the work is never turned: every round is RS and goes the same way. In *turned* rounds
it is turned after each, so that sides and directions alternate as in flat work: that is how
intarsia is knitted in the round, for each yarn waits where the next round wants it. Both make a
tube. Worked rows count from 0.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import PlanError
from planner.units import check_number

CHOICES = {
    "worked": ("flat", "rounds", "turned"),
    "first_row": ("RS", "WS"),
    "hand": ("right", "left"),
    "fabric": ("stockinette", "garter"),
}


@dataclass(frozen=True)
class Construction:
    """How the piece is worked."""

    worked: str = "flat"
    # In rounds every round is RS, whatever is said here.
    first_row: str = "RS"
    # The direction of work, not which hand holds the yarn.
    hand: str = "right"
    fabric: str = "stockinette"
    # Stitches at each side outside the chart, worked in the yarn beside them.
    selvedge: int = 0

    def __post_init__(self) -> None:
        for name, allowed in CHOICES.items():
            value = getattr(self, name)
            if value not in allowed:
                raise PlanError(
                    f'The construction has {name} = "{value}"; it is {", ".join(allowed[:-1])} or '
                    f"{allowed[-1]}."
                )
        check_number(self.selvedge, "The number of selvedge stitches at each side", most=100)
        if self.selvedge != int(self.selvedge):
            raise PlanError(
                f"There are {self.selvedge} selvedge stitches at each side; give a whole number."
            )

    @property
    def is_tube(self) -> bool:
        """Whether the two sides of the chart join, so that edge 0 and the last are one place."""
        return self.worked != "flat"

    @property
    def is_turned(self) -> bool:
        """Whether the work is turned after each row."""
        return self.worked != "rounds"

    @property
    def closes_join(self) -> bool:
        """Whether the ends of each row have to be joined by hand, as in turned rounds."""
        return self.is_tube and self.is_turned

    @property
    def row_word(self) -> str:
        """What a worked row is called: "row" or "round"."""
        return "round" if self.is_tube else "row"

    @property
    def rows_per_chart_row(self) -> int:
        """Worked rows in one row of the chart: two in garter (one ridge), else one."""
        return 2 if self.fabric == "garter" else 1

    def is_right_side(self, row: int) -> bool:
        """Whether this worked row is a RS row."""
        if not self.is_turned:
            return True
        # Turned, the sides take turns, beginning with that of the first row.
        return (row % 2 == 0) == (self.first_row == "RS")

    def runs_leftwards(self, row: int) -> bool:
        """Whether this worked row goes from the right-hand to the left-hand edge of the chart."""
        # The chart shows the RS: there a right-handed knitter works leftwards, and on the WS, as
        # the RS shows it, rightwards. A left-handed one does the reverse.
        return self.is_right_side(row) == (self.hand == "right")

    def side(self, row: int) -> str:
        """The side of this worked row: "RS" or "WS"."""
        return "RS" if self.is_right_side(row) else "WS"

    def row_name(self, row: int) -> str:
        """This worked row as it is said: "row 5 (RS)", "round 5", "row 10 (WS, ridge 5)"."""
        remarks = [self.side(row)] if self.is_turned else []
        if self.fabric == "garter":
            remarks.append(f"ridge {row // 2 + 1}")
        name = f"{self.row_word} {row + 1}"
        return f"{name} ({', '.join(remarks)})" if remarks else name

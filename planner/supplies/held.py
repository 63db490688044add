"""How each part of a strand is held, stage by stage, as records and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from planner.piece import BALL
from planner.supplies.lengths import Part
from planner.supplies.tables import table_of


@dataclass(frozen=True)
class Stage:
    """How a part is held from one of its rows on, and how much yarn that is, cm.

    `row` is a worked row from 0. The first stage begins with the part. A later one is a new piece,
    `joined` in that row to the one before; or else it is measured off the ball before that row, and
    wound. `ball` counts the balls of the yarn from 1; 0 for what is wound.
    """

    supply: str
    row: int
    length_cm: float
    joined: bool = False
    ball: int = 0


@dataclass(frozen=True, eq=False)  # as parts are
class Held:
    """How a part is held, stage by stage, and why.

    `spliced` says whether its joins leave no ends; `typical` is how wide it usually is, in
    stitches; `live` is the most lengths that hang in any of its rows.
    """

    part: Part
    stages: tuple[Stage, ...]
    why: str
    by_hand: bool
    spliced: bool
    typical: float
    live: int
    against: str = ""

    @property
    def supply(self) -> str:
        """How it is held first."""
        return self.stages[0].supply

    @property
    def measured_off(self) -> Stage | None:
        """What is measured off its ball in mid-strand, and wound; None if nothing is."""
        last = self.stages[-1]
        return last if last.row > self.part.hangs_from and not last.joined else None

    @property
    def in_words(self) -> str:
        """How it is held: "bobbin", "from the ball, then butterfly"."""
        return ", then ".join(dict.fromkeys(stage.supply for stage in self.stages))

    @cached_property
    def refill_rows(self) -> tuple[int, ...]:
        """The worked rows, from 0, in which a piece runs out and the next is joined."""
        return tuple(stage.row for stage in self.stages if stage.joined)

    @property
    def refills(self) -> int:
        return len(self.refill_rows)

    @property
    def refill_ends(self) -> int:
        """Ends to sew in that its joins leave: two each, unless they are spliced."""
        return 0 if self.spliced else 2 * self.refills

    def join_rows(self, logged: Sequence[int], done: int) -> tuple[int, ...]:
        """The worked rows, from 0, in which pieces are joined: as logged, and still to come.

        In the rows that are `done` a join that was planned counts also where nobody logged it, but
        one that was logged takes its place, in the row on the needles too.
        """
        passed = max([done, *(row + 1 for row in logged)])
        past = [row for row in self.refill_rows if row < passed]
        to_come = [row for row in self.refill_rows if row >= passed]
        return (*logged, *past[len(logged) :], *to_come)

    def on_ball_until(self) -> int:
        """The worked row, from 0, from which it is not fed from a ball any more."""
        if self.supply != BALL:
            return self.part.hangs_from
        return self.measured_off.row if self.measured_off else self.part.last_row + 1


def supplies_table(held: Sequence[Held]) -> pd.DataFrame:
    """One row a part: its supply, the ball that feeds it, what is measured off later, refills.

    Rows are worked rows from 1; lengths are in cm. Beside them stand why, and what speaks against.
    """
    lines = []
    for each in held:
        part, later = each.part, each.measured_off
        balls = [str(stage.ball) for stage in each.stages if stage.ball]
        lines.append(
            {
                "strand": part.label,
                "yarn": part.yarn,
                "part": part.name,
                "supply": each.in_words,
                "ball": ", then ".join(balls),
                "chosen": "by you" if each.by_hand else "suggested",
                "wound_cm": part.wound_cm,
                "measured_off_before": later.row + 1 if later else None,
                "measured_off_cm": later.length_cm if later else None,
                "refills": each.refills,
                "refill_rows": ", ".join(str(row + 1) for row in each.refill_rows),
                "refill_ends": each.refill_ends,
                "first_row": part.first_row + 1,
                "last_row": part.last_row + 1,
                "typical_stitches": each.typical,
                "why": each.why,
                "against": each.against,
            }
        )
    types = {"measured_off_before": "Int64", "measured_off_cm": "Float64"}
    return table_of(lines, list(lines[0]), types)

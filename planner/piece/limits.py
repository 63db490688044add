"""How far a yarn may be carried before it is better cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.errors import PlanError
from planner.piece.gauge import Gauge
from planner.units import exact, parse_length


@dataclass(frozen=True)
class CarryLimits:
    """The longest carries allowed: `across` and `sideways` in stitches, `up` in skipped worked rows.

    Each may be a length instead ("2.5 cm", "1 in"), which holds at any gauge. `middle_start`: whether two
    parts may be one length begun from its middle. Limits are compared unrounded.
    """

    across: float | str = 0
    sideways: float | str = 5
    up: float | str = 2
    middle_start: bool = True

    def __post_init__(self):
        for name in ("across", "sideways", "up"):
            value, what = getattr(self, name), f'The carry limit "{name}"'
            number = parse_length(value, what) if isinstance(value, str) else exact(value, what)
            if number < 0:
                raise PlanError(f"{what} is {value}; it must be 0 (never) or more.")
        if not isinstance(self.middle_start, bool):
            raise PlanError(f"middle_start is {self.middle_start!r}; it is true or false.")

    def at(self, gauge: Gauge) -> tuple[int, int, int, bool]:
        """Whole stitches across, stitches sideways, rows up that are within the limits at this gauge, and middle starts."""
        counts = []
        for name, measure in (
            ("across", gauge.stitches_in),
            ("sideways", gauge.stitches_in),
            ("up", gauge.rows_in),
        ):
            value = getattr(self, name)
            counts.append(
                math.floor(
                    measure(parse_length(value)) if isinstance(value, str) else exact(value, name)
                )
            )
        return (*counts, self.middle_start)

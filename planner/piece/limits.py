"""How far a yarn may be carried before it is better cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from planner.errors import PlanError
from planner.piece.gauge import Gauge
from planner.units import exact, parse_length


@dataclass(frozen=True)
class CarryLimits:
    """The longest carries allowed, in stitches or worked rows.

    Each may be a length instead ("2.5 cm", "1 in"), which holds at any gauge. Limits are compared
    unrounded.
    """

    # To a later run in the same row, in stitches.
    across: float | str = 0
    # To where the yarn enters on the next row, in stitches.
    sideways: float | str = 5
    # Past worked rows that are skipped.
    up: float | str = 2
    # Whether two parts may be one length begun from its middle.
    middle_start: bool = True

    def __post_init__(self) -> None:
        for name in ("across", "sideways", "up"):
            limit = getattr(self, name)
            what = f'The carry limit "{name}"'
            number = parse_length(limit, what) if isinstance(limit, str) else exact(limit, what)
            if number < 0:
                raise PlanError(f"{what} is {limit}; it must be 0 (never) or more.")
        # A 1 or "no" typed into piece.toml would be taken for yes.
        if not isinstance(self.middle_start, bool):
            raise PlanError(f"middle_start is {self.middle_start!r}; it is true or false.")

    def at(self, gauge: Gauge) -> tuple[int, int, int, bool]:
        """The whole stitches across, stitches sideways and rows up that are within the limits at
        this gauge, and whether middle starts are allowed."""
        across = _whole(self.across, gauge.stitches_in)
        sideways = _whole(self.sideways, gauge.stitches_in)
        up = _whole(self.up, gauge.rows_in)
        return across, sideways, up, self.middle_start


def _whole(limit: float | str, counted_in: Callable[[Fraction], Fraction]) -> int:
    """A limit in whole stitches or rows; `counted_in` turns a length in cm into these."""
    number = (
        counted_in(parse_length(limit)) if isinstance(limit, str) else exact(limit, "The limit")
    )
    # A shift is a whole number: it is within 5.5 if it is within 5.
    return math.floor(number)

"""Gauge: stitches and worked rows over a length.

Gauges are kept as they were counted, and reckoned with as exact fractions: a limit of 2.5 cm at
22 stitches in 10 cm is 5.5 stitches, neither a little more nor a little less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from planner.errors import PlanError
from planner.units import exact, to_cm

# Fractions have at most this denominator, so that the matching can reckon in whole numbers.
FINEST = 10_000
# What can be counted on a swatch, or measured on one, in any unit.
LEAST, MOST = Fraction(1, 100), 10_000


def _fraction(value: float, what: str) -> Fraction:
    """A count or a length as it was given, as a fraction; PlanError if no swatch can have it."""
    number = exact(value, what)
    if number <= 0:
        raise PlanError(
            f"{what} is {value}; it must be more than 0. Count again on a swatch laid flat."
        )
    if not LEAST <= number <= MOST:
        raise PlanError(
            f"{what} is {value}; that cannot be counted on a swatch. Between 0.01 and 10,000 is "
            "possible."
        )
    return number.limit_denominator(FINEST)


def _per_unit(pairs: Sequence[tuple[float, float]], what: str, unit: str) -> Fraction:
    """Stitches or rows in one cm or inch, from pairs of a count and the length it covers."""
    if not pairs:
        raise PlanError(f"Give at least one {what} measurement: how many, over how many {unit}.")
    in_all = over_all = Fraction(0)
    for count, length in pairs:
        # Only to refuse what is impossible: sums are of the numbers as they were given.
        _fraction(count, f"A count in the {what} measurements")
        _fraction(length, f"A measured {what}")
        in_all += exact(count, what)
        over_all += exact(length, what)
    return in_all / over_all


@dataclass(frozen=True)
class Gauge:
    """`stitches` and worked `rows` over `over` cm or in."""

    stitches: float = 22
    rows: float = 30
    over: float = 10
    unit: str = "cm"

    def __post_init__(self) -> None:
        _fraction(self.stitches, "The number of stitches in the gauge")
        _fraction(self.rows, "The number of rows in the gauge")
        _fraction(self.over, "The length the gauge is counted over")
        if self.unit not in ("cm", "in"):
            raise PlanError(
                f'The gauge is counted over {self.over} "{self.unit}"; the unit is cm or in.'
            )

    @classmethod
    def averaged(
        cls,
        widths: Sequence[tuple[float, float]],
        heights: Sequence[tuple[float, float]],
        unit: str = "cm",
    ) -> Gauge:
        """The gauge over 10 cm (4 in) from several measurements.

        `widths` are pairs of stitches and a width, `heights` of rows and a height. Counts are added
        up and divided by the lengths added up, so that a wide measurement counts for more.
        """
        over = 10 if unit == "cm" else 4  # as bands and patterns give it
        stitches = _per_unit(widths, "width", unit) * over
        rows = _per_unit(heights, "height", unit) * over
        # To a hundredth, which nobody can count, so that the fields show a number and no tail.
        return cls(
            stitches=round(float(stitches), 2), rows=round(float(rows), 2), over=over, unit=unit
        )

    @property
    def over_cm(self) -> Fraction:
        """The length the gauge is counted over, cm."""
        return to_cm(_fraction(self.over, "over"), self.unit)

    @property
    def stitch_cm(self) -> float:
        """Width of one stitch, cm."""
        return float(self.over_cm / _fraction(self.stitches, "stitches"))

    @property
    def row_cm(self) -> float:
        """Height of one worked row, cm."""
        return float(self.over_cm / _fraction(self.rows, "rows"))

    @property
    def aspect(self) -> Fraction:
        """Height of one worked row ÷ width of one stitch (denominator at most 10,000)."""
        ratio = _fraction(self.stitches, "stitches") / _fraction(self.rows, "rows")
        return ratio.limit_denominator(FINEST)

    def stitches_in(self, length_cm: Fraction) -> Fraction:
        """Stitch widths in a length, unrounded: 2.5 cm at 22 stitches in 10 cm is 5.5."""
        return length_cm * _fraction(self.stitches, "stitches") / self.over_cm

    def rows_in(self, length_cm: Fraction) -> Fraction:
        """Worked rows in a length, unrounded."""
        return length_cm * _fraction(self.rows, "rows") / self.over_cm

    def __str__(self) -> str:
        return f"{self.stitches:g} stitches and {self.rows:g} rows over {self.over:g} {self.unit}"

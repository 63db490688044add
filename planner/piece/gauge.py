"""Gauge: stitches and worked rows over a length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from planner.errors import PlanError
from planner.units import exact, to_cm

FINEST = 10_000  # gauges and aspects are kept as fractions with at most this denominator


def _fraction(value, what: str) -> Fraction:
    number = exact(value, what)
    if number <= 0:
        raise PlanError(
            f"{what} is {value}; it must be more than 0. Count again on a swatch laid flat."
        )
    if not Fraction(1, 100) <= number <= 10_000:
        raise PlanError(
            f"{what} is {value}; that cannot be counted on a swatch. Between 0.01 and 10,000 is possible."
        )
    return number.limit_denominator(FINEST)


@dataclass(frozen=True)
class Gauge:
    """`stitches` and worked `rows` over `over` cm or in; 22 stitches and 30 rows over 10 cm unless said."""

    stitches: float = 22
    rows: float = 30
    over: float = 10
    unit: str = "cm"

    def __post_init__(self):
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
    ):
        """The gauge over 10 cm (4 in) from several measurements: (stitches, width) and (rows, height) pairs.

        Counts are added up and divided by the lengths added up, so that a wide measurement counts for more.
        """
        over = 10 if unit == "cm" else 4
        per_length = []
        for pairs, what in ((widths, "width"), (heights, "height")):
            if not pairs:
                raise PlanError(
                    f"Give at least one {what} measurement: how many, over how many {unit}."
                )
            for count, length in pairs:
                if _fraction(count, f"A count in the {what} measurements") and _fraction(
                    length, f"A measured {what}"
                ):
                    continue
            per_length.append(
                sum(exact(c, what) for c, _ in pairs) / sum(exact(x, what) for _, x in pairs)
            )
        stitches, rows = (round(float(each * over), 2) for each in per_length)
        return cls(stitches=stitches, rows=rows, over=over, unit=unit)

    @property
    def over_cm(self) -> Fraction:
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
        """Height of one worked row ÷ width of one stitch, as a fraction (denominator at most 10,000)."""
        ratio = _fraction(self.stitches, "stitches") / _fraction(self.rows, "rows")
        return ratio.limit_denominator(FINEST)

    def stitches_in(self, length_cm: Fraction) -> Fraction:
        """Stitch widths in a length, unrounded: 2.5 cm at 22 stitches in 10 cm is 5.5."""
        return length_cm * _fraction(self.stitches, "stitches") / self.over_cm

    def rows_in(self, length_cm: Fraction) -> Fraction:
        """Worked rows in a length, unrounded."""
        return length_cm * _fraction(self.rows, "rows") / self.over_cm

    def __str__(self):
        return f"{self.stitches:g} stitches and {self.rows:g} rows over {self.over:g} {self.unit}"

"""Gauge: stitches and worked rows over a length.

Gauges are kept as they were counted, and reckoned with as exact fractions: a limit of 2.5 cm at
22 stitches in 10 cm is 5.5 stitches, neither a little more nor a little less.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from planner.errors import PlanError
from planner.units import LENGTH_OF_A_GAUGE, exact, to_cm

# Fractions have at most this denominator, so that the matching can reckon in whole numbers.
FINEST = 10_000
# What can be counted on a swatch, or measured on one, in any unit.
LEAST, MOST = Fraction(1, 100), 10_000
# Counts of one fabric differ by the hand that lays it flat, not by so many times.
TOO_DIFFERENT = 2

COUNT = re.compile(r"\s*(\S+) over (\S+)\s*")

Count = tuple[Fraction, Fraction]  # how many, and over which length


def _fraction(value: float | str, what: str) -> Fraction:
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


def _counts(given: float | str, over: float, noun: str) -> tuple[Count, ...]:
    """Each count with its length: one number over `over`, or "33 over 6, 34 over 6"."""
    number, length = f"The number of {noun} in the gauge", "The length the gauge is counted over"
    if not isinstance(given, str) or "over" not in given:
        return ((_fraction(given, number), _fraction(over, length)),)
    counts = []
    for text in given.split(","):
        match = COUNT.fullmatch(text)
        if not match:
            raise PlanError(
                f'In the gauge, "{text.strip()}" is no count of {noun}. Write how many over which '
                'length, with decimal points and a comma between counts: "33 over 6, 34.5 over 6".'
            )
        counts.append((_fraction(match[1], number), _fraction(match[2], length)))
    return tuple(counts)


def _in_one_unit(counts: tuple[Count, ...], noun: str) -> Fraction:
    """Stitches or rows in one cm or inch: counts added up, divided by the lengths added up."""
    # So a wide measurement counts for more.
    fewest, *_, most = sorted((counts[0], *counts), key=lambda count: count[0] / count[1])
    if most[0] * fewest[1] > TOO_DIFFERENT * fewest[0] * most[1]:
        widely = " and ".join(f"{_plain(count)} over {_plain(over)}" for count, over in counts)
        raise PlanError(
            f"In the gauge, the counts of {noun} contradict each other: {widely}. No fabric has "
            "both. Look for a slip in a number, or a length in another unit; then count again."
        )
    return sum(count for count, _ in counts) / sum((over for _, over in counts), Fraction(0))


def _plain(number: Fraction) -> str:
    # A length that was put into another unit has no end of digits.
    return f"{round(float(number), 3):g}"


def _in_words(counts: tuple[Count, ...], noun: str, unit: str) -> str:
    """Counts in a knitter's words, those over one length together."""
    phrases = []
    for length in dict.fromkeys(over for _, over in counts):
        numbers = [_plain(count) for count, over in counts if over == length]
        phrases.append(f"{' and '.join(numbers)} {noun} over {_plain(length)} {unit}")
    return ", ".join(phrases)


@dataclass(frozen=True)
class Gauge:
    """`stitches` and worked `rows` over `over` cm or in.

    Either may be several counts in words, each with its length: "33 over 6, 34 over 6". They are
    kept so; reckoned with is what they add up to.
    """

    stitches: float | str = 22
    rows: float | str = 30
    over: float = 10
    unit: str = "cm"

    def __post_init__(self) -> None:
        if self.unit not in LENGTH_OF_A_GAUGE:
            raise PlanError(
                f'The gauge is counted over a length in "{self.unit}"; the unit is cm or in.'
            )
        # Worked out now, so that a gauge that cannot be is refused when it is made.
        _, _ = self.stitches_per_cm, self.rows_per_cm

    @property
    def stitch_counts(self) -> tuple[Count, ...]:
        """How many stitches over which width, count by count."""
        return _counts(self.stitches, self.over, "stitches")

    @property
    def row_counts(self) -> tuple[Count, ...]:
        """How many worked rows over which height, count by count."""
        return _counts(self.rows, self.over, "rows")

    @cached_property
    def stitches_per_cm(self) -> Fraction:
        """Stitches in one cm, exactly."""
        return _in_one_unit(self.stitch_counts, "stitches") / to_cm(1, self.unit)

    @cached_property
    def rows_per_cm(self) -> Fraction:
        """Worked rows in one cm, exactly."""
        return _in_one_unit(self.row_counts, "rows") / to_cm(1, self.unit)

    @property
    def stitch_cm(self) -> float:
        """Width of one stitch, cm."""
        return float(1 / self.stitches_per_cm)

    @property
    def row_cm(self) -> float:
        """Height of one worked row, cm."""
        return float(1 / self.rows_per_cm)

    @property
    def aspect(self) -> Fraction:
        """Height of one worked row ÷ width of one stitch (denominator at most 10,000)."""
        return (self.stitches_per_cm / self.rows_per_cm).limit_denominator(FINEST)

    def stitches_in(self, length_cm: Fraction) -> Fraction:
        """Stitch widths in a length, unrounded: 2.5 cm at 22 stitches in 10 cm is 5.5."""
        return length_cm * self.stitches_per_cm

    def rows_in(self, length_cm: Fraction) -> Fraction:
        """Worked rows in a length, unrounded."""
        return length_cm * self.rows_per_cm

    def in_words(self, units: str) -> str:
        """The gauge as it was counted; in other units what that is over 10 cm or 4 in."""
        if units == self.unit:
            return str(self)
        over_cm = to_cm(LENGTH_OF_A_GAUGE[units], units)
        # To a tenth, which nobody can count.
        stitches, rows = (
            f"{float(number):.1f}".removesuffix(".0")
            for number in (self.stitches_in(over_cm), self.rows_in(over_cm))
        )
        return f"{stitches} stitches and {rows} rows over {LENGTH_OF_A_GAUGE[units]} {units}"

    def __str__(self) -> str:
        if isinstance(self.stitches, str) or isinstance(self.rows, str):
            stitches = _in_words(self.stitch_counts, "stitches", self.unit)
            return f"{stitches}, {_in_words(self.row_counts, 'rows', self.unit)}"
        return f"{self.stitches:g} stitches and {self.rows:g} rows over {self.over:g} {self.unit}"

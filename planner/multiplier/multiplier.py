"""The multiplier: length of yarn in a row ÷ the row's width, an estimate with a spread.

With it goes what a plan asks of it: how much to add so that a length seldom falls short, how long a
piece is enough with a given chance, and how likely a piece is too short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.multiplier.normal import ndtr, ndtri
from planner.piece import SHORTEST_YARN, MultiplierChoice, check_multiplier
from planner.units import NOT_MEASURED, between, check_number

Array = np.ndarray
Lengths = ArrayLike  # widths of stitches or lengths of yarn, cm: one of them or many

# Three times the width of the stitches, laid in one row: common practice, no source.
RULE_OF_THREE = 3.0
# Before any swatch: the middle of what knitters' rule (3), needles (3.1, 3.4) and textile science
# for relaxed plain knit (3.8 to 4.2) say, with a spread that holds them all. The values and their
# grades are in shared/sources.csv.
PRIOR_MEAN, PRIOR_SPREAD = 3.7, 0.45
BEFORE_ANY_SWATCH = "an estimate before any swatch"
# At or below the first no yarn can be; outside the other two a figure is asked about.
IMPOSSIBLE, QUERY_BELOW, QUERY_ABOVE = SHORTEST_YARN, 2.5, 5.5
# Of a figure that the knitter gives without a spread (judgement).
OWN_SPREAD = 0.05
# Lengths are sums of floats. One that is just enough is enough.
JUST_ENOUGH_CM = 1e-9
# A multiplier taken as exact has no spread; so small a one leaves its chances at 0 or 1.
NO_SPREAD_CM = 1e-12


@dataclass(frozen=True)
class Multiplier:
    """A multiplier with its standard error; `basis` says where it comes from, in words."""

    value: float = PRIOR_MEAN
    spread: float = PRIOR_SPREAD
    basis: str = BEFORE_ANY_SWATCH

    def __post_init__(self) -> None:
        check_number(self.value, "The multiplier")
        check_number(self.spread, "The multiplier's spread")
        check_multiplier(self.value)

    @classmethod
    def rule_of_three(cls) -> Multiplier:
        return cls(RULE_OF_THREE, 0.0, "the plain rule of three, without a margin")

    @classmethod
    def own(cls, value: float, spread: float | None = None) -> Multiplier:
        """The knitter's own figure; without a spread, 5 % of it is assumed."""
        check_number(value, "Your own multiplier")
        if spread is None:
            spread = OWN_SPREAD * value
        return cls(value, spread, "your own figure")

    @classmethod
    def chosen(cls, choice: MultiplierChoice) -> Multiplier:
        """The multiplier of a choice that needs no measurements."""
        if choice.way == "own" and choice.value is not None:
            return cls.own(choice.value, choice.spread)
        if choice.way == "rule of three":
            return cls.rule_of_three()
        return cls()

    @property
    def kind(self) -> str:
        """What kind of figure it is, in words."""
        return NOT_MEASURED if self.basis == BEFORE_ANY_SWATCH else self.basis

    @property
    def query(self) -> str:
        """A question for the knitter if the value is unlikely for knitting, else nothing."""
        if QUERY_BELOW <= self.value <= QUERY_ABOVE:
            return ""
        if self.value > QUERY_ABOVE:
            reason = "is a crochet figure or was the cast-on left out?"
        else:
            reason = "was the swatch stretched?"
        return (
            f"A multiplier of {self.value:.2f} is outside {QUERY_BELOW:g} to {QUERY_ABOVE:g}: "
            f"{reason} Measure once more."
        )

    def margin(self, short_once_in: float = 20) -> float:
        """What to add to the multiplier so that it falls short only once in so many; 0 if there is
        no spread."""
        check_number(short_once_in, "Short once in how many (20 is usual)", least=2)
        return -self.spread * float(ndtri(1 / short_once_in))

    def margin_cm(self, width_cm: Lengths, short_once_in: float = 20) -> Array:
        """The margins, cm, for stitches of these widths in cm."""
        return self.margin(short_once_in) * np.asarray(width_cm, dtype=float)

    def length_at(self, width_cm: Lengths, chance: float) -> Array:
        """The lengths, cm, that stitches of these widths stay below with this chance."""
        likely_end = self.value + self.spread * float(ndtri(chance))
        return likely_end * as_widths(width_cm)

    def chance_over(self, width_cm: Lengths, length_cm: Lengths, error_cm: float = 0.0) -> Array:
        """The chance that stitches of these widths use more than these lengths.

        `error_cm` is the standard error of the length itself.
        """
        widths = as_widths(width_cm)
        spare = np.asarray(length_cm) + JUST_ENOUGH_CM - self.value * widths
        spread = np.maximum(np.hypot(self.spread * widths, error_cm), NO_SPREAD_CM)
        chances: Array = ndtr(-spare / spread)
        return chances

    def __str__(self) -> str:
        likely_range = f", {between(self.value, self.spread)}" if self.spread else ""
        return f"{self.value:.2f}{likely_range}"


def as_widths(width_cm: Lengths) -> Array:
    """Widths as an array of one dimension, a single one as well as many."""
    return np.atleast_1d(np.asarray(width_cm, dtype=float))

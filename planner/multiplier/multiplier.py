"""The multiplier: length of yarn in a row ÷ the row's width, an estimate with a spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from planner.piece import SHORTEST_YARN, MultiplierChoice, check_multiplier
from planner.units import check_number

RULE_OF_THREE = (
    3.0  # common practice, no source: three times the width of the stitches laid in one row
)
# Before any swatch: the middle of what knitters' rule (3), needles (3.1, 3.4) and textile science for relaxed plain
# knit (3.8 to 4.2) say, with a spread that holds them all. The values and their grades are in shared/sources.csv.
PRIOR_MEAN, PRIOR_SPREAD = 3.7, 0.45
IMPOSSIBLE, QUERY_BELOW, QUERY_ABOVE = SHORTEST_YARN, 2.5, 5.5


@dataclass(frozen=True)
class Multiplier:
    """A multiplier `value` with its standard error `spread`; `basis` says where it comes from, in words."""

    value: float = PRIOR_MEAN
    spread: float = PRIOR_SPREAD
    basis: str = "an estimate before any swatch"

    def __post_init__(self):
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
        return cls(value, 0.05 * value if spread is None else spread, "your own figure")

    @classmethod
    def chosen(cls, choice: MultiplierChoice) -> Multiplier:
        """The multiplier of a choice that needs no measurements."""
        if choice.way == "own" and choice.value is not None:
            return cls.own(choice.value, choice.spread)
        return cls.rule_of_three() if choice.way == "rule of three" else cls()

    @property
    def query(self) -> str:
        """A question for the knitter if the value is unlikely for knitting, else nothing."""
        if QUERY_BELOW <= self.value <= QUERY_ABOVE:
            return ""
        reason = (
            "is a crochet figure or was the cast-on left out?"
            if self.value > QUERY_ABOVE
            else "was the swatch stretched?"
        )
        return f"A multiplier of {self.value:g} is outside {QUERY_BELOW:g} to {QUERY_ABOVE:g}: {reason} Measure once more."

    def margin(self, short_once_in: float = 20) -> float:
        """What to add to the multiplier so that it falls short only once in so many; 0 if there is no spread."""
        check_number(short_once_in, "Short once in how many (20 is usual)", least=2)
        return self.spread * float(norm.isf(1 / short_once_in))

    def margin_cm(self, width_cm, short_once_in: float = 20):
        """The margin, cm, for stitches of this width in cm; an array where the widths are one."""
        return self.margin(short_once_in) * width_cm

    def length_at(self, width_cm, chance: float) -> np.ndarray:
        """The lengths, cm, that stitches of these widths stay below with this chance."""
        return (self.value + self.spread * float(norm.ppf(chance))) * np.atleast_1d(
            np.asarray(width_cm, dtype=float)
        )

    def chance_over(self, width_cm, length_cm, error_cm: float = 0.0) -> np.ndarray:
        """The chance that stitches of these widths use more than these lengths; `error_cm`: standard error of the length."""
        width = np.atleast_1d(np.asarray(width_cm, dtype=float))
        sure = 1e-9  # a length that is just enough is enough
        return norm.sf(
            (length_cm + sure - self.value * width)
            / np.maximum(np.hypot(self.spread * width, error_cm), sure / 1000)
        )

    def __str__(self):
        return f"{self.value:.2f}" + (f" ± {self.spread:.2f}" if self.spread else "")

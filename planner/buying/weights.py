"""Yarn by weight: metres from grams, and how sure they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.errors import PlanError
from planner.multiplier import LABEL_ERROR, STEP_TO_ERROR, WEIGHED_ERROR
from planner.units import check_number, show_per_gram, show_total

# Wool is sold at a moisture of 18.25 % of its dry weight (the trade's regain); a heated room leaves
# 8 to 10 %.
TRADE_REGAIN, HEATED_ROOM = 0.1825, (0.08, 0.10)
# By the weather wool holds up to about a tenth of its weight more or less water than that (common
# practice): evenly within it, which is a standard error of 5.8 %.
BY_WEATHER = 0.10
MOISTURE_ERROR = BY_WEATHER / 3**0.5
# Standard errors within which a normal figure lies 95 times in 100.
REACH = 1.96


@dataclass(frozen=True)
class WeighedYarn:
    """A length of yarn by its weight: likely, and within which limits (95 in 100), cm."""

    likely_cm: float
    low_cm: float
    high_cm: float
    # Of how many balls it is, if the weight of a ball is known.
    balls: float | None
    # The sum, to follow on paper.
    lines: tuple[str, ...]


def weighed(
    grams: float,
    per_gram: float,
    *,
    step: float = 1,
    source: str = "label",
    grams_per_ball: float | None = None,
    wool: bool = False,
    weather: bool = False,
    units: str = "cm",
) -> WeighedYarn:
    """The length of so many grams of a yarn.

    `weather`: wool that was weighed on any day, which may be a tenth heavier or lighter by it.

    `per_gram` is metres in a gram, from the label or a weighed length, as `source` says; `step` is
    that of the scale, g.
    """
    check_number(grams, "The weight", above=0)
    check_number(per_gram, "The length in a gram", above=0)
    check_number(step, "The scale's step", above=0)
    if grams_per_ball is not None:
        check_number(grams_per_ball, "The weight of a ball", above=0)
    if source not in ("label", "weighed length"):
        raise PlanError(f'The length in a gram is by "{source}"; it is label or weighed length.')
    by_label = source == "label"

    likely = 100 * grams * per_gram
    of_metres_per_gram = (LABEL_ERROR if by_label else WEIGHED_ERROR) * likely
    of_the_scale = step * STEP_TO_ERROR * 100 * per_gram
    of_moisture = MOISTURE_ERROR * likely if weather else 0.0
    reach = REACH * math.hypot(of_metres_per_gram, of_the_scale, of_moisture)
    # A coarse scale leaves all open below, but no length is less than nothing.
    low, high = max(likely - reach, 0.0), likely + reach

    error = "the band" if by_label else "weighing"
    lines = [
        f"{grams:g} g × {show_per_gram(per_gram, units)} = {show_total(likely, units)}",
        f"With the error of {error}: {show_total(low, units)} to {show_total(high, units)}",
    ]
    balls = grams / grams_per_ball if grams_per_ball else None
    if balls:
        lines.append(f"That is {balls:.2f} of a ball of {grams_per_ball:g} g")
    if wool and by_label:
        lines.append(_wool_dries())
    return WeighedYarn(likely, low, high, balls, tuple(lines))


def _wool_dries() -> str:
    """How much too short the sum from a band comes out, and what to do about it."""
    # Drier wool is lighter, and so is taken for less of it; in the moister room less so.
    short = [100 * (1 - (1 + moisture) / (1 + TRADE_REGAIN)) for moisture in HEATED_ROOM]
    most, least = short
    return (
        f"Wool dries in a heated room, so a sum from the band reads {least:.0f}–{most:.0f} % "
        "short. Weigh a measured length on the same day instead."
    )

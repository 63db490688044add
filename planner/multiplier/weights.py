"""Yarn by weight: metres from grams, how sure they are, and the weight of what is in hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.errors import PlanError
from planner.multiplier.evidence import LABEL_ERROR, STEP_TO_ERROR, WEIGHED_ERROR
from planner.piece import Yarn
from planner.units import check_number, show

# Metres in a gram from a yarn's count (ASTM D2260): tex is grams in 1,000 m, cotton count = 590.541 ÷ tex,
# yards in a pound = 496,055 ÷ tex.
TEX_FROM = {
    "tex": lambda n: n,
    "cotton count": lambda n: 590.541 / n,
    "yards per pound": lambda n: 496_055 / n,
}
# Wool is sold at a moisture of 18.25 % of its dry weight (the trade's regain); a heated room leaves 8 to 10 %.
TRADE_REGAIN, HEATED_ROOM = 0.1825, (0.08, 0.10)


def tex(count: float, system: str) -> float:
    """Grams in 1,000 m from a yarn count in tex, cotton count or yards per pound."""
    check_number(count, f"The {system}", above=0)
    if system not in TEX_FROM:
        raise PlanError(f'"{system}" is no yarn count known here; use {", ".join(TEX_FROM)}.')
    return TEX_FROM[system](count)


def metres_per_gram(count: float, system: str = "tex") -> float:
    """Metres in a gram, from a yarn count."""
    return 1000 / tex(count, system)


@dataclass(frozen=True)
class WeighedYarn:
    """A length of yarn by its weight: likely, and within which limits (95 in 100), cm; `lines` show the sum."""

    likely_cm: float
    low_cm: float
    high_cm: float
    balls: float | None
    lines: tuple[str, ...]


def weighed(
    grams: float,
    per_gram: float,
    *,
    step: float = 1,
    source: str = "label",
    grams_per_ball: float | None = None,
    wool: bool = False,
    units: str = "cm",
) -> WeighedYarn:
    """The length of so many grams; `per_gram` metres in a gram, from the label or a weighed length; `step` of the scale, g."""
    check_number(grams, "The weight", above=0)
    check_number(per_gram, "Metres in a gram", above=0)
    check_number(step, "The scale's step", above=0)
    if grams_per_ball is not None:
        check_number(grams_per_ball, "The weight of a ball", above=0)
    if source not in ("label", "weighed length"):
        raise PlanError(f'Metres in a gram come from "{source}"; it is label or weighed length.')
    likely = 100 * grams * per_gram
    share = LABEL_ERROR if source == "label" else WEIGHED_ERROR
    reach = 1.96 * ((share * likely) ** 2 + (step * STEP_TO_ERROR * 100 * per_gram) ** 2) ** 0.5
    low = max(likely - reach, 0.0)
    error = "the band" if source == "label" else "weighing"
    lines = [f"{grams:g} g × {per_gram:.3g} m/g = {show(likely, units)}"]
    lines.append(f"With the error of {error}: {show(low, units)} to {show(likely + reach, units)}")
    balls = grams / grams_per_ball if grams_per_ball else None
    if balls:
        lines.append(f"That is {balls:.2f} of a ball of {grams_per_ball:g} g")
    if wool and source == "label":
        short = [100 * (1 - (1 + room) / (1 + TRADE_REGAIN)) for room in reversed(HEATED_ROOM)]
        lines.append(
            f"Wool dries in a heated room, so a sum from the band reads {short[0]:.0f}–{short[1]:.0f} % short. "
            "Weigh a measured length on the same day instead."
        )
    return WeighedYarn(likely, low, likely + reach, balls, tuple(lines))


def balls_by_weight(
    yarn: Yarn, grams: Sequence[float], *, step: float = 1, units: str = "cm"
) -> WeighedYarn:
    """Balls and length of what is in hand, whole and part balls weighed one by one on a scale of this step, in grams; weigh
    without the band and the core. `balls` is what to write as balls_in_hand."""
    if not (yarn.metres_per_ball and yarn.grams_per_ball):
        raise PlanError(
            f"Yarn {yarn.letter} has no metres and grams of a ball. Fill in metres_per_ball and grams_per_ball."
        )
    if not grams:
        raise PlanError(f"No ball of yarn {yarn.letter} was weighed. Give the grams of each.")
    for one in grams:
        check_number(one, f"Yarn {yarn.letter}: the weight of a ball", above=0)
    per_gram = yarn.metres_per_ball / yarn.grams_per_ball
    error = step * len(grams) ** 0.5  # each weighing is off on its own
    return weighed(
        sum(grams), per_gram, step=error, grams_per_ball=yarn.grams_per_ball, units=units
    )

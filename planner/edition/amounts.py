"""Amounts: what each yarn is and how much of it other hands take, with the spread of hands."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from planner.colour import lightness
from planner.edition.lengths import InStitches
from planner.edition.words import weight_in_words
from planner.multiplier import PRIOR_SPREAD
from planner.plan import Plan
from planner.supplies import YarnNeeded
from planner.units import ROUNDING_ERROR, SPREADS_EACH_WAY


@dataclass(frozen=True)
class Material:
    """One yarn as others may buy it: what it is, and how much of it is knitted.

    `weight` is its class and `grams_per_ball` and `metres_per_ball` are its band's, "" or None
    where that is not known; `grey` is how light it prints, from 0 to 100. Nine hands in ten use
    between `low_cm` and `high_cm` in the piece, tails included; `buy_cm` is the upper end with
    swatch and spare, and `shortest_ball_cm` what a ball surely holds.
    """

    letter: str
    name: str
    colour: str
    grey: int
    weight: str
    metres_per_ball: float | None
    grams_per_ball: float | None
    stitches: int
    cm_per_stitch: float
    likely_cm: float
    low_cm: float
    high_cm: float
    buy_cm: float
    shortest_ball_cm: float | None

    def balls(self, times: int = 1) -> int | None:
        """Whole balls for so many pieces; None where the band's length is not known."""
        if self.shortest_ball_cm is None:
            return None
        return math.ceil(times * self.buy_cm / self.shortest_ball_cm - ROUNDING_ERROR)


def materials_of(plan: Plan, lengths: Sequence[InStitches]) -> tuple[Material, ...]:
    """What each yarn of a plan without stock is, and how much other hands take."""
    by_yarn: dict[str, list[InStitches]] = defaultdict(list)
    for each in lengths:
        by_yarn[each.yarn].append(each)
    return tuple(_material(plan, needed, by_yarn[needed.yarn.letter]) for needed in plan.needed)


def _material(plan: Plan, needed: YarnNeeded, lengths: Sequence[InStitches]) -> Material:
    yarn = needed.yarn
    multiplier, stitch_cm = plan.multipliers[yarn.letter], plan.project.gauge.stitch_cm
    stitches = sum(each.stitches for each in lengths)
    likely_cm = sum(each.length_cm - each.margin_cm for each in lengths)
    # However well the designer knows her own hand, a reader's is another: it is as uncertain as
    # any hand before its first swatch.
    spread = max(multiplier.spread, PRIOR_SPREAD)
    aside_cm = SPREADS_EACH_WAY * spread * stitch_cm * stitches
    high_cm = max(likely_cm + aside_cm, needed.piece_cm)
    # Bands promise more than is in a ball, and the hand that uses most must not run short.
    shortest = None
    if yarn.metres_per_ball:
        shortest = 100 * yarn.metres_per_ball * (1 - needed.label_error)
    return Material(
        letter=yarn.letter,
        name=yarn.name,
        colour=yarn.colour,
        grey=round(lightness(yarn.colour)),
        weight=weight_in_words(yarn.label_stitches_10cm),
        metres_per_ball=yarn.metres_per_ball,
        grams_per_ball=yarn.grams_per_ball,
        stitches=round(stitches),
        cm_per_stitch=multiplier.value * stitch_cm,
        likely_cm=likely_cm,
        low_cm=likely_cm - aside_cm,
        high_cm=high_cm,
        buy_cm=high_cm + needed.swatch_cm + needed.spare_cm,
        shortest_ball_cm=shortest,
    )

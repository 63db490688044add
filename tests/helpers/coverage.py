"""How often what is used lies inside the planned interval, by simulated knitters.

A knitter has a multiplier, a noise and a few measurements: of marked lengths, swatches or supplies
by a ruler, or of swatches weighed by one band that is wrong; then one more supply is predicted with
a 90 % interval and knitted. Knitters are drawn from the prior the planner states, or from hands it
does not expect, evenly 2.6 to 4.8.
"""

from dataclasses import dataclass

import numpy as np

from planner.multiplier.calibration import (
    NOISE_AT_1M,
    NOISE_FACTOR,
    Calibration,
    Evidence,
    noise_variance,
)
from planner.multiplier.evidence import evidence_in
from planner.multiplier.multiplier import PRIOR_MEAN, PRIOR_SPREAD
from planner.piece.log import WEIGHED
from tests.helpers.measurements import measured

STITCH_CM, ERROR_CM = 0.45, 0.2
# What the band says, how far it may be off either way, and the steps of the scale.
METRES_PER_GRAM, BAND_OFF, STEP_G = 2.0, 0.10, 0.1


@dataclass(frozen=True)
class Hand:
    """A knitter's hand: the multiplier, and the noise of a metre of yarn."""

    multiplier: float
    noise: float

    def knit(self, rng, width_cm: float) -> float:
        """Yarn used by stitches of a width, cm."""
        spread = np.sqrt(noise_variance(width_cm, self.noise, mean=self.multiplier))
        return self.multiplier * width_cm + rng.normal(0, spread)


def by_ruler(rng, hand: Hand, measurements: int) -> list[Evidence]:
    """Stitches of 10 to 300 cm, their yarn read by a ruler."""
    evidence = []
    for width in rng.uniform(10, 300, measurements):
        used = hand.knit(rng, width) + rng.normal(0, ERROR_CM)
        evidence.append(Evidence("A", "stockinette", width, used, ERROR_CM, width / STITCH_CM))
    return evidence


def by_one_band(rng, hand: Hand, measurements: int) -> list[Evidence]:
    """Swatches of 400 to 1,200 stitches on a scale, all by a band that is off by up to a tenth."""
    metres_per_gram = METRES_PER_GRAM * (1 + rng.uniform(-BAND_OFF, BAND_OFF))
    evidence = []
    for stitches in rng.integers(400, 1_200, measurements):
        swatch = measured(WEIGHED, stitches=int(stitches))
        used = hand.knit(rng, stitches * swatch.stitch_cm)
        grams = used / 100 / metres_per_gram
        read = round(grams / STEP_G) * STEP_G
        weighed = measured(
            WEIGHED,
            stitches=int(stitches),
            grams=read,
            grams_step=STEP_G,
            metres_per_gram=METRES_PER_GRAM,
            edges_cm=0,
            tails_cm=0,
        )
        evidence.append(evidence_in(weighed))
    return evidence


def coverage(
    measurements: int, hands: str, *, knitters: int, seed: int = 20, measure=by_ruler
) -> tuple[float, float]:
    """Shares of knitters whose next supply is inside the interval, and above its upper end."""
    rng = np.random.default_rng(seed)
    inside = short = 0
    for _ in range(knitters):
        if hands == "expected":
            multiplier = rng.normal(PRIOR_MEAN, PRIOR_SPREAD)
        else:
            multiplier = rng.uniform(2.6, 4.8)
        hand = Hand(multiplier, NOISE_AT_1M * np.exp(rng.normal(0, np.log(NOISE_FACTOR))))
        evidence = measure(rng, hand, measurements)
        learned = Calibration(evidence, ["A"]).multiplier("A", "stockinette")
        width = rng.uniform(20, 2_000)
        chance = float(learned.chance_over(width, hand.knit(rng, width))[0])
        inside += 0.05 < chance < 0.95
        short += chance < 0.05
    return inside / knitters, short / knitters

"""How often what is used lies inside the planned interval, by simulated knitters.

A knitter has a multiplier, a noise and a few measurements of marked lengths, swatches or supplies;
then one more supply is predicted with a 90 % interval and knitted. Knitters are drawn from the
prior the planner states, or from hands it does not expect, evenly 2.6 to 4.8.
"""

import numpy as np

from planner.multiplier.calibration import (
    NOISE_AT_1M,
    NOISE_FACTOR,
    Calibration,
    Evidence,
    noise_variance,
)
from planner.multiplier.multiplier import PRIOR_MEAN, PRIOR_SPREAD

STITCH_CM, ERROR_CM = 0.45, 0.2


def knit(rng, multiplier: float, noise: float, width_cm: float) -> float:
    """Yarn used by stitches of a width, cm."""
    spread = np.sqrt(noise_variance(width_cm, noise, mean=multiplier))
    return multiplier * width_cm + rng.normal(0, spread)


def coverage(
    measurements: int, hands: str, *, knitters: int, seed: int = 20
) -> tuple[float, float]:
    """Shares of knitters whose next supply is inside the interval, and above its upper end."""
    rng = np.random.default_rng(seed)
    inside = short = 0
    for _ in range(knitters):
        if hands == "expected":
            multiplier = rng.normal(PRIOR_MEAN, PRIOR_SPREAD)
        else:
            multiplier = rng.uniform(2.6, 4.8)
        noise = NOISE_AT_1M * np.exp(rng.normal(0, np.log(NOISE_FACTOR)))
        evidence = []
        for width in rng.uniform(10, 300, measurements):
            used = knit(rng, multiplier, noise, width) + rng.normal(0, ERROR_CM)
            evidence.append(Evidence("A", "stockinette", width, used, ERROR_CM, width / STITCH_CM))
        learned = Calibration(evidence, ["A"]).multiplier("A", "stockinette")
        width = rng.uniform(20, 2_000)
        chance = float(learned.chance_over(width, knit(rng, multiplier, noise, width))[0])
        inside += 0.05 < chance < 0.95
        short += chance < 0.05
    return inside / knitters, short / knitters

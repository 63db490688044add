"""Calibration: what measurements say about a knitter's multiplier, for each yarn and fabric, and how surely.

Used yarn = multiplier × width + noise. A multiplier is the hand's own level plus what yarn and fabric add, so a yarn
learns most from itself and less from the others. Given the size of the noise all is normal and exact; that size is
not known, so the answer is a mixture over a grid of it, weighed by how well each explains what was measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr
from scipy.stats import norm

from planner.multiplier.multiplier import PRIOR_MEAN, PRIOR_SPREAD, Multiplier

# Variances of the prior: the hand, the yarn, the fabric, both together. They add up to PRIOR_SPREAD².
SHARES = np.array([0.45, 0.28, 0.16, 0.11])
# Noise, judgement: a metre of yarn varies by about 4 % (within a factor of 2 for two knitters in three), independent
# stitch by stitch so that it grows as the root of the length; on top, each piece as a whole by 2 % (mood, row, tension).
NOISE_AT_1M, NOISE_FACTOR, DRIFT = 0.04, 2.0, 0.02
NOISE_GRID = np.geomspace(0.004, 0.4, 47)


@dataclass(frozen=True)
class Evidence:
    """One measurement, boiled down: yarn used by stitches of a width, in cm; `error_cm` is the instrument's standard error."""

    yarn: str
    fabric: str
    width_cm: float
    used_cm: float
    error_cm: float = 0.0
    stitches: float = 0.0


def noise_log_prior(noise: np.ndarray) -> np.ndarray:
    """Log-normal about NOISE_AT_1M; up to a constant, on the grid's logarithmic scale."""
    return -0.5 * (np.log(noise / NOISE_AT_1M) / np.log(NOISE_FACTOR)) ** 2


def noise_variance(width_cm, noise, drift: float = DRIFT, mean: float = PRIOR_MEAN):
    """Variance, cm², of the yarn used by stitches of this width: it grows with the length, and with its square by drift."""
    length = mean * np.asarray(width_cm, dtype=float)
    return noise**2 * length * 100 + (drift * length) ** 2


def prior_covariance(kinds: Sequence[tuple[str, str]]) -> np.ndarray:
    """Covariance of the multipliers of these (yarn, fabric) kinds before any measurement."""
    yarns, fabrics = (np.array(x, dtype=object) for x in zip(*kinds, strict=True))
    same_yarn, same_fabric = yarns[:, None] == yarns, fabrics[:, None] == fabrics
    parts = (
        SHARES[0]
        + SHARES[1] * same_yarn
        + SHARES[2] * same_fabric
        + SHARES[3] * (same_yarn & same_fabric)
    )
    return PRIOR_SPREAD**2 * parts


def posterior(
    x,
    y,
    kind,
    fixed_variance,
    covariance,
    *,
    mean=PRIOR_MEAN,
    grid=NOISE_GRID,
    log_prior=noise_log_prior,
    drift=DRIFT,
):
    """The multipliers after measurements y = multiplier[kind] × x + noise, by size of noise.

    Returns weights (grid), means (grid × kinds) and covariances (grid × kinds × kinds).
    """
    x, y, kind, fixed = (np.asarray(a) for a in (x, y, kind, fixed_variance))
    kinds = len(covariance)
    precision0, log_det0 = np.linalg.inv(covariance), np.linalg.slogdet(covariance)[1]
    log_weight, means, covariances = [], [], []
    for noise in grid:
        variance = noise_variance(x, noise, drift) + fixed
        gain = np.bincount(kind, weights=x * x / variance, minlength=kinds)
        residual = y - mean * x
        pull = np.bincount(kind, weights=x * residual / variance, minlength=kinds)
        precision = precision0 + np.diag(gain)
        cov = np.linalg.inv(precision)
        shift = cov @ pull
        fit = (residual**2 / variance).sum() - pull @ shift
        log_det = np.log(variance).sum() + log_det0 + np.linalg.slogdet(precision)[1]
        log_weight.append(-0.5 * (fit + log_det))
        means.append(mean + shift)
        covariances.append(cov)
    log_weight = np.array(log_weight) + log_prior(np.asarray(grid))
    weight = np.exp(log_weight - log_weight.max())
    return weight / weight.sum(), np.array(means), np.array(covariances)


@dataclass(frozen=True, eq=False)
class Calibrated(Multiplier):
    """A multiplier learned from measurements; a mixture of normals, one for each size of noise on the grid."""

    weights: np.ndarray = None
    means: np.ndarray = None
    spreads: np.ndarray = None
    stitches: float = 0

    def _parts(self, width_cm) -> tuple[np.ndarray, np.ndarray]:
        """Mean and spread of the yarn used, widths × grid, cm."""
        width = np.atleast_1d(np.asarray(width_cm, dtype=float))[:, None]
        return width * self.means, np.sqrt(
            (width * self.spreads) ** 2 + noise_variance(width, NOISE_GRID)
        )

    def chance_over(self, width_cm, length_cm, error_cm: float = 0.0) -> np.ndarray:
        """The chance that stitches of this width use more than this length of yarn."""
        means, spreads = self._parts(width_cm)
        spreads = np.hypot(spreads, error_cm)
        return (
            ndtr((means - np.atleast_1d(length_cm)[:, None]) / np.maximum(spreads, 1e-9))
            * self.weights
        ).sum(axis=1)

    def length_at(self, width_cm, chance: float) -> np.ndarray:
        """The length, cm, that stitches of this width stay below with this chance: the end of a prediction interval."""
        means, spreads = self._parts(width_cm)
        ends = means + spreads * norm.ppf(chance)
        low, high = ends.min(axis=1), ends.max(axis=1)
        for _ in range(60):
            middle = (low + high) / 2
            beyond = self.chance_over(width_cm, middle) > 1 - chance
            low, high = np.where(beyond, middle, low), np.where(beyond, high, middle)
        return (low + high) / 2

    def margin_cm(self, width_cm, short_once_in: float = 20) -> np.ndarray:
        """What to add to the likely length so that a supply falls short only once in so many."""
        self.margin(short_once_in)  # refuses what is not possible
        width = np.asarray(width_cm, dtype=float)
        return np.maximum(self.length_at(width, 1 - 1 / short_once_in) - self.value * width, 0)


class Calibration:
    """The multipliers of a knitter's yarns in a fabric, given the evidence."""

    def __init__(self, evidence: Sequence[Evidence], yarns: Sequence[str]):
        self.evidence = tuple(evidence)
        fabrics = ("stockinette", "garter")
        names = sorted({*yarns, *(e.yarn for e in evidence)})
        self.kinds = [(yarn, fabric) for yarn in names for fabric in fabrics]
        index = {kind: i for i, kind in enumerate(self.kinds)}
        self._kind = np.array([index[e.yarn, e.fabric] for e in self.evidence], dtype=int)
        x, y, error = (
            np.array([getattr(e, name) for e in self.evidence])
            for name in ("width_cm", "used_cm", "error_cm")
        )
        self.weights, self.means, self.covariances = posterior(
            x, y, self._kind, error**2, prior_covariance(self.kinds)
        )

    @cached_property
    def noise(self) -> float:
        """Likely noise of a metre of yarn, as a share of it."""
        return float(np.exp(self.weights @ np.log(NOISE_GRID)))

    def multiplier(self, yarn: str, fabric: str) -> Calibrated:
        """The multiplier of a yarn in a fabric, with its spread and where it comes from in words."""
        i = self.kinds.index((yarn, fabric))
        means, variances = self.means[:, i], self.covariances[:, i, i]
        value = float(self.weights @ means)
        spread = float(np.sqrt(self.weights @ (variances + (means - value) ** 2)))
        own = [e for e in self.evidence if (e.yarn, e.fabric) == (yarn, fabric)]
        others = len(self.evidence) - len(own)
        stitches = sum(e.stitches for e in own)
        said = []
        if own:
            said.append(
                f"{len(own)} measurement{'s' * (len(own) > 1)} of {yarn} in {fabric} ({stitches:,.0f} stitches)"
            )
        if others:
            said.append(f"{others} of your other knitting")
        basis = "from " + " and ".join(said) if said else "an estimate before any swatch"
        return Calibrated(value, spread, basis, self.weights, means, np.sqrt(variances), stitches)

    def spreads_after(
        self, yarn: str, fabric: str, width_cm: float, error_cm: float
    ) -> dict[tuple[str, str], float]:
        """The spread each multiplier would have after one more measurement of this yarn, whatever it reads."""
        i = self.kinds.index((yarn, fabric))
        out = self.weights @ (self.means - self.weights @ self.means) ** 2
        for weight, cov, noise in zip(self.weights, self.covariances, NOISE_GRID, strict=True):
            variance = noise_variance(width_cm, noise) + error_cm**2
            gain = cov[:, i] * width_cm
            out += weight * (np.diag(cov) - gain**2 / (variance + width_cm**2 * cov[i, i]))
        return dict(zip(self.kinds, np.sqrt(out).tolist(), strict=True))

"""Calibration: what measurements say about a knitter's multipliers, and how surely.

Every measurement says: yarn used = multiplier × width of the stitches + noise. Each yarn has a
multiplier of its own in each fabric; a pair of yarn and fabric is called a kind. Before anything is
measured a multiplier is 3.7 ± 0.45, and the multipliers of different kinds go together, because one
hand knits them all: its own level, and on top what the yarn adds, what the fabric adds, and what
the two add together. So a yarn learns most from its own measurements, and less from the others.

Some measurements are out together: swatches weighed by one band, whose metres in a gram are wrong
for all of them. However many there are, they do not tell that error from the multiplier. So it is
one more unknown, and together with the multipliers it is learnt from all the measurements.

Were the size of the noise known, all would be normal and could be written down: the unknowns
after the measurements have a mean and a covariance, found in one step (least squares, with what was
believed before as one more measurement). But it is not known: some hands are steadier than others.
So a grid of sizes is tried. Each size gives its own mean and covariance of the unknowns, and each
gets a weight: how likely it was beforehand × how likely it makes what was measured. The answer
is the mixture of them all. A hand whose measurements agree gives weight to little noise and so a
small spread; one whose measurements disagree, the reverse; one measurement alone leaves the noise
open.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from planner.multiplier.multiplier import (
    BEFORE_ANY_SWATCH,
    PRIOR_MEAN,
    PRIOR_SPREAD,
    Array,
    Lengths,
    Multiplier,
    as_widths,
)
from planner.multiplier.normal import ndtr, ndtri
from planner.units import MEASURED, NOT_MEASURED, counted

Kind = tuple[str, str]  # a yarn's letter, and a fabric
# A yarn's letter, where its metres in a gram are from, and how many they are.
Band = tuple[str, str, float]

FABRICS = ("stockinette", "garter")
# The parts of the prior's variance, PRIOR_SPREAD², that come from the hand, the yarn, the fabric,
# and yarn and fabric together (judgement). They add up to 1.
SHARES = np.array([0.45, 0.28, 0.16, 0.11])
# Noise (judgement): a metre of yarn varies by about 4 %, within a factor of 2 for two knitters in
# three. It is independent stitch by stitch, so that it grows as the root of the length.
NOISE_AT_1M, NOISE_FACTOR = 0.04, 2.0
# On top, each piece as a whole varies by 2 % of its length: mood, row, tension.
DRIFT = 0.02
# The sizes of noise that are tried, as shares of a metre: from a tenth of the usual to ten times.
NOISE_GRID = np.geomspace(0.004, 0.4, 47)
# A last step this small, as a share of the length, leaves an error of about its square. Half a
# dozen steps come to that; halving alone would take as many as this.
CLOSE, MOST_STEPS = 1e-9, 60
# A slope so flat leads nowhere; it only must not be 0.
LEAST_SLOPE = 1e-300
SQRT_2_PI = math.sqrt(2 * math.pi)
# A stitch that is not there has no spread; so small a one leaves its chances at 0 or 1.
NO_SPREAD_CM = 1e-9


@dataclass(frozen=True)
class Evidence:
    """One measurement, boiled down: yarn used by stitches of a width."""

    yarn: str
    fabric: str
    width_cm: float
    used_cm: float
    # The instrument's standard error. The noise of the knitting comes on top.
    error_cm: float
    # How many were measured, to tell the knitter; the width alone counts.
    stitches: float = 0.0
    # The part of the standard error that all measurements by one band have in common, and the band.
    shared_cm: float = 0.0
    band: Band | None = None

    @property
    def kind(self) -> Kind:
        return self.yarn, self.fabric

    @property
    def own_error_cm(self) -> float:
        """The part of the standard error that no other measurement has."""
        return math.sqrt(max(self.error_cm**2 - self.shared_cm**2, 0))


def noise_log_prior(noise: Array) -> Array:
    """The logarithm, up to a constant, of how likely these sizes of noise are before any
    measurement: log-normal about NOISE_AT_1M, on the grid's logarithmic scale."""
    factors_away = np.log(noise / NOISE_AT_1M) / np.log(NOISE_FACTOR)
    log_chances: Array = -0.5 * factors_away**2
    return log_chances


def noise_variance(
    width_cm: Lengths,
    noise: float | Array,
    drift: float = DRIFT,
    mean: float = PRIOR_MEAN,
) -> Array:
    """Variance, cm², of the yarn used by stitches of these widths at these sizes of noise.

    It grows with the length (noise), and with the square of the length (drift).
    """
    length = mean * np.asarray(width_cm, dtype=float)
    # At 100 cm it is (noise × 100)², so for each cm a hundredth of that.
    of_noise = noise**2 * length * 100
    of_drift = (drift * length) ** 2
    variance: Array = of_noise + of_drift
    return variance


def prior_covariance(kinds: Sequence[Kind]) -> Array:
    """Covariance of the multipliers of these kinds before any measurement: kinds × kinds."""
    yarns = np.array([yarn for yarn, _ in kinds], dtype=object)
    fabrics = np.array([fabric for _, fabric in kinds], dtype=object)
    same_yarn = yarns[:, None] == yarns
    same_fabric = fabrics[:, None] == fabrics
    hand, yarn, fabric, both = SHARES
    # Two kinds share what is the same in both: the hand always.
    shared = hand + yarn * same_yarn + fabric * same_fabric + both * (same_yarn & same_fabric)
    covariance: Array = PRIOR_SPREAD**2 * shared
    return covariance


@dataclass(frozen=True, eq=False)
class Prior:
    """What is believed of the multipliers before any measurement."""

    means: Array  # kinds
    covariance: Array  # kinds × kinds
    # The sizes of noise to try, and the logarithm of how likely each is, up to a constant.
    noises: Array = field(default_factory=lambda: NOISE_GRID)
    noise_log_chances: Array = field(default_factory=lambda: noise_log_prior(NOISE_GRID))
    drift: float = DRIFT


@dataclass(frozen=True, eq=False)
class Measured:
    """Measurements side by side: one place in each array is one measurement."""

    width_cm: Array
    used_cm: Array
    # What each errs by itself, and in common with others of its band.
    error_cm: Array
    shared_cm: Array
    # The places of its kind and its band, and how many of these there are.
    kind: Array
    band: Array
    shape: tuple[int, int]

    def sums(self, *values: Array) -> Array:
        """Sums over the measurements of each kind and band: values × kinds × bands."""
        places = np.ravel_multi_index((self.kind, self.band), self.shape)
        size = math.prod(self.shape)
        sums = [np.bincount(places, each, size) for each in values]
        return np.array(sums).reshape(-1, *self.shape)

    @cached_property
    def shared_per_cm(self) -> Array:
        """How far out a cm of stitches is if its band is out by one standard error, cm: kinds ×
        bands.

        That is a share of the yarn that was weighed. If it were taken as a share of what each
        swatch reads, then one that happens to read low would seem the surer, and all together would
        come out too low, the more the more there are (from memory: Nuclear Instruments and Methods
        A 346, 1994, p. 306). So all of one band and fabric have the same for a cm of stitches.
        """
        shared_cm, width_cm = self.sums(self.shared_cm, self.width_cm)
        shares: Array = shared_cm / np.maximum(width_cm, NO_SPREAD_CM)
        return shares


@dataclass(frozen=True, eq=False)
class Posterior:
    """The multipliers after measurements: a mixture, one normal for each size of noise.

    The last three are for the error of each band: given the multipliers it is normal, with this
    precision, about (pull − goes with · what the multipliers are above their prior) ÷ precision.
    """

    weights: Array  # sizes of noise; they add up to 1
    means: Array  # sizes of noise × kinds
    covariances: Array  # sizes of noise × kinds × kinds
    band_precision: Array  # sizes of noise × bands
    band_pull: Array  # sizes of noise × bands
    goes_with: Array  # sizes of noise × kinds × bands


def posterior(measured: Measured, prior: Prior) -> Posterior:
    """What is believed of the multipliers after these measurements.

    At one size of noise all is normal, so in closed form; all sizes are reckoned side by side.
    """
    width = measured.width_cm
    of_knitting = noise_variance(width, prior.noises[:, None], prior.drift)
    variance = of_knitting + measured.error_cm**2
    # What was used beyond what one expected before.
    surprise = measured.used_cm - width * prior.means[measured.kind]

    # Precisions add up: what was known before, and width² ÷ variance from each measurement. So only
    # sums over each kind and band are needed, however long the log.
    known = measured.sums(*(width**2 / variance))
    pulls = measured.sums(*(width * surprise / variance))

    # The error of a band is one more unknown, 0 ± 1. It goes with the multipliers of what was
    # weighed by it, but with no other band, so each is taken out by itself (Schur's complement).
    shares = measured.shared_per_cm
    goes_with = known * shares
    band_precision = 1 + (goes_with * shares).sum(axis=1)
    band_pull = (pulls * shares).sum(axis=1)
    taken = goes_with / band_precision[:, None]
    of_kinds = np.eye(len(shares)) * known.sum(axis=2)[:, None]
    precision = np.linalg.inv(prior.covariance) + of_kinds - taken @ goes_with.transpose(0, 2, 1)
    pull = pulls.sum(axis=2) - np.einsum("skb,sb->sk", taken, band_pull)
    covariance = np.linalg.inv(precision)
    shift = np.einsum("skj,sj->sk", covariance, pull)

    # Of the measurements' joint normal: its exponent and its determinant (Woodbury's identity, the
    # matrix determinant lemma).
    misfit = (surprise**2 / variance).sum(axis=1) - (pull * shift).sum(axis=1)
    misfit -= (band_pull**2 / band_precision).sum(axis=1)
    log_det = np.log(variance).sum(axis=1) + np.log(band_precision).sum(axis=1)
    log_det += np.linalg.slogdet(prior.covariance)[1] + np.linalg.slogdet(precision)[1]
    log_weights = prior.noise_log_chances - 0.5 * (misfit + log_det)
    # Only their ratios count. The largest is made 1, so that none overflows.
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    return Posterior(weights, prior.means + shift, covariance, band_precision, band_pull, goes_with)


@dataclass(frozen=True, eq=False, kw_only=True)
class Calibrated(Multiplier):
    """A multiplier learnt from measurements: a mixture of normals, one for each size of noise."""

    # One place in each for each size of noise on NOISE_GRID.
    weights: Array
    means: Array
    spreads: Array
    # Measured of this very yarn and fabric.
    stitches: float

    @property
    def kind(self) -> str:
        return MEASURED if self.stitches else NOT_MEASURED

    def _used(self, width_cm: Lengths) -> tuple[Array, Array]:
        """Mean and spread, cm, of the yarn used: widths × sizes of noise."""
        widths = as_widths(width_cm)[:, None]
        of_multiplier = (widths * self.spreads) ** 2
        of_knitting = noise_variance(widths, NOISE_GRID)
        return widths * self.means, np.sqrt(of_multiplier + of_knitting)

    def chance_over(self, width_cm: Lengths, length_cm: Lengths, error_cm: float = 0.0) -> Array:
        """The chance that stitches of these widths use more than these lengths."""
        means, spreads = self._used(width_cm)
        spreads = np.maximum(np.hypot(spreads, error_cm), NO_SPREAD_CM)
        lengths = np.atleast_1d(length_cm)[:, None]
        # One row a width; in it, the chance at each size of noise.
        at_each_noise: Array = ndtr((means - lengths) / spreads)
        chances: Array = (at_each_noise * self.weights).sum(axis=1)
        return chances

    def length_at(self, width_cm: Lengths, chance: float) -> Array:
        """The lengths, cm, that stitches of these widths stay below with this chance: the end of a
        prediction interval."""
        means, spreads = self._used(width_cm)
        spreads = np.maximum(spreads, NO_SPREAD_CM)
        # There is no formula for a mixture, but its end lies among those of its normals.
        ends = means + spreads * ndtri(chance)
        low = ends.min(axis=1)
        high = ends.max(axis=1)
        lengths: Array = ends @ self.weights
        for _ in range(MOST_STEPS):
            away = (means - lengths[:, None]) / spreads
            over = (ndtr(away) * self.weights).sum(axis=1) - (1 - chance)
            is_short = over > 0
            low = np.where(is_short, lengths, low)
            high = np.where(is_short, high, lengths)
            # Newton's step, by the density there; half-way where it would lead out of the bounds.
            density = np.exp(-(away**2) / 2) / (SQRT_2_PI * spreads)
            slope = (density * self.weights).sum(axis=1)
            nearer = lengths + over / np.maximum(slope, LEAST_SLOPE)
            is_inside = (nearer >= low) & (nearer <= high)
            nearer = np.where(is_inside, nearer, (low + high) / 2)
            is_there = np.abs(nearer - lengths) <= CLOSE * nearer
            lengths = nearer
            if is_there.all():
                break
        return lengths

    def margin_cm(self, width_cm: Lengths, short_once_in: float = 20) -> Array:
        """What to add, cm, to the likely lengths so that each falls short only once in so many."""
        self.margin(short_once_in)  # refuses what is not possible
        widths = np.asarray(width_cm, dtype=float)
        enough = self.length_at(widths, 1 - 1 / short_once_in)
        likely = self.value * widths
        return np.maximum(enough - likely, 0)


class Calibration:
    """The multipliers of a knitter's yarns in both fabrics, given the evidence.

    `kinds` are the pairs of yarn and fabric, those of the evidence among them, `bands` what
    swatches were weighed by; `weights`, `means` and `covariances` are those of a Posterior, whose
    multipliers come in the order of `kinds`.
    """

    def __init__(self, evidence: Sequence[Evidence], yarns: Sequence[str]):
        self.evidence = tuple(evidence)
        # In the order of their names: the same evidence in another order gives the same answer.
        letters = sorted({*yarns, *(each.yarn for each in self.evidence)})
        self.kinds = [(yarn, fabric) for yarn in letters for fabric in FABRICS]
        self.bands = sorted({each.band for each in self.evidence if each.band})
        # What is by no band comes last: the errors of these have nothing in common.
        kind_at = {kind: place for place, kind in enumerate(self.kinds)}
        band_at = {band: place for place, band in enumerate((*self.bands, None))}
        self._by_kind: dict[Kind, list[Evidence]] = defaultdict(list)
        for each in self.evidence:
            self._by_kind[each.kind].append(each)
        lengths = [
            (each.width_cm, each.used_cm, each.own_error_cm, each.shared_cm)
            for each in self.evidence
        ]
        kind = np.array([kind_at[each.kind] for each in self.evidence], dtype=int)
        band = np.array([band_at[each.band] for each in self.evidence], dtype=int)
        columns: list[Any] = [*np.array(lengths).reshape(-1, 4).T, kind, band]
        columns.append((len(kind_at), len(band_at)))
        self.measured = Measured(*columns)
        before = np.full(len(self.kinds), PRIOR_MEAN)
        self.learnt = posterior(self.measured, Prior(before, prior_covariance(self.kinds)))
        self.weights = self.learnt.weights
        self.means = self.learnt.means
        self.covariances = self.learnt.covariances

    @cached_property
    def noise(self) -> float:
        """Likely noise of a metre of yarn, as a share of it."""
        # The grid is logarithmic, and so is the mean.
        log_noise = self.weights @ np.log(NOISE_GRID)
        return float(np.exp(log_noise))

    def multiplier(self, yarn: str, fabric: str) -> Calibrated:
        """The multiplier of a yarn in a fabric, its spread, and where it comes from in words."""
        i = self.kinds.index((yarn, fabric))
        means = self.means[:, i]
        variances = self.covariances[:, i, i]
        value, variance = self._mixed(means, variances)
        own = self._by_kind.get((yarn, fabric), [])
        return Calibrated(
            value,
            math.sqrt(variance),
            self._basis(own, yarn, fabric),
            weights=self.weights,
            means=means,
            spreads=np.sqrt(variances),
            stitches=sum(each.stitches for each in own),
        )

    def _mixed(self, means: Array, variances: Array) -> tuple[float, float]:
        """Mean and variance of the mixture of normals with these, one for each size of noise."""
        mean = float(self.weights @ means)
        # A mixture varies within its normals and between their means.
        variance = self.weights @ (variances + (means - mean) ** 2)
        return mean, float(variance)

    def expected(self, new: Evidence) -> tuple[float, float]:
        """What one more measurement is likely to read, and its standard error, cm.

        Whatever `used_cm` it holds. The band's error is foretold from what was weighed by it.
        """
        kind = self.kinds.index(new.kind)
        # How much more it reads, cm, if each multiplier is one larger: sizes of noise × kinds.
        slopes = np.zeros_like(self.means)
        slopes[:, kind] = new.width_cm
        likely = np.full(len(self.weights), PRIOR_MEAN * new.width_cm)
        variances = np.zeros(len(self.weights))
        if new.band in self.bands:
            band = self.bands.index(new.band)
            # In a fabric that was not weighed yet, there is only what this one reads.
            shared_cm = self.measured.shared_per_cm[kind, band] * new.width_cm or new.shared_cm
            weight = shared_cm / self.learnt.band_precision[:, band]
            slopes -= weight[:, None] * self.learnt.goes_with[:, :, band]
            likely += weight * self.learnt.band_pull[:, band]
            variances += weight * shared_cm
        likely += (slopes * (self.means - PRIOR_MEAN)).sum(axis=1)
        variances += np.einsum("sk,skj,sj->s", slopes, self.covariances, slopes)
        expected_cm, of_unknowns = self._mixed(likely, variances)
        of_knitting = noise_variance(new.width_cm, self.noise)
        # Of a band that is new, nothing is foretold: its whole error is still to come.
        error = new.own_error_cm if new.band in self.bands else new.error_cm
        return expected_cm, math.sqrt(of_unknowns + of_knitting + error**2)

    def _basis(self, own: Sequence[Evidence], yarn: str, fabric: str) -> str:
        """Where a multiplier comes from, in words; `own` is the evidence of its very kind."""
        sources = []
        if own:
            stitches = sum(each.stitches for each in own)
            measurements = counted(len(own), "measurement")
            sources.append(f"{measurements} of {yarn} in {fabric} ({stitches:,.0f} stitches)")
        of_the_rest = len(self.evidence) - len(own)
        if of_the_rest:
            sources.append(f"{of_the_rest} of your other knitting")
        if not sources:
            return BEFORE_ANY_SWATCH
        return "from " + " and ".join(sources)

    def spreads_after(
        self, yarn: str, fabric: str, width_cm: float, error_cm: float
    ) -> dict[Kind, float]:
        """The spread each multiplier would have after one more measurement of this yarn.

        Whatever it reads: at a given size of noise, only its width and its error count. The error
        is its own: the measurement is not by a band.
        """
        i = self.kinds.index((yarn, fabric))
        values = self.weights @ self.means
        # Between the means of the mixture …
        variances = self.weights @ (self.means - values) ** 2
        # … and within them, narrowed by the measurement. That it also tells something about the
        # size of the noise is left out.
        # How each multiplier goes with what will be read, and how that varies by itself.
        together = self.covariances[:, i] * width_cm
        of_multiplier = width_cm**2 * self.covariances[:, i, i]
        reading = noise_variance(width_cm, NOISE_GRID) + error_cm**2 + of_multiplier
        within = np.diagonal(self.covariances, axis1=1, axis2=2)
        variances += self.weights @ (within - together**2 / reading[:, None])
        return dict(zip(self.kinds, np.sqrt(variances).tolist(), strict=True))

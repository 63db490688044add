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
So a grid of sizes is tried. Each size gives its own mean and covariance of the unknowns, and
each gets a weight: how likely it was beforehand × how likely it makes what was measured. The answer
is the mixture of them all. A hand whose measurements agree gives weight to little noise and so a
small spread; one whose measurements disagree, the reverse; one measurement alone leaves the noise
open.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.linalg import block_diag
from scipy.special import ndtr
from scipy.stats import norm

from planner.multiplier.multiplier import (
    BEFORE_ANY_SWATCH,
    PRIOR_MEAN,
    PRIOR_SPREAD,
    Array,
    Lengths,
    Multiplier,
    as_widths,
)
from planner.units import counted

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
# Halving this often leaves less of any length than a float can hold.
HALVINGS = 60
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
    """What is believed of the unknowns before any measurement."""

    means: Array  # unknowns
    covariance: Array  # unknowns × unknowns
    # The sizes of noise to try, and the logarithm of how likely each is, up to a constant.
    noises: Array = field(default_factory=lambda: NOISE_GRID)
    noise_log_chances: Array = field(default_factory=lambda: noise_log_prior(NOISE_GRID))
    drift: float = DRIFT

    @cached_property
    def precision(self) -> Array:
        """The inverse of the covariance."""
        return np.linalg.inv(self.covariance)

    @cached_property
    def log_det(self) -> float:
        """The logarithm of the covariance's determinant."""
        return float(np.linalg.slogdet(self.covariance)[1])


@dataclass(frozen=True, eq=False)
class Measured:
    """Measurements side by side: one place in each array is one measurement."""

    width_cm: Array
    used_cm: Array
    # Of each by itself; what several have in common is among the unknowns.
    error_cm: Array
    # Measurements × unknowns: how much more each reads, cm, if an unknown is one larger.
    design: Array


@dataclass(frozen=True, eq=False)
class AtOneNoise:
    """The unknowns after measurements, if the noise has one size."""

    # Of all the measurements together, up to a constant that is the same for all sizes.
    log_likelihood: float
    means: Array  # unknowns
    covariance: Array  # unknowns × unknowns


@dataclass(frozen=True, eq=False)
class Posterior:
    """The unknowns after measurements: a mixture, one normal for each size of noise."""

    weights: Array  # sizes of noise; they add up to 1
    means: Array  # sizes of noise × unknowns
    covariances: Array  # sizes of noise × unknowns × unknowns


def posterior(measured: Measured, prior: Prior) -> Posterior:
    """What is believed of the unknowns after these measurements."""
    each = [_at_noise(measured, prior, noise) for noise in prior.noises]
    log_likelihoods = np.array([at_noise.log_likelihood for at_noise in each])
    log_weights = log_likelihoods + prior.noise_log_chances
    # Only their ratios count. The largest is made 1, so that none overflows.
    weights = np.exp(log_weights - log_weights.max())
    return Posterior(
        weights=weights / weights.sum(),
        means=np.array([at_noise.means for at_noise in each]),
        covariances=np.array([at_noise.covariance for at_noise in each]),
    )


def _at_noise(measured: Measured, prior: Prior, noise: float) -> AtOneNoise:
    """The unknowns at one size of noise: normal throughout, so in closed form."""
    design = measured.design
    of_knitting = noise_variance(measured.width_cm, noise, prior.drift)
    variance = of_knitting + measured.error_cm**2
    # What was used beyond what one expected before.
    surprise = measured.used_cm - design @ prior.means

    # Precisions add up: what was known before, and design² ÷ variance from each measurement.
    weighted = design / variance[:, None]
    precision = prior.precision + design.T @ weighted
    covariance = np.linalg.inv(precision)
    pull = surprise @ weighted
    shift = covariance @ pull
    # Of the measurements' joint normal. Its exponent and its determinant are both got from matrices
    # of unknowns × unknowns (Woodbury's identity, the matrix determinant lemma), however long the
    # log.
    misfit = (surprise**2 / variance).sum() - pull @ shift
    log_det = np.log(variance).sum() + prior.log_det + np.linalg.slogdet(precision)[1]
    return AtOneNoise(-0.5 * (misfit + log_det), prior.means + shift, covariance)


@dataclass(frozen=True, eq=False, kw_only=True)
class Calibrated(Multiplier):
    """A multiplier learnt from measurements: a mixture of normals, one for each size of noise."""

    # One place in each for each size of noise on NOISE_GRID.
    weights: Array
    means: Array
    spreads: Array
    # Measured of this very yarn and fabric.
    stitches: float

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
        # There is no formula for a mixture, but its end lies among those of its normals.
        ends = means + spreads * norm.ppf(chance)
        low = ends.min(axis=1)
        high = ends.max(axis=1)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            too_short = self.chance_over(width_cm, middle) > 1 - chance
            low = np.where(too_short, middle, low)
            high = np.where(too_short, high, middle)
        lengths: Array = (low + high) / 2
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
    swatches were weighed by; `weights`, `means` and `covariances` are those of a Posterior. Its
    unknowns are the multipliers in the order of `kinds`, then the errors in the order of `bands`.
    """

    def __init__(self, evidence: Sequence[Evidence], yarns: Sequence[str]):
        self.evidence = tuple(evidence)
        # In the order of their names: the same evidence in another order gives the same answer.
        letters = sorted({*yarns, *(each.yarn for each in self.evidence)})
        self.kinds = [(yarn, fabric) for yarn in letters for fabric in FABRICS]
        self.bands = sorted({each.band for each in self.evidence if each.band})
        kinds, bands = len(self.kinds), len(self.bands)
        design = np.array([self._design(each) for each in self.evidence])
        measured = Measured(
            width_cm=np.array([each.width_cm for each in self.evidence]),
            used_cm=np.array([each.used_cm for each in self.evidence]),
            error_cm=np.array([each.own_error_cm for each in self.evidence]),
            design=design.reshape(-1, kinds + bands),  # two dimensions without evidence, too
        )
        # An error of a band is counted in standard errors, so beforehand it is 0 ± 1.
        prior = Prior(
            means=np.repeat([PRIOR_MEAN, 0.0], [kinds, bands]),
            covariance=block_diag(prior_covariance(self.kinds), np.eye(bands)),
        )
        learnt = posterior(measured, prior)
        self.weights = learnt.weights
        self.means = learnt.means
        self.covariances = learnt.covariances

    def _design(self, measurement: Evidence) -> Array:
        """How much more a measurement reads, cm, if each of the unknowns is one larger."""
        of_kinds = np.zeros(len(self.kinds))
        of_kinds[self.kinds.index(measurement.kind)] = measurement.width_cm
        of_bands = np.zeros(len(self.bands))
        if measurement.band in self.bands:
            of_bands[self.bands.index(measurement.band)] = self._shared_cm(measurement)
        return np.concatenate([of_kinds, of_bands])

    def _shared_cm(self, measurement: Evidence) -> float:
        """How far a measurement is out if the error of its band is one standard error, cm.

        That is a share of the yarn that was weighed. If it were taken as a share of what each
        swatch reads, then one that happens to read low would seem the surer, and all together would
        come out too low, the more the more there are (from memory: Nuclear Instruments and Methods
        A 346, 1994, p. 306). So all of one band and fabric have the same for a cm of stitches.
        """
        band, fabric = measurement.band, measurement.fabric
        known = [each for each in self.evidence if each.band == band and each.fabric == fabric]
        # In a fabric that was not weighed yet, there is only what this one reads.
        together = known or [measurement]
        shared_cm = sum(each.shared_cm for each in together)
        width_cm = sum(each.width_cm for each in together)
        return shared_cm / width_cm * measurement.width_cm

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
        own = [each for each in self.evidence if each.kind == (yarn, fabric)]
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
        design = self._design(new)
        variances = self.covariances @ design @ design
        likely, of_unknowns = self._mixed(self.means @ design, variances)
        of_knitting = noise_variance(new.width_cm, self.noise)
        # Of a band that is new, nothing is foretold: its whole error is still to come.
        error = new.own_error_cm if new.band in self.bands else new.error_cm
        return likely, math.sqrt(of_unknowns + of_knitting + error**2)

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
        mixture = zip(self.weights, self.covariances, NOISE_GRID, strict=True)
        for weight, covariance, noise in mixture:
            # How each unknown goes with what will be read, and how that varies by itself.
            together = covariance[:, i] * width_cm
            of_multiplier = width_cm**2 * covariance[i, i]
            reading = noise_variance(width_cm, noise) + error_cm**2 + of_multiplier
            variances += weight * (np.diag(covariance) - together**2 / reading)
        spreads = np.sqrt(variances)
        of_kinds = spreads[: len(self.kinds)]
        return dict(zip(self.kinds, of_kinds.tolist(), strict=True))

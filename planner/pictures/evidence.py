"""Pictures of what was measured: used against planned, and the multiplier as it was learnt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FormatStrFormatter, LogLocator, NullLocator
from scipy.special import ndtri  # the normal distribution, quickly loaded

from planner.multiplier import (
    PRIOR_MEAN,
    PRIOR_SPREAD,
    RULE_OF_THREE,
    Calibration,
    Evidence,
    evidence_in,
)
from planner.pictures.canvas import GREY, INK, WIDTH_IN, in_style, leave_room
from planner.pictures.words import Lettering, Words
from planner.piece import Measurement, in_force
from planner.units import between

# One after the other for the yarns, which a grey printer does not tell apart by colour.
MARKERS = "os^Dv<>ph*"
INTERVAL_BLUE, RANGE_BLUE = "#9db7cc", "#c9d8e4"
# Nine times in ten: as many lie below the range as above.
SPREADS_EACH_WAY = float(ndtri(0.95))
NAMES = Lettering(8, aside=1, away=6)
MOST_DATES = 5  # along an axis
MOST_STEPS = 80  # of a multiplier; more are hardly wider than the line is thick
MOST_FIELDS_ABREAST = 3
MOST_ERRORS = 100  # of measurements in a field


def _only_words(words: str) -> Figure:
    """A figure that says why there is nothing to draw yet."""
    figure = Figure(figsize=(WIDTH_IN, 1.2))
    figure.text(0.02, 0.5, words, va="center", size=10)
    return figure


# Used against planned


@dataclass(frozen=True)
class Used:
    """Lengths of supplies, one in each series, all in one unit; `over` in % of what was planned."""

    unit: str
    yarn: pd.Series
    planned: pd.Series
    used: pd.Series
    low: pd.Series
    high: pd.Series

    @property
    def over(self) -> pd.Series:
        return self.percent_over(self.used)

    def percent_over(self, lengths: pd.Series) -> pd.Series:
        """How much more (or less, below 0) these lengths are than what was planned."""
        return 100 * (lengths / self.planned - 1)

    @property
    def span(self) -> tuple[float, float]:
        """The least and the greatest length to show, with some room."""
        # The marks at the edges must not lie on the frame.
        least = min(self.used.min(), self.low.min())
        most = max(self.used.max(), self.high.max())
        return 0.8 * least, 1.25 * most

    @classmethod
    def of_table(cls, table: pd.DataFrame) -> Used:
        """The lengths of a table that shows them in metres or in yards."""
        unit = "m" if "used_m" in table else "yd"
        names = ("planned", "used", "at_least", "at_most")
        lengths = (table[f"{name}_{unit}"] for name in names)
        return cls(unit, table.yarn, *lengths)


@in_style
def draw_used_against_planned(table: pd.DataFrame) -> Figure:
    """Used against planned for each supply, with the interval planned and a mark for each yarn.

    On the right the same as more or less in percent, where supplies outside their interval are
    named. `table` is as `planned_against_used` makes it.
    """
    if not len(table):
        return _only_words("Nothing to compare yet: log a supply after you have used it.")
    lengths = Used.of_table(table)
    figure = Figure(figsize=(WIDTH_IN, 4.2))
    against, over = figure.subplots(1, 2, gridspec_kw={"wspace": 0.18})
    leave_room(figure, 0.65, 0.15, below=0.5, above=0.3)
    _draw_against(against, lengths)
    _draw_over(over, lengths)
    # The column may hold objects, for which ~ would not mean "not".
    outside = table.strand[~table.inside.astype(bool)]
    places = [(lengths.planned[supply], lengths.over[supply]) for supply in outside.index]
    Words(over, outside.tolist(), places, look=NAMES, ink="black")
    return figure


def _draw_against(ax: Axes, lengths: Used) -> None:
    """Length used against length planned; on the line they are equal."""
    ax.plot(
        lengths.span,
        lengths.span,
        color=GREY,
        linewidth=1,
        linestyle="--",
        label="used = planned",
    )
    ax.vlines(
        lengths.planned,
        lengths.low,
        lengths.high,
        color=INTERVAL_BLUE,
        linewidth=4,
        label="what the plan allowed",
    )
    _mark_yarns(ax, lengths, lengths.used)
    ax.set_yscale("log")
    ax.set_ylim(lengths.span)
    ax.set_ylabel(f"used ({lengths.unit})")
    _double(ax.yaxis)
    _scale_planned(ax, lengths)
    ax.set_title("Used against planned", y=1)
    ax.legend(loc="upper left", fontsize=7.5)


def _draw_over(ax: Axes, lengths: Used) -> None:
    """How much more or less than planned was used, against the length planned."""
    ax.axhline(0, color=GREY, linewidth=1, linestyle="--")
    ax.vlines(
        lengths.planned,
        lengths.percent_over(lengths.low),
        lengths.percent_over(lengths.high),
        color=INTERVAL_BLUE,
        linewidth=4,
    )
    _mark_yarns(ax, lengths, lengths.over)
    ax.set_ylabel("used more or less (%)")
    _scale_planned(ax, lengths)
    ax.set_title("More or less, by length (named: outside)", y=1)


def _mark_yarns(ax: Axes, lengths: Used, heights: pd.Series) -> None:
    """A mark for each supply, of one kind for each yarn."""
    by_yarn = lengths.planned.groupby(lengths.yarn, sort=True)
    for number, (yarn, planned) in enumerate(by_yarn):
        ax.plot(
            planned,
            heights[planned.index],
            linestyle="none",
            marker=MARKERS[number % len(MARKERS)],
            markersize=5,
            markeredgecolor="black",
            markerfacecolor="white",
            zorder=4,
            label=f"yarn {yarn}",
        )


def _scale_planned(ax: Axes, lengths: Used) -> None:
    # Supplies are from a few stitches to a whole ground, so lengths stand by their ratios.
    ax.set(xscale="log", xlim=lengths.span)
    ax.set_xlabel(f"planned ({lengths.unit}), each mark twice the last")
    _double(ax.xaxis)


def _double(axis: Axis) -> None:
    """Numbers at powers of two, which knitters read more easily than powers of ten."""
    axis.set_major_locator(LogLocator(base=2))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FormatStrFormatter("%g"))


# The multiplier, measurement by measurement


@dataclass(frozen=True)
class Reading:
    """What one measurement alone says; `number` is its place in the log, from 1."""

    number: int
    ratio: float
    error: float
    counts: bool


@dataclass(frozen=True)
class Learnt:
    """The multiplier of a yarn before any measurement and after some, and its own readings.

    `places` are how many measurements there were each time, from none to all of them.
    """

    yarn: str
    now: str
    places: np.ndarray
    value: np.ndarray
    spread: np.ndarray
    readings: tuple[Reading, ...]


@in_style
def draw_multipliers(log: Sequence[Measurement], fabric: str = "stockinette") -> Figure:
    """The multiplier of each yarn as the log grew, and the range that holds it nine times in ten.

    Measurements stand where each alone would put it, a cross where it does not count.
    """
    lines = [line for line in in_force(log) if line.fabric == fabric]
    if not lines:
        return _only_words(
            f"No measurement in {fabric} yet. Before any, the multiplier is taken to lie "
            f"{between(PRIOR_MEAN, PRIOR_SPREAD)}."
        )
    fields = learn(log, lines, fabric)
    abreast = min(MOST_FIELDS_ABREAST, len(fields))
    rows = -(-len(fields) // abreast)
    height = 0.5 + 2.3 * rows
    figure = Figure(figsize=(WIDTH_IN, height))
    # One scale for all, so that yarns can be compared.
    axes = figure.subplots(
        rows,
        abreast,
        sharex=True,
        sharey=True,
        squeeze=False,
        gridspec_kw={"wspace": 0.08, "hspace": 0.18},
    ).ravel()
    leave_room(figure, 0.35, 0.1, below=0.5, above=0.5)
    for ax, field in zip(axes, fields, strict=False):
        _draw_learnt(ax, field)
        _date(ax, lines)
    # The last line of fields may not be full.
    for ax in axes[len(fields) :]:
        ax.set_visible(False)
    figure.suptitle(
        f"The multiplier in {fabric}, measurement by measurement (dotted: the rule of three)",
        y=1 - 0.05 / height,
        size=10,
    )
    figure.supxlabel("date of each measurement", y=0.05 / height, size=8)
    return figure


def learn(
    log: Sequence[Measurement],
    lines: Sequence[Measurement],
    fabric: str,
) -> list[Learnt]:
    """What was learnt of each yarn of some lines of the log, all of one fabric."""
    yarns = sorted({line.yarn for line in lines})
    evidence = _evidence_in_time(log)
    numbers = [0, *(line.number for line in lines)]
    places = _places_to_show(len(lines))
    steps = []
    for place in places:
        # As the log stood then: what corrects a line had yet to come.
        then = [each for each, since, until in evidence if since <= numbers[place] < until]
        steps.append(Calibration(then, yarns))
    fields = []
    for yarn in yarns:
        multipliers = [step.multiplier(yarn, fabric) for step in steps]
        field = Learnt(
            yarn=yarn,
            now=str(multipliers[-1]),
            places=places,
            value=np.array([multiplier.value for multiplier in multipliers]),
            spread=np.array([multiplier.spread for multiplier in multipliers]),
            readings=_readings(lines, yarn),
        )
        fields.append(field)
    return fields


def _evidence_in_time(log: Sequence[Measurement]) -> list[tuple[Evidence, float, float]]:
    """The evidence of each line that is to be used, with the numbers since and until which it is in
    force."""
    by_number = sorted(log, key=lambda line: line.number)
    corrected: dict[int, float] = {}
    for line in by_number:
        if line.corrects is not None:
            corrected.setdefault(line.corrects, line.number)
    return [
        (evidence_in(line), line.number, corrected.get(line.number, math.inf))
        for line in by_number
        if line.use == "yes"
    ]


def _places_to_show(count: int) -> np.ndarray:
    """After how many of `count` measurements the multiplier is shown: none, all, some between."""
    if count <= MOST_STEPS:
        return np.arange(count + 1)
    # The first measurements tell most, so they stand closer.
    at_first = np.geomspace(1, count, MOST_STEPS // 2)
    evenly = np.linspace(0, count, MOST_STEPS // 2)
    return np.unique(np.concatenate([at_first, evenly]).round().astype(int))


def _readings(lines: Sequence[Measurement], yarn: str) -> tuple[Reading, ...]:
    readings = []
    for number, line in enumerate(lines, start=1):
        if line.yarn == yarn:
            evidence = evidence_in(line)
            ratio = evidence.used_cm / evidence.width_cm
            # How far the instruments may be out, as a multiplier.
            error = SPREADS_EACH_WAY * evidence.error_cm / evidence.width_cm
            counts = line.use != "no"
            readings.append(Reading(number, ratio, error, counts))
    return tuple(readings)


def _draw_learnt(ax: Axes, field: Learnt) -> None:
    """One yarn: its range, its multiplier, its readings, and the rule of three beside them."""
    # What is learnt holds until the next measurement, hence steps and not slopes.
    reach = SPREADS_EACH_WAY * field.spread
    ax.fill_between(
        field.places,
        field.value - reach,
        field.value + reach,
        color=RANGE_BLUE,
        step="post",
        linewidth=0,
    )
    ax.step(field.places, field.value, where="post", color=INK, linewidth=1.4)
    # Many marks lie behind what was learnt from them and go without their errors, or they would be
    # all there is to see.
    many = len(field.readings) > MOST_ERRORS
    looks = {"markersize": 1.5, "alpha": 0.4, "zorder": 1} if many else {"markersize": 4}
    for counts, mark, colour in ((True, "o", INK), (False, "x", GREY)):
        shown = [reading for reading in field.readings if reading.counts == counts]
        errors = [reading.error for reading in shown]
        ax.errorbar(
            [reading.number for reading in shown],
            [reading.ratio for reading in shown],
            yerr=None if many else errors,
            fmt=mark,
            color=colour,
            capsize=2,
            **looks,
        )
    ax.axhline(RULE_OF_THREE, color=GREY, linewidth=0.8, linestyle=":")
    ax.set_title(f"{field.yarn}: {field.now}", y=1, size=9)
    ax.set_xlim(0, field.places[-1] + 0.5)


def _date(ax: Axes, lines: Sequence[Measurement]) -> None:
    """Month and day of some of the measurements along the axis."""
    # The years would not fit.
    dates = ["none", *(line.date[5:] for line in lines)]
    step = max(1, len(dates) // MOST_DATES)
    places = range(0, len(dates), step)
    ax.set_xticks(places, dates[::step], size=7)

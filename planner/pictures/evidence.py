"""Pictures of what was measured: used against planned, what is left over by length, the multiplier as it was learned."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.ticker import FormatStrFormatter, LogLocator, NullLocator
from scipy.stats import norm

from planner.multiplier import (
    PRIOR_MEAN,
    PRIOR_SPREAD,
    RULE_OF_THREE,
    Calibration,
    evidence_in,
    evidence_of,
    ratio_of,
)
from planner.pictures.plan_pictures import INK, WIDTH_IN, in_style
from planner.piece import Measurement, in_force

MARKERS = "os^Dv<>ph*"


def _empty(words: str) -> Figure:
    figure = Figure(figsize=(WIDTH_IN, 1.2), layout="constrained")
    figure.text(0.02, 0.5, words, va="center", size=10)
    return figure


@in_style
def draw_used_against_planned(table: pd.DataFrame) -> Figure:
    """Used against planned for each supply, with the interval planned; a mark and a letter for each yarn."""
    if not len(table):
        return _empty("Nothing to compare yet: log a supply after you have used it.")
    unit = "m" if "used_m" in table else "yd"
    figure = Figure(figsize=(WIDTH_IN, 4.2), layout="constrained")
    ax, rest = figure.subplots(1, 2, width_ratios=(1, 1))
    planned, used = table[f"planned_{unit}"], table[f"used_{unit}"]
    low, high = table[f"at_least_{unit}"], table[f"at_most_{unit}"]
    ends = 0.8 * min(used.min(), low.min()), 1.25 * max(used.max(), high.max())
    ax.plot(ends, ends, color="#777777", linewidth=1, linestyle="--", label="used = planned")
    ax.vlines(
        planned, low, high, color="#9db7cc", linewidth=4, label="what the plan allowed (90 %)"
    )
    rest.axhline(0, color="#777777", linewidth=1, linestyle="--")
    rest.vlines(
        planned, 100 * (low / planned - 1), 100 * (high / planned - 1), color="#9db7cc", linewidth=4
    )
    over = 100 * (used / planned - 1)
    for k, (yarn, some) in enumerate(table.groupby("yarn", sort=True)):
        look = {
            "linestyle": "none",
            "marker": MARKERS[k % len(MARKERS)],
            "markersize": 5,
            "zorder": 4,
        }
        look |= {"markeredgecolor": "black", "markerfacecolor": "white"}
        ax.plot(some[f"planned_{unit}"], some[f"used_{unit}"], **look, label=f"yarn {yarn}")
        rest.plot(some[f"planned_{unit}"], over[some.index], **look)
    for i in table.index[~table.inside.astype(bool)]:
        rest.annotate(
            table.strand[i],
            (planned[i], over[i]),
            (6, 0),
            textcoords="offset points",
            va="center",
            size=8,
            zorder=5,
        )
    ax.set(
        xscale="log",
        yscale="log",
        xlim=ends,
        ylim=ends,
        ylabel=f"used ({unit})",
        title="Used against planned",
    )
    rest.set(
        xscale="log",
        xlim=ends,
        ylabel="used more or less (%)",
        title="More or less, by length (named: outside)",
    )
    for one in (ax, rest):
        one.set_xlabel(f"planned ({unit}), each mark twice the last")
        for axis in (one.xaxis, one.yaxis) if one is ax else (one.xaxis,):
            axis.set_major_locator(LogLocator(base=2))
            axis.set_minor_locator(NullLocator())
            axis.set_major_formatter(FormatStrFormatter("%g"))
    ax.legend(loc="upper left", fontsize=7.5)
    return figure


@in_style
def draw_multipliers(log: Sequence[Measurement], fabric: str = "stockinette") -> Figure:
    """The multiplier of each yarn as the log grew, with the range that holds it nine times in ten; measurements as marks."""
    lines = [m for m in in_force(log) if m.fabric == fabric]
    if not lines:
        return _empty(
            f"No measurement in {fabric} yet. Before any, the multiplier is taken as {PRIOR_MEAN} ± {PRIOR_SPREAD}."
        )
    yarns = sorted({m.yarn for m in lines})
    columns = min(3, len(yarns))
    rows = -(-len(yarns) // columns)
    figure = Figure(figsize=(WIDTH_IN, 0.5 + 2.3 * rows), layout="constrained")
    axes = np.atleast_1d(figure.subplots(rows, columns, sharex=True, sharey=True)).ravel()
    known = [m.number for m in lines]
    reach = norm.ppf(0.95)
    steps = [Calibration(evidence_of(m for m in log if m.number <= n), yarns) for n in (0, *known)]
    for ax, yarn in zip(axes, yarns, strict=False):
        learned = [step.multiplier(yarn, fabric) for step in steps]
        value, spread = (
            np.array([getattr(m, name) for m in learned]) for name in ("value", "spread")
        )
        at = np.arange(len(steps))
        ax.fill_between(
            at,
            value - reach * spread,
            value + reach * spread,
            color="#c9d8e4",
            step="post",
            linewidth=0,
        )
        ax.step(at, value, where="post", color=INK, linewidth=1.4)
        for k, m in enumerate(lines, start=1):
            if m.yarn == yarn:
                e = evidence_in(m)
                look = (
                    {"fmt": "x", "color": "#777777"}
                    if m.use == "no"
                    else {"fmt": "o", "color": INK}
                )
                ax.errorbar(
                    k,
                    ratio_of(m),
                    yerr=reach * e.error_cm / e.width_cm,
                    **look,
                    markersize=4,
                    capsize=2,
                )
        ax.axhline(RULE_OF_THREE, color="#777777", linewidth=0.8, linestyle=":")
        ax.set_title(f"{yarn}: {learned[-1]}", size=9)
        ax.set_xlim(0, len(steps) - 0.5)
    dates = ["none", *(m.date[5:] for m in lines)]
    step = max(1, len(dates) // 5)
    for ax in axes[: len(yarns)]:
        ax.set_xticks(range(0, len(dates), step), dates[::step], size=7)
    for ax in axes[len(yarns) :]:
        ax.set_visible(False)
    figure.suptitle(
        f"The multiplier in {fabric}, measurement by measurement (dotted: the rule of three)",
        size=10,
    )
    figure.supxlabel("date of each measurement", size=8)
    return figure

"""The quick sum: yarn for so many stitches at a gauge, without a chart, with its arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.errors import PlanError
from planner.multiplier import RULE_OF_THREE, Calibration, Multiplier
from planner.piece import Gauge
from planner.units import CM_PER, counted, rounded_up, show, show_measured, show_short


@dataclass(frozen=True)
class QuickSum:
    """The yarn for a motif, in cm, tails included."""

    stitches: int
    width_cm: float
    tails_cm: float
    likely_cm: float
    # The likely length and its margin.
    planned_cm: float
    # What the rule of three gives, to compare.
    rule_cm: float
    # The arithmetic, line by line.
    lines: tuple[str, ...]

    def __str__(self) -> str:
        return "\n".join(self.lines)


def quick_sum(
    stitches: int,
    gauge: Gauge,
    *,
    multiplier: Multiplier | None = None,
    tail_cm: float = 15,
    short_once_in: float = 20,
    units: str = "cm",
) -> QuickSum:
    """The length to wind for a motif of so many stitches, counted over all its rows.

    Width of its stitches × multiplier + margin + two tails.
    """
    if stitches != int(stitches) or stitches < 1:
        raise PlanError(
            f"The motif has {stitches} stitches; count its stitches over all rows, at least 1."
        )
    if not tail_cm >= 0:
        raise PlanError(f"A tail of {show_short(tail_cm, units)} is not possible; give 0 or more.")
    # Any yarn and fabric will do: before a swatch all have the same multiplier.
    multiplier = multiplier or Calibration([], ["any"]).multiplier("any", "stockinette")
    stitches = int(stitches)
    width = stitches * gauge.stitch_cm
    tails = 2 * tail_cm
    worked = width * multiplier.value
    likely = worked + tails
    margin = float(np.squeeze(multiplier.margin_cm(width, short_once_in)))
    planned = likely + margin
    rule = width * RULE_OF_THREE + tails

    def in_units(length_cm: float) -> str:
        # Stitches and tails are measured by the centimetre or inch, yarn by the metre or yard.
        return show_measured(length_cm, units)

    def to_measure_off(length_cm: float) -> str:
        return show(rounded_up(length_cm, units), units)

    one_stitch = _one_stitch(gauge, units)
    laid, two_tails = in_units(width), in_units(tails)
    lines = [
        f"Width laid in one row: {counted(stitches, 'stitch')} × {one_stitch} = {laid}",
        f"Yarn in the stitches: {laid} × {multiplier.value:.2f} ({multiplier.basis}) = "
        f"{in_units(worked)}",
        f"Two tails: 2 × {in_units(tail_cm)} = {two_tails}",
        f"Likely length: {in_units(likely)}",
    ]
    # A plain rule, or a multiplier taken as exact, has no margin to show.
    if margin:
        lines.append(
            f"Margin, to fall short only once in {short_once_in:g}: "
            f"{laid} × {margin / width:.2f} = {in_units(margin)}"
        )
    lines += [
        f"Wind: {in_units(planned)}, that is {to_measure_off(planned)} rounded up",
        f"Rule of three beside it: {laid} × 3 + {two_tails} = {in_units(rule)}, that is "
        f"{to_measure_off(rule)}",
    ]
    return QuickSum(stitches, width, tails, likely, planned, rule, tuple(lines))


def _one_stitch(gauge: Gauge, units: str) -> str:
    """The width of a stitch as it stands in a sum: "10 cm ÷ 22"."""
    # Several counts are reckoned as one, all widths laid side by side.
    counted = sum(count for count, _ in gauge.stitch_counts)
    over = sum(over for _, over in gauge.stitch_counts) * CM_PER[gauge.unit] / CM_PER[units]
    return f"{float(over):.4g} {units} ÷ {float(counted):g}"

"""The quick sum: yarn for so many stitches at a gauge, without a chart, with the arithmetic shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.errors import PlanError
from planner.multiplier.calibration import Calibration
from planner.multiplier.multiplier import RULE_OF_THREE, Multiplier
from planner.piece import Gauge
from planner.units import CM_PER, rounded_up, show


@dataclass(frozen=True)
class QuickSum:
    """The yarn for a motif: the planned length, its likely range and the rule of three, all in cm, tails included."""

    stitches: int
    width_cm: float
    tails_cm: float
    likely_cm: float
    planned_cm: float
    rule_cm: float
    lines: tuple[str, ...]

    def __str__(self):
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
    """The length to wind for a motif of so many stitches: width of its stitches × multiplier + margin + two tails."""
    if stitches != int(stitches) or stitches < 1:
        raise PlanError(
            f"The motif has {stitches} stitches; count its stitches over all rows, at least 1."
        )
    if not tail_cm >= 0:
        raise PlanError(
            f"A tail of {tail_cm:g} cm is not possible; give 0 or more. 15 cm (6 in) is usual."
        )
    multiplier = multiplier or Calibration([], ["any"]).multiplier("any", "stockinette")
    stitches = int(stitches)
    width, tails = stitches * gauge.stitch_cm, 2 * tail_cm
    likely = width * multiplier.value + tails
    margin = float(np.squeeze(multiplier.margin_cm(width, short_once_in)))
    planned, rule = likely + margin, width * RULE_OF_THREE + tails

    def short(cm):
        return f"{cm / float(CM_PER[units]):.1f} {units}"

    lines = [
        f"Width laid in one row: {stitches} stitches × {gauge.over:g} {gauge.unit} ÷ {gauge.stitches:g} = {short(width)}",
        f"Yarn in the stitches: {short(width)} × {multiplier.value:.2f} ({multiplier.basis}) = {short(width * multiplier.value)}",
        f"Two tails: 2 × {short(tail_cm)} = {short(tails)}",
        f"Likely length: {short(likely)}",
    ]
    if margin:
        factor = margin / width
        lines.append(
            f"Margin, to fall short only once in {short_once_in:g}: {short(width)} × {factor:.2f} = {short(margin)}"
        )
    lines.append(
        f"Wind: {short(planned)}, that is {show(rounded_up(planned, units), units)} rounded up"
    )
    by_rule = show(rounded_up(rule, units), units)
    lines.append(
        f"Rule of three beside it: {short(width)} × 3 + {short(tails)} = {short(rule)}, that is {by_rule}"
    )
    return QuickSum(stitches, width, tails, likely, planned, rule, tuple(lines))

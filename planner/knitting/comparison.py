"""Comparisons: planned against used, one plan against another, and which measurement helps most.

What a supply was planned to use is noted when it is measured. A plan made since from the same
measurements would agree with them better than it deserves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri  # the normal distribution, quickly loaded

from planner.multiplier import Calibration, Multiplier, noise_variance
from planner.piece import BALL, MARKED, SUPPLY, Measurement, in_force
from planner.plan import Plan
from planner.units import (
    CM_PER,
    LONG_UNIT,
    counted,
    half_up,
    rounded_up,
    show,
    shown,
    shown_totals,
    whole_percent,
)

INSIDE = 0.90  # the interval that planned against used is judged by
ROUNDING_CM = 1e-6  # of lengths that are rounded up
# A marked length as it is usually measured: a metre of yarn, read to a millimetre.
RULER_CM = 0.1

Spreads = Mapping[tuple[str, str], float]  # of the multiplier, by yarn and fabric


@dataclass(frozen=True)
class StrandYarn:
    """What a plan says of one strand, its halves added up, cm.

    `measured_cm` is what is measured off for it, each half rounded up.
    """

    yarn: str
    wound_cm: float
    measured_cm: float
    in_stitches_cm: float
    width_cm: float
    from_ball: bool
    # Whether a part of it is measured off its ball later.
    is_split: bool = False

    @property
    def fixed_cm(self) -> float:
        """What does not hang on the multiplier: tails, carries, cast-on, bind-off."""
        return self.wound_cm - self.in_stitches_cm


def _by_strand(plan: Plan) -> dict[str, StrandYarn]:
    """What a plan says of each strand, by its name, in the order of first need."""
    strands: dict[str, StrandYarn] = {}
    nothing_yet = StrandYarn("", 0.0, 0.0, 0.0, 0.0, from_ball=False)
    units = plan.project.units
    for held in plan.held:
        part = held.part
        # The first half of a strand begun from its middle, when the second comes.
        before = strands.get(part.label, nothing_yet)
        strands[part.label] = StrandYarn(
            yarn=part.yarn,
            wound_cm=before.wound_cm + part.wound_cm,
            measured_cm=before.measured_cm + rounded_up(part.wound_cm, units),
            in_stitches_cm=before.in_stitches_cm + part.stitches_cm,
            width_cm=before.width_cm + part.width_cm,
            from_ball=before.from_ball or held.supply == BALL,
            is_split=before.is_split or held.measured_off is not None,
        )
    return strands


def planned_interval(plan: Plan, strand: str) -> tuple[float, float, float]:
    """What the plan says a strand uses, tails included, cm: likely, and both ends of the interval.

    The interval holds the yarn used nine times in ten.
    """
    planned = _by_strand(plan)[strand]
    multiplier = plan.multipliers[planned.yarn]
    likely_cm = multiplier.value * planned.width_cm
    # Half of what lies outside the interval is below it, half above.
    outside_at_each_end = (1 - INSIDE) / 2
    ends = []
    for chance in (outside_at_each_end, 1 - outside_at_each_end):
        length_cm = multiplier.length_at(planned.width_cm, chance)[0]
        ends.append(planned.fixed_cm + float(length_cm))
    low_cm, high_cm = ends
    return planned.fixed_cm + likely_cm, low_cm, high_cm


def planned_against_used(log: Iterable[Measurement], units: str = "cm") -> pd.DataFrame:
    """One row a supply that was measured after use: planned, wound, left, used, and whether inside.

    What was planned, with its 90 % interval, is what the plan said when the supply was logged, not
    what it says now.
    """
    lines = []
    for line in in_force(log):
        # A supply from before there was a plan has nothing to be compared with.
        if line.way != SUPPLY or line.planned_cm is None:
            continue
        # A supply says what was wound, and what was planned has both ends of its interval:
        # Measurement sees to that.
        assert line.wound_cm is not None
        assert line.planned_low_cm is not None
        assert line.planned_high_cm is not None
        # Nothing noted as left: all of it was used.
        left_cm = line.left_cm or 0.0
        used_cm = line.wound_cm - left_cm
        share_used = used_cm / line.planned_cm
        lines.append(
            {
                "strand": line.strand,
                "yarn": line.yarn,
                "date": line.date,
                "planned_cm": line.planned_cm,
                "at_least_cm": line.planned_low_cm,
                "at_most_cm": line.planned_high_cm,
                "wound_cm": line.wound_cm,
                "left_cm": left_cm,
                "used_cm": used_cm,
                "difference_cm": used_cm - line.planned_cm,
                "difference_percent": half_up(100 * (share_used - 1)),
                "inside": line.planned_low_cm <= used_cm <= line.planned_high_cm,
            }
        )
    # Named again, so that a log without supplies has the same columns.
    columns = ["strand", "yarn", "date", "planned_cm", "at_least_cm", "at_most_cm"]
    columns += ["wound_cm", "left_cm", "used_cm", "difference_cm", "difference_percent", "inside"]
    table = pd.DataFrame(lines, columns=columns)
    return shown(table.astype({"difference_percent": int}), units)


def by_yarn(table: pd.DataFrame) -> pd.DataFrame:
    """Planned against used, added up by yarn and in all."""
    # The lengths by the beginnings of their names, for they end in the unit.
    starts = ("planned", "wound", "left", "used", "difference")
    lengths = []
    for name in table:
        is_percent = name.endswith("percent")
        if name.startswith(starts) and not is_percent:
            lengths.append(name)
    groups = table.groupby("yarn", sort=False)
    sums = groups[lengths].sum()
    sums["supplies"] = groups.size()
    sums["inside"] = groups.inside.sum()
    in_all = sums.sum().to_frame("in all").T
    with_sum = pd.concat([sums, in_all])
    # Summed beside lengths, counts have become floats.
    with_sum = with_sum.astype({"supplies": int, "inside": int})
    return with_sum.rename_axis("yarn").reset_index()


def comparison_in_words(table: pd.DataFrame) -> str:
    """How planned and used agree: "17 of 18 supplies used what the plan allowed"."""
    if not len(table):
        return "No supply has been measured after use yet."
    # Added up as the table shows them, so that the reader's own sum agrees.
    unit = "m" if "used_m" in table else "yd"
    planned = table[f"planned_{unit}"].sum()
    used = table[f"used_{unit}"].sum()
    more_percent = half_up(100 * (used / planned - 1))
    # To a tenth, so that they can be compared.
    were_used, were_likely = (f"{half_up(length, 1):.1f} {unit}" for length in (used, planned))
    is_inside = table["inside"].astype(bool)
    inside = int(is_inside.sum())
    outside = ", ".join(table.strand[~is_inside])
    not_these = f" (not {outside})" if outside else ""
    supplies = counted(len(table), "supply").replace("supplys", "supplies")
    return (
        f"{inside} of {supplies} used what the plan allowed{not_these}. In all "
        f"{were_used} were used where {were_likely} were likely, {more_percent:+.0f} %."
    )


def before_and_after(before: Plan, after: Plan) -> pd.DataFrame:
    """One row a strand: wound before, wound after, what to do, and the chance that it runs short.

    The chance, in percent, is that of what was wound before.
    """
    units = after.project.units
    old = _by_strand(before)
    lines = []
    for strand, new in _by_strand(after).items():
        was = old.get(strand)
        # Both as they are measured off, for that is what the knitter has.
        had_cm = was.measured_cm if was is not None else math.nan
        needs_cm = new.measured_cm
        multiplier = after.multipliers[new.yarn]
        chance = _chance_short(had_cm, new, multiplier)
        lines.append(
            {
                "strand": strand,
                "yarn": new.yarn,
                "wound_before_cm": had_cm,
                "wound_after_cm": needs_cm,
                "what_to_do": _what_to_do(was, new, had_cm, needs_cm, units),
                "chance_short_as_wound_percent": chance,
            }
        )
    table = pd.DataFrame(lines).astype({"chance_short_as_wound_percent": "Int64"})
    return shown(table, units)


def _chance_short(had_cm: float, new: StrandYarn, multiplier: Multiplier) -> int | None:
    """The chance in percent that what was wound is too short; None where it cannot be told."""
    # Without a spread there is no chance, only yes or no.
    if math.isnan(had_cm) or not multiplier.spread:
        return None
    for_stitches_cm = had_cm - new.fixed_cm
    chances = multiplier.chance_over(new.width_cm, for_stitches_cm)
    # What does not run short lasts, and that is never said to be surer than it is.
    return 100 - whole_percent(1 - float(chances[0]))


def _what_to_do(
    was: StrandYarn | None, new: StrandYarn, had_cm: float, needs_cm: float, units: str
) -> str:
    """What to do about a strand of which so much was wound, and that now needs so much."""
    if was is None:
        return "new"
    change_cm = needs_cm - had_cm
    # Both lengths are rounded to whole steps: less than that is the floats' own error.
    if abs(change_cm) < ROUNDING_CM:
        return "as it is"
    # Held in another way, all of it is wanted anew; else only what is added or taken off.
    needs = show(needs_cm, units)
    if was.from_ball and not new.from_ball:
        return f"wind {needs}, no ball needed"
    if new.from_ball and not was.from_ball:
        return f"feed it from the ball, {needs}"
    change = show(abs(change_cm), units)
    is_more = change_cm > 0
    if new.from_ball:
        # What is measured off later is in it.
        where = "in all" if new.is_split else "from the ball"
        return f"{change} {'more' if is_more else 'less'} {where}"
    return f"{'add' if is_more else 'unwind'} {change}"


def balls_before_and_after(before: Plan, after: Plan) -> pd.DataFrame:
    """One row a yarn: its multiplier, its total and its balls to buy, before and after."""
    old = {}
    for needed in before.needed:
        old[needed.yarn.letter] = needed
    lines = []
    for new in after.needed:
        letter = new.yarn.letter
        # A yarn that has come onto the chart since was not needed before.
        was = old.get(letter)
        total_before_cm = math.nan
        to_buy_before = None
        if was is not None:
            total_before_cm = was.total_cm
            to_buy_before = was.to_buy
        multiplier_before = before.multipliers.get(letter, "")
        lines.append(
            {
                "yarn": letter,
                "multiplier_before": str(multiplier_before),
                "multiplier_after": str(after.multipliers[letter]),
                "total_before_cm": total_before_cm,
                "total_after_cm": new.total_cm,
                "balls_to_buy_before": to_buy_before,
                "balls_to_buy_after": new.to_buy,
            }
        )
    table = pd.DataFrame(lines)
    # Whole numbers that may be missing.
    whole = {"balls_to_buy_before": "Int64", "balls_to_buy_after": "Int64"}
    # Totals of both plans are shown in the units of the one after.
    return shown_totals(table.astype(whole), after.project.units)


def most_useful_next(plan: Plan, calibration: Calibration) -> pd.DataFrame:
    """One row a yarn: how much a marked metre in it would take off all margins, most useful first.

    The margin of a part is counted at the likely noise and the level that the knitter has set.
    """
    fabric, unit = plan.project.how.fabric, LONG_UNIT[plan.project.units]
    spreads = {}
    for kind in calibration.kinds:
        spreads[kind] = calibration.multiplier(*kind).spread
    now_cm = _margins_cm(plan, spreads, calibration)
    lines = []
    for yarn in plan.traced.chart.letters:
        multiplier: Multiplier = calibration.multiplier(yarn, fabric)
        # So wide are the stitches that a marked metre is likely to make. What it will read need not
        # be known: the spreads after it are the same.
        width_cm = float(CM_PER[unit]) / multiplier.value
        spreads_after = calibration.spreads_after(yarn, fabric, width_cm, RULER_CM)
        after_cm = _margins_cm(plan, spreads_after, calibration)
        lines.append(
            {
                "yarn": yarn,
                "measure": f"a {MARKED} of 1 {unit}",
                "multiplier_now": str(multiplier),
                "taken_off_cm": now_cm - after_cm,
            }
        )
    table = pd.DataFrame(lines)
    # A stable order: yarns that gain the same stay as they are on the chart.
    table = table.sort_values("taken_off_cm", ascending=False, kind="stable", ignore_index=True)
    return shown_totals(table, plan.project.units)


def _margins_cm(plan: Plan, spreads: Spreads, calibration: Calibration) -> float:
    """The margins of all parts together, for these spreads by yarn and fabric."""
    fabric = plan.project.how.fabric
    width_cm = np.array([part.width_cm for part in plan.parts])
    spread_of_parts = [spreads[part.yarn, fabric] for part in plan.parts]
    # Two errors without anything to do with each other: the multiplier's, and the noise.
    of_multiplier = (np.array(spread_of_parts) * width_cm) ** 2
    of_noise = noise_variance(width_cm, calibration.noise)
    standard_errors_cm = np.sqrt(of_multiplier + of_noise)
    chance_short = 1 / plan.project.allow.short_once_in
    how_many = -float(ndtri(chance_short))
    return float(how_many * standard_errors_cm.sum())

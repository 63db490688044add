"""Comparisons: planned against used, one plan against another, and which measurement helps most."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import norm

from planner.multiplier import Calibration, Multiplier, noise_variance
from planner.piece import BALL, MARKED, SUPPLY, Measurement, in_force
from planner.plan import Plan
from planner.units import CM_PER, LONG_UNIT, counted, rounded_up, show, shown

INSIDE = 0.90  # the interval that planned against used is judged by
RULER_CM, MARKED_CM = 0.1, 100.0  # a marked length as it is usually measured


@dataclass(frozen=True)
class StrandYarn:
    """What a plan says of one strand, its halves added up, cm."""

    yarn: str
    wound_cm: float
    in_stitches_cm: float
    width_cm: float
    from_ball: bool

    @property
    def fixed_cm(self) -> float:
        """What does not hang on the multiplier: tails, carries, cast-on, bind-off."""
        return self.wound_cm - self.in_stitches_cm


def _by_strand(plan: Plan) -> dict[str, StrandYarn]:
    """What a plan says of each strand, by its name, in the order of first need."""
    strands: dict[str, StrandYarn] = {}
    for held in plan.held:
        part = held.part
        before = strands.get(part.label, StrandYarn(part.yarn, 0.0, 0.0, 0.0, False))
        strands[part.label] = StrandYarn(
            yarn=part.yarn,
            wound_cm=before.wound_cm + part.wound_cm,
            in_stitches_cm=before.in_stitches_cm + part.stitches_cm,
            width_cm=before.width_cm + part.width_cm,
            from_ball=before.from_ball or held.supply == BALL,
        )
    return strands


def planned_interval(plan: Plan, strand: str) -> tuple[float, float, float]:
    """What the plan says a strand uses, tails included, cm: likely, and both ends of the interval.

    The interval holds the yarn used nine times in ten.
    """
    planned = _by_strand(plan)[strand]
    multiplier = plan.multipliers[planned.yarn]
    low, high = (
        float(multiplier.length_at(planned.width_cm, chance)[0])
        for chance in ((1 - INSIDE) / 2, (1 + INSIDE) / 2)
    )
    likely = multiplier.value * planned.width_cm
    return planned.fixed_cm + likely, planned.fixed_cm + low, planned.fixed_cm + high


def planned_against_used(log: Iterable[Measurement], units: str = "cm") -> pd.DataFrame:
    """One row a supply that was measured after use: planned, wound, left, used, and whether inside.

    What was planned, with its 90 % interval, is what the plan said when the supply was logged, not
    what it says now.
    """
    lines = []
    for line in in_force(log):
        if line.way != SUPPLY or line.planned_cm is None:
            continue
        # A supply says what was wound, and what was planned has both ends of its interval:
        # Measurement sees to that.
        assert line.wound_cm is not None
        assert line.planned_low_cm is not None
        assert line.planned_high_cm is not None
        used_cm = line.wound_cm - (line.left_cm or 0)
        lines.append(
            {
                "strand": line.strand,
                "yarn": line.yarn,
                "date": line.date,
                "planned_cm": line.planned_cm,
                "at_least_cm": line.planned_low_cm,
                "at_most_cm": line.planned_high_cm,
                "wound_cm": line.wound_cm,
                "left_cm": line.left_cm or 0.0,
                "used_cm": used_cm,
                "difference_cm": used_cm - line.planned_cm,
                "difference_percent": 100 * (used_cm / line.planned_cm - 1),
                "inside": line.planned_low_cm <= used_cm <= line.planned_high_cm,
            }
        )
    columns = ["strand", "yarn", "date", "planned_cm", "at_least_cm", "at_most_cm"]
    columns += ["wound_cm", "left_cm", "used_cm", "difference_cm", "difference_percent", "inside"]
    table = pd.DataFrame(lines, columns=columns)
    return shown(table.round({"difference_percent": 1}), units)


def by_yarn(table: pd.DataFrame) -> pd.DataFrame:
    """Planned against used, added up by yarn and in all."""
    starts = ("planned", "wound", "left", "used", "difference")
    lengths = [name for name in table if name.startswith(starts) and not name.endswith("percent")]
    groups = table.groupby("yarn", sort=False)
    sums = groups[lengths].sum().assign(supplies=groups.size(), inside=groups.inside.sum())
    both = pd.concat([sums, sums.sum().to_frame("in all").T])
    return both.rename_axis("yarn").reset_index().astype({"supplies": int, "inside": int})


def comparison_in_words(table: pd.DataFrame) -> str:
    """How planned and used agree: "17 of 18 supplies used what the plan allowed"."""
    if not len(table):
        return "No supply has been measured after use yet."
    unit = next(name for name in ("m", "yd") if f"used_{name}" in table)
    planned, used = table[f"planned_{unit}"].sum(), table[f"used_{unit}"].sum()
    inside = table["inside"].astype(bool)
    outside = table[~inside].strand.tolist()
    supplies = counted(len(table), "supply").replace("supplys", "supplies")
    not_these = f" (not {', '.join(outside)})" if outside else ""
    return (
        f"{int(inside.sum())} of {supplies} used what the plan allowed{not_these}. In all "
        f"{used:.2f} {unit} were used where {planned:.2f} {unit} were likely, "
        f"{100 * (used / planned - 1):+.0f} %."
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
        had_cm = math.nan if was is None else rounded_up(was.wound_cm, units)
        needs_cm = rounded_up(new.wound_cm, units)
        chance, multiplier = math.nan, after.multipliers[new.yarn]
        if was is not None and multiplier.spread:
            for_stitches_cm = had_cm - new.fixed_cm
            chance = float(multiplier.chance_over(new.width_cm, for_stitches_cm)[0])
        lines.append(
            {
                "strand": strand,
                "yarn": new.yarn,
                "wound_before_cm": had_cm,
                "wound_after_cm": needs_cm,
                "what_to_do": _what_to_do(was, new, needs_cm - had_cm, units),
                "chance_short_as_wound_percent": round(100 * chance, 1),
            }
        )
    return shown(pd.DataFrame(lines), units)


def _what_to_do(was: StrandYarn | None, new: StrandYarn, change_cm: float, units: str) -> str:
    """What to do about a strand whose rounded length changes by so much."""
    if was is None:
        return "new"
    if abs(change_cm) < 1e-6:
        return "as it is"
    needs = show(rounded_up(new.wound_cm, units), units)
    if was.from_ball and not new.from_ball:
        return f"wind {needs}, no ball needed"
    if new.from_ball and not was.from_ball:
        return f"feed it from the ball, {needs}"
    change = show(abs(change_cm), units)
    if new.from_ball:
        return f"{change} {'more' if change_cm > 0 else 'less'} from the ball"
    return f"{'add' if change_cm > 0 else 'unwind'} {change}"


def balls_before_and_after(before: Plan, after: Plan) -> pd.DataFrame:
    """One row a yarn: its multiplier, its total and its balls to buy, before and after."""
    unit = LONG_UNIT[after.project.units]
    unit_cm = float(CM_PER[unit])
    old = {each.yarn.letter: each for each in before.needed}
    lines = []
    for new in after.needed:
        letter = new.yarn.letter
        was = old.get(letter)
        multiplier_before = before.multipliers.get(letter, "")
        lines.append(
            {
                "yarn": letter,
                "multiplier_before": str(multiplier_before),
                "multiplier_after": str(after.multipliers[letter]),
                f"total_before_{unit}": math.nan if was is None else was.total_cm / unit_cm,
                f"total_after_{unit}": new.total_cm / unit_cm,
                "balls_to_buy_before": None if was is None else was.to_buy,
                "balls_to_buy_after": new.to_buy,
            }
        )
    table = pd.DataFrame(lines)
    whole = {"balls_to_buy_before": "Int64", "balls_to_buy_after": "Int64"}
    return table.astype(whole).round(2)


def most_useful_next(plan: Plan, calibration: Calibration) -> pd.DataFrame:
    """One row a yarn: how much a marked metre in it would take off all margins, most useful first.

    The margin of a part is counted at the likely noise and the level that the knitter has set.
    """
    fabric = plan.project.how.fabric
    spreads = {kind: calibration.multiplier(*kind).spread for kind in calibration.kinds}
    now_cm = _margins_cm(plan, spreads, calibration)
    lines = []
    for yarn in plan.traced.chart.letters:
        multiplier: Multiplier = calibration.multiplier(yarn, fabric)
        width_cm = MARKED_CM / multiplier.value
        after = calibration.spreads_after(yarn, fabric, width_cm, RULER_CM)
        lines.append(
            {
                "yarn": yarn,
                "measure": f"a {MARKED} of 1 m",
                "spread_now": multiplier.spread,
                "taken_off_cm": now_cm - _margins_cm(plan, after, calibration),
            }
        )
    table = pd.DataFrame(lines).round({"spread_now": 3})
    table = table.sort_values("taken_off_cm", ascending=False, kind="stable", ignore_index=True)
    return shown(table, plan.project.units)


def _margins_cm(
    plan: Plan, spreads: Mapping[tuple[str, str], float], calibration: Calibration
) -> float:
    """The margins of all parts together, for these spreads by yarn and fabric."""
    width_cm = np.array([part.width_cm for part in plan.parts])
    spread = np.array([spreads[part.yarn, plan.project.how.fabric] for part in plan.parts])
    variance = (spread * width_cm) ** 2 + noise_variance(width_cm, calibration.noise)
    standard_errors = float(norm.isf(1 / plan.project.allow.short_once_in))
    return float(standard_errors * np.sqrt(variance).sum())

"""Comparisons: planned against used, one plan against another, and which measurement would help most."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pandas as pd
from scipy.stats import norm

from planner.multiplier import Calibration, noise_variance
from planner.piece import BALL, MARKED, SUPPLY, Measurement, in_force
from planner.plan import Plan
from planner.units import CM_PER, LONG_UNIT, counted, rounded_up, show, shown

INSIDE = 0.90  # the interval planned against used is judged by
RULER_CM, MARKED_CM = 0.1, 100.0  # a marked length as it is usually measured


def planned_interval(plan: Plan, strand: str) -> tuple[float, float, float]:
    """What the plan says a strand uses, tails included, in cm: likely, and the two ends of the 90 % interval."""
    parts = plan.parts
    parts = parts[parts.strand == strand]
    multiplier = plan.multipliers[parts.yarn.iloc[0]]
    known = float((parts.wound_cm - parts.worked_cm - parts.margin_cm).sum())
    width = float(parts.width_cm.sum())
    likely = multiplier.value * width
    low, high = (
        float(multiplier.length_at(width, p)[0]) for p in ((1 - INSIDE) / 2, (1 + INSIDE) / 2)
    )
    return known + likely, known + low, known + high


def planned_against_used(log: Iterable[Measurement], units: str = "cm") -> pd.DataFrame:
    """One row a supply that was measured after use: planned with its 90 % interval, wound, left, used, and whether inside.

    What was planned is what the plan said when the supply was logged, not what it says now.
    """
    out = []
    for m in in_force(log):
        if m.way != SUPPLY or m.planned_cm is None:
            continue
        used = m.wound_cm - (m.left_cm or 0)
        row = {
            "strand": m.strand,
            "yarn": m.yarn,
            "date": m.date,
            "planned_cm": m.planned_cm,
            "at_least_cm": m.planned_low_cm,
        }
        row |= {
            "at_most_cm": m.planned_high_cm,
            "wound_cm": m.wound_cm,
            "left_cm": m.left_cm or 0.0,
            "used_cm": used,
        }
        row |= {
            "difference_cm": used - m.planned_cm,
            "difference_percent": 100 * (used / m.planned_cm - 1),
        }
        out.append(row | {"inside": m.planned_low_cm <= used <= m.planned_high_cm})
    columns = [
        "strand",
        "yarn",
        "date",
        "planned_cm",
        "at_least_cm",
        "at_most_cm",
        "wound_cm",
        "left_cm",
        "used_cm",
    ]
    table = pd.DataFrame(out, columns=[*columns, "difference_cm", "difference_percent", "inside"])
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
    inside, out = int(table["inside"].sum()), table[~table["inside"].astype(bool)].strand.tolist()
    said = f"{inside} of {counted(len(table), 'supply').replace('supplys', 'supplies')} used what the plan allowed"
    said += f" (not {', '.join(out)})." if out else "."
    return f"{said} In all {used:.2f} {unit} were used where {planned:.2f} {unit} were likely, {100 * (used / planned - 1):+.0f} %."


def before_and_after(before: Plan, after: Plan) -> pd.DataFrame:
    """One row a strand: wound before, wound after, what to do, and the chance that what was wound before runs short."""
    units = after.project.units
    old, new = (
        p.parts.groupby("strand", sort=False).agg(
            {"yarn": "first"}
            | dict.fromkeys(("wound_cm", "worked_cm", "margin_cm", "width_cm"), "sum")
        )
        for p in (before, after)
    )
    was_ball, from_ball = (
        set(p.supplies.strand[p.supplies.supply == BALL]) for p in (before, after)
    )
    out = []
    for strand, row in new.iterrows():
        was = old.wound_cm.get(strand, math.nan)
        had, needs = (
            rounded_up(was, units) if was == was else math.nan,
            rounded_up(row.wound_cm, units),
        )
        change = needs - had
        if math.isnan(had) or abs(change) < 1e-6:
            what = "new" if math.isnan(had) else "as it is"
        elif strand in was_ball and strand not in from_ball:
            what = f"wind {show(needs, units)}, no ball needed"
        elif strand in from_ball and strand not in was_ball:
            what = f"feed it from the ball, {show(needs, units)}"
        elif strand in from_ball:
            what = f"{show(abs(change), units)} {'more' if change > 0 else 'less'} from the ball"
        else:
            what = f"{'add' if change > 0 else 'unwind'} {show(abs(change), units)}"
        chance, multiplier = math.nan, after.multipliers[row.yarn]
        if not math.isnan(had) and multiplier.spread:
            in_stitches = had - (row.wound_cm - row.worked_cm - row.margin_cm)
            chance = float(multiplier.chance_over(row.width_cm, in_stitches)[0])
        line = {
            "strand": strand,
            "yarn": row.yarn,
            "wound_before_cm": had,
            "wound_after_cm": needs,
            "what_to_do": what,
        }
        out.append(line | {"chance_short_as_wound_percent": round(100 * chance, 1)})
    return shown(pd.DataFrame(out), units)


def balls_before_and_after(before: Plan, after: Plan) -> pd.DataFrame:
    """One row a yarn: its multiplier, its total and its balls to buy, before and after."""
    unit_before, unit = LONG_UNIT[before.project.units], LONG_UNIT[after.project.units]
    new = after.shopping_list.set_index("yarn")
    old = before.shopping_list.set_index("yarn").reindex(new.index)
    total_before = old[f"total_{unit_before}"] * float(CM_PER[unit_before] / CM_PER[unit])
    return pd.DataFrame(
        {
            "yarn": new.index,
            "multiplier_before": [
                str(before.multipliers[y]) if y in before.multipliers else "" for y in new.index
            ],
            "multiplier_after": [str(after.multipliers[y]) for y in new.index],
            f"total_before_{unit}": total_before.round(2).to_numpy(),
            f"total_after_{unit}": new[f"total_{unit}"].to_numpy(),
            "balls_to_buy_before": old.balls_to_buy.to_numpy(),
            "balls_to_buy_after": new.balls_to_buy.to_numpy(),
        }
    )


def most_useful_next(plan: Plan, calibration: Calibration) -> pd.DataFrame:
    """One row a yarn: how much a marked metre in it would take off all margins together, most useful first.

    The margin of a part is counted at the likely noise and the level the knitter has set.
    """
    fabric = plan.project.how.fabric
    parts = plan.parts
    z = float(norm.isf(1 / plan.project.allow.short_once_in))
    width, noise = parts.width_cm.to_numpy(), noise_variance(parts.width_cm, calibration.noise)

    def margins(spreads: dict) -> float:
        spread = np.array([spreads[yarn, fabric] for yarn in parts.yarn])
        return float(z * np.sqrt((spread * width) ** 2 + noise).sum())

    now = margins({kind: calibration.multiplier(*kind).spread for kind in calibration.kinds})
    out = []
    for yarn in plan.traced.chart.letters:
        multiplier = calibration.multiplier(yarn, fabric)
        after = margins(
            calibration.spreads_after(yarn, fabric, MARKED_CM / multiplier.value, RULER_CM)
        )
        out.append(
            {
                "yarn": yarn,
                "measure": f"a {MARKED} of 1 m",
                "spread_now": multiplier.spread,
                "taken_off_cm": now - after,
            }
        )
    table = pd.DataFrame(out).sort_values(
        "taken_off_cm", ascending=False, kind="stable", ignore_index=True
    )
    return shown(table.round({"spread_now": 3}), plan.project.units)

"""Progress: which rows are worked, what is left on each supply, and whether it will last."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.stats import norm

from planner.piece import BALL, JOINED, LEFT, PARTS, Entry, rows_worked
from planner.supplies import run_lengths, run_widths, strand_parts
from planner.units import shown

WARN_ROWS = 3
OUT_IN = ("out_in_row_earliest", "out_in_row_likely", "out_in_row_latest")


def will_it_last(plan, log: Sequence[Entry]) -> pd.DataFrame:
    """One row a live supply: yarn left as planned and as measured, what its rows still take, the row in which it runs out at
    the earliest, the likeliest and the latest (of 90 in 100; missing: it lasts), its chance of lasting, and what to do."""
    done, traced, allow = rows_worked(log), plan.traced, plan.project.allow
    of_run, _ = strand_parts(traced)
    parts = plan.parts
    runs, width = traced.runs, run_widths(traced)
    fixed = run_lengths(
        traced, parts.assign(worked_cm=0.0, margin_cm=0.0), allow
    )  # carries, cast-on, bind-off
    yarns, supplies, out = plan.project.all_yarns, plan.supplies.set_index(["strand", "part"]), []
    for i, part in enumerate(parts.itertuples()):
        mine = np.flatnonzero(of_run == i)
        first, last = runs.row[mine[0]], runs.row[mine[-1]]
        if not first < done <= last:
            continue
        yarn, multiplier = yarns[part.yarn], plan.multipliers[part.yarn]
        since, left, measured = _left(part, log, done)
        used_to = mine[(runs.row[mine] >= since) & (runs.row[mine] < done)]
        to_come = mine[runs.row[mine] >= done]
        at_start = part.wound_cm - allow.tail_cm * (part.part == PARTS[0]) if left is None else left
        expected = at_start - multiplier.value * width[used_to].sum() - fixed[used_to].sum()
        counted = mine[runs.row[mine] >= since]
        have, widths = (
            at_start - allow.tail_cm - np.cumsum(fixed[counted]),
            np.cumsum(width[counted]),
        )
        spread, out_in = multiplier.spread * norm.ppf(0.95), []
        for multiple in (
            multiplier.value + spread,
            multiplier.value,
            max(multiplier.value - spread, 1.0),
        ):
            short = multiple * widths > have + 1e-9
            out_in.append(int(runs.row[counted[short.argmax()]]) + 1 if short.any() else pd.NA)
        chance = _chance(multiplier, widths[-1], have[-1])
        need = multiplier.value * width[to_come].sum() + fixed[to_come].sum() + allow.tail_cm
        earliest, advice = out_in[0], ""
        if chance < 0.95 and not pd.isna(earliest):
            soon = "now: " if earliest - done <= WARN_ROWS else f"before row {earliest}: "
            how = (
                "splice a new piece on, it felts"
                if yarn.feltable
                else "join a new piece at a border, two ends"
            )
            from_ball = supplies.loc[(part.strand, part.part), "supply"] == BALL
            advice = soon + ("take more from the ball" if from_ball else how)
        lengths = (max(expected, 0.0), np.nan if measured is None else measured, need)
        out.append((part.strand, part.part, *lengths, *out_in, round(100 * chance, 1), advice))
    columns = ["strand", "part", "left_planned_cm", "left_measured_cm", "still_needed_cm", *OUT_IN]
    table = pd.DataFrame(out, columns=[*columns, "chance_it_lasts_percent", "what_to_do"])
    return shown(table.astype(dict.fromkeys(OUT_IN, "Int64")), plan.project.units)


def will_yarns_last(plan, log: Sequence[Entry]) -> pd.DataFrame:
    """One row a yarn: what was in hand at cast-on, what is likely left of it, what the rows to come still take (tails
    included), and the chance that what is left does. Missing where the band's metres are not known."""
    done, traced, allow = rows_worked(log), plan.traced, plan.project.allow
    of_run, _ = strand_parts(traced)
    parts = plan.parts
    runs, width = traced.runs, run_widths(traced)
    fixed = run_lengths(traced, parts.assign(worked_cm=0.0, margin_cm=0.0), allow)
    first = pd.Series(runs.row).groupby(of_run).min().to_numpy()
    out = []
    for y, letter in enumerate(traced.chart.letters):
        yarn, multiplier = plan.project.all_yarns[letter], plan.multipliers[letter]
        mine, begun = runs.yarn == y, (parts.yarn == letter).to_numpy() & (first < done)
        tails = parts.tails_cm.to_numpy()
        used = (
            multiplier.value * width[mine & (runs.row < done)].sum()
            + fixed[mine & (runs.row < done)].sum()
            + tails[begun].sum()
        )
        to_come = mine & (runs.row >= done)
        more = fixed[to_come].sum() + tails[(parts.yarn == letter).to_numpy() & ~begun].sum()
        have = 100 * yarn.metres_per_ball * yarn.balls_in_hand if yarn.metres_per_ball else np.nan
        needs = width[to_come].sum()
        chance = np.nan if np.isnan(have) else 100 * _chance(multiplier, needs, have - used - more)
        line = {
            "yarn": letter,
            "in_hand_cm": have,
            "left_likely_cm": have - used,
            "still_needed_cm": multiplier.value * needs + more,
        }
        out.append(line | {"chance_it_lasts_percent": chance})
    return shown(pd.DataFrame(out).round({"chance_it_lasts_percent": 1}), plan.project.units)


def _left(part, log: Sequence[Entry], done: int) -> tuple[int, float | None, float | None]:
    """The worked row (from 0) since which a supply's length is known, that length, and the length last measured."""
    since, length, measured = 0, None, None
    for entry in sorted(log, key=lambda e: e.number):
        if entry.strand == part.strand and entry.part == part.part and entry.row <= done:
            if entry.what == LEFT:
                since, length, measured = entry.row, entry.length_cm, entry.length_cm
            elif entry.what == JOINED:
                since, length = (
                    entry.row,
                    entry.length_cm,
                )  # what was left of the old piece is cut away
    return since, length, measured


def _chance(multiplier, width: float, length: float) -> float:
    """The chance that stitches of this width take no more than this length."""
    if not width:
        return 1.0
    return 1 - float(multiplier.chance_over(width, length)[0])

"""Lengths: how much yarn each strand takes, each share in a column of its own."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from planner.multiplier import RULE_OF_THREE, Multiplier
from planner.piece import PARTS, Allowances
from planner.strands import MIDDLE, Strands

SHARES = ["worked_cm", "carried_cm", "cast_on_cm", "bind_off_cm", "tails_cm", "margin_cm"]


def run_widths(strands: Strands) -> np.ndarray:
    """Width of the stitches of each run, selvedge stitches beside it included, cm."""
    runs, beside = strands.runs, np.zeros(strands.runs.count)
    for outermost in (
        np.searchsorted(runs.row, np.arange(runs.rows)),
        np.searchsorted(runs.row, np.arange(runs.rows), "right") - 1,
    ):
        if strands.how.selvedge:  # only where every row is there (see offers.Pricing)
            beside[outermost] += strands.how.selvedge
    return (runs.stitches + beside) * strands.gauge.stitch_cm


def strand_parts(strands: Strands) -> tuple[np.ndarray, pd.DataFrame]:
    """The part that works each run, and one row a part: a strand is one part, or two halves if begun from its middle."""
    halves = strands.half + 1 - (~strands.has_middle[strands.of_run])
    codes, first_run, of_run = np.unique(
        strands.of_run * 3 + halves, return_index=True, return_inverse=True
    )
    parts = pd.DataFrame(
        {
            "strand_index": codes // 3,
            "part": np.array(PARTS, dtype=object)[codes % 3],
            "first_run": first_run,
        }
    )
    return of_run, parts


def measure_parts(
    strands: Strands, multipliers: Mapping[str, Multiplier], allow: Allowances
) -> pd.DataFrame:
    """One row a part (see `strand_parts`), in cm: worked + carried + cast-on + bind-off + tails + margin = wound.

    Yarn in a run = multiplier × width of its stitches; a carry is its straight-line length. The carry of a
    middle start is shared by the halves, each of which has one tail. `rule_cm` is the rule of three with the same tails.
    """
    of_run, parts = strand_parts(strands)
    runs, links, count = strands.runs, strands.links, len(parts)
    width, stitch_cm = run_widths(strands), strands.gauge.stitch_cm

    def per_part(of, weights):
        return np.bincount(of, weights=weights, minlength=count)

    letters = [strands.chart.letters[y] for y in strands.yarn[parts.strand_index]]
    worked = per_part(of_run, width)
    value = np.array([multipliers[letter].value for letter in letters])
    margin, of_letter = np.zeros(count), np.array(letters, dtype=object)
    for letter, multiplier in multipliers.items():
        margin[of_letter == letter] = multiplier.margin_cm(
            worked[of_letter == letter], allow.short_once_in
        )
    share = np.where(links.kind == MIDDLE, 0.5, 1.0) * strands.carried * stitch_cm
    middle = links.kind == MIDDLE
    parts["stitches"] = per_part(of_run, runs.stitches).astype(int)
    parts["width_cm"] = worked
    parts["worked_cm"] = worked * value
    parts["carried_cm"] = per_part(of_run[links.a], share) + per_part(
        of_run[links.b[middle]], share[middle]
    )
    parts["cast_on_cm"] = per_part(of_run, width * (runs.row == 0)) * allow.cast_on
    parts["bind_off_cm"] = per_part(of_run, width * (runs.row == runs.rows - 1)) * allow.bind_off
    parts["tails_cm"] = np.where(parts.part == PARTS[0], 2.0, 1.0) * allow.tail_cm
    parts["margin_cm"] = margin
    parts["wound_cm"] = parts[SHARES].sum(axis=1)
    parts["rule_cm"] = worked * RULE_OF_THREE + parts.tails_cm
    parts.insert(0, "yarn", letters)
    parts.insert(0, "strand", [strands.labels[s] for s in parts.strand_index])
    return parts


def run_lengths(strands: Strands, parts: pd.DataFrame, allow: Allowances) -> np.ndarray:
    """Planned yarn by run, cm: a part's length without its tails, each run with its margin, its carries (before it), and
    the cast-on or bind-off over it."""
    of_run, _ = strand_parts(strands)
    runs, links, width = strands.runs, strands.links, run_widths(strands)
    per_width = ((parts.worked_cm + parts.margin_cm) / parts.width_cm).to_numpy()
    edges = allow.cast_on * (runs.row == 0) + allow.bind_off * (runs.row == runs.rows - 1)
    middle, carried = links.kind == MIDDLE, strands.carried * strands.gauge.stitch_cm
    arriving = np.bincount(
        links.b, weights=np.where(middle, 0.5, 1.0) * carried, minlength=runs.count
    )
    arriving += np.bincount(links.a[middle], weights=0.5 * carried[middle], minlength=runs.count)
    return (per_width[of_run] + edges) * width + arriving


def strand_lengths(parts: pd.DataFrame) -> pd.DataFrame:
    """The same shares by strand, in cm, in the order of first need."""
    return parts.groupby("strand_index")[[*SHARES, "wound_cm", "rule_cm"]].sum()


class Planned:
    """Yarn for stitches of some width, margin included; each width is worked out once, for plans are priced by the hundred."""

    def __init__(self, multipliers: Mapping[str, Multiplier], allow: Allowances):
        self.multipliers, self.allow = multipliers, allow
        self.known: dict[tuple[str, float], float] = {}

    def cm(self, letter: str, width_cm) -> np.ndarray:
        """The length for each of these widths, cm."""
        widths = np.round(width_cm, 6)
        new = np.array([width for width in np.unique(widths) if (letter, width) not in self.known])
        if len(new):
            multiplier = self.multipliers[letter]
            margin = multiplier.margin_cm(new, self.allow.short_once_in)
            self.known |= zip(
                [(letter, width) for width in new],
                (multiplier.value * new + margin).tolist(),
                strict=True,
            )
        return np.array([self.known[letter, width] for width in widths])

    def wound_cm(self, strands: Strands) -> float:
        """Yarn of all strands, as `measure_parts` adds it up."""
        runs, allow, width = strands.runs, self.allow, run_widths(strands)
        widths = np.bincount(strands.of_run * 2 + strands.half, weights=width)
        parts = np.flatnonzero(widths)
        widths, yarn = widths[parts], strands.yarn[parts // 2]
        total = sum(
            self.cm(strands.chart.letters[y], widths[yarn == y]).sum() for y in np.unique(yarn)
        )
        edges = (
            allow.cast_on * width[runs.row == 0].sum()
            + allow.bind_off * width[runs.row == runs.rows - 1].sum()
        )
        return float(
            total
            + strands.carried_stitches * strands.gauge.stitch_cm
            + edges
            + strands.ends * allow.tail_cm
        )

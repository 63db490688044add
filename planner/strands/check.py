"""The check before cast-on: what in chart, yarns and gauge is worth a second look, and where."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations

import numpy as np
import pandas as pd

from planner.colour import ALIKE, apart
from planner.piece import Gauge, Yarn
from planner.strands.trace import Strands
from planner.units import counted, to_cm

STRAY = 2  # stitches; a strand of so few, with no run of its yarn within reach, is a stray
LIKELY_STITCHES_10CM = (
    5,
    45,
)  # beyond the Standard Yarn Weight System's 6 to 40 stitches in 4 in (second-hand)


def place(strands: Strands, run: int) -> str:
    """Where a run begins, in words: its row, the edge where the row begins, its stitch from the right."""
    row = int(strands.runs.row[run])
    edge = "right" if strands.runs.leftwards[row] else "left"
    return f"{strands.how.row_name(row)}, which begins at the {edge}, stitch {strands.stitch_number(run)} from the right"


def rows_for(height: float, gauge: Gauge, unit: str = "cm") -> int:
    """Worked rows for a height, rounded to the nearest."""
    return round(gauge.rows_in(to_cm(height, unit, "The height")))


def find_issues(
    strands: Strands, yarns: Mapping[str, Yarn], listed: Mapping[str, Yarn]
) -> pd.DataFrame:
    """One row a finding: what it is about, where, what was found, what to do; row and stitch where there is one place.

    `listed` are the yarns of yarns.csv, `yarns` these and any others of the chart.
    """
    found: list[dict] = []

    def add(about, where, finding, to_do, run=None):
        row = pd.NA if run is None else int(strands.runs.row[run]) + 1
        stitch = pd.NA if run is None else int(strands.stitch_number(run))
        found.append(
            {
                "about": about,
                "row": row,
                "stitch": stitch,
                "where": where,
                "finding": finding,
                "what_to_do": to_do,
            }
        )

    _yarn_findings(strands, listed, add)
    _stray_findings(strands, add)
    _shape_findings(strands, add)
    _gauge_findings(
        strands.gauge,
        strands.how.fabric,
        {letter: yarns[letter] for letter in strands.chart.letters},
        add,
    )
    if strands.how.in_rounds and strands.count > len(strands.chart.letters):
        what = "in rounds each yarn is left at the far side of its area, not where the next round wants it"
        add(
            "rounds",
            "the whole piece",
            what,
            "Intarsia is meant for flat work; think of working it flat and seaming.",
        )
    _look_alikes([listed[letter] for letter in strands.chart.letters if letter in listed], add)
    columns = ["about", "row", "stitch", "where", "finding", "what_to_do"]
    return pd.DataFrame(found, columns=columns).astype({"row": "Int64", "stitch": "Int64"})


def _yarn_findings(strands: Strands, listed, add):
    counts = strands.chart.stitches()
    for y, letter in enumerate(strands.chart.letters):
        if letter not in listed:
            run = next(
                iter(np.flatnonzero(strands.runs.yarn == y).tolist()), None
            )  # none if it is only embroidered
            stitches = (
                f"{counted(counts[letter], 'stitch')} of {letter}"
                if counts[letter]
                else f"{letter} is embroidered"
            )
            where = "the whole piece" if run is None else f"first in {place(strands, run)}"
            what = f"{stitches}, but no such yarn in yarns.csv"
            add("yarns", where, what, f"Add {letter} to yarns.csv, or correct the letter.", run)
    for letter in listed:
        if letter not in strands.chart.letters:
            to_do = "Nothing, if it is for an edging; else check the chart's letters."
            add("yarns", "yarns.csv", f"{letter} is listed but not on the chart", to_do)
    for a, b in combinations(strands.chart.letters, 2):
        if a.lower() == b.lower() or {a, b} == {"I", "l"}:
            add(
                "letters",
                "the whole chart",
                f"{a} and {b} are easily taken for each other",
                "Give one of them another letter.",
            )


def _stray_findings(strands: Strands, add):
    runs, times, possible = strands.runs, strands.how.rows_per_chart_row, strands.possible
    touched = np.zeros(runs.count, dtype=bool)
    # Within a ridge of garter a run always meets itself; what counts is its own row, or another row of the chart.
    other = (runs.chart_row[possible.a] != runs.chart_row[possible.b]) | (
        runs.row[possible.a] == runs.row[possible.b]
    )
    touched[possible.a[other]] = touched[possible.b[other]] = True
    in_ridge = runs.lo + runs.columns * runs.chart_row  # the same for both workings of a run
    touched = np.isin(in_ridge, in_ridge[touched])
    for run in np.flatnonzero(~touched & (runs.stitches <= STRAY) & (runs.row % times == 0)):
        letter, n = strands.chart.letters[runs.yarn[run]], int(runs.stitches[run])
        what = (
            f"{n} stitches of {letter} on their own cost" if n > 1 else f"a single {letter} costs"
        )
        to_do = "A slip of the pen? Else embroider it afterwards in duplicate stitch."
        add(
            "stray stitches",
            place(strands, int(run)),
            f"{what} a strand and two ends",
            to_do,
            int(run),
        )


def _shape_findings(strands: Strands, add):
    totals = (strands.chart.cells >= 0).sum(axis=1)
    usual = int(np.bincount(totals).argmax())
    odd = np.flatnonzero(totals != usual)
    for stretch in (
        np.split(odd, np.flatnonzero((np.diff(odd) != 1) | (np.diff(totals[odd]) != 0)) + 1)
        if len(odd)
        else []
    ):
        first, last = stretch[0] + 1, stretch[-1] + 1
        where = f"chart row {first}" if first == last else f"chart rows {first} to {last}"
        to_do = "Right if the piece is shaped there; else count the no-stitch cells."
        add("row totals", where, f"{totals[stretch[0]]} stitches, most rows have {usual}", to_do)


def _gauge_findings(gauge: Gauge, fabric: str, yarns: Mapping[str, Yarn], add):
    per_10cm = 10 / gauge.stitch_cm
    low, high = LIKELY_STITCHES_10CM
    if not low <= per_10cm <= high:
        what = f"{per_10cm:.1f} stitches in 10 cm is unusual for knitting"
        add("gauge", str(gauge), what, "Is the length right, and its unit, cm or in?")
    for letter, yarn in yarns.items():
        label = yarn.label_stitches_10cm
        if label and not 2 / 3 < per_10cm / label < 4 / 3:
            to_do = "Is the gauge counted over 10 cm or 4 in, and typed with that unit? Else knit a larger swatch."
            what = f"{per_10cm:.1f} stitches in 10 cm, its band says {label:g}: more than a third apart"
            add("gauge", f"yarn {letter}", what, to_do)
    aspect = float(gauge.aspect)
    garter = fabric == "garter"
    cell = aspect * (2 if garter else 1)  # a chart row of garter is a ridge, two rows high
    if not 0.98 <= cell <= 1.02:
        word = "flatter" if cell < 1 else "taller"
        to_do = "Judge the design on the chart drawn at this gauge, not on squared paper."
        what = f"a {'ridge' if garter else 'row'} is {cell:.2f} times as high as a stitch is wide"
        add("aspect", str(gauge), f"{what}, so the piece is {word} than a chart on squares", to_do)
    if not 0.5 <= aspect <= 1.25 and not garter:
        what = f"rows and stitches are far apart (aspect {aspect:.2f}; 0.7 to 0.8 is usual)"
        add("gauge", str(gauge), what, "Were stitches and rows exchanged?")
    if aspect > 0.75 and garter:
        add(
            "gauge",
            str(gauge),
            f"few rows for garter: a ridge would be {cell:.1f} stitches high",
            "Count two rows to a ridge.",
        )


def _look_alikes(yarns: list[Yarn], add):
    for a, b in combinations(yarns, 2):
        distance = apart(a.colour, b.colour)
        if not math.isnan(distance) and distance < ALIKE:
            to_do = "Go by the letters, and mark the balls; or choose colours further apart."
            add(
                "colours",
                f"yarns {a.letter} and {b.letter}",
                f"they look alike (CIEDE2000 {distance:.1f}, below {ALIKE})",
                to_do,
            )

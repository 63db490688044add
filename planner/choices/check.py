"""The check before cast-on: what in chart, yarns and gauge is worth a second look, and where."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations

import numpy as np
import pandas as pd

from planner.choices.alike import MARK_THE_BALLS, alike_yarns
from planner.choices.finding import Finding
from planner.colour import ALIKE, ANY_EYE, apart
from planner.piece import Gauge, Yarn
from planner.strands import Strands, label_areas
from planner.supplies import table_of
from planner.units import CM_PER, LENGTH_OF_A_GAUGE, counted, to_cm

Yarns = Mapping[str, Yarn]  # by letter

# A colour area of so few stitches that costs a strand of its own is a stray.
STRAY_STITCHES = 2
# Beyond the Standard Yarn Weight System's 6 to 40 stitches in 4 in (second-hand).
LIKELY_STITCHES_10CM = (5, 45)
# A cell whose sides differ by no more than this is as good as square.
SQUARE = (0.98, 1.02)
# Row height ÷ stitch width; 0.7 to 0.8 is usual in stockinette, far less in garter's ridges.
LIKELY_ASPECTS = (0.5, 1.25)
MOST_LIKELY_GARTER_ASPECT = 0.75


Findings = Iterator[Finding]


def place(strands: Strands, run: int) -> str:
    """Where a run begins, in words: its row, that row's first edge, its stitch from the right."""
    row = int(strands.runs.row[run])
    name = strands.how.row_name(row)
    edge = "right" if strands.runs.leftwards[row] else "left"
    stitch = strands.stitch_number(run)
    return f"{name}, which begins at the {edge}, stitch {stitch} from the right"


def rows_for(height: float, gauge: Gauge, unit: str = "cm") -> int:
    """Worked rows for a height, rounded to the nearest."""
    return round(gauge.rows_in(to_cm(height, unit, "The height")))


def find_issues(
    strands: Strands,
    yarns: Yarns,
    listed: Yarns,
    *,
    units: str = "cm",
    more: Iterable[Finding] = (),
) -> pd.DataFrame:
    """One row a finding: what it is about, where, what was found, what to do.

    Where there is one place, its row and stitch, from 1, the stitch from the right. `listed` are
    the yarns of yarns.csv, `yarns` these and any others of the chart; `more` was found already, and
    comes last.
    """
    letters = strands.chart.letters
    on_chart = {letter: yarns[letter] for letter in letters}
    findings = [
        *_about_yarns(strands, listed),
        *_about_letters(letters),
        *_about_strays(strands),
        *_about_row_totals(strands),
        *_about_gauge(strands.gauge, on_chart, units),
        *_about_aspect(strands.gauge, units, garter=strands.how.fabric == "garter"),
        *_about_rounds(strands),
        *_about_colours(strands, on_chart, listed),
        *more,
    ]
    columns = ["about", "row", "stitch", "where", "finding", "what_to_do"]
    lines = [_line(strands, finding) for finding in findings]
    return table_of(lines, columns, {"row": "Int64", "stitch": "Int64"})


def _line(strands: Strands, finding: Finding) -> dict[str, object]:
    """The line of the table for a finding."""
    row = stitch = pd.NA
    if finding.run is not None:
        row = int(strands.runs.row[finding.run]) + 1
        stitch = int(strands.stitch_number(finding.run))
    return {
        "about": finding.about,
        "row": row,
        "stitch": stitch,
        "where": finding.where,
        "finding": finding.finding,
        "what_to_do": finding.what_to_do,
    }


def _about_yarns(strands: Strands, listed: Yarns) -> Findings:
    """Letters on the chart that are not listed, and listed yarns that are not on the chart."""
    stitches = strands.chart.stitches()
    for yarn, letter in enumerate(strands.chart.letters):
        if letter in listed:
            continue
        runs = np.flatnonzero(strands.runs.yarn == yarn)
        if len(runs):
            run = int(runs[0])
            where = f"first in {place(strands, run)}"
        else:
            run, where = None, "the whole piece"
        # A yarn that is only embroidered is on no run, and has no stitches on the knitted chart.
        what = f"{letter} is embroidered"
        if stitches[letter]:
            what = f"{counted(stitches[letter], 'stitch')} of {letter}"
        yield Finding(
            "yarns",
            where,
            f"{what}, but no such yarn in yarns.csv",
            f"Add {letter} to yarns.csv, or correct the letter.",
            run,
        )
    # A yarn more than the chart has may be meant for an edging.
    for letter in listed:
        if letter not in strands.chart.letters:
            yield Finding(
                "yarns",
                "yarns.csv",
                f"{letter} is listed but not on the chart",
                "Nothing, if it is for an edging; else check the chart's letters.",
            )


def _about_letters(letters: Iterable[str]) -> Findings:
    """Letters that are easily taken for each other."""
    # In one case only, or a capital i beside a small L.
    for a, b in combinations(letters, 2):
        if a.lower() == b.lower() or {a, b} == {"I", "l"}:
            yield Finding(
                "letters",
                "the whole chart",
                f"{a} and {b} are easily taken for each other",
                "Give one of them another letter.",
            )


def _about_strays(strands: Strands) -> Findings:
    """Colour areas of a stitch or two that cost strands of their own, those that cost most first.

    An area is looked at whole: where a larger one begins or narrows to a point is no stray.
    """
    runs = strands.runs
    areas = label_areas(strands.chart, strands.how)
    area_of_run = areas[runs.chart_row, runs.lo]
    runs_of_strand = np.bincount(strands.of_run)
    # The runs of each area, in working order.
    in_order = np.argsort(area_of_run, kind="stable")
    ends = np.cumsum(np.bincount(area_of_run))
    stitches = np.bincount(areas.ravel())
    stitches[0] = 0  # no stitch
    strays = []
    for area in np.flatnonzero((stitches > 0) & (stitches <= STRAY_STITCHES)).tolist():
        own = in_order[ends[area - 1] : ends[area]]
        touched, runs_within = np.unique(strands.of_run[own], return_counts=True)
        # A strand that goes on elsewhere is needed there in any case.
        cost = int((runs_of_strand[touched] == runs_within).sum())
        if cost:
            strays.append((cost, own))
    strays.sort(key=lambda stray: (-stray[0], stray[1][0]))
    for cost, own in strays:
        yield _stray(strands, cost, own)


def _stray(strands: Strands, cost: int, own: np.ndarray) -> Finding:
    """The finding about an area, of these runs, that costs so many strands of its own."""
    runs = strands.runs
    first, last = int(own[0]), int(own[-1])
    where = place(strands, first)
    # The two workings of a ridge of garter are one row of the chart.
    if runs.chart_row[first] != runs.chart_row[last]:
        where += f", to {strands.how.row_name(int(runs.row[last]))}"
    letter = strands.chart.letters[runs.yarn[first]]
    stitches = int(runs.stitches[own].sum()) // strands.how.rows_per_chart_row
    what = f"a single {letter} costs"
    if stitches > 1:
        what = f"{stitches} stitches of {letter} on their own cost"
    in_all = "a strand and two ends"
    if cost > 1:
        in_all = f"{cost} strands and {2 * cost} ends"
    return Finding(
        "stray stitches",
        where,
        f"{what} {in_all}",
        "A slip of the pen? Else embroider it afterwards in duplicate stitch.",
        first,
    )


def _about_row_totals(strands: Strands) -> Findings:
    """Stretches of chart rows that have another number of stitches than most."""
    # What most rows have; of several totals as frequent, the smallest.
    is_worked = strands.chart.cells >= 0
    totals = is_worked.sum(axis=1)
    usual = int(np.bincount(totals).argmax())
    changes = np.flatnonzero(np.diff(totals)) + 1
    for rows in np.split(np.arange(len(totals)), changes):
        if totals[rows[0]] == usual:
            continue
        where = f"chart row {rows[0] + 1}"
        if len(rows) > 1:
            where = f"chart rows {rows[0] + 1} to {rows[-1] + 1}"
        yield Finding(
            "row totals",
            where,
            f"{totals[rows[0]]} stitches, most rows have {usual}",
            "Right if the piece is shaped there; else count the no-stitch cells.",
        )


def _about_gauge(gauge: Gauge, yarns: Yarns, units: str) -> Findings:
    """A gauge that is unusual, or far from what a yarn's band says."""
    # A slip in counting is small; a wrong unit, or a wrong length, is large.
    per_10cm = 10 / gauge.stitch_cm
    over = LENGTH_OF_A_GAUGE[units]
    density = f"{float(gauge.stitches_in(over * CM_PER[units])):.1f} stitches in {over} {units}"
    low, high = LIKELY_STITCHES_10CM
    if not low <= per_10cm <= high:
        yield Finding(
            "gauge",
            gauge.in_words(units),
            f"{density} is unusual for knitting",
            "Is the length right, and its unit?",
        )
    for letter, yarn in yarns.items():
        label = yarn.label_stitches_10cm
        if label and not 2 / 3 < per_10cm / label < 4 / 3:
            yield Finding(
                "gauge",
                f"yarn {letter}",
                f"{density}, its band says {label:g}: more than a third apart",
                f"Is the gauge counted over {over} {units}, and typed with that unit? Else knit a "
                "larger swatch.",
            )


def _about_aspect(gauge: Gauge, units: str, *, garter: bool) -> Findings:
    """Cells that are not square, and rows that do not go with the stitches."""
    aspect = float(gauge.aspect)
    cell = 2 * aspect if garter else aspect  # a chart row of garter is a ridge, two rows high
    if not SQUARE[0] <= cell <= SQUARE[1]:
        row = "ridge" if garter else "row"
        shape = "flatter" if cell < 1 else "taller"
        yield Finding(
            "aspect",
            gauge.in_words(units),
            f"a {row} is {cell:.2f} times as high as a stitch is wide, so the piece is {shape} "
            "than a chart on squares",
            "Judge the design on the chart drawn at this gauge, not on squared paper.",
        )
    # Stitches and rows exchanged give an aspect far above 1; garter's rows are flat by nature.
    low, high = LIKELY_ASPECTS
    if not garter and not low <= aspect <= high:
        yield Finding(
            "gauge",
            gauge.in_words(units),
            f"rows and stitches are far apart (aspect {aspect:.2f}; 0.7 to 0.8 is usual)",
            "Were stitches and rows exchanged?",
        )
    if garter and aspect > MOST_LIKELY_GARTER_ASPECT:
        yield Finding(
            "gauge",
            gauge.in_words(units),
            f"few rows for garter: a ridge would be {cell:.1f} stitches high",
            "Count two rows to a ridge.",
        )


def _about_rounds(strands: Strands) -> Findings:
    """Intarsia in rounds that are not turned: more strands than yarns."""
    # With one strand a yarn, each goes round and round and is where it is wanted.
    if not strands.how.is_turned and strands.count > len(strands.chart.letters):
        yield Finding(
            "rounds",
            "the whole piece",
            "in rounds each yarn is left at the far side of its area, not where the next round "
            "wants it",
            "Turn the work after each round (turned rounds), or work it flat and seam it.",
        )


def _about_colours(strands: Strands, on_chart: Yarns, listed: Yarns) -> Findings:
    """Yarns that look alike: to some eye where they touch, to any eye elsewhere."""
    # A colour that nobody has said is no yarn's.
    alike = [
        pair for pair in alike_yarns(strands, on_chart) if {pair.first, pair.second} <= set(listed)
    ]
    for pair in alike:
        where = f"yarns {pair.first} and {pair.second}"
        yield Finding("colours", where, pair.finding, pair.what_to_do, pair.run)
    told = [(pair.first, pair.second) for pair in alike]
    yarns = [listed[letter] for letter in on_chart if letter in listed]
    for a, b in combinations(yarns, 2):
        # Not a number where a colour has no distance: then nothing is found.
        distance = apart(a.colour, b.colour)
        if (a.letter, b.letter) not in told and distance < ALIKE:
            yield Finding(
                "colours",
                f"yarns {a.letter} and {b.letter}",
                f"they are hard to tell apart {ANY_EYE}, but touch nowhere",
                MARK_THE_BALLS,
            )

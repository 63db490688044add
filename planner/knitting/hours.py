"""Hours left: how long the rows to come will take, learnt from the rows marked so far.

A row takes so much for each stitch and so much for each change of yarn. Both are learnt from the
time between two marks of one sitting; rows marked together are timed together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from planner.piece import UNDONE, WORKED, Entry, rows_worked, standing
from planner.plan import Plan

PAUSE_MINUTES = 45  # a longer time between two marks is a pause (judgement)
# Nobody knits faster than two stitches a second (judgement): rows marked so soon after each other
# were worked before, and are marked together.
MINUTES_PER_STITCH = 0.5 / 60
LEAST_ROWS = 5  # timed, before anything is said
LATEST = 120  # stretches that are learnt from: hands grow quicker
# With fewer stretches, or rows that are all alike, a change counts as so many stitches, and may be
# as quick or as slow as these (judgement).
ENOUGH_TO_TELL_CHANGES = 15
CHANGE_IN_STITCHES = 3.0
QUICK_AND_SLOW_CHANGE = (1.0, 10.0)
TELLING_SPREAD = 0.02  # changes a stitch, between the quarter of the rows with least and most
BLOCKS = 10  # stretches are left out block by block, to see how far the answer hangs on them
EVENINGS_DIFFER = 0.08  # share by which one evening differs from another (judgement)
FOUR_IN_FIVE = 1.28  # standard errors to either side
MAD_TO_SPREAD = 1.4826  # of a normal distribution


@dataclass(frozen=True)
class Timed:
    """Rows worked between two marks of one sitting: what was in them, and the minutes."""

    rows: int
    stitches: float
    changes: float
    minutes: float


@dataclass(frozen=True)
class Pace:
    """Minutes that a stitch and a change of yarn take."""

    per_stitch: float
    per_change: float

    def minutes(self, stitches: np.ndarray, changes: np.ndarray) -> np.ndarray:
        """What rows with so much in them take."""
        return self.per_stitch * stitches + self.per_change * changes


@dataclass(frozen=True)
class TimeLeft:
    """Minutes that the rows to come take: the likeliest, and the range met four times in five.

    `by_row` holds the likeliest of each row to come; `timed` counts the rows learnt from.
    """

    likely: float
    low: float
    high: float
    by_row: tuple[float, ...]
    timed: int


def changes_of(plan: Plan) -> np.ndarray:
    """How often yarn is changed, begun, cut or joined in each worked row."""
    counts = [load.borders + load.starts + load.ends + load.refills for load in plan.loads]
    return np.array(counts, dtype=float)


@dataclass
class _Marked:
    """Rows that were marked together: the last of them, from 1, and when that was.

    `pressed` is when the latest of them was marked. `ripped` says that work was ripped back since
    those before.
    """

    row: int
    moment: datetime | None
    pressed: datetime | None
    ripped: bool


def timed_rows(plan: Plan, log: Sequence[Entry]) -> list[Timed]:
    """The stretches of rows whose time is known, oldest first."""
    changes = changes_of(plan)
    timed = []
    for before, after in pairwise(_marked_together(plan, log)):
        minutes = _minutes(before.moment, after.moment)
        if minutes is None or after.ripped or not 0 < minutes <= PAUSE_MINUTES:
            continue
        loads = plan.loads[before.row : after.row]
        stitches = float(sum(load.stitches for load in loads))
        changed = float(changes[before.row : after.row].sum())
        timed.append(Timed(len(loads), stitches, changed, minutes))
    return timed


def _marked_together(plan: Plan, log: Sequence[Entry]) -> list[_Marked]:
    """The rows that are worked, those together that were marked too soon after each other."""
    undone = [entry.number for entry in log if entry.what == UNDONE]
    groups: list[_Marked] = []
    last_number = 0
    for entry in standing(log):
        # After a change of the chart the log may have rows that the piece has not.
        if entry.what != WORKED or entry.row > len(plan.loads):
            continue
        moment = _moment_of(entry)
        # What was ripped back meanwhile took its time too.
        ripped = any(last_number < number < entry.number for number in undone)
        last_number = entry.number
        minutes = _minutes(groups[-1].pressed, moment) if groups else None
        least = MINUTES_PER_STITCH * plan.loads[entry.row - 1].stitches
        if minutes is not None and 0 <= minutes < least and not ripped:
            groups[-1].row, groups[-1].pressed = entry.row, moment
        else:
            groups.append(_Marked(entry.row, moment, moment, ripped))
    return groups


def _minutes(since: datetime | None, until: datetime | None) -> float | None:
    if since is None or until is None:
        return None
    return (until - since).total_seconds() / 60


def _moment_of(entry: Entry) -> datetime | None:
    """When a line was put down; None where that is not known, or a spreadsheet has changed it."""
    try:
        # Clocks that say where they stand are compared as they were read off.
        return datetime.fromisoformat(entry.moment).replace(tzinfo=None)
    except ValueError:
        return None


# ---- the pace


def pace_of(timed: Sequence[Timed]) -> Pace:
    """The pace that goes best with most of the stretches; a few that are far off do not move it.

    The median slope of all pairs of stretches (Theil 1950, Sen 1968), of minutes a stitch over
    changes a stitch, with neither below nothing.
    """
    if not _tells_changes(timed):
        return _plain_pace(timed, CHANGE_IN_STITCHES)
    fullness, minutes = _by_stitch(timed)
    first, second = np.triu_indices(len(timed), 1)
    apart = fullness[second] - fullness[first]
    differ = np.abs(apart) > TELLING_SPREAD / 2
    slopes = (minutes[second] - minutes[first])[differ] / apart[differ]
    per_change = max(0.0, float(np.median(slopes)))
    per_stitch = float(np.median(minutes - per_change * fullness))
    if per_stitch < 0:
        # All of the time goes into the changes.
        has_changes = fullness > 0
        return Pace(0.0, float(np.median(minutes[has_changes] / fullness[has_changes])))
    return Pace(per_stitch, per_change)


def _by_stitch(timed: Sequence[Timed]) -> tuple[np.ndarray, np.ndarray]:
    """Changes and minutes, each by the stitch."""
    stitches = np.array([each.stitches for each in timed])
    changes = np.array([each.changes for each in timed])
    minutes = np.array([each.minutes for each in timed])
    return changes / stitches, minutes / stitches


def _tells_changes(timed: Sequence[Timed]) -> bool:
    """Whether the stretches are many, and unlike, enough to tell what a change takes."""
    if len(timed) < ENOUGH_TO_TELL_CHANGES:
        return False
    fullness, _ = _by_stitch(timed)
    low, high = np.quantile(fullness, (0.25, 0.75))
    return bool(high - low >= TELLING_SPREAD)


def _plain_pace(timed: Sequence[Timed], change_in_stitches: float) -> Pace:
    """The pace if a change takes as long as so many stitches."""
    fullness, minutes = _by_stitch(timed)
    per_stitch = float(np.median(minutes / (1 + change_in_stitches * fullness)))
    return Pace(per_stitch, change_in_stitches * per_stitch)


def time_left(plan: Plan, log: Sequence[Entry]) -> TimeLeft | None:
    """How long the rows to come take; None where none are left, or fewer than five were timed."""
    timed = timed_rows(plan, log)[-LATEST:]
    rows_timed = sum(each.rows for each in timed)
    done = rows_worked(log)
    stitches = np.array([load.stitches for load in plan.loads[done:]], dtype=float)
    changes = changes_of(plan)[done:]
    if rows_timed < LEAST_ROWS or not len(stitches):
        return None
    delay = _usual_delay(timed)
    by_row = pace_of(timed).minutes(stitches, changes) * delay
    likely = float(by_row.sum())
    sums = [likely]
    if not _tells_changes(timed):
        for change in QUICK_AND_SLOW_CHANGE:
            pace = _plain_pace(timed, change)
            sums.append(float(pace.minutes(stitches, changes).sum()) * delay)
    # What differs from row to row averages out over many.
    of_rows = _scatter(timed) * float(np.sqrt((by_row**2).sum()))
    of_pace = _spread_of_pace(timed, stitches, changes)
    reach = FOUR_IN_FIVE * math.hypot(of_rows, of_pace, EVENINGS_DIFFER * likely)
    low = max(min(sums) - reach, likely / 3)
    return TimeLeft(likely, low, max(sums) + reach, tuple(by_row.tolist()), rows_timed)


def _ratios(timed: Sequence[Timed]) -> np.ndarray:
    """The minutes of each stretch over what the pace gives for it."""
    stitches = np.array([each.stitches for each in timed])
    changes = np.array([each.changes for each in timed])
    minutes = np.array([each.minutes for each in timed])
    expected = pace_of(timed).minutes(stitches, changes)
    # Where all goes into changes, a stretch without any tells nothing.
    return minutes[expected > 0] / expected[expected > 0]


def _scatter(timed: Sequence[Timed]) -> float:
    """By which share a row differs from what the pace gives, as a standard deviation."""
    ratios = _ratios(timed)
    return MAD_TO_SPREAD * float(np.median(np.abs(ratios - np.median(ratios))))


def _usual_delay(timed: Sequence[Timed]) -> float:
    """By what the mean of the stretches lies above the pace, which goes by their middle.

    A kettle and a telephone take their time too; what is far off counts as three deviations.
    """
    ratios = _ratios(timed)
    middle, reach = float(np.median(ratios)), 3 * _scatter(timed)
    return float(np.clip(ratios, middle - reach, middle + reach).mean())


def _spread_of_pace(timed: Sequence[Timed], stitches: np.ndarray, changes: np.ndarray) -> float:
    """By how many minutes the sum hangs on what was timed: a jackknife, block by block."""
    blocks = np.array_split(np.arange(len(timed)), min(BLOCKS, len(timed)))
    sums = []
    for block in blocks:
        left_out = set(block.tolist())
        others = [each for place, each in enumerate(timed) if place not in left_out]
        # A single stretch of several rows says nothing of how stretches differ.
        if not others:
            return 0.0
        minutes = pace_of(others).minutes(stitches, changes).sum()
        sums.append(float(minutes) * _usual_delay(others))
    return float(np.sqrt((len(sums) - 1) * np.var(sums)))


# ---- in words, and tonight


def time_in_words(left: TimeLeft) -> str:
    """The range of time left, rounded outwards: "about 6 to 9 hours", "about 40 to 60 minutes"."""
    # So long that the half hours count, then whole ones.
    step, unit, noun = (10.0, 1.0, "minutes")
    if left.high >= 90:
        step, unit, noun = (60.0 if left.high >= 240 else 30.0), 60.0, "hours"
    low = math.floor(left.low / step) * step / unit
    high = math.ceil(left.high / step) * step / unit
    if not low:
        return f"up to {high:g} {noun}"
    return f"about {low:g} to {high:g} {noun}"


def rows_tonight(left: TimeLeft, done: int, minutes: float) -> int:
    """How many rows are worked after so many minutes more, as is likely."""
    # What is worked to its end just then still counts.
    ended = np.cumsum(left.by_row) <= minutes * (1 + 1e-9)
    return done + int(ended.sum())

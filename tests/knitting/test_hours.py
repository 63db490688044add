"""Hours left, against logs of a knitter whose pace is known: pauses, forgotten marks, three at
once."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from planner.knitting import rows_tonight, time_in_words, time_left
from planner.knitting.hours import Pace, Timed, TimeLeft, changes_of, pace_of, timed_rows
from planner.piece import LEFT, UNDONE, WORKED, Entry
from tests.helpers.plans import demo, plan_of

EVENING = datetime(2026, 3, 14, 19, 30)
PER_STITCH, PER_CHANGE = 0.06, 0.25  # minutes: a thousand stitches an hour, a change 15 seconds


def marks(*lines):
    """A log of (what, row, minutes after half past seven)."""
    log = []
    for number, (what, row, minutes) in enumerate(lines, start=1):
        moment = (EVENING + timedelta(minutes=minutes)).isoformat(timespec="seconds")
        length_cm = 100.0 if what == LEFT else None
        log.append(Entry(number, "", what, row, length_cm=length_cm, moment=moment))
    return tuple(log)


def true_minutes(plan, per_change):
    stitches = np.array([load.stitches for load in plan.loads], dtype=float)
    return PER_STITCH * stitches + per_change * changes_of(plan)


def simulated(plan, done, seed, *, per_change=PER_CHANGE, scatter=0.15, forgets=0.1, evening=75):
    """The log of a knitter who works an evening at a time, and what the rows to come really take.

    What she forgot to mark is marked together with the next row. Now and then somebody calls. One
    evening is quicker than another.
    """
    rng = np.random.default_rng(seed)
    times = true_minutes(plan, per_change)
    times *= rng.lognormal(-(scatter**2) / 2, scatter, len(times))
    evenings = (np.cumsum(times) // evening).astype(int)
    times *= rng.lognormal(0, scatter / 2, len(times))[evenings]
    lines, at, this_evening = [], 0.0, 0.0
    waiting = []
    for row, minutes in enumerate(times[:done], start=1):
        call = 10.0 if rng.random() < 0.03 else 0.0
        at, this_evening = at + minutes + call, this_evening + minutes + call
        waiting.append(row)
        if rng.random() < forgets and row < done:
            continue
        lines += [(WORKED, each, at + place / 20) for place, each in enumerate(waiting)]
        waiting = []
        if this_evening > evening:
            at, this_evening = at + 22 * 60, 0.0
    return marks(*lines), float(times[done:].sum())


def test_the_pace_of_a_knitter_without_scatter_is_found():
    plan = demo()
    log, to_come = simulated(plan, 60, 1, scatter=0, forgets=0)
    log = [entry for entry in log if entry.row != 1]
    # The calls are too few to move it.
    pace = pace_of(timed_rows(plan, log))
    # Moments have whole seconds.
    assert (pace.per_stitch, pace.per_change) == pytest.approx((PER_STITCH, PER_CHANGE), rel=0.02)
    left = time_left(plan, log)
    assert left.low < to_come < left.high


@pytest.mark.parametrize("per_change", [0.1, 0.25, 0.6])
@pytest.mark.parametrize("done", [10, 30, 60])
def test_four_times_in_five_the_time_comes_out_in_the_range(done, per_change):
    """100 knitters. Four in five are promised; the range may not be idle either."""
    plan = demo()
    inside, widths = 0, []
    for seed in range(100):
        log, to_come = simulated(plan, done, seed, per_change=per_change)
        left = time_left(plan, log)
        inside += left.low <= to_come <= left.high
        widths.append((left.high - left.low) / left.likely)
    assert inside >= 72  # two standard errors below 80
    assert np.median(widths) < (1.1 if done == 10 else 0.5)


def test_a_pause_is_no_time_at_the_needles():
    plan = plan_of(["A" * 40] * 20)
    rows = [(WORKED, row, 4 * row + (600 if row > 4 else 0)) for row in range(1, 10)]
    timed = timed_rows(plan, marks(*rows))
    assert [each.minutes for each in timed] == [4] * 7  # row 5 was worked on both sides of it


def test_three_rows_marked_at_once_are_timed_together():
    """Rows 3 to 5 took twelve minutes; the marks of 4 and 5 came within seconds."""
    plan = plan_of(["A" * 40] * 20)
    log = marks(*((WORKED, row, at) for row, at in enumerate([0, 4, 16, 16.05, 16.1, 20], 1)))
    timed = timed_rows(plan, log)
    assert [(each.rows, each.stitches, each.minutes) for each in timed] == [
        (1, 40, 4),
        (3, 120, 12),
        (1, 40, 4),
    ]


def test_what_was_ripped_back_is_not_timed():
    plan = plan_of(["A" * 40] * 20)
    log = marks(
        *[(WORKED, 1, 0), (WORKED, 2, 4), (LEFT, 2, 5), (WORKED, 3, 8)],
        *[(UNDONE, 3, 12), (WORKED, 3, 20), (WORKED, 4, 24)],
    )
    assert [each.minutes for each in timed_rows(plan, log)] == [4, 4]


def test_nothing_is_said_before_five_rows_are_timed():
    plan = plan_of(["A" * 40] * 20)
    log = marks(*((WORKED, row, 4 * row) for row in range(1, 7)))
    assert time_left(plan, log[:5]) is None  # four between five marks
    # At 0.1 minutes a stitch; the yarn is cut in the last row, which counts as three stitches.
    assert time_left(plan, log).likely == pytest.approx(14 * 4 + 0.3)


def test_old_logs_and_moments_that_a_spreadsheet_changed_are_read():
    plan = plan_of(["A" * 40] * 20)
    log = marks(*((WORKED, row, 4 * row) for row in range(1, 10)))
    assert time_left(plan, [replace(entry, moment="") for entry in log]) is None
    strange = [replace(entry, moment="14.03.2026 19:34") for entry in log[:3]]
    with_zone = [replace(entry, moment=f"{entry.moment}+01:00") for entry in log[3:]]
    assert [each.minutes for each in timed_rows(plan, [*strange, *with_zone])] == [4] * 5


def test_all_rows_worked_leave_nothing():
    plan = plan_of(["A" * 40] * 8)
    assert time_left(plan, marks(*((WORKED, row, 4 * row) for row in range(1, 9)))) is None


def test_neither_stitch_nor_change_takes_less_than_nothing():
    fuller_is_quicker = [Timed(1, 50, changes, 6 - changes / 10) for changes in range(20)]
    assert pace_of(fuller_is_quicker).per_change == 0
    only_changes = [Timed(1, 50, changes, 2 * changes - 1) for changes in range(1, 21)]
    pace = pace_of(only_changes)
    assert pace.per_stitch == 0
    assert pace.per_change == pytest.approx(1.9, abs=0.1)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (365, 535, "about 6 to 9 hours"),
        (100, 170, "about 1.5 to 3 hours"),
        (42, 58, "about 40 to 60 minutes"),
        (4, 9, "up to 10 minutes"),
    ],
)
def test_a_range_in_words(low, high, words):
    assert time_in_words(TimeLeft((low + high) / 2, low, high, (), 5)) == words


def test_how_far_tonight():
    left = TimeLeft(20, 15, 25, (5.0, 5.0, 5.0, 5.0), 9)
    assert [rows_tonight(left, 10, minutes) for minutes in (4, 5, 14, 600)] == [10, 11, 12, 14]
    assert Pace(0.1, 1).minutes(np.array([50.0]), np.array([2.0])) == pytest.approx([7])

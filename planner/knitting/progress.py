"""Progress: what is left on each supply, and whether it and the yarn in hand will last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri  # the normal distribution, quickly loaded

from planner.multiplier import Multiplier
from planner.piece import (
    EXCHANGED,
    JOINED,
    LEFT,
    SHORT,
    UNDONE,
    WORKED,
    Entry,
    Yarn,
    part_title,
    rows_worked,
    standing,
)
from planner.plan import Plan
from planner.supplies import Part, fixed_lengths, run_widths
from planner.units import rounded_up, show, shown, shown_totals, whole_percent

WARN_ROWS = 3  # a supply that runs out within so many rows is dealt with now
LIKELY_PERCENT = 75  # yarn in hand that lasts with less is told to be scarce
SURE_ENOUGH = 0.95  # a supply that lasts with this chance is left alone
INSIDE = 0.90  # the multiplier lies between the earliest and the latest with this chance
LEAST_MULTIPLIER = 1.0  # yarn in a row cannot be shorter than the row is wide
ROUNDING_CM = 1e-9  # of lengths that are added up
OUT_IN = ("out_in_row_earliest", "out_in_row_likely", "out_in_row_latest")


@dataclass(frozen=True)
class LastKnown:
    """When the length of a supply was last known.

    `since` is the worked row, from 0, and `length_cm` what was there then, None if only the plan
    says; `measured_cm` is what was last measured. It `was_cut` where it was cut off in a row that
    was ripped back since: then it has just what its rows took.
    """

    since: int = 0
    length_cm: float | None = None
    measured_cm: float | None = None
    was_cut: bool = False


@dataclass(frozen=True)
class Outlook:
    """How a supply on the needles stands, cm.

    `left_cm` is what is likely left of it and `needs_cm` what its rows to come still take. `out_in`
    are the worked rows, from 1, in which it runs out at the earliest, the likeliest and the latest
    (of 90 in 100), None where it lasts; `chance` is its chance of lasting.
    """

    left_cm: float
    needs_cm: float
    out_in: tuple[int | None, ...]
    chance: float


@dataclass(frozen=True)
class YarnLasts:
    """Whether the yarn in hand at cast-on lasts, cm: what is likely used and still needed of it.

    `in_hand_cm` and `percent`, the chance that it lasts, are None where the band's metres are not
    known.
    """

    letter: str
    in_hand_cm: float | None
    used_cm: float
    needs_cm: float
    percent: int | None

    @property
    def is_likely(self) -> bool:
        """Whether it lasts as far as can be told."""
        return self.percent is None or self.percent >= LIKELY_PERCENT


class YarnByRun:
    """Yarn by run: the width of the stitches, and what does not hang on the multiplier, cm."""

    def __init__(self, plan: Plan):
        strands = plan.traced
        self.row = strands.runs.row
        self.rows = strands.runs.rows
        self.width = run_widths(strands)
        self.fixed = fixed_lengths(strands, plan.project.allow)

    def used(self, multiplier: Multiplier, runs: np.ndarray) -> float:
        """The likely yarn in these runs, cm."""
        width_cm = self.width[runs].sum()
        fixed_cm = self.fixed[runs].sum()
        return float(multiplier.value * width_cm + fixed_cm)


def will_it_last(plan: Plan, log: Sequence[Entry]) -> pd.DataFrame:
    """One row a live supply: what is left as planned and as measured, and whether that will last.

    Beside it stand what its rows still take, the row in which it runs out at the earliest, the
    likeliest and the latest (of 90 in 100; missing: it lasts), its chance of lasting in percent,
    and what to do.
    """
    done = rows_worked(log)
    by_run = YarnByRun(plan)
    yarns, units = plan.project.all_yarns, plan.project.units
    known_of = _last_known(plan, log, by_run)
    lines = []
    for held in plan.held:
        part = held.part
        known = known_of[part.title]
        hangs_until = part.last_row
        # What is bound off with hangs until then.
        if part.bind_off_cm:
            hangs_until = plan.traced.runs.rows
        # Its rows count from 0: it hangs once its strand is begun, worked yet or not, and still has
        # to last unless its last row is done too. One that begins now may have run short already.
        is_noted = known.length_cm is not None and not known.was_cut
        is_begun = part.hangs_from < done or is_noted
        if not is_begun or not part.hangs_from <= done <= hangs_until:
            continue
        measured_cm = np.nan
        if known.measured_cm is not None:
            measured_cm = known.measured_cm
        outlook = _look_out(plan, part, known, done, by_run)
        # A ball that ran short has no more to give.
        on_ball = done < held.on_ball_until() and known.length_cm != 0
        missing_cm = outlook.needs_cm - max(outlook.left_cm, 0) + 2 * plan.project.allow.tail_cm
        new = f"a new length of {show(rounded_up(missing_cm, units), units)}"
        what_to_do = _advice(outlook, yarns[part.yarn], done, on_ball=on_ball, new=new)
        # As planned, it is the same for every supply: it says something once one was measured.
        chance = None
        if is_noted or what_to_do:
            chance = _percent(outlook.chance, plan.multipliers[part.yarn])
        earliest, likely, latest = outlook.out_in
        lines.append(
            {
                "strand": part.title,
                # It may be worked out to less than nothing; no supply holds that.
                "left_planned_cm": max(outlook.left_cm, 0.0),
                "left_measured_cm": measured_cm,
                "still_needed_cm": outlook.needs_cm,
                "out_in_row_earliest": earliest,
                "out_in_row_likely": likely,
                "out_in_row_latest": latest,
                "chance_it_lasts_percent": chance,
                "what_to_do": what_to_do,
            }
        )
    # Named again, so that a piece without live supplies has the same columns.
    columns = ["strand", "left_planned_cm", "left_measured_cm", "still_needed_cm", *OUT_IN]
    columns += ["chance_it_lasts_percent", "what_to_do"]
    table = pd.DataFrame(lines, columns=columns)
    # Whole numbers that may be missing.
    table = table.astype(dict.fromkeys((*OUT_IN, "chance_it_lasts_percent"), "Int64"))
    return shown(table, plan.project.units)


def left_on_supplies(plan: Plan, log: Sequence[Entry]) -> dict[str, float]:
    """What is likely left of each part, cm, by its title, when the rows of a log are worked."""
    done, by_run = rows_worked(log), YarnByRun(plan)
    known_of = _last_known(plan, log, by_run)
    left = {}
    for held in plan.held:
        part = held.part
        left[part.title] = _look_out(plan, part, known_of[part.title], done, by_run).left_cm
    return left


def _last_known(plan: Plan, log: Sequence[Entry], by_run: YarnByRun) -> dict[str, LastKnown]:
    """What the log says last of the length of each part, by its title."""
    parts = {held.part.title: held.part for held in plan.held}
    known = dict.fromkeys(parts, LastKnown())
    stands = {entry.number for entry in standing(log)}
    done = 0
    # A newer line replaces an older one, wherever they stand in the file.
    for entry in sorted(log, key=lambda entry: entry.number):
        if entry.what == UNDONE:
            ripped = entry.row - 1, done
            for title, part in parts.items():
                known[title] = _cut_in_ripped(plan, part, known[title], by_run, ripped)
            done = min(ripped)
        elif entry.what == WORKED:
            done = entry.row
        title, since = part_title(entry.strand, entry.part), entry.rows_done
        if title not in parts or entry.number not in stands:
            continue
        if entry.what == LEFT:
            known[title] = LastKnown(since, entry.length_cm, measured_cm=entry.length_cm)
        elif entry.what == SHORT:
            known[title] = LastKnown(since, 0.0, measured_cm=0.0)
        elif entry.what == JOINED:
            # What was left of the old piece is cut away, and nobody wants to read of it.
            known[title] = LastKnown(since, entry.length_cm)
        elif entry.what == EXCHANGED and entry.other in parts:
            pair = parts[title], parts[entry.other]
            left = [
                _look_out(plan, part, known[part.title], since, by_run).left_cm for part in pair
            ]
            # Where one is not begun yet, it is begun with what hung elsewhere, and there it is
            # joined: either takes a tail more. That of its own beginning is taken off already.
            begun = [part.hangs_from < since for part in pair]
            for part, length_cm, giver_is_begun in zip(pair, left[::-1], begun[::-1], strict=True):
                more_cm = plan.project.allow.tail_cm if giver_is_begun and not all(begun) else 0.0
                known[part.title] = LastKnown(since, length_cm - more_cm)
    return known


def _cut_in_ripped(
    plan: Plan, part: Part, before: LastKnown, by_run: YarnByRun, rows: tuple[int, int]
) -> LastKnown:
    """What is known of a part when rows from one to before the other, from 0, are ripped back.

    Where it was cut off in them it has the yarn of its rows, and the tail that was left at its end:
    no more, whatever was wound.
    """
    stays, done = rows
    # What is bound off with is not cut in a row.
    is_bound_off = bool(part.bind_off_cm) and part.last_row == by_run.rows - 1
    is_cut = stays <= part.last_row < done and not is_bound_off
    if before.was_cut:
        # It stays so: ripped farther down, it gets what it had there.
        done, at_end_cm = before.since, before.length_cm or 0.0
    elif is_cut:
        at_end_cm = plan.project.allow.tail_cm
    else:
        return before
    row = by_run.row[part.runs]
    ripped = part.runs[(row >= stays) & (row < done)]
    length_cm = by_run.used(plan.multipliers[part.yarn], ripped) + at_end_cm
    return LastKnown(min(stays, done), length_cm, was_cut=True)


def _look_out(plan: Plan, part: Part, known: LastKnown, done: int, by_run: YarnByRun) -> Outlook:
    """How a supply stands when so many rows are done."""
    multiplier = plan.multipliers[part.yarn]
    tail_cm = plan.project.allow.tail_cm
    row = by_run.row[part.runs]
    is_since_known = row >= known.since
    is_worked = row < done
    since_known = part.runs[is_since_known]
    worked_since = part.runs[is_since_known & is_worked]
    to_come = part.runs[~is_worked]

    at_first_cm = known.length_cm
    if at_first_cm is None:
        # A whole strand was begun with a tail; a half has none where it begins.
        tail_at_start_cm = tail_cm if part.is_whole else 0.0
        at_first_cm = part.wound_cm - tail_at_start_cm
    left_cm = at_first_cm - by_run.used(multiplier, worked_since)
    needs_cm = by_run.used(multiplier, to_come) + tail_cm
    # It counts with the last row, and is still to come when that is worked.
    if done == by_run.rows:
        needs_cm += part.bind_off_cm
        if len(worked_since):
            left_cm += part.bind_off_cm
    # Measured when all is worked: nothing is left to chance.
    if not len(since_known):
        return Outlook(left_cm, needs_cm, (None,) * 3, float(left_cm >= needs_cm))

    # Up to each of its runs: what there is for the stitches, and how wide they are in all. The tail
    # at its end must stay.
    fixed_so_far_cm = np.cumsum(by_run.fixed[since_known])
    for_stitches_cm = at_first_cm - tail_cm - fixed_so_far_cm
    widths_cm = np.cumsum(by_run.width[since_known])
    out_in: list[int | None] = []
    # Its rows take again what they took, whatever that is.
    likely = multiplier.value
    multipliers = (likely,) * 3 if known.was_cut else _high_likely_low(multiplier)
    for value in multipliers:
        is_short = value * widths_cm > for_stitches_cm + ROUNDING_CM
        if not is_short.any():
            out_in.append(None)
            continue
        # The first run for which the yarn is too short, and its row for the knitter: from 1.
        first_short = since_known[is_short.argmax()]
        row_from_0 = int(by_run.row[first_short])
        out_in.append(row_from_0 + 1)
    # It lasts if it does up to its last run.
    chance = _chance_it_lasts(multiplier, widths_cm[-1], for_stitches_cm[-1])
    if known.was_cut:
        chance = float(out_in[1] is None)
    return Outlook(left_cm, needs_cm, out_in=tuple(out_in), chance=chance)


def _high_likely_low(multiplier: Multiplier) -> tuple[float, float, float]:
    """A multiplier at the upper end of its interval, at its likeliest, and at the lower end.

    The more yarn the stitches take, the earlier a supply runs out.
    """
    # As much lies above the interval as below it.
    below_high = (1 + INSIDE) / 2
    reach = multiplier.spread * ndtri(below_high)
    likely = multiplier.value
    low = max(likely - reach, LEAST_MULTIPLIER)
    return likely + reach, likely, low


def _advice(outlook: Outlook, yarn: Yarn, done: int, *, on_ball: bool, new: str) -> str:
    """What to do about a supply that may run out; "" if it will hardly do so.

    What is measured off is `on_ball` no more: it is cut. `new` is what would be joined.
    """
    earliest = outlook.out_in[0]
    is_short_now = outlook.left_cm < outlook.needs_cm and not outlook.chance
    if outlook.chance >= SURE_ENOUGH or (earliest is None and not is_short_now):
        return ""
    # Time enough to choose a good place for the join, or none left.
    soon = earliest is None or earliest - done <= WARN_ROWS
    when = "now" if soon else f"before row {earliest}"
    if on_ball:
        return f"{when}: take more from the ball"
    if yarn.can_be_spliced:
        return f"{when}: splice on {new}, it felts"
    return f"{when}: join {new} at a border, two ends"


def will_yarns_last(plan: Plan, log: Sequence[Entry]) -> pd.DataFrame:
    """One row a yarn: what was in hand at cast-on, and whether what is left of it will last.

    Beside it stand what is likely left, what the rows to come still take (tails included), and the
    chance in percent that what is left does. Missing where the band's metres are not known.
    """
    lines = []
    for each in how_yarns_last(plan, log):
        in_hand_cm = np.nan if each.in_hand_cm is None else each.in_hand_cm
        lines.append(
            {
                "yarn": each.letter,
                "in_hand_cm": in_hand_cm,
                "left_likely_cm": in_hand_cm - each.used_cm,
                "still_needed_cm": each.needs_cm,
                "chance_it_lasts_percent": each.percent,
            }
        )
    table = pd.DataFrame(lines).astype({"chance_it_lasts_percent": "Int64"})
    return shown_totals(table, plan.project.units)


def how_yarns_last(plan: Plan, log: Sequence[Entry]) -> list[YarnLasts]:
    """Whether what is in hand of each yarn lasts, when the rows of a log are worked."""
    used_cm = yarn_used(plan, log)
    return [_how_it_lasts(plan, letter, log, used_cm[letter]) for letter in used_cm]


def _how_it_lasts(plan: Plan, letter: str, log: Sequence[Entry], used_cm: float) -> YarnLasts:
    done, by_run = rows_worked(log), YarnByRun(plan)
    yarn, multiplier = plan.project.all_yarns[letter], plan.multipliers[letter]
    index = plan.traced.chart.letters.index(letter)
    to_come = (plan.traced.runs.yarn == index) & (by_run.row >= done)
    _, tails_to_come_cm = _tails(plan, letter, done)
    due_cm = _still_bound_off_with(plan, letter, done)
    # Embroidery comes last, when all is knitted: all of it is still to come.
    embroidered_width_cm, embroidered_tails_cm = _to_embroider(plan, letter)
    width_cm = by_run.width[to_come].sum() + embroidered_width_cm
    fixed_cm = by_run.fixed[to_come].sum() + tails_to_come_cm + embroidered_tails_cm + due_cm
    needs_cm = multiplier.value * width_cm + fixed_cm

    # Without the band's metres nobody knows what was in hand.
    if not yarn.metres_per_ball:
        return YarnLasts(letter, None, used_cm, needs_cm, None)
    in_hand_cm = 100 * yarn.metres_per_ball * sum(yarn.balls)
    for_stitches_cm = in_hand_cm - used_cm - fixed_cm
    lasts = _chance_it_lasts(multiplier, width_cm, for_stitches_cm)
    # With no stitch to come its length alone says whether it does for the binding off.
    if not width_cm and fixed_cm > ROUNDING_CM:
        lasts = float(for_stitches_cm >= -ROUNDING_CM)
    percent = _percent(lasts, multiplier, sure=not width_cm)
    return YarnLasts(letter, in_hand_cm, used_cm, needs_cm, percent)


def yarn_used(plan: Plan, log: Sequence[Entry]) -> dict[str, float]:
    """What is likely used of each yarn so far, cm, by its letter; tails of what is begun count."""
    done = rows_worked(log)
    by_run = YarnByRun(plan)
    used_cm = {}
    for index, letter in enumerate(plan.traced.chart.letters):
        worked = np.flatnonzero((plan.traced.runs.yarn == index) & (by_run.row < done))
        tails_cm, _ = _tails(plan, letter, done)
        worked_cm = by_run.used(plan.multipliers[letter], worked)
        used_cm[letter] = worked_cm + tails_cm - _still_bound_off_with(plan, letter, done)
    return used_cm


def _still_bound_off_with(plan: Plan, letter: str, done: int) -> float:
    """What is bound off with when the last row is worked, cm; before, it counts with that row."""
    if done != plan.traced.runs.rows:
        return 0.0
    parts = [held.part for held in plan.held if held.part.yarn == letter]
    return sum(part.bind_off_cm for part in parts)


def _tails(plan: Plan, letter: str, done: int) -> tuple[float, float]:
    """Tails of a yarn that are used when so many rows are done, and those to come, cm."""
    tail_cm = plan.project.allow.tail_cm
    begun_cm = to_come_cm = 0.0
    for held in plan.held:
        if held.part.yarn != letter:
            continue
        # A strand takes both its tails when it is begun: the last is kept back for it. So does a
        # refill, with two more.
        rows = [(held.part.hangs_from, held.part.tails_cm)]
        rows += [(row, 2 * tail_cm) for row in plan.joins[held.part.title]]
        for row, tails_cm in rows:
            if row < done:
                begun_cm += tails_cm
            else:
                to_come_cm += tails_cm
    return begun_cm, to_come_cm


def _to_embroider(plan: Plan, letter: str) -> tuple[float, float]:
    """What is embroidered in a yarn, cm: the width that takes as much if knitted, and tails."""
    embroidery, allow = plan.to_embroider, plan.project.allow
    of_yarn = embroidery.yarn == letter
    stitches = float(embroidery.stitches[of_yarn].sum())
    width_cm = stitches * plan.project.gauge.stitch_cm * allow.embroider_factor
    return width_cm, 2 * allow.tail_cm * int(of_yarn.sum())


def _percent(chance: float, multiplier: Multiplier, *, sure: bool = False) -> int:
    """A chance in percent; only a multiplier that is taken as exact leaves nothing to it."""
    return whole_percent(chance, sure=sure or not multiplier.spread)


def _chance_it_lasts(multiplier: Multiplier, width_cm: float, length_cm: float) -> float:
    """The chance that stitches of this width take no more than this length."""
    # Nothing is left to work: whatever the multiplier, that takes no yarn.
    if not width_cm:
        return 1.0
    chances_short = multiplier.chance_over(width_cm, length_cm)
    return 1 - float(chances_short[0])

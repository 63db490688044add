"""Ripping back: what then hangs where on the needle, what comes back, and what is long enough.

What is ripped is taken back in the log as the workbook does it, whole rows, and what follows is
planned from there: so the cards go on where the needle is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from planner.knitting import YarnByRun, left_on_supplies, taken_back_to, what_comes_undone
from planner.mending.cure import KNIT_BACK, MAY_STAY, NO_SOURCE, RIP, Cure
from planner.mending.spots import TWISTED, Fault, Work
from planner.piece import BALL, HAIRY, LEFT, Entry, Yarn, notes_in_row, part_title, standing
from planner.plan import Plan, make_plan
from planner.rows import SEWN_ROWS
from planner.supplies import Held, Part
from planner.units import counted, rounded_up, show

# Two sums of the same lengths; what is less than this is no length.
NOTHING_CM = 0.05
KINKED = (
    "What comes back is kinked and knits up unevenly at first; blocking evens it out "
    f"({NO_SOURCE})."
)
HAIRY_YARN = (
    "{} is hairy: rip it stitch by stitch, and never leave it to be pulled through; cut off what "
    f"is frayed, and do not rip it twice ({NO_SOURCE})."
)
FROM_CAST_ON = "from its section of the cast-on"
NOT_FARTHER = "Draw gently where the yarn catches, and rest your hands."


@dataclass(frozen=True)
class ComesBack:
    """How a part stands when some rows are ripped back, lengths in cm.

    `place` says where it hangs, "" where it does not hang any more. `comes_back_cm` is its yarn in
    the rows that are ripped, `has_cm` all that there is of it then, None where it is fed from a
    ball or nobody knows, and `needs_cm` what its rows to come take, the tail at its end included.
    `cut_in` and `wanted_in` are worked rows from 1, None where it was not cut, or is wanted at
    once; `is_wanted` is False where the plan has no more use for it. `joins` counts the joins that
    are opened; `is_measured` says that what it has was measured in what is ripped.
    """

    title: str
    yarn: str
    place: str
    comes_back_cm: float
    has_cm: float | None
    needs_cm: float
    cut_in: int | None = None
    wanted_in: int | None = None
    is_wanted: bool = True
    joins: int = 0
    is_measured: bool = False

    @property
    def missing_cm(self) -> float:
        """What it is short of, cm; 0 where it is long enough."""
        if self.has_cm is None or not self.is_wanted:
            return 0.0
        missing = self.needs_cm - self.has_cm
        return missing if missing > NOTHING_CM else 0.0


@dataclass(frozen=True, eq=False)
class Ripped:
    """What is so when all rows after `stays` (from 1; 0 is none) are ripped back.

    `rows` and `stitches` are knitted again; `undone` is what the hands meet, the last row first;
    `supplies` are the parts, those that hang in the order in which the next row meets them; `plan`
    is the plan that follows.
    """

    stays: int
    rows: int
    stitches: int
    undone: tuple[str, ...]
    supplies: tuple[ComesBack, ...]
    sewn_in: int
    plan: Plan


def rip_back(plan: Plan, stays: int) -> Ripped:
    """What is so when the piece is ripped back to a worked row (from 1), which stays.

    Raises PlanError where that row is not the last but one or earlier of those that are worked.
    """
    work = Work(plan)
    log = plan.project.progress
    mark = taken_back_to(plan, log, stays)
    last = max(log, key=lambda entry: entry.number)
    entry = Entry(last.number + 1, last.date, mark.what, mark.row)
    after = make_plan(replace(plan.project, progress=(*log, entry)))
    needle = work.walk.needle
    ripped_rows = range(stays, work.done)
    return Ripped(
        stays=stays,
        rows=len(ripped_rows) + bool(work.begun),
        stitches=sum(needle.count(row) for row in ripped_rows) + work.begun,
        undone=tuple(what_comes_undone(plan, log, stays)),
        supplies=tuple(_supplies(work, after, stays)),
        sewn_in=_may_be_sewn_in(work, stays),
        plan=after,
    )


def _may_be_sewn_in(work: Work, stays: int) -> int:
    """How many ends there may be that are sewn in along rows that are ripped."""
    along = SEWN_ROWS * work.how.rows_per_chart_row
    ends = 0
    for end in work.plan.ends_to_sew:
        highest = end.row + along if end.upwards else end.row
        # What lies higher than the needle cannot be sewn in yet.
        ends += end.from_row <= work.done and highest >= stays
    return ends


# ---- what hangs where


def hanging_places(plan: Plan, stays: int) -> dict[str, str]:
    """Where each yarn hangs when a row (from 1) is the last one worked, by its title.

    In the order in which the next row meets them, and in words: by the runs on the needle.
    """
    if not stays:
        return {}
    card = plan.cards[stays - 1]
    work = Work(plan)
    lines = card.lines
    names = [work.run_words(run) for run in _runs_of(work, stays - 1)]
    widths = [line.stitches for line in lines]
    # As the next row meets them: turned, that is the other way than they were worked.
    row = min(stays, plan.traced.runs.rows - 1)
    meets_leftwards = work.leftwards[row]
    if stays == plan.traced.runs.rows:
        meets_leftwards = not work.leftwards[stays - 1]
    if meets_leftwards != work.leftwards[stays - 1]:
        names, widths = names[::-1], widths[::-1]
    total = sum(widths)
    found = []
    for title, edge in card.hanging:
        left = work.walk.needle.left_of(stays - 1, edge)
        before = total - left if meets_leftwards else left
        found.append((before, title, _place(before, names, widths)))
    return {title: place for _, title, place in sorted(found)}


def _runs_of(work: Work, row: int) -> list[int]:
    """The runs of a worked row, in working order."""
    found: list[int] = np.flatnonzero(work.strands.runs.row == row).tolist()
    return found


def _place(before: int, names: list[str], widths: list[int]) -> str:
    """A place on the needle after so many stitches, by the runs that lie there."""
    if before <= 0:
        return "where the next row begins"
    so_far = 0
    for number, width in enumerate(widths):
        if before < so_far + width:
            if before == so_far:
                return f"between {names[number - 1]} and {names[number]}"
            return f"behind {names[number]}, after {before - so_far} of them"
        so_far += width
    return "where the next row ends"


# ---- what comes back


def _supplies(work: Work, after: Plan, stays: int) -> Iterator[ComesBack]:
    """How each part stands that hangs then, or that comes out of the rows that are ripped."""
    plan = work.plan
    in_hand = _InHand(work, after, stays)
    held_after = {held.part.title: held for held in after.held}
    wanted = YarnByRun(after)
    places = hanging_places(after, stays)
    by_title = {held.part.title: held for held in plan.held}
    # A yarn that hung there, but that the plan does not take up again, hangs nevertheless.
    for title, place in hanging_places(plan, stays).items():
        places.setdefault(title, place)
    for title, place in places.items():
        now = held_after.get(title)
        needs = _Needs(now.part, wanted, after, stays) if now else None
        if title in by_title:
            yield in_hand.stands(by_title[title], needs, place)
        elif needs:
            # Another plan may begin from its middle what was knitted whole; then nobody knows.
            yield ComesBack(title, needs.part.yarn, place, 0.0, None, needs.with_last_tail_cm)
    for held in plan.held:
        part = held.part
        # A section that is cast on stays, and its yarn hangs from it.
        if not stays and part.cast_on_cm:
            now = held_after.get(part.title)
            needs = _Needs(now.part, wanted, after, stays) if now else None
            yield in_hand.stands(held, needs, FROM_CAST_ON)
            continue
        if part.title in places or not stays <= part.hangs_from < work.done:
            continue
        now = held_after.get(part.title)
        is_same = now is not None and _begins_alike(plan, part, after, now.part)
        needs = _Needs(now.part, wanted, after, stays) if now and is_same else None
        yield in_hand.stands(held, needs, place="")


def _begins_alike(plan: Plan, part: Part, after: Plan, now: Part) -> bool:
    """Whether a part begins at the same place in both plans."""
    return bool(plan.traced.runs.place[part.first_run] == after.traced.runs.place[now.first_run])


class _Needs:
    """What a part of the plan that follows needs from the row on that is next, cm."""

    def __init__(self, part: Part, wanted: YarnByRun, after: Plan, stays: int):
        self.part = part
        self.hangs_from = part.hangs_from
        to_come = part.runs[wanted.row[part.runs] >= stays]
        stitches_cm = wanted.used(after.multipliers[part.yarn], to_come)
        cast_on_cm = 0.0 if stays else part.cast_on_cm
        self.with_last_tail_cm = stitches_cm - cast_on_cm + after.project.allow.tail_cm
        # A half has no tail where it begins.
        self.in_all_cm = stitches_cm + part.tails_cm


class _InHand:
    """What there is of each part when rows are ripped back."""

    def __init__(self, work: Work, after: Plan, stays: int):
        self.work, self.stays = work, stays
        self.plan = work.plan
        self.by_run = YarnByRun(work.plan)
        log = work.plan.project.progress
        self.left = left_on_supplies(work.plan, log)
        self.left_after = left_on_supplies(after, after.project.progress)
        # What was noted of each part in the rows that are ripped.
        self.noted: dict[str, set[str]] = {}
        for entry in standing(log):
            if entry.rows_done > stays and entry.strand:
                title = part_title(entry.strand, entry.part)
                self.noted.setdefault(title, set()).add(entry.what)

    def comes_back_cm(self, part: Part) -> float:
        """The yarn of a part in the rows that are ripped, cm."""
        row = self.by_run.row[part.runs]
        is_ripped = (row >= self.stays) & (row < self.work.done)
        used = self.by_run.used(self.plan.multipliers[part.yarn], part.runs[is_ripped])
        # Binding off counts with the last row, and is still to come when that is worked.
        is_due = self.work.done == self.by_run.rows and part.bind_off_cm and is_ripped.any()
        return used - part.bind_off_cm if is_due else used

    def is_cut(self, part: Part) -> bool:
        """Whether a part is cut off by now, after its last row."""
        is_bound_off = bool(part.bind_off_cm) and self.work.done == self.by_run.rows
        return part.last_row < self.work.done and not is_bound_off

    def is_measured(self, part: Part) -> bool:
        """Whether what is left of a part was measured in what is ripped, and stayed one piece."""
        return self.noted.get(part.title) == {LEFT} and not self.joins(part)

    def joins(self, part: Part) -> int:
        """How many of its joins are opened in ripping."""
        rows = self.plan.joins[part.title]
        return sum(self.stays <= row < self.work.done for row in rows)

    def has_cm(self, held: Held) -> float | None:
        """What there is of a part from where it hangs, cm; None where it is fed from a ball."""
        part = held.part
        if self.is_cut(part):
            return self.comes_back_cm(part) + self.plan.project.allow.tail_cm
        # With the rows all that was noted in them is taken back; a measurement is worth keeping.
        if self.is_measured(part):
            return self.left[part.title] + self.comes_back_cm(part)
        if held.supply == BALL and self.work.done < held.on_ball_until():
            return None
        if part.title in self.left_after and part.hangs_from < self.stays:
            return self.left_after[part.title]
        return self.left[part.title] + self.comes_back_cm(part)

    def stands(self, held: Held, needs: _Needs | None, place: str) -> ComesBack:
        """How a part stands: hanging at a place, or, without one, come out whole."""
        part = held.part
        has_cm = self.has_cm(held)
        comes_back_cm = self.comes_back_cm(part)
        if place == FROM_CAST_ON:
            # What is cast on with it is neither ripped nor needed again.
            comes_back_cm -= part.cast_on_cm
            has_cm = None if has_cm is None else has_cm - part.cast_on_cm
        # What comes out whole has the tail of its beginning, too; a half begins with none.
        if has_cm is not None and not place and part.is_whole:
            has_cm += self.plan.project.allow.tail_cm
        needs_cm, wanted_in = 0.0, None
        if needs is not None:
            needs_cm = needs.with_last_tail_cm if place else needs.in_all_cm
            wanted_in = None if place else needs.hangs_from + 1
        return ComesBack(
            part.title,
            part.yarn,
            place,
            comes_back_cm=comes_back_cm,
            has_cm=has_cm,
            needs_cm=needs_cm,
            cut_in=part.last_row + 1 if self.is_cut(part) else None,
            wanted_in=wanted_in,
            is_wanted=needs is not None,
            joins=self.joins(part),
            is_measured=bool(place) and self.is_measured(part) and not self.is_cut(part),
        )


# ---- in words


def standing_in_words(plan: Plan, each: ComesBack) -> str:
    """What is to be done with a part: whether it is long enough, and what is wound or joined."""
    units = plan.project.units
    yarn = plan.project.all_yarns[each.yarn]
    word = plan.traced.how.row_word
    if not each.is_wanted:
        if each.place:
            return "the plan has no more use for it: cut it and leave a tail"
        return "not wanted any more; keep it for mending"
    if each.missing_cm:
        return _too_short(plan, each, yarn)
    if each.has_cm is None:
        return "from its ball: wind what comes back onto it"
    has = show(each.has_cm, units)
    needs = show(each.needs_cm, units)
    if each.joins:
        enough = f"{has} in all, in {each.joins + 1} pieces: join them again where they were joined"
    elif each.cut_in is not None:
        enough = f"{has} with its tail, just what it takes again, if the tail is not trimmed yet"
    else:
        enough = f"{has} in all, and it takes {needs}: long enough"
    if each.place:
        return enough
    return f"{enough}; keep it for {word} {each.wanted_in}"


def _too_short(plan: Plan, each: ComesBack, yarn: Yarn) -> str:
    """What is done about a part that is not long enough any more."""
    units = plan.project.units
    short = show(rounded_up(each.missing_cm, units), units)
    length = show(_new_cm(plan, each), units)
    if not each.place:
        return (
            f"{short} too short: wind {length} anew for {plan.traced.how.row_word} {each.wanted_in}"
        )
    if yarn.can_be_spliced:
        return f"{short} too short: splice on {length} when it runs out, it felts"
    return f"{short} too short: join {length} at a border when it runs out, two ends"


def _new_cm(plan: Plan, each: ComesBack) -> float:
    """What is cut anew for a part that is not long enough, cm, rounded up."""
    new_cm = each.missing_cm + 2 * plan.project.allow.tail_cm if each.place else each.needs_cm
    return rounded_up(new_cm, plan.project.units)


def rip(work: Work, fault: Fault) -> Cure:
    """Ripping back to the row below a fault, and knitting up again."""
    stays = min(stitch.row for stitch in fault.stitches)
    if stays == work.done:
        word = work.how.row_word
        return Cure(RIP, barred=f"It is in the {word} on the needles: knit back to it.")
    ripped = rip_back(work.plan, stays)
    ends = 0
    yarn_cm = 0.0
    for each in ripped.supplies:
        if each.missing_cm:
            yarn_cm += _new_cm(work.plan, each)
            is_joined = each.place and not work.plan.project.all_yarns[each.yarn].can_be_spliced
            ends += 2 if is_joined else 0
    return Cure(
        RIP,
        rows=ripped.rows,
        stitches=ripped.stitches,
        ends=ends,
        yarn_cm=yarn_cm,
        steps=tuple(_steps(work, ripped)),
        mind=tuple(_mind(work, ripped, fault)),
        stays=stays,
    )


def _steps(work: Work, ripped: Ripped) -> Iterator[str]:
    """What is done in ripping back, in order."""
    how, stays, word = work.how, ripped.stays, work.how.row_word
    if ripped.sewn_in:
        ends = counted(ripped.sewn_in, "end")
        yield f"Where any of the {ends} that lie in these {word}s is sewn in, draw it out first."
    if stays:
        count = counted(work.walk.needle.count(stays - 1), "stitch")
        yield (
            f"Run a smooth thread through every stitch of {how.row_name(stays - 1)}, {count}, from "
            "edge to edge: nothing runs farther down than that."
        )
        yield (
            f"Take the needle out and rip {counted(ripped.rows, word)}, down to the thread. At a "
            "border take the yarns apart as they come."
        )
    else:
        casts_on = work.plan.project.allow.cast_on
        if casts_on:
            yield (
                f"Take the needle out and rip {counted(ripped.rows, word)}, down to the cast-on, "
                "which stays: put its loops back on the needle."
            )
        else:
            yield f"Take the needle out and rip {counted(ripped.rows, word)}: all that is knitted."
    if ripped.undone:
        yield f"On the way: {'; '.join(ripped.undone)}."
    if stays:
        yield (
            f"Put the stitches back on the needle along the thread, none of them twisted, its tip "
            f"where {word} {stays + 1} begins, and count them: {count}. Draw the thread out."
        )
        yield f"Go on with the card of {word} {stays + 1}."
    else:
        yield f"Begin again with the card of {word} 1."


def _mind(work: Work, ripped: Ripped, fault: Fault) -> Iterator[str]:
    """What to mind in ripping back."""
    yarns = work.plan.project.all_yarns
    letters = {each.yarn for each in ripped.supplies if each.comes_back_cm}
    for letter in sorted(letters):
        if yarns[letter].surface == HAIRY:
            yield HAIRY_YARN.format(yarns[letter].name or letter)
    yield KINKED
    yield NOT_FARTHER
    if fault.what == TWISTED:
        yield MAY_STAY


def knit_back(work: Work, fault: Fault) -> Cure | None:
    """Knitting back to a fault in the last row, stitch by stitch; None where it is farther down."""
    rows = {stitch.row for stitch in fault.stitches}
    last = work.done if work.begun else work.done - 1
    if rows != {last}:
        return None
    first = min(fault.stitches, key=work.number)
    worked = work.begun or work.walk.needle.count(last)
    after = work.number(first) - 1
    back = worked - after
    is_begun = bool(work.begun)
    log = work.plan.project.progress
    steps = [
        f"Knit back {counted(back, 'stitch')}, one by one, as far as {work.words(first)}: "
        "put the tip of the left needle into the stitch below each from the front, let it slip off "
        "the other needle, and draw its yarn out. At a border take the yarns apart as they come."
    ]
    if not is_begun:
        undone = what_comes_undone(work.plan, log, last)
        if undone:
            steps.append(f"As far as you come to it on the way: {'; '.join(undone)}.")
    if notes_in_row(log, work.done + 1) and is_begun:
        steps.append("A note that was made farther on in this row does not hold any more.")
    name = work.how.row_name(last)
    steps.append(f"Go on with the card of {name} from there.")
    return Cure(
        KNIT_BACK,
        rows=1,
        stitches=back,
        steps=tuple(steps),
        stays=None if is_begun else last,
        after=after,
    )

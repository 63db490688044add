"""In hand: what there is of each supply when rows are ripped back, and whether that is enough."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.knitting import YarnByRun, left_on_supplies
from planner.mending.hanging import hanging_places
from planner.mending.spots import Work
from planner.piece import BALL, LEFT, Yarn, part_title, standing
from planner.plan import Plan
from planner.supplies import Held, Part
from planner.units import rounded_up, show

# Two sums of the same lengths; what is less than this is no length.
NOTHING_CM = 0.05
FROM_CAST_ON = "from its section of the cast-on"


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


def supplies_in_hand(work: Work, after: Plan, stays: int) -> Iterator[ComesBack]:
    """How each part stands when a row (from 1) is the last that stays, `after` the plan then.

    First those that hang, in the order in which the next row meets them; then what comes out whole.
    """
    in_hand = _InHand(work, after, stays)
    held_now = {held.part.title: held for held in work.plan.held}
    places = hanging_places(after, stays)
    # A yarn that hung there, but that the plan does not take up again, hangs nevertheless.
    for title, place in hanging_places(work.plan, stays).items():
        places.setdefault(title, place)
    for held in work.plan.held:
        # A section that is cast on stays, and its yarn hangs from it.
        if not stays and held.part.cast_on_cm:
            places[held.part.title] = FROM_CAST_ON

    for title, place in places.items():
        needs = in_hand.needs_of(title)
        if title in held_now:
            yield in_hand.stands(held_now[title], needs, place)
        elif needs is not None:
            # Another plan may begin from its middle what was knitted whole; then nobody knows.
            needs_cm = needs.with_last_tail_cm
            yield ComesBack(title, needs.part.yarn, place, 0.0, has_cm=None, needs_cm=needs_cm)

    for title, held in held_now.items():
        is_ripped = stays <= held.part.hangs_from < work.done
        if is_ripped and title not in places:
            yield in_hand.stands(held, in_hand.needs_alike(held.part), place="")


class _Needs:
    """What a part of the plan that follows takes from the next row on, cm."""

    def __init__(self, part: Part, wanted: YarnByRun, after: Plan, stays: int):
        self.part = part
        row = wanted.row[part.runs]
        to_come = part.runs[row >= stays]
        stitches_cm = wanted.used(after.multipliers[part.yarn], to_come)
        # A half has no tail where it begins.
        self.in_all_cm = stitches_cm + part.tails_cm
        # Ripped down to the cast-on, what is cast on stays.
        cast_on_cm = 0.0 if stays else part.cast_on_cm
        tail_cm = after.project.allow.tail_cm
        self.with_last_tail_cm = stitches_cm - cast_on_cm + tail_cm


class _InHand:
    """What there is of each part when rows are ripped back."""

    def __init__(self, work: Work, after: Plan, stays: int):
        self.work, self.after, self.stays = work, after, stays
        self.plan = work.plan
        self.by_run, self.wanted = YarnByRun(work.plan), YarnByRun(after)
        self.parts_after = {held.part.title: held.part for held in after.held}
        log = work.plan.project.progress
        log_after = after.project.progress
        self.left = left_on_supplies(work.plan, log)
        self.left_after = left_on_supplies(after, log_after)
        # What was noted of each part in the rows that are ripped.
        self.noted: dict[str, set[str]] = {}
        for entry in standing(log):
            is_ripped = entry.rows_done > stays
            if is_ripped and entry.strand:
                title = part_title(entry.strand, entry.part)
                noted = self.noted.setdefault(title, set())
                noted.add(entry.what)

    def needs_of(self, title: str) -> _Needs | None:
        """What a part takes in the plan that follows; None where that has none of this title."""
        if title not in self.parts_after:
            return None
        return _Needs(self.parts_after[title], self.wanted, self.after, self.stays)

    def needs_alike(self, part: Part) -> _Needs | None:
        """What the part of this title takes then, if it begins at the same place as this one."""
        needs = self.needs_of(part.title)
        if needs is None:
            return None
        # Strands are numbered in the order of first need, so a title may be another's then.
        place_now = self.plan.traced.runs.place[part.first_run]
        place_after = self.after.traced.runs.place[needs.part.first_run]
        return needs if place_now == place_after else None

    def comes_back_cm(self, part: Part) -> float:
        """The yarn of a part in the rows that are ripped, cm."""
        row, done = self.by_run.row[part.runs], self.work.done
        is_ripped = (row >= self.stays) & (row < done)
        ripped_runs = part.runs[is_ripped]
        multiplier = self.plan.multipliers[part.yarn]
        used = self.by_run.used(multiplier, ripped_runs)
        # Binding off counts with the last row, and is still to come when that is worked.
        is_whole = done == self.by_run.rows
        is_due = is_whole and part.bind_off_cm and is_ripped.any()
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
        part, title = held.part, held.part.title
        comes_back_cm = self.comes_back_cm(part)
        if self.is_cut(part):
            tail_cm = self.plan.project.allow.tail_cm
            return comes_back_cm + tail_cm
        # With the rows all that was noted in them is taken back; a measurement is worth keeping.
        if self.is_measured(part):
            return self.left[title] + comes_back_cm
        is_on_ball = held.supply == BALL and self.work.done < held.on_ball_until()
        if is_on_ball:
            return None
        hung_before = part.hangs_from < self.stays
        if title in self.left_after and hung_before:
            return self.left_after[title]
        return self.left[title] + comes_back_cm

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
            wanted_in = None if place else needs.part.hangs_from + 1
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
    length = show(new_cm(plan, each), units)
    if not each.place:
        return (
            f"{short} too short: wind {length} anew for {plan.traced.how.row_word} {each.wanted_in}"
        )
    if yarn.can_be_spliced:
        return f"{short} too short: splice on {length} when it runs out, it felts"
    return f"{short} too short: join {length} at a border when it runs out, two ends"


def new_cm(plan: Plan, each: ComesBack) -> float:
    """What is cut anew for a part that is not long enough, cm, rounded up."""
    new_cm = each.missing_cm + 2 * plan.project.allow.tail_cm if each.place else each.needs_cm
    return rounded_up(new_cm, plan.project.units)

"""Ripping back: what then hangs where on the needle, what comes back, and what is long enough.

What is ripped is taken back in the log as the workbook does it, whole rows, and what follows is
planned from there: so the cards go on where the needle is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.finishing import ends_to_draw_out, ends_to_run
from planner.knitting import taken_back_to, what_comes_undone
from planner.mending.covering import touching
from planner.mending.cure import KNIT_BACK, MAY_STAY, NO_SOURCE, RIP, Cure
from planner.mending.in_hand import ComesBack, new_cm, supplies_in_hand
from planner.mending.spots import TWISTED, WRONG_YARN, Fault, Stitch, Work
from planner.mending.tails import TAILS, begun_for, rows_in_words
from planner.piece import HAIRY, Entry, notes_in_row
from planner.plan import Plan, make_plan
from planner.units import counted, show_measured

KINKED = (
    "What comes back is kinked and knits up unevenly at first; blocking evens it out "
    f"({NO_SOURCE})."
)
HAIRY_YARN = (
    "{} is hairy: rip it stitch by stitch, and never leave it to be pulled through; cut off what "
    f"is frayed, and do not rip it twice ({NO_SOURCE})."
)
ENDS_OF_ITS_OWN = (
    "The wrong {yarn} has {ends} of its own by the plan: draw out first what is sewn in of them."
)
COMES_OUT = "The wrong {yarn} in {rows} comes out too, about {length} of it"
PUT_ASIDE = (
    "{comes_out} with its tails. By the plan no {yarn} hangs there, so it was begun for these "
    "stitches: wind it up by itself and put it aside. If it went on to other stitches after all, "
    "wind it up with what comes out of those."
)
GOES_BACK = (
    "{comes_out}: wind it up again with the {yarn} that it comes from. Only if it was a length of "
    "its own, begun for these stitches, draw out its ends and put it aside."
)
NOT_FARTHER = "Draw gently where the yarn catches, and rest your hands."


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
    # As the workbook takes rows back, so that the cards go on from the very plan told of here.
    mark = taken_back_to(plan, log, stays)
    # Lines hold in the order of their numbers, wherever they stand in the file.
    last = max(log, key=lambda entry: entry.number)
    entry = Entry(last.number + 1, last.date, mark.what, mark.row)
    after = make_plan(replace(plan.project, progress=(*log, entry)))
    needle = work.walk.needle
    ripped_rows = range(stays, work.done)
    return Ripped(
        stays=stays,
        rows=len(ripped_rows) + bool(work.begun),
        stitches=sum(needle.count(row) for row in ripped_rows) + work.begun,
        undone=tuple(comes_undone(plan, stays)),
        supplies=tuple(supplies_in_hand(work, after, stays)),
        sewn_in=_may_be_sewn_in(work, stays),
        plan=after,
    )


def comes_undone(plan: Plan, stays: int) -> list[str]:
    """What the hands meet in ripping back to a row (from 1), which stays, in order.

    First come the ends that hang in rows that stay and were run along those that go.
    """
    met = what_comes_undone(plan, plan.project.progress, stays)
    ends = ends_to_draw_out(plan, stays)
    reach_up = [words for each, words in ends.items() if each.end.row < stays]
    return [*reach_up, *met]


def _may_be_sewn_in(work: Work, stays: int) -> int:
    """How many ends there may be that are sewn in along rows that are ripped."""
    ends = 0
    for each in ends_to_run(work.plan):
        # What lies higher than the needle cannot be sewn in yet.
        ends += stays < each.from_row <= work.done
    return ends


# ---- as a cure


def rip(work: Work, fault: Fault) -> Cure:
    """Ripping back to the row below a fault, and knitting up again."""
    stays = min(stitch.row for stitch in fault.stitches)
    # A row that is begun cannot be ripped as a whole: its second half hangs from the row below.
    if stays == work.done:
        word = work.how.row_word
        return Cure(RIP, barred=f"It is in the {word} on the needles: knit back to it.")
    ripped = rip_back(work.plan, stays)
    ends = 0
    yarn_cm = 0.0
    for each in ripped.supplies:
        if each.missing_cm:
            yarn_cm += new_cm(work.plan, each)
            # What felts is spliced and leaves no end; what hangs nowhere is wound anew as one
            # piece.
            is_joined = each.place and not work.plan.project.all_yarns[each.yarn].can_be_spliced
            ends += 2 if is_joined else 0
    return Cure(
        RIP,
        rows=ripped.rows,
        stitches=ripped.stitches,
        ends=ends,
        yarn_cm=yarn_cm,
        steps=tuple(_steps(work, ripped, fault)),
        mind=tuple(_mind(work, ripped, fault)),
        stays=stays,
    )


def _steps(work: Work, ripped: Ripped, fault: Fault) -> Iterator[str]:
    """What is done in ripping back, in order."""
    how, stays, word = work.how, ripped.stays, work.how.row_word
    # An end that is sewn in holds the rows together: ripping against it tears the yarn.
    if ripped.sewn_in:
        lie = "end that lies" if ripped.sewn_in == 1 else "ends that lie"
        yield f"Of {ripped.sewn_in} {lie} in these {word}s, draw out first what is sewn in."
    wrong = _Wrong(work, fault)
    yield from wrong.ends_in_words()
    if stays:
        count = counted(work.walk.needle.count(stays - 1), "stitch")
        yield (
            f"Run a smooth thread through every stitch of {how.row_name(stays - 1)}, {count} in "
            "all: nothing runs farther down than that."
        )
        yield (
            f"Take the needle out and rip {counted(ripped.rows, word)}, down to the thread. At a "
            "border take the yarns apart as they come."
        )
    else:
        # A chart that is set into a larger piece has no cast-on of its own to stop at.
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
    yield from wrong.what_becomes_of_it()
    if stays:
        yield (
            f"Put the stitches back on the needle along the thread, none of them twisted, its tip "
            f"where {word} {stays + 1} begins, and count them: {count}. Draw the thread out."
        )
        yield f"Go on with the card of {word} {stays + 1}."
    else:
        yield f"Begin again with the card of {word} 1."


class _Wrong:
    """The yarn that some stitches were knitted in by mistake, as it comes out with their rows."""

    def __init__(self, work: Work, fault: Fault):
        self.work, self.yarn = work, fault.in_yarn
        # Two cases that end differently: what was begun for these stitches alone, and what hangs
        # there by the plan and goes on.
        self.begun: list[tuple[Stitch, ...]] = []
        self.hanging: list[tuple[Stitch, ...]] = []
        if fault.what == WRONG_YARN:
            for group in touching(work, fault.stitches):
                is_begun = begun_for(work, group, self.yarn)
                (self.begun if is_begun else self.hanging).append(group)

    def ends_in_words(self) -> list[str]:
        """That its own ends are drawn out before anything is ripped."""
        if not self.begun:
            return []
        ends = counted(TAILS * len(self.begun), "end")
        return [ENDS_OF_ITS_OWN.format(yarn=self.yarn, ends=ends)]

    def what_becomes_of_it(self) -> list[str]:
        """That it comes out, how much, and whether it is put aside or goes back."""
        told = []
        if self.begun:
            tails_cm = TAILS * len(self.begun) * self.work.plan.project.allow.tail_cm
            comes_out = self._comes_out(self.begun, tails_cm)
            told.append(PUT_ASIDE.format(comes_out=comes_out, yarn=self.yarn))
        if self.hanging:
            comes_out = self._comes_out(self.hanging, 0.0)
            told.append(GOES_BACK.format(comes_out=comes_out, yarn=self.yarn))
        return told

    def _comes_out(self, groups: list[tuple[Stitch, ...]], tails_cm: float) -> str:
        """Out of which rows it comes, and how much of it."""
        plan = self.work.plan
        stitches = [stitch for group in groups for stitch in group]
        # Of a yarn that the chart has nowhere nothing is known: it is taken for as thick.
        right = self.work.letter(stitches[0])
        known = plan.multipliers.get(self.yarn, plan.multipliers[right])
        in_a_stitch_cm = known.value * plan.project.gauge.stitch_cm
        length_cm = len(stitches) * in_a_stitch_cm + tails_cm
        length = show_measured(length_cm, plan.project.units)
        rows = rows_in_words(self.work, {stitch.row for stitch in stitches})
        return COMES_OUT.format(yarn=self.yarn, rows=rows, length=length)


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
    # Stitch by stitch over more than a row nobody goes: for that there is ripping.
    rows = {stitch.row for stitch in fault.stitches}
    last = work.done if work.begun else work.done - 1
    if rows != {last}:
        return None
    # The one that was worked first lies farthest from the tip of the needle.
    first = min(fault.stitches, key=work.number)
    worked = work.begun or work.walk.needle.count(last)
    after = work.number(first) - 1
    back = worked - after
    is_begun = bool(work.begun)
    wrong = _Wrong(work, fault)
    steps = [
        *wrong.ends_in_words(),
        f"Knit back {counted(back, 'stitch')}, one by one, as far as {work.words(first)}: "
        "put the tip of the left needle into the stitch below each from the front, let it slip off "
        "the other needle, and draw its yarn out. At a border take the yarns apart as they come.",
    ]
    steps += wrong.what_becomes_of_it()
    if not is_begun:
        undone = comes_undone(work.plan, last)
        if undone:
            steps.append(f"As far as you come to it on the way: {'; '.join(undone)}.")
    if notes_in_row(work.plan.project.progress, work.done + 1) and is_begun:
        steps.append("A note that was made farther on in this row does not hold any more.")
    name = work.how.row_name(last)
    steps.append(f"Go on with the card of {name} from there.")
    return Cure(
        KNIT_BACK,
        rows=1,
        stitches=back,
        steps=tuple(steps),
        # A row on the needles is not in the log, so nothing there is to be taken back.
        stays=None if is_begun else last,
        after=after,
    )

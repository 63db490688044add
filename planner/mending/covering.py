"""Covering: duplicate stitch over stitches that were knitted in another yarn.

The yarn that it takes is what the plan's own embroidery takes. How it is done, that it comes after
blocking, and what seldom comes out well is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from planner.choices import (
    LIGHT_OVER_DARK,
    LONG,
    NO_SOURCE,
    SINGLE_ROW,
    Embroidery,
    find_cautions,
    lengths_to_embroider,
)
from planner.finishing import HOW_TO_COVER
from planner.mending.cure import COVER, Cure
from planner.mending.spots import WRONG_YARN, Fault, Stitch, Work
from planner.mending.tails import (
    TAILS,
    VERBS,
    Tail,
    begun_for,
    first_that_reaches,
    stitches_in_words,
    tails_near,
)
from planner.plan import Plan
from planner.supplies import Planned
from planner.units import counted, rounded_up, show, stretches

AFTER_BLOCKING = f"Knit on; cover it when the piece is blocked ({NO_SOURCE})."
ANYWAY = "It is embroidered over anyway, as the plan says: leave it, and knit on."
OF_THE_WRONG_YARN = (
    "By the plan no {0} hangs there, so it was begun for these stitches: sew in its {1} ends too."
)
NO_LOOP = "It covers a colour; it does not mend a loop."


@dataclass(frozen=True)
class Group:
    """Wrong stitches that touch and are wanted in one yarn, and what covers them.

    `length_cm` is the yarn in the stitches alone; `tail` the tail nearby that is long enough, None
    where a length is cut.
    """

    yarn: str
    stitches: tuple[Stitch, ...]
    length_cm: float
    tail: Tail | None


def cover(work: Work, fault: Fault) -> Cure:
    """Duplicate stitch over the stitches of a fault, those that touch with one length."""
    # A dropped, split or twisted loop beneath it would go on as it is.
    if fault.what != WRONG_YARN:
        return Cure(COVER, barred=NO_LOOP)
    # There the plan itself has another yarn knitted than the one that will be seen.
    if all(_is_embroidered(work, stitch) for stitch in fault.stitches):
        return Cure(COVER, steps=(ANYWAY,))
    groups = _groups(work, fault)
    project = work.plan.project
    steps = [AFTER_BLOCKING]
    lengths_cm = []
    for group in groups:
        steps.append(_with_what(work, group))
        if group.tail is None:
            lengths_cm.append(_to_cut_cm(work, group))
    steps.append(HOW_TO_COVER)
    cut = len(lengths_cm)
    if cut:
        ends = "both ends" if cut == 1 else f"all {2 * cut} ends"
        steps.append(f"Sew in {ends} on the wrong side, beneath stitches of their own colour.")
    # Two more ends hang where the wrong yarn was begun only to be knitted there by mistake.
    begun = sum(begun_for(work, group.stitches, fault.in_yarn) for group in groups)
    if begun:
        steps.append(OF_THE_WRONG_YARN.format(fault.in_yarn, TAILS * begun))
    return Cure(
        COVER,
        worked=len(fault.stitches),
        ends=TAILS * (cut + begun),
        yarn_cm=sum(rounded_up(length, project.units) for length in lengths_cm),
        steps=tuple(steps),
        mind=_cautions(work, fault, groups),
    )


class ToCover(NamedTuple):
    """What is kept of stitches that are covered with one length: a worked row, from 1, in words.

    `place` says which they are; `takes` the length or the tail, and the ends to sew in.
    """

    row: int
    place: str
    takes: str


def places_to_cover(plan: Plan, fault: Fault) -> list[ToCover]:
    """What is kept of stitches to cover, for each group.

    By the chart, as the plan's own embroidery is told: when it is done no row is on the needles.
    """
    work = Work(plan)
    over = plan.project.all_yarns[fault.in_yarn].title
    found = []
    for group in _groups(work, fault):
        lowest = group.stitches[0]
        by_row = _by_chart_row(work, group.stitches)
        count = sum(len(numbers) for numbers in by_row.values())
        yarn = plan.project.all_yarns[group.yarn]
        what = f"{counted(count, 'stitch')} in {yarn.title} over {over}"
        where = "; ".join(_row_in_words(row, numbers) for row, numbers in by_row.items())
        place = f"{what}, chart {where} from the right"
        found.append(ToCover(lowest.row + 1, place, _takes(work, group, fault.in_yarn)))
    return found


def _takes(work: Work, group: Group, in_yarn: str) -> str:
    """What covering a group takes: "cut 0.40 m, 2 ends to sew in, and the 2 of B"."""
    begun = begun_for(work, group.stitches, in_yarn)
    tail = group.tail
    if tail is not None:
        takes = f"with the tail of {tail.strand} where it {VERBS[tail.what]}"
        return f"{takes}, and {TAILS} ends of {in_yarn} to sew in" if begun else takes
    units = work.plan.project.units
    length_cm = rounded_up(_to_cut_cm(work, group), units)
    takes = f"cut {show(length_cm, units)}, {TAILS} ends to sew in"
    return f"{takes}, and the {TAILS} of {in_yarn}" if begun else takes


def _by_chart_row(work: Work, stitches: Sequence[Stitch]) -> dict[int, set[int]]:
    """The numbers of stitches from the right, by chart rows, both from 1."""
    columns = work.strands.runs.columns
    by_row: dict[int, set[int]] = {}
    # Of a ridge of garter the chart has one stitch for two that lie over each other.
    for stitch, row in zip(stitches, work.chart_row_of(stitches), strict=True):
        number = columns - stitch.column
        by_row.setdefault(row + 1, set()).add(number)
    return by_row


def _row_in_words(row: int, numbers: set[int]) -> str:
    """The stitches of a chart row: "row 5 stitches 14–15"."""
    word = "stitch" if len(numbers) == 1 else "stitches"
    beside = ", ".join(stretches(sorted(numbers)))
    return f"row {row} {word} {beside}"


def _is_embroidered(work: Work, stitch: Stitch) -> bool:
    """Whether the plan has a stitch embroidered over when all is knitted."""
    (chart_row,) = work.chart_row_of([stitch])
    return bool(work.plan.embroidered[chart_row, stitch.column] >= 0)


def _with_what(work: Work, group: Group) -> str:
    """With what a group is covered, and where it is."""
    project = work.plan.project
    name = project.all_yarns[group.yarn].name or group.yarn
    count = counted(len(group.stitches), "stitch")
    where = stitches_in_words(work, group.stitches)
    what = f"{count} in {name} ({where})"
    if group.tail is not None:
        tail = group.tail.in_words(work)
        return f"Cover {what} with {tail}. If it is sewn in already, draw it out first."
    to_cut_cm = rounded_up(_to_cut_cm(work, group), project.units)
    length = show(to_cut_cm, project.units)
    return f"For {what} cut {length} of {name}, two tails in it."


def _to_cut_cm(work: Work, group: Group) -> float:
    return group.length_cm + TAILS * work.plan.project.allow.tail_cm


def _groups(work: Work, fault: Fault) -> list[Group]:
    """The stitches of a fault, those together that touch and are wanted in one yarn."""
    groups = []
    # A tail is used once.
    used: set[Tail] = set()
    for stitches in touching(work, fault.stitches):
        yarn = work.letter(stitches[0])
        length_cm = _stitches_cm(work, yarn, len(stitches))
        # In another yarn a tail would not cover anything, so only those of its own are looked at.
        near = [tail for tail in tails_near(work, stitches, {yarn}) if tail not in used]
        tail = first_that_reaches(work, near, length_cm)
        if tail is not None:
            used.add(tail)
        groups.append(Group(yarn, stitches, length_cm, tail))
    return groups


def touching(work: Work, stitches: Sequence[Stitch]) -> list[tuple[Stitch, ...]]:
    """The stitches by groups that touch, corners too, and are of one yarn by the plan."""
    left = sorted(set(stitches))
    groups = []
    while left:
        group = [left.pop(0)]
        # The group grows while it is gone through, so that what touches the newest is found too.
        for member in group:
            beside = [each for each in left if _touch(work, member, each)]
            group += beside
            left = [each for each in left if each not in beside]
        groups.append(tuple(sorted(group)))
    return groups


def _touch(work: Work, first: Stitch, second: Stitch) -> bool:
    rows_apart = abs(first.row - second.row)
    columns_apart = abs(first.column - second.column)
    is_near = max(rows_apart, columns_apart) <= 1
    return is_near and work.letter(first) == work.letter(second)


def _stitches_cm(work: Work, yarn: str, stitches: int) -> float:
    """The yarn of so many duplicate stitches, cm, as the plan's own embroidery takes it."""
    plan = work.plan
    # By the plan's own sum, so that mending and embroidery never disagree about one stitch.
    planned = Planned(plan.multipliers, plan.project.allow)
    letters, counts = np.array([yarn], dtype=object), np.array([stitches])
    (with_tails_cm,) = lengths_to_embroider(plan.project, planned, letters, counts)
    return float(with_tails_cm) - TAILS * plan.project.allow.tail_cm


def _cautions(work: Work, fault: Fault, groups: Sequence[Group]) -> tuple[str, ...]:
    """What speaks against covering: the ground shows, a row lies badly, a patch is stiff."""
    project = work.plan.project
    # The cautions are those of the plan's embroidery: they know an area, not a fault.
    embroidery = _as_embroidery(work, fault, groups)
    found = []
    for caution in find_cautions(project, embroidery):
        if caution.about == LIGHT_OVER_DARK:
            found.append(
                f"{caution.yarn} over the darker {caution.ground}: {caution.ground} will show "
                f"between the stitches ({NO_SOURCE}). Try one stitch first."
            )
        elif caution.about == SINGLE_ROW:
            found.append(f"A single row of duplicate stitch lies unevenly ({NO_SOURCE}).")
        elif caution.about == LONG:
            found.append(f"More than one needleful: cut several, each with two ends ({NO_SOURCE}).")
    most = project.weighing.embroider_stitches
    if any(len(group.stitches) > most for group in groups):
        found.append(f"A patch of more than {most} of them is thick and stiff ({NO_SOURCE}).")
    return tuple(dict.fromkeys(found))


def _as_embroidery(work: Work, fault: Fault, groups: Sequence[Group]) -> Embroidery:
    """The groups as the areas of an embroidery, on the yarn that they were knitted in."""
    count = len(groups)
    chart_rows = [work.chart_row_of(group.stitches) for group in groups]
    yarns = [group.yarn for group in groups]
    lowest = [min(rows) for rows in chart_rows]
    highest = [max(rows) for rows in chart_rows]
    first_stitches = [group.stitches[0].column for group in groups]
    stitches = [len(group.stitches) for group in groups]
    lengths_cm = [_to_cut_cm(work, group) for group in groups]
    return Embroidery(
        area=np.arange(count),
        yarn=np.array(yarns, dtype=object),
        grounds=((fault.in_yarn,),) * count,
        first_chart_row=np.array(lowest) + 1,
        last_chart_row=np.array(highest) + 1,
        first_stitch=np.array(first_stitches),
        stitches=np.array(stitches),
        length_cm=np.array(lengths_cm),
    )

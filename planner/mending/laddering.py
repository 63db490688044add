"""Laddering: a column of stitches let down to a fault, and picked up again rung by rung.

One column is done whole, from the needle down and up again, before the next: who does the steps in
their order needs to remember nothing. How it is done is common practice, no source.
"""

from __future__ import annotations

from planner.mending.columns import Columns
from planner.mending.cure import LADDER, MAY_STAY, PICK_UP, Cure
from planner.mending.easing import easing_of
from planner.mending.spots import DROPPED, HOLE, TWISTED, WRONG_YARN, Fault, Stitch, Work
from planner.mending.tails import begun_for, rows_in_words
from planner.strands import MIDDLE
from planner.units import counted, show_measured

NO_CROSSING = "It stands at a border, and the crossing there would be lost."
HOOK = "From the right side take a crochet hook into that loop, from the front."
HOOK_IN_GARTER = (
    "Take a crochet hook into that loop. In garter a rung of a RS row is drawn through to the "
    "right side, one of a WS row to the wrong side: change sides with the hook for each."
)
ON_THE_NEEDLE = "Put the loop on the needle, not twisted."
EVEN_OUT = "Ease the rungs until they are as even as the stitches beside them."
# Where the plan has the wrong yarn in none of these rows, nothing but these stitches held it.
DRAWN_OUT = (
    "By the plan no {yarn} hangs in {rows}: it was begun for these stitches, and nothing holds it "
    "now. Draw it right out by one of its ends; then no end of it is left to sew in. If it goes on "
    "to other stitches after all, leave what was in these as a slack loop on the wrong side."
)
LEFT_SLACK = (
    "The {yarn} that was in them is still there, about {length} of it on the wrong side. Let it "
    "hang as a slack loop: drawn tight it would pucker the stitches that it comes from, and cut it "
    "would be too short to sew in. Sew it down flat, beneath its own colour, when you sew in ends. "
    "Only if it was a length of its own, begun for these stitches, draw it right out instead."
)


def ladder(work: Work, fault: Fault) -> Cure:
    """The stitches of a fault let down to and picked up again, or why that cannot be done."""
    name = PICK_UP if fault.what == DROPPED else LADDER
    if fault.what == HOLE:
        return Cure(name, barred=NO_CROSSING)
    ladders = Ladders(work, fault)
    feet = _feet(fault)
    for stitch in feet:
        why = ladders.barred(stitch)
        if why:
            return Cure(name, barred=why)

    # All columns or none: half a fault mended this way and half another is twice the work.
    rungs = sum(len(ladders.rungs(stitch)) for stitch in feet)
    steps: list[str] = []
    for number, stitch in enumerate(feet, 1):
        steps += ladders.steps(stitch, number, len(feet))
    if rungs:
        steps.append(EVEN_OUT)
    if fault.what == WRONG_YARN:
        steps.append(_what_is_left(work, fault))
    mind = (MAY_STAY,) if fault.what == TWISTED else ()
    return Cure(name, rungs=rungs, steps=tuple(steps), mind=mind)


def _feet(fault: Fault) -> list[Stitch]:
    """The lowest stitch of a fault in each column, from the left."""
    rows: dict[int, int] = {}
    # The lowest comes last, and takes the place of those above it.
    for stitch in sorted(fault.stitches, reverse=True):
        rows[stitch.column] = stitch.row
    return [Stitch(rows[column], column) for column in sorted(rows)]


def _what_is_left(work: Work, fault: Fault) -> str:
    """What becomes of the wrong yarn that was in the stitches."""
    # Two cases that end differently: what was begun for these stitches is free now, and what goes
    # on to others is held on both sides.
    yarn = fault.in_yarn
    if begun_for(work, fault.stitches, yarn):
        rows = {stitch.row for stitch in fault.stitches}
        return DRAWN_OUT.format(yarn=yarn, rows=rows_in_words(work, rows))
    plan = work.plan
    gauge, units = plan.project.gauge, plan.project.units
    in_a_stitch_cm = plan.multipliers[yarn].value * gauge.stitch_cm
    slack_cm = len(fault.stitches) * in_a_stitch_cm
    return LEFT_SLACK.format(yarn=yarn, length=show_measured(slack_cm, units))


class Ladders(Columns):
    """The columns over the stitches of a fault, and what is done in them, in words."""

    def steps(self, stitch: Stitch, number: int, columns: int) -> list[str]:
        """What is done in one column, this number of so many, from the needle and back to it."""
        first = self._let_down(stitch)
        last = ON_THE_NEEDLE
        if columns > 1:
            first = f"Column {number} of {columns}: {first}"
            last += f" Column {number} of {columns} is done."
        first = first[0].upper() + first[1:]
        if not self.rungs(stitch):
            return [first, last]
        hook = HOOK_IN_GARTER if self.work.how.fabric == "garter" else HOOK
        return [first, *self._carried_behind(stitch), hook, *self._up_again(stitch), last]

    def _let_down(self, stitch: Stitch) -> str:
        """How the loop is come by that a column is picked up from."""
        work, rungs = self.work, self.rungs(stitch)
        loop, count = work.words(stitch), counted(len(rungs), "rung")
        if not rungs:
            return f"it has slipped off the needle: it is {loop}."
        if self.fault.what == DROPPED:
            begin = f"put a pin through the open loop, before it runs further: it is {loop}"
            return f"{begin}. Over it lie {count}, one for each {work.how.row_word}."
        # Counted from the needle: it is the stitch of the last row that is slipped off.
        top = work.words(Stitch(rungs[-1], stitch.column))
        return (
            f"on the needle find {top}. Slip it off, and let it run down {count}, one for each "
            f"{work.how.row_word}, until the wrong one has come out too: {loop}. Put a pin through "
            "the loop below it, so that it runs no farther."
        )

    def _up_again(self, stitch: Stitch) -> list[str]:
        """What is drawn through in each row from the foot up, a step for each strand and stretch.

        A wrong row is a step of its own: its rung is named first, for it comes first to hand.
        """
        # Rungs of one strand go together, for nobody reads forty alike steps with a hook in hand.
        wrong = {each.row for each in self.wrong_in(stitch.column)}
        stretches: list[tuple[str, list[int]]] = []
        for row in self.rungs(stitch):
            run = self.work.over[row][stitch.column]
            title = "" if row in wrong else self.work.walk.title(run)
            before, rows = stretches[-1] if stretches else ("", [])
            if title and title == before:
                rows.append(row)
            else:
                stretches.append((title, [row]))
        steps = []
        for title, rows in stretches:
            if title:
                step = self._drawn_through(title, rows)
            else:
                wrong_one = Stitch(rows[0], stitch.column)
                step = self._in_the_right_yarn(wrong_one)
            steps.append(step)
        return steps

    def _drawn_through(self, title: str, rows: list[int]) -> str:
        """How the rungs of one strand are drawn through."""
        where = rows_in_words(self.work, rows)
        if len(rows) == 1:
            return f"In {where} draw the rung of {title} through the loop."
        return (
            f"In {where} draw the rungs of {title} through, the lowest first, each through the "
            "loop before it."
        )

    def _in_the_right_yarn(self, stitch: Stitch) -> str:
        """How a stitch is made anew of the yarn that lies behind it."""
        work = self.work
        letter, name = work.letter(stitch), work.how.row_name(stitch.row)
        easing = easing_of(work, self.wrong, stitch)
        lacks = show_measured(easing.lacks_cm, work.plan.project.units)
        return (
            f"In {name} do NOT draw the rung of {self.fault.in_yarn} through: it is the wrong one. "
            f"Push it to the wrong side, behind the {letter} that goes straight past there. That "
            f"{letter} is about {lacks} too short for a stitch: first ease so much towards it, a "
            f"little out of each of the {letter} stitches beside it ({easing.places}, seen from "
            f"the right side). Then draw the {letter} through the loop."
        )

    def _carried_behind(self, stitch: Stitch) -> list[str]:
        """Which yarns lie behind the rungs, to be left there."""
        told = []
        for row in self.rungs(stitch):
            # What is carried there hangs free while the column is down, and is easily hooked
            # instead.
            for link in self.behind(Stitch(row, stitch.column)):
                is_middle = self.legs.kinds[link] == MIDDLE
                runs = self.legs.second_run if is_middle else self.legs.first_run
                name = self.work.how.row_name(row)
                title = self.work.walk.title(runs[link])
                told.append(f"In {name} {title} is carried past")
        if not told:
            return []
        kept = "keep it behind the rung, on the wrong side, and catch it again if it was caught"
        return [f"{'; '.join(told)}: {kept}."]

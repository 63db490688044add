"""Laddering: a column of stitches let down to a fault, and picked up again rung by rung.

How it is done is common practice, no source.
"""

from __future__ import annotations

from planner.mending.columns import Columns
from planner.mending.cure import LADDER, MAY_STAY, PICK_UP, Cure
from planner.mending.spots import DROPPED, HOLE, TWISTED, WRONG_YARN, Fault, Stitch, Work
from planner.mending.tails import rows_in_words
from planner.strands import MIDDLE
from planner.units import counted

NO_CROSSING = "It stands at a border, and the crossing there would be lost."
ONE_BY_ONE = "Do one column after the other, each from its foot to the needle."


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

    rungs = 0
    steps: list[str] = []
    for stitch in feet:
        rungs += len(ladders.rungs(stitch))
        steps += ladders.steps(stitch)
    steps.append(ladders.at_the_end(rungs))
    mind = [ONE_BY_ONE] if len(feet) > 1 else []
    if fault.what == TWISTED:
        mind.append(MAY_STAY)
    return Cure(name, rungs=rungs, steps=tuple(steps), mind=tuple(mind))


def _feet(fault: Fault) -> list[Stitch]:
    """The lowest stitch of a fault in each column, from the left."""
    rows: dict[int, int] = {}
    # The lowest comes last, and takes the place of those above it.
    for stitch in sorted(fault.stitches, reverse=True):
        rows[stitch.column] = stitch.row
    return [Stitch(rows[column], column) for column in sorted(rows)]


class Ladders(Columns):
    """The columns over the stitches of a fault, and what is done in them, in words."""

    def steps(self, stitch: Stitch) -> list[str]:
        """What is done in one column, in order."""
        work, rungs = self.work, self.rungs(stitch)
        loop = work.words(stitch)
        count = counted(len(rungs), "rung")
        if not rungs:
            return [f"It has slipped off the needle: it is {loop}."]
        if self.fault.what == DROPPED:
            begin = f"Put a pin through the open loop, before it runs further: it is {loop}"
            steps = [f"{begin}. Over it lie {count}, one for each {work.how.row_word}."]
        else:
            # Counted from the needle: it is the stitch of the last row that is slipped off.
            top = work.words(Stitch(rungs[-1], stitch.column))
            steps = [
                f"On the needle find {top}. Slip it off, and let it run down {count}, until the "
                f"wrong one has come out too: {loop}. Put a pin through the loop below it, so that "
                "it runs no farther."
            ]
        steps.append(f"From the foot up the rungs are: {self._rungs_in_words(stitch)}.")
        steps.append(self._how(stitch))
        for row, column in sorted(self.wrong):
            if column == stitch.column and self.fault.what == WRONG_YARN:
                steps.append(self._in_the_right_yarn(Stitch(row, column)))
        return steps + self._carried_behind(stitch)

    def _rungs_in_words(self, stitch: Stitch) -> str:
        """The rungs from the foot up, those of one strand together: "W2 in rows 13–15"."""
        by_strand: list[tuple[str, list[int]]] = []
        is_other_yarn = self.fault.what == WRONG_YARN
        for row in self.rungs(stitch):
            title = self.work.walk.title(self.work.over[row][stitch.column])
            if is_other_yarn and Stitch(row, stitch.column) in self.wrong:
                title = f"the wrong {self.fault.in_yarn}"
            if by_strand and by_strand[-1][0] == title:
                by_strand[-1][1].append(row)
            else:
                by_strand.append((title, [row]))
        told = [f"{title} in {rows_in_words(self.work, rows)}" for title, rows in by_strand]
        return ", then ".join(told)

    def _how(self, stitch: Stitch) -> str:
        """How the rungs are picked up."""
        if self.work.how.fabric == "garter":
            return (
                "Take a crochet hook into the loop. A rung of a RS row is drawn through to the "
                "right side, one of a WS row to the wrong side: draw each through in its turn, up "
                "to the needle."
            )
        return (
            "From the right side take a crochet hook into the loop from the front, draw the lowest "
            "rung through it, and so each rung in its turn, up to the needle."
        )

    def _in_the_right_yarn(self, stitch: Stitch) -> str:
        work = self.work
        letter, name = work.letter(stitch), work.how.row_name(stitch.row)
        return (
            f"In {name} draw through the {letter} that lies behind, not the rung of "
            f"{self.fault.in_yarn}: that stays on the wrong side. The {letter} is shorter than a "
            f"stitch takes; ease the rest out of the {letter} stitches on both sides, a little "
            f"from each, and ease the loop of {self.fault.in_yarn} away in the same way."
        )

    def _carried_behind(self, stitch: Stitch) -> list[str]:
        """Which yarns lie behind the rungs, to be left there."""
        told = []
        for row in self.rungs(stitch):
            for link in self.behind(Stitch(row, stitch.column)):
                is_middle = self.legs.kinds[link] == MIDDLE
                run = self.legs.second_run[link] if is_middle else self.legs.first_run[link]
                name = self.work.how.row_name(row)
                told.append(f"In {name} {self.work.walk.title(run)} is carried past")
        if not told:
            return []
        kept = "keep it behind the rung, on the wrong side, and catch it again if it was caught"
        return [f"{'; '.join(told)}: {kept}."]

    def at_the_end(self, rungs: int) -> str:
        """What is done when all is picked up."""
        ease = "; ease the rungs until they are as even as the stitches beside them"
        return f"Put it back on the needle, not twisted{ease if rungs else ''}."

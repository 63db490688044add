"""Laddering: a column of stitches let down to a fault, and picked up again rung by rung.

The yarn of each row lies as a rung between the stitches on both sides; so it can be done only where
on both sides the same strand goes on, and the same stitches stand. How it is done is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from planner.cards import Legs
from planner.mending.cure import LADDER, MAY_STAY, PICK_UP, Cure
from planner.mending.spots import DROPPED, HOLE, TWISTED, WRONG_YARN, Fault, Stitch, Work
from planner.mending.tails import rows_in_words
from planner.piece import JOINED, standing
from planner.rows import CAUGHT_OVER
from planner.strands import MIDDLE
from planner.units import counted

# Wrong stitches beside each other that are made of what lies behind them: it is only as long as
# they are wide, and the rest is eased out of the stitches on both sides (judgement).
MOST_BESIDE = 2
OUTSIDE = -1  # in place of a column: the selvedge beside the chart
NO_CROSSING = "It stands at a border, and the crossing there would be lost."


class Beside(NamedTuple):
    """The columns of the stitches on both sides of one.

    OUTSIDE where that is a selvedge stitch, None where it is nothing.
    """

    left: int | None
    right: int | None


def ladder(work: Work, fault: Fault) -> Cure:
    """The stitches of a fault let down to and picked up again, or why that cannot be done."""
    name = PICK_UP if fault.what == DROPPED else LADDER
    if fault.what == HOLE:
        return Cure(name, barred=NO_CROSSING)
    lowest: dict[int, int] = {}
    for stitch in sorted(fault.stitches, reverse=True):
        lowest[stitch.column] = stitch.row
    ladders = Ladders(work, fault)
    barred = filter(None, (ladders.barred(Stitch(row, c)) for c, row in lowest.items()))
    if why := next(barred, ""):
        return Cure(name, barred=why)
    columns = [Stitch(row, column) for column, row in sorted(lowest.items())]
    steps: list[str] = []
    for stitch in columns:
        steps += ladders.steps(stitch)
    mind = ["Do one column after the other, each from its foot to the needle."]
    mind = mind if len(columns) > 1 else []
    if fault.what == TWISTED:
        mind.append(MAY_STAY)
    rungs = sum(len(ladders.rungs(stitch)) for stitch in columns)
    return Cure(
        name,
        rungs=rungs,
        steps=(*steps, ladders.at_the_end(rungs)),
        mind=tuple(mind),
    )


class Ladders:
    """The columns over the stitches of a fault, up to the needle."""

    def __init__(self, work: Work, fault: Fault):
        self.work, self.fault = work, fault
        self.wrong = set(fault.stitches)
        self.legs = Legs(work.strands, work.walk)
        self.chart = work.strands.chart.cells
        self.times = work.how.rows_per_chart_row

    def rungs(self, stitch: Stitch) -> range:
        """The worked rows, from 0, whose yarn is a rung of the ladder over a stitch."""
        work = self.work
        # A dropped stitch has come loose itself; what was not worked over it is above.
        first = stitch.row + 1 if self.fault.what == DROPPED else stitch.row
        last = work.done
        top = Stitch(work.done, stitch.column)
        is_begun = work.begun and work.done < work.strands.runs.rows
        if is_begun and work.run(top) >= 0 and work.is_worked(top):
            last += 1
        return range(first, last)

    def beside(self, row: int, column: int) -> Beside:
        """What stands on both sides of a stitch in its row."""
        columns = sorted(self.work.columns(row))
        place = columns.index(column)
        left = columns[place - 1] if place else None
        right = columns[place + 1] if place + 1 < len(columns) else None
        how = self.work.how
        # Rounds that are never turned go on over the place where they begin.
        if how.is_tube and not how.closes_join:
            left = columns[-1] if left is None else left
            right = columns[0] if right is None else right
        elif how.selvedge:
            left = OUTSIDE if left is None else left
            right = OUTSIDE if right is None else right
        return Beside(left, right)

    def barred(self, stitch: Stitch) -> str:
        """Why a column cannot be let down to a stitch; "" where it can."""
        for row in self.rungs(stitch):
            why = self._barred_in_row(Stitch(row, stitch.column))
            if why:
                return why
        if self.fault.what != WRONG_YARN:
            return ""
        for row, column in sorted(self.wrong):
            if column == stitch.column and (why := self._without_yarn(Stitch(row, column))):
                return why
        return ""

    def _barred_in_row(self, stitch: Stitch) -> str:
        """Why one rung cannot be let go; "" where it can."""
        work = self.work
        name = work.how.row_name(stitch.row)
        if work.run(stitch) < 0:
            return f"In {name} the column has no stitch."
        beside = self.beside(*stitch)
        run = work.run(stitch)
        for column in beside:
            if column is None:
                return f"In {name} it is the edge stitch, where the yarn turns."
            other = run if column == OUTSIDE else work.over[stitch.row][column]
            if other != run and not self._goes_on(run, other):
                border = f"the border of {work.walk.title(run)} and {work.walk.title(other)}"
                return f"In {name} it stands at {border}: the crossing there would be lost."
        if self._is_shaped(stitch, beside):
            return f"{name[0].upper()}{name[1:]} is shaped beside it."
        if what := self._end_at(stitch):
            return f"In {name} {what} there, and would come loose."
        return ""

    def _goes_on(self, run: int, other: int) -> bool:
        """Whether two runs are one yarn that goes round: the first and the last run of a round."""
        labels = self.work.walk.title(run), self.work.walk.title(other)
        how = self.work.how
        return how.is_tube and not how.closes_join and labels[0] == labels[1]

    def _is_shaped(self, stitch: Stitch, beside: Beside) -> bool:
        """Whether other stitches stand beside it in the row below."""
        if not stitch.row:
            return False
        below = Stitch(stitch.row - 1, stitch.column)
        return self.work.run(below) < 0 or self.beside(*below) != beside

    def _end_at(self, stitch: Stitch) -> str:
        """What begins, is joined or is caught at a stitch or beside it; "" where nothing is."""
        work, run = self.work, self.work.run(stitch)
        caught = work.plan.caught
        is_near_its_start = self._place_in_run(stitch) < CAUGHT_OVER
        if run in (*caught.starts, *caught.joins) and is_near_its_start:
            return f"the tail of {work.walk.title(run)} is caught"
        # Numbers of stitches count from where the row begins; a join lies between two of them.
        for entry in standing(work.plan.project.progress):
            is_in_row = entry.what == JOINED and entry.stitch and entry.row == stitch.row + 1
            if is_in_row and 0 <= work.number(stitch) - entry.stitch <= 1:
                return f"{entry.strand} is joined"
        return ""

    def _place_in_run(self, stitch: Stitch) -> int:
        """How many stitches of its run are worked before a stitch."""
        work, run = self.work, self.work.run(stitch)
        in_run = [c for c in work.columns(stitch.row) if work.over[stitch.row][c] == run]
        return in_run.index(stitch.column)

    def _without_yarn(self, stitch: Stitch) -> str:
        """Why a stitch cannot be made anew in its own yarn; "" where that lies behind it."""
        work = self.work
        letter, name = work.letter(stitch), work.how.row_name(stitch.row)
        beside = 1 + sum(1 for step in (-1, 1) for _ in self._wrong_from(stitch, step))
        if not self._passes(stitch):
            return f"No {letter} lies behind it in {name} that it could be made anew of."
        if beside > MOST_BESIDE:
            return (
                f"The {letter} that lies behind {counted(beside, 'stitch')} in {name} is only as "
                "long as they are wide: too short to make them anew."
            )
        return ""

    def _wrong_from(self, stitch: Stitch, step: int) -> Iterator[Stitch]:
        """The wrong stitches that follow one in its run, on one side."""
        run, place = self.work.run(stitch), Stitch(stitch.row, stitch.column + step)
        while place in self.wrong and self.work.run(place) == run:
            yield place
            place = Stitch(place.row, place.column + step)

    def _passes(self, stitch: Stitch) -> bool:
        """Whether the yarn that a stitch is wanted in lies behind it in its row.

        So it does where stitches on both sides were worked with it, or where it is carried past.
        """
        work, run = self.work, self.work.run(stitch)
        row = work.over[stitch.row]
        rightly = [
            column
            for column in range(len(row))
            if row[column] == run and Stitch(stitch.row, column) not in self.wrong
        ]
        if rightly and min(rightly) < stitch.column < max(rightly):
            return True
        runs = work.strands.runs
        wanted = runs.yarn[run]
        return any(runs.yarn[self.legs.first_run[link]] == wanted for link in self.behind(stitch))

    def behind(self, stitch: Stitch) -> list[int]:
        """The carries, by their links, that lie behind a stitch in its row."""
        found = []
        for link in self._links_near(stitch.row):
            for leg in self.legs.of(link):
                low, high = sorted((leg.start, leg.stop))
                if leg.row == stitch.row and low <= stitch.column < high:
                    found.append(link)
        return found

    def _links_near(self, row: int) -> list[int]:
        """The links that may lie behind stitches of a row: they begin before it and end after."""
        links, row_of_run = self.work.strands.links, self.work.strands.runs.row
        is_begun = row_of_run[links.a] <= row
        goes_on = row_of_run[links.b] >= row
        near: list[int] = np.flatnonzero(is_begun & goes_on).tolist()
        return near

    # In words.

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

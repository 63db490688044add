"""Down the ladder by someone who has the words alone, on a fabric of loops with yarn in them.

She does each step in its order and nothing else; at the end the fabric must be that of the chart.
What a loop, a rung and a strand behind it do is a fact of knitting; how much yarn a stitch can give
is judgement, the same as the planner's, and here it is added up stitch by stitch.
"""

import random
import re

import pytest

from planner import Yarn
from planner.mending import WRONG_YARN, Stitch, Work
from planner.mending.cure import LADDER
from planner.mending.laddering import ladder
from tests.helpers.mending import fault, with_rows
from tests.helpers.plans import GAUGE, plan_of

COLUMNS, ROWS, DONE = 44, 14, 12
GIVES = 0.1
DOWN = re.compile(
    r"(?:Column (\d+) of \d+: o|O)n the needle find (.+)\. Slip it off, and let it run down (\d+) "
    r"rungs?, one for each row, until the wrong one has come out too: (.+)\. "
    r"Put a pin through the loop below it"
)
PLACE = re.compile(r"the (\d+)\w\w of (\d+ \S+(?: \S+)*) in row (\d+) ")
DRAW = re.compile(r"In rows? (\d+)(?:–(\d+))? draw the rungs? of (\S+) through")
LEAVE = re.compile(
    r"In row (\d+) \(..\) do NOT draw the rung of (\S+) through: it is the wrong one\. Push it to "
    r"the wrong side, behind the (\S+) that goes straight past there.* beside it \((.+), seen"
)
NOTHING_TO_DO = ("From the right side take a crochet hook", "Ease the rungs")


class Fabric:
    """By row and column the yarn in each loop, what lies loose behind it, and how long each is."""

    def __init__(self, plan, wrong, in_yarn):
        self.plan, self.wrong = plan, set(wrong)
        self.chart = plan.project.chart.to_rows()[::-1]
        self.loops = [list(row) for row in self.chart[:DONE]]
        self.cm = {}
        for row, cells in enumerate(self.loops):
            for column, letter in enumerate(cells):
                self.cm[row, column] = plan.multipliers[letter].value * GAUGE.stitch_cm
        self.behind = {}
        for row, column in self.wrong:
            self.loops[row][column] = in_yarn
            self.behind[row, column] = self.chart[row][column]
            # What goes straight past is as long as the stitch is wide.
            self.cm[row, column] = GAUGE.stitch_cm
        self.loose = set()
        self.column = self.hook_at = None
        self.touched = set()

    def column_of(self, words):
        """Where a stitch is, by the words of a place: row 1 goes from right to left."""
        nth, run, row = PLACE.match(words).groups()
        lines = self.plan.cards[int(row) - 1].lines
        before = words.split("after ")[-1].split(" and before")[0] if "after " in words else ""
        so_far = 0
        for number, line in enumerate(lines):
            fits = int(run.split()[0]) == line.stitches and run.split()[-1] == line.strand
            after = lines[number - 1].strand if number else ""
            if fits and (not before or before.split()[-1] == after):
                break
            so_far += line.stitches
        place = so_far + int(nth) - 1
        return int(row) - 1, COLUMNS - 1 - place if int(row) % 2 else place

    def follow(self, steps):
        for step in steps:
            self.do(step)

    def do(self, step):
        if found := DOWN.match(step):
            self.let_down(*found.groups())
        elif found := DRAW.match(step):
            first, last, strand = found.groups()
            for row in range(int(first), int(last or first) + 1):
                self.draw(row - 1, strand)
        elif found := LEAVE.match(step):
            self.make_anew(int(found[1]) - 1, *found.groups()[1:])
        elif step.startswith("Put the loop on the needle"):
            assert self.hook_at == DONE - 1
            self.column = None
        elif step.startswith(("By the plan no", "The ")):
            self.loose_in_the_end(step)
        else:
            assert step.startswith(NOTHING_TO_DO) or "is carried past" in step, step

    def let_down(self, number, top, count, foot):
        assert self.column is None, "the column before hangs open still"
        self.touched.add(number)
        (top_row, column), (row, same) = self.column_of(top), self.column_of(foot)
        assert (top_row, same) == (DONE - 1, column)
        assert int(count) == DONE - row
        self.column, self.hook_at = column, row - 1
        self.rungs = {each: self.loops[each][column] for each in range(row, DONE)}

    def draw(self, row, strand):
        """The lowest rung that is free is what comes to the hook."""
        assert row == self.hook_at + 1
        self.loops[row][self.column] = self.rungs.pop(min(self.rungs))
        assert strand.startswith(self.loops[row][self.column]), "no such rung comes next"
        self.hook_at = row

    def make_anew(self, row, wrong, right, places):
        assert row == self.hook_at + 1 == min(self.rungs)
        assert self.rungs.pop(row) == wrong
        self.loose.add((row, self.column))
        assert self.behind.pop((row, self.column)) == right
        for count, side in re.findall(r"(\d+) on its (left|right)", places):
            self.ease(row, int(count), -1 if side == "left" else 1)
        self.loops[row][self.column] = right
        self.hook_at = row

    def ease(self, row, count, step):
        """Each of the next stitches gives a tenth, once, and a wrong one gives nothing."""
        column = self.column + step
        for _ in range(count):
            # What is made anew already is skipped: it has just been given its yarn.
            assert (row, column) not in self.wrong
            assert self.chart[row][column] == self.chart[row][self.column]
            full = self.plan.multipliers[self.chart[row][column]].value * GAUGE.stitch_cm
            assert self.cm[row, column] == pytest.approx(full), "it has given already"
            self.cm[row, column] -= GIVES * full
            self.cm[row, self.column] += GIVES * full
            column += step

    def loose_in_the_end(self, step):
        assert self.loose == self.wrong
        if "Draw it right out" in step:
            self.loose.clear()


def wide_chart(random_number):
    """Three areas side by side, each wide enough to ease in, with borders that move by chance."""
    draw = random.Random(random_number)
    left, right = 15, 30
    rows = []
    for _ in range(ROWS):
        rows.append("A" * left + "B" * (right - left) + "A" * (COLUMNS - right))
        left += draw.choice((-1, 0, 0, 1))
        right += draw.choice((-1, 0, 0, 1))
    return rows[::-1], draw


def some_faults(draw, chart_from_below):
    """Single stitches, pairs, and two above each other, each of another yarn than the chart's."""
    for _ in range(40):
        row, column = draw.randrange(1, DONE), draw.randrange(1, COLUMNS - 2)
        kind = draw.choice(("one", "pair", "above"))
        more = {"one": [], "pair": [Stitch(row, column + 1)], "above": [Stitch(row - 1, column)]}
        stitches = [Stitch(row, column), *more[kind]]
        letters = {chart_from_below[each.row][each.column] for each in stitches}
        for in_yarn in "ABC":
            if in_yarn not in letters:
                yield fault(WRONG_YARN, *stitches, in_yarn=in_yarn)


@pytest.mark.parametrize("number", range(6))
def test_who_does_step_after_step_has_the_chart_s_fabric(number):
    rows, draw = wide_chart(number)
    plan = with_rows(plan_of(rows, {"C": Yarn("C")}), DONE)
    followed = 0
    for wrong in some_faults(draw, rows[::-1]):
        cure = ladder(Work(plan), wrong)
        if cure.barred:
            continue
        fabric = Fabric(plan, wrong.stitches, wrong.in_yarn)
        assert fabric.loops != [list(row) for row in fabric.chart[:DONE]]
        fabric.follow(cure.steps)
        assert fabric.loops == [list(row) for row in fabric.chart[:DONE]]
        assert fabric.column is None
        # Nothing is short: a stitch made anew has what any stitch takes.
        for row, column in fabric.wrong:
            full = plan.multipliers[fabric.chart[row][column]].value * GAUGE.stitch_cm
            assert fabric.cm[row, column] >= full - 1e-9
        followed += 1
    assert followed >= 5


def plain_ladder(*stitches):
    plan = with_rows(plan_of(["A" * COLUMNS] * ROWS, {"C": Yarn("C")}), DONE)
    return plan, ladder(Work(plan), fault(WRONG_YARN, *stitches, in_yarn="C"))


def test_drawing_every_rung_through_repeats_the_mistake():
    """So were the steps once; the follower must see it."""
    wrong = Stitch(4, 20)
    plan, cure = plain_ladder(wrong)
    steps = []
    for step in cure.steps:
        steps.append("In row 5 draw the rung of C through the loop." if LEAVE.match(step) else step)
    fabric = Fabric(plan, [wrong], "C")
    with pytest.raises(AssertionError):
        fabric.follow(steps)
    assert fabric.loops[4][20] == "C"


def test_one_column_is_whole_before_the_next_is_begun():
    plan, cure = plain_ladder(Stitch(4, 20), Stitch(4, 21))
    assert cure.name == LADDER
    fabric = Fabric(plan, [Stitch(4, 20), Stitch(4, 21)], "C")
    fabric.follow(cure.steps)
    assert fabric.touched == {"1", "2"}
    begun = [step for step in cure.steps if step.startswith("Column")]
    assert [step[:11] for step in begun] == ["Column 1 of", "Column 2 of"]


def test_what_becomes_of_the_wrong_yarn():
    """The plan has no C, so it was begun for the stitch; B hangs beside it, and leaves a loop."""
    _, cure = plain_ladder(Stitch(4, 20))
    assert cure.ends == 0
    assert cure.steps[-1].startswith("By the plan no C hangs in row 5: it was begun for these")
    rows = ["A" * 24 + "B" * 20] * ROWS
    plan = with_rows(plan_of(rows), DONE)
    beside = ladder(Work(plan), fault(WRONG_YARN, Stitch(4, 10), in_yarn="B"))
    # 2 cm of yarn in a stitch of B.
    assert "about 2 cm of it on the wrong side" in beside.steps[-1]
    assert "slack loop" in beside.steps[-1]

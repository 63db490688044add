"""A table with balls, whose knitter follows the words of her cards and nothing else.

She knows the chart cell by cell, which ball works which stretch of it, and how old and new yarn are
crossed at a border. Where balls are laid, how the work is turned and what is cleared she reads. The
yarns are written as they lie before her at that moment, from the side where her rows begin, turns
of the work included: of a crossing (a, b, sign) on the way up to the needle a comes first, and
passes behind b where the sign is 1.

Where her words have a direction (worked out by hand, no source), she works right to left: on a RS
row the old yarn passes behind the new one to the left, and so does then the new one; on a WS row in
front. A ball that is passed clockwise, seen from above, once round another's yarn does to the two
what a border of a RS row does. Left and right are those of her hands, whichever side faces her:
where the edge at her right hand goes away, the yarns at her right pass behind. A
left-handed knitter is her mirror image.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import asdict
from itertools import combinations, pairwise

from tests.helpers.braids import is_trivial, word_of
from tests.helpers.knitter import stretches

BALLS = re.compile(r"Balls, (right to left|left to right): (.+)\.")
LAY = re.compile(
    r"(?:Lay ball (\S+) on the table|On the table: lay ball (\S+) "
    r"(?:(right|left) of (\S+)|between (\S+) and (\S+)), its yarn on top)\."
)
LAP = re.compile(r"Keep balls? (.+) in your lap until the work is turned\.")
PASS = re.compile(
    r"Pass ball (\S+?)(?:, in front of the yarns? of (.+),)? (once|twice|\d+ times) round (\S+)'s "
    r"yarn, close under the needle, (clockwise|anticlockwise) seen from above\."
)
ROUND = re.compile(
    r"Turn the work round (once|twice|\d+ times), so that first the edge at your (right|left) hand "
    r"goes away from you\."
)
TURN = re.compile(r"Turn so that the edge at your (right|left) hand goes away from you\.")
TALK = re.compile(
    r"(One turn stays|\d+ turns stay) between .+: leave (it|them)[^.]*\.|Begun a .+\.|Drop the .+\."
)


def times(word):
    return {"once": 1, "twice": 2}.get(word) or int(word.split()[0])


class Table:
    """The table, the lap and the needle of a knitter; `hand` is the way she works."""

    def __init__(self, hand="right"):
        self.right = hand == "right"
        self.first, self.last = ("right", "left") if self.right else ("left", "right")
        self.table, self.lap = [], []
        # The yarns half way up, where those from the lap come in, and at the needle.
        self.half_way, self.needle = [], []
        self.low, self.high = [], []
        self.turned = 0  # half turns of the work, as crossings have their sign

    # What the hands do

    def cross(self, at, sign):
        a, b = self.needle[at : at + 2]
        (self.high if self.lap else self.low).append((a, b, sign))
        self.needle[at : at + 2] = b, a
        self._settle()

    def _settle(self):
        """With an empty lap there is one way up for all."""
        if not self.lap:
            self.low += self.high
            self.high, self.half_way = [], list(self.needle)

    def hang(self, new, at):
        """A new yarn at the needle, from the table if its ball was laid there, or from the lap."""
        assert not self.high
        self.lap.append(new)
        self.needle.insert(at, new)
        self.half_way = list(self.needle)
        if new in self.table:
            self.lead_up(new)

    def lead_up(self, ball):
        """A ball lies on the table now, its yarn on top of all that lead up from there."""
        self.lap.remove(ball)
        lie = [yarn for yarn in self.half_way if yarn not in self.lap]
        before = [yarn for yarn in self.table[: self.table.index(ball)] if yarn in lie]
        # In front of all: past those before it at the table, and back to its place half way up.
        aside = [(yarn, ball, 1) for yarn in reversed(before)]
        back = [(ball, yarn, -1) for yarn in lie[: lie.index(ball)]]
        self.low = [*aside, *self.low, *back]
        self._settle()

    def turn(self, sign):
        """The work, and with it the lap, turns before the table."""
        lies = [yarn for yarn in self.half_way if yarn not in self.lap]
        self.low += [(a, b, sign) for a, b in combinations(lies, 2)]
        self.high = [(b, a, s) for a, b, s in self.high]
        self.half_way.reverse()
        self.needle.reverse()
        self.turned += sign

    def cut(self, ball):
        self.low = [each for each in self.low if ball not in each]
        self.high = [each for each in self.high if ball not in each]
        for yarns in (self.table, self.lap, self.half_way, self.needle):
            if ball in yarns:
                yarns.remove(ball)
        self._settle()

    def pass_ball(self, ball, other, turns, sign):
        """Led in front of what hangs between, round the other, and back the same way."""
        steps = 0
        while abs(self.needle.index(ball) - self.needle.index(other)) > 1:
            self._step(ball, self.needle.index(other) > self.needle.index(ball))
            steps += 1
        at = min(self.needle.index(ball), self.needle.index(other))
        for _ in range(2 * turns):
            self.cross(at, sign)
        onwards = self.needle.index(other) > self.needle.index(ball)
        for _ in range(steps):
            self._step(ball, not onwards)

    def _step(self, ball, onwards):
        at = self.needle.index(ball)
        self.cross(at if onwards else at - 1, -1 if onwards else 1)

    # What the words say

    def follow(self, sentence):
        if match := BALLS.fullmatch(sentence):
            assert match[1] == f"{self.first} to {self.last}"
            assert match[2].split(", ") == self.table, sentence
        elif match := LAY.fullmatch(sentence):
            self._follow_lay(match)
        elif match := PASS.fullmatch(sentence):
            between = self._between(match[1], match[4])
            over = re.split(", | and ", match[2]) if match[2] else []
            assert sorted(over) == sorted(between), sentence
            sign = 1 if (match[5] == "clockwise") == self.right else -1
            self.pass_ball(match[1], match[4], times(match[3]), sign)
        elif match := ROUND.fullmatch(sentence):
            for _ in range(2 * times(match[1])):
                self.turn(1 if match[2] == self.first else -1)
            self.turned -= 2 * times(match[1]) * (1 if match[2] == self.first else -1)
        elif match := TURN.fullmatch(sentence):
            self.turn(1 if match[1] == self.first else -1)
        else:
            assert LAP.fullmatch(sentence) or TALK.fullmatch(sentence), sentence

    def _between(self, ball, other):
        first, last = sorted((self.needle.index(ball), self.needle.index(other)))
        return self.needle[first + 1 : last]

    def _follow_lay(self, match):
        alone, among, side, beside, one, two = match.groups()
        ball = alone or among
        if not side and not one:
            assert not self.table
            at = 0
        elif side:
            at = 0 if side == self.first else len(self.table)
            assert self.table[0 if side == self.first else -1] == beside, match[0]
        else:
            at = self.table.index(two)
            assert self.table.index(one) == at - 1, match[0]
        self.table.insert(at, ball)
        # What begins in the row to come is not at the needle yet.
        if ball in self.lap:
            self.lead_up(ball)

    # What is seen

    def half_turns(self):
        """Half turns of each pair of yarns on the table, those of the turned work left out."""
        sums = defaultdict(int)
        for a, b, sign in [*self.low, *self.high]:
            sums[frozenset((a, b))] += sign
        left_out = self.turned % 2 * (1 if self.turned > 0 else -1)
        for a, b in combinations(self.needle, 2):
            sums[frozenset((a, b))] -= left_out
        return sums

    def word(self):
        """The braid word with the half turn of the work taken out again."""
        assert not self.lap
        sign = self.turned % 2 * (-1 if self.turned > 0 else 1)
        back = [(a, b, sign) for a, b in combinations(self.needle, 2)] if sign else []
        return word_of(self.table, [*self.low, *back])

    def is_clear(self):
        word, needle = self.word()
        return list(needle) == self.table and is_trivial(word, max(len(needle), 1))


class Knitter:
    """Works the rows of a plan at a table, whose balls are those of the plan."""

    def __init__(self, rows, plan):
        how = plan.traced.how
        self.plan, self.how, self.table = plan, how, Table(how.hand)
        self.columns = len(rows[0])
        self.row, self.parts = [], defaultdict(list)
        runs = [run for row in stretches(rows, **asdict(how)) for run in row]
        ball_of = {}
        for held in plan.held:
            for run in held.part.runs.tolist():
                if held.supply == "from the ball" and runs[run].row < held.on_ball_until():
                    ball_of[run] = held.part.title
        for number, run in enumerate(runs):
            if run.row == len(self.row):
                self.row.append([])
            self.row[-1].append((ball_of.get(number), run))
            if number in ball_of:
                self.parts[ball_of[number]].append(run)
        self.all_of = {held.part.title: held.part.runs.tolist() for held in plan.held}
        self.next = {}
        for own in self.all_of.values():
            for one, two in pairwise(own):
                self.next[runs[one]] = runs[two]
        self.before = {two: one for one, two in self.next.items()}
        self.edge = {}

    def along(self, edge, row):
        return self.columns - edge if self.how.runs_leftwards(row) else edge

    def over_join(self, one, two):
        far = 2 * abs(one.leave - two.enter) > self.columns
        return self.how.worked == "turned" and one.row != two.row and far

    def work(self, row):
        """A row, cell by cell: what hangs where, and who crosses whom."""
        table = self.table
        sign = 1 if self.how.worked == "rounds" or self.how.side(row) == "RS" else -1
        for ball, run in self.row[row]:
            if ball and run is self.parts[ball][0]:
                place = self.along(run.enter, row)
                hang = [self.along(self.edge[yarn], row) for yarn in table.needle]
                table.hang(ball, sum(at <= place for at in hang))
                self.edge[ball] = run.enter
        old = None
        for ball, run in self.row[row]:
            if ball:
                came = self.before.get(run)
                if came and self.over_join(came, run):
                    self.lead_round(ball, run, sign)
                self.carry(ball, run.enter, row, sign)
                at = table.needle.index(ball)
                if old and at and table.needle[at - 1] == old:
                    table.cross(at - 1, sign)
                    table.cross(at - 1, sign)
                self.carry(ball, run.leave, row, sign)
                goes = self.next.get(run)
                if goes and goes.row == row + 1 and self.how.is_turned:
                    on = self.along(goes.enter, row) - self.along(run.leave, row)
                    if on > 2 and not self.over_join(run, goes):
                        self.carry(ball, goes.enter, row, sign)
            old = ball
        for ball, run in self.row[row]:
            if ball and run is self.parts[ball][-1]:
                table.cut(ball)
                del self.edge[ball]

    def carry(self, ball, to, row, sign):
        """Behind the stitches of whoever hangs on the way."""
        needle, stop = self.table.needle, self.along(to, row)
        while (at := needle.index(ball)) and self.along(self.edge[needle[at - 1]], row) > stop:
            self.table.cross(at - 1, sign)
        while (at := needle.index(ball)) + 1 < len(needle) and self.along(
            self.edge[needle[at + 1]], row
        ) < stop:
            self.table.cross(at, sign)
        self.edge[ball] = to

    def lead_round(self, ball, run, sign):
        """Over the join: to the nearer end, and outside all others to the far one."""
        onwards = self.along(self.edge[ball], run.row) > self.along(run.enter, run.row)
        out = self.columns + 1, -1
        if self.how.runs_leftwards(run.row):
            out = -1, self.columns + 1
        near, far = out if onwards else out[::-1]
        self.carry(ball, near, run.row, sign)
        for _ in self.table.needle[1:]:
            at = self.table.needle.index(ball)
            self.table.cross(at - 1 if onwards else at, -sign if onwards else sign)
        self.edge[ball] = far

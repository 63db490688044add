"""Twists of the yarns that are fed from balls, as a braid between table and needle.

At a border old and new yarn make two half twists, of one sign on RS rows and of the other on WS
rows, for there the yarns hang on the other side of the work. A yarn that runs behind another's
stitches changes places with it. A turn of the work is a half twist of all yarns at once, which
reverses their order. Turned alternately, a RS row and the WS row after it cancel where the same
yarns meet in both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pandas as pd

from planner.piece import BALL
from planner.rows.braid import Braid, Crossing, as_word, linking, reduce_word
from planner.strands import Strands, Walk
from planner.supplies import Held

LONGEST_WORD = 4_000  # letters; a tangle beyond this is given by its linking numbers only
TURNS = {"towards": 1, "away": -1}  # the sign of the half twist that a turn of the work makes


class HasBalls(Protocol):
    """What the twists are told from: strands, and how their parts are held."""

    @property
    def traced(self) -> Strands: ...

    @property
    def held(self) -> Sequence[Held]: ...


@dataclass(frozen=True)
class Tangle:
    """How the balls' yarns lie after a row, counted from 1, and the turn that follows it.

    `table` is their order on the table and `needle` at the needle, both as seen from where the next
    row begins to where it ends; `crossings` lie between.
    """

    row: int
    table: tuple[str, ...]
    needle: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    turn: str

    @property
    def linking(self) -> dict[tuple[str, str], float]:
        """Linking number of each pair that has one other than 0."""
        return linking(self.crossings)

    def moves(self) -> list[tuple[str, str, int]]:
        """What the hands do at the balls to clear the yarns: (ball, round which, half turns).

        Half turns are clockwise, seen from above, if more than 0. Empty exactly if the yarns are
        clear already.
        """
        order = list(self.table)
        moves: list[tuple[str, str, int]] = []
        for letter in reduce_word(as_word(self.table, self.crossings)):
            i, sign = abs(letter) - 1, 1 if letter > 0 else -1
            a, b = order[i], order[i + 1]
            order[i], order[i + 1] = b, a
            # Half turns of the same two balls, the same way, are one move of the hand.
            if moves and {*moves[-1][:2]} == {a, b} and moves[-1][2] * sign < 0:
                ball, other, half_turns = moves[-1]
                moves[-1] = (ball, other, half_turns - sign)
            else:
                moves.append((a, b, -sign))
        return moves

    @property
    def clear(self) -> bool:
        """Whether the yarns are free of each other: the word itself reduces to nothing."""
        # Linking numbers are quick to add up, and any but 0 settles it; 0 alone proves nothing.
        return not self.linking and not self.moves()

    def in_words(self) -> str:
        """The state and what to do about it."""
        if len(self.table) < 2:
            return "clear: one ball at most"
        if self.clear:
            return "clear"
        if len(self.crossings) > LONGEST_WORD:
            return "tangled: " + ", ".join(
                f"{a} and {b} {number:+g}" for (a, b), number in self.linking.items()
            )
        return "; then ".join(_move_in_words(*move) for move in self.moves())


def _move_in_words(ball: str, other: str, half_turns: int) -> str:
    way = "clockwise" if half_turns > 0 else "anticlockwise"
    turns = abs(half_turns) / 2
    often = {0.5: "half way", 1: "once"}.get(turns, f"{turns:g} times")
    return f"pass ball {ball} {often} round ball {other}, {way}"


def twist_ledger(
    plan: HasBalls, *, first_turn: str = "towards", same_way: bool = False
) -> list[Tangle]:
    """The state of the balls' yarns after each worked row and its turn.

    `first_turn` is towards or away from the knitter; turns then alternate, unless `same_way`. In
    rounds nothing is turned.
    """
    strands = plan.traced
    balls = _Balls(strands, plan.held)
    first_sign = TURNS[first_turn]
    starts = np.searchsorted(strands.runs.row, np.arange(strands.runs.rows + 1))
    ledger = []
    for row in range(strands.runs.rows):
        balls.work(row, range(int(starts[row]), int(starts[row + 1])))
        turn = ""
        if not strands.how.in_rounds and row < strands.runs.rows - 1:
            sign = first_sign if same_way or row % 2 == 0 else -first_sign
            balls.braid.turn(sign)
            turn = "towards" if sign > 0 else "away"
        braid = balls.braid
        braid.tidy()
        ledger.append(
            Tangle(row + 1, tuple(braid.table), tuple(braid.order), tuple(braid.crossings), turn)
        )
    return ledger


class _Balls:
    """The yarns fed from balls, as a row is worked: where each hangs, and how they cross."""

    def __init__(self, strands: Strands, held: Sequence[Held]):
        self.runs = strands.runs
        self.links = strands.links
        self.how = strands.how
        self.walk = Walk(strands)
        self.braid = Braid()
        self.edge: dict[str, int] = {}  # where each yarn hangs, an edge from the left
        on_ball = [each for each in held if each.supply == BALL]
        self.ball = {int(run): each.part.title for each in on_ball for run in each.part.runs}
        self.last_run = {each.part.title: each.part.last_run for each in on_ball}
        self.leftwards = False
        self.sign = 1

    def work(self, row: int, in_row: range) -> None:
        """Work a row, from 0: its runs, in order."""
        self.leftwards = bool(self.runs.leftwards[row])
        self.sign = 1 if self.how.is_right_side(row) else -1
        self._lay_out(in_row)
        before = None
        for run in in_row:
            ball = self.ball.get(run)
            if ball:
                self._work_run(run, ball, before)
            before = ball
        finished = [ball for ball in self.braid.order if self.last_run[ball] in in_row]
        for ball in finished:
            self.braid.leave(ball)
            del self.edge[ball]

    def _along(self, edge: int) -> int:
        """An edge in the direction of work, from where the row begins."""
        return self.runs.columns - edge if self.leftwards else edge

    def _lay_out(self, in_row: range) -> None:
        """Lay out the balls that start in this row, before it is worked."""
        for run in in_row:
            ball = self.ball.get(run)
            if ball and ball not in self.edge:
                enter = int(self.runs.enter[run])
                before_it = [
                    other
                    for other in self.braid.order
                    if self._along(self.edge[other]) <= self._along(enter)
                ]
                self.braid.join(ball, len(before_it))
                self.edge[ball] = enter

    def _work_run(self, run: int, ball: str, before: str | None) -> None:
        """Work one run; `before` is the ball of the run before it, None if it hangs elsewhere."""
        self._carry(ball, int(self.runs.enter[run]))
        if before and before != ball:
            place = self.braid.order.index(before)
            if self.braid.order[place + 1 : place + 2] == [ball]:
                self.braid.cross(place, self.sign)  # and once more: a full twist
                self.braid.cross(place, self.sign)
        self._carry(ball, int(self.runs.leave[run]))
        link = self.walk.out.get(run)
        if link is not None and self.walk.woven(link):
            self._carry(ball, int(self.runs.enter[self.links.b[link]]))

    def _carry(self, ball: str, to: int) -> None:
        """Carry a yarn to an edge, onwards or back, behind the yarns that hang between."""
        order, along = self.braid.order, self._along
        i = order.index(ball)
        while i and along(self.edge[order[i - 1]]) > along(to):
            i -= 1
            self.braid.cross(i, self.sign)
        while i + 1 < len(order) and along(self.edge[order[i + 1]]) < along(to):
            self.braid.cross(i, self.sign)
            i += 1
        self.edge[ball] = to


def what_to_do(ledger: Sequence[Tangle], row: int) -> str:
    """What to do about the yarns after a row (from 1): nothing, wait for the next row, or pass
    balls."""
    now = ledger[row - 1]
    if not now.clear and row < len(ledger) and ledger[row].clear:
        return "undoes itself in the next row"
    return now.in_words()


def ledger_table(ledger: Sequence[Tangle]) -> pd.DataFrame:
    """One row a worked row: the turn after it, the balls in order on the table, and what to do."""
    lines = []
    for tangle in ledger:
        numbers = [f"{a}–{b} {number:+g}" for (a, b), number in tangle.linking.items()]
        lines.append(
            {
                "row": tangle.row,
                "turn": tangle.turn,
                "balls": ", ".join(tangle.table),
                "linking": "; ".join(numbers),
                "clear": tangle.clear,
                "what_to_do": what_to_do(ledger, tangle.row),
            }
        )
    return pd.DataFrame(lines)


def best_row_to_clear(ledger: Sequence[Tangle], first: int, last: int) -> int:
    """Of rows first to last (from 1) the one in which the fewest half turns clear the yarns.

    The earliest of equals.
    """
    rows = [tangle for tangle in ledger if first <= tangle.row <= last]

    def half_turns(tangle: Tangle) -> int:
        return sum(abs(half) for _, _, half in tangle.moves())

    return min(rows, key=lambda tangle: (half_turns(tangle), tangle.row)).row

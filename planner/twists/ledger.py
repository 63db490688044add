"""Twists of the yarns that are fed from balls, as a braid between table and needle.

At a border old and new yarn make two half twists, of one sign on RS rows and of the other on WS
rows, for there the yarns hang on the other side of the work. A yarn that runs behind another's
stitches changes places with it. A turn of the work is a half twist of all yarns at once, which
reverses their order. Turned alternately, a RS row and the WS row after it cancel where the same
yarns meet in both. In turned rounds a yarn that goes across the join passes outside all others,
from one end of the row to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import pandas as pd

from planner.piece import BALL
from planner.rows import runs_by_row
from planner.strands import Strands, Walk
from planner.supplies import Held
from planner.twists.braid import (
    Braid,
    Crossing,
    Linking,
    as_crossings,
    as_word,
    linking,
    reduce_word,
)

# Letters. A longer tangle is given by its linking numbers only: nobody could follow the moves, and
# to find them would take long.
LONGEST_WORD = 4_000
# The sign of the half twist that a turn of the work makes: turned back, it takes the last one out.
TURNS = {"towards": 1, "away": -1}


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
    def linking(self) -> Linking:
        """Linking number of each pair that has one other than 0."""
        return linking(self.crossings)

    def moves(self) -> list[tuple[str, str, int]]:
        """What the hands do at the balls to clear the yarns: (ball, round which, half turns).

        Half turns are clockwise, seen from above, if more than 0. Empty exactly if the yarns are
        clear already.
        """
        # The word begins at the balls, so the first crossing is the first that they can undo, by
        # going round each other the other way.
        word = reduce_word(as_word(self.table, self.crossings))
        moves: list[tuple[str, str, int]] = []
        for a, b, sign in as_crossings(self.table, word):
            ball, other, half_turns = moves[-1] if moves else ("", "", 0)
            # Half turns of the same two balls, the same way, are one move of the hand.
            if {ball, other} == {a, b} and half_turns * sign < 0:
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
            return f"tangled: {', '.join(self.linking_in_words(' and '))}"
        moves = [_move_in_words(*move) for move in self.moves()]
        return "; then ".join(moves)

    def linking_in_words(self, between: str) -> list[str]:
        """The pairs that are linked, with their numbers; `between` stands between two balls."""
        numbers = self.linking.items()
        return [f"{a}{between}{b} {number:+g}" for (a, b), number in numbers]


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
    rounds, unless they are turned rounds, nothing is turned.
    """
    strands = plan.traced
    balls = _Balls(strands, plan.held)
    braid = balls.braid
    back = "away" if first_turn == "towards" else "towards"
    turns = [first_turn] if same_way else [first_turn, back]
    ledger = []
    for row, in_row in enumerate(runs_by_row(strands.runs)):
        balls.work(row, in_row)
        turn = ""
        # After the last row there is no other to turn the work for.
        if strands.how.is_turned and row < strands.runs.rows - 1:
            turn = turns[row % len(turns)]
            braid.turn(TURNS[turn])
        braid.tidy()
        ledger.append(
            Tangle(
                row=row + 1,
                table=tuple(braid.table),
                needle=tuple(braid.order),
                crossings=tuple(braid.crossings),
                turn=turn,
            )
        )
    return ledger


class _Balls:
    """The yarns fed from balls, as a row is worked: where each hangs, and how they cross."""

    def __init__(self, strands: Strands, held: Sequence[Held]):
        self.how = strands.how
        self.columns = strands.runs.columns
        self.row_is_leftwards = strands.runs.leftwards
        self.enter: list[int] = strands.runs.enter.tolist()
        self.leave: list[int] = strands.runs.leave.tolist()
        self.next_run: list[int] = strands.links.b.tolist()
        self.walk = Walk(strands)
        self.braid = Braid()
        self.edge: dict[str, int] = {}  # where each yarn hangs, an edge from the left
        self.ball: dict[int, str] = {}  # the ball that works each run
        self.last_run: dict[str, int] = {}
        for each in held:
            # A supply that hangs can be dropped through the others: only balls tangle for good.
            if each.supply == BALL:
                ball = each.part.title
                # What is measured off in mid-strand and wound hangs from then on.
                is_fed = strands.runs.row[each.part.runs] < each.on_ball_until()
                fed = each.part.runs[is_fed].tolist()
                self.ball |= dict.fromkeys(fed, ball)
                self.last_run[ball] = fed[-1]
        self.leftwards = False
        self.sign = 1

    def work(self, row: int, in_row: range) -> None:
        """Work a row, from 0: its runs, in order."""
        self.leftwards = bool(self.row_is_leftwards[row])
        # On WS rows the yarns hang on the side that faces the knitter, so that the same way of
        # laying one over the other crosses them the other way.
        self.sign = 1 if self.how.is_right_side(row) else -1
        self._lay_out(in_row)
        before = None
        for run in in_row:
            ball = self.ball.get(run)
            if ball:
                self._work_run(run, ball, before)
            before = ball
        # A cut yarn takes all its crossings with it, so it is soon enough when the row is done.
        finished = [ball for ball in self.braid.order if self.last_run[ball] in in_row]
        for ball in finished:
            self.braid.leave(ball)
            del self.edge[ball]

    def _along(self, edge: int) -> int:
        """An edge in the direction of work, from where the row begins."""
        return self.columns - edge if self.leftwards else edge

    def _hangs(self, ball: str) -> int:
        """Where a yarn hangs, in the direction of work."""
        return self._along(self.edge[ball])

    def _lay_out(self, in_row: range) -> None:
        """Lay out the balls that start in this row, before it is worked."""
        # The place of a ball is told by where the yarns hang. In the midst of the row some of them
        # hang where the row took them already, the others where the last one left them.
        for run in in_row:
            ball = self.ball.get(run)
            if ball and ball not in self.edge:
                enter = self.enter[run]
                up_to = self._along(enter)
                before_it = [self._hangs(other) <= up_to for other in self.braid.order]
                self.braid.join(ball, sum(before_it))
                self.edge[ball] = enter

    def _work_run(self, run: int, ball: str, before: str | None) -> None:
        """Work one run; `before` is the ball of the run before it, None if it hangs elsewhere."""
        order = self.braid.order
        link = self.walk.into.get(run)
        if link is not None and self.walk.across_join(link):
            self._lead_over_join(ball, self.enter[run])
        self._carry(ball, self.enter[run])
        # The twist at the border is a full one: the new yarn goes under the old one and up behind
        # it. A third yarn that hangs at this very edge keeps the two apart.
        if before and order.index(ball) == order.index(before) + 1:
            place = order.index(before)
            self.braid.cross(place, self.sign)
            self.braid.cross(place, self.sign)
        self._carry(ball, self.leave[run])
        # Yarn that is woven along on this row hangs where the next row wants it.
        link = self.walk.out.get(run)
        if link is not None and self.walk.woven(link):
            wanted = self.next_run[link]
            self._carry(ball, self.enter[wanted])

    def _lead_over_join(self, ball: str, to: int) -> None:
        """Lead a yarn over the join, on its way to an edge beyond it.

        It goes to the nearer end of the row, and from there to the other end outside all other
        yarns: to come back the same way undoes that. So the two ways have opposite signs.
        """
        order = self.braid.order
        before, after = self._along(-1), self._along(self.columns + 1)  # beyond all that hang
        onwards = self._hangs(ball) > self._along(to)
        self._carry(ball, after if onwards else before)
        last = len(order) - 1
        places = range(last - 1, -1, -1) if onwards else range(last)
        for place in places:
            self.braid.cross(place, -self.sign if onwards else self.sign)
        self.edge[ball] = before if onwards else after

    def _carry(self, ball: str, to: int) -> None:
        """Carry a yarn to an edge, onwards or back, behind the yarns that hang between."""
        order = self.braid.order
        stop = self._along(to)
        place = order.index(ball)
        # Yarns that hang at the very edge where it stops are not passed, from either side.
        while place > 0 and self._hangs(order[place - 1]) > stop:
            place -= 1
            self.braid.cross(place, self.sign)
        while place + 1 < len(order) and self._hangs(order[place + 1]) < stop:
            self.braid.cross(place, self.sign)
            place += 1
        self.edge[ball] = to


def what_to_do(ledger: Sequence[Tangle], row: int) -> str:
    """What to do about the yarns after a row (from 1): nothing, wait, or pass balls."""
    now = ledger[row - 1]
    later = ledger[row:]
    # What the next row takes out by itself is not worth a move.
    if not now.clear and later and later[0].clear:
        return "undoes itself in the next row"
    return now.in_words()


def ledger_table(ledger: Sequence[Tangle]) -> pd.DataFrame:
    """One row a worked row: the turn after it, the balls in order on the table, and what to do."""
    lines = []
    for tangle in ledger:
        lines.append(
            {
                "row": tangle.row,
                "turn": tangle.turn,
                "balls": ", ".join(tangle.table),
                "linking": "; ".join(tangle.linking_in_words("–")),
                "clear": tangle.clear,
                "what_to_do": what_to_do(ledger, tangle.row),
            }
        )
    return pd.DataFrame(lines)


def best_row_to_clear(ledger: Sequence[Tangle], first: int, last: int) -> int:
    """Of rows first to last (from 1) the one in which the fewest half turns clear the yarns.

    The earliest of equals.
    """

    def half_turns(tangle: Tangle) -> int:
        return sum(abs(half) for _, _, half in tangle.moves())

    # Of equals `min` takes the first, and the ledger is in order.
    rows = [tangle for tangle in ledger if first <= tangle.row <= last]
    return min(rows, key=half_turns).row

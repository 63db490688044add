"""The yarns fed from balls as the rows are worked: where each hangs, and how they cross.

At a border old and new yarn make two half twists, of one sign on RS rows and of the other on WS
rows, for there the yarns hang on the other side of the work. A yarn that runs behind another's
stitches changes places with it. In turned rounds a yarn that goes across the join passes outside
all others, from one end of the row to the other.

All is written down as it lies while the work is as it was in the first row. A turn of the work is a
half twist of all yarns, which turning back takes out again, so turns are told apart (`ledger`,
`turning`). A new ball is laid on the table, its yarn on top, when the work is that way round.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Any, NamedTuple, Protocol

from planner.piece import BALL
from planner.rows import runs_by_row
from planner.strands import Strands, Walk
from planner.supplies import Held
from planner.twists.braid import Braid

# What happens to a braid: the name of one of its methods, and what that is given.
Step = tuple[str, tuple[Any, ...]]


class Move(NamedTuple):
    """What a hand does: pass a ball round another's yarn, or turn the work if none is named.

    `turns` are full turns; more than 0 as a RS row makes them. `over` are the yarns in front of
    which the ball is led there and back. The two ends of one ball are turned by a `spin` of it.
    """

    ball: str
    other: str
    turns: int
    over: tuple[str, ...] = ()
    spin: bool = False

    def step(self, front: int) -> Step:
        """What it does to a braid; `front` is −1 where the work is turned (`Braid.pass_ball`)."""
        if not self.ball:
            return "turn_round", (self.turns,)
        return "pass_ball", (self.ball, self.other, self.turns, front)


class HasBalls(Protocol):
    """What the twists are told from: strands, and how their parts are held."""

    @property
    def traced(self) -> Strands: ...

    @property
    def held(self) -> Sequence[Held]: ...


def take_steps(braid: Braid, steps: Iterable[Step]) -> None:
    """Let steps happen to a braid, in order."""
    for name, values in steps:
        getattr(braid, name)(*values)


class Balls:
    """The balls' yarns, row by row: `steps` is what happened in each worked row so far.

    Where both ends of a ball may be in use, `twins` names for such a yarn that of the other end.
    """

    def __init__(self, strands: Strands, held: Sequence[Held], *, both_ends: bool = False):
        self.how = strands.how
        self.columns = strands.runs.columns
        self.row_is_leftwards: list[bool] = strands.runs.leftwards.tolist()
        self.enter: list[int] = strands.runs.enter.tolist()
        self.leave: list[int] = strands.runs.leave.tolist()
        self.next_run: list[int] = strands.links.b.tolist()
        self.walk = Walk(strands)
        self.rows = runs_by_row(strands.runs)
        self.braid = Braid()
        self.steps: list[list[Step]] = []
        self.edge: dict[str, int] = {}  # where each yarn hangs, an edge from the left
        self.ball: dict[int, str] = {}  # the ball that works each run
        self.last_run: dict[str, int] = {}
        self.twins: dict[str, str] = {}
        ends: dict[tuple[str, int], list[str]] = defaultdict(list)
        for each in held:
            # A supply that hangs can be dropped through the others: only balls tangle for good.
            if each.supply == BALL:
                ball = each.part.title
                # What is measured off in mid-strand and wound hangs from then on.
                is_fed = strands.runs.row[each.part.runs] < each.on_ball_until()
                fed = each.part.runs[is_fed].tolist()
                self.ball |= dict.fromkeys(fed, ball)
                self.last_run[ball] = fed[-1]
                ends[each.part.yarn, each.stages[0].ball].append(ball)
        for balls in ends.values() if both_ends else ():
            self._find_twins(balls, strands)
        self.onwards = True  # whether the row goes the way of the first
        self.sign = 1

    def _find_twins(self, balls: Sequence[str], strands: Strands) -> None:
        """Note the yarns that come from the two ends of one ball at the same time."""
        first_run: dict[str, int] = {}
        for run, ball in self.ball.items():
            first_run[ball] = min(run, first_run.get(ball, run))
        row = strands.runs.row
        for one, two in combinations(balls, 2):
            begin = max(row[first_run[one]], row[first_run[two]])
            end = min(row[self.last_run[one]], row[self.last_run[two]])
            if begin <= end:
                self.twins |= {one: two, two: one}

    def is_turned_in(self, row: int) -> bool:
        """Whether a row, from 0, is worked with the work the other way round than the first."""
        return self.how.is_turned and row % 2 == 1

    def work(self, row: int, *, rounds: int = 0) -> None:
        """Work a row, from 0: its runs, in order, and first `rounds` full turns of the work."""
        self.steps.append([])
        if rounds:
            self.step("turn_round", rounds)
        self.onwards = self.row_is_leftwards[row] == self.row_is_leftwards[0]
        # On WS rows the yarns hang on the side that faces the knitter, so that the same way of
        # laying one over the other crosses them the other way.
        self.sign = 1 if self.how.is_right_side(row) else -1
        in_row = self.rows[row]
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
            self.step("cut", ball)
            del self.edge[ball]

    def clear(self, moves: Sequence[Move] | None) -> None:
        """Let moves be made after the last row; None frees all yarns.

        What is said of a ball that does not lie there is left out.
        """
        if moves is None:
            self.step("free")
        front = -1 if self.is_turned_in(len(self.steps) - 1) else 1
        for move in moves or ():
            if {move.ball, move.other} <= {*self.braid.order, ""}:
                name, values = move.step(front)
                self.step(name, *values)

    def step(self, name: str, *values: Any) -> None:
        """Let something happen to the braid, and write it down."""
        step = (name, values)
        self.steps[-1].append(step)
        take_steps(self.braid, [step])

    def _along(self, edge: int) -> int:
        """An edge in the direction of the first row, from where that begins."""
        return self.columns - edge if self.row_is_leftwards[0] else edge

    def _hangs(self, ball: str) -> int:
        """Where a yarn hangs, in the direction of the first row."""
        return self._along(self.edge[ball])

    def _lay_out(self, in_row: range) -> None:
        """Lay out the balls that start in this row, before it is worked."""
        # The place of a ball is told by where the yarns hang. In the midst of the row some of them
        # hang where the row took them already, the others where the last one left them.
        for run in in_row:
            ball = self.ball.get(run)
            if ball and ball not in self.edge:
                enter = self.enter[run]
                place = self._place_at(self._along(enter))
                self.step("lay", ball, self._place_on_table(ball, place), place)
                self.edge[ball] = enter

    def _place_at(self, along: int) -> int:
        """The place at the needle of a yarn that begins at an edge.

        Of those that hang at the very edge it comes after those that the row comes to.
        """
        hang = [self._hangs(ball) for ball in self.braid.order]
        if self.onwards:
            return sum(place <= along for place in hang)
        return sum(place < along for place in hang)

    def _place_on_table(self, ball: str, place: int) -> int:
        """Where to lay a ball whose yarn has a place at the needle: beside its neighbours' balls.

        Where balls do not lie as their yarns hang, the fewest yarns lie across on the way.
        """
        before = set(self.braid.order[:place])
        table = self.braid.table
        twin = self.twins.get(ball)
        if twin in table:
            # It lies there already.
            return table.index(twin) + (twin in before)

        def across(at: int) -> int:
            return len(before.symmetric_difference(table[:at]))

        return min(range(len(table) + 1), key=across)

    def _work_run(self, run: int, ball: str, before: str | None) -> None:
        """Work one run; `before` is the ball of the run before it, None if it hangs elsewhere."""
        order = self.braid.order
        link = self.walk.into.get(run)
        if link is not None and self.walk.across_join(link):
            self._lead_over_join(ball, self.enter[run])
        self._carry(ball, self.enter[run])
        # The twist at the border is a full one: the new yarn comes up from under the old one and
        # over it. A third yarn that hangs at this very edge keeps the two apart.
        if before and order.index(ball) - order.index(before) == (1 if self.onwards else -1):
            place = min(order.index(ball), order.index(before))
            self.step("cross", place, self.sign)
            self.step("cross", place, self.sign)
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
        # To turn an edge round twice gives it back, so these two lie beyond all that hang.
        ends = self._along(-1), self._along(self.columns + 1)
        to_last = self._hangs(ball) > self._along(to)
        near, far = ends[::-1] if to_last else ends
        self._carry(ball, near)
        last = len(order) - 1
        places = range(last - 1, -1, -1) if to_last else range(last)
        sign = -self.sign if to_last == self.onwards else self.sign
        for place in places:
            self.step("cross", place, sign)
        self.edge[ball] = far

    def _carry(self, ball: str, to: int) -> None:
        """Carry a yarn to an edge, onwards or back, behind the yarns that hang between."""
        order = self.braid.order
        stop = self._along(to)
        place = order.index(ball)
        # Yarns that hang at the very edge where it stops are not passed, from either side.
        while place > 0 and self._hangs(order[place - 1]) > stop:
            place -= 1
            self.step("cross", place, self.sign)
        while place + 1 < len(order) and self._hangs(order[place + 1]) < stop:
            self.step("cross", place, self.sign)
            place += 1
        self.edge[ball] = to

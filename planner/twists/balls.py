"""The yarns fed from balls as the rows are worked: where each hangs, and how they cross.

At a border old and new yarn make two half twists, of one sign on RS rows and of the other on WS
rows, for there the yarns hang on the other side of the work. A yarn that runs behind another's
stitches changes places with it. In turned rounds a yarn that goes across the join passes outside
all others, from one end of the row to the other.

All is written down as it lies while the work is as it was in the first row. A turn of the work is a
half twist of all yarns, which turning back takes out again, so turns are told apart. A new ball is
laid on the table, its yarn on top, when the work is that way round.
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
        values = self.ball, self.other, self.turns, front
        return "pass_ball", values


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
        runs = strands.runs
        self.how = strands.how
        self.columns = runs.columns
        self.leftwards: list[bool] = runs.leftwards.tolist()
        self.enter: list[int] = runs.enter.tolist()
        self.leave: list[int] = runs.leave.tolist()
        self.next_run: list[int] = strands.links.b.tolist()
        self.walk = Walk(strands)
        self.rows = runs_by_row(runs)
        self.braid = Braid()
        self.steps: list[list[Step]] = []
        self.edge: dict[str, int] = {}  # where each yarn hangs, an edge from the left
        self.ball: dict[int, str] = {}  # the ball that works each run
        self.last_run: dict[str, int] = {}
        # A supply that hangs can be dropped through the others: only balls tangle for good.
        for each in held:
            if each.supply == BALL:
                self._take(each, strands)
        self.twins = _find_twins(held) if both_ends else {}
        self.onwards = True  # whether the row goes the way of the first
        self.sign = 1

    def _take(self, held: Held, strands: Strands) -> None:
        """Note which runs a ball works."""
        part = held.part
        rows = strands.runs.row[part.runs]
        # What is measured off in mid-strand and wound hangs from then on.
        is_fed = rows < held.on_ball_until()
        fed: list[int] = part.runs[is_fed].tolist()
        for run in fed:
            self.ball[run] = part.title
        self.last_run[part.title] = fed[-1]

    def is_turned_in(self, row: int) -> bool:
        """Whether a row, from 0, is worked with the work the other way round than the first."""
        return self.how.is_turned and row % 2 == 1

    def front(self, row: int) -> int:
        """1, or −1 where the knitter sees the work from its other side (`Braid.pass_ball`)."""
        return -1 if self.is_turned_in(row) else 1

    def work(self, row: int, *, rounds: int = 0) -> None:
        """Work a row, from 0: its runs, in order, and first `rounds` full turns of the work."""
        self.steps.append([])
        if rounds:
            self.step("turn_round", rounds)
        self.onwards = self.leftwards[row] == self.leftwards[0]
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
        for ball in self.braid.order.copy():
            last_run = self.last_run[ball]
            if last_run in in_row:
                self.step("cut", ball)
                del self.edge[ball]

    def clear(self, moves: Sequence[Move] | None) -> None:
        """Let moves be made after the last row; None frees all yarns.

        What is said of a ball that does not lie there is left out.
        """
        if moves is None:
            self.step("free")
            return
        last = len(self.steps) - 1
        front = self.front(last)
        for move in moves:
            # A turn of the work names no ball.
            named = {move.ball, move.other} - {""}
            if named.issubset(self.braid.order):
                name, values = move.step(front)
                self.step(name, *values)

    def step(self, name: str, *values: Any) -> None:
        """Let something happen to the braid, and write it down."""
        step = name, values
        self.steps[-1].append(step)
        take_steps(self.braid, [step])

    def _along(self, edge: int) -> int:
        """An edge in the direction of the first row, from where that begins."""
        return self.columns - edge if self.leftwards[0] else edge

    def _hangs(self, ball: str) -> int:
        """Where a yarn hangs, in the direction of the first row."""
        edge = self.edge[ball]
        return self._along(edge)

    def _lay_out(self, in_row: range) -> None:
        """Lay out the balls that start in this row, before it is worked."""
        # The place of a ball is told by where the yarns hang. In the midst of the row some of them
        # hang where the row took them already, the others where the last one left them.
        for run in in_row:
            ball = self.ball.get(run)
            if ball and ball not in self.edge:
                enter = self.enter[run]
                place = self._place_at(enter)
                at_table = self._place_on_table(ball, place)
                self.step("lay", ball, at_table, place)
                self.edge[ball] = enter

    def _place_at(self, edge: int) -> int:
        """The place at the needle of a yarn that begins at an edge.

        Of those that hang at the very edge it comes after those that the row comes to.
        """
        along = self._along(edge)
        place = 0
        for ball in self.braid.order:
            hangs = self._hangs(ball)
            # A row that goes back comes from the other side to those at the very edge.
            if hangs < along or (hangs == along and self.onwards):
                place += 1
        return place

    def _place_on_table(self, ball: str, place: int) -> int:
        """Where to lay a ball whose yarn has a place at the needle: beside its neighbours' balls.

        Where balls do not lie as their yarns hang, the fewest yarns lie across on the way.
        """
        before = set(self.braid.order[:place])
        table = self.braid.table
        twin = self.twins.get(ball)
        if twin in table:
            # It lies there already.
            at_twin = table.index(twin)
            return at_twin + 1 if twin in before else at_twin

        def lie_across(at_table: int) -> int:
            nearer = table[:at_table]
            return len(before.symmetric_difference(nearer))

        places = range(len(table) + 1)
        return min(places, key=lie_across)

    def _work_run(self, run: int, ball: str, before: str | None) -> None:
        """Work one run; `before` is the ball of the run before it, None if it hangs elsewhere."""
        enter = self.enter[run]
        came = self.walk.into.get(run)
        if came is not None and self.walk.across_join(came):
            self._lead_over_join(ball, enter)
        self._carry(ball, enter)
        if before:
            self._cross_at_border(before, ball)
        leave = self.leave[run]
        self._carry(ball, leave)
        # Yarn that is woven along on this row hangs where the next row wants it.
        goes = self.walk.out.get(run)
        if goes is not None and self.walk.woven(goes):
            wanted = self.next_run[goes]
            self._carry(ball, self.enter[wanted])

    def _cross_at_border(self, old: str, new: str) -> None:
        """Cross old and new yarn: the new one comes up from under the old one and over it."""
        old_place = self.braid.order.index(old)
        new_place = self.braid.order.index(new)
        # A third yarn that hangs at this very edge keeps the two apart.
        beside = old_place + 1 if self.onwards else old_place - 1
        if new_place != beside:
            return
        place = min(old_place, new_place)
        # The twist at a border is a full one.
        self.step("cross", place, self.sign)
        self.step("cross", place, self.sign)

    def _lead_over_join(self, ball: str, to: int) -> None:
        """Lead a yarn over the join, on its way to an edge beyond it.

        It goes to the nearer end of the row, and from there to the other end outside all other
        yarns: to come back the same way undoes that. So the two ways have opposite signs.
        """
        # To turn an edge round twice gives it back, so these two lie beyond all that hang.
        first = self._along(-1)
        last = self._along(self.columns + 1)
        places = range(len(self.braid.order) - 1)
        nearer, farther = first, last
        to_last = self._hangs(ball) > self._along(to)
        if to_last:
            nearer, farther = last, first
            places = places[::-1]
        self._carry(ball, nearer)
        # The way of the row, or back.
        sign = -self.sign if to_last == self.onwards else self.sign
        for place in places:
            self.step("cross", place, sign)
        self.edge[ball] = farther

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


def _find_twins(held: Iterable[Held]) -> dict[str, str]:
    """For each yarn from one end of a ball the one that comes from its other end then."""
    by_ball: dict[tuple[str, int], list[Held]] = defaultdict(list)
    for each in held:
        if each.supply == BALL:
            first_stage = each.stages[0]
            ball = each.part.yarn, first_stage.ball
            by_ball[ball].append(each)
    twins: dict[str, str] = {}
    for of_one_ball in by_ball.values():
        for first, second in combinations(of_one_ball, 2):
            # Those that follow each other take the same end, one after the other.
            begin = max(first.part.first_row, second.part.first_row)
            end = min(first.on_ball_until(), second.on_ball_until())
            if begin < end:
                twins[first.part.title] = second.part.title
                twins[second.part.title] = first.part.title
    return twins

"""After which rows the turns of the balls' yarns are taken out.

The fewest moves are known with the rows by which they are due (`fewest`). Here each is given its
row: from when on the turn that it takes out has stood there for good, up to when it is due. There
it is made where it takes out what was twisted last, where the knitter stops anyway, and together
with others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from planner.twists.balls import Move, Step, take_steps
from planner.twists.braid import Braid, Names
from planner.twists.fewest import Due, Pair, fewest_moves, hanging_pairs

# Hand moves at one stop; more are only asked for where nothing else would do.
MOST_MOVES = 4
# Moves that are looked at to be made with others, and rows by which one is made before it is due.
LOOK_AHEAD = 12
LOOK_BACK = 80


class Clearings:
    """The moves of a piece: `moves` by row, and the braid `after` each row and its moves.

    `hanging` are the sums of the pairs that hang after each row, moves included.
    """

    def __init__(
        self,
        steps: Sequence[Sequence[Step]],
        pairs: Sequence[Pair],
        *,
        start: int,
        good: Sequence[int],
        fronts: Sequence[int],
        twins: Mapping[str, str],
        turns_first: bool,
    ):
        """Find the moves.

        `steps` is what happens in each row, `pairs` the sums without any move, `good` how good each
        row is to stop at, and `fronts` as `Balls.front` tells it. No move is made before the row
        `start`. `twins` names for each yarn of a ball whose both ends are in use the other one.
        Where `turns_first`, the work is rather turned round than as many balls passed.
        """
        self.steps = steps
        self.start = start
        self.good = good
        self.fronts = fronts
        self.twins = twins
        self.moves: dict[int, list[Move]] = {}
        self.after: list[Braid] = []
        self.hanging = hanging_pairs(pairs, len(steps))
        due = fewest_moves(self.hanging, start, turns_first=turns_first)
        # Until it has its row each counts from where it is due, so that no sum is ever too large.
        for each in due:
            self._count(each, each.row, len(steps))
        while due:
            due = self._place_first(due)
        self._work_to(len(steps) - 1)

    def number_of_moves(self, row: int) -> int:
        """How many moves are made after a row."""
        moves = self.moves.get(row, [])
        return sum(abs(move.turns) for move in moves)

    def _count(self, due: Due, row: int, stop: int) -> None:
        """Let a move count from a row up to the one before `stop`."""
        # A turn of the work is one of every pair; what is laid after it has no part in it.
        pairs = self.hanging[due.row] if due.pair is None else [due.pair]
        for pair in pairs:
            pair.move(row, stop, due.turn)

    def _place_first(self, due: list[Due]) -> list[Due]:
        """Give the first moves their row, and others that may be made with them; the rest."""
        last = due[0].row
        together = [each for each in due[:MOST_MOVES] if each.row == last]
        left = due[len(together) :]
        self._work_to(last)
        row = self._best_row(together)
        self._make(together, row)
        # The knitter has stopped and lifts balls: what falls due soon costs no stop of its own now.
        for each in left[:LOOK_AHEAD]:
            if self.number_of_moves(row) >= MOST_MOVES:
                break
            alone = [each]
            rows = self._rows_for(alone, earliest=row)
            if row in rows and self._comes_off(alone, row):
                self._make(alone, row)
                left.remove(each)
        return left

    def _best_row(self, due: list[Due]) -> int:
        """The best row to make some moves after, which are due in one row."""
        last = due[0].row
        room = MOST_MOVES - len(due)
        rows = self._rows_for(due, earliest=last - LOOK_BACK)
        with_room = [row for row in rows if self.number_of_moves(row) <= room]

        def worth(row: int) -> tuple[bool, int, int]:
            # Of rows that are as good the latest: nobody stops before it has to be.
            comes_off = self._comes_off(due, row)
            return comes_off, self.good[row], row

        return max(with_room, key=worth, default=last)

    def _rows_for(self, due: list[Due], *, earliest: int) -> range:
        """The rows after which moves that are due in one row may be made, that row included.

        Before it each turn that they take out has to stand from then on, or it would have gone by
        itself; and no pair may hold too much.
        """
        last = due[0].row
        turns_work = any(each.pair is None for each in due)
        first = max(self.start, earliest)
        row = last
        while row > first:
            # What is laid later is not turned with the others.
            if turns_work and self._lays(row):
                break
            if not self._may_be_made(due, row - 1):
                break
            row -= 1
        return range(row, last + 1)

    def _lays(self, row: int) -> bool:
        """Whether a ball is laid in a row."""
        names = [name for name, _ in self.steps[row]]
        return "lay" in names

    def _may_be_made(self, due: list[Due], row: int) -> bool:
        """Whether moves may be made after a row that comes before the one in which they are due."""
        of_all = 0
        passes: Counter[Names] = Counter()
        for each in due:
            if each.pair is None:
                of_all += each.turn
            elif row in each.pair.rows:
                passes[each.pair.balls] += each.turn
            else:
                return False
        before = after = 0
        for pair in self.hanging[row]:
            held = pair.after(row)
            passed = passes[pair.balls]
            if not _stands(held, passed):
                return False
            # A turn of the work takes out some turns and adds others: in all there must be fewer.
            then = held + 2 * (passed + of_all)
            if then != held and abs(then) > pair.most:
                return False
            before += abs(held)
            after += abs(then)
        return after < before

    def _comes_off(self, due: list[Due], row: int) -> bool:
        """Whether moves take out what was twisted last, so that nothing of it is left."""
        braid = self.after[row].copy()
        for each in self._in_order(due, braid, row):
            crossings = len(braid.crossings)
            move = self._as_move(each, braid)
            self._do(braid, move, row)
            if move.ball and len(braid.crossings) >= crossings:
                return False
        return True

    def _make(self, due: list[Due], row: int) -> None:
        """Make moves after a row."""
        moves = self.moves.setdefault(row, [])
        braid = self.after[row]
        for each in self._in_order(due, braid.copy(), row):
            self._count(each, row, each.row)
            move = self._as_move(each, braid)
            self._do(braid, move, row)
            moves.append(move)
        self.moves[row] = _joined(moves)
        # The rows that follow are worked anew.
        last = len(self.after) - 1
        del self.after[row + 1 :]
        self._work_to(last)

    def _in_order(self, due: list[Due], braid: Braid, row: int) -> list[Due]:
        """Moves in the order in which they are made: always the one that leaves least."""
        left = due.copy()
        in_order: list[Due] = []
        while len(left) > 1:
            crossings = [self._left_by(each, braid, row) for each in left]
            fewest = crossings.index(min(crossings))
            each = left.pop(fewest)
            in_order.append(each)
            move = self._as_move(each, braid)
            self._do(braid, move, row)
        return in_order + left

    def _left_by(self, due: Due, braid: Braid, row: int) -> int:
        """How many crossings a move leaves."""
        then = braid.copy()
        move = self._as_move(due, braid)
        self._do(then, move, row)
        return len(then.crossings)

    def _as_move(self, due: Due, braid: Braid) -> Move:
        """A due move as the hand makes it: the ball is lifted that lies farther on."""
        if due.pair is None:
            return Move("", "", due.turn)
        places = map(braid.order.index, due.pair.balls)
        nearer, farther = sorted(places)
        over = braid.order[nearer + 1 : farther]
        ball = braid.order[farther]
        other = braid.order[nearer]
        # A ball whose other end is in use would take that yarn along.
        spin = self.twins.get(ball) == other
        if ball in self.twins and not spin:
            ball, other = other, ball
        return Move(ball, other, due.turn, tuple(over), spin)

    def _do(self, braid: Braid, move: Move, row: int) -> None:
        """Make a move to a braid, after a row."""
        step = move.step(self.fronts[row])
        take_steps(braid, [step])

    def _work_to(self, last: int) -> None:
        """Work the rows up to this one, with the moves that have their row."""
        for row in range(len(self.after), last + 1):
            braid = Braid()
            if row:
                braid = self.after[row - 1].copy()
            take_steps(braid, self.steps[row])
            for move in self.moves.get(row, []):
                self._do(braid, move, row)
            self.after.append(braid)


def _stands(half_turns: int, passes: int) -> bool:
    """Whether so many turns as are passed stand there, to be taken out."""
    if not passes:
        return True
    takes_out = (half_turns > 0) != (passes > 0)
    return takes_out and abs(half_turns) >= 2 * abs(passes)


def _joined(moves: Iterable[Move]) -> list[Move]:
    """The moves, with what is done again at once said as one."""
    joined: list[Move] = []
    for move in moves:
        # Before the first one stands a move of no turns, which none is like.
        last = joined[-1] if joined else Move("", "", 0)
        again = last._replace(turns=move.turns)
        same_way = last.turns * move.turns > 0
        if again == move and same_way:
            turns = last.turns + move.turns
            joined[-1] = move._replace(turns=turns)
        else:
            joined.append(move)
    return joined

"""Which turns of the balls' yarns are taken out by hand, and after which rows.

The sum of each pair is known for the whole piece before a hand is lifted: half turns after each
row, which a pass of a ball changes by two for one pair, and a turn of the work by two for all. The
fewest moves are found first. A move can always wait until some pair would hold more than is
allowed, so only at such rows there is something to choose: which pairs are passed, and how often
the work is turned. Of the ways to come there only those are kept that none other can catch up with.

Then each move is given its row: from when on the turn that it takes out has stood there for good,
up to when it is due. There it is made where it takes out what was twisted last, where the knitter
stops anyway, and together with others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from planner.twists.balls import Move, Step, take_steps
from planner.twists.braid import Braid, pair_of

# Hand moves at one stop; more are only asked for where nothing else would do.
MOST_MOVES = 4
# Ways that are followed at the same time; moves that are looked at to be made with others; rows by
# which a move is made earlier than it is due.
MOST_WAYS = 24
LOOK_AHEAD = 12
LOOK_BACK = 80


@dataclass
class Pair:
    """Two balls' yarns: their half turns after each row from `first` on, while both hang.

    `most` is how many half turns they may hold. `moved` is what the moves given a row add.
    """

    balls: tuple[str, str]
    first: int
    most: int
    half_turns: list[int] = field(default_factory=list)
    moved: list[int] = field(default_factory=list)

    def hangs(self, row: int) -> bool:
        """Whether both yarns hang after a row."""
        return self.first <= row < self.first + len(self.half_turns)

    def after(self, row: int) -> int:
        """Half turns after a row and the moves made by then."""
        at = row - self.first
        return self.half_turns[at] + self.moved[at]

    def before_moves(self, row: int) -> int:
        """Half turns after a row, without the moves that are made after it."""
        at = row - self.first
        return self.half_turns[at] + (self.moved[at - 1] if at else 0)

    def move(self, row: int, stop: int, half_turns: int) -> None:
        """Add half turns after each row from `row` to the one before `stop`."""
        for at in range(max(row, self.first), min(stop, self.first + len(self.half_turns))):
            self.moved[at - self.first] += half_turns

    def too_many(self, half_turns: int) -> int:
        """Full turns that have to be added, so that the pair holds no more than it may."""
        if half_turns > self.most:
            return -((half_turns - self.most + 1) // 2)
        return max(0, (-half_turns - self.most + 1) // 2)


class Due(NamedTuple):
    """A move that has to be made by a row: one turn more or less (`turn`) of a pair, or of all."""

    row: int
    pair: Pair | None
    turn: int


# The fewest moves


class _Made(NamedTuple):
    """Turns that are added after a row, to a pair by its number or to all, and what was before."""

    row: int
    number: int | None
    turns: int
    before: _Made | None


class _Way(NamedTuple):
    """A way to come to a row: its cost (moves, of these turns of the work), and its moves so far.

    `turns` is what its moves added to each pair that hangs; `made` is the last move and those
    before it.
    """

    cost: tuple[int, int]
    turns: dict[int, int]
    made: _Made | None


def fewest_moves(pairs: Sequence[Pair], rows: range) -> list[Due]:
    """The fewest moves that keep every pair within what it may hold, each as late as it can be."""
    hanging: dict[int, list[int]] = defaultdict(list)
    for number, pair in enumerate(pairs):
        for row in range(pair.first, pair.first + len(pair.half_turns)):
            hanging[row].append(number)
    ways = [_Way((0, 0), {}, None)]
    for row in rows:
        hang = hanging[row]
        found: list[_Way] = []
        for way in ways:
            turns = {number: way.turns.get(number, 0) for number in hang}
            now = way._replace(turns=turns)
            found += _ways_on(now, row, pairs)
        ways = _worth_following(found)
    return _moves_of(ways[0], pairs)


def _ways_on(way: _Way, row: int, pairs: Sequence[Pair]) -> Iterator[_Way]:
    """The ways to go on after a row, with as many turns of the work as may be of use."""
    missing = [_missing(way, number, row, pairs) for number in way.turns]
    if not any(missing):
        yield way
        return
    # A turn of the work does for one pair no more than a pass does.
    worth = range(min(missing), max(missing) + 1) if len(missing) > 1 else range(1)
    for of_all in {0, *worth}:
        turns = {number: turn + of_all for number, turn in way.turns.items()}
        turned = way._replace(turns=turns)
        made = way.made
        if of_all:
            made = _Made(row, None, of_all, made)
        moves = abs(of_all)
        for number in way.turns:
            passes = _missing(turned, number, row, pairs)
            if passes:
                made = _Made(row, number, passes, made)
                turns[number] += passes
                moves += abs(passes)
        cost = way.cost[0] + moves, way.cost[1] + abs(of_all)
        yield _Way(cost, turns, made)


def _missing(way: _Way, number: int, row: int, pairs: Sequence[Pair]) -> int:
    """Turns that a pair has to be given after a row, so that it holds no more than it may."""
    pair = pairs[number]
    return pair.too_many(pair.after(row) + 2 * way.turns[number])


def _worth_following(ways: list[_Way]) -> list[_Way]:
    """The ways, cheapest first, without those that a cheaper one can catch up with."""
    if len(ways) == 1:
        return ways
    kept: list[_Way] = []
    for way in sorted(ways, key=lambda way: way.cost):
        if not any(_catches_up(cheaper, way) for cheaper in kept):
            kept.append(way)
        if len(kept) == MOST_WAYS:
            break
    return kept


def _catches_up(cheaper: _Way, way: _Way) -> bool:
    """Whether the moves that make of a cheaper way this one leave it no dearer."""
    left = way.cost[0] - cheaper.cost[0]
    apart = [turn - cheaper.turns[number] for number, turn in way.turns.items()]
    for of_all in {0, *apart}:
        moves = abs(of_all) + sum(abs(turn - of_all) for turn in apart)
        # Turns of the work come after passes where both are as many.
        if moves < left or (moves == left and not of_all):
            return True
    return False


def _moves_of(way: _Way, pairs: Sequence[Pair]) -> list[Due]:
    """The moves of a way one by one, in the order of their rows."""
    moves: list[Due] = []
    made = way.made
    while made is not None:
        pair = None if made.number is None else pairs[made.number]
        each = Due(made.row, pair, 1 if made.turns > 0 else -1)
        moves += [each] * abs(made.turns)
        made = made.before
    return moves[::-1]


# The row of each move


class Clearings:
    """The moves of a piece: `moves` by row, and the braid `after` each row and its moves.

    `steps` is what happens in each row, `pairs` the sums without any move, `good` how good each row
    is to stop at, and `fronts` 1 by row, or −1 where the work is turned. No move is made before the
    row `start`. `twins` names for each yarn of a ball whose both ends are in use the other one.
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
    ):
        self.steps = steps
        self.pairs = pairs
        self.start = start
        self.good = good
        self.fronts = fronts
        self.twins = twins
        self.moves: dict[int, list[Move]] = {}
        self.after: list[Braid] = []
        # A long piece has many pairs, of which few hang at the same time.
        self.hanging: list[list[Pair]] = [[] for _ in steps]
        for pair in pairs:
            for row in range(pair.first, pair.first + len(pair.half_turns)):
                self.hanging[row].append(pair)
        due = fewest_moves(pairs, range(start, len(steps)))
        for each in due:
            self._change([each], each.row, len(steps))
        while due:
            due = self._place_first(due)
        self._work_to(len(steps) - 1)

    def number_of_moves(self, row: int) -> int:
        """How many moves are made after a row."""
        return sum(abs(move.turns) for move in self.moves.get(row, []))

    def _change(self, due: Iterable[Due], row: int, stop: int) -> None:
        """Let moves count from a row up to the one before `stop`."""
        for each in due:
            pairs = self.hanging[each.row] if each.pair is None else [each.pair]
            for pair in pairs:
                pair.move(row, stop, 2 * each.turn)

    def _place_first(self, due: list[Due]) -> list[Due]:
        """Give the first moves their row, and others that may be made with them; the rest."""
        last = due[0].row
        together = [each for each in due[:MOST_MOVES] if each.row == last]
        left = due[len(together) :]
        self._work_to(last)
        row = self._best_row(together)
        self._make(together, row)
        for each in left[:LOOK_AHEAD]:
            if self.number_of_moves(row) >= MOST_MOVES:
                break
            may_be_made = row in self._rows_for([each], earliest=row)
            if may_be_made and self._comes_off([each], row):
                self._make([each], row)
                left.remove(each)
        return left

    def _best_row(self, due: list[Due]) -> int:
        """The best row to make some moves after, which are due in one row."""
        may_be = self._rows_for(due, earliest=due[0].row - LOOK_BACK)
        room = MOST_MOVES - len(due)
        rows = [row for row in may_be if self.number_of_moves(row) <= room]
        if not rows:
            return due[0].row

        def worth(row: int) -> tuple[bool, int, int]:
            return self._comes_off(due, row), self.good[row], row

        return max(rows, key=worth)

    def _rows_for(self, due: list[Due], *, earliest: int) -> range:
        """The rows after which moves that are due in one row may be made, that row included.

        Before it each turn that they take out has to stand from then on, or it would have gone by
        itself; and no pair may hold too much.
        """
        last = due[0].row
        turns_work = any(each.pair is None for each in due)
        row = last
        while row > max(self.start, earliest) and self._may_be_made(due, row - 1):
            # What is laid later is not turned with the others.
            if turns_work and any(name == "lay" for name, _ in self.steps[row]):
                break
            row -= 1
        return range(row, last + 1)

    def _may_be_made(self, due: list[Due], row: int) -> bool:
        """Whether moves may be made after a row that comes before the one in which they are due."""
        of_all = sum(each.turn for each in due if each.pair is None)
        passes: dict[int, int] = defaultdict(int)
        for each in due:
            if each.pair is not None:
                passes[id(each.pair)] += each.turn
                if not each.pair.hangs(row):
                    return False
        before = after = 0
        for pair in self.hanging[row]:
            held = pair.after(row)
            passed = passes.get(id(pair), 0)
            then = held + 2 * (passed + of_all)
            if passed and (abs(held) < 2 * abs(passed) or held * passed > 0):
                return False
            if then != held and abs(then) > pair.most:
                return False
            before += abs(held)
            after += abs(then)
        return after < before

    def _comes_off(self, due: list[Due], row: int) -> bool:
        """Whether moves take out what was twisted last, so that nothing of it is left."""
        braid = self.after[row].copy()
        return all(each.pair is None for each in due) or self._passes(due, row, braid)[1]

    def _passes(self, due: list[Due], row: int, braid: Braid) -> tuple[list[Move], bool]:
        """Moves in the order in which they are made to a braid, and whether all come off."""
        front = self.fronts[row]
        left = list(due)
        moves: list[Move] = []
        all_come_off = True
        while left:
            tried = []
            for number, each in enumerate(left):
                move = self._as_move(each, braid)
                then = braid.copy()
                take_steps(then, [move.step(front)])
                tried.append((len(then.crossings), number, move))
            crossings, number, move = min(tried)
            if move.ball and crossings >= len(braid.crossings):
                all_come_off = False
            take_steps(braid, [move.step(front)])
            moves.append(move)
            del left[number]
        return moves, all_come_off

    def _as_move(self, due: Due, braid: Braid) -> Move:
        """A due move as the hand makes it: the ball is lifted that lies farther on."""
        if due.pair is None:
            return Move("", "", due.turn)
        first, second = sorted(braid.order.index(ball) for ball in due.pair.balls)
        over = tuple(braid.order[first + 1 : second])
        ball, other = braid.order[second], braid.order[first]
        # A ball whose other end is in use would take that yarn along.
        spin = self.twins.get(ball) == other
        if ball in self.twins and not spin:
            ball, other = other, ball
        return Move(ball, other, due.turn, over, spin)

    def _make(self, due: list[Due], row: int) -> None:
        """Make moves after a row."""
        self._change(due, row, due[0].row)
        moves, _ = self._passes(due, row, self.after[row])
        self.moves[row] = _joined([*self.moves.get(row, []), *moves])
        # The rows that follow are worked anew.
        last = len(self.after) - 1
        del self.after[row + 1 :]
        self._work_to(last)

    def _work_to(self, last: int) -> None:
        """Work the rows up to this one, with the moves that have their row."""
        for row in range(len(self.after), last + 1):
            braid = self.after[row - 1].copy() if row else Braid()
            take_steps(braid, self.steps[row])
            moves = self.moves.get(row, [])
            take_steps(braid, [move.step(self.fronts[row]) for move in moves])
            self.after.append(braid)


def _joined(moves: Iterable[Move]) -> list[Move]:
    """The moves, with what is done again at once said as one."""
    joined: list[Move] = []
    for move in moves:
        last = joined[-1] if joined else None
        if (
            last
            and last._replace(turns=0) == move._replace(turns=0)
            and last.turns * move.turns > 0
        ):
            joined[-1] = last._replace(turns=last.turns + move.turns)
        else:
            joined.append(move)
    return joined


def sums_of(braids: Sequence[Braid], most: Mapping[str, int]) -> list[Pair]:
    """The sums of each pair, row by row, from the braids after each row.

    `most` are the full turns that each yarn may hold with another.
    """
    pairs: dict[tuple[str, str], Pair] = {}
    for row, braid in enumerate(braids):
        for at, second in enumerate(braid.order):
            for first in braid.order[:at]:
                balls = pair_of(first, second)
                if balls not in pairs:
                    # A half turn more is none: the yarns only lie across.
                    turns = min(most[first], most[second])
                    pairs[balls] = Pair(balls, row, 2 * turns + 1)
                pairs[balls].half_turns.append(braid.between(*balls))
                pairs[balls].moved.append(0)
    return list(pairs.values())

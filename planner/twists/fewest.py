"""The fewest hand moves that keep the balls' yarns within what they may hold.

The sum of each pair is known for the whole piece before a hand is lifted: half turns after each
row, which a pass of a ball changes by two for one pair, and a turn of the work by two for all. A
move can always wait until some pair would hold more than is allowed, so only at such rows there is
something to choose: which pairs are passed, and how often the work is turned. Only the work may be
turned before it has to be, so that a ball that is laid in the next row is not turned with it. Of
the ways to come to a row only those are followed that a cheaper one cannot catch up with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from planner.twists.braid import Braid, Names, pair_of, sign_of

# Ways that are followed at the same time; turns of the work that are tried before a ball is laid.
MOST_WAYS = 24
BEFORE_LAYING = (-2, -1, 1, 2)


@dataclass
class Pair:
    """Two balls' yarns: their half turns after each row from `first` on, while both hang.

    `most` is how many half turns they may hold. `moved` is what moves add to each row.
    """

    balls: Names
    first: int
    most: int
    half_turns: list[int] = field(default_factory=list)
    moved: list[int] = field(default_factory=list)

    @property
    def rows(self) -> range:
        """The rows after which both yarns hang."""
        stop = self.first + len(self.half_turns)
        return range(self.first, stop)

    def after(self, row: int) -> int:
        """Half turns after a row and the moves made by then."""
        at = row - self.first
        return self.half_turns[at] + self.moved[at]

    def before_moves(self, row: int) -> int:
        """Half turns after a row, without the moves that are made after it."""
        at = row - self.first
        earlier = self.moved[at - 1] if at else 0
        return self.half_turns[at] + earlier

    def move(self, row: int, stop: int, turns: int) -> None:
        """Add full turns after each row from `row` to the one before `stop`."""
        # What begins later, or has ended by then, takes no part.
        first = max(row, self.first) - self.first
        last = min(stop, self.rows.stop) - self.first
        for at in range(first, last):
            self.moved[at] += 2 * turns

    def missing(self, half_turns: int) -> int:
        """Full turns that have to be added to so many half turns: then they are few enough."""
        beyond = abs(half_turns) - self.most
        if beyond <= 0:
            return 0
        # A full turn takes out two half turns, and one that is left over takes a full one too.
        turns = (beyond + 1) // 2
        return -turns if half_turns > 0 else turns


class Due(NamedTuple):
    """A move that has to be made by a row: one turn more or less (`turn`) of a pair, or of all."""

    row: int
    pair: Pair | None
    turn: int


class _Made(NamedTuple):
    """Turns that are added after a row to a pair, or to all, and what was added before."""

    row: int
    pair: Pair | None
    turns: int
    before: _Made | None


class _Way(NamedTuple):
    """A way to come to a row: how many moves it takes, and how many of them are disliked.

    Those are turns of the work, or else passes. `turns` is what it added to each pair that hangs,
    in the order of these; `made` is its last addition.
    """

    moves: int
    disliked: int
    turns: tuple[int, ...]
    made: _Made | None


def sums_of(braids: Sequence[Braid], most: Mapping[str, int]) -> list[Pair]:
    """The sums of each pair, row by row, from the braids after each row.

    `most` are the full turns that each yarn may hold with another.
    """
    pairs: dict[Names, Pair] = {}
    for row, braid in enumerate(braids):
        for place, second in enumerate(braid.order):
            for first in braid.order[:place]:
                balls = pair_of(first, second)
                if balls not in pairs:
                    turns = min(most[first], most[second])
                    # A half turn more is none: the yarns only lie across.
                    pairs[balls] = Pair(balls, row, 2 * turns + 1)
                pair = pairs[balls]
                half_turns = braid.between(first, second)
                pair.half_turns.append(half_turns)
                pair.moved.append(0)
    return list(pairs.values())


def hanging_pairs(pairs: Sequence[Pair], rows: int) -> list[list[Pair]]:
    """The pairs whose yarns both hang after each row."""
    # A long piece has many pairs, of which few hang at the same time.
    hanging: list[list[Pair]] = [[] for _ in range(rows)]
    for pair in pairs:
        for row in pair.rows:
            hanging[row].append(pair)
    return hanging


def fewest_moves(
    hanging: Sequence[Sequence[Pair]], start: int, *, turns_first: bool = False
) -> list[Due]:
    """The fewest moves that keep every pair within what it may hold, each as late as it can be.

    `hanging` are the pairs after each row; no move is made before the row `start`. Of as many moves
    passes are preferred, or turns of the work where `turns_first`.
    """
    # Most pieces need none at all.
    rows = range(start, len(hanging))
    if not any(_is_too_much(hanging[row], row) for row in rows):
        return []
    nothing_made = _Way(0, 0, (), None)
    ways = [nothing_made]
    before: Sequence[Pair] = ()
    for row in rows:
        pairs = hanging[row]
        lays_after = _lays_after(hanging, row)
        ways_on: list[_Way] = []
        for way in ways:
            turns = _handed_on(before, way.turns, pairs)
            now = way._replace(turns=turns)
            worth_trying = _turns_worth(now, row, pairs)
            if lays_after:
                worth_trying.update(BEFORE_LAYING)
            # Few turns first, so that of ways as cheap the one with the fewest is followed.
            for of_all in sorted(worth_trying, key=abs):
                way_on = _way_on(now, row, pairs, of_all, turns_first=turns_first)
                ways_on.append(way_on)
        ways = _worth_following(ways_on, turns_first=turns_first)
        before = pairs
    # They come cheapest first.
    return _moves_of(ways[0])


def _is_too_much(pairs: Sequence[Pair], row: int) -> bool:
    """Whether any pair holds more than it may after a row, without a move."""
    return any(pair.missing(pair.after(row)) for pair in pairs)


def _lays_after(hanging: Sequence[Sequence[Pair]], row: int) -> bool:
    """Whether a ball is laid in the next row beside several that hang now."""
    following = row + 1
    is_last = following == len(hanging)
    # With a single pair a turn of the work does no more than a pass.
    if is_last or len(hanging[row]) < 2:
        return False
    return any(pair.first == following for pair in hanging[following])


def _handed_on(
    before: Sequence[Pair], turns: Sequence[int], pairs: Sequence[Pair]
) -> tuple[int, ...]:
    """What was added to each pair that hangs now: nothing yet to those that are new."""
    added = {pair.balls: turn for pair, turn in zip(before, turns, strict=True)}
    return tuple(added.get(pair.balls, 0) for pair in pairs)


def _turns_worth(way: _Way, row: int, pairs: Sequence[Pair]) -> set[int]:
    """The turns of the work that may be of use after a row: none, up to what a pair needs."""
    missing = _missing(pairs, row, way.turns)
    least = min(missing, default=0)
    most = max(missing, default=0)
    return {0, *range(least, most + 1)}


def _way_on(way: _Way, row: int, pairs: Sequence[Pair], of_all: int, *, turns_first: bool) -> _Way:
    """The way on with so many turns of the work, and passes for what is missing then."""
    made = way.made
    if of_all:
        made = _Made(row, None, of_all, made)
    # A turn of the work serves all pairs at once; where it spoils one, a pass mends that.
    turned = [turn + of_all for turn in way.turns]
    missing = _missing(pairs, row, turned)
    passes = 0
    turns = []
    for pair, turn, passed in zip(pairs, turned, missing, strict=True):
        turns.append(turn + passed)
        passes += abs(passed)
        if passed:
            made = _Made(row, pair, passed, made)
    moves = way.moves + abs(of_all) + passes
    disliked = passes if turns_first else abs(of_all)
    return _Way(moves, way.disliked + disliked, tuple(turns), made)


def _missing(pairs: Sequence[Pair], row: int, turns: Sequence[int]) -> list[int]:
    """Turns that each pair has to be given after a row, beside those that were added already."""
    missing = []
    for pair, turn in zip(pairs, turns, strict=True):
        held = pair.after(row) + 2 * turn
        missing.append(pair.missing(held))
    return missing


def _worth_following(ways: list[_Way], *, turns_first: bool) -> list[_Way]:
    """The ways, cheapest first, without those that a cheaper one can catch up with."""
    if len(ways) == 1:
        return ways
    followed: list[_Way] = []
    for way in sorted(ways, key=_cost):
        caught_up = any(_catches_up(cheaper, way, turns_first) for cheaper in followed)
        if not caught_up:
            followed.append(way)
        # Else there would be more and more of them with every row of a crowded piece.
        if len(followed) == MOST_WAYS:
            break
    return followed


def _cost(way: _Way) -> tuple[int, int]:
    """What is compared of two ways: their moves, then how many are disliked."""
    return way.moves, way.disliked


def _catches_up(cheaper: _Way, way: _Way, turns_first: bool) -> bool:
    """Whether the moves that make of a cheaper way this one leave it no dearer."""
    cost = _cost(way)
    apart = []
    for turns, cheaper_turns in zip(way.turns, cheaper.turns, strict=True):
        apart.append(turns - cheaper_turns)
    # Between two of these turns the moves change evenly, so that one of the two is the best.
    for of_all in {0, *apart}:
        turned = abs(of_all)
        passes = sum(abs(turn - of_all) for turn in apart)
        moves = cheaper.moves + turned + passes
        disliked = cheaper.disliked + (passes if turns_first else turned)
        if (moves, disliked) <= cost:
            return True
    return False


def _moves_of(way: _Way) -> list[Due]:
    """The moves of a way one by one, in the order of their rows."""
    moves: list[Due] = []
    made = way.made
    while made is not None:
        due = Due(made.row, made.pair, sign_of(made.turns))
        moves += [due] * abs(made.turns)
        made = made.before
    # A way knows its last addition, and each addition the one before it.
    return moves[::-1]

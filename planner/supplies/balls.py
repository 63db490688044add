"""The balls: things with a length, each of which feeds one strand at a time, or two.

A strand takes the shortest ball that holds enough. If none is left, the strands of its yarn are
shared out anew: a way to feed them all without a join is found if there is one among the first few
thousand tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from planner.piece import Habits
from planner.supplies.habits import SLACK_CM
from planner.units import counted

# Balls tried for one strand after another until it is given up; few yarns need a hundred.
MOST_TRIED = 2000
NO_PLACE = "there is no place to lay a ball"
# A piece between two joins with fewer tails in it would hold little else.
LEAST_TAILS = 4


@dataclass(frozen=True, eq=False)
class Feeding:
    """A part of a strand that is fed from a ball in worked rows `first` to `last`, from 0.

    `part` is its number. `length_cm` is all that comes off the ball for it, what is measured off
    later too. `ball` counts the balls of its yarn from 0.
    """

    part: int
    letter: str
    first: int
    last: int
    length_cm: float
    ball: int = 0

    def meets(self, another: Feeding) -> bool:
        """Whether there is a row in which both are fed."""
        return self.first <= another.last and another.first <= self.last


@dataclass
class Table:
    """The balls of each yarn, by their lengths in cm, and which strands they feed.

    `room` is how many balls may lie beside the work in each worked row.
    """

    habits: Habits
    balls: Mapping[str, Sequence[float]]
    room: np.ndarray
    fed: dict[str, list[Feeding]] = field(default_factory=dict)

    @property
    def ends(self) -> int:
        """How many strands one ball feeds at one time: from its outside, and from its inside."""
        return 2 if self.habits.both_ends else 1

    def feed(self, wish: Feeding, *, anyway: bool = False) -> str:
        """Feed one more strand of a yarn from a ball; why it cannot be so, "" if it is.

        `anyway`: even if there is no room for its ball; why not is said all the same.
        """
        rows = slice(wish.first, wish.last + 1)
        # What no purchase can mend is said first.
        if not self.room[rows].max():
            return NO_PLACE
        of_yarn = self.fed.get(wish.letter, [])
        shared = next(self._fitting(of_yarn, wish), []) or self._share([*of_yarn, wish])
        if not shared:
            every = range(len(self.balls[wish.letter]))
            if any(self._is_free(ball, wish, of_yarn) for ball in every):
                return f"no ball of {wish.letter} that is free in those rows holds enough"
            return f"every ball of {wish.letter} in hand or to be bought is in use in those rows"
        beyond = self._is_crowded(self.fed | {wish.letter: shared})
        if not beyond.any() or anyway:
            self.fed[wish.letter] = shared
        if not beyond.any():
            return ""
        least = int(self.room[beyond].min())
        return f"there is room for {counted(least, 'ball')} only" if least else NO_PLACE

    def feed_joined(
        self,
        wish: Feeding,
        tail_cm: float,
        *,
        most_joins: float,
        runs_out: Callable[[Sequence[float]], list[int]],
    ) -> list[float]:
        """What each of several balls gives that feed a part one after the other, cm.

        Each join takes two tails; `runs_out` tells the rows in which pieces of these lengths run
        out. Nothing where the balls that are free do not hold enough, or there is no room for them.
        """
        fed = self.fed.get(wish.letter, [])
        left_cm = self._left_cm(wish.letter, fed)
        free = [ball for ball in range(len(left_cm)) if self._is_free(ball, wish, fed)]
        # The fullest first: the fewest joins.
        free.sort(key=lambda ball: -left_cm[ball])
        pieces = []
        missing_cm = wish.length_cm
        for ball in free:
            # What holds little but the two tails of its joins is of no use.
            if left_cm[ball] < LEAST_TAILS * tail_cm:
                break
            takes_cm = min(missing_cm, left_cm[ball])
            pieces.append(replace(wish, ball=ball, length_cm=takes_cm))
            missing_cm -= takes_cm
            if len(pieces) > most_joins + 1:
                break
            if missing_cm <= SLACK_CM:
                lengths_cm = [piece.length_cm for piece in pieces]
                rows = runs_out(lengths_cm[:-1])
                # A ball makes room for the next, unless both are joined in one row.
                firsts, lasts = [wish.first, *rows], [*(row - 1 for row in rows), wish.last]
                for number, (first, last) in enumerate(zip(firsts, lasts, strict=True)):
                    pieces[number] = replace(pieces[number], first=first, last=max(first, last))
                with_them = self.fed | {wish.letter: [*fed, *pieces]}
                if self._is_crowded(with_them).any():
                    return []
                self.fed = with_them
                return lengths_cm
            missing_cm += 2 * tail_cm
        return []

    def _is_crowded(self, fed: Mapping[str, Sequence[Feeding]]) -> np.ndarray:
        """In which rows more balls would lie than there is room for, and more than lie now."""
        # In all rows: shared out anew, balls may lie elsewhere too.
        most = np.maximum(self.room, self.lying(self.fed))
        crowded: np.ndarray = self.lying(fed) > most
        return crowded

    def balls_of(self, letter: str, part: int) -> list[int]:
        """The balls, from 1, that feed a part, in order; alike balls are numbered as they come."""
        fed = self.fed.get(letter, [])
        lengths_cm = list(self.balls[letter])
        free = list(range(len(lengths_cm)))
        number = {}
        for each in sorted(fed, key=lambda each: each.first):
            if each.ball not in number:
                alike = (n for n in free if lengths_cm[n] == lengths_cm[each.ball])
                number[each.ball] = next(alike)
                free.remove(number[each.ball])
        return [number[each.ball] + 1 for each in fed if each.part == part]

    def lying(self, fed: Mapping[str, Sequence[Feeding]]) -> np.ndarray:
        """How many balls lie beside the work in each worked row."""
        lying = np.zeros(len(self.room), dtype=int)
        for of_yarn in fed.values():
            for ball in {each.ball for each in of_yarn}:
                in_use = np.zeros(len(self.room), dtype=bool)
                for each in of_yarn:
                    if each.ball == ball:
                        in_use[each.first : each.last + 1] = True
                lying += in_use
        return lying

    def _left_cm(self, letter: str, fed: Sequence[Feeding]) -> list[float]:
        left_cm = list(self.balls[letter])
        for each in fed:
            left_cm[each.ball] -= each.length_cm
        return left_cm

    def _is_free(self, ball: int, wish: Feeding, fed: Sequence[Feeding]) -> bool:
        """Whether a ball has an end for one more strand in all of its rows."""
        rows = np.zeros(wish.last - wish.first + 1, dtype=int)
        for each in fed:
            if each.ball == ball and each.meets(wish):
                rows[max(each.first - wish.first, 0) : each.last - wish.first + 1] += 1
        return bool(rows.max() < self.ends)

    def _fitting(self, fed: Sequence[Feeding], wish: Feeding) -> Iterator[list[Feeding]]:
        """The strands of a yarn with one more, on each ball in turn that can feed it."""
        left_cm = self._left_cm(wish.letter, fed)
        # The shortest that does, so that the long balls are there for what is long; where both ends
        # of a ball may be used, first the balls that lie there already.
        balls = sorted(range(len(left_cm)), key=lambda ball: left_cm[ball])
        if self.habits.both_ends:
            lying = {each.ball for each in fed if each.meets(wish)}
            balls.sort(key=lambda ball: ball not in lying)
        whole = set()
        for ball in balls:
            # Of balls that are alike and feed nothing yet one is as good as another.
            if left_cm[ball] == self.balls[wish.letter][ball]:
                if left_cm[ball] in whole:
                    continue
                whole.add(left_cm[ball])
            fits = left_cm[ball] >= wish.length_cm - SLACK_CM
            if fits and self._is_free(ball, wish, fed):
                yield [*fed, replace(wish, ball=ball)]

    def _share(self, strands: Sequence[Feeding]) -> list[Feeding]:
        """The strands of a yarn, each with its ball, so that none is joined; none if none is found.

        Tried one by one, the longest first, until all have a ball.
        """
        # Most often it is plain that there is no way: too many at once, or too long in all.
        by_row = np.zeros(len(self.room), dtype=int)
        for each in strands:
            by_row[each.first : each.last + 1] += 1
        balls_cm = self.balls[strands[0].letter]
        total_cm = sum(each.length_cm for each in strands)
        if by_row.max() > self.ends * len(balls_cm) or total_cm > sum(balls_cm) + SLACK_CM:
            return []
        # The longest is the hardest to find a ball for.
        in_order = sorted(strands, key=lambda each: -each.length_cm)

        # The ways that are still to be tried, the most promising one last.
        ways: list[list[Feeding]] = [[]]
        for _ in range(MOST_TRIED):
            if not ways or len(ways[-1]) == len(in_order):
                break
            fed = ways.pop()
            further = list(self._fitting(fed, in_order[len(fed)]))
            ways += reversed(further)
        found = ways[-1] if ways and len(ways[-1]) == len(in_order) else []
        # In the order they were given: of a part that is joined the first piece stays the first.
        place = {(each.part, each.length_cm): number for number, each in enumerate(strands)}
        return sorted(found, key=lambda each: place[each.part, each.length_cm])

"""Braids: how the yarns of balls on a table lie round each other on their way to the needle.

A crossing names the two yarns that change places and its sign; crossings stand in order from the
balls to the needle. Two crossings that undo each other may be taken out where they meet, and so may
any that can be brought together: a braid is clear exactly if its word reduces to nothing. Yarns
that only hang side by side do not hinder each other: two crossings that have no yarn in common may
change places.

Places are counted from the side where rows begin: from the knitter's right if she works right to
left, from her left if she works left to right. So a left-handed knitter's braid is written like the
right-handed one of which it is the mirror image.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations

# The first yarn, the second, and the sign: 1 where the first one passes behind the other on the way
# from its ball to the needle, −1 where it passes in front.
Crossing = tuple[str, str, int]

Names = tuple[str, str]  # of two yarns
# The linking number of each pair of yarns that has one other than 0: full turns, and halves.
Linking = dict[Names, float]


def half_twist(order: Sequence[str], sign: int) -> list[Crossing]:
    """A half twist of all yarns: every pair crosses once, and their order is reversed."""
    # The first yarn passes all the others, then the second those after it, and so on. Whoever has
    # passed stands at the far end, so each finds the next one beside it.
    return [(a, b, sign) for a, b in combinations(order, 2)]


def full_twist(order: Sequence[str], sign: int) -> list[Crossing]:
    """A full twist of all yarns: each pair turns once round each other, and they lie as before."""
    first_half = half_twist(order, sign)
    second_half = half_twist(order[::-1], sign)
    return first_half + second_half


def pair_of(a: str, b: str) -> Names:
    """Two yarns as a pair, whichever of them is named first."""
    return (a, b) if a < b else (b, a)


def linking(crossings: Iterable[Crossing]) -> Linking:
    """Linking number of each pair: half the sum of the signs of their crossings; zeros left out."""
    sums: Linking = defaultdict(float)
    for a, b, sign in crossings:
        # A pair is the same pair whichever of the two is on the left.
        sums[pair_of(a, b)] += sign / 2
    return {pair: number for pair, number in sorted(sums.items()) if number}


def as_word(order: Sequence[str], crossings: Iterable[Crossing]) -> list[int]:
    """The crossings as a braid word: ±i is a half twist of the yarns in places i and i + 1.

    Places are counted from 1.
    """
    order = list(order)
    word = []
    for a, b, sign in crossings:
        place = order.index(a)
        assert order[place + 1] == b, "only neighbours cross"
        word.append(sign * (place + 1))
        order[place : place + 2] = b, a
    return word


def sign_of(number: int) -> int:
    """1 of a number above 0, −1 of any other."""
    return 1 if number > 0 else -1


def reduce_word(word: Sequence[int]) -> list[int]:
    """An equal braid word, empty exactly if the braid is trivial: handle reduction.

    (Dehornoy 1997, from memory.) A handle is a stretch e i … −e i with no letter ±i and no letter
    ±(i − 1) between. It is replaced by what lies between its ends, each letter ±(i + 1) there
    turned about the strand that the handle went round. The process ends for every word, as long as
    a handle that lies in another goes first.
    """
    word = list(word)
    # All before `at` holds no handle. So the first handle to end is the one taken, and none lies in
    # it: two letters ±(i + 1) of unlike sign within it would be the ends of an earlier one.
    at = 0
    while at < len(word):
        start = _handle(word, at)
        if start is None:
            at += 1
            continue
        between = word[start + 1 : at]
        word[start : at + 1] = _without_handle(word[start], between)
        # What was put in may hold handles, and so may what now meets it.
        at = start
    return word


def _without_handle(first: int, between: Sequence[int]) -> list[int]:
    """What a handle that begins with this letter is equal to."""
    main = abs(first)
    aside = sign_of(first) * (main + 1)
    reduced = []
    for letter in between:
        if abs(letter) == main + 1:
            turned = sign_of(letter) * main
            reduced += [-aside, turned, aside]
        else:
            reduced.append(letter)
    return reduced


def _handle(word: Sequence[int], stop: int) -> int | None:
    """Where a handle that ends at `stop` begins, None if there is none."""
    last = word[stop]
    on_its_left = abs(last) - 1
    for start in range(stop - 1, -1, -1):
        letter = word[start]
        if letter == -last:
            return start
        # What crosses the handle's own yarn on its left holds it fast.
        if letter == last or abs(letter) == on_its_left:
            return None
    return None


class Braid:
    """The braid as it grows.

    `table` is the order of the balls and `order` that of their yarns at the needle. `half_turns`
    adds up the signs of the crossings of each pair, and `rounds` counts the full turns that the
    work made with all yarns at once: they may be taken out wherever they were made.
    """

    def __init__(self) -> None:
        self.table: list[str] = []
        self.order: list[str] = []
        self.crossings: list[Crossing] = []
        self.half_turns: dict[Names, int] = {}
        self.rounds = 0

    def copy(self) -> Braid:
        """Another braid that is like this one now."""
        copied = Braid()
        copied.table = self.table.copy()
        copied.order = self.order.copy()
        copied.crossings = self.crossings.copy()
        copied.half_turns = self.half_turns.copy()
        copied.rounds = self.rounds
        return copied

    def between(self, a: str, b: str) -> int:
        """Half turns of a pair round each other; more than 0 as a RS row makes them."""
        pair = pair_of(a, b)
        crossed = self.half_turns.get(pair, 0)
        return crossed + 2 * self.rounds

    def word(self) -> list[int]:
        """The braid word of all crossings, the turns of the work at its end."""
        crossings = self.crossings + self._turns_of_work()
        return as_word(self.table, crossings)

    def _turns_of_work(self) -> list[Crossing]:
        """The full turns of the work as crossings."""
        sign = sign_of(self.rounds)
        once = full_twist(self.order, sign)
        return once * abs(self.rounds)

    def is_clear(self) -> bool:
        """Whether the yarns are free of each other: the word itself reduces to nothing."""
        if self.order != self.table:
            return False
        # Sums are quick to see, and any but 0 settles it; 0 alone proves nothing.
        for a, b in combinations(self.order, 2):
            if self.between(a, b):
                return False
        word = self.word()
        return not reduce_word(word)

    def cross(self, place: int, sign: int) -> None:
        """Change over the yarns in a place and the next, by half a twist."""
        stop = place + 2
        a, b = self.order[place:stop]
        self._add(a, b, sign)
        self.order[place:stop] = b, a

    def _add(self, a: str, b: str, sign: int) -> None:
        """Add a crossing, or take out the one that it undoes."""
        pair = pair_of(a, b)
        before = self.half_turns.get(pair, 0)
        self.half_turns[pair] = before + sign

        crossings = self.crossings
        crossing = a, b, sign
        undone = b, a, -sign
        # Back over the yarns that have nothing to do with these two.
        at = len(crossings) - 1
        while at >= 0 and not _have_in_common(crossings[at], crossing):
            at -= 1
        if at >= 0 and crossings[at] == undone:
            del crossings[at]
        else:
            crossings.append(crossing)

    def _write(self, crossings: Iterable[Crossing]) -> None:
        """Write all crossings anew, in order."""
        self.crossings = []
        self.half_turns = {}
        for crossing in crossings:
            self._add(*crossing)

    def lay(self, new: str, at_table: int, place: int) -> None:
        """Lay a new ball at a place of the table, its yarn on top, up to a place at the needle."""
        # A turn of the work is only for the yarns that made it.
        old = self.crossings + self._turns_of_work()
        self.rounds = 0
        before = self.table[:at_table]
        after = self.order[:place]
        beyond = self.table[at_table:]
        onwards = self.order[place:]
        # In front of all others it may go aside to either end, and come back beside the needle: by
        # the way on which it passes fewer.
        passed_before = len(before) + len(after)
        passed_beyond = len(beyond) + len(onwards)
        if passed_before <= passed_beyond:
            aside = [(passed, new, 1) for passed in reversed(before)]
            back = [(new, passed, -1) for passed in after]
        else:
            aside = [(new, passed, -1) for passed in beyond]
            back = [(passed, new, 1) for passed in reversed(onwards)]
        self._write([*aside, *old, *back])
        self.table.insert(at_table, new)
        self.order.insert(place, new)

    def cut(self, gone: str) -> None:
        """Cut a yarn: it falls out of the braid."""
        # Nothing holds its free end, so it comes out of every crossing at once.
        crossings_left = [crossing for crossing in self.crossings if gone not in crossing]
        self._write(crossings_left)
        self.table.remove(gone)
        self.order.remove(gone)

    def turn_round(self, times: int) -> None:
        """Turn the work round with all yarns, so many full turns; less than 0 the other way."""
        self.rounds += times

    def pass_ball(self, ball: str, other: str, turns: int, front: int) -> None:
        """Pass a ball round another's yarn, close under the needle, so many full turns.

        It is led there along its own yarn, and in front of the yarns that hang between; `front` is
        −1 where the knitter sees the work from its other side.
        """
        order = self.order
        start = order.index(ball)
        goal = order.index(other)
        way = sign_of(goal - start)
        beside = goal - way
        for place in range(start, beside, way):
            self._step(place, way, front)
        lower = min(beside, goal)
        sign = sign_of(turns)
        for _ in range(2 * abs(turns)):
            self.cross(lower, sign)
        # Where the ball lay is its place on the table, so it goes back the way it came.
        for place in range(beside, start, -way):
            self._step(place, -way, front)

    def _step(self, place: int, way: int, front: int) -> None:
        """Lead the yarn in a place past the next, in front of it; `way` is 1 onwards, −1 back."""
        lower = min(place, place + way)
        # The first of two passes in front where the sign is less than 0.
        sign = -way * front
        self.cross(lower, sign)

    def free(self) -> None:
        """Free all yarns: the balls lie as their yarns hang."""
        self.table = self.order.copy()
        self.rounds = 0
        self._write([])


def _have_in_common(earlier: Crossing, later: Crossing) -> bool:
    """Whether a yarn is in both crossings."""
    a, b, _ = earlier
    return a in later or b in later

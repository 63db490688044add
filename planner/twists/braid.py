"""Braids: how the yarns of balls on a table lie round each other on their way to the needle.

A crossing names the two yarns that change places and its sign; crossings stand in order from the
balls to the needle. Two crossings that undo each other may be taken out where they meet, and so may
any that can be brought together: a braid is clear exactly if its word reduces to nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations

# The yarn on the left, the yarn on the right, and the sign: 1 where the left one passes in front of
# the other, −1 where it passes behind. Balls that are passed half way round each other, clockwise
# as seen from above, add a crossing of sign 1.
Crossing = tuple[str, str, int]

# The linking number of each pair of yarns that has one other than 0.
Linking = dict[tuple[str, str], float]


def half_twist(order: Sequence[str], sign: int) -> list[Crossing]:
    """A half twist of all yarns: every pair crosses once, and their order is reversed."""
    # The first yarn passes all the others, then the second those after it, and so on. Whoever has
    # passed stands at the far end, so each finds the next one beside it.
    return [(a, b, sign) for a, b in combinations(order, 2)]


def linking(crossings: Iterable[Crossing]) -> Linking:
    """Linking number of each pair: half the sum of the signs of their crossings; zeros left out."""
    sums: Linking = defaultdict(float)
    for a, b, sign in crossings:
        # A pair is the same pair whichever of the two is on the left.
        pair = (min(a, b), max(a, b))
        sums[pair] += sign / 2
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


def as_crossings(order: Sequence[str], word: Iterable[int]) -> list[Crossing]:
    """The crossings of a braid word: the other way round from `as_word`."""
    order = list(order)
    crossings = []
    for letter in word:
        place = abs(letter) - 1
        a, b = order[place : place + 2]
        crossings.append((a, b, _sign(letter)))
        order[place : place + 2] = b, a
    return crossings


def _sign(letter: int) -> int:
    return 1 if letter > 0 else -1


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
    aside = _sign(first) * (main + 1)
    reduced = []
    for letter in between:
        if abs(letter) == main + 1:
            turned = _sign(letter) * main
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
    """The braid as it grows row by row.

    `table` is the order of the balls and `order` that of their yarns at the needle, both from where
    the row begins; places are counted from there.
    """

    def __init__(self) -> None:
        self.table: list[str] = []
        self.order: list[str] = []
        self.crossings: list[Crossing] = []

    def cross(self, place: int, sign: int) -> None:
        """Change over the yarns in a place and the next, by half a twist."""
        a, b = self.order[place : place + 2]
        self.crossings.append((a, b, sign))
        self.order[place : place + 2] = b, a

    def turn(self, sign: int) -> None:
        """Turn the work: half a twist of all yarns at once."""
        self.crossings += half_twist(self.order, sign)
        self.order.reverse()

    def join(self, new: str, place: int) -> None:
        """A new yarn at the needle.

        At either end of the row its ball is laid at that end of the table, free of the others;
        between two yarns it is laid beside the one before it and follows that yarn's way.
        """
        if place == 0:
            self.table.insert(0, new)
        elif place == len(self.order):
            self.table.append(new)
        else:
            # Laid anywhere else it would have to be led through the tangle to reach its place.
            beside = self.order[place - 1]
            at_table = self.table.index(beside)
            self.table.insert(at_table + 1, new)
            self.crossings = self._doubled(beside, new)
        self.order.insert(place, new)

    def _doubled(self, beside: str, new: str) -> list[Crossing]:
        """The crossings with a new yarn that goes the same way as another, on its right."""
        doubled: list[Crossing] = []
        for a, b, sign in self.crossings:
            # Whoever comes from the right meets the new yarn first, from the left the old one.
            if a == beside:
                doubled.append((new, b, sign))
            doubled.append((a, b, sign))
            if b == beside:
                doubled.append((a, new, sign))
        return doubled

    def leave(self, gone: str) -> None:
        """A yarn that is cut falls out of the braid."""
        # Nothing holds its free end, so it comes out of every crossing at once.
        self.crossings = [each for each in self.crossings if gone not in each]
        self.table.remove(gone)
        self.order.remove(gone)

    def tidy(self) -> None:
        """Take out neighbouring crossings that undo each other, so that the word stays short."""
        tidied: list[Crossing] = []
        # As brackets are matched: what a pair lay between meets next, and may cancel in turn.
        for a, b, sign in self.crossings:
            if tidied and tidied[-1] == (b, a, -sign):
                tidied.pop()
            else:
                tidied.append((a, b, sign))
        self.crossings = tidied

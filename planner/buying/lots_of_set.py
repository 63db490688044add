"""Which piece of a set comes from which dye lot: an exact integer programme.

It has three aims, each without giving up what the one before has reached: the fewest further lots
within pieces, so that no piece is of two lots if that can be helped; the fewest further lots among
pieces that match, such as two sleeves, counted for each of them; and the fewest lots in all. A
length of yarn is of one lot. Lengths that are alike are counted, not told apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

NODES = 2000  # branches looked at before the best so far is taken and said to be that
ROUNDING_CM = 1e-6  # of lengths that are added up
OPTIMAL, INFEASIBLE = 0, 2  # what the solver says of its answer

Cost = tuple[int, int, int]


class Copy(NamedTuple):
    """A piece to be knitted: which others match it, by a number, and its lengths of yarn, cm."""

    match: int
    lengths_cm: Sequence[float]


@dataclass(frozen=True)
class LotsOfSet:
    """Which length of which piece is of which lot.

    places
        By piece the lot of each of its lengths, by its place among the lots.
    cost
        Further lots within pieces, further lots among pieces that match (for each of them), and
        lots in all.
    proven
        Whether no share is better.
    """

    places: tuple[tuple[int, ...], ...]
    cost: Cost
    proven: bool


def lots_of_set(
    copies: Sequence[Copy],
    room_cm: Sequence[float],
    *,
    spare: float = 0.0,
    last: int | None = None,
) -> LotsOfSet | None:
    """The best share of the pieces among lots that hold so much; None if they do not hold them.

    Where it costs no further lot within a piece, each lot has a share of `spare` more than is taken
    of it; of equally good shares one takes least of the lot `last`. It may be None, too, where the
    search was cut short before it found any.
    """
    if not room_cm:
        return None
    with_spare_cm = [holds_cm / (1 + spare) for holds_cm in room_cm]
    rooms = [with_spare_cm, room_cm] if spare else [room_cm]
    # Mostly each piece can be of one lot, which is soon found and proven.
    whole = [Copy(copy.match, (sum(copy.lengths_cm),)) for copy in copies]
    for tried in (whole, copies):
        for holds in rooms:
            found = _solve(tried, holds, last)
            if found is not None:
                return _spread(found, copies)
    return None


def _spread(found: LotsOfSet, copies: Sequence[Copy]) -> LotsOfSet:
    """The share of lengths, also where whole pieces were shared."""
    places = []
    for place, copy in zip(found.places, copies, strict=True):
        places.append(place * len(copy.lengths_cm) if len(place) == 1 else place)
    return replace(found, places=tuple(places))


def cost_of(places: Sequence[Sequence[int]], copies: Sequence[Copy]) -> Cost:
    """What a share costs, counted from the share itself."""
    of_match: dict[int, set[int]] = {}
    within = 0
    for place, copy in zip(places, copies, strict=True):
        lots = set(place)
        within += len(lots) - 1
        of_match.setdefault(copy.match, set()).update(lots)
    among = sum(len(of_match[copy.match]) - 1 for copy in copies)
    return within, among, len(set().union(*of_match.values()))


def _solve(copies: Sequence[Copy], room_cm: Sequence[float], last: int | None) -> LotsOfSet | None:
    programme = _Programme(copies, room_cm, last)
    best, proven = programme.solve()
    if best is None:
        return None
    places = programme.places(best)
    return LotsOfSet(places, cost_of(places, copies), proven)


class _Programme:
    """The integer programme.

    Its unknowns are, for each kind of length of a piece and each lot, how many are of the lot; for
    each piece and lot, each match and lot, and each lot, whether any is.
    """

    def __init__(self, copies: Sequence[Copy], room_cm: Sequence[float], last: int | None):
        self.copies, self.lots, self.last = copies, len(room_cm), last
        matches = sorted({copy.match for copy in copies})
        self.matching = Counter(matches.index(copy.match) for copy in copies)
        # Rounded, or lengths that are alike would differ in their last digits.
        self.kinds = [Counter(round(cm, 4) for cm in copy.lengths_cm) for copy in copies]
        first_kind = np.cumsum([0, *(len(kinds) for kinds in self.kinds)])
        self.first_kind = first_kind.tolist()
        blocks = (self.first_kind[-1], len(copies), len(matches), 1)
        begins = np.cumsum([0, *(block * self.lots for block in blocks)]).tolist()
        *self.begins, self.size = begins
        self.most = np.ones(self.size)
        self.rules: list[LinearConstraint] = []
        for number, kinds in enumerate(self.kinds):
            self._rules_of_piece(number, kinds, matches.index(copies[number].match))
        for lot, holds_cm in enumerate(room_cm):
            self._rule(self._taken_of(lot), -np.inf, holds_cm + ROUNDING_CM)

    def _taken_of(self, lot: int) -> dict[int, float]:
        """What is taken of a lot, cm, by the unknowns."""
        factors = {}
        for number, kinds in enumerate(self.kinds):
            for place, cm in enumerate(kinds):
                factors[self._of_kind(number, place, lot)] = cm
        return factors

    def _rules_of_piece(self, number: int, kinds: Counter[float], match: int) -> None:
        """Each length is of one lot; a piece, a match and the set have what their lengths have."""
        for place, count in enumerate(kinds.values()):
            of_lots = [self._of_kind(number, place, lot) for lot in range(self.lots)]
            self._rule(dict.fromkeys(of_lots, 1.0), count, count)
            for lot, of_lot in enumerate(of_lots):
                self.most[of_lot] = count
                self._rule({self._has(1, number, lot): count, of_lot: -1.0}, 0, np.inf)
        for lot in range(self.lots):
            piece, of_match = self._has(1, number, lot), self._has(2, match, lot)
            self._rule({of_match: 1.0, piece: -1.0}, 0, np.inf)
            self._rule({self._has(3, 0, lot): 1.0, of_match: -1.0}, 0, np.inf)

    def _of_kind(self, number: int, place: int, lot: int) -> int:
        return (self.first_kind[number] + place) * self.lots + lot

    def _has(self, block: int, number: int, lot: int) -> int:
        return int(self.begins[block]) + number * self.lots + lot

    def _rule(self, factors: dict[int, float], least: float, most: float) -> None:
        row = np.zeros(len(factors), dtype=int)
        matrix = csr_array((list(factors.values()), (row, list(factors))), shape=(1, self.size))
        self.rules.append(LinearConstraint(matrix, least, most))

    def _aims(self) -> Iterator[np.ndarray]:
        """What each unknown costs, aim by aim, the most important first."""
        of_pieces, of_matches, of_lots = self.begins[1:]
        blocks = ((of_pieces, of_matches), (of_matches, of_lots), (of_lots, self.size))
        for begin, end in blocks:
            aim = np.zeros(self.size)
            aim[begin:end] = 1
            # The lots of matching pieces count for each of them.
            if begin == of_matches:
                for match, pieces in self.matching.items():
                    aim[self._has(2, match, 0) : self._has(2, match + 1, 0)] = pieces
            yield aim
        if self.last is not None:
            aim = np.zeros(self.size)
            for unknown, cm in self._taken_of(self.last).items():
                aim[unknown] = cm
            yield aim

    def solve(self) -> tuple[np.ndarray | None, bool]:
        """The unknowns and whether none are better; None if there are none, or none were found."""
        best, proven, rules = None, True, list(self.rules)
        for aim in self._aims():
            found = milp(
                aim,
                constraints=rules,
                integrality=np.ones(self.size),
                bounds=Bounds(0, self.most),
                options={"node_limit": NODES, "mip_rel_gap": 0},
            )
            if found.x is None:
                # Where there is none for the first aim there is none for the others.
                if best is None and found.status == INFEASIBLE:
                    return None, True
                proven = False
                continue
            proven = proven and found.status == OPTIMAL
            best = np.round(found.x)
            reached = float(aim @ best) + ROUNDING_CM
            rules.append(LinearConstraint(aim[np.newaxis], -np.inf, reached))
        return best, proven

    def places(self, best: np.ndarray) -> tuple[tuple[int, ...], ...]:
        """The lot of each length; of alike ones the earlier are of the earlier lots."""
        places = []
        for number, copy in enumerate(self.copies):
            left: dict[float, list[int]] = {}
            for place, cm in enumerate(self.kinds[number]):
                first = self._of_kind(number, place, 0)
                counts = best[first : first + self.lots].astype(int)
                left[cm] = np.repeat(np.arange(self.lots), counts).tolist()
            places.append(tuple(left[round(cm, 4)].pop(0) for cm in copy.lengths_cm))
        return tuple(places)

"""Which piece of a set comes from which dye lot: an exact integer programme.

It has three aims, each without giving up what the one before has reached: the fewest further lots
within pieces, so that no piece is of two lots if that can be helped; the fewest further lots among
pieces that match, such as two sleeves, counted for each of them; and the fewest lots in all.

Mostly each piece can be of one lot, and only that is looked for first. Where it cannot, it is
decided which lots each piece has as if yarn could be cut anywhere, which needs no unknown for each
length. Then it is looked whether the lengths, each of one lot, can be shared so; if not, these lots
are ruled out together and the next best are tried. So the first that can be is the best.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, milp

from planner.buying.rules import Factors, Rules

NODES = 500  # branches looked at before the best so far is taken and said to be that
TRIES = 12  # ways to share lots among pieces before the search is given up
ROUNDING = 1e-6  # of lengths that are added up, cm, and of the solver's zeros and ones
OPTIMAL, INFEASIBLE = 0, 2  # what the solver says of its answer

Cost = tuple[int, int, int]
Lots = list[list[int]]  # those that each piece has, by their places
Places = tuple[tuple[int, ...], ...]


class Copy(NamedTuple):
    """A piece to be knitted: which others match it, by a number, and its lengths of yarn, cm."""

    match: int
    lengths_cm: Sequence[float]

    @property
    def in_all_cm(self) -> float:
        # Rounded, or pieces that are alike would differ in their last digits.
        return round(sum(self.lengths_cm), 4)

    @property
    def kinds(self) -> Counter[float]:
        """How many lengths there are of each kind, by their cm."""
        return Counter(round(cm, 4) for cm in self.lengths_cm)


@dataclass(frozen=True)
class LotsOfSet:
    """Which length of which piece is of which lot.

    places
        By piece the lot of each of its lengths, by its place among the lots; empty if the search
        was cut short before any share was found.
    cost
        Further lots within pieces, further lots among pieces that match (for each of them), and
        lots in all.
    proven
        Whether no share is better.
    """

    places: Places
    cost: Cost
    proven: bool


NOT_FOUND = LotsOfSet((), (0, 0, 0), proven=False)


def lots_of_set(
    copies: Sequence[Copy],
    room_cm: Sequence[float],
    *,
    spare: float = 0.0,
    last: int | None = None,
) -> LotsOfSet | None:
    """The best share of the pieces among lots that hold so much; None if they do not hold them.

    Where it costs no further lot within a piece, each lot has a share of `spare` more than is taken
    of it. Of equally good shares one takes least of the lot `last`.
    """
    if not room_cm:
        return None
    with_spare_cm = [holds_cm / (1 + spare) for holds_cm in room_cm]
    rooms = [with_spare_cm, room_cm] if spare else [room_cm]
    for room in rooms:
        lots, proven = _whole_pieces(copies, room, last)
        if lots is not None:
            return _shared(copies, _spread(copies, lots), proven)
    tried = [_in_lengths(copies, room, last) for room in rooms]
    found = [share for share in tried if share is not None and share.places]
    if not found:
        return tried[-1]
    # Of two that are as good in this the one with something to spare stands first.
    return min(found, key=lambda share: share.cost[0])


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


def _shared(copies: Sequence[Copy], places: Places, proven: bool) -> LotsOfSet:
    return LotsOfSet(places, cost_of(places, copies), proven)


def _spread(copies: Sequence[Copy], lots: Lots) -> Places:
    """All lengths of each piece in its first lot."""
    places = []
    for copy, of_piece in zip(copies, lots, strict=True):
        places.append(tuple(of_piece[:1]) * len(copy.lengths_cm))
    return tuple(places)


def _in_lengths(
    copies: Sequence[Copy], room_cm: Sequence[float], last: int | None
) -> LotsOfSet | None:
    """The best share where not every piece can be of one lot."""
    programme = _Programme(copies, room_cm, last)
    proven = True
    for _ in range(TRIES):
        lots, sure = programme.best_lots()
        proven = proven and sure
        if lots is None:
            # There are none; or none were found in time.
            return None if proven else NOT_FOUND
        places, sure = _share_lengths(copies, lots, room_cm)
        proven = proven and sure
        if places is not None:
            return _shared(copies, places, proven)
        programme.rule_out(lots)
    return NOT_FOUND


# ---- programmes


def _solve(
    rules: Rules, aims: Iterable[Factors], whole: np.ndarray, most: np.ndarray
) -> tuple[np.ndarray | None, bool]:
    """The unknowns at their best, and whether none are better; None if there are none.

    Aims are sums that are to be small, the most important first. `whole` says which unknowns are
    whole numbers, `most` how large they may be.
    """
    best, proven, kept = None, True, len(rules)
    for factors in aims:
        aim = rules.sum_of(factors)
        found = milp(
            aim,
            constraints=rules.constraint(),
            integrality=whole,
            bounds=Bounds(0, most),
            options={"node_limit": NODES, "mip_rel_gap": 0},
        )
        if found.x is None:
            # For the first aim there may be none; later there is one, that was not found.
            proven = proven and best is None and found.status == INFEASIBLE
            break
        proven = proven and found.status == OPTIMAL
        best = found.x
        # What is reached is not given up for the aims that come after.
        reached = float(aim @ best)
        rules.add(factors, 0, reached + ROUNDING)
    # With other rules it may not be reached any more.
    rules.forget_from(kept)
    return best, proven


def _lots_of_matches(of_match: Mapping[int, Sequence[int]], pieces: Mapping[int, int]) -> Factors:
    """The lots of pieces that match, counted for each of them."""
    factors: dict[int, float] = {}
    for match, unknowns in of_match.items():
        factors |= dict.fromkeys(unknowns, float(pieces[match]))
    return factors


def _whole_pieces(
    copies: Sequence[Copy], room_cm: Sequence[float], last: int | None
) -> tuple[Lots | None, bool]:
    """The one lot of each piece, None if there is none, and whether nothing is better.

    Pieces that match and take the same are counted, not told apart.
    """
    kinds = Counter((copy.match, copy.in_all_cm) for copy in copies)
    pieces = Counter(copy.match for copy in copies)
    rules, lots = Rules(), len(room_cm)
    number = rules.block(len(kinds), lots)
    of_match = dict(zip(pieces, rules.block(len(pieces), lots).tolist(), strict=True))
    used = rules.block(lots).tolist()
    taken: list[dict[int, float]] = [{} for _ in room_cm]
    for row, ((match, cm), count) in zip(number.tolist(), kinds.items(), strict=True):
        rules.add(dict.fromkeys(row, 1.0), count, count)
        for lot, unknown in enumerate(row):
            taken[lot][unknown] = cm
            has = of_match[match][lot]
            rules.add({has: float(count), unknown: -1.0}, 0)
            rules.add({used[lot]: 1.0, has: -1.0}, 0)
    for factors, holds_cm in zip(taken, room_cm, strict=True):
        rules.add(factors, 0, holds_cm + ROUNDING)
    aims = [_lots_of_matches(of_match, pieces), dict.fromkeys(used, 1.0)]
    aims += [] if last is None else [taken[last]]
    most = np.ones(rules.size)
    most[number] = len(copies)
    best, proven = _solve(rules, aims, np.ones(rules.size), most)
    if best is None:
        return None, proven
    # The earlier pieces of a kind are of the earlier lots.
    left = {}
    for kind, counts in zip(kinds, np.round(best[number]).astype(int), strict=True):
        left[kind] = np.repeat(np.arange(lots), counts).tolist()
    return [[left[copy.match, copy.in_all_cm].pop(0)] for copy in copies], proven


class _Programme:
    """Which lots each piece has, as if yarn could be cut anywhere.

    share
        Pieces × lots: how much of the piece is of the lot, from 0 to 1.
    has
        Pieces × lots: 1 if anything of the piece is of the lot.
    of_match
        Matches × lots: 1 if anything of a piece that matches is.
    used
        By lot: 1 if anything is of it.
    """

    def __init__(self, copies: Sequence[Copy], room_cm: Sequence[float], last: int | None):
        self.rules = Rules()
        lots, matches = len(room_cm), sorted({copy.match for copy in copies})
        self.share = self.rules.block(len(copies), lots)
        self.has = self.rules.block(len(copies), lots)
        self.of_match = self.rules.block(len(matches), lots)
        self.used = self.rules.block(lots)
        self.match_of = [matches.index(copy.match) for copy in copies]
        self.in_all_cm = [copy.in_all_cm for copy in copies]
        self.last = last
        for piece, match in enumerate(self.match_of):
            self.rules.add(dict.fromkeys(self.share[piece].tolist(), 1.0), 1, 1)
            # Of no more lots than it has lengths.
            lengths = len(copies[piece].lengths_cm)
            self.rules.add(dict.fromkeys(self.has[piece].tolist(), 1.0), 1, lengths)
            for lot in range(lots):
                # Each is 1 if the one before it is more than 0.
                chain = self.share[piece], self.has[piece], self.of_match[match], self.used
                for one, other in pairwise(unknowns[lot] for unknowns in chain):
                    self.rules.add({int(other): 1.0, int(one): -1.0}, 0)
        for lot, holds_cm in enumerate(room_cm):
            self.rules.add(self._taken_of(lot), 0, holds_cm + ROUNDING)

    def _taken_of(self, lot: int) -> Factors:
        """What is taken of a lot, cm."""
        return dict(zip(self.share[:, lot].tolist(), self.in_all_cm, strict=True))

    def best_lots(self) -> tuple[Lots | None, bool]:
        """The lots of each piece, None if there are none, and whether no others are better."""
        of_match = dict(enumerate(self.of_match.tolist()))
        aims = [
            dict.fromkeys(self.has.ravel().tolist(), 1.0),
            _lots_of_matches(of_match, Counter(self.match_of)),
            dict.fromkeys(self.used.tolist(), 1.0),
        ]
        aims += [] if self.last is None else [self._taken_of(self.last)]
        whole, most = np.ones(self.rules.size), np.ones(self.rules.size)
        whole[self.share] = 0
        best, proven = _solve(self.rules, aims, whole, most)
        if best is None:
            return None, proven
        has = best[self.has] > 0.5
        return [np.flatnonzero(row).tolist() for row in has], proven

    def rule_out(self, lots: Lots) -> None:
        """Some piece must have another lot than these."""
        ruled_out = [self.has[piece, of_piece] for piece, of_piece in enumerate(lots)]
        others = np.setdiff1d(self.has, np.concatenate(ruled_out))
        self.rules.add(dict.fromkeys(others.tolist(), 1.0), 1)


# ---- lengths


def _share_lengths(
    copies: Sequence[Copy], lots: Lots, room_cm: Sequence[float]
) -> tuple[Places | None, bool]:
    """The lot of each length, where pieces have these lots; None if that cannot be; and surely so.

    Lengths that are alike are counted, not told apart.
    """
    places = list(_spread(copies, lots))
    left_cm = list(room_cm)
    mixed = {}
    for number, of_piece in enumerate(lots):
        if len(of_piece) > 1:
            mixed[number] = of_piece
        else:
            left_cm[of_piece[0]] -= copies[number].in_all_cm
    if not mixed:
        return tuple(places), True
    rules, counts = Rules(), {}
    taken: list[dict[int, float]] = [{} for _ in room_cm]
    for number, of_piece in mixed.items():
        kinds = copies[number].kinds
        counts[number] = rules.block(len(kinds), len(of_piece))
        for row, (cm, count) in zip(counts[number].tolist(), kinds.items(), strict=True):
            rules.add(dict.fromkeys(row, 1.0), count, count)
            for unknown, lot in zip(row, of_piece, strict=True):
                taken[lot][unknown] = cm
    for factors, holds_cm in zip(taken, left_cm, strict=True):
        rules.add(factors, 0, holds_cm + ROUNDING)
    most = np.full(rules.size, np.inf)
    # Any share will do: one rule without an aim.
    best, sure = _solve(rules, [{}], np.ones(rules.size), most)
    if best is None:
        return None, sure
    for number, unknowns in counts.items():
        of_kinds = np.round(best[unknowns]).astype(int)
        places[number] = _places(copies[number], mixed[number], of_kinds)
    return tuple(places), True


def _places(copy: Copy, lots: Sequence[int], counts: np.ndarray) -> tuple[int, ...]:
    """The lot of each length; of alike ones the earlier are of the earlier lots."""
    left: dict[float, list[int]] = {}
    for cm, of_lots in zip(copy.kinds, counts, strict=True):
        left[cm] = np.repeat(lots, of_lots).tolist()
    return tuple(left[round(cm, 4)].pop(0) for cm in copy.lengths_cm)

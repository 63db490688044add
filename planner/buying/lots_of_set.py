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

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, milp

from planner.buying.rules import Factors, Rules, each_once

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
    rooms = [room_cm]
    if spare:
        with_spare_cm = [holds_cm / (1 + spare) for holds_cm in room_cm]
        rooms.insert(0, with_spare_cm)
    for room in rooms:
        lots, proven = _WholePieces(copies, room, last).best_lots()
        if lots is not None:
            places = _spread(copies, lots)
            return _shared(copies, places, proven)
    tried = [_in_lengths(copies, room, last) for room in rooms]
    found = [share for share in tried if share and share.places]
    if not found:
        return tried[-1]
    # Of two that are as good in this the one with something to spare stands first.
    return min(found, key=lambda share: share.cost[0])


def cost_of(places: Sequence[Sequence[int]], copies: Sequence[Copy]) -> Cost:
    """What a share costs, counted from the share itself."""
    of_match: dict[int, set[int]] = defaultdict(set)
    used: set[int] = set()
    within = 0
    for place, copy in zip(places, copies, strict=True):
        lots = set(place)
        within += len(lots) - 1
        of_match[copy.match] |= lots
        used |= lots
    among = 0
    for copy in copies:
        # Counted for each of them: three sleeves of two lots are worse than two.
        lots = of_match[copy.match]
        among += len(lots) - 1
    return within, among, len(used)


def _shared(copies: Sequence[Copy], places: Places, proven: bool) -> LotsOfSet:
    return LotsOfSet(places, cost_of(places, copies), proven)


def _spread(copies: Sequence[Copy], lots: Lots) -> Places:
    """All lengths of each piece in its first lot."""
    places = []
    for copy, of_piece in zip(copies, lots, strict=True):
        lengths = len(copy.lengths_cm)
        first = of_piece[0]
        places.append((first,) * lengths)
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


def _lots_of_matches(of_match: Mapping[int, Iterable[int]], pieces: Mapping[int, int]) -> Factors:
    """The lots of pieces that match, counted for each of them."""
    factors: dict[int, float] = {}
    for match, unknowns in of_match.items():
        counted_for = float(pieces[match])
        for unknown in unknowns:
            factors[int(unknown)] = counted_for
    return factors


class _WholePieces:
    """Which one lot each piece is of. Pieces that match and take the same are counted together.

    number
        Kinds of pieces × lots: how many of that kind are of the lot.
    has
        Matches × lots: 1 if a piece that matches is of the lot.
    used
        By lot: 1 if a piece is of it.
    """

    def __init__(self, copies: Sequence[Copy], room_cm: Sequence[float], last: int | None):
        self.copies, self.last = copies, last
        self.lots = len(room_cm)
        self.kinds = Counter((copy.match, copy.in_all_cm) for copy in copies)
        self.pieces = Counter(copy.match for copy in copies)
        self.rules = Rules()
        self.number = self.rules.block(len(self.kinds), self.lots)
        has = self.rules.block(len(self.pieces), self.lots)
        self.has = dict(zip(self.pieces, has, strict=True))
        self.used = self.rules.block(self.lots)
        for kind, row in zip(self.kinds, self.number, strict=True):
            count = self.kinds[kind]
            self.rules.add_count(row, count, count)
            match, _ = kind
            self._tie(match, row, count)
        for lot, holds_cm in enumerate(room_cm):
            self.rules.add(self._taken_of(lot), 0, holds_cm + ROUNDING)

    def _tie(self, match: int, row: np.ndarray, count: int) -> None:
        """A match has a lot, and the lot is used, if one of its pieces is of it."""
        for lot, unknown in enumerate(row):
            has = self.has[match][lot]
            self.rules.add_follows(has, unknown, factor=float(count))
            self.rules.add_follows(self.used[lot], has)

    def _taken_of(self, lot: int) -> Factors:
        """What is taken of a lot, cm."""
        taken = {}
        of_lot = self.number[:, lot].tolist()
        for (_, cm), unknown in zip(self.kinds, of_lot, strict=True):
            taken[unknown] = cm
        return taken

    def best_lots(self) -> tuple[Lots | None, bool]:
        """The one lot of each piece, None if there is none, and whether nothing is better."""
        aims = [_lots_of_matches(self.has, self.pieces), each_once(self.used)]
        if self.last is not None:
            aims.append(self._taken_of(self.last))
        whole, most = np.ones(self.rules.size), np.ones(self.rules.size)
        most[self.number] = len(self.copies)
        best, proven = _solve(self.rules, aims, whole, most)
        if best is None:
            return None, proven
        numbers = np.round(best[self.number]).astype(int)
        left = {}
        for kind, counts in zip(self.kinds, numbers, strict=True):
            left[kind] = _lots_in_order(range(self.lots), counts)
        # The earlier pieces of a kind are of the earlier lots.
        lots = []
        for copy in self.copies:
            of_kind = left[copy.match, copy.in_all_cm]
            lots.append([of_kind.pop(0)])
        return lots, proven


def _lots_in_order(lots: Sequence[int], counts: np.ndarray) -> list[int]:
    """Each lot as often as it is counted, one after the other."""
    repeated: list[int] = np.repeat(lots, counts).tolist()
    return repeated


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
        for piece, copy in enumerate(copies):
            self.rules.add_count(self.share[piece], 1, 1)
            # Of no more lots than it has lengths.
            lengths = len(copy.lengths_cm)
            self.rules.add_count(self.has[piece], 1, lengths)
            self._tie(piece)
        for lot, holds_cm in enumerate(room_cm):
            self.rules.add(self._taken_of(lot), 0, holds_cm + ROUNDING)

    def _tie(self, piece: int) -> None:
        """A piece has a lot, its match has it, and the lot is used, if it takes anything of it."""
        match = self.match_of[piece]
        chain = self.share[piece], self.has[piece], self.of_match[match], self.used
        for lot in range(len(self.used)):
            of_lot = [int(unknowns[lot]) for unknowns in chain]
            for leader, follower in pairwise(of_lot):
                self.rules.add_follows(follower, leader)

    def _taken_of(self, lot: int) -> Factors:
        """What is taken of a lot, cm."""
        of_lot = self.share[:, lot].tolist()
        return dict(zip(of_lot, self.in_all_cm, strict=True))

    def best_lots(self) -> tuple[Lots | None, bool]:
        """The lots of each piece, None if there are none, and whether no others are better."""
        of_match = dict(enumerate(self.of_match))
        pieces = Counter(self.match_of)
        aims = [
            each_once(self.has.ravel()),
            _lots_of_matches(of_match, pieces),
            each_once(self.used),
        ]
        if self.last is not None:
            aims.append(self._taken_of(self.last))
        whole, most = np.ones(self.rules.size), np.ones(self.rules.size)
        # Yarn is cut anywhere.
        whole[self.share] = 0
        best, proven = _solve(self.rules, aims, whole, most)
        if best is None:
            return None, proven
        has = best[self.has] > 0.5
        lots = [np.flatnonzero(row).tolist() for row in has]
        return lots, proven

    def rule_out(self, lots: Lots) -> None:
        """Some piece must have another lot than these."""
        ruled_out = [self.has[piece, of_piece] for piece, of_piece in enumerate(lots)]
        others = np.setdiff1d(self.has, np.concatenate(ruled_out))
        self.rules.add_count(others, 1)


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
            continue
        [lot] = of_piece
        left_cm[lot] -= copies[number].in_all_cm
    if not mixed:
        return tuple(places), True
    counts, sure = _count_lengths(copies, mixed, left_cm)
    if counts is None:
        return None, sure
    for number, of_kinds in counts.items():
        places[number] = _places(copies[number], mixed[number], of_kinds)
    return tuple(places), True


def _count_lengths(
    copies: Sequence[Copy], mixed: Mapping[int, Sequence[int]], room_cm: Sequence[float]
) -> tuple[dict[int, np.ndarray] | None, bool]:
    """How many lengths of each kind a piece of several lots has of each; None if that cannot be.

    By the piece's number an array of kinds × lots; beside it whether the answer is sure.
    """
    rules, unknowns_of = Rules(), {}
    taken: list[dict[int, float]] = [{} for _ in room_cm]
    for number, of_piece in mixed.items():
        kinds = copies[number].kinds
        block = rules.block(len(kinds), len(of_piece))
        unknowns_of[number] = block
        for row, (cm, count) in zip(block.tolist(), kinds.items(), strict=True):
            rules.add_count(row, count, count)
            for unknown, lot in zip(row, of_piece, strict=True):
                taken[lot][unknown] = cm
    for factors, holds_cm in zip(taken, room_cm, strict=True):
        rules.add(factors, 0, holds_cm + ROUNDING)
    most = np.full(rules.size, np.inf)
    # Any share will do: one rule without an aim.
    best, sure = _solve(rules, [{}], np.ones(rules.size), most)
    if best is None:
        return None, sure
    counts = {}
    for number, unknowns in unknowns_of.items():
        counts[number] = np.round(best[unknowns]).astype(int)
    return counts, sure


def _places(copy: Copy, lots: Sequence[int], counts: np.ndarray) -> tuple[int, ...]:
    """The lot of each length; of alike ones the earlier are of the earlier lots."""
    left: dict[float, list[int]] = {}
    for cm, of_lots in zip(copy.kinds, counts, strict=True):
        left[cm] = _lots_in_order(lots, of_lots)
    places = []
    for length_cm in copy.lengths_cm:
        of_kind = left[round(length_cm, 4)]
        places.append(of_kind.pop(0))
    return tuple(places)

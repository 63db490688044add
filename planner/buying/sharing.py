"""Which piece of yarn comes from which lot: an exact integer programme.

It has four aims, each without giving up what the one before has reached: the fewest areas of more
than one lot, the fewest rows in which two lots lie side by side in an area, the fewest lots, and
the fewest changes from one piece to the next.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from planner.buying.rules import Rules
from planner.errors import PlanError

NODES = 2000  # branches looked at before the best so far is taken and said to be that
# What the solver says of its answer.
OPTIMAL, INFEASIBLE = 0, 2

Cost = tuple[int, int, int, int]
Pair = tuple[int, int]  # of pieces


class Share(NamedTuple):
    """Which piece comes from which lot.

    place
        The lot of each piece, by its place among the lots.
    cost
        Areas worked from more than one lot (each further lot of an area), rows in which two lots
        lie side by side, lots, and changes of lot.
    proven
        Whether no share is better.
    """

    place: np.ndarray
    cost: Cost
    proven: bool


@dataclass(frozen=True)
class _Neighbours:
    """Which pieces had better be of one lot.

    by_area
        The pieces of each area that is worked by several.
    beside
        By pair of pieces of one area, in how many rows they lie side by side.
    after
        Each piece with the one that is needed after it.
    """

    by_area: list[list[int]]
    beside: dict[Pair, int]
    after: list[Pair]


def best_share(
    length: np.ndarray,
    begins: np.ndarray,
    done: np.ndarray,
    areas: Sequence[Collection],
    room: Mapping[str, float],
) -> Share | None:
    """The best share of pieces among lots; None if the lots do not hold the pieces.

    By piece its `length` in cm, the rows, of its own copy, in which it `begins` and before which it
    is `done`, and its `areas`; `room` is what each lot holds, cm.
    """
    # Without a lot there is nothing to choose from.
    if not room:
        return None
    neighbours = _find_neighbours(begins, done, areas)
    holds = list(room.values())
    programme = _Programme(neighbours, length, holds)
    place, proven = programme.solve()
    if place is None:
        return None
    cost = share_cost(
        place,
        neighbours.by_area,
        neighbours.beside,
        neighbours.after,
    )
    return Share(place, cost, proven)


def _find_neighbours(
    begins: np.ndarray,
    done: np.ndarray,
    areas: Sequence[Collection],
) -> _Neighbours:
    """The neighbours among pieces that stand in the order of need (see `best_share`)."""
    pieces_of_area = defaultdict(list)
    for piece, areas_of_piece in enumerate(areas):
        for area in sorted(areas_of_piece):
            pieces_of_area[area].append(piece)
    # An area that one piece works alone is of one lot, whatever is done.
    shared = []
    for members in pieces_of_area.values():
        if len(members) > 1:
            shared.append(members)
    beside = {}
    for members in shared:
        for i, j in combinations(members, 2):
            # They lie side by side from where the later begins to where the first is done.
            begin = max(begins[i], begins[j])
            end = min(done[i], done[j])
            rows = int(end - begin)
            if rows > 0:
                beside[i, j] = rows
    # Also where they lie apart: a knitter would rather not go back and forth between lots.
    pieces = range(len(areas))
    after = list(pairwise(pieces))
    return _Neighbours(shared, beside, after)


class _Programme:
    """The integer programme; its unknowns are all 0 or 1, numbered in five blocks.

    in_lot
        Pieces × lots: the piece is of the lot.
    area_has
        Areas × lots: a piece of the area is of the lot.
    apart
        By pair side by side: the two are not of one lot.
    used
        By lot: a piece is of it.
    change
        By pair one after the other: the two are not of one lot.
    """

    def __init__(self, neighbours: _Neighbours, length: np.ndarray, room: Sequence[float]):
        self.neighbours = neighbours
        # Every unknown has a number; the blocks hold the numbers, so rules are written with them.
        pieces = len(length)
        lots = len(room)
        self.rules = Rules()
        self.in_lot = self.rules.block(pieces, lots)
        self.area_has = self.rules.block(len(neighbours.by_area), lots)
        self.apart = self.rules.block(len(neighbours.beside))
        self.used = self.rules.block(lots)
        self.change = self.rules.block(len(neighbours.after))
        self.size = self.rules.size
        # Each piece is of one lot.
        for lots_of_piece in self.in_lot:
            factors = dict.fromkeys(lots_of_piece, 1.0)
            self.rules.add(factors, least=1, most=1)
        for lot, holds in enumerate(room):
            # The lot holds what is of it.
            of_lot = self.in_lot[:, lot]
            factors = dict(zip(of_lot, length, strict=True))
            self.rules.add(factors, least=0, most=holds)
            self._tie_to_pieces(lot)
            self._tie_to_pairs(of_lot)

    def _tie_to_pieces(self, lot: int) -> None:
        """A lot is used, and an area has it, if a piece is of it."""
        # "If" is all that is asked: the aims keep at 0 what no piece lifts to 1.
        areas_of_piece = defaultdict(list)
        for area, members in enumerate(self.neighbours.by_area):
            for piece in members:
                areas_of_piece[piece].append(area)
        used = self.used[lot]
        pieces_of_lot = self.in_lot[:, lot]
        for piece, of_lot in enumerate(pieces_of_lot):
            self.rules.add({used: 1, of_lot: -1}, least=0)
            for area in areas_of_piece[piece]:
                area_has = self.area_has[area, lot]
                self.rules.add({area_has: 1, of_lot: -1}, least=0)

    def _tie_to_pairs(self, of_lot: np.ndarray) -> None:
        """Two pieces are not of one lot if one of them is of it and the other is not."""
        pairs_of_block = (
            (self.apart, self.neighbours.beside),
            (self.change, self.neighbours.after),
        )
        # One of the two rules would do, for each piece is of one lot. But which of several best
        # shares is found depends on both, and it should not change from one release to the next.
        for block, pairs in pairs_of_block:
            for differ, (i, j) in zip(block, pairs, strict=True):
                for one_of_lot, not_of_lot in ((of_lot[i], of_lot[j]), (of_lot[j], of_lot[i])):
                    factors = {differ: 1.0, one_of_lot: -1.0, not_of_lot: 1.0}
                    self.rules.add(factors, least=0)

    def _aims(self) -> Iterator[np.ndarray]:
        """What each unknown costs, aim by aim, the most important first."""
        # A pair side by side costs the rows in which it is.
        rows_beside = list(self.neighbours.beside.values())
        costs = (
            (self.area_has, 1),
            (self.apart, rows_beside),
            (self.used, 1),
            (self.change, 1),
        )
        for block, cost in costs:
            aim = np.zeros(self.size)
            aim[block] = cost
            yield aim

    def solve(self) -> tuple[np.ndarray | None, bool]:
        """The lot of each piece and whether no share is better; None if the lots are too small."""
        best, proven = None, True
        constraints = [self.rules.constraint()]
        # With no gap allowed the search goes on until nothing better is left.
        options = {"node_limit": NODES, "mip_rel_gap": 0}
        for aim in self._aims():
            # An aim that costs nothing is reached, but once is needed to find a share at all.
            if best is not None and not aim.any():
                continue
            found = milp(
                aim,
                constraints=constraints,
                integrality=np.ones(self.size),
                bounds=Bounds(0, 1),
                options=options,
            )
            if found.x is None:
                if best is None and found.status == INFEASIBLE:
                    return None, True
                # Cut short: this aim is given up, the share so far stands.
                proven = False
                continue
            proven = proven and found.status == OPTIMAL
            # The solver's zeros and ones are floats, each a hair off.
            best = np.round(found.x)
            # What is reached is not given up for the aims that come after.
            reached = float(aim @ best)
            constraints.append(LinearConstraint(aim, 0, reached))
        if best is None:
            raise PlanError(
                "The search for a share of the lots was cut short before it found one. "
                "Name fewer lots."
            )
        # Each piece has a 1 in the column of its lot.
        is_in_lot = best[self.in_lot]
        return is_in_lot.argmax(axis=1), proven


def share_cost(
    place: np.ndarray,
    by_area: Iterable[Sequence[int]],
    beside: Mapping[Pair, int],
    after: Iterable[Pair],
) -> Cost:
    """Further lots of areas, rows side by side, lots used, and changes, of the lots of pieces."""
    # Counted from the share itself, by another road than the programme's.
    lot = place.tolist()
    further_lots = rows_beside = changes = 0
    for members in by_area:
        lots_of_area = {lot[piece] for piece in members}
        further_lots += len(lots_of_area) - 1
    for (i, j), rows in beside.items():
        if lot[i] != lot[j]:
            rows_beside += rows
    for i, j in after:
        if lot[i] != lot[j]:
            changes += 1
    lots = len(set(lot))
    return further_lots, rows_beside, lots, changes

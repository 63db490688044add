"""Dye lots: which strands are worked from which lot where one lot does not hold them all.

Two lots of a colour seldom match. The change does not show between colour areas that lie apart, so
an area is worked from one lot where that can be. Where it cannot, the strands of the two lots lie
above each other rather than side by side. The share is an exact integer programme with four aims:
the fewest areas of more than one lot, then the fewest rows in which the lots lie side by side in an
area, then the fewest lots, then the fewest changes from one strand to the next.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, count
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import dok_array

from planner.buying.bobbins import last_row, pieces_of
from planner.errors import PlanError
from planner.piece import Project
from planner.plan import Plan
from planner.units import counted, show, shown

NODES = 2000  # branches looked at before the best so far is taken and said to be that
TO_BUY = "a new lot"

# What the solver says of its answer.
OPTIMAL, INFEASIBLE = 0, 2

Cost = tuple[int, int, int, int]


@dataclass(frozen=True, eq=False)
class LotShare:
    """Which piece comes from which lot.

    cost
        Areas worked from more than one lot (each further lot of an area), rows in which two lots
        lie side by side, lots, and changes of lot.
    proven
        Whether no share is better.
    buy
        Balls of a new lot that it takes.
    said
        The share in words.
    """

    table: pd.DataFrame
    cost: Cost
    proven: bool
    buy: int
    said: str


class Share(NamedTuple):
    """The lot of each piece, by its place among the lots; `cost` and `proven` as in LotShare."""

    place: np.ndarray
    cost: Cost
    proven: bool


@dataclass(frozen=True)
class _Piece:
    """A length of a yarn: it begins in one row and is done with before another, in its own copy.

    `areas` are the (copy, area)s that its strand works.
    """

    copy: int
    label: str
    length_cm: float
    begins: float
    done: float
    to_row: int
    areas: frozenset[tuple[int, int]]


def share_lots(
    plans: Sequence[Plan], letter: str, lots: Mapping[str, float] | None = None
) -> LotShare:
    """The strands of a yarn shared among its dye lots.

    `lots` gives the balls in hand by lot; it is the yarn's own unless given. Only if they cannot
    hold all, the fewest balls of a new lot are added. Every ball is counted short by the band's
    error.
    """
    project = plans[0].project
    ball_cm = _sure_ball_cm(project, letter)
    pieces = _pieces_of_copies(plans, letter)
    lots = project.all_yarns[letter].lots if lots is None else lots
    in_hand = {lot or "no lot named": balls * ball_cm for lot, balls in lots.items() if balls}
    buy, room, share = _with_fewest_to_buy(pieces, in_hand, ball_cm)
    names = list(room)
    lot_of_piece = [names[place] for place in share.place]
    said = _share_in_words(letter, _from_lots(pieces, lot_of_piece, project.units), buy, share)
    table = shown(_lot_table(pieces, lot_of_piece), project.units)
    return LotShare(table, share.cost, share.proven, buy, said)


def _sure_ball_cm(project: Project, letter: str) -> float:
    """What a ball holds at the least, cm."""
    if letter not in project.chart.letters:
        on_chart = ", ".join(project.chart.letters)
        raise PlanError(f"Yarn {letter} is not on the chart. Name one of {on_chart}.")
    metres = project.all_yarns[letter].metres_per_ball
    if not metres:
        raise PlanError(
            f"Yarn {letter} has no metres_per_ball, so its lots cannot be measured. "
            "Fill it in from the band."
        )
    return 100 * metres * (1 - project.allow.label_error)


def _pieces_of_copies(plans: Sequence[Plan], letter: str) -> list[_Piece]:
    """The pieces of a yarn in all copies, in the order of need."""
    pieces = []
    for copy, plan in enumerate(plans, start=1):
        areas_of_strand = _areas_of_strands(plan, copy)
        hanging = pieces_of(plan)
        hanging = hanging[hanging.yarn == letter]
        # The halves of a strand begun from its middle are one length.
        label = hanging.label.where(hanging.refill > 0, hanging.strand).rename("piece")
        lengths = hanging.groupby(label, sort=False).agg(
            strand=("strand", "first"),
            length_cm=("length_cm", "sum"),
            begins=("begins", "min"),
            done=("done", "max"),
        )
        lengths = lengths.assign(to_row=last_row(lengths.done))
        for piece in lengths.itertuples():
            pieces.append(
                _Piece(
                    copy,
                    piece.Index,
                    piece.length_cm,
                    piece.begins,
                    piece.done,
                    piece.to_row,
                    areas_of_strand[piece.strand],
                )
            )
    return pieces


def _areas_of_strands(plan: Plan, copy: int) -> dict[str, frozenset[tuple[int, int]]]:
    """The (copy, area)s that each strand works, by its label."""
    strands = plan.traced
    area_of_run = plan.area_of_cell[strands.runs.chart_row, strands.runs.lo]
    areas: list[set[tuple[int, int]]] = [set() for _ in strands.labels]
    for strand, area in zip(strands.of_run.tolist(), area_of_run.tolist(), strict=True):
        areas[strand].add((copy, area))
    return dict(zip(strands.labels, map(frozenset, areas), strict=True))


def _with_fewest_to_buy(
    pieces: Sequence[_Piece], in_hand: Mapping[str, float], ball_cm: float
) -> tuple[int, dict[str, float], Share]:
    """The fewest balls of a new lot that it takes, what each lot then holds, and the share."""
    length = np.array([piece.length_cm for piece in pieces])
    begins = np.array([piece.begins for piece in pieces])
    done = np.array([piece.done for piece in pieces])
    areas = [piece.areas for piece in pieces]
    missing = (length.sum() - sum(in_hand.values())) / ball_cm
    for buy in count(max(0, math.ceil(missing - 1e-9))):
        room = dict(in_hand)
        if buy:
            room[TO_BUY] = buy * ball_cm
        share = best_share(length, begins, done, areas, room)
        if share is not None:
            return buy, room, share
    raise AssertionError("a new lot that is large enough holds everything")


def _from_lots(pieces: Sequence[_Piece], lot_of_piece: Sequence[str], units: str) -> str:
    """How much comes from which lot, in the order of need: "12.00 m of 018 and 3.10 m of 019"."""
    length_of_lot: dict[str, float] = {}
    for piece, lot in zip(pieces, lot_of_piece, strict=True):
        length_of_lot[lot] = length_of_lot.get(lot, 0) + piece.length_cm
    return " and ".join(f"{show(length, units)} of {lot}" for lot, length in length_of_lot.items())


def _share_in_words(letter: str, from_lots: str, buy: int, share: Share) -> str:
    """A share in a few sentences; `from_lots` says how much comes from which lot."""
    to_buy = f" ({counted(buy, 'ball')} to buy)" if buy else ""
    sentences = [f"{letter} from {from_lots}{to_buy}."]
    changes, rows, lots, _ = share.cost
    if changes:
        where = "one above the other"
        if rows:
            where = f"{counted(rows, 'row')} in which two lots lie side by side"
        sentences.append(
            "No share keeps every colour area to one lot: "
            f"{counted(changes, 'change')} of lot within an area, {where}."
        )
    elif lots > 1:
        sentences.append("Every colour area is worked from one lot.")
    if not share.proven:
        sentences.append("A better share may exist: the search was cut short.")
    return " ".join(sentences)


def _lot_table(pieces: Sequence[_Piece], lot_of_piece: Sequence[str]) -> pd.DataFrame:
    """One row a piece, in the order of need: its lot, its length in cm, its rows and areas."""
    rows = []
    for piece, lot in zip(pieces, lot_of_piece, strict=True):
        in_area = ", ".join(str(area) for _, area in sorted(piece.areas))
        length, from_row = piece.length_cm, int(piece.begins)
        rows.append((lot, piece.copy, piece.label, length, from_row, piece.to_row, in_area))
    columns = ["lot", "copy", "piece", "length_cm", "from_row", "to_row", "in_area"]
    return pd.DataFrame(rows, columns=columns)


# The integer programme


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
    beside: dict[tuple[int, int], int]
    after: list[tuple[int, int]]


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
    if not room:
        return None
    neighbours = _find_neighbours(begins, done, areas)
    programme = _Programme(neighbours, length, list(room.values()))
    best, proven = programme.solve()
    if best is None:
        return None
    cost = share_cost(best, neighbours.by_area, neighbours.beside, neighbours.after)
    return Share(best, cost, proven)


def _find_neighbours(
    begins: np.ndarray, done: np.ndarray, areas: Sequence[Collection]
) -> _Neighbours:
    pieces_of_area: dict[object, list[int]] = {}
    for piece, of_piece in enumerate(areas):
        for area in sorted(of_piece):
            pieces_of_area.setdefault(area, []).append(piece)
    by_area = [members for members in pieces_of_area.values() if len(members) > 1]
    beside = {}
    for members in by_area:
        for i, j in combinations(members, 2):
            rows = int(min(done[i], done[j]) - max(begins[i], begins[j]))
            if rows > 0:
                beside[i, j] = rows
    after = [(i, i + 1) for i in range(len(areas) - 1)]
    return _Neighbours(by_area, beside, after)


class _Rule(NamedTuple):
    """A sum of unknowns, each times its factor, that lies between two bounds."""

    factors: dict[int, float]
    least: float
    most: float = np.inf


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
        pieces, lots, areas = len(length), len(room), len(neighbours.by_area)
        beside, after = len(neighbours.beside), len(neighbours.after)
        blocks = _numbered((pieces, lots), (areas, lots), (beside,), (lots,), (after,))
        self.in_lot, self.area_has, self.apart, self.used, self.change = blocks
        self.size = sum(block.size for block in blocks)
        self.rules = [_Rule(dict.fromkeys(lots_of_piece, 1), 1, 1) for lots_of_piece in self.in_lot]
        for lot, holds in enumerate(room):
            of_lot = self.in_lot[:, lot]
            self.rules.append(_Rule(dict(zip(of_lot, length, strict=True)), 0, holds))
            self.rules += self._ties_to_pieces(lot)
            self.rules += self._ties_to_pairs(of_lot)

    def _ties_to_pieces(self, lot: int) -> Iterator[_Rule]:
        """A lot is used, and an area has it, if a piece is of it."""
        areas_of_piece = defaultdict(list)
        for area, members in enumerate(self.neighbours.by_area):
            for piece in members:
                areas_of_piece[piece].append(area)
        for piece, of_lot in enumerate(self.in_lot[:, lot]):
            yield _Rule({self.used[lot]: 1, of_lot: -1}, 0)
            for area in areas_of_piece[piece]:
                yield _Rule({self.area_has[area, lot]: 1, of_lot: -1}, 0)

    def _ties_to_pairs(self, of_lot: np.ndarray) -> Iterator[_Rule]:
        """Two pieces are not of one lot if one of them is of it and the other is not."""
        neighbours = self.neighbours
        pairs_of = (self.apart, neighbours.beside), (self.change, neighbours.after)
        for block, pairs in pairs_of:
            for differ, (i, j) in zip(block, pairs, strict=True):
                yield _Rule({differ: 1, of_lot[i]: -1, of_lot[j]: 1}, 0)
                yield _Rule({differ: 1, of_lot[j]: -1, of_lot[i]: 1}, 0)

    def _aims(self) -> Iterator[np.ndarray]:
        """What each unknown costs, aim by aim, the most important first."""
        rows_beside = list(self.neighbours.beside.values())
        costs = (self.area_has, 1), (self.apart, rows_beside), (self.used, 1), (self.change, 1)
        for block, cost in costs:
            aim = np.zeros(self.size)
            aim[block] = cost
            yield aim

    def _constraint(self) -> LinearConstraint:
        """All rules as the solver takes them."""
        matrix = dok_array((len(self.rules), self.size))
        for number, rule in enumerate(self.rules):
            for unknown, factor in rule.factors.items():
                matrix[number, unknown] = factor
        least = [rule.least for rule in self.rules]
        most = [rule.most for rule in self.rules]
        return LinearConstraint(matrix.tocsc(), least, most)

    def solve(self) -> tuple[np.ndarray | None, bool]:
        """The lot of each piece and whether no share is better; None if the lots are too small."""
        best, proven = None, True
        constraints = [self._constraint()]
        for aim in self._aims():
            if best is not None and not aim.any():
                continue
            found = milp(
                aim,
                constraints=constraints,
                integrality=np.ones(self.size),
                bounds=Bounds(0, 1),
                options={"node_limit": NODES, "mip_rel_gap": 0},
            )
            if found.x is None:
                if best is None and found.status == INFEASIBLE:
                    return None, True
                proven = False
                continue
            proven = proven and found.status == OPTIMAL
            best = np.round(found.x)
            # The aims after this one do not give up what it has reached.
            constraints.append(LinearConstraint(aim, 0, float(aim @ best)))
        if best is None:
            raise PlanError(
                "The search for a share of the lots was cut short before it found one. "
                "Name fewer lots."
            )
        return best[self.in_lot].argmax(axis=1), proven


def _numbered(*shapes: tuple[int, ...]) -> list[np.ndarray]:
    """Arrays of these shapes whose entries count on from one array to the next."""
    blocks, start = [], 0
    for shape in shapes:
        size = math.prod(shape)
        blocks.append(np.arange(start, start + size).reshape(shape))
        start += size
    return blocks


def share_cost(
    place: np.ndarray,
    by_area: Iterable[Sequence[int]],
    beside: Mapping[tuple[int, int], int],
    after: Iterable[tuple[int, int]],
) -> Cost:
    """Further lots of areas, rows side by side, lots used, and changes, of the lots of pieces."""
    lot = place.tolist()
    further_lots = sum(len({lot[piece] for piece in members}) - 1 for members in by_area)
    rows_beside = sum(rows for (i, j), rows in beside.items() if lot[i] != lot[j])
    changes = sum(lot[i] != lot[j] for i, j in after)
    return further_lots, rows_beside, len(set(lot)), changes

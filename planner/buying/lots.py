"""Dye lots: which strands are worked from which lot where one lot does not hold them all.

Two lots of a colour seldom match. The change does not show between colour areas that lie apart, so
an area is worked from one lot where that can be. Where it cannot, the strands of the two lots lie
above each other rather than side by side (see `sharing`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import pandas as pd

from planner.buying.sharing import Cost, Share, best_share
from planner.errors import PlanError
from planner.piece import Project
from planner.plan import Plan
from planner.supplies import Piece
from planner.units import counted, show_total, shown

TO_BUY = "a new lot"
ROUNDING = 1e-9  # of lengths that are added up

Area = tuple[int, int]  # the copy, and the area's number in it


@dataclass(frozen=True, eq=False)
class LotShare:
    """Which piece comes from which lot.

    cost, proven
        What the share costs, and whether none is better (see `Share`).
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


@dataclass(frozen=True)
class LotLength:
    """A length of a yarn that is of one lot: a piece as it is measured off, or both halves of one.

    It hangs from `begins` to before `done`, worked rows of its own copy from 0. `areas` are the
    (copy, area)s that its strand works.
    """

    copy: int
    label: str
    length_cm: float
    begins: float
    done: float
    areas: frozenset[Area]


def share_lots(
    plans: Sequence[Plan],
    letter: str,
    lots: Mapping[str, float] | None = None,
) -> LotShare:
    """The strands of a yarn shared among its dye lots.

    `plans` are those of the copies. `lots` gives the balls in hand by lot; it is the yarn's own
    unless given. Only if they cannot hold all, the fewest balls of a new lot are added. Every ball
    is counted short by the band's error.
    """
    # Copies are of one project, mirrored or not.
    project = plans[0].project
    units = project.units
    ball_cm = _sure_ball_cm(project, letter)
    if lots is None:
        lots = project.all_yarns[letter].lots
    # A lot of which nothing is left is no lot to choose from.
    in_hand = {}
    for lot, balls in lots.items():
        if balls:
            in_hand[lot or "no lot named"] = balls * ball_cm

    lengths = lengths_of_copies(plans, letter)
    buy, room, share = _with_fewest_to_buy(lengths, in_hand, ball_cm)
    # The share knows the lots by their places.
    names = list(room)
    lot_of = [names[place] for place in share.place]
    from_lots = _from_lots(lengths, lot_of, units)
    return LotShare(
        table=shown(_lot_table(lengths, lot_of), units),
        cost=share.cost,
        proven=share.proven,
        buy=buy,
        said=_share_in_words(letter, from_lots, buy, share),
    )


def _sure_ball_cm(project: Project, letter: str) -> float:
    """What a ball holds at the least, cm."""
    letters = project.chart.letters
    if letter not in letters:
        on_chart = ", ".join(letters)
        raise PlanError(f"Yarn {letter} is not on the chart. Name one of {on_chart}.")
    metres = project.all_yarns[letter].metres_per_ball
    if not metres:
        raise PlanError(
            f"Yarn {letter} has no metres_per_ball, so its lots cannot be measured. "
            "Fill it in from the band."
        )
    # A lot can seldom be bought again, so each ball is taken at its shortest.
    sure = 1 - project.allow.label_error
    return 100 * metres * sure


def lengths_of_copies(plans: Sequence[Plan], letter: str) -> list[LotLength]:
    """The lengths of a yarn in all copies, in the order of need."""
    lengths = []
    units = plans[0].project.units
    for copy, plan in enumerate(plans, start=1):
        areas = _areas_of_strands(plan, copy)
        for label, pieces in pieces_of_one_length(plan, letter).items():
            length = LotLength(
                copy,
                label,
                length_cm=sum(piece.to_measure_cm(units) for piece in pieces),
                begins=min(piece.begins for piece in pieces),
                done=max(piece.done for piece in pieces),
                # What is embroidered works no area that is knitted.
                areas=areas.get(pieces[0].strand, frozenset()),
            )
            lengths.append(length)
    return lengths


def pieces_of_one_length(plan: Plan, letter: str) -> dict[str, list[Piece]]:
    """The pieces of a yarn by the length that they are of."""
    by_length = defaultdict(list)
    # In the order in which they begin to hang; what is embroidered comes last.
    for piece in sorted(plan.pieces, key=lambda piece: (piece.begins, piece.order)):
        if piece.yarn == letter:
            # The halves of a strand begun from its middle are one length, uncut, so of one lot. A
            # refill is a length of its own: it may be of another lot.
            label = piece.label if piece.refill else piece.strand
            by_length[label].append(piece)
    return by_length


def _areas_of_strands(plan: Plan, copy: int) -> dict[str, frozenset[Area]]:
    """The (copy, area)s that each strand works, by its label."""
    # A run lies within one area, so its first cell tells which.
    strands, runs = plan.traced, plan.traced.runs
    area_of_run = plan.area_of_cell[runs.chart_row, runs.lo]
    strand_and_area = zip(strands.of_run.tolist(), area_of_run.tolist(), strict=True)
    areas = defaultdict(set)
    for strand, area in strand_and_area:
        label = strands.labels[strand]
        areas[label].add((copy, area))
    return {label: frozenset(worked) for label, worked in areas.items()}


def _with_fewest_to_buy(
    lengths: Sequence[LotLength],
    in_hand: Mapping[str, float],
    ball_cm: float,
) -> tuple[int, dict[str, float], Share]:
    """The fewest balls of a new lot that it takes, what each lot then holds, and the share."""
    length_cm = np.array([length.length_cm for length in lengths])
    begins = np.array([length.begins for length in lengths])
    done = np.array([length.done for length in lengths])
    areas = [length.areas for length in lengths]
    # From the fewest that could do on: no length is pieced together from what two lots have left.
    missing_cm = length_cm.sum() - sum(in_hand.values())
    at_least = math.ceil(missing_cm / ball_cm - ROUNDING)
    for buy in count(max(0, at_least)):
        room = dict(in_hand)
        if buy:
            room[TO_BUY] = buy * ball_cm
        share = best_share(length_cm, begins, done, areas, room)
        if share is not None:
            return buy, room, share
    raise AssertionError("a new lot that is large enough holds everything")


def _from_lots(
    lengths: Sequence[LotLength],
    lot_of: Sequence[str],
    units: str,
) -> str:
    """How much comes from which lot, in the order of need: "12 m of 018 and 3.1 m of 019"."""
    # A dictionary keeps the order in which its keys come in.
    from_lot: dict[str, float] = defaultdict(float)
    for length, lot in zip(lengths, lot_of, strict=True):
        from_lot[lot] += length.length_cm
    parts = []
    for lot, length_cm in from_lot.items():
        parts.append(f"{show_total(length_cm, units)} of {lot}")
    return " and ".join(parts)


def _share_in_words(letter: str, from_lots: str, buy: int, share: Share) -> str:
    """A share in a few sentences; `from_lots` says how much comes from which lot."""
    # What the knitter has to know first: whether to buy, then whether it will show.
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


def _lot_table(lengths: Sequence[LotLength], lot_of: Sequence[str]) -> pd.DataFrame:
    """One row a length, in the order of need: its lot, its length in cm, its rows and areas."""
    rows = []
    for length, lot in zip(lengths, lot_of, strict=True):
        # The copy has a column of its own, and rows are counted from 1 for the knitter. What is
        # embroidered hangs in none.
        hangs = math.isfinite(length.begins)
        numbers = [area for _, area in sorted(length.areas)]
        row = {
            "lot": lot,
            "copy": length.copy,
            "piece": length.label,
            "length_cm": length.length_cm,
            "from_row": int(length.begins) + 1 if hangs else None,
            "to_row": math.ceil(length.done) if hangs else None,
            "in_area": ", ".join(map(str, numbers)),
        }
        rows.append(row)
    return pd.DataFrame(rows).astype({"from_row": "Int64", "to_row": "Int64"})

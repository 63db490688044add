"""Lengths fitted to scraps and balls, each whole on one of them: an exact integer programme.

It has four aims, each without giving up what the one before has reached: the fewest balls to buy,
the fewest whole balls in hand that are opened, the fewest scraps that are touched, and the least
that is left of those. Lengths that are alike are counted, not told apart, and new balls are opened
in order: so no share is looked at twice under other names.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

NODES = 2000  # branches looked at before the best so far is taken and the gap is said
ROUNDING_CM = 1e-6  # of lengths that are added up
SCRAP, IN_HAND, NEW = KINDS = ("scrap", "ball in hand", "new ball")


class Length(NamedTuple):
    """A length that must lie whole on one holder, cm.

    `hangs` are the rows, first and after the last, in which it is fed from what it lies on; None
    if it is cut off before.
    """

    cm: float
    hangs: tuple[float, float] | None = None


class Holder(NamedTuple):
    """A scrap or a ball, and how much it surely holds, cm."""

    kind: str
    cm: float


@dataclass(frozen=True)
class Fit:
    """Which length lies on which holder.

    place
        The holder of each length, by its place among those given and then the new balls.
    cost
        Balls to buy, whole balls in hand that are opened, scraps touched, and cm left of these.
    least_to_buy
        So few balls would have to be bought in any case.
    proven
        Whether no fit is better.
    """

    place: tuple[int, ...]
    cost: tuple[int, int, int, float]
    least_to_buy: int
    proven: bool


def best_fit(
    lengths: Sequence[Length], holders: Sequence[Holder], ball_cm: float, *, ends: int = 1
) -> Fit:
    """The best fit of lengths on scraps and balls in hand, with as many new balls as it takes.

    A new ball holds `ball_cm`, no less than the longest length. A holder feeds `ends` lengths at
    one time; others are cut off it before.
    """
    by_rule = _first_that_fits(lengths, holders, ball_cm, ends)
    most = max(by_rule) + 1 - len(holders) if by_rule else 0
    every = [*holders, *[Holder(NEW, ball_cm)] * max(0, most)]
    first = _cost(by_rule, lengths, every)
    if not lengths:
        return Fit((), first, 0, proven=True)
    programme = _Programme(lengths, every, ends)
    place, bound, proven = programme.solve()
    if place is None or not fits(place, lengths, every, ends):
        place, proven = by_rule, False
    cost = _cost(place, lengths, every)
    # Cut short, the rule of thumb may have found the better one.
    if not proven and first < cost:
        place, cost = by_rule, first
    return Fit(tuple(place), cost, min(bound, cost[0]), proven)


def fits(
    place: Sequence[int], lengths: Sequence[Length], holders: Sequence[Holder], ends: int = 1
) -> bool:
    """Whether no holder has to give more than it has, or to feed too many at one time."""
    for number, holder in enumerate(holders):
        on_it = [length for length, at in zip(lengths, place, strict=True) if at == number]
        if sum(length.cm for length in on_it) > holder.cm + ROUNDING_CM:
            return False
        if any(len(group) > ends for group in _at_one_time(on_it)):
            return False
    return True


def _at_one_time(lengths: Sequence[Length]) -> Iterator[list[int]]:
    """The lengths, by their places, that are fed at one time, whenever another one begins."""
    hanging = [(place, each.hangs) for place, each in enumerate(lengths) if each.hangs]
    for _, (begins, _) in hanging:
        yield [place for place, (first, done) in hanging if first <= begins < done]


def _first_that_fits(
    lengths: Sequence[Length], holders: Sequence[Holder], ball_cm: float, ends: int
) -> list[int]:
    """A fit by rule of thumb: the longest first, each on the shortest holder that will do."""
    every = list(holders)
    on: list[list[Length]] = [[] for _ in every]
    place = [0] * len(lengths)
    # Scraps before whole balls, those in hand before new ones.
    order = sorted(range(len(every)), key=lambda at: (KINDS.index(every[at].kind), every[at].cm))
    for number in sorted(range(len(lengths)), key=lambda number: -lengths[number].cm):
        for at in order:
            tried = [*on[at], lengths[number]]
            if fits([0] * len(tried), tried, [every[at]], ends):
                break
        else:
            at = len(every)
            every.append(Holder(NEW, ball_cm))
            on.append([])
            order.append(at)
        on[at].append(lengths[number])
        place[number] = at
    return place


def _cost(
    place: Sequence[int], lengths: Sequence[Length], holders: Sequence[Holder]
) -> tuple[int, int, int, float]:
    """What a fit costs, in the order of the aims."""
    touched = set(place)
    kinds = Counter(holders[at].kind for at in touched)
    left_cm = sum(holders[at].cm for at in touched if holders[at].kind == SCRAP)
    for at, length in zip(place, lengths, strict=True):
        if holders[at].kind == SCRAP:
            left_cm -= length.cm
    return kinds[NEW], kinds[IN_HAND], kinds[SCRAP], round(left_cm, 2)


class _Programme:
    """The integer programme.

    Its unknowns are, for each class of alike lengths and each holder, how many of the class lie on
    it, and for each holder whether it is touched.
    """

    def __init__(self, lengths: Sequence[Length], holders: Sequence[Holder], ends: int):
        self.holders = holders
        self.members: dict[Length, list[int]] = {}
        for number, length in enumerate(lengths):
            self.members.setdefault(length, []).append(number)
        self.classes = list(self.members)
        self.counts = [len(self.members[each]) for each in self.classes]
        self.unknowns = (len(self.classes) + 1) * len(holders)
        self.rules: list[LinearConstraint] = []
        for kind, count in enumerate(self.counts):
            self._rule({self._on(kind, at): 1.0 for at in range(len(holders))}, count, count)
        groups = list(_at_one_time(self.classes))
        for at, holder in enumerate(holders):
            factors = {self._on(kind, at): each.cm for kind, each in enumerate(self.classes)}
            touched = self._touched(at)
            self._rule({**factors, touched: -holder.cm}, -np.inf, 0)
            for group in groups:
                self._rule({self._on(kind, at): 1.0 for kind in group}, 0, ends)
            for kind, each in enumerate(self.classes):
                most = min(self.counts[kind], math.floor((holder.cm + ROUNDING_CM) / each.cm))
                self._rule({self._on(kind, at): 1.0, touched: -float(most)}, -np.inf, 0)
            # Of holders that are alike the earlier ones are touched first.
            if at and holders[at - 1] == holder:
                self._rule({self._touched(at - 1): 1.0, touched: -1.0}, 0, 1)

    def _on(self, kind: int, at: int) -> int:
        return kind * len(self.holders) + at

    def _touched(self, at: int) -> int:
        return self._on(len(self.classes), at)

    def _rule(self, factors: dict[int, float], least: float, most: float) -> None:
        row = np.zeros(len(factors), dtype=int)
        matrix = csr_array((list(factors.values()), (row, list(factors))), shape=(1, self.unknowns))
        self.rules.append(LinearConstraint(matrix, least, most))

    def _aims(self) -> Iterator[np.ndarray]:
        """What each unknown costs, aim by aim, the most important first."""
        for dear in (NEW, IN_HAND, SCRAP):
            aim = np.zeros(self.unknowns)
            for at, holder in enumerate(self.holders):
                aim[self._touched(at)] = holder.kind == dear
            yield aim
        # What lies on scraps leaves less of those.
        left = np.zeros(self.unknowns)
        for at, holder in enumerate(self.holders):
            if holder.kind == SCRAP:
                left[self._touched(at)] = holder.cm
                for kind, each in enumerate(self.classes):
                    left[self._on(kind, at)] = -each.cm
        yield left

    def solve(self) -> tuple[list[int] | None, int, bool]:
        """The holder of each length, the fewest balls that must be bought, whether none is better.

        None if the search was cut short before it found any.
        """
        rules, best, proven, bound = list(self.rules), None, True, 0
        most = np.ones(self.unknowns)
        for kind, count in enumerate(self.counts):
            most[self._on(kind, 0) : self._on(kind + 1, 0)] = count
        for number, aim in enumerate(self._aims()):
            # An aim that costs nothing is reached, but one is needed to find a fit at all.
            if best is not None and not aim.any():
                continue
            found = milp(
                aim,
                constraints=rules,
                integrality=np.ones(self.unknowns),
                bounds=Bounds(0, most),
                options={"node_limit": NODES, "mip_rel_gap": 0},
            )
            if not number and found.mip_dual_bound is not None:
                bound = math.ceil(found.mip_dual_bound - ROUNDING_CM)
            if found.x is None:
                proven = False
                continue
            proven = proven and found.status == 0
            best = np.round(found.x)
            reached = float(aim @ best)
            rules.append(LinearConstraint(aim[np.newaxis], -np.inf, reached + ROUNDING_CM))
        return (None if best is None else self._places(best)), bound, proven

    def _places(self, best: np.ndarray) -> list[int]:
        """The holder of each length; of alike ones the earlier come on the earlier holders."""
        place = [0] * sum(self.counts)
        for kind, each in enumerate(self.classes):
            on_holders = best[self._on(kind, 0) : self._on(kind + 1, 0)].astype(int)
            holders = np.repeat(np.arange(len(self.holders)), on_holders).tolist()
            for number, at in zip(self.members[each], holders, strict=True):
                place[number] = at
        return place

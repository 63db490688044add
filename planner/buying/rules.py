"""Rules of an integer programme: its unknowns by their numbers, and what sums of them keep to."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import numpy as np
from scipy.optimize import LinearConstraint
from scipy.sparse import csr_array

Factors = Mapping[int, float]  # of unknowns, by their numbers


def each_once(unknowns: Iterable[int]) -> dict[int, float]:
    """The sum of these unknowns, each taken once."""
    return dict.fromkeys(map(int, unknowns), 1.0)


class Rules:
    """Unknowns, numbered one block after the other, and the rules for them, in the order given."""

    def __init__(self) -> None:
        self.size = 0
        self._rules: list[tuple[Factors, float, float]] = []

    def __len__(self) -> int:
        return len(self._rules)

    def block(self, *shape: int) -> np.ndarray:
        """An array of this shape with the numbers of new unknowns."""
        first = self.size
        self.size += math.prod(shape)
        numbers = np.arange(first, self.size)
        return numbers.reshape(shape)

    def add(self, factors: Factors, least: float, most: float = np.inf) -> None:
        """The unknowns, each times its factor, add up to something between two bounds."""
        self._rules.append((factors, least, most))

    def add_count(self, unknowns: Iterable[int], least: float, most: float = np.inf) -> None:
        """So many of these unknowns, in all, are to be had."""
        self.add(each_once(unknowns), least, most)

    def add_follows(self, follower: int, leader: int, *, factor: float = 1.0) -> None:
        """An unknown, times a factor, is no less than the one that it follows."""
        self.add({follower: factor, leader: -1.0}, 0)

    def forget_from(self, number: int) -> None:
        """Keep only so many of the rules, the first ones."""
        del self._rules[number:]

    def sum_of(self, factors: Factors) -> np.ndarray:
        """The factor of each unknown, 0 for those that are not named."""
        row = np.zeros(self.size)
        for unknown, factor in factors.items():
            row[unknown] = factor
        return row

    def constraint(self) -> LinearConstraint:
        """All rules as the solver takes them."""
        # A rule names a few of the unknowns; nearly all of the matrix is 0.
        rows: list[int] = []
        columns: list[int] = []
        values: list[float] = []
        for number, (factors, _, _) in enumerate(self._rules):
            rows += [number] * len(factors)
            columns += factors.keys()
            values += factors.values()
        shape = (len(self._rules), self.size)
        matrix = csr_array((values, (rows, columns)), shape=shape)
        least = [low for _, low, _ in self._rules]
        most = [high for _, _, high in self._rules]
        return LinearConstraint(matrix, least, most)

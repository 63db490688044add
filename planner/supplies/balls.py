"""The balls on the table, row by row: whether there is room for one more."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from planner.piece import Habits


def balls_for(strands_fed: np.ndarray, habits: Habits) -> np.ndarray:
    """Balls that so many strands of one yarn need at one time, each feeding one end or both."""
    # The end inside a ball feeds as well as the one outside. What is left over takes a ball too, so
    # it is rounded up.
    ends_per_ball = 2 if habits.both_ends else 1
    balls: np.ndarray = -(-strands_fed // ends_per_ball)
    return balls


class Table:
    """Which balls lie on the table in each worked row.

    `balls` says how many of each yarn are in hand or to be bought. Rows are slices of worked rows,
    from 0.
    """

    def __init__(self, habits: Habits, balls: Mapping[str, int], rows: int):
        self.habits = habits
        self.balls = balls
        self._fed = {letter: np.zeros(rows, dtype=int) for letter in balls}  # strands, by row

    def lay(self, letter: str, rows: slice) -> None:
        """Feed one more strand of this yarn from a ball in these rows."""
        self._fed[letter][rows] += 1

    def laid(self, letter: str, *, more: int = 0) -> np.ndarray:
        """Balls of one yarn by row, if it fed so many more strands all along."""
        return balls_for(self._fed[letter] + more, self.habits)

    def in_row(self, *, and_one_of: str | None = None) -> np.ndarray:
        """Balls of all yarns by row, if one more strand of a yarn were fed all along."""
        # Rounded up yarn by yarn: the two ends of a ball feed strands of its own yarn only.
        laid = [self.laid(letter, more=int(letter == and_one_of)) for letter in self.balls]
        in_all: np.ndarray = np.sum(laid, axis=0)
        return in_all

    def obstacle(self, letter: str, rows: slice) -> str:
        """Why one more strand of this yarn cannot have a ball in these rows; "" if it can."""
        # What no purchase can mend is said first.
        if not self.habits.table:
            return "there is no table to lay a ball on"
        if self.laid(letter, more=1)[rows].max() > self.balls[letter]:
            return f"every ball of {letter} in hand or to be bought is in use in those rows"
        if self.in_row(and_one_of=letter)[rows].max() > self.habits.balls_on_table:
            return f"the table is full: {self.habits.balls_on_table} balls"
        return ""

    def overfull(self, row_name: Callable[[int], str]) -> list[str]:
        """Notes where more lies on the table than there is room for, or than there are balls."""
        notes = []
        room, balls = self.habits.balls_on_table, self.in_row()
        too_full = np.flatnonzero(balls > room)
        # The first row is where the knitter will meet it.
        if len(too_full):
            where = row_name(int(too_full[0]))
            notes.append(
                f"Your own choices lay {balls.max()} balls on the table in {where}, more than the "
                f"{room} you set. They are kept."
            )
        for letter, there_are in self.balls.items():
            wanted = int(self.laid(letter).max())
            if wanted > there_are:
                notes.append(
                    f"Your own choices want {wanted} balls of {letter} at once; {there_are} are in "
                    "hand or to be bought. They are kept."
                )
        return notes

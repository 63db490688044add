"""Hints where a ball would leave no turn behind, begun a row later.

Two yarns that meet in every row hold a turn after each RS row and none after each WS row. In rows
in which a third one works between them they do not meet. If these begin and end on the same side,
one meeting has lost its counterpart, and a turn stays; begun a row later, none does.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from planner.twists.balls import Balls
from planner.twists.braid import Names, pair_of


def hints_by_ball(balls: Balls) -> dict[str, str]:
    """What is said of each ball that will leave a turn between its neighbours."""
    met = _meetings(balls)
    hints = {}
    for ball, rows in _rows_by_ball(balls).items():
        if _leaves_a_turn(ball, rows, met):
            word = balls.how.row_word
            hints[ball] = f"Begun a {word} later, {ball} would leave no turn behind."
    return hints


def _meetings(balls: Balls) -> list[list[Names]]:
    """The pairs of balls that meet at a border, row by row."""
    met = []
    for in_row in balls.rows:
        at_work = map(balls.ball.get, in_row)
        pairs = []
        for a, b in pairwise(at_work):
            # Between two balls a supply may be at work that only hangs.
            if a and b:
                pairs.append(pair_of(a, b))
        met.append(pairs)
    return met


def _rows_by_ball(balls: Balls) -> dict[str, list[int]]:
    """The rows in which each ball works."""
    rows: dict[str, list[int]] = defaultdict(list)
    for row, in_row in enumerate(balls.rows):
        at_work = {balls.ball.get(run) for run in in_row}
        for ball in at_work:
            if ball:
                rows[ball].append(row)
    return rows


def _leaves_a_turn(ball: str, rows: list[int], met: list[list[Names]]) -> bool:
    """Whether a ball keeps two others apart for as many rows as leave a turn between them."""
    first = rows[0]
    last = rows[-1]
    apart = range(first, last + 1)
    # It works in each of an odd number of rows, more than one, with rows before and after them.
    works_in_each = rows == list(apart)
    is_odd = len(apart) % 2 == 1
    if not works_in_each or not is_odd or first == last:
        return False
    if first == 0 or last + 1 == len(met):
        return False
    borders = [pair for pair in met[first] if ball in pair]
    neighbours = set().union(*borders) - {ball}
    # At two borders with one and the same yarn it parts nobody.
    if len(borders) != 2 or len(neighbours) != 2:
        return False
    pair = pair_of(*neighbours)
    if any(pair in met[row] for row in apart):
        return False
    # Where they meet twice in a row they hold other turns than a single lost one.
    before = met[first - 1].count(pair)
    after = met[last + 1].count(pair)
    return before == after == 1

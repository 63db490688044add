"""Twists of the yarns that are fed from balls, as a braid between table and needle.

At a border old and new yarn make two half twists, of one sign on RS rows and of the other on WS
rows, for there the yarns hang on the other side of the work. A yarn that runs behind another's
stitches changes places with it. A turn of the work is a half twist of all yarns at once, which
reverses their order. Turned alternately, a RS row and the WS row after it cancel where the same
yarns meet in both. In turned rounds a yarn that goes across the join passes outside all others,
from one end of the row to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from planner.twists.balls import Balls, HasBalls
from planner.twists.braid import (
    Crossing,
    Linking,
    as_crossings,
    as_word,
    half_twist,
    linking,
    reduce_word,
)

# Letters. A longer tangle is given by its linking numbers only: nobody could follow the moves, and
# to find them would take long.
LONGEST_WORD = 4_000
# The sign of the half twist that a turn of the work makes: turned back, it takes the last one out.
TURNS = {"towards": 1, "away": -1}


@dataclass(frozen=True)
class Tangle:
    """How the balls' yarns lie after a row, counted from 1, and the turn that follows it.

    `table` is their order on the table and `needle` at the needle, both as seen from where the next
    row begins to where it ends; `crossings` lie between.
    """

    row: int
    table: tuple[str, ...]
    needle: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    turn: str

    @property
    def linking(self) -> Linking:
        """Linking number of each pair that has one other than 0."""
        return linking(self.crossings)

    def moves(self) -> list[tuple[str, str, int]]:
        """What the hands do at the balls to clear the yarns: (ball, round which, half turns).

        Half turns are clockwise, seen from above, if more than 0. Empty exactly if the yarns are
        clear already.
        """
        # The word begins at the balls, so the first crossing is the first that they can undo, by
        # going round each other the other way.
        word = reduce_word(as_word(self.table, self.crossings))
        moves: list[tuple[str, str, int]] = []
        for a, b, sign in as_crossings(self.table, word):
            ball, other, half_turns = moves[-1] if moves else ("", "", 0)
            # Half turns of the same two balls, the same way, are one move of the hand.
            if {ball, other} == {a, b} and half_turns * sign < 0:
                moves[-1] = (ball, other, half_turns - sign)
            else:
                moves.append((a, b, -sign))
        return moves

    @property
    def clear(self) -> bool:
        """Whether the yarns are free of each other: the word itself reduces to nothing."""
        # Linking numbers are quick to add up, and any but 0 settles it; 0 alone proves nothing.
        return not self.linking and not self.moves()

    def in_words(self) -> str:
        """The state and what to do about it."""
        if len(self.table) < 2:
            return "clear: one ball at most"
        if self.clear:
            return "clear"
        if len(self.crossings) > LONGEST_WORD:
            return f"tangled: {', '.join(self.linking_in_words(' and '))}"
        moves = [_move_in_words(*move) for move in self.moves()]
        return "; then ".join(moves)

    def linking_in_words(self, between: str) -> list[str]:
        """The pairs that are linked, with their numbers; `between` stands between two balls."""
        numbers = self.linking.items()
        return [f"{a}{between}{b} {number:+g}" for (a, b), number in numbers]


def _move_in_words(ball: str, other: str, half_turns: int) -> str:
    way = "clockwise" if half_turns > 0 else "anticlockwise"
    turns = abs(half_turns) / 2
    often = {0.5: "half way", 1: "once"}.get(turns, f"{turns:g} times")
    return f"pass ball {ball} {often} round ball {other}, {way}"


def twist_ledger(
    plan: HasBalls, *, first_turn: str = "towards", same_way: bool = False
) -> list[Tangle]:
    """The state of the balls' yarns after each worked row and its turn.

    `first_turn` is towards or away from the knitter; turns then alternate, unless `same_way`. In
    rounds, unless they are turned rounds, nothing is turned.
    """
    strands = plan.traced
    balls = Balls(strands, plan.held)
    braid = balls.braid
    back = "away" if first_turn == "towards" else "towards"
    turns = [first_turn] if same_way else [first_turn, back]
    ledger = []
    turned = 0
    for row in range(strands.runs.rows):
        balls.work(row)
        turn = ""
        # After the last row there is no other to turn the work for.
        if strands.how.is_turned and row < strands.runs.rows - 1:
            turn = turns[row % len(turns)]
            turned += TURNS[turn]
        crossings = braid.crossings.copy()
        needle = braid.order.copy()
        for _ in range(abs(turned)):
            crossings += half_twist(needle, 1 if turned > 0 else -1)
            needle.reverse()
        ledger.append(
            Tangle(
                row=row + 1,
                table=tuple(braid.table),
                needle=tuple(needle),
                crossings=tuple(crossings),
                turn=turn,
            )
        )
    return ledger


def what_to_do(ledger: Sequence[Tangle], row: int) -> str:
    """What to do about the yarns after a row (from 1): nothing, wait, or pass balls."""
    now = ledger[row - 1]
    later = ledger[row:]
    # What the next row takes out by itself is not worth a move.
    if not now.clear and later and later[0].clear:
        return "undoes itself in the next row"
    return now.in_words()


def ledger_table(ledger: Sequence[Tangle]) -> pd.DataFrame:
    """One row a worked row: the turn after it, the balls in order on the table, and what to do."""
    lines = []
    for tangle in ledger:
        lines.append(
            {
                "row": tangle.row,
                "turn": tangle.turn,
                "balls": ", ".join(tangle.table),
                "linking": "; ".join(tangle.linking_in_words("–")),
                "clear": tangle.clear,
                "what_to_do": what_to_do(ledger, tangle.row),
            }
        )
    return pd.DataFrame(lines)


def best_row_to_clear(ledger: Sequence[Tangle], first: int, last: int) -> int:
    """Of rows first to last (from 1) the one in which the fewest half turns clear the yarns.

    The earliest of equals.
    """

    def half_turns(tangle: Tangle) -> int:
        return sum(abs(half) for _, _, half in tangle.moves())

    # Of equals `min` takes the first, and the ledger is in order.
    rows = [tangle for tangle in ledger if first <= tangle.row <= last]
    return min(rows, key=half_turns).row

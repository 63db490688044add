"""The words for balls, as the knitter sees them from her seat, for either hand.

The left-handed words are the mirror image of the right-handed ones: left and right change places,
and clockwise becomes anticlockwise. What is told by a sign inside (`braid`) is told here by a way
of the hand.

For a right-hander it goes like this (worked out by hand, no source). On a RS row the yarns hang
behind the work. The old yarn is laid to the left over the new one, on the side away from the
fabric, and the new one comes up from under it and over it to the needle. So on its way down to the
table the old one goes to the left under the new one and back over it: the two are a right-handed
screw, and their upper ends have turned anticlockwise, seen from above. The ball is passed
anticlockwise too, after them. On a WS row the yarns hang on the near side, the same movement of the
hand makes a left-handed screw, and all is the other way.

What was done is written into the log in few words, which are read back here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from planner.errors import PlanError
from planner.piece import CLEARED, Construction, Entry
from planner.twists.balls import Move
from planner.units import counted

# In the log: that the yarns hang free, whatever was done.
ALL_CLEAR = "all clear"
PASSED = re.compile(
    r"(\S+) round (\S+), (\d{1,3}) (clockwise|anticlockwise)(?:, in front of (.+))?"
)
TURNED = re.compile(r"work round, (\d{1,3}) (left|right) edge away")
TIMES = {1: "once", 2: "twice"}


class Words:
    """The words for balls, for a piece worked in some way."""

    def __init__(self, how: Construction):
        self.how = how
        # Where rows begin and where they end, as the knitter sees them.
        self.first, self.last = ("right", "left") if how.hand == "right" else ("left", "right")

    def way_round(self, turns: int) -> str:
        """Which way a ball is passed to add turns; more than 0 as a RS row makes them."""
        # To add a turn like that of a RS row is to undo one of a WS row.
        is_clockwise = (turns > 0) == (self.how.hand == "right")
        return "clockwise" if is_clockwise else "anticlockwise"

    def edge_away(self, turns: int) -> str:
        """Which edge goes away from the knitter where the work is turned to add turns."""
        # The edge that goes away passes behind, as the first of two yarns does on a RS row.
        return self.first if turns > 0 else self.last

    def turn(self, turns: int) -> str:
        """How the work is turned after a row: by half a turn more or less."""
        return f"Turn so that the {self.edge_away(turns)} edge goes away from you."

    def row(self, row: int) -> str:
        """A row, from 0, as it is named in a sentence: "row 10"."""
        return f"{self.how.row_word} {row + 1}"

    def balls(self, table: Sequence[str]) -> str:
        """The order of the balls on the table."""
        return f"Balls, {self.first} to {self.last}: {', '.join(table)}."

    def lay(self, ball: str, table: Sequence[str], at: int, twin: str) -> str:
        """Where a new ball is laid, at a place among those on the table.

        `twin` is the yarn that comes from the other end of a ball that lies there.
        """
        if twin:
            return f"Take {ball} from the other end of {twin}'s ball, its yarn on top."
        if not table:
            return f"Lay ball {ball} on the table."
        if at == 0:
            where = f"{self.first} of {table[0]}"
        elif at == len(table):
            where = f"{self.last} of {table[-1]}"
        else:
            where = f"between {table[at - 1]} and {table[at]}"
        return f"Lay ball {ball} {where}, its yarn on top."

    def lap(self, balls: Sequence[str]) -> str:
        """What becomes of new balls until the work is turned."""
        word = "ball" if len(balls) == 1 else "balls"
        return f"Keep {word} {listed(balls)} in your lap until the work is turned."

    def move(self, move: Move) -> str:
        """What the hand does, as a sentence."""
        turns = abs(move.turns)
        times = TIMES.get(turns, f"{turns} times")
        if not move.ball:
            edge = self.edge_away(move.turns)
            return f"Turn the work round {times}, so that first the {edge} edge goes away from you."
        way = self.way_round(move.turns)
        if move.spin:
            return f"Spin the ball of {move.ball} and {move.other} {times}, {way} seen from above."
        over = ""
        if move.over:
            word = "yarn" if len(move.over) == 1 else "yarns"
            over = f", in front of the {word} of {listed(move.over)},"
        return (
            f"Pass ball {move.ball}{over} {times} round {move.other}'s yarn, close under the "
            f"needle, {way} seen from above."
        )

    def stays(self, first: str, second: str, turns: int) -> str:
        """That so many turns stay between two balls: the beginning of a sentence."""
        number = abs(turns)
        if number == 1:
            return f"One turn stays between {first} and {second}: leave it"
        return f"{counted(number, 'turn')} stay between {first} and {second}: leave them"

    def log(self, moves: Iterable[Move]) -> str:
        """What was done, as the log has it."""
        lines = []
        for move in moves:
            turns = abs(move.turns)
            if move.ball:
                line = f"{move.ball} round {move.other}, {turns} {self.way_round(move.turns)}"
                if move.over:
                    line += f", in front of {' '.join(move.over)}"
            else:
                line = f"work round, {turns} {self.edge_away(move.turns)} edge away"
            lines.append(line)
        return "; ".join(lines)

    def logged(self, text: str, where: str) -> list[Move]:
        """The moves that a line of the log tells: the other way round from `log`."""
        moves = []
        for words in filter(None, map(str.strip, text.split(";"))):
            passed, turned = PASSED.fullmatch(words), TURNED.fullmatch(words)
            if passed:
                turns = int(passed[3])
                if passed[4] != self.way_round(1):
                    turns = -turns
                over = tuple(passed[5].split()) if passed[5] else ()
                moves.append(Move(passed[1], passed[2], turns, over))
            elif turned:
                turns = int(turned[1])
                moves.append(Move("", "", turns if turned[2] == self.first else -turns))
            else:
                raise PlanError(
                    f'{where} says the balls were cleared by "{words}"; write "{ALL_CLEAR}", or '
                    'what was done, such as "A2 round B, 1 clockwise".'
                )
        return moves


def listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them: "A, B and C"."""
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def clearings_in(log: Iterable[Entry], how: Construction) -> Mapping[int, list[Move] | None]:
    """What was cleared after each worked row, from 0; None where all was.

    A line that says nothing withdraws those before it about its row. What was cleared stays so when
    its row is taken back: whoever unravels a row twists back what it twisted, and no more.
    """
    words = Words(how)
    cleared: dict[int, list[Move] | None] = {}
    for entry in sorted(log, key=lambda entry: entry.number):
        if entry.what != CLEARED:
            continue
        row = entry.row - 1
        where = f"progress.csv, number {entry.number}:"
        if entry.runs == ALL_CLEAR:
            cleared[row] = None
        elif not entry.runs:
            cleared.pop(row, None)
        elif cleared.get(row, []) is not None:
            before = cleared.get(row) or []
            cleared[row] = [*before, *words.logged(entry.runs, where)]
    return cleared

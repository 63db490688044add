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
from operator import attrgetter
from typing import NamedTuple

from planner.errors import PlanError
from planner.piece import CLEARED, Construction, Entry
from planner.twists.balls import Move
from planner.units import listed

# In the log: that the yarns hang free, whatever was done.
ALL_CLEAR = "all clear"
PASSED = re.compile(
    r"(\S+) round (\S+), (\d{1,3}) (clockwise|anticlockwise)(?:, in front of (.+))?"
)
TURNED = re.compile(r"work round, (\d{1,3}) (left|right) edge away")
TIMES = {1: "once", 2: "twice"}
# Where a new yarn lies on top: at the needle the same one comes up from under the old.
ON_THE_TABLE = "On the table"


class Laid(NamedTuple):
    """A new ball: at which place of the table, among those that lie there then.

    `later` where it is kept in the lap until the work is turned; if it is cut before, it has no
    place. `hint` is what would be better.
    """

    ball: str
    table: tuple[str, ...]
    at: int | None
    twin: str
    later: bool
    hint: str


class Stay(NamedTuple):
    """Full turns that stay between two balls; more than 0 as a RS row makes them.

    `until` is the row, from 0, in which they go by themselves, or after which some are cleared if
    `cleared`; None if they stay.
    """

    first: str
    second: str
    turns: int
    until: int | None
    cleared: bool


class Words:
    """The words for balls, for a piece worked in some way."""

    def __init__(self, how: Construction):
        self.how = how
        # Where rows begin and where they end, as the knitter sees them.
        self.first, self.last = "right", "left"
        if how.hand != "right":
            self.first, self.last = "left", "right"

    def way_round(self, turns: int) -> str:
        """Which way a ball is passed to add turns; more than 0 as a RS row makes them."""
        # To add a turn like that of a RS row is to undo one of a WS row.
        is_clockwise = (turns > 0) == (self.how.hand == "right")
        return "clockwise" if is_clockwise else "anticlockwise"

    def edge_away(self, turns: int) -> str:
        """Which edge, as she holds the work, goes away from the knitter to add turns."""
        # The edge that goes away passes behind, as the first of two yarns does on a RS row.
        return self.first if turns > 0 else self.last

    def turn(self, turns: int) -> str:
        """How the work is turned after a row: by half a turn more or less."""
        edge = self.edge_away(turns)
        return f"Turn so that the edge at your {edge} hand goes away from you."

    def row(self, row: int) -> str:
        """A row, from 0, as it is named in a sentence: "row 10"."""
        return f"{self.how.row_word} {row + 1}"

    def balls(self, table: Sequence[str]) -> str:
        """The order of the balls on the table."""
        return f"Balls, {self.first} to {self.last}: {', '.join(table)}."

    def lay(self, laid: Laid) -> str:
        """Where a new ball is laid, at a place among those on the table."""
        ball = laid.ball
        if laid.twin:
            end = f"the other end of {laid.twin}'s ball"
            return f"{ON_THE_TABLE}: take {ball} from {end}, its yarn on top."
        table = laid.table
        at = laid.at
        # Alone on the table it has no place to be told.
        if not table or at is None:
            return f"Lay ball {ball} on the table."
        if at == 0:
            place = f"{self.first} of {table[0]}"
        elif at == len(table):
            place = f"{self.last} of {table[-1]}"
        else:
            place = f"between {table[at - 1]} and {table[at]}"
        return f"{ON_THE_TABLE}: lay ball {ball} {place}, its yarn on top."

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
            first = f"so that first the edge at your {edge} hand goes away from you"
            return f"Turn the work round {times}, {first}."
        # A way round is told from where the knitter looks down on the table.
        way = f"{self.way_round(move.turns)} seen from above"
        if move.spin:
            return f"Spin the ball of {move.ball} and {move.other} {times}, {way}."
        over = ""
        if move.over:
            word = "yarn" if len(move.over) == 1 else "yarns"
            over = f", in front of the {word} of {listed(move.over)},"
        goal = f"{times} round {move.other}'s yarn, close under the needle"
        return f"Pass ball {move.ball}{over} {goal}, {way}."

    def stay(self, stay: Stay) -> str:
        """What becomes of the turns between two balls, as a sentence."""
        number = abs(stay.turns)
        stays, them, they_go = f"{number} turns stay", "them", "they go"
        if number == 1:
            stays, them, they_go = "One turn stays", "it", "it goes"
        line = f"{stays} between {stay.first} and {stay.second}: leave {them}"
        if stay.until is None:
            return f"{line}."
        row = self.row(stay.until)
        if stay.cleared:
            return f"{line} until {row} is worked."
        return f"{line}; {they_go} in {row}."

    def log(self, moves: Iterable[Move]) -> str:
        """What was done, as the log has it."""
        lines = []
        for move in moves:
            turns = abs(move.turns)
            way = self.way_round(move.turns)
            line = f"{move.ball} round {move.other}, {turns} {way}"
            if move.over:
                line += f", in front of {' '.join(move.over)}"
            if not move.ball:
                line = f"work round, {turns} {self.edge_away(move.turns)} edge away"
            lines.append(line)
        return "; ".join(lines)

    def logged(self, text: str, where: str) -> list[Move]:
        """The moves that a line of the log tells: the other way round from `log`."""
        moves = []
        for part in text.split(";"):
            words = part.strip()
            move = self._logged_move(words)
            if move is None:
                raise PlanError(
                    f'{where} says the balls were cleared by "{words}"; write '
                    f'"{ALL_CLEAR}", or what was done, such as "A2 round B1, 1 clockwise".'
                )
            moves.append(move)
        return moves

    def _logged_move(self, words: str) -> Move | None:
        """The move that some words of the log tell, None if they tell none."""
        # The way that one turn more goes tells by which sign it was added.
        if turned := TURNED.fullmatch(words):
            number, edge = turned.groups()
            sign = 1 if edge == self.edge_away(1) else -1
            return Move("", "", sign * int(number))
        if passed := PASSED.fullmatch(words):
            ball, other, number, way, over = passed.groups(default="")
            sign = 1 if way == self.way_round(1) else -1
            return Move(ball, other, sign * int(number), tuple(over.split()))
        return None


def clearings_in(log: Iterable[Entry], how: Construction) -> Mapping[int, list[Move] | None]:
    """What was cleared after each worked row, from 0; None where all was.

    A line that says nothing withdraws those before it about its row. What was cleared stays so when
    its row is taken back: whoever unravels a row twists back what it twisted, and no more.
    """
    words = Words(how)
    cleared: dict[int, list[Move] | None] = {}
    entries = [entry for entry in log if entry.what == CLEARED]
    for entry in sorted(entries, key=attrgetter("number")):
        row = entry.row - 1
        if entry.runs == ALL_CLEAR:
            cleared[row] = None
        elif not entry.runs:
            cleared.pop(row, None)
        else:
            before = cleared.get(row, [])
            # Where all yarns hang free no move can free them more.
            if before is not None:
                where = f"progress.csv, number {entry.number}:"
                moves = words.logged(entry.runs, where)
                cleared[row] = before + moves
    return cleared

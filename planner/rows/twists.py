"""Twists of the yarns that are fed from balls, as a braid between table and needle.

A crossing names the two yarns that change places and its sign; crossings stand in order from the balls to the needle. At a
border old and new yarn make two half twists, of one sign on RS rows and of the other on WS rows; a yarn that runs behind
another's stitches changes places with it; a turn of the work is a half twist of all yarns at once, which reverses their order.
Turned alternately, a RS row and the WS row after it cancel where the same yarns meet in both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

import pandas as pd

from planner.piece import BALL, PARTS
from planner.strands import Walk

Crossing = tuple[
    str, str, int
]  # the yarn on the left, the yarn on the right, the sign of their half twist
LONGEST_WORD = 4_000  # letters; a tangle beyond this is given by its linking numbers only


def half_twist(order: Sequence[str], sign: int) -> list[Crossing]:
    """A half twist of all yarns: every pair crosses once, and their order is reversed."""
    order, out = list(order), []
    for last in range(len(order) - 1, 0, -1):
        for i in range(last):
            out.append((order[i], order[i + 1], sign))
            order[i], order[i + 1] = order[i + 1], order[i]
    return out


def linking(crossings: Iterable[Crossing]) -> dict[tuple[str, str], float]:
    """Linking number of each pair: half the sum of the signs of their crossings; pairs at zero are left out."""
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for a, b, sign in crossings:
        sums[min(a, b), max(a, b)] += sign / 2
    return {pair: n for pair, n in sorted(sums.items()) if n}


def as_word(order: Sequence[str], crossings: Iterable[Crossing]) -> list[int]:
    """The crossings as a braid word: ±i is a half twist of the yarns in places i and i + 1, counted from 1."""
    order, word = list(order), []
    for a, b, sign in crossings:
        i = order.index(a)
        assert order[i + 1] == b, "only neighbours cross"
        word.append(sign * (i + 1))
        order[i], order[i + 1] = b, a
    return word


def reduce_word(word: Sequence[int]) -> list[int]:
    """An equal braid word, empty exactly if the braid is trivial: handle reduction (Dehornoy 1997, from memory).

    A handle is e i … −e i with only smaller-place letters kept out between; its ends are taken away and each letter next to
    it is turned about. The process ends for every word.
    """
    word = list(word)
    at = 0
    while at < len(word):
        start = _handle(word, at)
        if start is None:
            at += 1
            continue
        main, sign = abs(word[at]), 1 if word[start] > 0 else -1
        turned_about = {
            e * (main + 1): [-sign * (main + 1), e * main, sign * (main + 1)] for e in (1, -1)
        }
        word[start : at + 1] = [
            new for letter in word[start + 1 : at] for new in turned_about.get(letter, [letter])
        ]
        at = start
    return word


def _handle(word: list[int], stop: int) -> int | None:
    """Where a handle that ends at `stop` begins, if there is one: the same place, the other sign, no neighbour's lower place
    between, and the next place between with one sign only (so that it holds no smaller handle)."""
    main = abs(word[stop])
    for start in range(stop - 1, -1, -1):
        letter = word[start]
        if abs(letter) == main:
            if letter == word[stop]:
                return None
            signs = {x > 0 for x in word[start + 1 : stop] if abs(x) == main + 1}
            return start if len(signs) < 2 else None
        if abs(letter) == main - 1:
            return None
    return None


@dataclass(frozen=True)
class Tangle:
    """How the balls' yarns lie after a row and the turn that follows it: `table` is their order on the table and `needle` at
    the needle, both as seen from where the next row begins to where it ends; `crossings` lie between."""

    row: int
    table: tuple[str, ...]
    needle: tuple[str, ...]
    crossings: tuple[Crossing, ...]
    turn: str

    @property
    def linking(self) -> dict[tuple[str, str], float]:
        return linking(self.crossings)

    def moves(self) -> list[tuple[str, str, int]]:
        """What the hands do at the balls to clear the yarns: (ball, round which, half turns; more than 0 clockwise, seen
        from above). Empty exactly if the yarns are clear already."""
        order, out = list(self.table), []
        for letter in reduce_word(as_word(self.table, self.crossings)):
            i, sign = abs(letter) - 1, 1 if letter > 0 else -1
            a, b = order[i], order[i + 1]
            order[i], order[i + 1] = b, a
            if out and {*out[-1][:2]} == {a, b} and out[-1][2] * sign < 0:
                out[-1] = (*out[-1][:2], out[-1][2] - sign)
            else:
                out.append((a, b, -sign))
        return out

    @property
    def clear(self) -> bool:
        """Whether the yarns are free of each other: the word itself reduces to nothing."""
        return not self.linking and not self.moves()

    def in_words(self) -> str:
        """The state and what to do about it."""
        if len(self.table) < 2:
            return "clear: one ball at most"
        if self.clear:
            return "clear"
        if len(self.crossings) > LONGEST_WORD:
            return "tangled: " + ", ".join(
                f"{a} and {b} {n:+g}" for (a, b), n in self.linking.items()
            )
        said = []
        for a, b, half in self.moves():
            way = "clockwise" if half > 0 else "anticlockwise"
            times = abs(half) / 2
            often = "half way" if times == 0.5 else "once" if times == 1 else f"{times:g} times"
            said.append(f"pass ball {a} {often} round ball {b}, {way}")
        return "; then ".join(said)


class _Braid:
    """The braid as it grows row by row, in places counted from where the row begins."""

    def __init__(self):
        self.table: list[str] = []
        self.order: list[str] = []
        self.crossings: list[Crossing] = []

    def cross(self, i: int, sign: int):
        a, b = self.order[i], self.order[i + 1]
        self.crossings.append((a, b, sign))
        self.order[i], self.order[i + 1] = b, a

    def turn(self, sign: int):
        self.crossings += half_twist(self.order, sign)
        self.order.reverse()

    def join(self, new: str, place: int):
        """A new yarn at the needle. At either end of the row its ball is laid at that end of the table, free of the others;
        between two yarns it is laid beside the one before it and follows that yarn's way."""
        if place in (0, len(self.order)):
            self.table.insert(0 if place == 0 else len(self.table), new)
        else:
            beside, doubled = self.order[place - 1], []
            for a, b, sign in self.crossings:
                if a == beside:  # the new yarn, on its right, meets the other first
                    doubled += [(new, b, sign), (a, b, sign)]
                else:
                    doubled += [(a, b, sign), (a, new, sign)] if b == beside else [(a, b, sign)]
            self.crossings = doubled
            self.table.insert(self.table.index(beside) + 1, new)
        self.order.insert(place, new)

    def leave(self, gone: str):
        """A yarn that is cut falls out of the braid."""
        self.crossings = [c for c in self.crossings if gone not in c[:2]]
        self.table.remove(gone)
        self.order.remove(gone)

    def tidy(self):
        """Take out neighbouring crossings that undo each other, so that the word stays short."""
        kept: list[Crossing] = []
        for a, b, sign in self.crossings:
            if kept and kept[-1] == (b, a, -sign):
                kept.pop()
            else:
                kept.append((a, b, sign))
        self.crossings = kept


def twist_ledger(plan, *, first_turn: str = "towards", same_way: bool = False) -> list[Tangle]:
    """The state of the balls' yarns after each worked row and its turn.

    `first_turn`: towards or away from the knitter; turns then alternate, unless `same_way`. In rounds nothing is turned.
    """
    walk = Walk(plan.traced)
    supply = {(held.strand, held.part): held.supply for held in plan.held.itertuples()}
    runs, traced = walk.runs, plan.traced

    def ball(run: int) -> str | None:
        label, part = walk.label(run), walk.part(run)
        name = label if part == PARTS[0] else f"{label} {part}"
        return name if supply[label, part] == BALL else None

    names = [ball(run) for run in range(runs.count)]
    last_of = {name: run for run, name in enumerate(names) if name}
    braid, edge, out = _Braid(), {}, []
    away = {"towards": 1, "away": -1}[first_turn]
    for row, numbers in groupby(range(runs.count), key=lambda run: int(runs.row[run])):
        here = list(numbers)
        left = bool(runs.leftwards[row])
        sign = 1 if traced.how.is_right_side(row) else -1

        def along(x, left=left):
            """An edge in the direction of work, from where the row begins."""
            return runs.columns - int(x) if left else int(x)

        def move(name: str, to: int, sign=sign, along=along):
            """Carry a yarn to an edge, onwards or back, behind the yarns that hang between."""
            i = braid.order.index(name)
            while i and along(edge[braid.order[i - 1]]) > along(to):
                i -= 1
                braid.cross(i, sign)
            while i + 1 < len(braid.order) and along(edge[braid.order[i + 1]]) < along(to):
                braid.cross(i, sign)
                i += 1
            edge[name] = to

        for run in here:  # what starts in this row is laid out before it is worked
            if names[run] and names[run] not in edge:
                enter = int(runs.enter[run])
                braid.join(
                    names[run], sum(along(edge[other]) <= along(enter) for other in braid.order)
                )
                edge[names[run]] = enter
        before = None
        for run in here:
            name = names[run]
            if name:
                enter, leave = int(runs.enter[run]), int(runs.leave[run])
                move(name, enter)
                if before and before != name:
                    i = braid.order.index(before)
                    if i + 1 < len(braid.order) and braid.order[i + 1] == name:
                        braid.cross(i, sign)  # and once more: a full twist
                        braid.cross(i, sign)
                move(name, leave)
                link = walk.out.get(run)
                if link is not None and walk.woven(link):
                    move(name, int(runs.enter[traced.links.b[link]]))
            before = name
        for name in [n for n in braid.order if last_of[n] in here]:
            braid.leave(name)
            edge.pop(name)
        turn = ""
        if not traced.how.in_rounds and row < runs.rows - 1:
            way = away if same_way or row % 2 == 0 else -away
            braid.turn(way)
            turn = "towards" if way > 0 else "away"
        braid.tidy()
        out.append(
            Tangle(row + 1, tuple(braid.table), tuple(braid.order), tuple(braid.crossings), turn)
        )
    return out


def what_to_do(ledger: Sequence[Tangle], row: int) -> str:
    """What to do about the yarns after a row (from 1): nothing, wait for the next row to undo it, or pass balls."""
    now = ledger[row - 1]
    if not now.clear and row < len(ledger) and ledger[row].clear:
        return "undoes itself in the next row"
    return now.in_words()


def ledger_table(ledger: Sequence[Tangle]) -> pd.DataFrame:
    """One row a worked row: the turn after it, the balls in their order on the table, linking numbers, and what to do."""
    return pd.DataFrame(
        {
            "row": [t.row for t in ledger],
            "turn": [t.turn for t in ledger],
            "balls": [", ".join(t.table) for t in ledger],
            "linking": [
                "; ".join(f"{a}–{b} {n:+g}" for (a, b), n in t.linking.items()) for t in ledger
            ],
            "clear": [t.clear for t in ledger],
            "what_to_do": [what_to_do(ledger, t.row) for t in ledger],
        }
    )


def best_row_to_clear(ledger: Sequence[Tangle], first: int, last: int) -> int:
    """Of rows first to last (from 1) the one in which the fewest half turns of balls clear the yarns; the earliest of equals."""
    rows = [t for t in ledger if first <= t.row <= last]
    return min(rows, key=lambda t: (sum(abs(n) for _, _, n in t.moves()), t.row)).row

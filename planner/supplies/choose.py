"""Supplies: how each part of a strand is held: a loose strand, a butterfly, a bobbin, or fed from the ball.

Length is one reason among several; the knitter's own ways are the others, and a choice made by hand always wins. Supplies
never change strands. Balls are the scarce thing: they go to the longest parts first, as long as the table has room in
every row and the yarn has a ball to spare; what finds no ball is wound on bobbins and refilled.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from planner.errors import PlanError
from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, PARTS, SUPPLIES, Allowances, Habits, Yarn
from planner.strands import Strands
from planner.supplies.lengths import run_lengths, strand_parts
from planner.units import counted, show

LONGEST_LOOSE_CM = (
    457  # 5 yd: practitioners draw loose strands of 1 to 5 yd free (shared/sources.csv)
)


def capacity_cm(habits: Habits, supply: str, yarn: Yarn, label_error: float = 0.0) -> float:
    """The longest piece held this way; for the ball what its band says, less its error, without end if not known."""
    if supply == BALL:
        return 100 * yarn.metres_per_ball * (1 - label_error) if yarn.metres_per_ball else math.inf
    up_to = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    return up_to[supply]


def usable_cm(capacity_cm: float, tail_cm: float) -> float:
    """What a piece between two joins works: its length without the tail at either end."""
    return max(capacity_cm - 2 * tail_cm, 0.25 * capacity_cm, 1.0)


def pieces_needed(wound_cm: float, capacity_cm: float, tail_cm: float) -> int:
    """Pieces in which a length is wound: each but the whole loses two tails to its joins."""
    usable = usable_cm(capacity_cm, tail_cm)
    return (
        1
        if wound_cm <= capacity_cm + 1e-6
        else max(2, math.ceil((wound_cm - 2 * tail_cm) / usable - 1e-9))
    )


class _Table:
    """Which balls are on the table in each worked row, by yarn."""

    def __init__(self, habits: Habits, balls: Mapping[str, int], rows: int):
        self.habits, self.balls = habits, balls
        self.ends_per_ball = 2 if habits.both_ends else 1
        self.fed = {letter: np.zeros(rows, dtype=int) for letter in balls}

    def in_row(self, extra: str | None = None) -> np.ndarray:
        """Balls on the table by row, with one more strand fed from a ball of `extra` all along."""
        return sum(
            -(-(fed + (letter == extra)) // self.ends_per_ball) for letter, fed in self.fed.items()
        )

    def no_room(self, letter: str, rows: slice) -> str:
        """Why one more ball of this yarn does not fit into these rows; nothing if it does."""
        if not self.habits.table:
            return "there is no table to lay a ball on"
        if (-(-(self.fed[letter][rows] + 1) // self.ends_per_ball)).max() > self.balls[letter]:
            return f"every ball of {letter} in hand or to be bought is in use in those rows"
        if self.in_row(letter)[rows].max() > self.habits.balls_on_table:
            return f"the table is full: {self.habits.balls_on_table} balls"
        return ""

    def lay(self, letter: str, rows: slice):
        self.fed[letter][rows] += 1


def part_rows(strands: Strands) -> tuple[np.ndarray, pd.DataFrame]:
    """The part of each run, and by part its first and last worked row (from 0), narrowest run and most live strands."""
    of_run, parts = strand_parts(strands)
    runs, count = strands.runs, len(parts)
    last, narrowest = np.zeros(count, dtype=int), np.full(count, runs.columns)
    np.maximum.at(last, of_run, runs.row)
    np.minimum.at(narrowest, of_run, runs.stitches)
    first = runs.row[parts.first_run.to_numpy()]
    busiest = [int(strands.live[a : b + 1].max()) for a, b in zip(first, last, strict=True)]
    return of_run, pd.DataFrame(
        {"first": first, "last": last, "narrowest": narrowest, "busiest": busiest}
    )


def _by_length(length: float, yarn: Yarn, habits: Habits, busiest: int) -> tuple[str, str]:
    """The supply a part would have if there were balls and room for all, and why."""
    if not yarn.may_be_cut:
        return BALL, f"{yarn.letter} must not be cut"
    if length <= habits.loose_up_to_cm:
        return LOOSE, "short: drawn free of the others when needed"
    if length <= min(LONGEST_LOOSE_CM, habits.butterfly_up_to_cm):
        if habits.drop == "long":
            return LOOSE, "long drops wrap each other, a loose strand is drawn free"
        if busiest > habits.crowded:
            return LOOSE, "crowded rows: a loose strand is drawn free of the others"
    if length <= habits.butterfly_up_to_cm:
        return BUTTERFLY, "weighs next to nothing and feeds from its middle"
    if length <= habits.bobbin_up_to_cm:
        return (
            (BOBBIN, "holds it all and can be rewound")
            if habits.rewinding
            else (BALL, "you would rather not rewind")
        )
    return BALL, "too long to wind: a ball needs no refill"


def choose_supplies(
    strands: Strands,
    parts: pd.DataFrame,
    yarns: Mapping[str, Yarn],
    habits: Habits,
    allow: Allowances,
    *,
    balls: Mapping[str, int],
    own: Mapping[tuple[str, str], str] | None = None,
    units: str = "cm",
) -> tuple[pd.DataFrame, list[str]]:
    """One row a part with its supply, refills and the rows where they fall due, and why; and notes for the knitter.

    `parts` comes from `measure_parts`; `balls` says how many of each yarn are in hand or to be bought; `own` holds
    the knitter's choices by (strand, part), part "whole" standing for both halves.
    """
    of_run, at = part_rows(strands)
    if (
        habits.bobbin_up_to_cm < 4 * allow.tail_cm
        and (parts.wound_cm > habits.bobbin_up_to_cm).any()
    ):
        raise PlanError(
            f"A bobbin of {habits.bobbin_up_to_cm:g} cm holds little more than the tails of its joins, {allow.tail_cm:g} cm each. "
            "Give bobbins at least four tails of yarn."
        )
    table, own, notes = _Table(habits, balls, strands.runs.rows), own or {}, []
    rows = [slice(a, b + 1) for a, b in zip(at["first"], at["last"], strict=True)]
    length, letter, strand_of = (
        parts.wound_cm.to_numpy(),
        parts.yarn.tolist(),
        parts.strand.tolist(),
    )
    narrowest, busiest, part_of = at.narrowest.tolist(), at.busiest.tolist(), parts.part.tolist()
    supply: list[str] = [""] * len(parts)
    why, by_hand = [""] * len(parts), [False] * len(parts)

    wishes = []  # parts that would have a ball
    for i, (strand, part) in enumerate(zip(parts.strand, parts.part, strict=True)):
        choice = own.get((strand, part)) or own.get((strand, PARTS[0]))
        if choice:
            if choice not in SUPPLIES:
                raise PlanError(
                    f'The supply chosen for {strand} is "{choice}"; it is one of {", ".join(SUPPLIES)}.'
                )
            supply[i], why[i], by_hand[i] = choice, "your own choice", True
            if choice == BALL:
                table.lay(letter[i], rows[i])
            continue
        supply[i], why[i] = _by_length(length[i], yarns[letter[i]], habits, busiest[i])
        if supply[i] == BALL:
            wishes.append(i)
    over = np.flatnonzero(table.in_row() > habits.balls_on_table)
    if len(over):
        notes.append(
            f"Your own choices lay {table.in_row().max()} balls on the table in {strands.how.row_name(over[0])}, "
            f"more than the {habits.balls_on_table} you set. They are kept."
        )
    for yarn, fed in table.fed.items():
        laid = int(-(-fed.max() // table.ends_per_ball))
        if laid > balls[yarn]:
            notes.append(
                f"Your own choices want {laid} balls of {yarn} at once; {balls[yarn]} are in hand or to be bought. They are kept."
            )

    for i in sorted(wishes, key=lambda i: (yarns[letter[i]].may_be_cut, -length[i], i)):
        obstacle = table.no_room(letter[i], rows[i])
        if not obstacle:
            table.lay(letter[i], rows[i])
            continue
        supply[i], why[i] = BOBBIN, f"{why[i]}, but {obstacle}"
        if not yarns[letter[i]].may_be_cut:
            notes.append(
                f"{strand_of[i]} should be fed from the ball, because {letter[i]} must not be cut, but {obstacle}."
            )

    # From here on the supplies stand; what follows says what they mean.
    used = run_lengths(strands, parts, allow)
    refills, due, against = [], [], []
    for i, kind in enumerate(supply):
        yarn = yarns[letter[i]]
        capacity = capacity_cm(habits, kind, yarn, allow.label_error)
        soft = by_hand[i] and kind in (
            LOOSE,
            BUTTERFLY,
        )  # the knitter has decided to hold it in one piece
        pieces = 1 if soft else pieces_needed(length[i], capacity, allow.tail_cm)
        refills.append(pieces - 1)
        begun = allow.tail_cm if part_of[i] == PARTS[0] else 0  # a half has no tail where it begins
        due.append(
            _rows_due(strands, used, of_run == i, pieces, capacity, allow.tail_cm, begun)
            if pieces > 1
            else []
        )
        against.append(
            _against(kind, length[i], pieces - 1, narrowest[i], busiest[i], yarn, habits, units)
        )

    table_of_parts = pd.DataFrame(
        {
            "strand": parts.strand,
            "yarn": parts.yarn,
            "part": parts.part,
            "supply": supply,
            "chosen": np.where(by_hand, "by you", "suggested"),
            "wound_cm": length,
            "refills": refills,
            "refill_rows": [", ".join(str(row + 1) for row in rows_due) for rows_due in due],
            "refill_ends": [
                0 if yarns[y].feltable else 2 * n for y, n in zip(letter, refills, strict=True)
            ],
            "first_row": at["first"] + 1,
            "last_row": at["last"] + 1,
            "narrowest_stitches": at.narrowest,
            "why": why,
            "against": against,
        }
    )
    return table_of_parts, notes + _middle_notes(table_of_parts, habits)


def _rows_due(strands, used, mine, pieces, capacity, tail, begun) -> list[int]:
    """The worked rows (from 0) in which each piece but the last runs out, at the planned length."""
    usable = usable_cm(capacity, tail)
    runs = np.flatnonzero(mine)
    worked = np.cumsum(used[runs])
    place = np.searchsorted(worked, usable * np.arange(1, pieces) + tail - begun, "right")
    return strands.runs.row[runs[np.minimum(place, len(runs) - 1)]].tolist()


def _against(kind, length, refills, narrowest, busiest, yarn: Yarn, habits: Habits, units) -> str:
    """What speaks against a supply, in words."""
    said = []
    if refills:
        ends = "spliced, no ends" if yarn.feltable else f"{2 * refills} more ends"
        said.append(f"{counted(refills, 'refill')} ({ends})")
    if kind == BOBBIN and narrowest <= habits.narrow_stitches:
        said.append(f"swings on an area of {counted(narrowest, 'stitch')}")
    if kind == BOBBIN and not habits.rewinding:
        said.append("you would rather not rewind")
    if kind == BUTTERFLY and habits.drop == "long":
        said.append("cannot be rewound, long drops wrap each other")
    if not refills and kind in (BUTTERFLY, BOBBIN) and length > capacity_cm(habits, kind, yarn):
        said.append(f"longer than you like for a {kind} ({show(length, units)})")
    if kind == LOOSE and length > LONGEST_LOOSE_CM:
        said.append(f"long to draw free ({show(length, units)})")
    if kind in (BUTTERFLY, BOBBIN) and busiest > habits.crowded:
        said.append(f"hangs among up to {busiest - 1} others")
    if kind != BALL and not yarn.may_be_cut:
        said.append(f"{yarn.letter} should not be cut")
    if kind == BALL and not habits.table:
        said.append("no table to lay it on")
    return "; ".join(said)


def _middle_notes(table: pd.DataFrame, habits: Habits) -> list[str]:
    """Where a strand begun from its middle suits no supply."""
    notes = []
    halves = table[table.part != PARTS[0]]
    for strand, pair in halves.groupby("strand", sort=False):
        yarn = pair.yarn.iloc[0]
        why = ""
        if (pair.supply == BALL).all() and not habits.both_ends:
            why = "both halves would be fed from one ball, which takes both of its ends"
        elif (pair.refills > 0).all():
            why = "both halves are too long for one piece, so it is joined all the same"
        if why:
            notes.append(
                f"{strand} is begun from its middle, but {why}. Switch middle starts off for {yarn} (its own carry limits), "
                "or allow both ends of a ball."
            )
    return notes

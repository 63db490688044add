"""Ways: the four ways of holding the yarns and the suggested mix, for each stretch of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import pandas as pd

from planner.piece import BALL, BOBBIN, BUTTERFLY, LOOSE, SUPPLIES, Habits, Project
from planner.strands import Strands
from planner.supplies.balls import balls_for
from planner.supplies.choose import Held
from planner.supplies.habits import capacity_cm, pieces_needed
from planner.supplies.lengths import Part
from planner.units import counted

# Worked rows; a shorter stretch is too soon over to change the way of holding the yarns for.
SHORTEST_STRETCH = 6
MIX = "suggested mix"

# What speaks for each way, wherever it hangs.
GOOD_AT = {
    LOOSE: "nothing to wind up; each is drawn free of the others",
    BUTTERFLY: "no weight on the work",
    BOBBIN: "holds the most of what is wound, and is rewound as you go",
    BALL: "nothing to wind, nothing to run short",
    MIX: "each part as its length and your ways ask",
}


@dataclass(frozen=True)
class Stretch:
    """Rows that are alike in how full they are: first and last worked row, from 0, and the word."""

    first: int
    last: int
    load: str

    @property
    def length(self) -> int:
        return self.last - self.first + 1

    def holds(self, part: Part) -> bool:
        """Whether a part lives in any of its rows."""
        return part.first_row <= self.last and part.last_row >= self.first


@dataclass(frozen=True)
class Way:
    """One way of holding all that lives in a stretch of rows, counted up.

    `balls` are the most balls of each yarn on the table in one row, `balls_at_once` the most of all
    yarns together. `narrowest` is the narrowest area, in stitches.
    """

    name: str
    to_wind: int
    most_hanging: int
    balls: Mapping[str, int]
    balls_at_once: int
    narrowest: int
    refills: int

    @property
    def title(self) -> str:
        if self.name == MIX:
            return MIX
        return f"all {self.name}" if self.name == BALL else f"each a {self.name}"


def find_stretches(live: np.ndarray, habits: Habits) -> list[Stretch]:
    """The piece in stretches of rows that are alike in how full they are.

    `live` is how many strands live in each worked row.
    """
    stretches: list[range] = []
    end = 0
    for _, alike in groupby(live.tolist(), key=habits.word):
        first, end = end, end + len(list(alike))
        # A short stretch joins the one before it, or the first of the piece the one after it.
        if stretches and min(len(stretches[-1]), end - first) < SHORTEST_STRETCH:
            stretches[-1] = range(stretches[-1].start, end)
        else:
            stretches.append(range(first, end))
    # Joined stretches go by their fullest row: a way must do for all of them.
    return [Stretch(rows[0], rows[-1], habits.word(int(live[rows].max()))) for rows in stretches]


def compare_ways(
    strands: Strands, held: Sequence[Held], project: Project, *, balls: Mapping[str, int]
) -> pd.DataFrame:
    """One row a stretch and way: pieces to wind, most hanging, balls on the table, reasons.

    `balls` says how many of each yarn are in hand or to be bought.
    """
    lines = []
    for stretch in find_stretches(strands.live, project.habits):
        in_stretch = [each for each in held if stretch.holds(each.part)]
        for name in (*SUPPLIES, MIX):
            way = _count_up(name, stretch, in_stretch, project)
            good, bad = _reasons(way, project.habits, balls)
            lines.append(
                {
                    "rows": f"{stretch.first + 1}–{stretch.last + 1}",
                    "load": stretch.load,
                    "way": way.title,
                    "pieces_to_wind": way.to_wind,
                    "most_hanging": way.most_hanging,
                    "balls_on_table": way.balls_at_once,
                    "narrowest_stitches": way.narrowest,
                    "refills": way.refills,
                    "for": good,
                    "against": bad,
                }
            )
    return pd.DataFrame(lines)


def _count_up(name: str, stretch: Stretch, in_stretch: Sequence[Held], project: Project) -> Way:
    """What it takes to hold these parts this way in these rows."""
    habits, allow, yarns = project.habits, project.allow, project.all_yarns
    wound, on_ball = [], []
    refills, refills_wound = 0, 0
    for each in in_stretch:
        part, supply, more = each.part, each.supply, each.refills
        # In the mix each part has the supply and the refills that were chosen for it.
        if name != MIX:
            supply = name
            capacity = capacity_cm(habits, supply, yarns[part.yarn], allow.label_error)
            more = pieces_needed(part.wound_cm, capacity, allow.tail_cm) - 1
        refills += more
        # The refill of a ball is another ball, and balls are not wound.
        if supply == BALL:
            on_ball.append(part)
        else:
            wound.append(part)
            refills_wound += more

    laid = _balls_by_row(on_ball, stretch, habits)
    # Not the sum of each yarn's most: those need not fall in the same row.
    at_once = np.sum([np.zeros(stretch.length, dtype=int), *laid.values()], axis=0)
    # The halves of a strand begun from its middle are wound in one piece.
    strands_wound = {part.label for part in wound}
    return Way(
        name=name,
        to_wind=len(strands_wound) + refills_wound,
        most_hanging=int(_live_by_row(wound, stretch).max()),
        balls={letter: int(by_row.max()) for letter, by_row in laid.items()},
        balls_at_once=int(at_once.max()),
        narrowest=min(each.part.narrowest for each in in_stretch),
        refills=refills,
    )


def _live_by_row(parts: Sequence[Part], stretch: Stretch) -> np.ndarray:
    """How many of these parts live in each row of the stretch."""
    live = np.zeros(stretch.length, dtype=int)
    for part in parts:
        # Rows of the stretch are counted from its first; a part may have begun before it.
        begins = max(part.first_row - stretch.first, 0)
        done = part.last_row - stretch.first + 1
        live[begins:done] += 1
    return live


def _balls_by_row(
    on_ball: Sequence[Part], stretch: Stretch, habits: Habits
) -> dict[str, np.ndarray]:
    """Balls of each yarn on the table in each row of the stretch, for these parts."""
    laid = {}
    for letter in sorted({part.yarn for part in on_ball}):
        of_yarn = [part for part in on_ball if part.yarn == letter]
        laid[letter] = balls_for(_live_by_row(of_yarn, stretch), habits)
    return laid


def _reasons(way: Way, habits: Habits, balls: Mapping[str, int]) -> tuple[str, str]:
    """What speaks for a way and what against it, in words."""
    good, bad = [GOOD_AT[way.name]], _of_its_kind(way, habits)
    # Few stitches do not hold a weight still: there a butterfly is at its best.
    if way.name == BUTTERFLY and way.narrowest <= habits.narrow_stitches:
        good[0] += f", good at {counted(way.narrowest, 'stitch')}"
    # A bobbin or a ball that holds it all is nothing to remark on.
    if way.name in (LOOSE, BUTTERFLY) and not way.refills:
        good.append("all fit in one piece each")

    room = habits.balls_on_table if habits.table else 0
    if way.balls_at_once > room:
        bad.append(f"{way.balls_at_once} balls at once, you have room for {room}")
    too_many = []
    for letter, wanted in way.balls.items():
        if wanted > balls[letter]:
            too_many.append(f"{wanted} of {letter} at once, {balls[letter]} to be had")
    if too_many:
        bad.append(f"not enough balls: {', '.join(too_many)}")
    if way.refills:
        bad.append(counted(way.refills, "refill"))
    if way.most_hanging > habits.crowded:
        bad.append(f"{way.most_hanging} hang at once")
    return "; ".join(good), "; ".join(bad)


def _of_its_kind(way: Way, habits: Habits) -> list[str]:
    """What speaks against a butterfly or a bobbin, wherever it hangs."""
    bad = []
    if way.name == BUTTERFLY:
        bad.append("cannot be rewound")
    if way.name == BOBBIN and way.narrowest <= habits.narrow_stitches:
        bad.append(f"swings on areas of {counted(way.narrowest, 'stitch')}")
    if way.name == BOBBIN and not habits.rewinding:
        bad.append("you would rather not rewind")
    return bad
